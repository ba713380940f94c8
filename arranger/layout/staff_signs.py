"""What stands on both small staves beside notes and clefs: the brace before them, the meter, rests, repeated bars."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from arranger.layout import style
from arranger.layout.content import BarContent
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Item, Line, Shape, Text
from arranger.layout.staff import SIZE, SPACE
from arranger.layout.style import Look
from arranger.layout.symbols import rest_runs
from arranger.layout.text import place, runs, width_of
from arranger.song.model import Meter
from arranger.text.source import NOWHERE, Span
from arranger.units import Point

BRACE_WIDTH = 6.0
BRACE_GAP = 1.5  # between the brace and the line that joins the staves
# The upper half of a brace: the outer and the inner edge from its tip to its point as cubic curves, in shares of
# its width from the left and of its height from the top. The face has no brace, and one must fit any height.
_OUTER = ((1.0, 0.0), (0.15, 0.12), (0.75, 0.36), (0.0, 0.5))
_INNER = ((1.0, 0.0), (0.5, 0.12), (1.1, 0.38), (0.0, 0.5))
_BRACE_STEPS = 12  # straight pieces of each edge, too short to be seen
FIGURE = 1.88  # spaces that a meter's figure is high: of its two, so that round figures do not touch
_WHOLE, _HALF = "\U0001d13b", "\U0001d13c"
SLASH_HIGH, SLASH_LOW = 0.781, 0.12  # of its size: how far the bold slash rises and hangs
SLASH_SIZE = 2 * SPACE / (SLASH_HIGH + SLASH_LOW)  # so that it fills the middle two spaces, as in print
# How far over the lowest line they begin: the face has these rests a line lower than they stand on five lines.
_RISES = {_WHOLE: SPACE, _HALF: SPACE, "/": SPACE + SLASH_LOW * SLASH_SIZE}
ON_STAVES = ("rest", "repeat", "slash")  # signs that stand on the staves rather than in the chord row
WHOLE_BAR = Fraction(4)  # a silent bar has the rest of four quarters, whatever its meter


@dataclass(frozen=True, slots=True)
class StaffSign:
    """What stands on both staves where no note does: its glyphs, its role, whether it stands amid its bar."""

    text: str
    role: str
    amid: bool
    width: float
    span: Span


def meter_size(look: Look, metrics: Metrics) -> float:
    """Return the size of a meter's figures."""
    return _figure_size(metrics) if look.hands == "staff" else look.sizes.meter


def _figure_size(metrics: Metrics) -> float:
    """Return the size at which a figure fills two spaces, as meters on staves do in print."""
    return FIGURE * SPACE / metrics.cap_height("bold", 1.0)


def set_brace(x: float, treble: float, bass: float, span: Span = NOWHERE) -> list[Item]:
    """Join both staves at their left end x: a line, and a brace before it."""
    top = treble - 4 * SPACE
    left, height = x - BRACE_GAP - BRACE_WIDTH, bass - top
    outer = [_cubic(_OUTER, step / _BRACE_STEPS) for step in range(_BRACE_STEPS + 1)]
    inner = [_cubic(_INNER, step / _BRACE_STEPS) for step in range(_BRACE_STEPS + 1)]
    half = [*outer, *reversed(inner[1:-1])]
    shapes = [
        Shape(tuple(Point(left + u * BRACE_WIDTH, top + v * height) for u, v in points), "brace", span=span)
        for points in (half, [(u, 1.0 - v) for u, v in half])
    ]
    return [Line(x, top, x, bass, style.BARLINE, "barline", span=span), *shapes]


def _cubic(points: tuple[tuple[float, float], ...], at: float) -> tuple[float, float]:
    """Return the point of a cubic curve at 0 to 1 of its way."""
    weights = ((1 - at) ** 3, 3 * at * (1 - at) ** 2, 3 * at**2 * (1 - at), at**3)
    x, y = (sum(weight * point[axis] for weight, point in zip(weights, points, strict=True)) for axis in (0, 1))
    return x, y


def set_time(meter: Meter, x: float, treble: float, bass: float, metrics: Metrics, span: Span = NOWHERE) -> list[Text]:
    """Place a meter on both staves: its upper figure in the upper two spaces, its lower figure in the lower two."""
    size = _figure_size(metrics)
    figures = [runs(str(figure), "bold", size, metrics) for figure in (meter.beats, meter.unit)]
    width = max(map(width_of, figures))
    items: list[Text] = []
    for lowest in (treble, bass):
        for figure, up in zip(figures, (2, 0), strict=True):
            baseline = lowest - (up + (2 - FIGURE) / 2) * SPACE
            items += place(figure, x + (width - width_of(figure)) / 2, baseline, "meter", span)
    return items


def signs_of(bar: BarContent, metrics: Metrics) -> tuple[StaffSign | None, ...]:
    """Return what stands on the staves at each column of a bar beside notes.

    Rests where the hands are silent, the sign of a repeated bar, slashes where a chord goes on through a whole bar.
    """
    found: list[StaffSign | None] = []
    parts = [number for number, column in enumerate(bar.columns) if column.chord is not None]
    for number, column in enumerate(bar.columns):
        symbol = column.symbol
        silent = column.chord is not None and column.picture is None
        alone = silent and parts == [number] and column.time == 0 and bar.whole_start and bar.whole_end
        if symbol is not None and (symbol.role in ("rest", "repeat") or (symbol.role == "slash" and not parts)):
            text = "".join(run.text for run in symbol.runs)
            found.append(_sign(text, symbol.role, alone or symbol.role == "repeat", metrics, symbol.span))
        elif silent:
            end = next((bar.columns[later].time for later in parts if later > number), bar.length)
            # Where a bar is broken right after it, its length is not known here.
            length = WHOLE_BAR if alone else (end - column.time or WHOLE_BAR)
            text = "".join(run.text for run in rest_runs(length, metrics))
            found.append(_sign(text, "staff sign", alone, metrics, bar.span))
        else:
            found.append(None)
    return tuple(found)


def _sign(text: str, role: str, amid: bool, metrics: Metrics, span: Span) -> StaffSign:
    face, size = _type(role)
    return StaffSign(text, role, amid, metrics.width(text, face, size), span)


def _type(role: str) -> tuple[Face, float]:
    """Return the face and the size of a sign."""
    return ("bold", SLASH_SIZE) if role == "slash" else ("music", SIZE)


def set_sign(sign: StaffSign, x: float, treble: float, bass: float, metrics: Metrics) -> list[Text]:
    """Place a sign on both staves from x on; only the upper one is read as what the song says."""
    face, size = _type(sign.role)
    items: list[Text] = []
    for lowest, role in ((treble, sign.role), (bass, "staff sign")):
        at = x
        for glyph in sign.text:
            items.append(Text(at, lowest - _RISES.get(glyph, 0.0), glyph, face, size, role, span=sign.span))
            at += metrics.width(glyph, face, size)
    return items
