"""Define one line of music of a score: bars with chords, the tune and its words, from which sections are made.

Times are quarters from the start of a bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from arranger.convert.score_model import NO_JUMPS, Jumps, ScoreSyllable
from arranger.habits.bounds import MOST_BEATS
from arranger.song.chord_rows import GRID
from arranger.song.model import Meter
from arranger.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class LeadChord:
    """A chord symbol, or `N.C.`, at its place in a bar; `hold` where its note has a fermata."""

    start: Fraction
    text: str
    hold: bool = False


@dataclass(frozen=True, slots=True)
class LeadNote:
    """A note of the tune; `pitch` is None for a rest, `held` where it goes on from the note before."""

    start: Fraction
    length: Fraction
    pitch: Pitch | None
    held: bool = False


@dataclass(frozen=True, slots=True)
class LeadSyllable:
    """A syllable at its place in a bar."""

    start: Fraction
    sung: ScoreSyllable


@dataclass(frozen=True, slots=True)
class LeadBar:
    """A bar of the song.

    Attributes:
        label: its printed number.
        meter: that is in force.
        length: in quarters; another than the meter's for a pickup, and for a bar that a repeat parts.
        heading: the name of a section that begins here.
        key: signature and mode, where they change.
        words: for the player.
        checks: what is to be checked here; `left` what found no place.
    """

    label: str
    meter: Meter
    length: Fraction
    chords: tuple[LeadChord, ...] = ()
    tune: tuple[LeadNote, ...] = ()
    syllables: tuple[LeadSyllable, ...] = ()
    heading: str = ""
    key: tuple[int, str] | None = None
    tempo: Fraction | None = None
    feel: str = ""
    dynamic: str = ""
    words: tuple[str, ...] = ()
    jumps: Jumps = NO_JUMPS
    checks: tuple[str, ...] = ()
    left: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether it is as long as its meter says."""
        return self.length == self.meter.length


def meter_of_length(length: Fraction, *, halves: bool = False) -> Meter:
    """Return a meter for a bar of so many quarters, which are rounded up to eighths.

    >>> str(meter_of_length(Fraction(5, 2))), str(meter_of_length(Fraction(3)))
    ('5/8', '3/4')
    """
    eighths = max(1, ceil(length / GRID))
    if halves and eighths % 4 == 0 and eighths // 4 <= MOST_BEATS:
        return Meter(eighths // 4, 2)
    if eighths % 2 == 0 and eighths // 2 <= MOST_BEATS:
        return Meter(eighths // 2, 4)
    return Meter(min(eighths, MOST_BEATS), 8)
