"""Minutes: they add up, and each study has one at least."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.studies.minutes import shared_out

weights = st.fractions(min_value=Fraction(1, 10), max_value=5, max_denominator=20)


@given(st.lists(weights, min_size=1, max_size=20), st.integers(0, 60))
def test_minutes_add_up(some: list[Fraction], more: int) -> None:
    total = len(some) + more
    minutes = shared_out(total, some)
    assert sum(minutes) == total and len(minutes) == len(some) and min(minutes) >= 1
    for one, weight in zip(minutes, some, strict=True):
        assert abs(one - 1 - more * weight / sum(some)) < 1


def test_too_few() -> None:
    assert shared_out(5, []) == ()
    with pytest.raises(ValueError, match="4 studies in 3 minutes"):
        shared_out(3, [Fraction(1)] * 4)
