"""Lengths and shapes on paper. Everything is in points (1/72 inch), x to the right, y down from the top left."""

from __future__ import annotations

from dataclasses import dataclass

MM = 72 / 25.4  # points in a millimetre


def mm(millimetres: float) -> float:
    """Give points for millimetres."""
    return millimetres * MM


def inch(inches: float) -> float:
    """Give points for inches."""
    return inches * 72.0


@dataclass(frozen=True, slots=True)
class Point:
    """A place in points from the top left."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle in points: its top-left corner, its width and its height (both at least 0)."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The x of the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """The y of the lower edge."""
        return self.y + self.height

    def overlaps(self, other: Rect, slack: float = 0.0) -> bool:
        """Tell whether the two share more than `slack` points in both directions."""
        return (
            min(self.right, other.right) - max(self.x, other.x) > slack
            and min(self.bottom, other.bottom) - max(self.y, other.y) > slack
        )


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper size in points, upright."""

    name: str
    width: float
    height: float


A4 = Paper("a4", mm(210), mm(297))  # ISO 216
LETTER = Paper("letter", inch(8.5), inch(11))  # 8.5 x 11 in, the US letter sheet
PAPERS = {paper.name: paper for paper in (A4, LETTER)}
