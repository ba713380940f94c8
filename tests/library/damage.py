"""A log of a library, damaged in 400 ways; after each the run goes on, and what it leaves is as if nothing had been.

Damage of a disk, of an editor or of a transfer does not fit a line's digest. A log that somebody made to do harm does:
so some lines are sealed again after they were changed to what no program writes.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterable
from pathlib import Path

from arranger.library.scan import PART, STAGE
from arranger.library.state import FOLDER, opened_line, sealed_line
from tests.library.helpers import SMALL, files_in, go

ALL = 400
LOG = f"{FOLDER}/made.jsonl"
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
    "/tmp/x.pdf", "..\\x.pdf", "C:/x.pdf", ".",
)  # fmt: skip

Chance = random.Random


def cut(log: bytes, chance: Chance) -> bytes:
    return log[: chance.randrange(len(log))]


def flip(log: bytes, chance: Chance) -> bytes:
    damaged = bytearray(log)
    for _ in range(chance.choice((1, 1, 1, 5, 200))):
        damaged[chance.randrange(len(log))] ^= 1 << chance.randrange(8)
    return bytes(damaged)


def swap(log: bytes, chance: Chance) -> bytes:
    lines = log.splitlines(keepends=True)
    one, other = chance.sample(range(len(lines)), 2)
    lines[one], lines[other] = lines[other], lines[one]
    return b"".join(lines)


def splice(log: bytes, chance: Chance) -> bytes:
    one, other = sorted(chance.sample(range(len(log)), 2))
    return log[:one] + log[other:]


def overwrite(log: bytes, chance: Chance) -> bytes:
    place, rubbish = chance.randrange(len(log)), chance.choice(RUBBISH)
    return log[:place] + rubbish + log[place + len(rubbish) :]


def add_lines(log: bytes, chance: Chance) -> bytes:
    lines = log.splitlines()
    for _ in range(3):
        lines.insert(chance.randrange(len(lines) + 1), chance.choice(RUBBISH))
    return b"\n".join(lines)


def forge(log: bytes, chance: Chance) -> bytes:
    """Change one value of a line to an impossible one, and seal the line again."""
    lines = log.splitlines(keepends=True)
    number = chance.randrange(len(lines))
    data = json.loads(opened_line(lines[number].rstrip(b"\n")))
    place = chance.choice(list(data) if isinstance(data, dict) else range(len(data)))
    value = chance.choice(IMPOSSIBLE)
    if place == "format" and type(value) is int:
        value = None  # a greater number is a newer program's, which is refused
    if place == "songs" and value in ("", "."):
        value = None  # there is such a folder, and the log of other songs is refused
    data[place] = value
    lines[number] = sealed_line(data)
    return b"".join(lines)


def forge_facts(log: bytes, chance: Chance) -> bytes:
    """Change one fact for the index to an impossible one, and seal the line again."""
    lines = log.splitlines(keepends=True)
    number = chance.choice([n for n, line in enumerate(lines) if b"first_words" in line])
    data = json.loads(opened_line(lines[number].rstrip(b"\n")))
    facts = json.loads(data[-1])
    facts[chance.choice(("key", "bpm", "beat", "errors"))] = chance.choice((None, "H", {}, [], -1, 10**40, "1e9999999"))
    if facts["bpm"] is None and facts["key"] and facts["beat"] and facts["errors"] == 0:
        facts["title"] = None  # what was chosen is what was there
    data[-1] = json.dumps(facts)
    lines[number] = sealed_line(data)
    return b"".join(lines)


def forge_owned(log: bytes, chance: Chance) -> bytes:
    """Add a line that claims what is not the program's."""
    return log + sealed_line({"owned": chance.choice(IMPOSSIBLE), "digests": [chance.choice(IMPOSSIBLE)]})


WAYS: tuple[Callable[[bytes, Chance], bytes], ...] = (
    cut, flip, swap, splice, overwrite, add_lines, forge, forge_facts, forge_owned, flip,
)  # fmt: skip


def check(numbers: Iterable[int], folder: Path) -> None:
    """Damage the log of a small library in some ways, change a song, and hold what a run leaves against what it must.

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
        way = WAYS[number % len(WAYS)]
        (out / LOG).write_bytes(way((out / LOG).read_bytes(), random.Random(number)))
        text, files = expected[number // 3 % 2]  # 3 has no part in their number: each way meets both
        (songs / "b.song.txt").write_bytes(text)
        summary, heard = go(songs, out)
        told = f"{number} ({way.__name__}): {summary} {heard.outcomes}"
        assert not summary.stopped and not summary.left and summary.index and not summary.kept, told
        assert (summary.counts["missed"], summary.counts["errors"]) == (0, 1), told
        assert files_in(out) == files, told
        assert go(songs, out)[0].counts["made"] == 0, told
    assert {path.name for path in folder.iterdir()} == {"songs", "out", "B", "Other B"}
