"""Remember the widths of bars, for several looks of one content ask for the same, and how rows were set in lines.

How rows are set is kept longer than for one song: an edit leaves most sections as they are.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import replace
from operator import is_
from typing import Any, Literal, NamedTuple, get_args

from arranger.layout import style
from arranger.layout.content.model import BarContent, Column, RowContent, SectionContent, Words
from arranger.layout.content.on_staves import without_notes
from arranger.layout.setting.breaking import FIRST_MEASURED, broken_row, fitting
from arranger.layout.setting.spacing import Group, Measure, MeasuredBar, measured, with_keyboards
from arranger.layout.style import Gaps, Look
from arranger.layout.text import Metrics, runs, width_of

# Names of shapes: all of them; those of chords (`C over A`) without those that spell the notes (`D-E-G over C`); none.
Shapes = Literal["all", "named", "none"]
SHAPES: tuple[Shapes, ...] = get_args(Shapes)


class MeasuredRow(NamedTuple):
    """The bars of a row with their widths, the width of all in one line, and that of the widest as the first of one."""

    bars: tuple[MeasuredBar, ...]
    width: float
    widest: float


class RowSetting(NamedTuple):
    """How a row is set so that it needs few lines: the width of a key (pt), the look, which names of shapes it has."""

    key_width: float
    look: Look
    shapes: Shapes


class KnownRows(NamedTuple):
    """What was found for the rows of a section, by the look and the width of the music.

    `settings`: how each is set. `joined`: whether two rows that are joined may fit a line. `lines`: the section in
    which lines were set, and these, by all that they depend on.
    """

    settings: dict[tuple[Look, float], tuple[RowSetting, ...]]
    joined: dict[tuple[RowContent, Look, float], bool]
    lines: dict[Hashable, tuple[SectionContent, tuple[Any, ...]]]


Found = dict[tuple[SectionContent, float, Metrics], KnownRows]
PARTS_KEPT = 2  # of some 300 KiB each at 80 chords: the one being set, and that before an edit


class KeptSections:
    """Keeps what was found for the sections of the last parts: where a song is edited most of them come again.

    Sections that print the same are one, wherever they stand in the text of a song.
    """

    def __init__(self) -> None:
        self._parts: tuple[Found, ...] = ()

    def begin(self) -> None:
        """Begin another part; what was found for the oldest is dropped."""
        self._parts = ({}, *self._parts[: PARTS_KEPT - 1])

    def rows_of(self, section: SectionContent, words: float, metrics: Metrics) -> KnownRows:
        """Return what has been found for a section, to be added to; `words` is the size of its words."""
        key = section, words, metrics
        kept = filter(None, (part.get(key) for part in self._parts))
        known = next(kept, None) or KnownRows({}, {}, {})
        for part in self._parts[:1]:
            part[key] = known
        return known

    def forget(self) -> None:
        """Drop all: for measurements, and to see that pages are the same without it."""
        self._parts = ()


KEPT = KeptSections()


class KnownBars:
    """Keeps the widths of bars and rows, and bars with smaller words: several looks of one content ask for the same.

    `words` is the size at which the content has its words. Bars are known by identity, so all that are asked for are
    kept; one in which nothing changes is returned as it is.
    """

    def __init__(self, words: float) -> None:
        self._words = words
        self._measured: dict[tuple[int, float, Gaps, bool, float], MeasuredBar] = {}
        self._alike: dict[tuple[int, Gaps, bool, float], MeasuredBar] = {}  # with keyboards of some width
        self._rows: dict[tuple[tuple[int, ...], float, Gaps, bool, float], MeasuredRow] = {}
        self._smaller: dict[tuple[int, float], BarContent] = {}
        self._halved: dict[tuple[int, float], BarContent] = {}
        self._shaped: dict[tuple[int, Shapes], BarContent] = {}
        self._handless: dict[int, BarContent] = {}
        self._closed: dict[int, BarContent] = {}
        self._sections: dict[int, KnownRows] = {}
        self._kept: list[BarContent | SectionContent] = []

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
        look = measure.look
        key = id(bar), measure.picture, look.gaps, look.beside, look.staff
        found = self._measured.get(key)
        if found is None:
            like = self._alike.get((id(bar), look.gaps, look.beside, look.staff))
            found = measured(bar, measure) if like is None else with_keyboards(like, measure)
            self._measured[key] = self._alike[id(bar), look.gaps, look.beside, look.staff] = found
            self._kept.append(bar)
        return found

    def row(self, bars: Sequence[BarContent], measure: Measure) -> MeasuredRow:
        """Return bars that follow each other with their widths."""
        look = measure.look
        key = tuple(map(id, bars)), measure.picture, look.gaps, look.beside, look.staff
        found = self._rows.get(key)
        if found is None:
            row = tuple(self.measured(bar, measure) for bar in bars)
            width = 0.0
            for number, bar in enumerate(row):
                width += (bar.later if number else bar.first).width
            found = self._rows[key] = MeasuredRow(row, width, max((bar.first.width for bar in row), default=0.0))
        return found

    def broken(self, bars: Sequence[BarContent], measure: Measure) -> list[Group]:
        """Break a row into lines, and a bar that is too wide for one."""
        if any(len(bar.columns) > FIRST_MEASURED for bar in bars):
            return broken_row([part for bar in bars for part in fitting(bar, measure)], measure.width)
        row = self.row(bars, measure)
        if row.widest > measure.width:
            return broken_row([part for bar in bars for part in fitting(bar, measure)], measure.width)
        return [row.bars] if row.width <= measure.width else broken_row(row.bars, measure.width)


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
