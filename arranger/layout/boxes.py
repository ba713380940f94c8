"""What the spacing must keep apart: the boxes of a bar's columns, row by row."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.layout import style
from arranger.layout.content import BarContent, Column, Picture
from arranger.layout.hands import hand_extent
from arranger.layout.metrics import Metrics
from arranger.layout.spacing import BarBoxes, Box, Step
from arranger.layout.staff_signs import meter_size, signs_of
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.layout.symbols import PUSH_WIDTH
from arranger.layout.text import width_of

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
            boxes += (Box(HAND, 0.0, sign.width, style.PICTURE_GAP),)
        steps.append(Step(float(column.time - last), boxes))
        last = column.time
    after = style.BAR_END + (style.REPEAT_PAD if bar.repeat_times else style.FINAL_PAD if bar.final else 0.0)
    return BarBoxes(before, after, tuple(steps), float(bar.length - last))


def _column_boxes(
    column: Column, picture: Picture | None, keyboard: float, metrics: Metrics, look: Look
) -> tuple[Box, ...]:
    boxes = []
    if column.hook is not None:
        boxes.append(Box(HOOK, 0.0, width_of(column.hook.runs), style.NOTE_GAP))
    if column.fill is not None:
        label = width_of(column.fill.label)
        left = label + style.NOTE_GAP if label else 0.0
        boxes.append(Box(OCTAVE, left, width_of(column.fill.runs), style.NOTE_GAP))
    if picture is not None:
        hand = hand_extent(picture, look, keyboard)
        if hand is not None:
            boxes.append(Box(HAND, *hand, style.PICTURE_GAP))
        if picture.fingers and look.hands != "keyboard":  # over keyboards they keep within the hand's width
            wide = sum(metrics.width(str(finger), "regular", style.SMALL) for finger in picture.fingers)
            row = wide + (len(picture.fingers) - 1) * ROW_OF_FINGERS
            boxes.append(Box(FINGERS, 0.0, row, style.PICTURE_GAP))
        note = note_width(picture)
        if note:
            boxes.append(Box(NOTE, 0.0, note, style.PICTURE_GAP))
    if column.symbol is not None:
        width = width_of(column.symbol.runs) + width_of(column.symbol.manner)
        boxes.append(Box(CHORD, 0.0, width + (PUSH_WIDTH if column.symbol.push else 0.0), style.CHORD_GAP))
    for verse, words in enumerate(column.words):
        if words is not None:
            hyphen = metrics.width("-", "regular", look.words) + 2 * HYPHEN_GAP - style.WORD_GAP
            left = max(0.0, hyphen) if words.glued else 0.0
            boxes.append(Box(WORDS + verse, left, width_of(words.runs), style.WORD_GAP))
    return tuple(boxes)


def note_width(picture: Picture) -> float:
    """Return the width of the texts under a picture."""
    gap = style.PICTURE_GAP if picture.left and picture.shape else 0.0
    return width_of(picture.left) + gap + width_of(picture.shape)


def meter_width(bar: BarContent, look: Look, metrics: Metrics) -> float:
    """Return the width of a meter printed in a bar: its figures one over the other."""
    size = meter_size(look, metrics)
    return max(metrics.width(str(figure), "bold", size) for figure in (bar.meter.beats, bar.meter.unit))
