"""Find the values in which a length is written in a bar, and which of them beams join.

A bar is felt in groups of beats (`harmony.patterns`): a value may run over a beat where it begins on one, and over the
end of a group where it fills whole groups, so that the beats can be seen. Common practice, no source.
"""

import math
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple

from arranger.harmony.patterns import felt_bars
from arranger.song.model import Meter

BREVE, SHORTEST = Fraction(8), Fraction(1, 256)  # quarters: values from a double whole note to a 1024th
SYNCOPE = Fraction(1)  # quarters: between two beats a quarter may stand that begins on the eighth between them
_GROUPS = {  # of a felt bar: the lengths of its groups, each with its beats, in quarters
    "1/4": ("1",),
    "2/4": ("1 1",),
    "3/4": ("1 1 1",),
    "4/4": ("1 1", "1 1"),
    "6/8": ("3/2", "3/2"),
    "9/8": ("3/2", "3/2", "3/2"),
    "12/8": ("3/2 3/2", "3/2 3/2"),
    "1/8": ("1/2",),
    "2/8": ("1",),
    "3/8": ("3/2",),
}


def common_scale(times: Iterable[Fraction]) -> int:
    """Return by what to multiply times so that all are whole numbers: these are compared much sooner than fractions."""
    return math.lcm(*{time.denominator for time in times})


