"""Songs for the tests of what sounds: the samples, songs made by chance, and songs as text."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from arranger.harmony.arrange import work_out
from arranger.harmony.model import Arrangement
from arranger.harmony.taste import DEFAULT, Taste
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from tests.attack.songs import Wild
from tests.harmony import arc_figures

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
SEED = 1983  # the year of the MIDI standard


def arranged(text: str, taste: Taste = DEFAULT) -> Arrangement:
    """Return the arrangement of a song's text, which must have no mistake."""
    song, problems = read(Source("test", text))
    assert song is not None, problems
    found = _arranged(song, taste)
    assert found is not None
    return found


def _arranged(song: Song, taste: Taste) -> Arrangement | None:
    worked, _ = work_out(song, taste, figures=False)
    return worked.arrangement if worked else None


def made(count: int, seed: int = SEED) -> Iterator[tuple[str, Arrangement]]:
    """Yield arrangements of songs made by chance: half of them wild ones, that use all of the notation."""
    number = found = 0
    while found < count:
        number += 1
        chance = random.Random((seed << 32) + number)
        text = Wild(chance).song() if number % 2 else arc_figures.song_text(chance)
        if number % 5 == 0 and "sound" not in text:  # a keyboard with keys for the pad alone
            text = text.replace("\n", "\nsound pad / piano split C4\n", 1)
        song, _ = read(Source(f"number {number}", text))
        arrangement = _arranged(song, DEFAULT) if song is not None else None
        if arrangement is not None and arrangement.heard and arrangement.bars[-1].at < Fraction(20_000):
            found += 1
            yield f"number {number}\n{text}", arrangement


def all_songs(count: int) -> Iterator[tuple[str, Arrangement]]:
    """Yield the arrangements of all samples, and of so many songs made by chance."""
    for path in SAMPLES:
        yield path.name, arranged(path.read_text(encoding="utf-8"))
    yield from made(count)
