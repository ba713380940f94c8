"""How large type is for the eye: a distance and minutes of arc -> heights and sizes in points, and back.

ISO 9241-3: a capital is 16 minutes of arc high at least; 20 to 22 are preferred. More than 24 make single letters no
easier to read and take room from whole bars (NUREG-0700 rev. 2, 1.3.1-4, which gives the same figures and the formula).
"""

from __future__ import annotations

from math import ceil, floor, tau

from arranger.layout.metrics import Metrics
from arranger.layout.model import Face
from arranger.units import MM

MINIMUM, AIM, MOST = 16.0, 20.0, 24.0  # minutes of arc
STEP = 0.25  # points between two sizes that are tried: a quarter of a minute at arm's length
MINUTES = 360 * 60  # in a whole turn
FIGURES = "0123456789"
FACES: tuple[Face, ...] = ("regular", "bold")  # in which everything is set that is read while playing
SLACK = 1e-9  # of a step: sizes that are a step but for rounding


def height(minutes: float, metres: float) -> float:
    """Return the height in points that appears under so many minutes of arc at a distance.

    >>> round(height(20, 0.6) / MM, 2), round(height(16, 0.8) / MM, 2)
    (3.49, 3.72)
    """
    return tau * metres * 1000 * MM * minutes / MINUTES


def minutes(height: float, metres: float) -> float:
    """Return the minutes of arc under which a height in points appears at a distance.

    >>> round(minutes(height(20, 0.6), 0.6), 6)
    20.0
    """
    return height * MINUTES / (tau * metres * 1000 * MM)


def capital(metrics: Metrics) -> float:
    """Return how high the lowest of capitals and figures is, as a share of the size of type.

    What the font says of its capitals, and the letters and figures as they are drawn: the least counts.
    """
    return min(
        height
        for face in FACES
        for height in (
            metrics.cap_height(face, 1.0),
            metrics.rise("H", face, 1.0),
            *(metrics.rise(figure, face, 1.0) for figure in FIGURES),
        )
    )


def sizes(metres: float, metrics: Metrics, least: float = MINIMUM) -> tuple[float, ...]:
    """Return the sizes of type on a grid of quarter points from `MOST` minutes of arc down to `least`, in points."""
    share = capital(metrics)
    low = ceil(height(least, metres) / share / STEP - SLACK)
    high = max(low, floor(height(MOST, metres) / share / STEP + SLACK))
    return tuple(step * STEP for step in range(high, low - 1, -1))


def legible_to(size: float, metrics: Metrics) -> float:
    """Return the greatest distance in metres at which type of a size is legible, to 5 cm below."""
    exact = size * capital(metrics) / height(MINIMUM, 1.0)
    return floor(exact * 20 + SLACK) / 20
