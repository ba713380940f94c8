"""Define the Performance: what sounds, and when, as all who play it or write it in notes take it.

Times are `Fraction`s of a quarter note from the start of the song as heard: a count-in is before 0. Pitches are
spelled. Velocities are those of the MIDI standard, 1 to 127.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from arranger.harmony.model import ChordId
from arranger.song.model import Meter
from arranger.text.source import NOWHERE, Span
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch

SoundingPart = Literal["right", "left", "octaves", "pad"]


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """One note.

    Attributes:
        part: which hand or layer plays it; `octaves` are the fills and octave rows, played by the right hand.
        pitch: spelled.
        start, length: quarters from the start of the song, quarters; the length is above 0.
        velocity: 1 to 127.
        chord: the printed chord over which it sounds.
        bar: the bar in which it begins, an index into `Arrangement.bars`.
        span: where that chord stands in the text.
    """

    part: SoundingPart
    pitch: Pitch
    start: Fraction
    length: Fraction
    velocity: int
    chord: ChordId | None
    bar: int
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def end(self) -> Fraction:
        """When it ends, in quarters from the start of the song."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class TempoChange:
    """A tempo from `at` on: quarter notes a minute. A `rit.` is several of them."""

    at: Fraction
    quarters_a_minute: Fraction


@dataclass(frozen=True, slots=True)
class MeterChange:
    """A meter from `at` on."""

    at: Fraction
    meter: Meter


@dataclass(frozen=True, slots=True)
class KeyChange:
    """A key from `at` on."""

    at: Fraction
    key: Key


@dataclass(frozen=True, slots=True)
class Marker:
    """Where a step of the roadmap begins: its section's name as the player sees it, and the step's index."""

    at: Fraction
    text: str
    step: int


@dataclass(frozen=True, slots=True)
class Pedal:
    """The sustain pedal goes down or up."""

    at: Fraction
    down: bool


@dataclass(frozen=True, slots=True)
class SoundFrom:
    """A part's sound from `at` on, in the song's words; empty where the song names none (a piano)."""

    at: Fraction
    part: SoundingPart
    sound: str


@dataclass(frozen=True, slots=True)
class SungSyllable:
    """A syllable as it is sung: its text, with a hyphen behind it where its word goes on."""

    at: Fraction
    text: str


@dataclass(frozen=True, slots=True)
class Performance:
    """A song as it sounds.

    `notes` are in order of start, then part (right, left, octaves, pad), then pitch. The maps are in order of time;
    each of tempo, meter and key has an entry at 0.

    Attributes:
        title: of the song.
        length: quarters from the start to where the last bar ends.
        free: it has no tempo, or none somewhere (`tempo free`), and sounds at 80 there.
        transpose: by how many semitones the keyboard is set for the notes to sound as meant; they are as written.
        count_in: when it is counted, before 0; empty where it is not.
    """

    title: str
    notes: tuple[SoundingNote, ...]
    length: Fraction
    tempi: tuple[TempoChange, ...]
    meters: tuple[MeterChange, ...]
    keys: tuple[KeyChange, ...]
    markers: tuple[Marker, ...] = ()
    pedal: tuple[Pedal, ...] = ()
    sounds: tuple[SoundFrom, ...] = ()
    words: tuple[SungSyllable, ...] = ()
    free: bool = False
    transpose: int = 0
    count_in: tuple[Fraction, ...] = ()

    def seconds(self, at: Fraction) -> Fraction:
        """Return when a place sounds, in seconds from the start of the song."""
        passed = Fraction(0)
        for change, following in zip(self.tempi, (*self.tempi[1:], None), strict=True):
            until = at if following is None else min(at, following.at)
            passed += max(until - change.at, Fraction(0)) * 60 / change.quarters_a_minute
        return passed
