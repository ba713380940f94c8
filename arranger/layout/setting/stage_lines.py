"""Make the lines of a stage copy for pages of some width and height, before they have a place.

Lengths are in units of the copy: points at the one size of type at which it is set. What does not depend on the width
is kept, for many widths are tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from arranger.harmony.model import ChordId
from arranger.layout.content.model import MarginEntry, PlannedLine, Rows, SectionContent
from arranger.layout.model import Item
from arranger.layout.setting.barlines import Spot
from arranger.layout.setting.breaking import broken_row, fitting
from arranger.layout.setting.line_plan import evenly, placed_bars
from arranger.layout.setting.line_rows import TACET_ROW, rows_of
from arranger.layout.setting.margin import TextLine, heading, prompt_lines, text_lines
from arranger.layout.setting.music import set_bars, set_gutter, set_tacet
from arranger.layout.setting.spacing import (
    Group,
    Measure,
    MeasuredBar,
    Spaced,
    filled,
    fit,
    measured,
    shown_in,
)
from arranger.layout.style import BARS, BARS_AT_MOST, HEAD_GAP, LINE_GAP, PROMPT_GAP, STAGE_GUTTER, STAGE_LOOK, WORD_GAP
from arranger.layout.text import Metrics

NO_KEYS = (60, 72)  # a measure asks for the keys of pictures; a copy has none
HAIR = 1e-6  # a width that makes no difference to the eye
HEADING_AT_MOST = 6  # lines of text that stay with the music under them; more may be parted by a page's end


PhraseBreak = tuple[float, list[Group]]  # how a phrase is broken: the width that it needs, and its lines


class Music(NamedTuple):
    """The bars of a line, with the y of their rows and which verses stand under them.

    `cells`: bars stand in cells of such a share of the width, the same in all lines of a row; 0: as wide as they ask.
    """

    bars: Group
    rows: Rows
    verses: range
    gutter: float
    cells: int


@dataclass(frozen=True, slots=True)
class StageLine:
    """A line that no page divides.

    Attributes:
        section: which of the drawn sections it is of.
        first: the section begins here.
        above: texts over the music, from the top of the line.
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
        return tuple(column.chord for bar in bars for column in bar.content.columns if column.chord is not None)


class Typesetter:
    """Makes lines for pages of any size; keeps the widths of bars and the heights of lines."""

    def __init__(self, sections: Sequence[SectionContent], metrics: Metrics) -> None:
        self._sections = sections
        self._metrics = metrics
        self._measure = Measure(NO_KEYS, 0.0, 0.0, 0.0, STAGE_LOOK, metrics)
        self._rows: dict[tuple[Group, range], Rows] = {}
        self._phrases: dict[tuple[int, int, bool], list[tuple[Group, list[PhraseBreak]]]] = {}

    def lines(self, width: float, height: float) -> tuple[StageLine, ...]:
        """Return the lines of all sections for pages with so much room."""
        lines: list[StageLine] = []
        for number, section in enumerate(self._sections):
            lines += self._section(number, section, width, height)
        return tuple(lines)

    def _section(self, number: int, section: SectionContent, width: float, height: float) -> list[StageLine]:
        metrics, tacet = self._metrics, section.tacet_bars
        lines: list[StageLine] = []

        def short(texts: tuple[TextLine, ...], leads_on: bool = True) -> tuple[TextLine, ...]:
            """Return texts that stay with their music; those that are too many get lines of their own."""
            if len(texts) <= HEADING_AT_MOST:
                return texts
            lines.extend(StageLine(number, False, (text,), None, (), text.height, leads_on=leads_on) for text in texts)
            return ()

        for place_, row in enumerate(section.rows):
            above = heading(section, width, metrics) if place_ == 0 else text_lines(row.margin, width, metrics)
            above, below = short(above), short(prompt_lines(row.prompts, width, metrics))
            for music in self._row(number, place_, width, height) or (None,):
                lines.append(_line(number, above, music, below, tacet))
                above = below = ()
        closing = short(text_lines(section.closing, width, metrics), leads_on=False)
        if closing:
            last = lines[-1]
            lines[-1] = _line(number, last.above, last.music, (*last.below, *closing), tacet)
        again = text_lines((MarginEntry(f"({section.name})", "section again", section.span),), width, metrics)[0]
        return [replace(lines[0], first=True), *(replace(line, again=again) for line in lines[1:])]

    def _row(self, number: int, place_: int, width: float, height: float) -> list[Music]:
        """Break a row: hands stand side by side unless that takes more lines than one under the other."""
        section, row = self._sections[number], self._sections[number].rows[place_]
        if not row.bars:
            return []
        gutter = STAGE_GUTTER if section.numbered or row.verses > 1 else 0.0
        groups = self._groups((number, place_, False), width - gutter)
        if len(groups) > 1:
            groups = min(groups, self._groups((number, place_, True), width - gutter), key=len)
        cells = _cells(groups, width - gutter)
        return [
            Music(group, self._rows_of(group, verses), verses, gutter, cells)
            for group in groups
            for verses in self._divided(group, row.verses, height)
        ]

    def _groups(self, row: tuple[int, int, bool], width: float) -> list[Group]:
        """Return the bars of each line of a row, by section, place and whether hands are stacked.

        Fours, and evenly less where four do not fit.
        """
        phrases_ = self._phrases.get(row)
        if phrases_ is None:
            number, place_, stacked = row
            content = self._sections[number].rows[place_]
            bars = [measured(bar, self._measure) for bar in (content.stacked if stacked else content.bars)]
            phrases_ = self._phrases[row] = [(phrase, _breaks_of(phrase)) for phrase in phrases(bars)]
        groups: list[Group] = []
        for phrase, ways in phrases_:
            fits = next((broken for needs, broken in ways if needs <= width), None)
            groups += fits if fits is not None else self._narrow(phrase, width)
        return groups

    def _narrow(self, phrase: Group, width: float) -> list[Group]:
        """Break a phrase that has a bar too wide for a line."""
        measure = self._measure._replace(width=width)
        whole = ([bar] if bar.first.width <= width else fitting(bar.content, measure) for bar in phrase)
        return broken_row([part for parts in whole for part in parts], width)

    def _divided(self, group: Group, verses: int, height: float) -> list[range]:
        """Divide verses that would make a line higher than half a page: the chords stand over each group of them."""
        everything = range(verses)
        whole = self._rows_of(group, everything).height
        if verses < 2 or whole <= height / 2:
            return [everything]
        bare = self._rows_of(group, range(0)).height
        return evenly(verses, (height / 2 - bare) / ((whole - bare) / verses))

    def _rows_of(self, group: Group, verses: range) -> Rows:
        known = self._rows.get((group, verses))
        if known is None:
            pictures = [shown.pictures for shown in shown_in(group)]
            known = rows_of([bar.content for bar in group], pictures, verses, STAGE_LOOK, self._metrics)
            self._rows[group, verses] = known
        return known

    def placed(self, line: StageLine, width: float, x: float, y: float, at_top: bool) -> list[Item]:
        """Place a line, its top left at (x, y)."""
        items: list[Item] = []
        if at_top and line.again is not None:
            items += line.again.placed(x, y)
            y += line.again.height + HEAD_GAP
        for text in line.above:
            items += text.placed(x, y)
            y += text.height
        y += HEAD_GAP if line.above and (line.music is not None or line.tacet_bars is not None) else 0.0
        if line.music is not None:
            items += self._music(line.section, line.music, width, x, y)
            y += line.music.rows.height
        elif line.tacet_bars is not None:
            items += set_tacet(line.tacet_bars, x, y, self._metrics)
            y += TACET_ROW
        y += PROMPT_GAP if line.below else 0.0
        for text in line.below:
            items += text.placed(x, y)
            y += text.height
        return items

    def _music(self, section: int, music: Music, width: float, x: float, y: float) -> list[Item]:
        bars = placed_bars(music.bars, _spaced(music.bars, music.cells, width - music.gutter), self._measure)
        line = PlannedLine(section, bars=bars, verses=music.verses.stop, look=STAGE_LOOK)
        numbered = self._sections[section].numbered
        at = Spot(line, music.rows, x + music.gutter, y, self._metrics)
        return [*set_gutter(at, x + STAGE_GUTTER - WORD_GAP, numbered=numbered), *set_bars(at)]


