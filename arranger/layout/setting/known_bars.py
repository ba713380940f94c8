"""Remember the widths of bars, for several looks of one content ask for the same, and how rows were set in lines.

How rows are set is kept longer than for one song: an edit leaves most sections as they are.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from operator import is_
from typing import Any, Literal, NamedTuple, get_args

from arranger.layout import style
from arranger.layout.content.model import BarContent, Column, RowContent, SectionContent, Words
from arranger.layout.content.on_staves import without_notes
from arranger.layout.setting.breaking import FIRST_MEASURED, broken_row, fitting
from arranger.layout.setting.row_pairs import as_one
from arranger.layout.setting.spacing import Group, Measure, MeasuredBar, measured, remeasured
from arranger.layout.style import Gaps, Look
from arranger.layout.text import Metrics, runs, width_of

# Names of shapes: all of them; those of chords (`C over A`) without those that spell the notes (`D-E-G over C`); none.
Shapes = Literal["all", "named", "none"]
SHAPES: tuple[Shapes, ...] = get_args(Shapes)


@dataclass(slots=True, eq=False)
class MeasuredRow:
    """The bars of a row with their widths.

    `width` is that of all in one line, `widest` that of the widest as the first of one; `lines` has the row as it was
    broken into lines of a width.
    """

    bars: tuple[MeasuredBar, ...]
    width: float
    widest: float
    lines: dict[float, list[Group]] = field(default_factory=dict)


@dataclass(slots=True, eq=False)
class SetRow:
    """The bars of a row with their words in a size and some names of shapes, and the row as it was measured.

    `long`: a bar has more columns than are measured at first.
    """

    bars: tuple[BarContent, ...]
    long: bool
    measured: dict[tuple[float, int], MeasuredRow] = field(default_factory=dict)


class RowSetting(NamedTuple):
    """How a row is set so that it needs few lines: the width of a key (pt), the look, which names of shapes it has."""

    key_width: float
    look: Look
    shapes: Shapes


class KnownRows(NamedTuple):
    """What was found for the rows of a section, by the look and the width of the music.

    `settings`: how each is set. `joined`: whether two rows, by their numbers, may fit a line if they are joined.
    `lines`: the section in which lines were set, and these, by all that they depend on.
    """

    settings: dict[tuple[Look, float], tuple[RowSetting, ...]]
    joined: dict[tuple[tuple[int, ...], Look, float], bool]
    lines: dict[Hashable, tuple[SectionContent, tuple[Any, ...]]]


SectionKey = tuple[SectionContent, float, Metrics]
PARTS_KEPT = 2  # of some 300 KiB each at 80 chords: the one being set, and that before an edit


class KeptSections:
    """Keeps what was found for the sections of the last parts: where a song is edited most of them come again.

    Sections that print the same are one, wherever they stand in the text of a song.
    """

    def __init__(self) -> None:
        self._part = 0
        self._found: dict[SectionKey, tuple[KnownRows, list[int]]] = {}  # with the last part that asked

    def begin(self) -> None:
        """Begin another part; what was found for the oldest is dropped."""
        self._part += 1
        kept = self._part - PARTS_KEPT
        self._found = {key: found for key, found in self._found.items() if found[1][0] > kept}

    def rows_of(self, section: SectionContent, words: float, metrics: Metrics) -> KnownRows:
        """Return what has been found for a section, to be added to; `words` is the size of its words."""
        # A section is large: it is hashed once.
        known, last = self._found.setdefault((section, words, metrics), (KnownRows({}, {}, {}), [self._part]))
        last[0] = self._part
        return known

    def forget(self) -> None:
        """Drop all: for measurements, and to see that pages are the same without it."""
        self._found = {}


KEPT = KeptSections()


class KnownBars:
    """Keeps the widths of bars and rows, and bars with smaller words: several looks of one content ask for the same.

    `words` is the size at which the content has its words. Bars are known by identity, so all that are asked for are
    kept; one in which nothing changes is returned as it is.
    """

    def __init__(self, words: float) -> None:
        self._words = words
        self._kinds: dict[tuple[Gaps, bool, float], int] = {}
        self._measured: dict[tuple[int, int, float], MeasuredBar] = {}
        self._alike: dict[tuple[int, int], MeasuredBar] = {}  # with keyboards of some width
        self._rows: dict[tuple[int, Shapes, float, float | None], SetRow] = {}
        self._pairs: dict[tuple[int, tuple[int, ...]], RowContent] = {}
        self._smaller: dict[tuple[int, float], BarContent] = {}
        self._halved: dict[tuple[int, float], BarContent] = {}
        self._shaped: dict[tuple[int, Shapes], BarContent] = {}
        self._handless: dict[int, BarContent] = {}
        self._closed: dict[int, BarContent] = {}
        self._sections: dict[int, KnownRows] = {}
        self._kept: list[BarContent | SectionContent | tuple[BarContent, ...]] = []

    def rows_of(self, section: SectionContent, metrics: Metrics) -> KnownRows:
        """Return what has been found for the rows of a section, in this content or before it, to be added to."""
        found = self._sections.get(id(section))
        if found is None:
            found = self._sections[id(section)] = KEPT.rows_of(section, self._words, metrics)
            self._kept.append(section)
        return found

    def sized(self, bar: BarContent, words: float) -> BarContent:
        """Return a bar with its words in a size."""
        if words == self._words:
            return bar
        found = self._smaller.get((id(bar), words))
        if found is None:
            found = self._smaller[id(bar), words] = _resized(bar, words / self._words)
            self._kept.append(bar)
        return found

    def halved(self, bar: BarContent, width: float, metrics: Metrics) -> BarContent:
        """Return a bar with the words that are wider than that on two lines."""
        found = self._halved.get((id(bar), width))
        if found is None:
            found = self._halved[id(bar), width] = _halved(bar, width, metrics)
            self._kept.append(bar)
        return found

    def shaped(self, bar: BarContent, shapes: Shapes) -> BarContent:
        """Return a bar with some of the names of its shapes."""
        if shapes == "all":
            return bar
        found = self._shaped.get((id(bar), shapes))
        if found is None:
            columns = tuple(_shaped(column, shapes) for column in bar.columns)
            found = self._shaped[id(bar), shapes] = _with_columns(bar, columns)
            self._kept.append(bar)
        return found

    def handless(self, bar: BarContent) -> BarContent:
        """Return a bar without its hands."""
        found = self._handless.get(id(bar))
        if found is None:
            found = self._handless[id(bar)] = _with_columns(bar, tuple(map(without_notes, bar.columns)))
            self._kept.append(bar)
        return found

    def as_one(self, section: SectionContent, pair: tuple[int, ...]) -> RowContent:
        """Return rows of a section as one, by their numbers."""
        found = self._pairs.get((id(section), pair))
        if found is None:
            found = self._pairs[id(section), pair] = as_one(section, pair, self.closed)
            self._kept.append(section)
        return found

    def closed(self, bar: BarContent) -> BarContent:
        """Return a bar with a double bar after it."""
        if bar.double:
            return bar
        found = self._closed.get(id(bar))
        if found is None:
            found = self._closed[id(bar)] = replace(bar, double=True)
            self._kept.append(bar)
        return found

    def measured(self, bar: BarContent, measure: Measure) -> MeasuredBar:
        """Return a bar with its widths."""
        return self._measured_bar(bar, measure, measure.picture, self._kind(measure.look))

    def _kind(self, look: Look) -> int:
        """Return a number for all of a look, but the width of pictures, that the widths of a bar depend on."""
        return self._kinds.setdefault((look.gaps, look.beside, look.staff), len(self._kinds))

    def _measured_bar(self, bar: BarContent, measure: Measure, picture: float, kind: int) -> MeasuredBar:
        key = id(bar), kind, picture
        found = self._measured.get(key)
        if found is None:
            like = self._alike.get((id(bar), kind))
            found = measured(bar, measure) if like is None else remeasured(like, picture)
            self._measured[key] = self._alike[id(bar), kind] = found
            self._kept.append(bar)
        return found

    def set_row(self, row: RowContent, measure: Measure, shapes: Shapes) -> SetRow:
        """Return a row with the words of a look, and with some of the names of its shapes."""
        look, share = measure.look, None
        if look.halved and row.bars:
            share = measure.width / len(row.bars) - 2 * look.gaps.bar
        key = id(row.bars), shapes, look.words, share
        found = self._rows.get(key)
        if found is None:
            bars = [self.sized(self.shaped(bar, shapes), look.words) for bar in row.bars]
            if share is not None:
                bars = [self.halved(bar, share, measure.metrics) for bar in bars]
            long = any(len(bar.columns) > FIRST_MEASURED for bar in bars)
            found = self._rows[key] = SetRow(tuple(bars), long)
            self._kept.append(row.bars)
        return found

    def broken(self, row: SetRow, measure: Measure) -> list[Group]:
        """Break a row into lines, and a bar that is too wide for one."""
        if row.long:
            return broken_row([part for bar in row.bars for part in fitting(bar, measure)], measure.width)
        known = self._measured_row(row, measure)
        found = known.lines.get(measure.width)
        if found is None:
            bars: Sequence[MeasuredBar] = known.bars
            if known.widest > measure.width:
                bars = [part for bar in row.bars for part in fitting(bar, measure)]
            one = known.width <= measure.width and bars is known.bars
            found = known.lines[measure.width] = [known.bars] if one else broken_row(bars, measure.width)
        return found

    def _measured_row(self, row: SetRow, measure: Measure) -> MeasuredRow:
        picture, kind = measure.picture, self._kind(measure.look)
        found = row.measured.get((picture, kind))
        if found is None:
            bars = tuple([self._measured_bar(bar, measure, picture, kind) for bar in row.bars])
            width = sum([bar.later.width for bar in bars[1:]], bars[0].first.width if bars else 0.0)
            found = MeasuredRow(bars, width, max([bar.first.width for bar in bars], default=0.0))
            row.measured[picture, kind] = found
        return found


def _with_columns(bar: BarContent, columns: tuple[Column, ...]) -> BarContent:
    return bar if all(map(is_, columns, bar.columns)) else replace(bar, columns=columns)


def _shaped(column: Column, shapes: Shapes) -> Column:
    picture = column.picture
    if picture is None or not picture.shape:
        return column
    if shapes == "named" and not any("-" in run.text for run in picture.shape):
        return column
    return column._replace(picture=replace(picture, shape=()))


def _resized(bar: BarContent, share: float) -> BarContent:
    """Set the words of a bar smaller."""

    def smaller(words: Words | None) -> Words | None:
        if words is None:
            return None
        parts = tuple([run._replace(size=run.size * share, width=run.width * share) for run in words.runs])
        return Words(parts, words.glued, words.span, words.under)

    def with_smaller(column: Column) -> Column:
        return column._replace(words=tuple(map(smaller, column.words))) if any(column.words) else column

    return _with_columns(bar, tuple(map(with_smaller, bar.columns)))


def _halved(bar: BarContent, width: float, metrics: Metrics) -> BarContent:
    """Set words that are wider than that on two lines, if a bar sings at one place alone."""
    sung = [number for number, column in enumerate(bar.columns) if any(column.words)]
    if len(sung) != 1 or not bar.whole_start or not bar.whole_end:
        return bar
    column = bar.columns[sung[0]]
    words = tuple(
        _in_two(part, width, metrics) if part and width_of(part.runs) > width else part for part in column.words
    )
    if all(map(is_, words, column.words)):
        return bar
    return replace(bar, columns=(*bar.columns[: sung[0]], column._replace(words=words), *bar.columns[sung[0] + 1 :]))


def _in_two(words: Words, width: float, metrics: Metrics) -> Words:
    """Break words where the wider of both lines is narrowest.

    One word, and words of which half is wider than that, stay as they are: they are broken with their bar.
    """
    size = words.runs[0].size
    parts = "".join(run.text for run in words.runs).split(" ")
    if words.glued or len(parts) == 1:
        return words

    def lines(place: int) -> tuple[str, str]:
        return " ".join(parts[:place]), " ".join(parts[place:])

    def widest(place: int) -> float:
        first, second = (metrics.width(line, "regular", size) for line in lines(place))
        return max(first, style.UNDER_INDENT * size + second)

    place = min(range(1, len(parts)), key=widest)
    if widest(place) > width:
        return words
    first, second = (runs(line, "regular", size, metrics) for line in lines(place))
    return replace(words, runs=first, under=second)
