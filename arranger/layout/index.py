"""Lay out the index of many songs: lists of them in several orders, whose lines lead to the songs' parts.

A list begins on a page of its own, unless all of it fits below the one before. What the songs of a group have in common
stands once in the left column, and again, light, where a page begins inside the group. A list over several pages has
all its groups in the right margin, those of the page in white on black: they show at the edge of the closed sheets,
and lead there on a screen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from arranger.layout import style
from arranger.layout.index_rows import (
    FACTS,
    TEMPO_WIDEST,
    TITLE,
    WORDS,
    IndexColumns,
    IndexList,
    IndexRow,
    at_number,
    columns_of,
    label_runs,
    row_of,
    title_rise,
)
from arranger.layout.model import Bookmark, Box, Document, Face, FileLink, Item, Line, Link, Page
from arranger.layout.pages.head_and_foot import foot_height, missing_glyphs, set_foot
from arranger.layout.text import Metrics, cut, elided, place, rise_of, runs, width_of, wrap
from arranger.text.diagnostics import Diagnostic
from arranger.units import A4, Paper, Rect, mm

LIST_GAP = 22.0  # above a list that begins below another
GROUP_GAP = 7.0  # between groups, with a hairline in the middle
HEAD_GAP = 14.0  # under the title of the whole
COLUMNS_GAP = 5.0  # between the name of a list and the heads of its columns, and under their rule
RULE_GAP = 1.5
FOOT_ROOM = 12.0
TABS_FROM = 3  # pages of a list that has its groups in the margin: fewer are leafed through as quickly
TAB_WIDTH = 20.0
TAB_EDGE = mm(6)  # what printers leave white
TAB_HEIGHT = 15.0  # of a group in the margin; less where there are many
TAB_LEAST = 10.0
SEPARATOR = "   ·   "
EVERY = 5  # lines after which a little room leads the eye across, as in long tables
EVERY_GAP = 3.5


@dataclass(slots=True)
class _Sheet:
    """A page in the making: `groups` that have lines on it, as (list, group); `titles` of the first list on it."""

    items: list[Item] = field(default_factory=list)
    links: list[Link | FileLink] = field(default_factory=list)
    groups: list[tuple[int, int]] = field(default_factory=list)
    titles: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Flow:
    """Where the next line stands. Mutable; lives for one index."""

    title: str
    lists: Sequence[IndexList]
    metrics: Metrics
    paper: Paper
    sheets: list[_Sheet] = field(default_factory=list)
    y: float = 0.0
    bookmarks: list[Bookmark] = field(default_factory=list)
    places: dict[tuple[int, int], int] = field(default_factory=dict)  # bookmarks of lists (n, -1) and groups
    ways: list[tuple[Rect, int]] = field(default_factory=list)  # of the first page, to lists that come later

    @property
    def width(self) -> float:
        return self.paper.width - 2 * style.SIDE

    @property
    def bottom(self) -> float:
        return self.paper.height - style.BOTTOM - foot_height(self.metrics) - FOOT_ROOM

    @property
    def sheet(self) -> _Sheet:
        return self.sheets[-1]

    def turn(self) -> None:
        """Begin a page."""
        self.sheets.append(_Sheet())
        self.y = style.TOP

    def mark(self, number: int, group: int, title: str) -> None:
        """Note that a list (group -1) or a group begins here."""
        if (number, group) not in self.places:
            self.places[number, group] = len(self.bookmarks)
            self.bookmarks.append(Bookmark(title, len(self.sheets) - 1, self.y, level=0 if group < 0 else 1))

    def write(
        self, text: str, face: Face, size: float, x: float, y: float, role: str, grey: float = 0.0, share: float = 0.0
    ) -> float:
        """Place a text at x from the left margin, or so that a share of it stands before x; return where it ends."""
        parts = runs(text, face, size, self.metrics)
        width = width_of(parts)
        self.sheet.items += place(parts, style.SIDE + x - width * share, y, role, grey=grey)
        return x + width


def lay_out_index(
    title: str, count: str, lists: Sequence[IndexList], metrics: Metrics, paper: Paper = A4
) -> tuple[Document, tuple[Diagnostic, ...]]:
    """Lay out an index with a title over the whole; `count` says how many songs there are, each list has one at least.

    Returns:
        The pages, and an error for each character that no font has; it is printed as a missing sign.
    """
    flow = _Flow(title, lists, metrics, paper)
    flow.turn()
    _title(flow, count)
    for number in range(len(lists)):
        _list(flow, number)
    pages = tuple(_finished(flow, at, sheet, count) for at, sheet in enumerate(flow.sheets))
    document = Document(pages, title, subject=f"index of {count}", bookmarks=tuple(flow.bookmarks))
    return document, missing_glyphs(pages, metrics)


def _title(flow: _Flow, count: str) -> None:
    """Place the title and, under it, the number of songs and the ways to the lists."""
    metrics, size = flow.metrics, style.HEADER
    for line in wrap(flow.title, "bold", style.TITLE, flow.width, metrics)[:3]:
        flow.y += rise_of(runs(line, "bold", style.TITLE, metrics), metrics)
        flow.write(line, "bold", style.TITLE, 0.0, flow.y, "heading")
        flow.y += metrics.descent("bold", style.TITLE)
    flow.y += metrics.rise("dl", "regular", size) + 3.0
    below = metrics.descent("regular", size)
    at = flow.write(count, "regular", size, 0.0, flow.y, "heading", style.QUIET_GREY)
    for number, index in enumerate(flow.lists):
        text = f"{SEPARATOR}{index.name.lower()}"
        end = flow.write(text, "regular", size, at, flow.y, "heading", style.QUIET_GREY)
        flow.ways.append((Rect(style.SIDE + at, flow.y - size, end - at, size + below), number))
        at = end
    flow.y += below + HEAD_GAP


def _list(flow: _Flow, number: int) -> None:
    """Place a list: below what is there if all of it fits, else from the top of a page."""
    index, metrics = flow.lists[number], flow.metrics
    columns = columns_of(index, flow.width, metrics)
    groups = [[row_of(line, columns, metrics) for line in group.lines] for group in index.groups]
    if number:
        name = metrics.rise("Bl", "bold", style.SECTION) + metrics.descent("bold", style.SECTION)
        small = metrics.rise("dl", "regular", style.SMALL) + metrics.descent("regular", style.SMALL)
        whole = name + COLUMNS_GAP + small + RULE_GAP + COLUMNS_GAP
        for rows in groups:
            whole += sum(row.height for row in rows) + EVERY_GAP * ((len(rows) - 1) // EVERY) + GROUP_GAP
        if flow.y + LIST_GAP + whole > flow.bottom:
            flow.turn()
        else:
            flow.y += LIST_GAP
    flow.mark(number, -1, index.name)
    _head(flow, index.name, "", columns)
    for at, rows in enumerate(groups):
        _group(flow, (number, at), rows, columns)


def _group(flow: _Flow, place_of: tuple[int, int], rows: Sequence[IndexRow], columns: IndexColumns) -> None:
    """Place the lines of a group, over as many pages as it needs; two lines at least stand together."""
    number, at = place_of
    group = flow.lists[number].groups[at]
    for index, row in enumerate(rows):
        first = index == 0
        gap = (GROUP_GAP if at else 0.0) if first else (EVERY_GAP if index % EVERY == 0 else 0.0)
        together = row.height + (rows[1].height if first and len(rows) > 1 else 0.0)
        alone = index == len(rows) - 2 and flow.y + gap + row.height + rows[-1].height > flow.bottom and index > 1
        new_page = flow.y + gap + together > flow.bottom or alone
        if new_page:
            flow.turn()
            _head(flow, flow.lists[number].name, ", continued", columns)
        elif first and at:
            middle = flow.y + gap / 2
            rule = Line(style.SIDE, middle, style.SIDE + flow.width, middle, style.HAIR, "rule", style.BLACK_KEY_TINT)
            flow.sheet.items.append(rule)
        flow.y += 0.0 if new_page else gap
        if first:
            flow.mark(number, at, group.label)
        if first or new_page:
            flow.sheet.groups.append(place_of)
            label, grey = label_runs(group, flow.metrics), 0.0 if first else style.LINE_GREY
            flow.sheet.items += place(label, style.SIDE, flow.y + row.above, "label", grey=grey)
        _row(flow, row, columns)
        if flow.sheet.groups[0][0] == number:
            flow.sheet.titles.append(row.line.title)
        flow.y += row.height


def _row(flow: _Flow, row: IndexRow, columns: IndexColumns) -> None:
    """Place a line; its title leads to the song's part in one way that viewers know, the rest in the other."""
    line, metrics = row.line, flow.metrics
    baseline = at = flow.y + row.above
    for number, text in enumerate(row.titles):
        if number:
            at += max(TITLE * 1.15, title_rise(text, metrics) + metrics.descent("bold", TITLE))
        article = line.article if not number and text.startswith(line.article) else ""
        bold = runs(text.removeprefix(article), "bold", TITLE, metrics)
        title = (*runs(article, "regular", TITLE, metrics), *bold)
        flow.sheet.items += place(title, style.SIDE + columns.title, at, "title")
    flow.write(line.key, "bold", FACTS, columns.key, baseline, "key")
    sign, rest = at_number(line.tempo)
    flow.write(sign, "regular", FACTS, columns.equals, baseline, "tempo", share=1.0)
    rest = cut(rest, "regular", FACTS, TEMPO_WIDEST, metrics)
    flow.write(rest, "regular", FACTS, columns.equals if sign else columns.tempo, baseline, "tempo")
    flow.write(line.meter, "regular", FACTS, columns.meter_right, baseline, "meter", share=1.0)
    flow.write(row.words, "regular", WORDS, columns.words, baseline, "words", style.QUIET_GREY)
    flow.write(row.last_set, "regular", WORDS, columns.last_set, baseline, "set", style.QUIET_GREY)
    if line.part:
        left, middle, right = style.SIDE + columns.title, style.SIDE + columns.key - 4.0, style.SIDE + flow.width
        flow.sheet.links += (
            FileLink(Rect(left, flow.y, middle - left, row.height), line.part, line.title),
            FileLink(Rect(middle, flow.y, right - middle, row.height), line.part, line.title, by_address=True),
        )