def _line(
    section: int, above: tuple[TextLine, ...], music: Music | None, below: tuple[TextLine, ...], tacet_bars: int | None
) -> StageLine:
    middle = music.rows.height if music is not None else TACET_ROW if tacet_bars is not None else 0.0
    texts = sum(line.height for line in (*above, *below))
    texts += (HEAD_GAP if above else 0.0) + (PROMPT_GAP if below else 0.0)
    return StageLine(section, False, above, music, below, texts + middle + LINE_GAP, tacet_bars=tacet_bars)


def _breaks_of(phrase: Group) -> list[PhraseBreak]:
    """Return all ways in which a phrase is ever broken, the widest first.

    Lines that are as few and even as fits a width are so for every lesser width that they fit too: what is best of
    many is best of some. So the next way is that for a hair less than what the last one needs.
    """
    ways: list[PhraseBreak] = []
    width = float("inf")
    while True:
        groups = broken_row(phrase, width)
        needs = max(sum(shown.width for shown in shown_in(group)) for group in groups)
        if ways and needs >= ways[-1][0]:  # a bar alone is wider than that
            return ways
        ways.append((needs, groups))
        width = needs - HAIR


def _cells(groups: Sequence[Group], width: float) -> int:
    """Return in how many cells the lines of a row are divided, so that every bar is in one; 0 where none are."""
    bars = [bar.content for group in groups for bar in group]
    if any(bar.length != bars[0].length for bar in bars):
        return 0
    widest = max(shown.width for group in groups for shown in shown_in(group))
    most = max(len(group) for group in groups)
    return next((cells for cells in (max(BARS, most), most) if widest <= width / cells), 0)


def _spaced(bars: Group, cells: int, width: float) -> Spaced:
    """Space the bars of a line: equally wide, in the places of a line of four, wherever what is in them allows."""
    shown = shown_in(bars)
    if cells:
        cell = width / cells
        lefts = [number * cell for number in range(len(bars))]
        inside = [fit([bar.boxes], cell).columns[0] for bar in shown]
        columns = tuple(tuple(left + x for x in xs) for left, xs in zip(lefts, inside, strict=True))
        return Spaced(tuple(lefts), columns, lefts[-1] + cell, 0.0)
    return filled([bar.boxes for bar in shown], width)


def phrases(bars: Sequence[MeasuredBar]) -> list[Group]:
    """Divide a row into phrases of four bars; five stay together, and one is not left alone."""
    found: list[Group] = []
    start = 0
    while len(bars) - start > BARS_AT_MOST:
        found.append(tuple(bars[start : start + BARS]))
        start += BARS
    return [*found, tuple(bars[start:])]
