"""Barlines, repeats, endings and meters of a line, as in print."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from arranger.layout import style
from arranger.layout.content import PlacedBar, PlannedLine, Rows
from arranger.layout.metrics import Metrics
from arranger.layout.model import Box, Disc, Item, Line, Text
from arranger.layout.staff import SPACE
from arranger.layout.staff_signs import set_time
from arranger.layout.text import place, runs, width_of

DOT = 1.7  # radius of a repeat dot
DOTS_APART = 4.0  # of each dot from the middle of the barline
STAFF_DOT = 0.25 * SPACE  # clear of the lines on both sides of its space
THIN_GAP = 2.4  # between the lines of a double bar or a repeat sign
HOOK = 8.0  # how far an ending's bracket comes down


@dataclass(frozen=True, slots=True)
class _Upright:
    """How the barlines of a line stand: from where to where, how dark, the heights and the radius of repeat dots."""

    top: float
    bottom: float
    grey: float
    dots: tuple[float, ...]
    dot: float


def _upright(rows: Rows, y: float) -> _Upright:
    """Return how barlines stand: through both staves, dots at the middle lines; else from the hands to the words."""
    if rows.treble:
        middles = (y + rows.treble - 2 * SPACE, y + rows.bass - 2 * SPACE)
        dots = tuple(middle + side * SPACE / 2 for middle in middles for side in (-1, 1))
        return _Upright(y + rows.treble - 4 * SPACE, y + rows.bass, 0.0, dots, STAFF_DOT)
    top, bottom = y + rows.top, y + rows.bottom
    middle = (top + bottom) / 2
    return _Upright(top, bottom, style.LINE_GREY, (middle - DOTS_APART, middle + DOTS_APART), DOT)


def set_barlines(line: PlannedLine, rows: Rows, x: float, y: float) -> list[Item]:
    """Place all barlines of a line whose music begins at x and whose top is y."""
    if not line.bars:
        return []
    items: list[Item] = []
    upright = _upright(rows, y)
    first = line.bars[0]
    if first.content.repeat_start:
        items += _repeat_start(x + first.opens, upright, first)
    if first.content.whole_start and not rows.treble and not first.content.repeat_start:
        items.append(_thin(x + first.left, upright, first))
    for bar, following in pairwise((*line.bars, None)):
        items += _right_barline(bar, following, x, upright) if bar is not None else []
    return items


def _right_barline(bar: PlacedBar, following: PlacedBar | None, x: float, upright: _Upright) -> list[Item]:
    right = x + bar.right
    if not bar.content.whole_end:
        return []
    items: list[Item] = []
    if bar.content.repeat_times:
        items += _repeat_end(right, upright, bar)
    if following is not None and following.content.repeat_start:
        return items + _repeat_start(right, upright, following)
    if bar.content.repeat_times:
        return items
    if bar.content.final:
        return [*items, _stroke(right - style.THICK - 1.6, upright, bar), _heavy(right - style.THICK, upright, bar)]
    if bar.content.double:
        items.append(_thin(right - THIN_GAP, upright, bar))
    items.append(_thin(right, upright, bar))
    return items


def _thin(x: float, upright: _Upright, bar: PlacedBar) -> Line:
    return Line(x, upright.top, x, upright.bottom, style.BARLINE, "barline", upright.grey, bar.content.span)


def _repeat_start(x: float, upright: _Upright, bar: PlacedBar) -> list[Item]:
    thin = x + style.THICK + 1.6
    return [_heavy(x, upright, bar), _stroke(thin, upright, bar), *_dots(thin + 3.2, upright, bar)]


def _repeat_end(x: float, upright: _Upright, bar: PlacedBar) -> list[Item]:
    thin = x - style.THICK - 1.6
    return [*_dots(thin - 3.2, upright, bar), _stroke(thin, upright, bar), _heavy(x - style.THICK, upright, bar)]


def _heavy(x: float, upright: _Upright, bar: PlacedBar) -> Box:
    return Box(x, upright.top, style.THICK, upright.bottom - upright.top, "repeat", 0.0, bar.content.span)


def _stroke(x: float, upright: _Upright, bar: PlacedBar) -> Line:
    return Line(x, upright.top, x, upright.bottom, style.BARLINE, "repeat", 0.0, bar.content.span)


def _dots(x: float, upright: _Upright, bar: PlacedBar) -> list[Item]:
    return [Disc(x, at, upright.dot, "repeat", span=bar.content.span) for at in upright.dots]


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
    """Place a meter where it changes: its figures one over the other, on the staves where there are any."""
    if not bar.content.meter_shown:
        return []
    meter = bar.content.meter
    if rows.treble:
        return set_time(meter, x + bar.meter, y + rows.treble, y + rows.bass, metrics, bar.content.span)
    width = max(metrics.width(str(figure), "bold", size) for figure in (meter.beats, meter.unit))
    items: list[Text] = []
    height = metrics.cap_height("bold", size)
    for figure, baseline in ((meter.beats, rows.chord - height + 0.5), (meter.unit, rows.chord + 2.0)):
        text = runs(str(figure), "bold", size, metrics)
        inset = (width - width_of(text)) / 2
        items += place(text, x + bar.meter + inset, y + baseline, "meter", bar.content.span)
    return items
