"""When a place sounds, by the tempo map."""

from fractions import Fraction

from arranger.sounding.model import Performance, TempoChange


def test_seconds_follow_the_tempo_map():
    """By arithmetic: four quarters at 60 take 4 s, two more at 120 take 1 s."""
    tempi = (TempoChange(Fraction(0), Fraction(60)), TempoChange(Fraction(4), Fraction(120)))
    performance = Performance("", (), Fraction(8), tempi, (), ())
    assert [performance.seconds(Fraction(at)) for at in (0, 2, 4, 6, 8)] == [0, 2, 4, 5, 6]
