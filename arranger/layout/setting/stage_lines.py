"""The content of a stage copy -> its lines for a page of some width and height, not yet on a page.

Lengths are in units of the copy: points at the one size of type at which it is set. What does not depend on the width
is kept, for many widths are tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from arranger.harmony.model import ChordId
from arranger.layout import style
from arranger.layout.content.model import (
    BarContent,
    Column,
    Picture,
    PlacedBar,
    PlacedColumn,
    PlannedLine,
    Rows,
    StageRow,
    StageSection,
)
from arranger.layout.model import Item, moved
from arranger.layout.setting.barlines import set_barlines, set_beats, set_endings, set_fills, set_hooks, set_meter
from arranger.layout.setting.breaking import Measure, Widths, broken_row, fitting, pictures_of
from arranger.layout.setting.line_plan import LEAD_ROW, ORDINARY, TACET_ROW, TICK, note_rise, verse_runs
from arranger.layout.setting.margin import TextLine, cue_lines, going_on, heading, prompt_lines
from arranger.layout.setting.music import set_column, set_tacet, set_words
from arranger.layout.setting.spacing import BarBoxes, fit
from arranger.layout.style import (
    BAR_PAD,
    BARS,
    BARS_AT_MOST,
    HEAD_GAP,
    LINE_GAP,
    PROMPT_GAP,
    QUIET_GREY,
    REPEAT_PAD,
    SPARE,
    STAGE_CHORD,
    STAGE_GUTTER,
    STAGE_LOOK,
    UNIT,
    WORD_GAP,
)
from arranger.layout.text import Metrics, place, runs, width_of

NO_KEYS = (60, 72)  # a measure asks for the keys of pictures; a copy has none
HAIR = 1e-6  # a width that makes no difference to the eye
HEADING_AT_MOST = 6  # lines of text that stay with the music under them; more may be parted by a page's end


Group = tuple[BarContent, ...]  # the bars of a line


@dataclass(frozen=True, slots=True)
class Way:
    """How a phrase is broken where there is the width that it needs."""

    needs: float
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True)
class Music:
    """The bars of a line, with the y of their rows and which verses stand under them.

    `cells`: bars stand in cells of such a share of the width, the same in all lines of a row; 0: as wide as they ask.
    """

    bars: Group
    rows: Rows
    verses: range
    gutter: float
    cells: int = 0


@dataclass(frozen=True, slots=True)
class StageLine:
    """A line that no page divides.

    Attributes:
        section: which of the drawn sections it is of.
        first: the section begins here.
        above: texts over the music, from the top of the line; `music_top` is where they end.
        music: None in a line of text alone.
        tacet_bars: a rest of so many bars instead of music.
        below: texts under the music.
        height: of all, with the room under it.
        again: the section's name, over it at the top of a page.
        leads_on: says nothing without the line after it.
    """

    section: int
    first: bool
    above: tuple[TextLine, ...]
    music: Music | None
    below: tuple[TextLine, ...]
    height: float
    again: TextLine | None = None
    tacet_bars: int | None = None
    leads_on: bool = False

    @property
    def at_top(self) -> float:
        """Its height at the top of a page."""
        return self.height + (self.again.height + HEAD_GAP if self.again is not None else 0.0)

    @property
    def chords(self) -> tuple[ChordId, ...]:
        """The chords that begin in it."""
        bars = self.music.bars if self.music is not None else ()
        return tuple(column.chord for bar in bars for column in bar.columns if column.chord is not None)


class Typesetter:
    """Makes lines for pages of any size; keeps the widths of bars and the heights of lines."""

    def __init__(self, sections: Sequence[StageSection], metrics: Metrics) -> None:
        self._sections = sections
        self._metrics = metrics
        self._widths = Widths(Measure(NO_KEYS, 0.0, 0.0, 0.0, STAGE_LOOK, metrics))
        # By the identity of the first bar, which `_widths` keeps, and the number of bars and the verses.
        self._rows: dict[tuple[int, int, range], tuple[Music, Rows]] = {}
        self._ways: dict[int, list[Way]] = {}

    def lines(self, width: float, height: float) -> tuple[StageLine, ...]:
        """Return the lines of all sections for pages with so much room."""
        lines: list[StageLine] = []
        for number, section in enumerate(self._sections):
            lines += self._section(number, section, width, height)
        return tuple(lines)

    def _section(self, number: int, section: StageSection, width: float, height: float) -> list[StageLine]:
        metrics = self._metrics
        lines: list[StageLine] = []
        again = going_on(section, width, metrics)
        for place_, row in enumerate(section.rows):
            above = heading(section, width, metrics) if place_ == 0 else cue_lines(row.cues, width, metrics)
            if len(above) > HEADING_AT_MOST:
                lines += [self._text(number, line, leads_on=True) for line in above]
                above = ()
            below = prompt_lines(row.prompts, width, metrics)
            if len(below) > HEADING_AT_MOST:
                lines += [self._text(number, line, leads_on=True) for line in below]
                below = ()
            musics = self._row(section, row, width, height)
            for music in musics:
                lines.append(self._line(number, above, music, below, section.tacet_bars))
                above = below = ()
            if not musics:
                lines.append(self._line(number, above, None, below, section.tacet_bars))
        closing = cue_lines(section.closing, width, metrics)
        if len(closing) > HEADING_AT_MOST:
            lines += [self._text(number, line, leads_on=False) for line in closing]
        elif closing:
            last = lines[-1]
            added = sum(line.height for line in closing) + (0.0 if last.below else PROMPT_GAP)
            lines[-1] = replace(last, below=(*last.below, *closing), height=last.height + added)
        return [replace(lines[0], first=True), *(replace(line, again=again) for line in lines[1:])]

    def _text(self, number: int, line: TextLine, leads_on: bool) -> StageLine:
        return StageLine(number, False, (line,), None, (), line.height, leads_on=leads_on)

    def _line(
        self,
        number: int,
        above: tuple[TextLine, ...],
        music: Music | None,
        below: tuple[TextLine, ...],
        tacet_bars: int | None,
    ) -> StageLine:
        middle = TACET_ROW if tacet_bars is not None else 0.0
        if music is not None:
            middle = bottom_of(music.rows, self._metrics)
        texts = sum(line.height for line in (*above, *below))
        texts += (HEAD_GAP if above else 0.0) + (PROMPT_GAP if below else 0.0)
        return StageLine(number, False, above, music, below, texts + middle + LINE_GAP, tacet_bars=tacet_bars)

    def _row(self, section: StageSection, row: StageRow, width: float, height: float) -> list[Music]:
        """Break a row: hands stand side by side unless that takes more lines than one under the other."""
        if not row.bars:
            return []
        gutter = STAGE_GUTTER if section.numbered or row.verses > 1 else 0.0
        groups = self._groups(row.bars, width - gutter)
        if len(groups) > 1:
            groups = min(groups, self._groups(row.stacked, width - gutter), key=len)
        cells = self._cells(groups, width - gutter)
        return [
            Music(group, self._rows_of(group, verses), verses, gutter, cells)
            for group in groups
            for verses in self._divided(group, row.verses, height)
        ]

    def _cells(self, groups: Sequence[Group], width: float) -> int:
        """Return in how many cells the lines of a row are divided, so that every bar is in one; 0 where none are."""
        bars = [bar for group in groups for bar in group]
        if any(bar.length != bars[0].length for bar in bars):
            return 0
        widest = max(
            self._widths.natural(bar, shown)
            for group in groups
            for bar, shown in zip(group, pictures_of(group), strict=True)
        )
        most = max(len(group) for group in groups)
        return next((cells for cells in (max(BARS, most), most) if widest <= width / cells), 0)

    def _groups(self, bars: Sequence[BarContent], width: float) -> list[Group]:
        """Return the bars of each line: fours, and evenly less where four do not fit."""
        groups: list[Group] = []
        for phrase in phrases(bars):
            ways = self._ways.get(id(phrase[0]))
            if ways is None:
                ways = self._ways[id(phrase[0])] = self._ways_of(phrase)
            fits = next((way for way in ways if way.needs <= width), None)
            groups += fits.groups if fits is not None else self._narrow(phrase, width)
        return groups

    def _ways_of(self, phrase: Group) -> list[Way]:
        """Return all ways in which a phrase is ever broken, the widest first.

        Lines that are as few and even as fits a width are so for every lesser width that they fit too: what is best of
        many is best of some. So the next way is that for a hair less than what the last one needs.
        """
        ways: list[Way] = []
        width = float("inf")
        while True:
            groups = broken_row(phrase, self._at(width))
            needs = max(self._natural(group) for group in groups)
            if ways and needs >= ways[-1].needs:  # a bar alone is wider than that
                return ways
            ways.append(Way(needs, tuple(groups)))
            width = needs - HAIR

    def _narrow(self, phrase: Group, width: float) -> list[Group]:
        """Break a phrase that has a bar too wide for a line."""
        widths = self._at(width)
        return broken_row([part for bar in phrase for part in fitting(bar, widths)], widths)

    def _natural(self, group: Group) -> float:
        """Return the least width of a line."""
        return sum(self._widths.natural(bar, shown) for bar, shown in zip(group, pictures_of(group), strict=True))

    def _at(self, width: float) -> Widths:
        """Return what knows the widths of bars, for lines of a width."""
        self._widths.measure = replace(self._widths.measure, width=width)
        return self._widths

    def _divided(self, group: Group, verses: int, height: float) -> list[range]:
        """Divide verses that would make a line higher than half a page: the chords stand over each group of them."""
        everything = range(verses)
        if verses < 2 or bottom_of(self._rows_of(group, everything), self._metrics) <= height / 2:
            return [everything]
        bare = bottom_of(self._rows_of(group, range(0)), self._metrics)
        each = (bottom_of(self._rows_of(group, everything), self._metrics) - bare) / verses
        parts = -(-verses // max(1, int((height / 2 - bare) / each)))
        edges = [verses * part // parts for part in range(parts + 1)]
        return [range(start, end) for start, end in pairwise(edges)]

    def _rows_of(self, group: Group, verses: range) -> Rows:
        key = (id(group[0]), len(group), verses)
        known = self._rows.get(key)
        if known is None:
            rows = rows_of(group, pictures_of(group), verses, self._metrics)
            known = self._rows[key] = (Music(group, rows, verses, 0.0), rows)
        return known[1]

    def placed(self, line: StageLine, width: float, at_top: bool) -> list[Item]:
        """Place a line from its top left."""
        items: list[Item] = []
        y = 0.0
        if at_top and line.again is not None:
            items += [moved(item, 0.0, y) for item in line.again.items]
            y += line.again.height + HEAD_GAP
        for text in line.above:
            items += [moved(item, 0.0, y) for item in text.items]
            y += text.height
        y += HEAD_GAP if line.above and (line.music is not None or line.tacet_bars is not None) else 0.0
        if line.music is not None:
            items += self._music(line.section, line.music, width, y)
            y += bottom_of(line.music.rows, self._metrics)
        elif line.tacet_bars is not None:
            items += set_tacet(line.tacet_bars, 0.0, y, self._metrics)
            y += TACET_ROW
        y += PROMPT_GAP if line.below else 0.0
        for text in line.below:
            items += [moved(item, 0.0, y) for item in text.items]
            y += text.height
        return items

    def _music(self, number: int, music: Music, width: float, y: float) -> list[Item]:
        x, rows, metrics = music.gutter, music.rows, self._metrics
        line = PlannedLine(
            number,
            False,
            (),
            self._bars(music.bars, music.cells, width - x),
            len(music.verses),
            NO_KEYS,
            0.0,
            look=STAGE_LOOK,
        )
        items: list[Item] = [*self._gutter(music, self._sections[number].numbered, y), *set_barlines(line, rows, x, y)]
        for bar in line.bars:
            items += set_endings(bar, rows, x, y, metrics, UNIT)
            items += set_hooks(rows, bar, x, y)
            items += set_fills(line, rows, bar, x, y)
            items += set_meter(bar, rows, x, y, metrics, UNIT)
            items += set_beats(rows, bar, x, y)
            for column in bar.columns:
                # A column is read from the top: its symbol, its hands.
                items += sorted(set_column(line, rows, column, x, y, metrics), key=_row_read)
        return items + set_words(line, rows, x, y, metrics)

    def _gutter(self, music: Music, numbered: bool, y: float) -> list[Item]:
        """Place the number of the line's first bar, where the roadmap names bars, and those of the verses."""
        items: list[Item] = []
        first = music.bars[0]
        if numbered and first.whole_start and first.number:
            number = runs(str(first.number), "regular", UNIT, self._metrics)
            x = STAGE_GUTTER - WORD_GAP - width_of(number)
            items += place(number, x, y + music.rows.chord, "bar number", first.span, QUIET_GREY)
        if music.verses.stop > 1:
            for verse, baseline in music.rows.words:
                number = runs(f"{verse + 1}.", "regular", UNIT, self._metrics)
                items += place(number, STAGE_GUTTER - WORD_GAP - width_of(number), y + baseline, "verse")
        return items

    def _bars(self, bars: Group, cells: int, width: float) -> tuple[PlacedBar, ...]:
        """Place the bars of a line: equally wide, in the places of a line of four, wherever what is in them allows."""
        pictures = pictures_of(bars)
        boxes = [self._widths.boxes(bar, shown) for bar, shown in zip(bars, pictures, strict=True)]
        if cells:
            return _in_cells(bars, pictures, boxes, width / cells)
        naturals = [self._widths.natural(bar, shown) for bar, shown in zip(bars, pictures, strict=True)]
        length = max(min(width, sum(naturals) * SPARE), width * min(1.0, len(bars) / BARS))
        spaced = fit(boxes, length)
        rights = (*spaced.barlines[1:], spaced.end)
        return tuple(
            _placed(bar, shown, left, right, columns)
            for bar, shown, left, right, columns in zip(
                bars, pictures, spaced.barlines, rights, spaced.columns, strict=True
            )
        )


