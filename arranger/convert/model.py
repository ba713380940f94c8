"""What stands between the steps that make a song of a typed sheet.

Columns count from 0, as in a font whose characters are all as wide: a wide character takes two, a combining mark none.
Line numbers count from 1 in the sheet as it was typed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from arranger.habits.headings import Heading
from arranger.song.model import Meter
from arranger.theory.key import Key

LineKind = Literal["blank", "chords", "words", "heading", "again", "fact", "remark", "cue", "tablature"]
MarkKind = Literal["chord", "none", "rest", "slash", "simile"]
# assumed: a guess about the whole song; check: a guess at a place; left: what found no place in the song.
NoteKind = Literal["assumed", "check", "left"]


@dataclass(frozen=True, slots=True)
class Options:
    """What the player says beside the sheet.

    Attributes:
        title: where the sheet has none (the name of its file).
        key: of the sheet, as if it said so; None where the sheet or its chords say it.
        meter: likewise.
        bars: how many bars a chord lasts where no barlines are typed.
    """

    title: str = "Untitled"
    key: Key | None = None
    meter: Meter | None = None
    bars: int = 1


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line of the sheet: what stands in each column. The second column of a wide character is the empty text."""

    number: int
    cells: tuple[str, ...]

    @property
    def text(self) -> str:
        """The line without its columns."""
        return "".join(self.cells)

    def part(self, start: int, end: int | None = None) -> str:
        """Return the text from a column up to another."""
        return "".join(self.cells[start:end])

    def cut(self, start: int, end: int | None = None) -> SheetLine:
        """Blank out what is outside of some columns; columns stay."""
        end = len(self.cells) if end is None else end
        kept = tuple(c if start <= i < end else " " for i, c in enumerate(self.cells))
        return SheetLine(self.number, kept)


@dataclass(frozen=True, slots=True)
class Mark:
    """A chord, or what stands for one, in our spelling, with its column."""

    kind: MarkKind
    text: str
    column: int


@dataclass(frozen=True, slots=True)
class BarSign:
    """A barline in our spelling (`|`, `||`, `|:`, `:|`, `:|:`, with an ending's number: `|1.`), with its column."""

    text: str
    column: int


@dataclass(frozen=True, slots=True)
class ChordLine:
    """A line of chords understood.

    Attributes:
        number: its line.
        marks: chords and barlines in order.
        times: how often in all the line is played.
        cues: words for the player that stood in it.
        strays: what is no chord, as typed.
    """

    number: int
    marks: tuple[Mark | BarSign, ...]
    times: int = 1
    cues: tuple[str, ...] = ()
    strays: tuple[str, ...] = ()

    @property
    def chords(self) -> tuple[Mark, ...]:
        """The marks that name a chord."""
        return tuple(m for m in self.marks if isinstance(m, Mark) and m.kind == "chord")

    @property
    def barred(self) -> bool:
        """Whether barlines part its chords."""
        return any(isinstance(m, BarSign) for m in self.marks)


@dataclass(frozen=True, slots=True)
class Note:
    """Something to say about a line: 0 for the whole sheet."""

    kind: NoteKind
    line: int
    text: str


@dataclass(frozen=True, slots=True)
class Segment:
    """Words at one chord; `glued` where they go on inside a word."""

    text: str
    glued: bool = False


@dataclass(frozen=True, slots=True)
class DraftBar:
    """A bar to be written: the barline on its left, its marks, and the words from each of its places for words on.

    The first segment is at the bar's first mark; each one after it needs a star. `joins`: the last word goes on in the
    next bar.
    """

    sign: str
    marks: tuple[str, ...]
    segments: tuple[Segment, ...] = ()
    joins: bool = False


@dataclass(frozen=True, slots=True)
class DraftRow:
    """A row to be written. `line` is the sheet's; `end` the last barline; `notes` and `cues` stand above it."""

    line: int
    bars: tuple[DraftBar, ...]
    end: str = "|"
    notes: tuple[Note, ...] = ()
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
        rows: with chords; empty where the sheet only names it.
        pickup: words before its first chord.
        words: lines of words without any chord in the whole section: those of a section that is like another.
        like: the section whose chords it takes, once that is known.
        without_words: it is like another whose words it has not.
        remark: what its heading says for the player, of this section alone.
        notes: what to say at its head.
        closing: what to say, and cues, at its end.
    """

    name: str
    line: int
    rows: tuple[DraftRow, ...] = ()
    pickup: str = ""
    words: tuple[SheetLine, ...] = ()
    like: str = ""
    without_words: bool = False
    remark: str = ""
    notes: tuple[Note, ...] = ()
    cues: tuple[str, ...] = ()
    closing: tuple[Note, ...] = ()
    closing_cues: tuple[str, ...] = ()
    key: Key | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """What the sheet says of the song as a whole."""

    title: str = ""
    words: str = ""
    music: str = ""
    rights: str = ""
    key: Key | None = None
    key_line: int = 0
    capo: int = 0
    capo_line: int = 0
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
    notes: tuple[Note, ...]
