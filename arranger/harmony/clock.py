"""Seconds and beats. Without a tempo, or in free time, a song is reckoned as at 80 felt quarters a minute."""

from __future__ import annotations

from fractions import Fraction

from arranger.song.model import Facts

ASSUMED_QUARTERS = Fraction(80)


def quarters_a_minute(facts: Facts) -> Fraction:
    """Return the speed that is reckoned with, in quarters a minute."""
    speed = facts.tempo.quarters_a_minute if facts.tempo else None
    return speed or ASSUMED_QUARTERS


def seconds(quarters: Fraction, facts: Facts) -> Fraction:
    """Return the time that so many quarters take, in seconds."""
    return quarters * 60 / quarters_a_minute(facts)


def felt_beats_a_minute(facts: Facts, felt_beat: Fraction) -> Fraction:
    """Return the felt beats (each of so many quarters) in a minute."""
    return quarters_a_minute(facts) / felt_beat


def beats_text(quarters: Fraction, beat: Fraction) -> str:
    """Return a place in a bar as musicians count it: beats from 1, in fractions of the meter's unit."""
    return str(quarters / beat + 1)
