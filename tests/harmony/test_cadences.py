"""Suspended fourths over V at the cadences of Bach's chorales: they resolve, and so do those that are offered here.

Source: the 351 four-part chorales of music21's corpus (Riemenschneider's numbering, public domain), as taken by
tests/reference/cadences.py, which says what counts as one.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from arranger.harmony.suspensions import offers
from arranger.harmony.taste import DEFAULT
from tests.harmony import songs
from tests.reference import cadences, chorales

DATA = Path(__file__).parent.parent / "reference" / "cadences.txt"


def kept() -> dict[int, Counter[str]]:
    found = {}
    for line in DATA.read_text(encoding="utf-8").splitlines()[1:]:
        number, _, counts = line.partition(": ")
        found[int(number)] = Counter(dict(zip(cadences.OUTCOMES, map(int, counts.split()), strict=True)))
    return found


def test_those_of_the_chorales_resolve() -> None:
    """Of 399 over 1,582 cadences 382 go straight to the leading note, 17 by way of another note, and none is left."""
    total = sum(kept().values(), Counter[str]())
    assert len(kept()) == 351
    assert [total[name] for name in cadences.OUTCOMES] == [1582, 399, 382, 17, 0]


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ((72, 71), "by step"),
        ((72, 72, 71), "by step"),  # struck again
        ((72, 69, 71), "by way of another"),
        ((72, 74), "left"),
        ((72,), "left"),
    ],
)
def test_what_is_counted(keys: tuple[int, ...], expected: str) -> None:
    voice = [(float(i), i + 1.0, key, False) for i, key in enumerate(keys)]
    assert cadences.outcome(voice, 0, float(len(keys))) == expected


@pytest.mark.parametrize("key", ["C", "Eb", "Am", "Gm"])
@pytest.mark.parametrize("seventh", ["", "7"])
def test_those_that_are_offered_resolve(key: str, seventh: str) -> None:
    """Where nobody sings, at a full and at a half cadence: a 4 on V for two beats, and nothing that stays open."""
    minor, home = ("m", key[:-1]) if key.endswith("m") else ("", key)
    names = {"C": ("F", "G"), "Eb": ("Ab", "Bb"), "A": ("Dm", "E"), "G": ("Cm", "D")}[home]
    one, four, five = f"{home}{minor}", names[0], f"{names[1]}{seventh}"
    song = songs.one(key, f"{one} | {four} | {five} | {one}", f"{four} | {one} | {four} | {five}", f"{one} | {four}")
    timeline = songs.unrolled(song)
    fives = {p.unknown for p in timeline.printed[0] if p.written is not None and str(p.chord) == five}
    ends = [(o.kind, o.resolve_after) for o in offers(song, timeline, DEFAULT) if o.unknown in fives]
    assert ends == [("sus4", Fraction(2))] * 2


@pytest.mark.parametrize("number", [1, 60, 120, 180, 240, 300, 371])
@pytest.mark.filterwarnings("ignore")  # music21's own
def test_the_kept_file_is_what_the_corpus_gives(number: int) -> None:
    score = chorales.read(number)
    assert (cadences.count(score) if score is not None else None) == kept().get(number)
