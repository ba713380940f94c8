"""Define studies: what is practised, hand by hand, with where it is from, as pages show it and a performance plays it.

Lengths are `Fraction`s of a quarter note. Pitches are spelled and in order, lowest first. Movement is in semitones.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from arranger.song.model import Meter, Tempo
from arranger.text.source import NOWHERE, Span
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch

StudyKind = Literal["change", "loop", "triad", "octaves", "sounds"]

Words = tuple[str | Chord | Key, ...]  # words, chord symbols and keys, set side by side


@dataclass(frozen=True, slots=True)
class StudyHand:
    """One hand to play.

    Attributes:
        chord: what is played; None for a note of an octave line.
        added: what is suspended, behind the chord's name: `sus4`; empty where nothing is.
        right: the right hand's keys.
        fingers: one for each key, 1 the thumb; none where the hand has no five-finger fingering.
        left: the left hand's keys; none where it rests.
        length: how long it lasts.
        remark: what stands under it beside: the beat of a note of an octave line.
        span: where it stands in the text of its song.
    """

    chord: Chord | None
    right: tuple[Pitch, ...]
    fingers: tuple[int, ...] = ()
    left: tuple[Pitch, ...] = ()
    added: str = ""
    length: Fraction = Fraction(4)
    remark: str = ""
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class StudyRow:
    """Hands that are played one after the other.

    Attributes:
        label: what it is and where in the songs.
        hands: in order.
        movement: from each hand to the next, in semitones; empty where hands alone are not the point.
        says_moves: what stays and what moves is said in words too.
    """

    label: Words
    hands: tuple[StudyHand, ...]
    movement: tuple[int, ...] = ()
    says_moves: bool = False


@dataclass(frozen=True, slots=True)
class SoundRow:
    """A change of sound: where it is, what to call up, in how many seconds, and whether that is enough."""

    place: Words
    sound: str
    seconds: Fraction
    enough: bool


@dataclass(frozen=True, slots=True)
class Study:
    """One thing to practise.

    Attributes:
        kind: what it is.
        heading: its name.
        rows: the most important first; a page may leave the last ones out.
        sounds: of the changes of sound.
        key, meter, tempo: those of the song that its first row is from. The tempo has a number always.
        weight: its share of the time against the others.
        remark: what else is to be said of it.
    """

    kind: StudyKind
    heading: Words
    rows: tuple[StudyRow, ...]
    key: Key
    meter: Meter
    tempo: Tempo
    weight: Fraction
    sounds: tuple[SoundRow, ...] = ()
    remark: str = ""

    @property
    def tempi(self) -> tuple[int, int, int]:
        """The three tempi in beats of `tempo.unit` a minute: half, two thirds, the song's. They are a convention."""
        assert self.tempo.bpm is not None
        return max(1, round(self.tempo.bpm / 2)), max(1, round(self.tempo.bpm * 2 / 3)), self.tempo.bpm


@dataclass(frozen=True, slots=True)
class Studies:
    """What songs offer to practise: their titles, and the studies in the order of a page, hard changes first.

    `name` is that of the evening for which they are; empty where there is none.
    """

    titles: tuple[str, ...]
    studies: tuple[Study, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class TimedStudy:
    """A study with the minutes that it has, and how many of its rows there is room for."""

    study: Study
    minutes: int
    rows: int
