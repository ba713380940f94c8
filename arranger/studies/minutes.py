"""Share minutes out among studies."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

LEAST = 3  # minutes: hard changes, the loop and the triad have one each
MOST = 60  # more at one sitting is no quarter of an hour's practice
EACH_HARD = 3  # minutes for which there is one hard change: of a quarter of an hour, five


def shared_out(total: int, weights: Sequence[Fraction]) -> tuple[int, ...]:
    """Return whole minutes for each weight that add up to the total; each has one at least.

    The rest goes by weight, and what rounding leaves to those that it took most from, the first of equals.

    Raises:
        ValueError: there are more weights than minutes.

    >>> shared_out(15, [Fraction(2), Fraction(2), Fraction(3), Fraction(1)])
    (4, 4, 5, 2)
    """
    if len(weights) > total:
        raise ValueError(f"{len(weights)} studies in {total} minutes")
    if not weights:
        return ()
    rest = total - len(weights)
    whole = sum(weights, Fraction(0))
    exact = [rest * weight / whole for weight in weights]
    minutes = [int(share) for share in exact]
    order = sorted(range(len(weights)), key=lambda i: (minutes[i] - exact[i], i))
    for i in order[: rest - sum(minutes)]:
        minutes[i] += 1
    return tuple(1 + share for share in minutes)