def _head(flow: _Flow, name: str, after: str, columns: IndexColumns) -> None:
    """Place the name of a list and the heads of its columns, with a rule under them."""
    metrics = flow.metrics
    flow.y += metrics.rise("Bl", "bold", style.SECTION)
    end = flow.write(name, "bold", style.SECTION, 0.0, flow.y, "list")
    flow.write(after, "regular", style.HEADER, end, flow.y, "list", style.QUIET_GREY)
    flow.y += metrics.descent("bold", style.SECTION) + COLUMNS_GAP + metrics.rise("dl", "regular", style.SMALL)
    starts = (columns.title, columns.key, columns.tempo, columns.meter_right, columns.words, columns.last_set)
    last_set = "last set" if columns.last_set_width else ""
    for text, x in zip(("title", "key", "tempo", "meter", "first words", last_set), starts, strict=True):
        share = 1.0 if text == "meter" else 0.0
        flow.write(text, "regular", style.SMALL, x, flow.y, "column", style.QUIET_GREY, share)
    flow.y += metrics.descent("regular", style.SMALL) + RULE_GAP
    rule = Line(style.SIDE, flow.y, style.SIDE + flow.width, flow.y, style.BARLINE, "rule", style.LINE_GREY)
    flow.sheet.items.append(rule)
    flow.y += COLUMNS_GAP


