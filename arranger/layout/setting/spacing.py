"""Space the bars of a line so that nothing touches.

Each bar is a row of *columns*, one for each time at which something begins. Everything in a column is a *box* in one
of the rows of the line (octave, hand, note, chord, words); a box must be clear of the box before it in its row, and of
the barlines. Beyond that, columns move apart in proportion to the time between them, all bars of a line at one rate, so
that equal bars are equally wide wherever their content allows.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.model import BarContent, Column, KeyRange, Picture
from arranger.layout.content.pictures import white_count
from arranger.layout.setting.hand_places import beside_width, hand_left, symbol_width
from arranger.layout.setting.staves import NOTE_APART, NOTE_PAD, meter_size, signs_of
from arranger.layout.setting.staves_notes import room_of
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.layout.text import Metrics, width_of

NO_HAND = float("-inf")


class RowBox(NamedTuple):
    """A thing in a row: how far it reaches to the left and to the right of its column, and the gap that follows it.

    `hand`: how far right of the column a picture of the keyboard begins, with what stands after that: the box reaches
    so far and the width of the picture at least. `NO_HAND` where there is none.
    """

    row: int
    left: float
    right: float
    gap: float
    hand: float = NO_HAND


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
    for before, after, steps, tail in bars:
        barlines.append(x)
        floor = x + before
        # For each row, where it is free again, with the slope of that place, and the gap that it counts.
        free: dict[int, tuple[float, float, float]] = {}
        placed: list[float] = []
        at, at_slope = floor, slope
        for quarters, boxes in steps:
            if placed:
                at += rate * quarters
                at_slope += quarters
            for row, left, _, _, _ in boxes:
                start, start_slope = free[row][:2] if row in free else (floor, slope)
                if start + left > at:
                    at, at_slope = start + left, start_slope
            for row, _, right, gap, _ in boxes:
                free[row] = at + right + gap, at_slope, gap
            placed.append(at)
        end, end_slope = at + rate * tail, at_slope + tail
        for edge, edge_slope, gap in free.values():
            if edge - gap + after > end:
                end, end_slope = edge - gap + after, edge_slope
        columns.append(tuple(placed))
        x, slope = end, end_slope
    return Spaced(tuple(barlines), tuple(columns), x, slope)


def least_width(bar: BarBoxes, keyboard: float = 0.0, columns: int | None = None) -> float:
    """Return how wide a bar is at least, or its first columns alone, with pictures of the keyboard that are so wide.

    It is where `space` has its end at rate 0.
    """
    before, after, steps, _ = bar
    at = before
    ends: dict[int, tuple[float, float]] = {}  # for each row, where it is free again, and the gap that it counts
    for _, boxes in steps if columns is None else steps[:columns]:
        for row, left, _, _, _ in boxes:
            start = (ends[row][0] if row in ends else before) + left
            if start > at:
                at = start
        for row, _, right, gap, hand in boxes:
            if hand + keyboard > right:
                right = hand + keyboard
            ends[row] = at + right + gap, gap
    for edge, gap in ends.values():
        if edge - gap + after > at:
            at = edge - gap + after
    return at


def with_keyboards(bar: BarBoxes, keyboard: float) -> BarBoxes:
    """Return the boxes of a bar with pictures of the keyboard that are so wide."""
    return bar._replace(steps=tuple([ColumnBoxes(step.quarters, _with_keyboard(step, keyboard)) for step in bar.steps]))


def _with_keyboard(step: ColumnBoxes, keyboard: float) -> tuple[RowBox, ...]:
    if all(box.hand == NO_HAND for box in step.boxes):
        return step.boxes
    return tuple([RowBox(row, left, max(right, hand + keyboard), gap) for row, left, right, gap, hand in step.boxes])


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


def filled(bars: Sequence[BarBoxes], width: float, full: bool = False) -> Spaced:
    """Place columns over a width; where the line is not full, over its share of a line of four bars."""
    share = 1.0 if full else min(1.0, len(bars) / style.BARS_IN_FULL)
    natural = space(bars, 0.0).end if share < 1.0 else width
    return fit(bars, max(min(width, natural * style.SPARE), width * share))


HOOK, OCTAVE, FINGERS, HAND, NOTE, CHORD, WORDS = range(7)  # rows of a line; verse n is WORDS + n
METER_GAP = 4.0
NO_NOTES = (None, None)
ROW_OF_FINGERS = 2.5  # between finger numbers that stand in a row
HYPHEN_GAP = 2.0  # on both sides of a hyphen between two parts of a word


def bar_boxes(
    bar: BarContent,
    pictures: Sequence[Picture | None],
    metrics: Metrics,
    look: Look = DEFAULT_LOOK,
    like: "ShownBar | None" = None,
) -> BarBoxes:
    """Return the boxes of a bar that shows these pictures, one place a column, before pictures have a width.

    `like` is the same bar with some other pictures: its columns that have the same ones are taken from it.
    """
    before = look.gaps.bar + (style.REPEAT_PAD if bar.repeat_start else 0.0)
    before += NOTE_PAD if look.hands == "staff" else 0.0
    if bar.meter_shown:
        before += meter_width(bar, look, metrics) + METER_GAP
    steps: list[ColumnBoxes] = []
    last = bar.start
    signs = signs_of(bar, metrics) if look.hands == "staff" else (None,) * len(bar.columns)
    for number, (column, shown, sign) in enumerate(zip(bar.columns, pictures, signs, strict=True)):
        if like is not None and like.pictures[number] is shown:
            steps.append(like.boxes.steps[number])
            last = column.time
            continue
        boxes = _column_boxes(column, shown, metrics, look)
        if sign is not None:
            boxes += (RowBox(HAND, 0.0, sign.width * look.staff, look.gaps.pictures),)
        steps.append(ColumnBoxes(_quarters(last, column.time), boxes))
        last = column.time
    after = look.gaps.bar + (style.REPEAT_PAD if bar.repeat_times else style.FINAL_PAD if bar.final else 0.0)
    after += style.DOUBLE_PAD if bar.double and not bar.repeat_times and not bar.final else 0.0
    return BarBoxes(before, after, tuple(steps), _quarters(last, bar.length))


def _quarters(one: Fraction, two: Fraction) -> float:
    """Return the time from one to two: what `float(two - one)` gives, without a Fraction in between."""
    (begun, of), (ended, to) = one.as_integer_ratio(), two.as_integer_ratio()
    return (ended * of - begun * to) / (of * to)


def _column_boxes(column: Column, picture: Picture | None, metrics: Metrics, look: Look) -> tuple[RowBox, ...]:
    boxes, gaps = [], look.gaps
    if column.hook is not None:
        boxes.append(RowBox(HOOK, 0.0, width_of(column.hook.runs), style.NOTE_GAP))
    if column.fill is not None:
        label = width_of(column.fill.label)
        left = label + style.NOTE_GAP if label else 0.0
        boxes.append(RowBox(OCTAVE, left, width_of(column.fill.runs), style.NOTE_GAP))
    if column.written != NO_NOTES:
        left, right = room_of(column, metrics)
        boxes.append(RowBox(HAND, left * look.staff, right * look.staff, NOTE_APART))
    if picture is not None:
        boxes += _hand_boxes(column, picture, metrics, look)
    if column.symbol is not None and (picture is None or not look.beside):
        boxes.append(RowBox(CHORD, 0.0, symbol_width(column), gaps.chords))
    for verse, words in enumerate(column.words):
        if words is not None:
            left = 0.0
            if words.glued:
                left = max(0.0, metrics.width("-", "regular", look.words) + 2 * HYPHEN_GAP - gaps.words)
            wide = width_of(words.runs)
            if words.under:
                wide = max(wide, style.UNDER_INDENT * look.words + width_of(words.under))
            boxes.append(RowBox(WORDS + verse, left, wide, gaps.words))
    return tuple(boxes)


def _hand_boxes(column: Column, picture: Picture, metrics: Metrics, look: Look) -> list[RowBox]:
    """Return the boxes of a hand; one that stands beside its chord has the chord in its box."""
    boxes, gap = [], look.gaps.pictures
    if look.hands != "staff" and picture.marks and not look.beside:
        letters = width_of(picture.letters) if look.hands == "letters" else 0.0
        boxes.append(RowBox(HAND, 0.0, letters, gap, NO_HAND if look.hands == "letters" else 0.0))
    if picture.fingers and look.hands != "keyboard":  # over keyboards they keep within the hand's width
        wide = sum(metrics.width(str(finger), "regular", style.SMALL) for finger in picture.fingers)
        aside = hand_left(column, picture, look)
        boxes.append(RowBox(FINGERS, -aside, aside + wide + (len(picture.fingers) - 1) * ROW_OF_FINGERS, gap))
    if look.beside:
        wide, hand = beside_width(column, picture, look)
        boxes.append(RowBox(CHORD, 0.0, wide, gap, NO_HAND if hand is None else hand))
    else:
        between = gap if picture.left and picture.shape else 0.0
        note = width_of(picture.left) + between + width_of(picture.shape)
        if note:
            boxes.append(RowBox(NOTE, 0.0, note, gap))
    return boxes


def meter_width(bar: BarContent, look: Look, metrics: Metrics) -> float:
    """Return the width of a meter printed in a bar: its figures one over the other."""
    size = meter_size(look, metrics)
    return max(metrics.width(str(figure), "bold", size) for figure in (bar.meter.beats, bar.meter.unit))


class Measure(NamedTuple):
    """What widths depend on: the keys that pictures show, the width of a key, the fonts, the look.

    `head` is what clefs take at the start of a line, `width` what is left for the music.
    """

    keys: KeyRange
    key_width: float
    width: float
    head: float
    look: Look
    metrics: Metrics

    @property
    def picture(self) -> float:
        """The width of a picture of the keyboard; 0 where there is none."""
        return white_count(*self.keys) * self.key_width if self.look.hands == "keyboard" else 0.0


class ShownBar(NamedTuple):
    """The pictures that a bar shows, one place a column, with its boxes and its least width.

    `keyboard` is the width of its pictures of the keyboard, with which the boxes are `spaced`.
    """

    pictures: tuple[Picture | None, ...]
    boxes: BarBoxes
    keyboard: float
    width: float

    @property
    def spaced(self) -> BarBoxes:
        """The boxes as they are spaced."""
        return with_keyboards(self.boxes, self.keyboard) if self.keyboard else self.boxes


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredBar:
    """A bar as it is shown first in a line, and later in one. Compared by identity, for bars are large."""

    content: BarContent
    first: ShownBar
    later: ShownBar


Group = tuple[MeasuredBar, ...]  # the bars of a line


def measured(bar: BarContent, measure: Measure) -> MeasuredBar:
    """Return a bar with its widths.

    It shows every hand that is not the one before it; the first of a line also that with which the line begins.
    """

    def shown(pictures: tuple[Picture | None, ...], like: ShownBar | None = None) -> ShownBar:
        boxes = bar_boxes(bar, pictures, measure.metrics, measure.look, like)
        return ShownBar(pictures, boxes, picture, least_width(boxes, picture))

    picture = measure.picture
    first = tuple(column.picture for column in bar.columns)
    begun = next((place for place, picture in enumerate(first) if picture is not None), 0)
    later = tuple(None if picture is not None and picture.restated else picture for picture in first)
    alone = shown((*first[: begun + 1], *later[begun + 1 :]))
    return MeasuredBar(bar, alone, alone if alone.pictures == later else shown(later, alone))


def remeasured(bar: MeasuredBar, keyboard: float) -> MeasuredBar:
    """Return a bar that was measured with keyboards of another width, all else alike, with those that are so wide."""

    def shown(one: ShownBar) -> ShownBar:
        return ShownBar(one.pictures, one.boxes, keyboard, least_width(one.boxes, keyboard))

    first = shown(bar.first)
    return MeasuredBar(bar.content, first, first if bar.later is bar.first else shown(bar.later))


def shown_in(group: Group) -> list[ShownBar]:
    """Return the bars of a line as they are shown: the first shows its hands again, the others what changes."""
    return [bar.later if number else bar.first for number, bar in enumerate(group)]