def _row_read(item: Item) -> int:
    """Return in which row of a column an item is read."""
    return {"letters": 1, "left hand": 1}.get(item.role, 0)


def phrases(bars: Sequence[BarContent]) -> list[Group]:
    """Divide a row into phrases of four bars; five stay together, and one is not left alone."""
    found: list[Group] = []
    start = 0
    while len(bars) - start > BARS_AT_MOST:
        found.append(tuple(bars[start : start + BARS]))
        start += BARS
    return [*found, tuple(bars[start:])]


def _in_cells(
    bars: Sequence[BarContent],
    pictures: Sequence[Sequence[Picture | None]],
    boxes: Sequence[BarBoxes],
    cell: float,
) -> tuple[PlacedBar, ...]:
    """Place bars in cells of one width."""
    placed = []
    for number, (bar, shown, box) in enumerate(zip(bars, pictures, boxes, strict=True)):
        spaced = fit([box], cell)
        left = number * cell
        columns = tuple(left + x for x in spaced.columns[0])
        placed.append(_placed(bar, shown, left, left + cell, columns))
    return tuple(placed)


def _placed(
    bar: BarContent, shown: Sequence[Picture | None], left: float, right: float, columns: Sequence[float]
) -> PlacedBar:
    meter = left + BAR_PAD + (REPEAT_PAD if bar.repeat_start else 0.0)
    return PlacedBar(
        left,
        right,
        meter,
        bar,
        tuple(PlacedColumn(x, column, hand) for x, column, hand in zip(columns, bar.columns, shown, strict=True)),
        opens=left,
    )