def _finished(flow: _Flow, at: int, sheet: _Sheet, count: str) -> Page:
    """Return a page with its margin, its foot and its links."""
    links = list(sheet.links)
    if at == 0:
        links += [Link(rect, flow.places[number, -1]) for rect, number in flow.ways]
    number = sheet.groups[0][0]
    here = [group for there, group in sheet.groups if there == number]
    pages = [page for page in flow.sheets if any(there == number for there, _ in page.groups)]
    if len(pages) >= TABS_FROM:
        _tabs(flow, number, sheet, here, links)
    page = f"page {at + 1} of {len(flow.sheets)}"
    named = flow.lists[number].name.lower() if len(flow.sheets) > 1 else count
    ends = _ends(flow.lists[number], here, sheet.titles) if len(pages) > 1 else ""
    foot = set_foot(
        flow.title, named, (ends,) if ends else (), page, flow.metrics, (flow.paper.width, flow.paper.height)
    )
    return Page(flow.paper.width, flow.paper.height, (*sheet.items, *foot), tuple(links), str(at + 1))


def _ends(index: IndexList, groups: Sequence[int], titles: Sequence[str]) -> str:
    """Return what a page of a list begins and ends with: groups, or titles where it is all of one group."""
    first, last = index.groups[groups[0]].label, index.groups[groups[-1]].label
    if len(groups) > 1:
        return f"{first} to {last}"
    return f"{first}: {titles[0]} to {titles[-1]}" if index.by_title and len(titles) > 1 else first


def _tabs(flow: _Flow, number: int, sheet: _Sheet, here: Sequence[int], links: list[Link | FileLink]) -> None:
    """Place a list's groups in the right margin, each always at the same height; those that are `here` in white."""
    groups, size = flow.lists[number].groups, style.SMALL
    step = (flow.bottom - style.TOP) / len(groups)
    height = min(TAB_HEIGHT, step)
    if height < TAB_LEAST:
        return
    left = flow.paper.width - TAB_EDGE - TAB_WIDTH
    for at, group in enumerate(groups):
        y = style.TOP + at * step + (step - height) / 2
        text = runs(elided(group.short, "bold", size, TAB_WIDTH, flow.metrics), "bold", size, flow.metrics)
        if at in here:
            sheet.items.append(Box(left, y, TAB_WIDTH, height, "tab"))
        x = left + (TAB_WIDTH - width_of(text)) / 2
        baseline = y + (height + flow.metrics.cap_height("bold", size)) / 2
        sheet.items += place(text, x, baseline, "tab", grey=1.0 if at in here else style.QUIET_GREY)
        links.append(Link(Rect(left, style.TOP + at * step, TAB_WIDTH, step), flow.places[number, at]))
