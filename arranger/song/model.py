"""Define the Song as it is written: what the stages after this one take.

Lengths and places in time are `Fraction`s of a quarter note, counted from the start of the bar, unless a docstring says
otherwise. Every node carries the span of the text that caused it; spans are not compared. In a section that is `like`
another the nodes of what it takes (chord rows, words, pickup) carry the spans of the model's text.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import Literal, NamedTuple

from arranger.text.source import NOWHERE, Source, Span
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch

Feel = Literal["straight", "swing", "half-time"]
MarkKind = Literal["chord", "none", "rest", "slash"]
Texture = Literal["bare", "light", "full", "wide"]  # how full the keys play, from the fewest keys to the most
_quarters = lru_cache(maxsize=64)(Fraction)  # of the meters there are: they are asked for thousands of times


@dataclass(frozen=True, slots=True)
class SongText:
    """A fact in plain words."""

    value: str
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter as in print: `beats` over `unit`."""

    beats: int
    unit: int
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def length(self) -> Fraction:
        """A whole bar, in quarters."""
        return _quarters(4 * self.beats, self.unit)

    @property
    def beat(self) -> Fraction:
        """The meter's unit, in quarters: what beats are counted in (an eighth in 6/8)."""
        return Fraction(4, self.unit)

    @property
    def felt_beat(self) -> Fraction:
        """The felt beat, in quarters: x/2 halves; x/4 quarters; 6, 9, 12/8 dotted quarters; other x/8 eighths."""
        if self.unit == 8 and self.beats in (6, 9, 12):
            return _quarters(3, 2)
        return _quarters(4, self.unit)

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


COMMON = Meter(4, 4)


@dataclass(frozen=True, slots=True)
class Tempo:
    """A tempo as written in `text`.

    `bpm` beats of `unit` quarters a minute; `bpm` is None for `free`. `gradual` for `rit to`.
    """

    text: str
    bpm: int | None
    unit: Fraction = Fraction(1)
    gradual: bool = False
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def quarters_a_minute(self) -> Fraction | None:
        """The speed in quarters a minute, None for `free`."""
        return None if self.bpm is None else self.bpm * self.unit


@dataclass(frozen=True, slots=True)
class Dynamic:
    """A dynamic as written in `text`, with the level it starts from (`p` of `p to f`; None for `cresc`)."""

    text: str
    level: str | None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Sound:
    """What to play on. `single`: one layer; `layer`: all together; `split`: low part, high part, from `split_at` up."""

    text: str
    kind: Literal["single", "layer", "split"]
    parts: tuple[str, ...]
    split_at: Pitch | None = None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class TextureFact:
    """How full the keys play, as written; `rises_to` is another level, higher or lower, or None where it stays."""

    text: str
    level: Texture
    rises_to: Texture | None = None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Drone:
    """One or two notes that stay in the right hand, in the section's key; `text`: their names, or `tonic`, `both`."""

    text: str
    notes: tuple[NoteName, ...]
    span: Span = field(default=NOWHERE, compare=False)


class BandChange(NamedTuple):
    """Who stops and who comes in, as a remark of the roadmap or a cue says it (see `song.players`).

    Attributes:
        keys_out: the keys are silent.
        alone: all others are silent.
        out: who else is silent, as written, in small letters (`("bass", "drums")`).
        all_in: everybody who is in the song's band plays, and the keys.
        keys_in: the keys play again.
        back: who else comes in, as written, in small letters.
    """

    keys_out: bool = False
    alone: bool = False
    out: tuple[str, ...] = ()
    all_in: bool = False
    keys_in: bool = False
    back: tuple[str, ...] = ()


class Facts(NamedTuple):
    """What holds in a section, resolved: the section's own facts, then its model's, then the header's."""

    key: Key
    meter: Meter = COMMON
    tempo: Tempo | None = None
    feel: Feel = "straight"
    sound: Sound | None = None
    play: SongText | None = None
    dynamic: Dynamic | None = None
    suspensions: bool = True
    octaves: bool = True
    texture: TextureFact | None = None
    band: tuple[str, ...] = ()
    drone: Drone | None = None


class Pin(NamedTuple):
    """One note of a right hand fixed by the writer; `octave` is None where any place will do."""

    name: NoteName
    octave: int | None = None


