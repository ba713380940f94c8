"""Roughness against published reference values.

Hutchinson & Knopoff 1978 with Mashinter's curve, as in the R package dycon by P. Harrison (its R/hutch.R and tests/);
further values computed independently from the same definition.
"""

from __future__ import annotations

import pytest

from arranger.theory.roughness import bandwidth, disturbance, frequency, roughness, roughness_of, spectrum_of


def test_the_parts_of_the_model() -> None:
    assert round(bandwidth(400, 440), 3) == 87.225
    assert round(bandwidth(400, 380), 3) == 83.123
    assert round(disturbance(0.5), 4) == 0.5413
    assert round(disturbance(1), 4) == 0.0397
    assert disturbance(1.3) == 0
    assert round(frequency(60), 3) == 261.626


def test_pure_tones() -> None:
    assert round(roughness(spectrum_of((60, 61), 1)), 3) == 0.499
    assert round(roughness(spectrum_of((69, 70), 1)), 3) == 0.491


# With 11 harmonics of amplitude 1/n. The minor sixth is 0.0935 here and 0.094 there: the last digit is rounding.
@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        *(
            ((60, 60 + n), value)
            for n, value in enumerate(
                (0.484, 0.254, 0.112, 0.070, 0.045, 0.097, 0.023, 0.094, 0.057, 0.102, 0.225, 0.002), start=1
            )
        ),
        ((60, 64, 67), 0.120),
        ((60, 63, 67), 0.130),
        ((60, 64, 68), 0.148),
        ((60, 65, 67), 0.180),
        ((60, 63, 66), 0.201),
        ((60, 62, 67), 0.211),
        ((36, 40), 0.233),
        ((48, 52), 0.128),
        ((36, 43), 0.100),
        ((48, 55), 0.048),
    ],
)
def test_published_values(keys: tuple[int, ...], expected: float) -> None:
    assert roughness_of(keys) == pytest.approx(expected, abs=0.00051)


def test_low_closeness_is_rougher() -> None:
    assert roughness_of((36, 40)) > roughness_of((48, 52)) > roughness_of((60, 64))
