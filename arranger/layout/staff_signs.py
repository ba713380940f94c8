"""What stands on both small staves beside notes and clefs: the brace before them, and the meter."""

from __future__ import annotations

from arranger.layout import style
from arranger.layout.metrics import Metrics
from arranger.layout.model import Item, Line, Shape, Text
from arranger.layout.options import Look
from arranger.layout.staff import SPACE
from arranger.layout.text import place, runs, width_of
from arranger.song.model import Meter
from arranger.source import NOWHERE, Span
from arranger.units import Point

BRACE_WIDTH = 6.0
BRACE_GAP = 1.5  # between the brace and the line that joins the staves
# The upper half of a brace: the outer and the inner edge from its tip to its point as cubic curves, in shares of
# its width from the left and of its height from the top. The face has no brace, and one must fit any height.
_OUTER = ((1.0, 0.0), (0.15, 0.12), (0.75, 0.36), (0.0, 0.5))
_INNER = ((1.0, 0.0), (0.5, 0.12), (1.1, 0.38), (0.0, 0.5))
_BRACE_STEPS = 12  # straight pieces of each edge: corners of less than a dot at 600 dpi


def meter_size(look: Look, metrics: Metrics) -> float:
    """Give the size of a meter's figures."""
    return _figure_size(metrics) if look.hands == "staff" else look.sizes.meter


def _figure_size(metrics: Metrics) -> float:
    """Give the size at which a figure is two spaces high, as meters on staves are in print."""
    return 2 * SPACE / metrics.cap_height("bold", 1.0)


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
    """Give the point of a cubic curve at 0 to 1 of its way."""
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
            items += place(figure, x + (width - width_of(figure)) / 2, lowest - up * SPACE, "meter", span)
    return items
