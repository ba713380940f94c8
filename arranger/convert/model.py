"""Define the values that are passed from step to step between a typed sheet and a song.

Columns count from 0, as in a font whose characters are all as wide: a wide character takes two, a combining mark none.
Line numbers count from 1 in the sheet as it was typed.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, replace
from typing import Literal

from arranger.habits.headings import Heading
from arranger.song.model import Meter
from arranger.theory.key import Key

LineKind = Literal[
    "blank", "chords", "words", "heading", "again", "fact", "remark", "cue", "jump", "ending", "tablature"
]
MarkKind = Literal["chord", "none", "rest", "slash", "simile", "bar", "phrase"]
# assumed: a guess about the whole song; check: a guess at a place; left: what found no place in the song.
RemarkKind = Literal["assumed", "check", "left"]


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line of the sheet: what stands in each column. The second column of a wide character is the empty text.

    `exact`: the chords of a line of words stand to the column where they are meant, for they stood in its text.
    `every_e`: no e of its words is silent, as it may be in English.
    """

    number: int
    cells: tuple[str, ...]
    exact: bool = False
    every_e: bool = False

    @property
    def text(self) -> str:
        """The line without its columns."""
        return "".join(self.cells)

    @property
    def padded(self) -> str:
        """The text with exactly one character for each column, to look for patterns in."""
        return "".join(cell[:1] or "\u200b" for cell in self.cells)

    def part(self, start: int, end: int | None = None) -> str:
        """Return the text from a column up to another."""
        return "".join(self.cells[start:end])

    def cut(self, start: int) -> SheetLine:
        """Blank out what is before a column; columns stay."""
        return self.blanked(range(start))

    def blanked(self, columns: Container[int]) -> SheetLine:
        """Blank some columns out."""
        return replace(self, cells=tuple(" " if i in columns else c for i, c in enumerate(self.cells)))

    def up_to(self, end: int) -> SheetLine:
        """Leave out what stands from a column on."""
        return replace(self, cells=self.cells[:end])


@dataclass(frozen=True, slots=True)
class TypedMark:
    """A chord, what stands for one, or a barline, in our spelling, with its column.

    Barlines are `|`, `||`, `|:`, `:|`, `:|:`, with an ending's number: `|1.`.
    """

    kind: MarkKind
    text: str
    column: int


MIXED_CHORDS = 3  # chords beside which one word that is none may be a slip


@dataclass(frozen=True, slots=True)
class ChordLine:
    """A line read as chords.

    Attributes:
        number: its line.
        marks: chords and barlines in order.
        times: how often in all the line is played.
        cues: words for the player that stood in it.
        strays: what is no chord, as typed.
        sure: chords that are no words.
        loose: chords that may be words (`Am`, `A`), or are written with a small letter.
        packed: three chords or more are typed side by side with the same few blanks or a sign between them.
        signed: dashes, slashes or commas stand between all of them.
        behind: they stand behind the words that are sung to them.
        opens: it begins lines that are played several times together; `closes`: it ends them, so many times in all.
        guess: what was guessed of the signs between its chords; empty for nothing.
    """

    number: int
    marks: tuple[TypedMark, ...]
    times: int = 1
    cues: tuple[str, ...] = ()
    strays: tuple[str, ...] = ()
    sure: int = 0
    loose: int = 0
    packed: bool = False
    signed: bool = False
    behind: bool = False
    guess: str = ""
    opens: bool = False
    closes: int = 0

    @property
    def chords(self) -> tuple[TypedMark, ...]:
        """The marks that name a chord."""
        return tuple(m for m in self.marks if m.kind == "chord")

    @property
    def barred(self) -> bool:
        """Whether barlines part its chords."""
        return any(m.kind == "bar" for m in self.marks)

    @property
    def certain(self) -> bool:
        """Whether the line is of chords, whatever stands around it."""
        if self.loose and self.barred and not self.strays:
            return True
        if not self.sure:
            return not self.strays and not self.loose and any(m.text in ("N.C.", "%") for m in self.marks)
        chords = self.sure + self.loose
        return not self.strays or (chords >= MIXED_CHORDS and chords >= 3 * len(self.strays))

    @property
    def possible(self) -> bool:
        """Whether it may be of chords: its neighbours decide."""
        return bool(self.loose) and not self.sure and not self.strays


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to say about a line: 0 for the whole sheet."""

    kind: RemarkKind
    line: int
    text: str


@dataclass(frozen=True, slots=True)
class SungText:
    """Words at one chord; `glued` where they go on inside a word."""

    text: str
    glued: bool = False


@dataclass(frozen=True, slots=True)
class DraftBar:
    """A bar to be written.

    Attributes:
        sign: the barline on its left.
        marks: as they are written.
        columns: of those where words can stand: the bar's first mark and each chord after it.
        left: the column of a typed barline; -1 where none is.
        segments: the words at these places; each one after the first needs a star.
        joins: the last word goes on in the next bar.
    """

    sign: str
    marks: tuple[str, ...]
    columns: tuple[int, ...] = ()
    left: int = -1
    segments: tuple[SungText, ...] = ()
    joins: bool = False


@dataclass(frozen=True, slots=True)
class DraftRow:
    """A row to be written. `line` is the sheet's; `end` the last barline; `notes` and `cues` stand above it."""

    line: int
    bars: tuple[DraftBar, ...]
    end: str = "|"
    notes: tuple[Remark, ...] = ()
    cues: tuple[str, ...] = ()

    @property
    def chords(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """The row without its words, to be compared."""
        return (*((bar.sign, bar.marks) for bar in self.bars), (self.end, ()))

    @property
    def sung(self) -> bool:
        """Whether words stand in it."""
        return any(segment.text for bar in self.bars for segment in bar.segments)


@dataclass(frozen=True, slots=True)
class DraftSection:
    """A section to be written.

    Attributes:
        name: as the sheet has it.
        line: of its heading, or of its first line.
        times: how often its heading says that it is played.
        rows: with chords; empty where the sheet only names it.
        pickup: words before its first chord.
        words: lines of words without any chord in the whole section: those of a section that is like another.
        like: the section whose chords it takes, once that is known.
        without_words: it is like another whose words it has not.
        remark: what its heading says for the player, of this section alone.
        notes: what to say at its head.
        closing: what to say, and cues, at its end.
        key: another than the song's.
        raised: semitones that it is played higher than the song's key; `raised_here`: its own heading says so.
    """

    name: str
    line: int
    times: int = 1
    rows: tuple[DraftRow, ...] = ()
    pickup: str = ""
    words: tuple[SheetLine, ...] = ()
    like: str = ""
    without_words: bool = False
    remark: str = ""
    notes: tuple[Remark, ...] = ()
    cues: tuple[str, ...] = ()
    closing: tuple[Remark, ...] = ()
    closing_cues: tuple[str, ...] = ()
    key: Key | None = None
    raised: int = 0
    raised_here: bool = False


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """What the sheet says of the song as a whole."""

    title: str = ""
    words: str = ""
    music: str = ""
    rights: str = ""
    key: Key | None = None
    key_line: int = 0
    capo: int = 0
    shapes: Key | None = None
    tempo: str = ""
    meter: Meter | None = None
    feel: str = ""
    order: tuple[Heading, ...] = ()
    order_line: int = 0
    order_text: str = ""


@dataclass(frozen=True, slots=True)
class Converted:
    """A song made of a sheet: its text, and what there is to say about it, in the order of the sheet's lines."""

    text: str
    notes: tuple[Remark, ...]
