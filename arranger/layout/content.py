"""What stands on the lines of a part, before anything has a place: what `collect` gives and `lines` takes.

Times are quarters from the start of the bar. Texts are set already (runs with widths), so that widths are known.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from arranger.harmony.model import ChordId
from arranger.layout.model import KeyMark
from arranger.layout.staff import StaffNote
from arranger.layout.text import Run
from arranger.song.model import Meter
from arranger.text.source import NOWHERE, Span
from arranger.theory.key import Key


@dataclass(frozen=True, slots=True)
class Picture:
    """A hand to show at a chord change.

    Attributes:
        marks: the keys played, lowest first.
        resolves: the suspended key and the one it goes to.
        shown: all keys that the picture must show: those played, come from and resolved to.
        fingers: for each mark its finger, where the hand is shown for the first time.
        left, shape: the left hand's letters and the shape's name, as they stand under the picture.
        notes, letters: the same on staves, the right hand as letters, where the player asks for that.
        restated: nothing changes here; shown only where a line begins.
    """

    marks: tuple[KeyMark, ...]
    resolves: tuple[int, int] | None = None
    shown: tuple[int, ...] = ()
    fingers: tuple[int, ...] = ()
    left: tuple[Run, ...] = ()
    shape: tuple[Run, ...] = ()
    notes: tuple[StaffNote, ...] = ()
    letters: tuple[Run, ...] = ()
    restated: bool = False
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Symbol:
    """What stands in the chord row at one place: runs, a push mark before them, a fermata or words of manner after.

    `role` is `chord`, `slash`, `rest`, `repeat` (`%`) or `resolution`.
    """

    runs: tuple[Run, ...]
    role: str
    push: bool = False
    manner: tuple[Run, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Words:
    """Words of one verse from one place on. `glued`: they go on inside the word of the piece before."""

    runs: tuple[Run, ...]
    glued: bool = False
    span: Span = field(default=NOWHERE, compare=False)


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


@dataclass(frozen=True, slots=True)
class Column:
    """All that begins at one time of a bar. `words` has a place for each verse; `chord` names the chord that begins."""

    time: Fraction
    symbol: Symbol | None = None
    picture: Picture | None = None
    words: tuple[Words | None, ...] = ()
    fill: FillMark | None = None
    hook: HookMark | None = None
    chord: ChordId | None = None


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


@dataclass(frozen=True, slots=True)
class MarginEntry:
    """One fact of the margin column. `role` is `section`, `cue`, `change`, `fact` or `pickup`.

    `hairpin`: `opens` or `closes` after the text, with `after` behind it.
    """

    text: str
    role: str
    span: Span = field(default=NOWHERE, compare=False)
    hairpin: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class RowContent:
    """A chord row of the song: its bars, how many verses of words it has, and what stands in the margin beside it."""

    bars: tuple[BarContent, ...]
    verses: int
    margin: tuple[MarginEntry, ...]


@dataclass(frozen=True, slots=True)
class SectionContent:
    """A section: its name, its rows (one without bars where nothing is written), and its first chord for page turns."""

    name: str
    index: int
    rows: tuple[RowContent, ...]
    first_chord: str
    tacet_bars: int | None = None  # the number of bars of a section where the keys are silent
    closing: tuple[MarginEntry, ...] = ()
    key: Key | None = None
    span: Span = field(default=NOWHERE, compare=False)
