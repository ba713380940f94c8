"""Define the Arrangement: what both hands play on each chord of a song, as the stages after this one take it.

Lengths and places are `Fraction`s of a quarter note. `at` counts from the start of the song, the rest from the start of
the bar. Pitches are spelled and in order, lowest first. `ChordId` is (section, chord): indices into
`Arrangement.sections` and `SectionPart.chords`.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, NamedTuple

from arranger.song.model import Meter, Song, WrittenChord
from arranger.text.source import NOWHERE, Span
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch

ChordId = tuple[int, int]
Inversion = Literal["root", "first", "second", "third", "none"]
TextureSource = Literal["remark", "written", "dynamic", "suggested", "none"]
End = Literal["resolves", "held over", "left", "colour"]


class Hand(NamedTuple):
    """The right hand's limits: lowest and highest key (MIDI), widest span in semitones, how many notes."""

    low: int
    high: int
    span: int
    notes: int


class Suspension(NamedTuple):
    """A suspension that is suggested for a chord, or the 4 that a drone makes of V, with how it begins and ends.

    Attributes:
        kind: `sus2` or `sus4`.
        note: the suspended note as it lies in the hand.
        prepared: already held, at the same pitch, in the voicing before, wherever the chord is heard.
        end: `resolves` inside the chord, `held over` into the next, `left`; `colour` where it is not prepared.
        resolves_to: the note it goes to; None unless it resolves.
        bar: where it resolves: the written bar's number, None unless it resolves.
        start: where it resolves, in quarters from the start of that bar.
        for_all: the guitarist must take it too.
        reason: why, in words.
        of_drone: it is not suggested: the song asks for the drone that it belongs to.
    """

    kind: Literal["sus2", "sus4"]
    note: Pitch
    prepared: bool
    end: End
    resolves_to: Pitch | None
    bar: int | None
    start: Fraction | None
    for_all: bool
    reason: str
    of_drone: bool = False


@dataclass(frozen=True, slots=True)
class ChordPart:
    """What both hands do on one printed chord.

    Attributes:
        kind: `chord`, `none` (N.C.) or `rest`; the hands of the last two are empty.
        row, bar_index: which bar of the section it is in: `section.rows[row].bars[bar_index]`.
        mark: the place among the marks of that bar.
        place: the place among the chords and N.C. of that bar, as `Piece.chord` counts; None for a rest.
        bar: the written bar's number.
        start, length: in quarters from the start of the bar; the length runs on over slashes and barlines to the next
            mark that is no slash.
        chord, written: what is played and what stood there; None unless `kind` is `chord`.
        right: what the right hand plays on the chord's beat, suspensions taken. Empty where it is silent.
        plain: the same without the suspension; what a suspension that resolves goes to.
        shape: the name of what the right hand holds, for a player who knows triads (`C over A`); empty if no help.
        fingers: one for each note of `right`, 1 the thumb.
        left: the left hand's notes.
        inversion: by the chord member that is lowest in the right hand; `none` where that is no triad or seventh note.
        repeats: the chord just before it, in the same hand: nothing changes.
        came_from: the chord heard before it the first time; None where the hand is free (start, after a cut).
        movement, moved, common: against `came_from`: semitones, new keys, keys that stay down. 0 where there is none.
    """

    kind: Literal["chord", "none", "rest"]
    row: int
    bar_index: int
    mark: int
    place: int | None
    bar: int
    start: Fraction
    length: Fraction
    chord: Chord | None = None
    written: WrittenChord | None = None
    right: tuple[Pitch, ...] = ()
    plain: tuple[Pitch, ...] = ()
    shape: str = ""
    fingers: tuple[int, ...] = ()
    left: tuple[Pitch, ...] = ()
    inversion: Inversion = "none"
    repeats: bool = False
    came_from: ChordId | None = None
    movement: int = 0
    moved: int = 0
    common: int = 0
    suspension: Suspension | None = None
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def suggested(self) -> str:
        """What is added in print to the song's own chord for a suspension: `sus4`, `(sus4)`, `(add9)`; often nothing.

        It goes on the name where that still names the chord that is played: G, G7. Elsewhere it is set apart, for
        `Emsus4` is no name, nor `G/Dsus4`. Over its third in the bass the 2 is an added note, since a chord with its
        third sounding is not suspended.
        """
        if self.suspension is None or self.chord is None:
            return ""
        chord, kind = self.chord, self.suspension.kind
        if chord.bass is None and chord.suffix in ("", "7"):
            return kind
        third = chord.member_on(3)
        over_third = third is not None and third.above(chord.root) == chord.bass
        return "(add9)" if over_third and kind == "sus2" else f"({kind})"


