"""Lay out studies on one page or two: as much of them as there is room for, each with its minutes and boxes to tick.

The hardest change, the loop and the triad come first where there is little room (`studies.offer.by_importance`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.margin_text import tempo_words
from arranger.layout.content.symbols import chord_runs
from arranger.layout.model import Bookmark, Document, Item, Line, Page, moved
from arranger.layout.options import PartOptions
from arranger.layout.pages.head_and_foot import foot_height, missing_glyphs, set_foot
from arranger.layout.pages.study_cells import (
    CELLS_APART,
    LEADING,
    TEXT,
    StudyCell,
    cell_width,
    printed,
    row_cell,
    sound_cell,
)
from arranger.layout.style import Sizes
from arranger.layout.text import Metrics, Run, cut, place, runs, width_of, wrap
from arranger.song.model import Tempo
from arranger.studies.minutes import shared_out
from arranger.studies.model import Studies, Study, TimedStudy
from arranger.studies.offer import by_importance
from arranger.text.diagnostics import Diagnostic
from arranger.theory.chord import Chord

TITLE = 18.0
TITLES_LINES = 3  # of the songs' titles
HEADING = 11.0
HEADING_SIZES = Sizes(chord=12.5, raised=9.8, rise=3.5)
HEADING_LEADING = 15.0
BOX = 9.0  # a box to tick in pencil
BOX_GAP = 3.0
TEMPI_APART = 9.0
STUDIES_APART = 7.0
LINES_APART = 5.0
FOOT_GAP = 6.0
ROWS_A_PAGE = {"change": 6, "loop": 7, "triad": 9, "octaves": 6, "sounds": 6}  # more is no study but a book of them

# How to practise, with what was found and no more; figures lead to the sources.
HOW = (
    "Play each study through correctly, at a tempo at which it is right: the share of correct trials goes with what is "
    "kept, not their number or the time (1). Go round the studies in short turns rather than one after the other to "
    "the end: where ratings differed, taking turns was generally better (2). Sleep on it: the accuracy of a keyboard "
    "sequence rose in a session after 24 hours (3); of minutes between turns no effect was found (4). Hear it first: a "
    "model helped rhythm and tempo, and patterns of raising the tempo made no difference (5). So the three tempi "
    "(half, two thirds, the song's) are a convention. Tick a box when the study was right at its tempo."
)
SOURCES = (
    "1 Duke, Simmons and Cash 2009, J. Res. Music Educ. 56:310. 2 Carter and Grahn 2016, Front. Psychol. 7:1251. "
    "3 Simmons 2012, J. Res. Music Educ. 59:357. 4 Wiseheart 2017. 5 Henley 2001, J. Res. Music Educ."
)
CAUTION = (
    "A wide stretch held long, or one pattern repeated too long, can hurt. Your own limits rule, not the page: leave "
    "notes out, rest, and stop where it hurts."
)


class LaidStudies(NamedTuple):
    """The pages, what stands on them with its minutes, and the headings of studies for which there was no room."""

    document: Document
    timed: tuple[TimedStudy, ...]
    left_out: tuple[str, ...]


class _Strip(NamedTuple):
    """What is placed across the page and not parted: items from (0, 0) on, and their height with the gap under it."""

    items: tuple[Item, ...]
    height: float
    studies: tuple[int, ...] = ()  # whose headings it has


def _joined(strips: Sequence[_Strip]) -> _Strip:
    """Return strips one under the other as one."""
    items: list[Item] = []
    y = 0.0
    for strip in strips:
        items += (moved(item, 0.0, y) for item in strip.items)
        y += strip.height
    return _Strip(tuple(items), y)


def lay_out_studies(
    studies: Studies, minutes: int, pages: int, options: PartOptions, metrics: Metrics
) -> tuple[LaidStudies, tuple[Diagnostic, ...]]:
    """Lay out studies on so many pages at most.

    Returns:
        The pages with what stands on them, and an error for each character that no font has.
    """
    sheet = _Sheet(studies, minutes, pages, options, metrics)
    counts = sheet.chosen()
    timed = sheet.timed(counts)
    document = sheet.document(timed)
    left = tuple(heading_words(study) for study, count in zip(studies.studies, counts, strict=True) if not count)
    return LaidStudies(document, timed, left), missing_glyphs(document.pages, metrics)


def heading_words(study: Study) -> str:
    """Return the heading of a study as plain text."""
    return "".join(map(str, study.heading))


class _Sheet:
    """Chooses what fits and places it."""

    def __init__(self, studies: Studies, minutes: int, pages: int, options: PartOptions, metrics: Metrics) -> None:
        self._studies, self._minutes, self._pages = studies, minutes, pages
        self._options, self._metrics = options, metrics
        self._width = options.paper.width - 2 * style.SIDE_FULL
        self._bottom = options.paper.height - style.BOTTOM - foot_height(metrics) - FOOT_GAP
        self._made: dict[tuple[int, int], StudyCell] = {}

    def _cell(self, study: int, row: int) -> StudyCell:
        """Return a row of a study as it is drawn, made once."""
        if (study, row) not in self._made:
            one = self._studies.studies[study]
            if one.kind == "sounds":
                cell = sound_cell(one.sounds[row], self._width, self._metrics)
            else:
                with_left = one.kind in ("change", "octaves")
                cell = row_cell(one.rows[row], self._width, self._metrics, with_left=with_left)
            self._made[study, row] = cell
        return self._made[study, row]

    @cached_property
    def _most(self) -> tuple[int, ...]:
        """How many rows of each study are shown at most."""
        return tuple(min(_rows(study), ROWS_A_PAGE[study.kind] * self._pages) for study in self._studies.studies)

    def chosen(self) -> list[int]:
        """Return how many rows of each study there is room for: the most important first (`offer.by_importance`)."""
        counts = [0] * len(self._studies.studies)
        counts[0] = 1
        for study, rows in by_importance(self._studies.studies):
            before = counts[study]
            counts[study] = min(max(before, rows), self._most[study])
            if counts[study] > before and not self._fits(counts):
                counts[study] = before
        return counts

    def _fits(self, counts: Sequence[int]) -> bool:
        """Return whether so many rows of each study have room; minutes change no height."""
        timed = tuple(
            TimedStudy(study, 1, count) for study, count in zip(self._studies.studies, counts, strict=True) if count
        )
        places = self._places(self._strips(timed))
        return len({page for page, _ in places}) <= self._pages

    def timed(self, counts: Sequence[int]) -> tuple[TimedStudy, ...]:
        """Return the chosen studies with their minutes."""
        chosen = [(study, count) for study, count in zip(self._studies.studies, counts, strict=True) if count]
        minutes = shared_out(self._minutes, [study.weight for study, _ in chosen])
        return tuple(TimedStudy(study, each, count) for (study, count), each in zip(chosen, minutes, strict=True))

    def _strips(self, timed: Sequence[TimedStudy]) -> list[_Strip]:
        """Return the head, the studies, and the foot; two short studies in a row stand side by side."""
        strips = [self._head]
        number = 0
        while number < len(timed):
            if _short(timed[number]):
                pair = [one for one in timed[number : number + 2] if _short(one)]
                strips.append(self._side_by_side(number, pair))
                number += len(pair)
                continue
            strips += self._study(number, timed[number])
            number += 1
        return [*strips, self._foot]

    def _study(self, number: int, one: TimedStudy) -> list[_Strip]:
        """Return a study as one strip; as its heading with the first line and other lines where it fills a page."""
        heading, index = self._heading(number, one, self._width), self._studies.studies.index(one.study)
        lines = self._lines([self._cell(index, row) for row in range(one.rows)])
        strips = [_joined([heading, lines[0]])._replace(studies=(number,)), *lines[1:]]
        if sum(strip.height for strip in strips) <= self._bottom - style.TOP - self._foot.height:
            strips = [_joined(strips)._replace(studies=(number,))]
        strips[-1] = strips[-1]._replace(height=strips[-1].height + STUDIES_APART)
        return strips

    def _side_by_side(self, number: int, studies: Sequence[TimedStudy]) -> _Strip:
        """Return one short study, or two beside each other: their rows stand on one height."""
        half = cell_width(self._width)
        headings = [self._heading(number + column, one, half) for column, one in enumerate(studies)]
        top = max(heading.height for heading in headings)
        items: list[Item] = []
        bottom = 0.0
        for column, (one, heading) in enumerate(zip(studies, headings, strict=True)):
            x = column * (half + CELLS_APART)
            cell = self._cell(self._studies.studies.index(one.study), 0)
            items += (moved(item, x, 0.0) for item in heading.items)
            items += (moved(item, x, top) for item in cell.items)
            bottom = max(bottom, cell.height)
        numbers = tuple(range(number, number + len(studies)))
        return _Strip(tuple(items), top + bottom + LINES_APART + STUDIES_APART, numbers)

    def _places(self, strips: Sequence[_Strip]) -> list[tuple[int, float]]:
        """Return the page and the top of each strip; the last one stands at the bottom of its page."""
        places: list[tuple[int, float]] = []
        page, y = 0, style.TOP
        for strip in strips:
            if y + strip.height > self._bottom and y > style.TOP:
                page, y = page + 1, style.TOP
            places.append((page, y))
            y += strip.height
        places[-1] = places[-1][0], self._bottom - strips[-1].height
        return places

    def _lines(self, cells: Sequence[StudyCell]) -> list[_Strip]:
        """Set cells side by side as far as they fit; their pictures stand on one height."""
        lines: list[list[StudyCell]] = []
        used = 0.0
        for cell in cells:
            if not lines or used + CELLS_APART + cell.width > self._width + 0.01:
                lines.append([])
                used = -CELLS_APART
            lines[-1].append(cell)
            used += CELLS_APART + cell.width
        return [self._line(line) for line in lines]

    def _line(self, cells: Sequence[StudyCell]) -> _Strip:
        label = max(len(cell.label) for cell in cells) * LEADING
        items: list[Item] = []
        x = 0.0
        for cell in cells:
            y = label - len(cell.label) * LEADING
            for text in cell.label:
                y += LEADING
                items += place(runs(text, "regular", TEXT, self._metrics), x, y - 2.0, "label", grey=style.QUIET_GREY)
            items += (moved(item, x, label) for item in cell.items)
            x += cell.width + CELLS_APART
        gap = 0.0 if cells[0].width == self._width else LINES_APART
        return _Strip(tuple(items), label + max(cell.height for cell in cells) + gap)

    # Texts.

    def _text(self, text: str, most: int | None = None, size: float = TEXT) -> _Strip:
        """Set a paragraph, in so many lines at most."""
        lines = wrap(text, "regular", size, self._width, self._metrics)
        if most is not None and len(lines) > most:
            rest = " ".join(lines[most - 1 :])
            lines = (*lines[: most - 1], cut(rest, "regular", size, self._width, self._metrics))
        items: list[Item] = []
        leading = size * LEADING / TEXT
        for number, line in enumerate(lines, 1):
            items += place(runs(line, "regular", size, self._metrics), 0.0, number * leading - 2.0, "text")
        return _Strip(tuple(items), len(lines) * leading)

    @cached_property
    def _head(self) -> _Strip:
        """The title, how long, the songs, and how to practise."""
        metrics, titles = self._metrics, self._studies.titles
        alone = len(titles) == 1
        length = runs(f"{self._minutes} minutes", "bold", style.HEADER, metrics)
        room = self._width - width_of(length) - CELLS_APART
        title = cut(
            f"Studies: {titles[0]}" if alone else f"Studies from {len(titles)} songs", "bold", TITLE, room, metrics
        )
        baseline = metrics.rise(title + "d", "bold", TITLE)
        items: list[Item] = [*place(runs(title, "bold", TITLE, metrics), 0.0, baseline, "title")]
        items += place(length, self._width - width_of(length), baseline, "minutes")
        y = baseline + metrics.descent("bold", TITLE) + 2.0
        for strip in ([] if alone else [self._text(" · ".join(titles), TITLES_LINES, 10.0)]) + [self._text(HOW)]:
            items += (moved(item, 0.0, y) for item in strip.items)
            y += strip.height + 2.0
        items.append(Line(0.0, y + 2.0, self._width, y + 2.0, style.BARLINE, "rule", style.LINE_GREY))
        return _Strip(tuple(items), y + 2.0 + STUDIES_APART)

    @cached_property
    def _foot(self) -> _Strip:
        """The sources, and the caution for hands that hurt."""
        sources, caution = self._text(SOURCES), self._text(CAUTION)
        below = (moved(item, 0.0, sources.height + 2.0) for item in caution.items)
        return _Strip((*sources.items, *below), sources.height + 2.0 + caution.height)

    def _heading(self, number: int, one: TimedStudy, width: float) -> _Strip:
        """The name of a study, its minutes and, for each tempo, a box to tick: beside it where there is room."""
        boxes, boxes_width = self._boxes(one)
        mark = runs(f"{number + 1}  ", "bold", HEADING, self._metrics)
        indent = width_of(mark)
        pieces = _pieces(one.study.heading, self._metrics)
        beside = width > cell_width(self._width) + 1.0
        room = width - indent - (boxes_width + CELLS_APART if beside else 0.0)
        items: list[Item] = [*place(mark, 0.0, HEADING_LEADING - 3.0, "heading")]
        y = 0.0
        for line in _broken(pieces, room):
            y += HEADING_LEADING
            items += place(line, indent, y - 3.0, "heading")
        if not beside:
            y += HEADING_LEADING
        at = (width - boxes_width, HEADING_LEADING - 3.0) if beside else (indent, y - 3.0)
        items += (moved(item, *at) for item in boxes)
        hidden = _rows(one.study) - one.rows
        remark = " ".join(
            filter(None, (one.study.remark, f"{one.rows} of {_rows(one.study)} shown." if hidden else ""))
        )
        if remark:
            strip = self._text(remark, 2)
            items += (moved(item, 0.0, y) for item in strip.items)
            y += strip.height
        return _Strip(tuple(items), y + 1.0)

    def _boxes(self, one: TimedStudy) -> tuple[list[Item], float]:
        """Set boxes and minutes on a baseline at y 0, and return how wide they are."""
        metrics, study = self._metrics, one.study
        minutes = f"{one.minutes} min"
        items: list[Item] = []
        x = 0.0
        marks = ["done"] if study.kind == "sounds" else []
        if not marks:
            marks = [tempo_words(Tempo(str(bpm), bpm, study.tempo.unit)) for bpm in study.tempi]
        for mark in marks:
            text = runs(mark, "regular", TEXT, metrics)
            items += place(text, x, 0.0, "tempo")
            x += width_of(text) + BOX_GAP
            items += _box(x, 1.0 - BOX)
            x += BOX + TEMPI_APART
        text = runs(minutes, "bold", HEADING, metrics)
        items += place(text, x, 0.0, "minutes")
        return items, x + width_of(text)

    # Pages.

    def document(self, timed: Sequence[TimedStudy]) -> Document:
        """Place the chosen studies."""
        strips = self._strips(timed)
        places = self._places(strips)
        count = places[-1][0] + 1
        pages: list[list[Item]] = [[] for _ in range(count)]
        bookmarks = []
        for strip, (page, y) in zip(strips, places, strict=True):
            pages[page] += (moved(item, style.SIDE_FULL, y) for item in strip.items)
            for number in strip.studies:
                bookmarks.append(Bookmark(f"{number + 1} {heading_words(timed[number].study)}", page, y))
        paper, titles = self._options.paper, self._studies.titles
        title = f"Studies: {titles[0]}" if len(titles) == 1 else f"Studies from {len(titles)} songs"
        size = paper.width, paper.height
        about = " · ".join(filter(None, (f"{self._minutes} minutes", self._options.date)))
        for number, items in enumerate(pages):
            right = f"{number + 1} of {count}" if count > 1 else ""
            following = "turn over" if number + 1 < count else ""
            items += set_foot(title, about, following, right, self._metrics, size, style.SIDE_FULL)
        made = tuple(Page(*size, tuple(items), label=str(number)) for number, items in enumerate(pages, 1))
        return Document(made, title, subject=f"studies for {self._minutes} minutes", bookmarks=tuple(bookmarks))


def _rows(study: Study) -> int:
    return len(study.sounds) if study.kind == "sounds" else len(study.rows)


def _pieces(heading: Sequence[str | Chord], metrics: Metrics) -> list[list[Run]]:
    """Set a heading in pieces between which a line may end: before a word, or a chord that follows a blank."""
    pieces: list[list[Run]] = [[]]
    for part in heading:
        if isinstance(part, Chord):
            pieces[-1] += chord_runs(part, metrics, HEADING_SIZES)
            continue
        words = printed(part).split(" ")
        for number, word in enumerate(words):
            if number:
                pieces.append(list(runs(" ", "bold", HEADING, metrics)))
            pieces[-1] += runs(word, "bold", HEADING, metrics)
    return [piece for piece in pieces if piece]


def _broken(pieces: Sequence[list[Run]], room: float) -> list[list[Run]]:
    """Set pieces side by side on as many lines as they need; a line begins with no blank."""
    lines: list[list[Run]] = [[]]
    for piece in pieces:
        if lines[-1] and width_of((*lines[-1], *piece)) > room:
            lines.append([])
        lines[-1] += piece[1:] if not lines[-1] and piece[0].text == " " else piece
    return lines


def _short(one: TimedStudy) -> bool:
    """Return whether a study takes half the width: a change in one key."""
    return one.study.kind == "change" and len(one.study.rows) == 1


def _box(x: float, y: float) -> list[Item]:
    ends = ((x, y, x + BOX, y), (x + BOX, y, x + BOX, y + BOX), (x + BOX, y + BOX, x, y + BOX), (x, y + BOX, x, y))
    return [Line(*end, style.BARLINE, "box") for end in ends]
