"""Barlines, repeats, endings and meters of a line, as in print."""

from __future__ import annotations

from itertools import pairwise

from arranger.layout import style
from arranger.layout.hands import head_width
from arranger.layout.lines import PlacedBar, PlannedLine
from arranger.layout.metrics import Metrics
from arranger.layout.model import Box, Disc, Item, Line, Text
from arranger.layout.rows import Rows
from arranger.layout.text import place, runs, width_of

DOT = 1.7  # radius of a repeat dot
DOTS_APART = 4.0  # of each dot from the middle of the barline
THIN_GAP = 2.4  # between the lines of a double bar or a repeat sign
HOOK = 8.0  # how far an ending's bracket comes down


def set_barlines(line: PlannedLine, rows: Rows, x: float, y: float) -> list[Item]:
    """Place all barlines of a line whose music begins at x and whose top is y."""
    if not line.bars:
        return []
    items: list[Item] = []
    top, bottom = y + rows.top, y + rows.bottom
    first = line.bars[0]
    head = head_width(line.look, line.key)
    if first.content.repeat_start:
        items += _repeat_start(x + first.left + head, top, bottom, first)
    if first.content.whole_start and (head or not first.content.repeat_start):
        items.append(_thin(x + first.left, top, bottom, first))
    for bar, following in pairwise((*line.bars, None)):
        items += _right_barline(bar, following, x, top, bottom) if bar is not None else []
    return items


def _right_barline(bar: PlacedBar, following: PlacedBar | None, x: float, top: float, bottom: float) -> list[Item]:
    right = x + bar.right
    if not bar.content.whole_end:
        return []
    items: list[Item] = []
    if bar.content.repeat_times:
        items += _repeat_end(right, top, bottom, bar)
    if following is not None and following.content.repeat_start:
        return items + _repeat_start(right, top, bottom, following)
    if bar.content.repeat_times:
        return items
    if bar.content.double:
        items.append(_thin(right - THIN_GAP, top, bottom, bar))
    items.append(_thin(right, top, bottom, bar))
    return items


def _thin(x: float, top: float, bottom: float, bar: PlacedBar) -> Line:
    return Line(x, top, x, bottom, style.BARLINE, "barline", style.LINE_GREY, bar.content.span)


def _repeat_start(x: float, top: float, bottom: float, bar: PlacedBar) -> list[Item]:
    span = bar.content.span
    return [
        Box(x, top, style.THICK, bottom - top, "repeat", 0.0, span),
        Line(x + style.THICK + 1.6, top, x + style.THICK + 1.6, bottom, style.BARLINE, "repeat", 0.0, span),
        *_dots(x + style.THICK + 1.6 + 3.2, (top + bottom) / 2, bar),
    ]


def _repeat_end(x: float, top: float, bottom: float, bar: PlacedBar) -> list[Item]:
    span = bar.content.span
    thin = x - style.THICK - 1.6
    return [
        *_dots(thin - 3.2, (top + bottom) / 2, bar),
        Line(thin, top, thin, bottom, style.BARLINE, "repeat", 0.0, span),
        Box(x - style.THICK, top, style.THICK, bottom - top, "repeat", 0.0, span),
    ]


def _dots(x: float, middle: float, bar: PlacedBar) -> list[Item]:
    return [Disc(x, middle + shift, DOT, "repeat", span=bar.content.span) for shift in (-DOTS_APART, DOTS_APART)]


def set_endings(
    bar: PlacedBar, rows: Rows, x: float, y: float, metrics: Metrics, size: float = style.ENDING
) -> list[Item]:
    """Place the bracket of an ending over a bar, with its number, and how often a repeat is played if not twice."""
    content = bar.content
    if not rows.endings:
        return []
    items: list[Item] = []
    baseline = y + rows.endings
    top = baseline - size
    left, right = x + bar.left + 1.0, x + bar.right - 1.0
    if content.in_ending:
        stretch = (left if content.ending else left - 1.0, right if content.ending_stops else right + 1.0)
        items.append(Line(stretch[0], top, stretch[1], top, style.BARLINE, "ending", span=content.span))
    if content.ending:
        items.append(Line(left, top, left, top + HOOK, style.BARLINE, "ending", span=content.span))
        items += place(runs(content.ending, "bold", size, metrics), left + 3.0, baseline, "ending", content.span)
    if content.ending_stops and content.repeat_times:
        items.append(Line(right, top, right, top + HOOK, style.BARLINE, "ending", span=content.span))
    # A numbered ending says by its numbers how often it is played.
    if content.repeat_times > 2 and not content.in_ending:
        times = runs(f"×{content.repeat_times}", "bold", size, metrics)
        items += place(times, right - 1.0 - width_of(times), baseline, "times", content.span)
    return items


def set_meter(
    bar: PlacedBar, rows: Rows, x: float, y: float, metrics: Metrics, size: float = style.METER
) -> list[Text]:
    """Place a meter where it changes: its figures one over the other."""
    if not bar.content.meter_shown:
        return []
    meter = bar.content.meter
    width = max(metrics.width(str(figure), "bold", size) for figure in (meter.beats, meter.unit))
    items: list[Text] = []
    height = metrics.cap_height("bold", size)
    for figure, baseline in ((meter.beats, rows.chord - height + 0.5), (meter.unit, rows.chord + 2.0)):
        text = runs(str(figure), "bold", size, metrics)
        inset = (width - width_of(text)) / 2
        items += place(text, x + bar.meter + inset, y + baseline, "meter", bar.content.span)
    return items