@dataclass(frozen=True, slots=True)
class WrittenChord:
    """A chord as it stands in a row.

    Attributes:
        chord: what it means.
        written: the text, without push, pins and parentheses.
        optional: it stood in parentheses; it is played.
        as_written: `=`: nothing is suggested for it.
        pins: the right hand, lowest first; empty where it is free.
        push: how much early it comes, in quarters (0 where it does not).
        manner: `hold`, `stop`, `accent`, `roll`, in the order written.
    """

    chord: Chord
    written: str
    optional: bool = False
    as_written: bool = False
    pins: tuple[Pin, ...] = ()
    push: Fraction = Fraction(0)
    manner: tuple[str, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark of a bar: a chord, `none` (N.C.), a counted silence (`rest`), or a rhythm slash (what sounds goes on).

    `start` and `length` share the bar equally, in quarters; a push does not move `start`.
    """

    kind: MarkKind
    start: Fraction
    length: Fraction
    chord: WrittenChord | None = None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Bar:
    """A written bar.

    Attributes:
        number: counted from 1 in the section as written; a first short bar is 0.
        meter: the meter in force.
        length: in quarters; less than the meter's only where `short`.
        marks: empty where `repeats_last` (`%`).
        repeats_last: `%`: the bar before once more.
        meter_shown: the meter was written in this bar.
        short: the bar was written with `short N/M`.
        repeat_start: `|:` before it.
        repeat_times: 0, or how often in all what ends with this bar is played (`:|` 2, `:| x3` 3; for an ending, what
            its number says).
        ending: the numbers of the ending that starts here, empty where none does. An ending holds to the next ending,
            to `ending_close`, or to its `repeat_times`.
        ending_close: the ending stops after this bar (`||` or the end of the section).
        double: `||` after it.
    """

    number: int
    meter: Meter
    length: Fraction
    marks: tuple[Mark, ...]
    repeats_last: bool = False
    meter_shown: bool = False
    short: bool = False
    repeat_start: bool = False
    repeat_times: int = 0
    ending: tuple[int, ...] = ()
    ending_close: bool = False
    double: bool = False
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Piece:
    """Words sung from one chord to the next.

    `chord` is the place of the chord (or N.C.) among those of the bar, from 0, at which the text starts; None for words
    before the bar's first chord, or where it has none. Text is NFC, without surrounding blanks; escapes are undone;
    `_` (a held syllable) stays as the character `_`; `plain` are the places in the text of those that were escaped, and
    are only characters. `glued` where the piece goes on inside the word of the piece before it (`lan*terns`).
    """

    text: str
    chord: int | None = None
    glued: bool = False
    plain: tuple[int, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class BarWords:
    """The words of one bar: pieces in order; none for an empty bar. `joins`: its last word goes on in the next bar."""

    pieces: tuple[Piece, ...] = ()
    joins: bool = False
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class SungLine:
    """A `sing` row: as many bars as its chord row, the last ones empty where the writer left them out."""

    bars: tuple[BarWords, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Note:
    """A note of an `octave`, `hook` or `tune` row; `pitch` is None for `rest`. A `/` lengthens the note before it."""

    pitch: Pitch | None
    start: Fraction
    length: Fraction
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class NoteLine:
    """An `octave`, `hook` or `tune` row: the notes of each of its bars; it may have fewer bars than the chord row."""

    bars: tuple[tuple[Note, ...], ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Row:
    """A row of chords with all that was written to it.

    `cues` stand before it; `band_change` is what the last of them that speaks of the band says, from this row on.
    """

    bars: tuple[Bar, ...]
    words: tuple[SungLine, ...] = ()
    cues: tuple[SongText, ...] = ()
    octave: NoteLine | None = None
    hook: NoteLine | None = None
    tune: NoteLine | None = None
    band_change: BandChange | None = None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Section:
    """A section as written.

    Attributes:
        facts: resolved (see `Facts`).
        own: names of the facts that the section states itself, in the order written (`("dynamic", "play")`).
        like: the name of the model, as that section spells it.
        model: the model's index in `Song.sections`.
        without_words: the model's words are left out.
        tacet: the keys are silent.
        closing_cues: cues after the last row.
    """

    name: str
    facts: Facts
    rows: tuple[Row, ...] = ()
    own: tuple[str, ...] = ()
    pickup: SongText | None = None
    like: str | None = None
    model: int | None = None
    without_words: bool = False
    tacet: bool = False
    closing_cues: tuple[SongText, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def bars(self) -> tuple[Bar, ...]:
        """All bars of all rows."""
        return tuple(bar for row in self.rows for bar in row.bars)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the roadmap: a section's index in `Song.sections`, which of its bars, how often.

    `until` is the text of a vamp (`until TEXT`), whose times are open; `times` is 1 for it. `textures` has one for each
    time where the remark names them, else nothing; `band_change` is what the remark says of the band.
    """

    section: int
    times: int = 1
    until: str | None = None
    from_bar: int | None = None
    to_bar: int | None = None
    remark: str | None = None
    textures: tuple[Texture, ...] = ()
    band_change: BandChange | None = None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Capo:
    """`capo 2 in C`: the rows are shapes in `shapes` with a capo at `fret`."""

    fret: int
    shapes: Key
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Song:
    """A whole song. `roadmap` is never empty unless there are no sections; `roadmap_written` where the writer gave one.

    Keys and chords are those that sound. `written_key` is the key of the text where the song has been transposed.
    """

    source: Source = field(compare=False)
    title: SongText
    key: Key
    meter: Meter
    sections: tuple[Section, ...]
    roadmap: tuple[Step, ...]
    roadmap_written: bool = False
    tempo: Tempo | None = None
    feel: Feel = "straight"
    capo: Capo | None = None
    band: tuple[str, ...] = ()
    start: SongText | None = None
    words_by: SongText | None = None
    music_by: SongText | None = None
    rights: SongText | None = None
    language: SongText | None = None
    copyist: SongText | None = None
    written_key: Key | None = None
