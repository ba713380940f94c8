"""Measure the sensory roughness of sounds: how harsh notes are together. Takes MIDI numbers; 0 is smooth.

The model is Hutchinson & Knopoff's (1978, "The acoustic component of Western consonance", Interface 7) with Mashinter's
curve through Plomp and Levelt's data (J. Acoust. Soc. Am. 38, 1965), as published with the R package dycon by P.
Harrison: harmonic tones of 11 partials whose amplitudes fall as 1/n.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import combinations
from math import exp

PARTIALS = 11
CUT_OFF = 1.2  # critical bandwidths beyond which two tones do not disturb each other
MOST_ROUGH = 0.25  # critical bandwidths at which they disturb most

Spectrum = tuple[tuple[float, float], ...]  # (frequency in Hz, amplitude)


def frequency(midi: float) -> float:
    """Return the frequency in Hz in equal temperament, A4 (69) at 440 Hz.

    >>> round(frequency(60), 3)
    261.626
    """
    return float(440.0 * 2.0 ** ((midi - 69) / 12))


def bandwidth(one: float, two: float) -> float:
    """Return the critical bandwidth in Hz around two frequencies.

    >>> round(bandwidth(400, 440), 3), round(bandwidth(400, 380), 3)
    (87.225, 83.123)
    """
    return float(1.72 * ((one + two) / 2) ** 0.65)


def disturbance(apart: float) -> float:
    """Return how much two tones disturb each other, 0 to 1, by their distance in critical bandwidths.

    >>> round(disturbance(0.5), 4), round(disturbance(1), 4)
    (0.5413, 0.0397)
    """
    if apart > CUT_OFF:
        return 0.0
    return ((apart / MOST_ROUGH) * exp(1 - apart / MOST_ROUGH)) ** 2


def roughness(spectrum: Spectrum) -> float:
    """Return the roughness of a spectrum: the disturbance of all pairs by their amplitudes, over the sum of squares."""
    total = sum(a * b * disturbance(abs(f - g) / bandwidth(f, g)) for (f, a), (g, b) in combinations(spectrum, 2))
    return total / sum(a * a for _, a in spectrum)


def spectrum_of(keys: Iterable[float], partials: int = PARTIALS) -> Spectrum:
    """Return the spectrum of keys struck together; partials of one frequency (to a thousandth of a Hz) are added."""
    found: dict[float, float] = {}
    for key in keys:
        for n in range(1, partials + 1):
            place = round(n * frequency(key), 3)
            found[place] = found.get(place, 0.0) + 1 / n
    return tuple(sorted(found.items()))


@lru_cache(maxsize=4096)
def roughness_of(keys: tuple[int, ...]) -> float:
    """Return the roughness of keys struck together, with 11 partials each."""
    return roughness(spectrum_of(keys))
