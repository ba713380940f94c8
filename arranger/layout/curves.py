"""Reckon curves of the page: ties, and points of what is drawn as a polygon. Takes items and points; gives points."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.layout.model import Tie
from arranger.units import Point

TIE_LEAN = 0.25  # of its length: how far along the handles of a tie's curves lie
TIE_HANDLE = 4 / 3  # how much farther than its middle they lie, as cubic curves have it


def tie_curves(tie: Tie) -> tuple[tuple[Point, Point, Point, Point], tuple[Point, Point, Point, Point]]:
    """Return the two cubic curves around a tie, there and back: start, two handles, end.

    They are apart in the middle and together at the ends, as ties are engraved.
    """
    lean = (tie.x2 - tie.x1) * TIE_LEAN
    near, far = tie.x1 + lean, tie.x2 - lean
    outer, inner = (tie.y - (tie.rise + half) * TIE_HANDLE for half in (tie.width / 2, -tie.width / 2))
    left, right = Point(tie.x1, tie.y), Point(tie.x2, tie.y)
    return (left, Point(near, outer), Point(far, outer), right), (right, Point(far, inner), Point(near, inner), left)


def on_cubic(points: Sequence[tuple[float, float]], at: float) -> tuple[float, float]:
    """Return the point of a cubic curve of four points at 0 to 1 of its way."""
    weights = ((1 - at) ** 3, 3 * at * (1 - at) ** 2, 3 * at**2 * (1 - at), at**3)
    x, y = (sum(weight * point[axis] for weight, point in zip(weights, points, strict=True)) for axis in (0, 1))
    return x, y
