"""How long the hands take, beside drawing the same song's pages, measured in one run.

    python tests/bench/harmony.py [SONG]

Prints, beside its goal where there is one: the exact search and the whole harmony stage as multiples of drawing the
pages (the usual part of the program that writes the PDF), first and warm; a large verse-chorus song; and how the time
grows with sections, changes and candidates; how the whole stage grows with the printed chords, and whether its answer
is proven. Times are medians of interleaved rounds.
"""

from __future__ import annotations

import gc
import random
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from arranger.cli import GARBAGE  # noqa: E402
from arranger.harmony.candidates import scene_of  # noqa: E402
from arranger.harmony.choices import plan  # noqa: E402
from arranger.harmony.optimum import best  # noqa: E402
from arranger.harmony.search import solve  # noqa: E402
from arranger.harmony.settled import forget  # noqa: E402
from arranger.harmony.sum_of_hands import build  # noqa: E402
from arranger.harmony.taste import DEFAULT, Taste  # noqa: E402
from arranger.layout.options import PartOptions  # noqa: E402
from arranger.layout.pages.players_part import lay_out  # noqa: E402
from arranger.pdf.fonts import metrics  # noqa: E402
from arranger.pdf.write import to_bytes  # noqa: E402
from arranger.song.model import Song, Step  # noqa: E402
from arranger.song.read import read  # noqa: E402
from arranger.text.source import Source  # noqa: E402
from arranger.units import A4  # noqa: E402
from tests.harmony import songs  # noqa: E402

ROUNDS = 9
CHORDS = ("C", "F", "G", "Am", "Dm7", "G7", "C/E", "Fmaj7", "Em", "Bb", "Am7", "F/A", "D7")


def arranged(song: Song, taste: Taste = DEFAULT):
    """Work a song out from nothing."""
    forget()
    return songs.arranged(song, taste)


def timed(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def beside(*works: Callable[[], object]) -> tuple[float, ...]:
    """Time several works in turn, round by round; give the median of each in seconds."""
    rounds = [[timed(work) for work in works] for _ in range(ROUNDS)]
    return tuple(median(column) for column in zip(*rounds, strict=True))


def verse_chorus(sections: int, heard: int, seed: int = 3) -> Song:
    """Make a song of 20 chords a section in verse-chorus order: each verse goes to its own of a few choruses."""
    r = random.Random(seed)
    choruses = max(1, sections // 4)
    made = [
        songs.section(str(i), "C", [" | ".join(r.choice(CHORDS) for _ in range(5)) for _ in range(4)])
        for i in range(sections)
    ]
    verses = sections - choruses
    steps = []
    for i in range(heard // 40):
        steps += [Step(i % verses), Step(verses + i % verses % choruses)]
    return songs.song(made, steps)


def main() -> None:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "samples" / "lanterns.song.txt"
    song, _ = read(Source.of(path.name, path.read_text(encoding="utf-8")))
    assert song is not None
    first = timed(lambda: arranged(song))
    found, _ = arranged(song)
    assert found is not None
    document, _ = lay_out(found, metrics(), PartOptions(A4))
    to_bytes(document)
    timeline = songs.unrolled(song, DEFAULT)
    scene, plain = scene_of(song, timeline, DEFAULT)
    problem = build(plain, scene)
    drawing, search, building, whole = beside(
        lambda: to_bytes(document),
        lambda: solve(problem),
        lambda: build(plain, scene),
        lambda: arranged(song),
    )
    print(f"{path.name}: {found.movement.changes} changes heard, {sum(map(len, plain))} candidates")
    print(f"drawing the pages        1.00   ({1000 * drawing:.2f} ms, the yardstick)")
    print(f"exact search, warm       {search / drawing:.2f}   (one search of the five that a part takes)")
    print(f"stating the sum, warm    {building / drawing:.2f}")
    print(f"whole stage, warm        {whole / drawing:.2f}")
    print(f"whole stage, first       {first / drawing:.2f}")

    print("\nlarge: 20 sections, 400 printed, 2,000 heard")
    large = verse_chorus(20, 2000)
    timeline = songs.unrolled(large, DEFAULT)
    for notes in (3, 4):
        taste = DEFAULT._replace(notes=notes)
        scene, plain = scene_of(large, timeline, taste)
        problem = build(plain, scene)
        heard = [u for h in timeline.heard if (u := timeline.at(h.chord).unknown) is not None]
        took = min(timed(lambda: best(problem, heard)) for _ in range(3))  # noqa: B023
        stage_took = min(timed(lambda: arranged(large, taste)) for _ in range(2))  # noqa: B023
        result, _ = arranged(large, taste)
        planned = plan(problem)
        assert result is not None and planned is not None
        print(
            f"{notes} notes: search {took:.3f} s (goal: well under 1 s), whole stage {stage_took:.2f} s, "
            f"{planned.entries} table entries, proven {result.movement.proven}"
        )

    print("\ngrowth of one search, as multiples of the first row")
    base = 0.0
    for sections, heard_count in ((5, 500), (10, 1000), (20, 2000)):
        problem = _problem(verse_chorus(sections, heard_count), 3)
        took = min(timed(lambda: solve(problem)) for _ in range(3))  # noqa: B023
        base = base or took
        print(f"{sections:3} sections, {heard_count:5} heard: {took / base:.2f}")
    base = 0.0
    for notes in (3, 4):
        bars = " | ".join(random.Random(1).choice(("Dm9", "G13", "Cmaj9", "A7alt", "F6/9")) for _ in range(75))
        problem = _problem(songs.one("C", bars), notes)
        took = min(timed(lambda: solve(problem)) for _ in range(3))  # noqa: B023
        base = base or took
        print(f"75 changes of large chords, {max(map(len, problem.nodes)):3} candidates at most: {took / base:.2f}")

    print("\ngrowth of the whole stage, CPU, as multiples of the first row (goal: 12 from 81 to 648, proven)")
    gc.set_threshold(GARBAGE)  # as a command has it
    grown = [all_different(sections) for sections in (3, 6, 12, 24)]
    rounds = [[processor(lambda: arranged(song)) for song in grown] for _ in range(5)]  # noqa: B023
    least = [min(column) for column in zip(*rounds, strict=True)]
    for song, took in zip(grown, least, strict=True):
        result, _ = arranged(song)
        assert result is not None
        movement = result.movement
        print(
            f"{27 * len(song.sections):4} printed: {took / least[0]:5.2f}   proven {movement.proven}, "
            f"at most {movement.whole - movement.bound} of {movement.whole} too much"
        )


def all_different(sections: int) -> Song:
    """Make a song of 27 chords a section, each section heard once: the suspensions of all have one limit."""
    r = random.Random(5)
    plain = ("C", "Dm", "Em", "F", "G", "G7", "Am", "C/E")
    rows = [[" | ".join(r.choice(plain) for _ in range(9)) for _ in range(3)] for _ in range(sections)]
    return songs.song([songs.section(str(i), "C", some) for i, some in enumerate(rows)])


def processor(work: Callable[[], object]) -> float:
    """Return the CPU seconds of a work."""
    start = process_time()
    work()
    return process_time() - start


def _problem(song: Song, notes: int):
    taste = DEFAULT._replace(notes=notes, suspensions=Fraction(0))
    scene, plain = scene_of(song, songs.unrolled(song, taste), taste)
    return build(plain, scene)


if __name__ == "__main__":
    main()
