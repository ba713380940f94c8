"""Type from the reading distance, against ISO 9241-3's minutes of arc and published tables."""

from __future__ import annotations

import pytest

from arranger.layout.pages.fitting import (
    AIM,
    FACES,
    FIGURES,
    MINIMUM,
    MOST,
    STEP,
    capital,
    height,
    legible_to,
    minutes,
    sizes,
)
from arranger.pdf.fonts import load, metrics
from arranger.units import MM
from tests.layout.square import SQUARE

HELVETICA = 718 / 1000  # the height of its capitals (Adobe Core 14 AFM)


@pytest.mark.parametrize(
    ("metres", "arc", "millimetres", "points"),
    [
        (0.5, 16, 2.33, 9.2), (0.5, 20, 2.91, 11.5), (0.5, 22, 3.20, 12.6),
        (0.6, 16, 2.79, 11.0), (0.6, 20, 3.49, 13.8), (0.6, 22, 3.84, 15.2),
        (0.7, 16, 3.26, 12.9), (0.7, 20, 4.07, 16.1), (0.7, 22, 4.48, 17.7),
        (0.8, 16, 3.72, 14.7), (0.8, 20, 4.65, 18.4), (0.8, 22, 5.12, 20.2),
    ],
)  # fmt: skip
def test_the_heights_and_sizes_of_the_published_table(
    metres: float, arc: float, millimetres: float, points: float
) -> None:
    needed = height(arc, metres)
    assert needed / MM == pytest.approx(millimetres, abs=0.005)
    assert needed / HELVETICA == pytest.approx(points, abs=0.05)
    assert minutes(needed, metres) == pytest.approx(arc)


def test_the_formula_of_nureg() -> None:
    """Height = 6.283 x distance x minutes / 21600 (NUREG-0700 rev. 2, 1.3.1-4)."""
    assert height(18, 0.9) / MM == pytest.approx(6.283 * 900 * 18 / 21600, rel=1e-4)


def test_limits_of_the_standards() -> None:
    """ISO 9241-3: 16 minutes at least, 20 to 22 preferred; NUREG-0700: at most 24 for text."""
    assert (MINIMUM, MOST) == (16, 24)
    assert 20 <= AIM <= 22


@pytest.mark.parametrize("metres", [0.3, 0.6, 0.9, 1.3, 2.0])
def test_sizes_are_all_quarter_points_between_the_limits_largest_first(metres: float) -> None:
    share = capital(metrics())
    found = sizes(metres, metrics())
    exact = [step * STEP for step in range(1, 1000) if MINIMUM <= minutes(step * STEP * share, metres) <= MOST]
    assert list(found) == exact[::-1]


def test_the_next_size_up_is_taken_where_no_quarter_point_lies_between_the_limits() -> None:
    assert sizes(0.01, SQUARE) == (0.25,)


def test_the_capital_is_the_lowest_that_is_drawn() -> None:
    """The font says 0.725 of its capitals (OS/2 sCapHeight), which letters and some figures do not reach."""
    drawn = [metrics().rise(sign, face, 1.0) for face in FACES for sign in f"H{FIGURES}"]
    assert capital(metrics()) == min(drawn) < metrics().cap_height("bold", 1.0)
    for face in FACES:
        parsed = load(face).parsed
        assert metrics().cap_height(face, 1000.0) == pytest.approx(parsed.capHeight)
    assert capital(SQUARE) == 1.0


def test_a_copy_is_legible_as_far_as_its_capitals_have_sixteen_minutes() -> None:
    for size in (10.0, 16.5, 20.75):
        far = legible_to(size, metrics())
        assert minutes(size * capital(metrics()), far) >= MINIMUM > minutes(size * capital(metrics()), far + 0.05)
        assert far * 20 == pytest.approx(round(far * 20))


@pytest.mark.parametrize(("metres", "points"), [(0.78, 18.0)])
def test_large_print_meets_twenty_minutes_as_far_as_is_published(metres: float, points: float) -> None:
    """18 points of Helvetica meet 20 minutes to about 78 cm."""
    assert minutes(points * HELVETICA, metres) == pytest.approx(20, abs=0.1)


@pytest.mark.parametrize(
    ("metres", "least"),
    [(0.7, 16.0), (0.9, 18.0)],  # UKAAF G003: 16 points at least in large print, 18 preferred; ACB: 18 points
)
def test_type_at_the_aim_is_large_print_at_a_stand(metres: float, least: float) -> None:
    assert sizes(metres, metrics(), AIM)[-1] >= least
