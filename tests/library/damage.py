"""A library's store, damaged in 400 ways; after each the run goes on, and what it leaves is as if nothing had been.

Damage of a disk, of an editor or of a transfer does not fit a line's digest, or makes the file unreadable. A store that
somebody made to do harm does: so some lines are sealed again after they were changed to what no program writes.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterable
from pathlib import Path

from arranger.library.ledger import FOLDER, STORE
from arranger.library.scan import PART, STAGE
from arranger.library.store import opened_line, sealed_line
from tests.library.helpers import SMALL, files_in, go, lines_in, put_lines

ALL = 400
PAGE = 4096  # bytes that SQLite writes at once
RUBBISH = (
    b"",
    b"\0" * 300,
    b"\xff\xfe\x00",
    b"[" * 5_000,
    b"9" * 5_000,
    b"null",
    b'{"owned":1}',
    b'["a","b"]',
    b"\x1b[2J",
)
IMPOSSIBLE = (
    None, 1e308, -1, 10**40, True, [], [[]], {}, [1], "", "x" * 9_999, "\ud800", "\x1b[2J", "a\0.pdf", "../../x.pdf",
    "/etc/x.pdf", "..\\x.pdf", "C:/x.pdf", ".",
)  # fmt: skip

Chance = random.Random
Lines = list[tuple[str, bytes]]


# What happens to the file.


def cut(store: bytes, chance: Chance) -> bytes:
    return store[: chance.randrange(len(store))]


def empty(_store: bytes, _chance: Chance) -> bytes:
    return b""


def flip(store: bytes, chance: Chance) -> bytes:
    damaged = bytearray(store)
    for _ in range(chance.choice((1, 1, 1, 5, 200))):
        damaged[chance.randrange(len(store))] ^= 1 << chance.randrange(8)
    return bytes(damaged)


def flip_the_head(store: bytes, chance: Chance) -> bytes:
    """Change a bit of what the file says about itself."""
    damaged = bytearray(store)
    damaged[chance.randrange(300)] ^= 1 << chance.randrange(8)
    return bytes(damaged)


def swap(store: bytes, chance: Chance) -> bytes:
    pages = [store[at : at + PAGE] for at in range(0, len(store), PAGE)]
    one, other = chance.sample(range(len(pages)), 2)
    pages[one], pages[other] = pages[other], pages[one]
    return b"".join(pages)


def splice(store: bytes, chance: Chance) -> bytes:
    one, other = sorted(chance.sample(range(len(store)), 2))
    return store[:one] + store[other:]


def overwrite(store: bytes, chance: Chance) -> bytes:
    place, rubbish = chance.randrange(len(store)), chance.choice(RUBBISH)
    return store[:place] + rubbish + store[place + len(rubbish) :]


def another_file(_store: bytes, chance: Chance) -> bytes:
    return chance.choice(RUBBISH) or b"a letter"


# What happens to its lines.


def cut_line(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    name, line = lines[at]
    lines[at] = name, line[: chance.randrange(len(line))]


def flip_line(lines: Lines, chance: Chance) -> None:
    at = chance.randrange(len(lines))
    name, line = lines[at]
    lines[at] = name, flip(line, chance)


def swap_lines(lines: Lines, chance: Chance) -> None:
    one, other = chance.sample(range(len(lines)), 2)
    (first, line), (second, another) = lines[one], lines[other]
    lines[one], lines[other] = (first, another), (second, line)


def lose_lines(lines: Lines, chance: Chance) -> None:
    del lines[chance.randrange(len(lines)) :]


def add_lines(lines: Lines, chance: Chance) -> None:
    lines += [(f"rubbish {number}.pdf", chance.choice(RUBBISH)) for number in range(3)]


def forge(lines: Lines, chance: Chance) -> None:
    """Change one value of a line to an impossible one, and seal the line again."""
    at = chance.randrange(len(lines))
    name, line = lines[at]
    data = json.loads(opened_line(line))
    place = chance.choice(list(data) if isinstance(data, dict) else range(len(data)))
    value = chance.choice(IMPOSSIBLE)
    if place == "format" and type(value) is int:
        value = None  # a greater number is a newer program's, which is refused
    if place == "songs" and value in ("", "."):
        value = None  # there is such a folder, and the store of other songs is refused
    data[place] = value
    lines[at] = name, sealed_line(data)


def forge_facts(lines: Lines, chance: Chance) -> None:
    """Change one fact for the index to an impossible one, and seal the line again."""
    at = chance.choice([n for n, (_, line) in enumerate(lines) if b"first_words" in line])
    name, line = lines[at]
    data = json.loads(opened_line(line))
    facts = json.loads(data[-1])
    facts[chance.choice(("key", "bpm", "beat", "errors"))] = chance.choice((None, "H", {}, [], -1, 10**40, "1e9999999"))
    if facts["bpm"] is None and facts["key"] and facts["beat"] and facts["errors"] == 0:
        facts["title"] = None  # what was chosen is what was there
    data[-1] = json.dumps(facts)
    lines[at] = name, sealed_line(data)


def forge_own(lines: Lines, chance: Chance) -> None:
    """Add a line that claims what is not the program's."""
    name = chance.choice(IMPOSSIBLE)
    made = chance.choice(IMPOSSIBLE)
    if name != "":
        lines.append((ascii(name), sealed_line([name, "", "", made, made, True, 0, 0, "", [], ""])))