class FillNote(NamedTuple):
    """A note of an octave fill: its lower key; `start`, `length` in quarters from the start of the bar numbered `bar`.

    `row`, `bar_index` say which bar that is in the section.
    """

    pitch: Pitch
    row: int
    bar_index: int
    bar: int
    start: Fraction
    length: Fraction


class OctaveLine(NamedTuple):
    """A fill in octaves that leads to the chord `to`. `doubled` is False in a hand too small for octaves.

    `before` is the chord over which it is played. `written`: from an `octave` row, by hand. `last_time`: only the last
    time that its section is played.
    """

    to: ChordId
    before: ChordId
    figure: str
    notes: tuple[FillNote, ...]
    doubled: bool = True
    written: bool = False
    last_time: bool = False


class PadNote(NamedTuple):
    """A note to hold in the pad, from a place on: `bar` is a written bar's number, `start` quarters from its start."""

    pitch: Pitch
    bar: int
    start: Fraction


class SoundChange(NamedTuple):
    """Where to call up a section's sound before it begins.

    Attributes:
        sound: the sound in words.
        over: the chord that is left for it, or after which nothing is played.
        bar, start: where that chord is: the written bar's number, quarters from its start.
        seconds: the time until the next chord.
        enough: there is time to let go, press and be back.
    """

    sound: str
    over: ChordId
    bar: int
    start: Fraction
    seconds: Fraction
    enough: bool


class LeadIn(NamedTuple):
    """The V of the next section's key, offered at the end of a section: not in the song, and not counted as heard.

    Attributes:
        chord: the V.
        to: the section that it leads to.
        over: the printed chord whose end it takes the place of.
        row, bar_index, bar: the bar in which it stands, and its written number.
        start, length: where in that bar, in quarters.
        resolves: where its 4 goes to the third, in quarters from the start of the bar; None where it has no 4.
        for_all: others hold harmony too and would hold the old chord: without hands, nothing until the song has it.
        times: the visits of the section, from 1, after which it is meant.
        right: the right hand on its beat, with the 4 where it has one; `plain`: with the third.
        left: the left hand.
    """

    chord: Chord
    to: int
    over: ChordId
    row: int
    bar_index: int
    bar: int
    start: Fraction
    length: Fraction
    resolves: Fraction | None
    for_all: bool
    times: tuple[int, ...]
    right: tuple[Pitch, ...] = ()
    plain: tuple[Pitch, ...] = ()
    left: tuple[Pitch, ...] = ()

    @property
    def symbol(self) -> str:
        """The chord as it is offered: `Asus4 A`."""
        return str(self.chord) if self.resolves is None else f"{self.chord}sus4 {self.chord}"


class BarManner(NamedTuple):
    """How one bar is struck: a manner of `patterns.WORDS`, and whether somebody plays bass."""

    manner: str = "held"
    bass_player: bool = True


