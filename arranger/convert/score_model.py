"""Define what is read of a score: its parts, bar by bar, in sounding pitch, before a song is made of it.

Times are quarters from the start of a bar. Bars count from 0 in the order in which they are written; what is printed as
a bar's number is its `label`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from arranger.theory.pitch import Pitch

MOST_BARS = 2000  # a song has a hundred


@dataclass(frozen=True, slots=True)
class ScoreSyllable:
    """A syllable under a note.

    Attributes:
        verse: which line of words it belongs to, as the score names it (`1`, `chorus`).
        text: as it is sung, without the hyphens between syllables.
        goes_on: another syllable of the same word follows.
        continues: it is not the first of its word.
        times: when it is sung, counted from 1; empty where the score does not say so.
    """

    verse: str
    text: str
    goes_on: bool = False
    continues: bool = False
    times: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class ScoreNote:
    """A note, a rest, or what has no pitch (`pitch` is None for both); `held` where it is tied to the one before it."""

    start: Fraction
    length: Fraction
    pitch: Pitch | None
    rest: bool
    voice: str
    staff: int
    held: bool = False
    fermata: bool = False
    syllables: tuple[ScoreSyllable, ...] = ()


@dataclass(frozen=True, slots=True)
class ScoreChord:
    """A chord symbol in our spelling, or `N.C.`; `trouble` says what could not be read as it stands."""

    start: Fraction
    text: str
    trouble: str = ""
    other: bool = False


@dataclass(frozen=True, slots=True)
class ScoreText:
    """Words printed at a place of a bar."""

    start: Fraction
    text: str


@dataclass(frozen=True, slots=True)
class Jumps:
    """Where the players go from a bar, and come to it. All leave a bar at its end, and come in at its start.

    Attributes:
        forward: a repeat starts here.
        times: how often in all a repeat that ends here is played; 0 where none ends, -1 where no number is written.
        ending: numbers of the ending that starts here.
        ending_stops: the ending ends here.
        segno, coda: the signs that are jumped to.
        to_coda: the jump to the coda starts here.
        coda_signs: signs of which nothing says whether they start a jump or end it.
        back_to: `capo` or `segno`, where the jump starts here.
        until: `fine` or `coda`, where the jump says so.
        with_repeats: repeats are taken again after it.
        fine: it ends here after a jump.
        double: a double bar, or the end of a part, stands here.
    """

    forward: bool = False
    times: int = 0
    ending: tuple[int, ...] = ()
    ending_stops: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    coda_signs: int = 0
    back_to: str = ""
    until: str = ""
    with_repeats: bool = False
    fine: bool = False
    double: bool = False

    def with_those_of(self, other: Jumps) -> Jumps:
        """Return what two parts say of the same bar."""
        return Jumps(
            self.forward or other.forward,
            self.times if self.times > 0 else other.times or self.times,
            self.ending or other.ending,
            self.ending_stops or other.ending_stops,
            self.segno or other.segno,
            self.coda or other.coda,
            self.to_coda or other.to_coda,
            max(self.coda_signs, other.coda_signs),
            self.back_to or other.back_to,
            self.until or other.until,
            self.with_repeats or other.with_repeats,
            self.fine or other.fine,
            self.double or other.double,
        )


NO_JUMPS = Jumps()


@dataclass(frozen=True, slots=True)
class ScoreMeasure:
    """A bar of one part.

    Attributes:
        label: its printed number.
        implicit: it is not counted, as a pickup.
        length: of what stands in it; 0 for nothing.
        meter: two numbers, where one stands here; (0, 0) for no meter.
        key: signature and mode, where one stands here.
        chord_like: words that may be chords, as they are typed; they stand among headings or words too.
        headings: names of sections that begin here, and rehearsal marks.
        tempo: quarters a minute, where one stands here.
        feel: `swing` or `straight`, where it is said here.
        dynamic: at the bar's start.
        troubles: what was put right or left out.
    """

    label: str
    implicit: bool
    length: Fraction
    notes: tuple[ScoreNote, ...] = ()
    chords: tuple[ScoreChord, ...] = ()
    chord_like: tuple[tuple[ScoreText, ScoreChord], ...] = ()
    meter: tuple[int, int] | None = None
    key: tuple[int, str] | None = None
    headings: tuple[ScoreText, ...] = ()
    words: tuple[ScoreText, ...] = ()
    tempo: Fraction | None = None
    feel: str = ""
    dynamic: str = ""
    jumps: Jumps = NO_JUMPS
    troubles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ScorePart:
    """A part: its name and its bars."""

    name: str
    measures: tuple[ScoreMeasure, ...]

    @property
    def chords(self) -> int:
        """How many chord symbols stand in it."""
        return sum(len(m.chords) for m in self.measures)

    @property
    def sung(self) -> int:
        """How many notes with words it has."""
        return sum(bool(note.syllables) for m in self.measures for note in m.notes)

    @property
    def pitched(self) -> int:
        """How many notes with a pitch it has."""
        return sum(note.pitch is not None for m in self.measures for note in m.notes)


@dataclass(frozen=True, slots=True)
class Score:
    """A score: what its head says, and its parts."""

    title: str
    words: str
    music: str
    rights: str
    parts: tuple[ScorePart, ...]
    credits: tuple[str, ...] = ()
