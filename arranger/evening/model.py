"""Define what an evening is beside its songs: the facts of each for the first page, and the join from song to song.

Times are in seconds as `Fraction`s, tempi as the songs write them. Pitches are spelled and in order, lowest first.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from arranger.song.model import Meter, Sound, Tempo
from arranger.song.running_order import Onward
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch


@dataclass(frozen=True, slots=True)
class SongEnd:
    """One end of a song, the first thing that the keys play or the last.

    Attributes:
        right, left: the hands, as printed; the right one after its suspension has resolved where it is the last.
        key: that of the section.
        tempo, meter: of the section; no tempo where none is written.
        sound: of the section; None where none is written.
        chord: its name; empty where nothing is played.
        seconds: how long it sounds.
        bars: how many bars nothing is played, before the first or after the last.
    """

    right: tuple[Pitch, ...]
    left: tuple[Pitch, ...]
    key: Key
    tempo: Tempo | None
    meter: Meter
    sound: Sound | None
    chord: str
    seconds: Fraction
    bars: int = 0


@dataclass(frozen=True, slots=True)
class EveningSong:
    """What the evening has to know of one song.

    Attributes:
        number: its place among the songs of the evening, from 1.
        title, key, tempo, meter, feel, start: its facts; `start` is who begins, empty where the song does not say.
        seconds: how long it is played, with what is open played once.
        open_ended: a vamp has no length of its own.
        reckoned: a tempo is free or not written, and reckoned with 80 quarters a minute.
        others: somebody else plays chords or the bass.
        first, last: its ends.
    """

    number: int
    title: str
    key: Key
    tempo: Tempo | None
    meter: Meter
    feel: str
    start: str
    seconds: Fraction
    open_ended: bool
    reckoned: bool
    others: bool
    first: SongEnd
    last: SongEnd


@dataclass(frozen=True, slots=True)
class KeyWay:
    """A way from one key to another: chords, then the new key; `held` lies through them all, where such a note is.

    With `pivot` the first chord is a triad of both keys.
    """

    chords: tuple[Chord, ...]
    held: NoteName | None = None
    pivot: bool = False


@dataclass(frozen=True, slots=True)
class PassedChord:
    """A chord on the way from song to song with its hands; they are empty where no hand has room for it."""

    chord: Chord
    right: tuple[Pitch, ...] = ()
    left: tuple[Pitch, ...] = ()


@dataclass(frozen=True, slots=True)
class EveningBreak:
    """A break between two songs, and how it goes on."""

    text: str
    onward: Onward


@dataclass(frozen=True, slots=True)
class SongJoin:
    """How one song of the evening leads to the next.

    Attributes:
        before, after: the songs; None before the first.
        onward: how the first of them goes on.
        breaks: between the two, in order.
        goes_on: no silence and no break lies between, so the hands lead from one to the other.
        triads: the notes that both tonic triads have, as the new key spells them.
        scales: the notes that both scales have.
        pad: what a pad may hold through both keys; None where no note may, and the pad moves or stops.
        ways: ways by chords, where the keys differ and nothing is written into the set; the best first.
        written: the chords that the set asks for.
        tempo: what of the old tempo the new one is; empty where that is nothing simple.
        vamp: what may be played under somebody who speaks.
        vamp_pad: the note to hold under that.
        call: the sound to call up; empty where it stays.
        call_time: when a hand is free for that.
    """

    before: EveningSong | None
    after: EveningSong
    onward: Onward
    breaks: tuple[EveningBreak, ...] = ()
    goes_on: bool = False
    triads: tuple[NoteName, ...] = ()
    scales: tuple[NoteName, ...] = ()
    pad: NoteName | None = None
    ways: tuple[KeyWay, ...] = ()
    written: tuple[PassedChord, ...] = ()
    tempo: str = ""
    vamp: tuple[Chord, ...] = ()
    vamp_pad: NoteName | None = None
    call: str = ""
    call_time: str = ""

    @property
    def last_onward(self) -> Onward:
        """How the last thing before the second song goes on."""
        return self.breaks[-1].onward if self.breaks else self.onward