TO_FILE: tuple[Callable[[bytes, Chance], bytes], ...] = (
    cut, empty, flip, flip_the_head, swap, splice, overwrite, another_file, flip, flip_the_head,
)  # fmt: skip
TO_LINES: tuple[Callable[[Lines, Chance], None], ...] = (
    cut_line, flip_line, swap_lines, lose_lines, add_lines, forge, forge_facts, forge_own, forge, flip_line,
)  # fmt: skip


def damage(out: Path, number: int) -> str:
    """Damage a store in the way with that number; give its name."""
    path, chance = out / FOLDER / STORE, random.Random(number)
    if number % 2:
        to_file = TO_FILE[number // 2 % len(TO_FILE)]
        path.write_bytes(to_file(path.read_bytes(), chance))
        return to_file.__name__
    to_lines = TO_LINES[number // 2 % len(TO_LINES)]
    lines = lines_in(out)
    to_lines(lines, chance)
    put_lines(out, lines)
    return to_lines.__name__


def check(numbers: Iterable[int], folder: Path) -> None:
    """Damage the store of a small library in some ways, change a song, and hold what a run leaves against what it must.

    Args:
        numbers: of the ways, below `ALL`.
        folder: an empty one.
    """
    songs, out = folder / "songs", folder / "out"
    songs.mkdir(parents=True)
    (songs / "a.song.txt").write_text(SMALL.format("A"), encoding="utf-8")
    (songs / "bad.song.txt").write_text(SMALL.format("Bad").replace("G7", "H7"), encoding="utf-8")
    expected = []
    for title, chords in (("B", "C F"), ("Other B", "Am F")):
        (songs / "b.song.txt").write_text(SMALL.format(title).replace("C F", chords), encoding="utf-8")
        text = (songs / "b.song.txt").read_bytes()
        go(songs, folder / title, kinds=(PART, STAGE))
        go(songs, out, kinds=(PART, STAGE))
        assert files_in(out) == files_in(folder / title)
        expected.append((text, files_in(out)))
    for number in numbers:
        way = damage(out, number)
        text, files = expected[number // 3 % 2]  # 3 has no part in their number: each way meets both
        (songs / "b.song.txt").write_bytes(text)
        summary, heard = go(songs, out)
        told = f"{number} ({way}): {summary} {heard.outcomes}"
        assert not summary.stopped and not summary.left and summary.index and not summary.kept, told
        assert (summary.counts["missed"], summary.counts["errors"]) == (0, 1), told
        assert files_in(out) == files, told
        assert go(songs, out)[0].counts["made"] == 0, told
    assert {path.name for path in folder.iterdir()} == {"songs", "out", "B", "Other B"}
