"""How fast songs are read: text to Song beside regular expressions, and how the time grows with the text.

    python -m tests.bench.reading

The regular expressions of `tests.bench.bare.by_regex` find the same facts as plain tuples and check nothing. Both are
measured in turns in this run; medians over rounds. `afresh` has forgotten all lines and chords that it has parsed, as
a process that reads its first song has (the parsers themselves are built); `again` has met the song before.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable
from functools import partial
from itertools import count
from pathlib import Path

from arranger.song.read import decode, read
from arranger.text.source import Source
from tests.bench.bare import by_regex
from tests.bench.one_song import SONG, measure, row, timed

ROUNDS = 60
COMMITTED, STRETCH = 6, 3  # times the regular expressions
SIZES = [1 << n for n in range(10, 21, 2)]  # 1 KiB to 1 MiB
GROWTH_ROUNDS = 3

SAMPLES = SONG.parent


def remembered() -> list[Callable[[], None]]:
    """Return what makes the reading forget the texts that it has parsed; the parsers themselves stay."""
    found = {}
    for name, module in sys.modules.items():
        if name.startswith("arranger.song."):
            for value in vars(module).values():
                if hasattr(value, "cache_parameters") and value.cache_parameters()["maxsize"] is not None:
                    found[id(value)] = value.cache_clear
    return list(found.values())


def of_size(size: int) -> str:
    """Make a song of about so many bytes: one head, and a sample's sections over and over under other names.

    All rows of words differ from copy to copy, or what is remembered would make the longer song look faster; there are
    sixteen for each row of chords, so that 1 MiB holds no more chords than a song may have.
    """
    head, *sections = SONG.read_text(encoding="utf-8").split("section   ")
    text = [line for line in head.splitlines() if not line.startswith("roadmap")]
    own = [
        section.partition("\n")[2].splitlines() for section in sections if "sing" in section and "like" not in section
    ]
    length = sum(map(len, text))
    for number in count():
        text.append(f"section Part {number}")
        for line in own[number % len(own)]:
            verses = range(16) if line.startswith("sing") else range(1)
            text += [line.replace(" the ", f" the {number} {verse} ").rstrip() for verse in verses]
            length += len(verses) * len(line)
        if length >= size:
            return "\n".join(text)
    raise AssertionError


def ratio(path: Path, rounds: int = ROUNDS) -> tuple[float, float, float]:
    """Give the median milliseconds of the regular expressions, of reading afresh, and of reading again."""
    data = path.read_bytes()
    text = decode(path.name, data)[0].text
    forget = remembered()

    def again() -> None:
        read(decode(path.name, data)[0])

    def afresh() -> None:
        for clear in forget:
            clear()
        again()

    times = measure({"regex": lambda: by_regex(text), "afresh": afresh, "again": again}, rounds)
    return times["regex"], times["afresh"], times["again"]


def main() -> None:
    """Measure and print."""
    gc.collect()
    gc.freeze()  # the other stages are loaded here, too; looking through all that they hold is no part of reading
    print(f"{'text to Song / regular expressions':52}{'ratio':>8}{'goal':>8}{'stretch':>8}")
    for path in sorted(SAMPLES.glob("*.song.txt")):
        regex, afresh, again = ratio(path)
        print(row(f"{path.name}, {path.stat().st_size} bytes", afresh / regex, COMMITTED, STRETCH), end="")
        print(f"   {regex:.2f} ms, afresh {afresh:.2f}, again {again:.2f} ({again / regex:.1f})")
    print(f"\n{'growth':>12}{'seconds':>10}{'ns a byte':>12}{'ends in':>24}")
    for size in SIZES:
        text = of_size(size)
        source = Source.of("a.song.txt", text)
        forget = remembered()
        taken = []
        for _ in range(GROWTH_ROUNDS):
            for clear in forget:
                clear()
            taken.append(timed(partial(read, source)) / 1000)
        best = min(taken)
        song, said = read(source)
        ends = f"{len(song.sections)} sections" if song else said[0].code
        print(f"{size // 1024:8} KiB{best:10.4f}{1e9 * best / len(text):12.0f}{ends:>24}")


if __name__ == "__main__":
    main()
