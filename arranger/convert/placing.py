"""Find the syllable that each chord of a line is meant for, from their columns.

Typists stand a column or two beside, slip by a whole line, or shorten words after the chords stood over the full ones.
So the chords of a line are placed together: by how far the line may have slipped, over the words as they stand or as
they may have stood, each chord as near as it can be (a path of least cost, found exactly). Where another word would
cost hardly more, that is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from arranger.convert.full_words import letters_more
from arranger.convert.model import SheetLine
from arranger.convert.syllables import place_of, words_and_syllables

FURTHEST = 4  # columns that a chord may stand beside what it is meant for
MOST_SLIP = 3  # columns that a whole line of chords may have slipped
# Costs, found by trying on typed lines whose meaning is known (tests/convert/chord_places.py).
BESIDE = 0.5  # of standing a column beside the syllable
FURTHER = 1.4  # the power with which that grows: two columns are more than twice as odd as one
STEP = 0.6  # of standing a column further beside, or less far, than the chord before
MOST_STEP = 3  # columns that count of such a step
INSIDE = 1.6  # of a syllable inside a word, where the chord does not stand right over it
RIGHT_INSIDE = 0.7  # of one right over which it stands
RIGHT_BY_SPELLING = 1.0  # of a place right under it that may begin a syllable, though the word parts elsewhere
TWICE = 4.0  # of a second chord over one syllable
BACK = 40.0  # of a chord over an earlier syllable than the one before it
SLIPPED = 2.2  # of a whole line that has slipped, and more for each column
SLIP = 0.4
FULL = 0.6  # of words that were longer when the chords were typed
CLOSE = 2.0  # a difference of cost that tells nothing for certain
CLOSE_IF_LOOSE = 2.6  # the same in a sheet that is not typed to the column


@dataclass(frozen=True, slots=True)
class Placing:
    """Where the chords of a line belong.

    Attributes:
        columns: of the syllable of each chord.
        doubtful: which chords may as well be meant for another word.
        exact: all of them stand right over syllables, as the words are typed.
    """

    columns: tuple[int, ...]
    doubtful: tuple[int, ...]
    exact: bool


@dataclass(frozen=True, slots=True)
class _Place:
    """A place that a chord may be meant for: its column, how far to the right the chord stands, and what it costs."""

    column: int
    beside: int
    cost: float


@dataclass(frozen=True, slots=True)
class _Frame:
    """One way in which a line may have been typed, with the places of each chord, and the least costs of paths."""

    cost: float
    steps: tuple[tuple[_Place, ...], ...]
    ahead: list[list[float]]
    behind: list[list[float]]

    def wholes(self, number: int) -> list[float]:
        """Return the least cost of a path through each place of a chord."""
        return [self.cost + a + b for a, b in zip(self.ahead[number], self.behind[number], strict=True)]

    @property
    def least(self) -> float:
        """The least cost of a path."""
        return min(self.wholes(0))


def placed(line: SheetLine, columns: Sequence[int], *, loose: bool = False) -> Placing:
    """Return the place of each chord of a line.

    Args:
        line: the words.
        columns: of the chords, in their order, none negative.
        loose: the sheet is not typed to the column.
    """
    if not columns:
        return Placing((), (), True)
    words, _ = words_and_syllables(line)
    frames = list(_frames(line, columns))
    best = min(frames, key=lambda frame: frame.least)
    found = _path(best)
    exact = not best.cost and not any(place.beside for place in found)
    doubtful = []
    close = CLOSE_IF_LOOSE if loose else CLOSE
    for number, place in enumerate(found):
        own = _word(words, place.column)
        others = [
            cost
            for frame in frames
            for cost, other in zip(frame.wholes(number), frame.steps[number], strict=True)
            if _word(words, other.column) != own
        ]
        if others and min(others) - best.least < close:
            doubtful.append(number)
    columns = tuple(place.column for place in found)
    # A line whose chords all stand right over syllables was typed to the column, if its sheet was.
    return Placing(columns, () if exact and not loose else tuple(doubtful), exact)


def are_loose(lines: Iterable[tuple[SheetLine, Sequence[int]]]) -> bool:
    """Return whether chords of any line stand beside their syllables; each line comes with the columns."""
    return any(not placed(words, columns).exact for words, columns in lines)


def _frames(line: SheetLine, columns: Sequence[int]) -> Iterator[_Frame]:
    """Yield the ways in which a line may have been typed."""
    words, syllables = words_and_syllables(line)
    typed = [0] * (len(line.cells) + 1)
    more = list(typed)
    grown = 0
    ends = [*words[1:], len(line.cells)] if words else []
    for start, end in zip(words, ends, strict=True):
        for column in range(start, end):
            more[column] = grown
        grown += letters_more(line.part(start, end))
    more[len(line.cells)] = grown
    slips = range(-MOST_SLIP, MOST_SLIP + 1) if len(columns) > 1 else (0,)
    for moved, extra in ((typed, 0.0), (more, FULL)) if any(more[w] for w in words) else ((typed, 0.0),):
        for slip in slips:
            steps = tuple(_candidates(line, column, slip, moved, words, syllables) for column in columns)
            cost = extra + (SLIPPED + SLIP * abs(slip) if slip else 0.0)
            yield _Frame(cost, steps, _costs_so_far(steps), _costs_to_come(steps))


def _path(frame: _Frame) -> list[_Place]:
    """Return the path of least cost; of several the one with the first columns."""
    found: list[_Place] = []
    for number, step in enumerate(frame.steps):
        so_far = frame.ahead[0] if not found else [_between(found[-1], place) + place.cost for place in step]
        totals = [a + b for a, b in zip(so_far, frame.behind[number], strict=True)]
        best = min(range(len(step)), key=lambda i: (totals[i], step[i].column))
        found.append(step[best])
    return found


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


def _word(words: Sequence[int], column: int) -> int:
    return sum(start <= column for start in words)


def _candidates(
    line: SheetLine, column: int, slip: int, moved: Sequence[int], words: Sequence[int], syllables: Sequence[int]
) -> tuple[_Place, ...]:
    """Return the places that a chord may be meant for.

    Args:
        line: the words.
        column: of the chord.
        slip: how far to the right its line has slipped.
        moved: how far to the right each column of the words stood.
        words: columns at which words start.
        syllables: columns at which syllables start.
    """
    meant = max(0, column - slip)
    back = next((c for c in range(min(meant, len(line.cells)), -1, -1) if c + moved[c] <= meant), 0)
    usual = place_of(line, meant if meant >= len(line.cells) + moved[-1] else min(back, len(line.cells)))
    near = {s for s in (*words, *syllables) if max(abs(s + moved[s] - c) for c in (meant, column)) <= FURTHEST}
    found = []
    for place in sorted({usual, *near}):
        if place >= len(line.cells):
            found.append(_Place(place, 0, 0.0))
            continue
        beside = column - max(0, place + moved[place] + slip)
        sure = not beside and (place in syllables or column == place)  # no syllable is guessed in a line that slipped
        inside = RIGHT_INSIDE if place in syllables else RIGHT_BY_SPELLING
        inside = 0.0 if place in words else inside if sure else INSIDE
        found.append(_Place(place, beside, BESIDE * abs(beside) ** FURTHER + inside))
    return tuple(found)
