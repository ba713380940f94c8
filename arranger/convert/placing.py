"""Find the syllable that each chord of a line is meant for, from their columns.

Typists stand a column or two beside, slip by a whole line, or shorten words after the chords stood over the full ones.
So the chords of a line are placed together: each as near as it can be, and as far beside its syllable as the chord
before it (a path of least cost, found exactly). Where another word would cost hardly more, that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from arranger.convert.model import SheetLine
from arranger.convert.syllables import place_of, words_and_syllables

FURTHEST = 4  # columns that a chord may stand beside what it is meant for
# Costs, found by trying on typed lines whose meaning is known (tests/convert/chord_places.py).
BESIDE = 0.4  # of standing a column beside the syllable
FURTHER = 1.4  # the power with which that grows: two columns are more than twice as odd as one
STEP = 0.6  # of standing a column further beside, or less far, than the chord before
MOST_STEP = 3  # columns that count of such a step
INSIDE = 1.6  # of a syllable inside a word, where the chord does not stand right over it
TWICE = 4.0  # of a second chord over one syllable
BACK = 40.0  # of a chord over an earlier syllable than the one before it
CLOSE = 1.8  # a difference of cost that tells nothing for certain


@dataclass(frozen=True, slots=True)
class _Place:
    """A place that a chord may be meant for: its column, how far to the right the chord stands, and what it costs."""

    column: int
    beside: int
    cost: float


def placed(line: SheetLine, columns: Sequence[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the column of the syllable for each chord, and which chords may as well be meant for another word.

    Args:
        line: the words.
        columns: of the chords, in their order, none negative.
    """
    if not columns:
        return (), ()
    words, syllables = words_and_syllables(line)
    steps = [_candidates(line, column, words, syllables) for column in columns]
    ahead = _costs_so_far(steps)
    behind = _costs_to_come(steps)
    found: list[int] = []
    doubtful: list[int] = []
    before: _Place | None = None
    exact = True
    for number, step in enumerate(steps):
        so_far = ahead[number] if before is None else [_between(before, place) + place.cost for place in step]
        totals = [a + b for a, b in zip(so_far, behind[number], strict=True)]
        best = min(range(len(step)), key=lambda i: (totals[i], step[i].column))
        before = step[best]
        found.append(before.column)
        wholes = [a + b for a, b in zip(ahead[number], behind[number], strict=True)]
        others = [w for w, place in zip(wholes, step, strict=True) if _word(words, place) != _word(words, before)]
        exact = exact and not before.beside
        if others and min(others) - min(wholes) < CLOSE:
            doubtful.append(number)
    # A line whose chords all stand right over syllables was typed to the column.
    return tuple(found), () if exact else tuple(doubtful)


def _costs_so_far(steps: Sequence[Sequence[_Place]]) -> list[list[float]]:
    """Return the least cost of a path that ends at each place of each chord, the place's own cost included."""
    first = _Place(-1, 0, 0.0)
    costs = [[place.cost + _between(first, place) for place in steps[0]]]
    for before, step in pairwise(steps):
        costs.append(
            [place.cost + min(c + _between(b, place) for b, c in zip(before, costs[-1], strict=True)) for place in step]
        )
    return costs


def _costs_to_come(steps: Sequence[Sequence[_Place]]) -> list[list[float]]:
    """Return the least cost of what follows each place of each chord."""
    costs = [[0.0] * len(steps[-1])]
    for step, after in zip(reversed(steps[:-1]), reversed(steps), strict=False):
        costs.insert(
            0,
            [min(a.cost + c + _between(place, a) for a, c in zip(after, costs[0], strict=True)) for place in step],
        )
    return costs


def _between(before: _Place, place: _Place) -> float:
    """Return what two chords cost side by side."""
    cost = STEP * min(abs(place.beside - before.beside), MOST_STEP)
    if place.column <= before.column:
        cost += TWICE if place.column == before.column else BACK
    return cost


def _word(words: Sequence[int], place: _Place) -> int:
    return sum(start <= place.column for start in words)


def _candidates(line: SheetLine, column: int, words: Sequence[int], syllables: Sequence[int]) -> tuple[_Place, ...]:
    """Return the places that a chord may be meant for."""
    usual = place_of(line, column)
    near = {s for s in (*words, *syllables) if abs(s - column) <= FURTHEST}
    found = []
    for place in sorted({usual, *near}):
        if place >= len(line.cells):
            found.append(_Place(place, 0, 0.0))
            continue
        beside = column - place
        inside = INSIDE if beside and place not in words else 0.0
        found.append(_Place(place, beside, BESIDE * abs(beside) ** FURTHER + inside))
    return tuple(found)
