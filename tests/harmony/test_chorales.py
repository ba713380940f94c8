"""How far the right hand moves beside real singers: the plain triads of Bach's four-part chorales.

Source: the 351 four-part chorales of music21's corpus (Riemenschneider's numbering, public domain), as taken by
tests/reference/chorales.py; published values of the same recipe: 5,372 changes, soprano, alto and tenor together move
6.19 semitones in the mean, and the least motion between the complete close triads is 3.09.
"""

from __future__ import annotations

import itertools
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from arranger.harmony.model import Arrangement
from arranger.harmony.taste import Taste
from arranger.harmony.voicings import hand_movement, voicings
from tests.harmony import songs
from tests.reference import chorales

DATA = Path(__file__).parent.parent / "reference" / "chorales.txt"
PLAIN = songs.TODAY._replace(suspensions=Fraction(0), octaves="none")
ALONE = PLAIN._replace(
    moved=0, register=0, wide=0, muddy=0, top_leap=0, parallel=0, doubled_leading_note=0
)  # movement alone


@cache
def chains() -> tuple[tuple[tuple[str, ...], tuple[int, ...]], ...]:
    """All chains: the triads, and what the three upper singers move between them."""
    found = []
    for line in DATA.read_text(encoding="utf-8").splitlines():
        for chain in line.partition(":")[2].split("|"):
            tokens = chain.split()
            if tokens:
                found.append((tuple(tokens[::2]), tuple(map(int, tokens[1::2]))))
    return tuple(found)


def arranged(taste: Taste) -> tuple[int, int]:
    """Give the whole hand movement and the number of changes over all chains, each chain a song."""
    total = changes = 0
    known: dict[tuple[str, ...], Arrangement] = {}
    for names, _ in chains():
        if names not in known:
            found, _problems = songs.arranged(songs.one("C", " | ".join(names)), taste)
            assert found is not None
            known[names] = found
        total += known[names].movement.arranged
        changes += known[names].movement.changes
    return total, changes


@cache
def least(one: str, two: str) -> int:
    """The least movement between two close triads, windows aside (pairings over all octaves)."""
    firsts = voicings(songs.chord(one), PLAIN, 55, 75)
    return min(hand_movement(a, b) for a in firsts for b in voicings(songs.chord(two), PLAIN, 40, 90))


def singers() -> float:
    moves = [m for _, steps in chains() for m in steps]
    return sum(moves) / len(moves)


def test_the_data_are_those_of_the_published_count() -> None:
    assert sum(len(steps) for _, steps in chains()) == 5372
    assert round(singers(), 2) == 6.19


def test_the_least_is_the_published_one() -> None:
    steps = [least(a, b) for names, _ in chains() for a, b in itertools.pairwise(names)]
    assert round(sum(steps) / len(steps), 2) == 3.09


@pytest.mark.slow
def test_movement_alone_is_the_least_possible() -> None:
    """In a window that is no limit the arranged movement is the sum of the least of each change: nothing is lost."""
    wide = ALONE._replace(low=36, high=96, left_low=20, left_high=31, left_target=25)
    total, changes = arranged(wide)
    assert changes == 5372
    assert total == sum(least(a, b) for names, _ in chains() for a, b in itertools.pairwise(names))


@pytest.mark.slow
def test_in_the_real_window_with_the_real_left_hand() -> None:
    """Movement alone stays under the singers' own; the default costs at most 3 % more, and cures drift."""
    alone, changes = arranged(ALONE)
    default, _ = arranged(PLAIN)
    assert alone / changes < singers()
    assert alone <= default <= 1.03 * alone


@pytest.mark.parametrize("number", [1, 50, 100, 150, 200, 250, 300, 350])
@pytest.mark.filterwarnings("ignore")  # music21's own
def test_the_kept_file_is_what_the_corpus_gives(number: int) -> None:
    kept = dict(line.split(": ", 1) for line in DATA.read_text(encoding="utf-8").splitlines())
    score = chorales.read(number)
    assert (chorales.line(score) if score is not None else None) == kept.get(str(number))