HAND = "dl♯"  # what a hand is as high as


def rows_of(
    bars: Sequence[BarContent], pictures: Sequence[Sequence[Picture | None]], verses: range, metrics: Metrics
) -> Rows:
    """Stack the rows that a line needs.

    Args:
        bars: of the line.
        pictures: the hands that it shows, for each bar and column.
        verses: which of the verses stand under it.
        metrics: of the fonts.
    """
    columns = [column for bar in bars for column in bar.columns]
    hands = [picture for shown in pictures for picture in shown if picture is not None]
    y = endings = hook = hook_rule = octave = rule = 0.0
    if any(bar.in_ending or bar.repeat_times > 2 for bar in bars):
        endings = y + metrics.rise(ORDINARY, "bold", UNIT) + 1.5
        y = endings + style.ROW_GAP
    hooked = [run for column in columns if column.hook for run in column.hook.runs]
    filled = [run for column in columns if column.fill for run in column.fill.runs]
    if hooked:
        hook = y + note_rise(hooked, metrics, UNIT)
        hook_rule = hook + metrics.descent("bold", UNIT) + TICK - 0.5
        y = hook_rule + style.ROW_GAP + 1.5
    if filled:
        octave = y + note_rise(filled, metrics, UNIT)
        rule = octave + metrics.descent("bold", UNIT) + TICK - 0.5
        y = rule + LEAD_ROW - 1.5  # where the arrow to the chord ends
    top = y
    symbols = [column.symbol for column in columns if column.symbol is not None]
    rises = [run.rise + metrics.rise(run.text, run.face, run.size) for s in symbols for run in (*s.runs, *s.manner)]
    chord = y + max((metrics.rise("H", "bold", STAGE_CHORD), *rises)) + 1.0
    y = chord + metrics.descent("bold", STAGE_CHORD)
    hand = note = y
    if any(picture.letters for picture in hands):
        hand = y + metrics.rise(HAND, "regular", UNIT)
        y = hand + metrics.descent("regular", UNIT)
    if any(picture.left for picture in hands):
        note = y + metrics.rise(HAND, "regular", UNIT)
        y = note + metrics.descent("regular", UNIT)
    bottom = y
    return Rows(
        endings=endings,
        octave=octave,
        rule=rule,
        fingers=0.0,
        keyboard=hand,
        note=note,
        chord=chord,
        words=_words(columns, verses, bottom, metrics),
        top=top,
        bottom=bottom,
        hook=hook,
        hook_rule=hook_rule,
    )


def _words(columns: Sequence[Column], verses: range, y: float, metrics: Metrics) -> tuple[tuple[int, float], ...]:
    """Return the baselines of the verses that have words here, under each other from y on."""
    words = []
    for verse in verses:
        texts = [run for column in columns for run in verse_runs(column.words, verse)]
        if texts:
            rises = (metrics.rise(run.text, run.face, run.size) for run in texts)
            baseline = y + max(metrics.rise(ORDINARY, "regular", UNIT), *rises) + 1.0
            words.append((verse, baseline))
            y = baseline + metrics.descent("regular", UNIT)
    return tuple(words)


def bottom_of(rows: Rows, metrics: Metrics) -> float:
    """Return where the lowest row ends: the words, where there are any."""
    return rows.words[-1][1] + metrics.descent("regular", UNIT) if rows.words else rows.bottom
