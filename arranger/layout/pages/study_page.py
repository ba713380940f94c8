"""Lay out studies on one page or two: as much of them as there is room for, each with its minutes and boxes to tick.

The hardest change, the loop and the triad come first where there is little room (`studies.offer.by_importance`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.model import Bookmark, Document, Item, Page
from arranger.layout.options import PartOptions
from arranger.layout.pages.head_and_foot import foot_height, missing_glyphs, set_foot
from arranger.layout.pages.study_cells import CELLS_APART, StudyCell, cell_width, row_cell, sound_cell
from arranger.layout.pages.study_strips import (
    LINES_APART,
    STUDIES_APART,
    Piece,
    Strip,
    foot_strip,
    head_strip,
    heading_strip,
    joined,
    lines_of,
    row_count,
)
from arranger.layout.text import Metrics
from arranger.studies.minutes import shared_out
from arranger.studies.model import Studies, Study, TimedStudy
from arranger.studies.offer import by_importance
from arranger.text.diagnostics import Diagnostic

FOOT_GAP = 6.0
ROWS_A_PAGE = {"change": 6, "loop": 7, "triad": 9, "octaves": 6, "sounds": 6}  # more is no study but a book of them


class LaidStudies(NamedTuple):
    """The pages, what stands on them with its minutes, and the headings of studies for which there was no room."""

    document: Document
    timed: tuple[TimedStudy, ...]
    left_out: tuple[str, ...]


def lay_out_studies(
    studies: Studies, minutes: int, pages: int, options: PartOptions, metrics: Metrics
) -> tuple[LaidStudies, tuple[Diagnostic, ...]]:
    """Lay out studies, at least one, on so many pages at most.

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
    """Chooses what fits and places it. Strips are set once, and placed at the end."""

    def __init__(self, studies: Studies, minutes: int, pages: int, options: PartOptions, metrics: Metrics) -> None:
        self._studies, self._minutes, self._pages = studies, minutes, pages
        self._options, self._metrics = options, metrics
        self._width = options.paper.width - 2 * style.SIDE_FULL
        self._bottom = options.paper.height - style.BOTTOM - foot_height(metrics) - FOOT_GAP
        self._cells: dict[tuple[int, int], StudyCell] = {}
        self._set: dict[tuple[int, ...], list[Strip]] = {}
        self._index = {id(study): index for index, study in enumerate(studies.studies)}
        titles = studies.titles
        name = studies.name or (titles[0] if len(titles) == 1 else "")
        self._title = f"Studies: {name}" if name else f"Studies from {len(titles)} songs"
        self._head = head_strip(self._title, titles, minutes, self._width, metrics)
        self._foot = foot_strip(self._width, metrics)

    def chosen(self) -> list[int]:
        """Return how many rows of each study there is room for: the most important first (`offer.by_importance`)."""
        most = [min(row_count(study), ROWS_A_PAGE[study.kind] * self._pages) for study in self._studies.studies]
        counts = [1, *[0] * (len(most) - 1)]
        for study, rows in by_importance(self._studies.studies):
            before = counts[study]
            counts[study] = min(max(before, rows), most[study])
            if counts[study] > before and not self._fits(counts):
                counts[study] = before
        return counts

    def _fits(self, counts: Sequence[int]) -> bool:
        """Return whether so many rows of each study have room, whatever their minutes are."""
        timed = tuple(
            TimedStudy(study, self._minutes, count)
            for study, count in zip(self._studies.studies, counts, strict=True)
            if count
        )
        return self._places(self._strips(timed))[-1][0] < self._pages

    def timed(self, counts: Sequence[int]) -> tuple[TimedStudy, ...]:
        """Return the chosen studies with their minutes."""
        chosen = [(study, count) for study, count in zip(self._studies.studies, counts, strict=True) if count]
        minutes = shared_out(self._minutes, [study.weight for study, _ in chosen])
        return tuple(TimedStudy(study, each, count) for (study, count), each in zip(chosen, minutes, strict=True))

    def _strips(self, timed: Sequence[TimedStudy]) -> list[Strip]:
        """Return the head, the studies, and the foot; two short studies in a row stand side by side."""
        strips = [self._head]
        number = 0
        while number < len(timed):
            short = self._short(timed[number])
            here = [one for one in timed[number : number + 2] if self._short(one)] if short else [timed[number]]
            known = (number, *(fact for one in here for fact in (self._index[id(one.study)], one.minutes, one.rows)))
            if known not in self._set:
                self._set[known] = [self._side_by_side(number, here)] if short else self._study(number, here[0])
            strips += self._set[known]
            number += len(here)
        return [*strips, self._foot]

    def _cell(self, one: TimedStudy, row: int) -> StudyCell:
        """Return a row of a study as it is drawn, made once."""
        study, place = one.study, (self._index[id(one.study)], row)
        if place not in self._cells:
            if study.kind == "sounds":
                self._cells[place] = sound_cell(study.sounds[row], self._width, self._metrics)
            else:
                with_left = study.kind in ("change", "octaves")
                self._cells[place] = row_cell(study.rows[row], self._width, self._metrics, with_left=with_left)
        return self._cells[place]

    def _short(self, one: TimedStudy) -> bool:
        """Return whether a study takes half the width: a change in one key, unless its hands lie far apart."""
        alone = one.study.kind == "change" and len(one.study.rows) == 1
        return alone and self._cell(one, 0).width < self._width

    def _study(self, number: int, one: TimedStudy) -> list[Strip]:
        """Return a study as one strip; as its heading with the first line and other lines where it fills a page."""
        heading = heading_strip(number, one, False, self._width, self._metrics)
        first, *others = lines_of([self._cell(one, row) for row in range(one.rows)], self._width, self._metrics)
        strips = [joined([heading, first]), *others]
        if sum(strip.height for strip in strips) <= self._bottom - style.TOP - self._foot.height - STUDIES_APART:
            strips = [joined(strips)]
        strips[-1] = strips[-1]._replace(height=strips[-1].height + STUDIES_APART)
        return strips

    def _side_by_side(self, number: int, studies: Sequence[TimedStudy]) -> Strip:
        """Return one short study, or two beside each other: their rows stand on one height."""
        headings = [
            heading_strip(number + column, one, True, self._width, self._metrics) for column, one in enumerate(studies)
        ]
        top = max(heading.height for heading in headings)
        pieces: tuple[Piece, ...] = ()
        bottom = 0.0
        for column, (one, heading) in enumerate(zip(studies, headings, strict=True)):
            x = column * (cell_width(self._width) + CELLS_APART)
            cell = self._cell(one, 0)
            pieces += (*heading.at(x, 0.0), (cell.items, x, top))
            bottom = max(bottom, cell.height)
        numbers = tuple(range(number, number + len(studies)))
        return Strip(pieces, top + bottom + LINES_APART + STUDIES_APART, numbers)

    def _places(self, strips: Sequence[Strip]) -> list[tuple[int, float]]:
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

    def document(self, timed: Sequence[TimedStudy]) -> Document:
        """Place the chosen studies."""
        strips = self._strips(timed)
        places = self._places(strips)
        count = places[-1][0] + 1
        pages: list[list[Item]] = [[] for _ in range(count)]
        bookmarks = []
        for strip, (page, y) in zip(strips, places, strict=True):
            pages[page] += strip.placed(style.SIDE_FULL, y)
            for number in strip.studies:
                bookmarks.append(Bookmark(f"{number + 1} {heading_words(timed[number].study)}", page, y))
        size = self._options.paper.width, self._options.paper.height
        about = " · ".join(filter(None, (f"{self._minutes} minutes", self._options.date)))
        for number, items in enumerate(pages):
            right = f"{number + 1} of {count}" if count > 1 else ""
            following = ("turn over",) if number + 1 < count else ()
            items += set_foot(self._title, about, following, right, self._metrics, size, style.SIDE_FULL)
        made = tuple(Page(*size, tuple(items), label=str(number)) for number, items in enumerate(pages, 1))
        subject = f"studies for {self._minutes} minutes"
        return Document(made, self._title, subject=subject, bookmarks=tuple(bookmarks))
