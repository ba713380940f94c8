"""Define what is printed in a section, row and bar, before anything has a place, and the planned lines that hold it.

Times are quarters from the start of the bar. Texts are set already (runs with widths), so that widths are known.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, NamedTuple

from arranger.harmony.model import ChordId
from arranger.harmony.patterns import Stroke
from arranger.layout.model import KeyMark
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.layout.text import Run
from arranger.song.model import Meter
from arranger.sounding.notation import WrittenNote
from arranger.text.source import NOWHERE, Span
from arranger.theory.key import Key

Staff = Literal["treble", "bass"]
KeyRange = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Picture:
    """The hands to show at a chord change, as keys, notes or letters.

    Attributes:
        marks: the keys played, lowest first.
        resolves: the suspended key and the one it goes to.
        shown: all keys that the picture must show: those played, come from and resolved to.
        fingers: for each mark its finger, where the hand is shown for the first time.
        left, shape: the left hand's letters and the shape's name, as they stand under the picture.
        letters: the right hand as letters, where the player asks for that.
        restated: nothing changes here; shown only where a line begins.
    """

    marks: tuple[KeyMark, ...]
    resolves: tuple[int, int] | None = None
    shown: tuple[int, ...] = ()
    fingers: tuple[int, ...] = ()
    left: tuple[Run, ...] = ()
    shape: tuple[Run, ...] = ()
    letters: tuple[Run, ...] = ()
    restated: bool = False
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Symbol:
    """What stands in the chord row at one place: runs, a push mark before them, a fermata or words of manner after.

    `role` is `chord`, `slash`, `rest`, `repeat` (`%`) or `resolution`. `signed` is all of the manner where notes show
    some of it by their signs.
    """

    runs: tuple[Run, ...]
    role: str
    push: bool = False
    manner: tuple[Run, ...] = ()
    signed: tuple[Run, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Words:
    """Words of one verse from one place on. `glued`: they go on inside the word of the piece before.

    `under`: the rest of them on a second line.
    """

    runs: tuple[Run, ...]
    glued: bool = False
    span: Span = field(default=NOWHERE, compare=False)
    under: tuple[Run, ...] = ()


@dataclass(frozen=True, slots=True)
class FillMark:
    """A note of an octave fill.

    `label` stands before the first note. `line` counts the section's fills; `to` is the chord the fill leads to, and
    `target` the key in its hand, if one is near.
    """

    runs: tuple[Run, ...]
    label: tuple[Run, ...]
    line: int
    to: ChordId
    last: bool
    target: int | None = None
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class HookMark:
    """A note of a line that is played as written, and how long it sounds (quarters)."""

    runs: tuple[Run, ...]
    length: Fraction
    span: Span = field(default=NOWHERE, compare=False)


class Column(NamedTuple):
    """All that begins at one time of a bar. `words` has a place for each verse; `chord` names the chord that begins.

    `written` are the notes or rests that begin on the upper and the lower staff; `fill_in_notes`, `hook_in_notes` what
    stands among them, and is in letters where the hands are not shown.
    """

    time: Fraction
    symbol: Symbol | None = None
    picture: Picture | None = None
    words: tuple[Words | None, ...] = ()
    fill: FillMark | None = None
    hook: HookMark | None = None
    chord: ChordId | None = None
    written: tuple[WrittenNote | None, WrittenNote | None] = (None, None)
    fill_in_notes: FillMark | None = None
    hook_in_notes: HookMark | None = None


@dataclass(frozen=True, slots=True)
class BarContent:
    """A bar with what is in it and how it is bounded.

    `uneven`: its chords are not equally long. `ending`: the label of the ending that starts here. `in_ending`,
    `ending_stops`: an ending goes on here, stops after this bar. `meter_shown`: the meter is printed in this bar.
    `final`: the song ends after it. `whole_start`, `whole_end`: False at the open sides of a bar that was broken
    because it does not fit a line.
    """

    number: int
    meter: Meter
    start: Fraction
    length: Fraction
    columns: tuple[Column, ...]
    uneven: bool = False
    meter_shown: bool = False
    repeat_start: bool = False
    repeat_times: int = 0
    ending: str = ""
    in_ending: bool = False
    ending_stops: bool = False
    double: bool = False
    final: bool = False
    whole_start: bool = True
    whole_end: bool = True
    span: Span = field(default=NOWHERE, compare=False)


class RhythmBar(NamedTuple):
    """One bar of rhythm: when the hands strike."""

    strokes: tuple[Stroke, ...]
    meter: Meter


@dataclass(frozen=True, slots=True)
class MarginEntry:
    """One fact beside the music.

    `role` is `section`, `cue`, `change`, `fact`, `suggested`, `onward`, `pickup`, or `prompt`. `hairpin`: `opens` or
    `closes` after the text, with `after` behind it. `rhythm`: bars of rhythm instead of text. `verse` is that of a
    pickup, with its number as `label` where there are several. `kind` is which fact it is, of those of which a section
    has one: `dynamic`.
    """

    text: str
    role: str
    span: Span = field(default=NOWHERE, compare=False)
    hairpin: str = ""
    after: str = ""
    rhythm: tuple[RhythmBar, ...] = ()
    verse: int = 0
    label: str = ""
    kind: str = ""

    @property
    def words(self) -> str:
        """The text as it is printed."""
        text = f"{self.label} {self.text}" if self.label else self.text
        return f"pickup: {text}" if self.role == "pickup" else text

    @property
    def said(self) -> str:
        """The text where no hairpin can be drawn: `mp to p`, `cresc`."""
        if not self.hairpin:
            return self.text
        return f"{self.text} to {self.after}" if self.after else "cresc" if self.hairpin == "opens" else "dim"


class RowContent(NamedTuple):
    """A chord row of the song: its bars, how many verses of words it has, and what stands beside it or over it.

    Of a stage copy `bars` have the left hand after the right one; `stacked` are the same with the left hand under the
    right one: narrower and higher. `prompts` are the first words of each verse, where only they are shown. `labels`
    are the numbers of the verses, where they are not simply counted. `hands_of` is the row of the section that has the
    same chords and hands, the first such one: often this row itself.
    """

    bars: tuple[BarContent, ...]
    verses: int
    margin: tuple[MarginEntry, ...]
    stacked: tuple[BarContent, ...] = ()
    prompts: tuple[MarginEntry, ...] = ()
    labels: tuple[str, ...] = ()
    hands_of: int | None = None


@dataclass(frozen=True, slots=True)
class VerseText:
    """A verse that stands as text after the song: its number or name, a line for each row; `index` of its section."""

    label: str
    rows: tuple[str, ...]
    index: int
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class SectionContent:
    """A section, or several that are drawn once: on a stage copy those that differ in nothing but names and words.

    Attributes:
        name: of all of them: `Verse 1, 2`.
        indices: of the sections in the song.
        rows: one without bars where nothing is written.
        tacet_bars: the number of bars of a section where the keys are silent.
        closing: cues for its end.
        key: in force.
        onward: how it is played and where the roadmap leads after it, each time that it comes; empty where that is
            simply what is drawn next.
        numbered: its bars have numbers, for the roadmap names some of them.
    """

    name: str
    indices: tuple[int, ...]
    rows: tuple[RowContent, ...]
    tacet_bars: int | None = None
    closing: tuple[MarginEntry, ...] = ()
    key: Key | None = None
    onward: tuple[str, ...] = ()
    numbered: bool = True
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def index(self) -> int:
        """The first of the sections."""
        return self.indices[0]


class PlacedColumn(NamedTuple):
    """A column at x, from the start of the line. `picture` is what is drawn: None where the hand was just shown."""

    x: float
    column: Column
    picture: Picture | None


class PlacedBar(NamedTuple):
    """A bar between its barlines, from the start of the line.

    `meter` is the x of a printed meter; `opens` that of a repeat sign that begins the bar.
    """

    left: float
    right: float
    meter: float
    content: BarContent
    columns: tuple[PlacedColumn, ...]
    opens: float


class PlannedLine(NamedTuple):
    """A line of music with everything but its place on a page.

    Attributes:
        section: the index of its section; `first`: the section begins here.
        margin: what stands beside it.
        verses: how many the row has; `verse_range`: from which up to which are here, where they are divided.
        keys, key_width: of its pictures.
        tacet_bars: how many bars of silence it stands for, instead of music.
        closing: what stands beside its end, where the section ends.
        across: a line of text across the page instead of music; `leads_on`: it belongs to the line after it.
        look: how it looks.
        key: in force, for the staves.
        labels: the numbers of the verses, where they are not simply counted.
        hands: what tells lines of the section with the same chords and hands in the same bars; None where none is.
        bare: the bars as they stand without pictures, where an earlier line on the page has the same hands.
        as_bar: the bar whose hands they are; only in a line that stands so.
        row: of its section, in which its bars are.
        texts: verses that stand here as text instead of music.
    """

    section: int
    first: bool = False
    margin: tuple[MarginEntry, ...] = ()
    bars: tuple[PlacedBar, ...] = ()
    verses: int = 0
    keys: KeyRange = (0, 0)
    key_width: float = 0.0
    tacet_bars: int | None = None
    closing: tuple[MarginEntry, ...] = ()
    verse_range: tuple[int, int] | None = None
    across: MarginEntry | None = None
    leads_on: bool = False
    look: Look = DEFAULT_LOOK
    key: Key | None = None
    labels: tuple[str, ...] = ()
    hands: tuple[int, ...] | None = None
    bare: tuple[PlacedBar, ...] = ()
    as_bar: int | None = None
    row: int = 0
    texts: tuple[VerseText, ...] = ()

    @property
    def under(self) -> frozenset[int]:
        """The verses of which some words stand on a second line."""
        columns = (placed.column for bar in self.bars for placed in bar.columns)
        return frozenset(verse for c in columns for verse, words in enumerate(c.words) if words and words.under)


class Rows(NamedTuple):
    """Where each row of a line of music lies, in points from the top of the line.

    Attributes:
        endings: the baseline of the labels of endings; the bracket lies `style.ENDING` above.
        octave: the baseline of the note names; `rule` the line with the ticks of the beats.
        fingers: the baseline of finger numbers.
        keyboard: the top of the pictures.
        note: the baseline of what stands under the pictures.
        chord: the baseline of the symbols.
        words: the baseline of each verse that has words here, with its number from 0.
        top, bottom: between which the barlines stand.
        hook, hook_rule: as `octave` and `rule`, for notes that are played as written.
        treble, bass: the lowest lines of the staves; 0 without staves.
        height: where the lowest row ends.
        under: the baselines of second lines of words, as `words`.
    """

    endings: float
    octave: float
    rule: float
    fingers: float
    keyboard: float
    note: float
    chord: float
    words: tuple[tuple[int, float], ...]
    top: float
    bottom: float
    hook: float = 0.0
    hook_rule: float = 0.0
    treble: float = 0.0
    bass: float = 0.0
    height: float = 0.0
    under: tuple[tuple[int, float], ...] = ()