class SectionPart(NamedTuple):
    """The part of one section as written; facts are in `Arrangement.song.sections` at the same index.

    Attributes:
        chords: in order of time.
        play: the manner in words (`held`, `broken`), stated or by default.
        solved_alone: a copy (`like`) in another key for which the model's hands would not fit the window.
        texture: how full the keys play, in words: `light to full`; empty without an arc.
        texture_from: where that is from.
        visits: the texture each time that the section comes, where they differ; empty where they do not.
        visits_play: likewise, the manner each time.
        times, of: for the hands of some visits of a section: which of its visits, from 1, and which section that is.
            Such a part stands after those of the song's sections.
        band: who plays with the keys in its first row.
        lead_in: what is offered to lead into another key after it.
        bars: for each row, how each of its bars is struck.
    """

    chords: tuple[ChordPart, ...]
    octaves: tuple[OctaveLine, ...] = ()
    pad: tuple[PadNote, ...] = ()
    play: str = "held"
    solved_alone: bool = False
    texture: str = ""
    texture_from: TextureSource = "none"
    visits: tuple[str, ...] = ()
    visits_play: tuple[str, ...] = ()
    times: tuple[int, ...] = ()
    of: int | None = None
    band: tuple[str, ...] = ()
    bars: tuple[tuple[BarManner, ...], ...] = ()
    sound_change: SoundChange | None = None
    lead_in: LeadIn | None = None


class Heard(NamedTuple):
    """One chord as it is heard. `step` is the index of the roadmap's step.

    Attributes:
        chord: the printed chord.
        pass_number: how many times its row has been begun in this step of the roadmap, from 1 (which verse of words).
        at, length: quarters from the start of the song, quarters.
        cut: the hand is free here: the first chord, or after a bar or more of silence.
        time: which of the passes of the step, from 0.
    """

    step: int
    chord: ChordId
    pass_number: int
    at: Fraction
    length: Fraction
    cut: bool
    time: int = 0


class Visit(NamedTuple):
    """One pass of a step of the roadmap: `time` counts those of the step, from 0.

    `section` is the index of what is played, in `Arrangement.sections`; None where the keys are out.
    """

    step: int
    time: int
    section: int | None


class HeardBar(NamedTuple):
    """One bar as it is heard, in order of time.

    Attributes:
        step: the index of the roadmap's step.
        time: which of its times, from 0.
        section: the section's part that is played: an index into `Arrangement.sections`.
        row, bar_index: which bar of it.
        at, length: quarters from the start of the song, quarters.
        silent: the keys are out.
        how: how it is struck this time.
    """

    step: int
    time: int
    section: int
    row: int
    bar_index: int
    at: Fraction
    length: Fraction
    silent: bool
    how: BarManner = BarManner()


class Movement(NamedTuple):
    """How far the right hand moves over the whole song as heard, in semitones, beside what is possible.

    Attributes:
        arranged: as arranged, resolutions included, cuts excluded.
        minimum: the least possible for the same candidates; None where it was not asked for, or is not known.
        root_position: the least for candidates whose lowest note is the root; None likewise.
        changes: how many heard changes of chord.
        objective: the whole cost of the hands, in thousandths.
        whole: the objective with what the suspensions are worth.
        bound: no hands and suspensions within the limits make the whole less than this, over the same bass notes.
        proven: the whole is the least possible, and no other bass notes are better by their own measures.
        lines: how many different steps of inner lines the hands were asked to keep in one finger.
    """

    arranged: int
    minimum: int | None
    root_position: int | None
    changes: int
    objective: int
    whole: int
    bound: int
    proven: bool
    lines: int = 0


class Arrangement(NamedTuple):
    """A song's keys part. `song` is the one that is played (transposed where another key was asked for).

    `sections` has a part for each section of `song`, whose last ones may stand for visits of others (`SectionPart.of`);
    `visits` are all passes of its roadmap in order.
    `transpose` is 0, or by how many semitones (up; below 0 down) the keyboard is set for the part to sound as meant.
    `bars` are all bars as they are heard.
    """

    song: Song
    key: Key
    meter: Meter
    hand: Hand
    sections: tuple[SectionPart, ...]
    heard: tuple[Heard, ...]
    movement: Movement
    visits: tuple[Visit, ...] = ()
    transpose: int = 0
    bars: tuple[HeardBar, ...] = ()

    def chord(self, where: ChordId) -> ChordPart:
        """Return a printed chord by its place."""
        return self.sections[where[0]].chords[where[1]]
