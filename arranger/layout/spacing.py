"""How wide bars are: columns of things that must not touch, stretched in proportion to time.

Each bar is a row of *columns*, one for each time at which something begins. Everything in a column is a *box* in one
of the rows of the line (octave, hand, note, chord, words); a box must be clear of the box before it in its row, and of
the barlines. Beyond that, columns move apart in proportion to the time between them, all bars of a line at one rate, so
that equal bars are equally wide wherever their content allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """A thing in a row: how far it reaches to the left and to the right of its column, and the gap that follows it."""

    row: int
    left: float
    right: float
    gap: float


@dataclass(frozen=True, slots=True)
class Step:
    """A column: the time since the column before it (quarters) and its boxes, at most one a row."""

    quarters: float
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class BarBoxes:
    """A bar: room after its barline and before the next one, its columns, the time after the last column (quarters)."""

    before: float
    after: float
    steps: tuple[Step, ...]
    tail: float


@dataclass(frozen=True, slots=True)
class Spaced:
    """Where things fall: the left barline of each bar, the x of each bar's columns, and the end of the line."""

    barlines: tuple[float, ...]
    columns: tuple[tuple[float, ...], ...]
    end: float
    slope: float  # how much wider the line gets for each point of the rate


def space(bars: Sequence[BarBoxes], rate: float) -> Spaced:
    """Place columns from x = 0 at a rate of points a quarter; at rate 0 everything is as narrow as it can be."""
    barlines: list[float] = []
    columns: list[tuple[float, ...]] = []
    x = slope = 0.0
    for bar in bars:
        barlines.append(x)
        floor = x + bar.before
        # For each row, where it is free again, with the slope of that place, and the gap that it counts.
        free: dict[int, tuple[float, float, float]] = {}
        placed: list[float] = []
        at, at_slope = floor, slope
        for step in bar.steps:
            if placed:
                at += rate * step.quarters
                at_slope += step.quarters
            for box in step.boxes:
                start, start_slope, _ = free.get(box.row, (floor, slope, 0.0))
                if start + box.left > at:
                    at, at_slope = start + box.left, start_slope
            for box in step.boxes:
                free[box.row] = (at + box.right + box.gap, at_slope, box.gap)
            placed.append(at)
        end, end_slope = at + rate * bar.tail, at_slope + bar.tail
        for place, place_slope, gap in free.values():
            if place - gap + bar.after > end:
                end, end_slope = place - gap + bar.after, place_slope
        columns.append(tuple(placed))
        x, slope = end, end_slope
    return Spaced(tuple(barlines), tuple(columns), x, slope)


def fit(bars: Sequence[BarBoxes], width: float) -> Spaced:
    """Place columns so that the line is exactly so wide. The line must fit: `space(bars, 0).end <= width`.

    The width is convex in the rate and never less than rate x time, so Newton's method from width / time comes down to
    the rate in a few steps.
    """
    quarters = sum(bar.tail + sum(step.quarters for step in bar.steps[1:]) for bar in bars)
    if quarters <= 0:
        return space(bars, 0.0)
    rate = width / quarters
    spaced = space(bars, rate)
    for _ in range(60):  # far more than are ever needed
        if spaced.end - width < 1e-6 or spaced.slope <= 0:
            break
        rate = max(0.0, rate - (spaced.end - width) / spaced.slope)
        spaced = space(bars, rate)
    return spaced
