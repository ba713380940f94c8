"""How wide bars are: columns of things that must not touch, stretched in proportion to time.

Each bar is a row of *columns*, one for each time at which something begins. Everything in a column is a *box* in one
of the rows of the line (octave, hand, note, chord, words); a box must be clear of the box before it in its row, and of
the barlines. Beyond that, columns move apart in proportion to the time between them, all bars of a line at one rate, so
that equal bars are equally wide wherever their content allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.model import BarContent, Column, Picture
from arranger.layout.content.symbols import PUSH_WIDTH
from arranger.layout.model import Item, Keyboard
from arranger.layout.setting.staves import cluster, meter_size, set_notes, signature_width, signs_of
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.layout.text import Metrics, place, width_of
from arranger.theory.key import Key


class RowBox(NamedTuple):
    """A thing in a row: how far it reaches to the left and to the right of its column, and the gap that follows it."""

    row: int
    left: float
    right: float
    gap: float


class ColumnBoxes(NamedTuple):
    """A column: the time since the column before it (quarters) and its boxes, at most one a row."""

    quarters: float
    boxes: tuple[RowBox, ...]


class BarBoxes(NamedTuple):
    """A bar: room after its barline and before the next one, its columns, the time after the last column (quarters)."""

    before: float
    after: float
    steps: tuple[ColumnBoxes, ...]
    tail: float


class Spaced(NamedTuple):
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
        for edge, edge_slope, gap in free.values():
            if edge - gap + bar.after > end:
                end, end_slope = edge - gap + bar.after, edge_slope
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


def head_width(look: Look, key: Key | None) -> float:
    """Return the room that clefs and signature take at the start of a line."""
    return signature_width(key) if look.hands == "staff" else 0.0


def hand_extent(picture: Picture, look: Look, keyboard: float) -> tuple[float, float] | None:
    """Return how far a hand reaches to the left and right of its column; None where nothing is drawn."""
    if look.hands == "staff":
        arranged = cluster(picture.notes)
        return (arranged.left, arranged.right) if picture.notes else None
    if not picture.marks:
        return None
    return 0.0, width_of(picture.letters) if look.hands == "letters" else keyboard


def set_hand(
    picture: Picture,
    look: Look,
    x: float,
    tops: tuple[float, float],
    keys: tuple[int, int],
    key_width: float,
    metrics: Metrics,
) -> list[Item]:
    """Place a hand at x.

    Args:
        picture: the hand.
        look: of the part.
        x: its column.
        tops: keyboards: their top (twice); letters: their baseline (twice); staves: the lowest lines of both.
        keys: the first and last key of the line's keyboards.
        key_width: of a white key.
        metrics: of the fonts.
    """
    if look.hands == "staff":
        return set_notes(picture.notes, x, *tops, metrics, picture.span)
    if look.hands == "letters":
        return [*place(picture.letters, x, tops[0], "letters", picture.span)]
    if not picture.marks:
        return []
    low, high = keys
    return [
        Keyboard(x, tops[0], low, high, key_width, look.keyboard, picture.marks, picture.resolves, span=picture.span)
    ]


HOOK, OCTAVE, FINGERS, HAND, NOTE, CHORD, WORDS = range(7)  # rows of a line; verse n is WORDS + n
METER_GAP = 4.0
ROW_OF_FINGERS = 2.5  # between finger numbers that stand in a row
HYPHEN_GAP = 2.0  # on both sides of a hyphen between two parts of a word


def bar_boxes(
    bar: BarContent,
    pictures: Sequence[Picture | None],
    keyboard: float,
    metrics: Metrics,
    look: Look = DEFAULT_LOOK,
) -> BarBoxes:
    """Return the boxes of a bar that shows these pictures, one place a column; `keyboard` is the width of keyboards."""
    before = style.BAR_PAD + (style.REPEAT_PAD if bar.repeat_start else 0.0)
    if bar.meter_shown:
        before += meter_width(bar, look, metrics) + METER_GAP
    steps = []
    last = bar.start
    signs = signs_of(bar, metrics) if look.hands == "staff" else (None,) * len(bar.columns)
    for column, shown, sign in zip(bar.columns, pictures, signs, strict=True):
        boxes = _column_boxes(column, shown, keyboard, metrics, look)
        if sign is not None:
            boxes += (RowBox(HAND, 0.0, sign.width, style.PICTURE_GAP),)
        steps.append(ColumnBoxes(float(column.time - last), boxes))
        last = column.time
    after = style.BAR_END + (style.REPEAT_PAD if bar.repeat_times else style.FINAL_PAD if bar.final else 0.0)
    return BarBoxes(before, after, tuple(steps), float(bar.length - last))


def _column_boxes(
    column: Column, picture: Picture | None, keyboard: float, metrics: Metrics, look: Look
) -> tuple[RowBox, ...]:
    boxes = []
    if column.hook is not None:
        boxes.append(RowBox(HOOK, 0.0, width_of(column.hook.runs), style.NOTE_GAP))
    if column.fill is not None:
        label = width_of(column.fill.label)
        left = label + style.NOTE_GAP if label else 0.0
        boxes.append(RowBox(OCTAVE, left, width_of(column.fill.runs), style.NOTE_GAP))
    if picture is not None:
        hand = hand_extent(picture, look, keyboard)
        if hand is not None:
            boxes.append(RowBox(HAND, *hand, style.PICTURE_GAP))
        if picture.fingers and look.hands != "keyboard":  # over keyboards they keep within the hand's width
            wide = sum(metrics.width(str(finger), "regular", style.SMALL) for finger in picture.fingers)
            row = wide + (len(picture.fingers) - 1) * ROW_OF_FINGERS
            boxes.append(RowBox(FINGERS, 0.0, row, style.PICTURE_GAP))
        note = note_width(picture)
        if note:
            boxes.append(RowBox(NOTE, 0.0, note, style.PICTURE_GAP))
    if column.symbol is not None:
        width = width_of(column.symbol.runs) + width_of(column.symbol.manner)
        boxes.append(RowBox(CHORD, 0.0, width + (PUSH_WIDTH if column.symbol.push else 0.0), style.CHORD_GAP))
    for verse, words in enumerate(column.words):
        if words is not None:
            hyphen = metrics.width("-", "regular", look.words) + 2 * HYPHEN_GAP - style.WORD_GAP
            left = max(0.0, hyphen) if words.glued else 0.0
            boxes.append(RowBox(WORDS + verse, left, width_of(words.runs), style.WORD_GAP))
    return tuple(boxes)


def note_width(picture: Picture) -> float:
    """Return the width of the texts under a picture."""
    gap = style.PICTURE_GAP if picture.left and picture.shape else 0.0
    return width_of(picture.left) + gap + width_of(picture.shape)


def meter_width(bar: BarContent, look: Look, metrics: Metrics) -> float:
    """Return the width of a meter printed in a bar: its figures one over the other."""
    size = meter_size(look, metrics)
    return max(metrics.width(str(figure), "bold", size) for figure in (bar.meter.beats, bar.meter.unit))