def in_ticks(time: Fraction, scale: int) -> int:
    """Return a time as a whole number, of which a quarter note has `scale`."""
    return time.numerator * (scale // time.denominator)


class Value(NamedTuple):
    """One note value: its place and length in quarters, the value without its dot, and whether it has one.

    `tuplet` is how many are played in the time of how many: 3, 2 in a triplet; None elsewhere.
    """

    start: Fraction
    length: Fraction
    plain: Fraction
    dotted: bool
    tuplet: tuple[int, int] | None = None


class Grid(NamedTuple):
    """Where the groups and the beats of a bar begin, in quarters from its start; the last of each is its end."""

    groups: tuple[Fraction, ...]
    beats: tuple[Fraction, ...]
    length: Fraction
    compound: bool


@lru_cache(maxsize=256)
def grid_of(meter: Meter, length: Fraction) -> Grid:
    """Return the grid of a bar; one that is shorter than its meter is the end of a whole bar."""
    scale = Fraction(8, meter.unit) if meter.unit > 8 else Fraction(1)
    groups, beats = [Fraction(0)], [Fraction(0)]
    felt = felt_bars(meter)
    for bar in felt:
        for group in _GROUPS[bar]:
            for beat in group.split():
                beats.append(beats[-1] + Fraction(beat) * scale)
            groups.append(beats[-1])
    missing = meter.length - length
    compound = all(bar in ("6/8", "9/8", "12/8", "3/8") for bar in felt)

    def shifted(places: Sequence[Fraction]) -> tuple[Fraction, ...]:
        return tuple(sorted({Fraction(0), *(place - missing for place in places if missing < place)}))

    return Grid(shifted(groups), shifted(beats), length, compound)


def single_value(length: Fraction) -> tuple[Fraction, bool] | None:
    """Return the value without its dot and whether it has one; None where no one value is so long.

    >>> single_value(Fraction(3)), single_value(Fraction(5, 2))
    ((Fraction(2, 1), True), None)
    """
    for plain, dotted in ((length, False), (length * 2 / 3, True)):
        power = plain.numerator if plain.denominator == 1 else plain.denominator
        if (plain.denominator == 1 or plain.numerator == 1) and power & (power - 1) == 0:
            return (plain, dotted) if SHORTEST <= plain <= BREVE else None
    return None


@lru_cache(maxsize=4096)
def values(start: Fraction, end: Fraction, grid: Grid, *, rest: bool = False) -> tuple[Value, ...]:
    """Return the values in which a note (tied) or a rest is written from one place of a bar to another, in order."""
    found = single_value(end - start)
    if found is not None and (_rest_fits if rest else _note_fits)(start, end, grid, found[1]):
        return (Value(start, end - start, *found),)
    cut = _strong_place(start, end, grid)
    if cut is None and not (_is_plain(start) and _is_plain(end)):
        return _of_tuplet(start, end)
    if cut is None:
        cut = _weak_place(start, end, rest=rest)
    return values(start, cut, grid, rest=rest) + values(cut, end, grid, rest=rest)


def _inside(places: Sequence[Fraction], start: Fraction, end: Fraction) -> list[Fraction]:
    return [place for place in places if start < place < end]


def _note_fits(start: Fraction, end: Fraction, grid: Grid, dotted: bool) -> bool:
    if _inside(grid.groups, start, end):
        if start in grid.groups and end in grid.groups:
            return True
        # Three beats of four from the first one: a dotted half.
        return not grid.compound and start == 0 and dotted and len(grid.groups) == 3 and end in grid.beats
    if _inside(grid.beats, start, end):
        if grid.compound:
            return start in grid.beats and end in grid.beats
        return start in grid.beats or end - start == SYNCOPE
    return True


def _rest_fits(start: Fraction, end: Fraction, grid: Grid, dotted: bool) -> bool:
    if _inside(grid.groups, start, end):
        return False
    if _inside(grid.beats, start, end):
        return start in grid.groups and end in grid.groups
    if dotted:
        return grid.compound and start in grid.beats and end in grid.beats
    if grid.compound:
        beat = max(place for place in grid.beats if place <= start)
        return start == beat or end - start <= Fraction(1, 2)
    return (start / (end - start)).denominator == 1


def _is_plain(place: Fraction) -> bool:
    """Return whether a place is that of no tuplet."""
    return place.denominator & (place.denominator - 1) == 0


def _of_tuplet(start: Fraction, end: Fraction) -> tuple[Value, ...]:
    """Return the values of a tuplet's note inside a beat: so many in the time of the next lower power of two."""
    played = math.lcm(start.denominator, end.denominator)
    played //= played & -played
    normal = 1 << (played.bit_length() - 1)
    written = (end - start) * played / normal
    found = single_value(written)
    if found is not None:
        return (Value(start, end - start, *found, (played, normal)),)
    power = max(Fraction(2) ** (math.frexp(float(written))[1] - 1), SHORTEST)
    cut = start + power * normal / played
    if cut >= end:  # shorter than any value: the shortest stands for it
        return (Value(start, end - start, SHORTEST, dotted=False, tuplet=(played, normal)),)
    return (Value(start, cut - start, power, dotted=False, tuplet=(played, normal)), *_of_tuplet(cut, end))


def _strong_place(start: Fraction, end: Fraction, grid: Grid) -> Fraction | None:
    """Return the strongest place inside a length at which a group or a beat begins; None where none does."""
    for places in (grid.groups, grid.beats):
        inside = _inside(places, start, end)
        if inside:
            # From a strong place on as far as one value goes; else first to a strong place.
            if start not in places:
                return inside[0]
            return next((p for p in reversed(inside) if single_value(p - start) is not None), inside[0])
    return None


def _weak_place(start: Fraction, end: Fraction, *, rest: bool) -> Fraction:
    """Return the strongest eighth, sixteenth or shorter inside a length."""
    step = Fraction(1, 2)
    # Ends: both places are those of no tuplet.
    while (first := (start // step + 1) * step) >= end:
        step /= 2
    last = (math.ceil(end / step) - 1) * step
    return last if start % step == 0 and single_value(last - start) is not None and not rest else first


def beamed(notes: Sequence[tuple[Fraction, Fraction] | None], grid: Grid) -> list[list[int]]:
    """Return groups of two or more places in a sequence of notes that one beam joins.

    Eighths of one group of beats; with shorter notes among them, those of one beat.

    Args:
        notes: for each note or rest in order its place and its value without a dot; None for a rest. Those of a tuplet
            count as sixteenths.
        grid: of the bar.
    """
    found: list[list[int]] = []
    for group in _runs(notes, grid.beats if grid.compound else grid.groups):
        if min(note[1] for note in (notes[index] for index in group) if note) < Fraction(1, 2):
            some = {index: notes[index] for index in group}
            shorter = [some.get(index) for index in range(len(notes))]
            found += [run for run in _runs(shorter, grid.beats) if len(run) > 1]
        elif len(group) > 1:
            found.append(group)
    return found


def _runs(notes: Sequence[tuple[Fraction, Fraction] | None], places: Sequence[Fraction]) -> list[list[int]]:
    """Return the neighbours that are shorter than a quarter, apart at these places."""

    def key(index: int) -> tuple[bool, int]:
        note = notes[index]
        if note is None or note[1] >= 1:
            return False, -1
        return True, sum(place <= note[0] for place in places)

    return [list(run) for (short, _), run in groupby(range(len(notes)), key) if short]
