"""The index of many songs: lists of them in several orders -> a Document whose lines lead to the songs' parts.

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
    EVERY,
    EVERY_GAP,
    Columns,
    IndexGroup,
    IndexList,
    Row,
    columns_of,
    label_runs,
    row_of,
    set_row,
)
from arranger.layout.model import Bookmark, Box, Document, FileLink, Item, Line, Link, Page
from arranger.layout.pages.head_and_foot import foot_height, missing_glyphs, set_foot
from arranger.layout.text import Metrics, elided, place, runs, width_of, wrap
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


@dataclass(slots=True)
class _Sheet:
    """A page in the making.

    `groups` are those that have lines on it, as (list, group); `titles` the songs of the first list on it.
    """

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
    ways: list[tuple[int, Rect, int]] = field(default_factory=list)  # page, stretch, list: links to lists to come

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


def lay_out_index(
    title: str, count: str, lists: Sequence[IndexList], metrics: Metrics, paper: Paper = A4
) -> tuple[Document, tuple[Diagnostic, ...]]:
    """Lay out an index.

    Args:
        title: over the whole.
        count: how many songs there are, in words.
        lists: at least one, each with a line at least.
        metrics: of the fonts that will draw it.
        paper: the size of the pages.

    Returns:
        The pages, and an error for each character that no font has; it is printed as a missing sign.
    """
    flow = _Flow(title, lists, metrics, paper)
    flow.turn()
    _title(flow, count)
    for number, index in enumerate(lists):
        _list(flow, number, index)
    pages = tuple(_finished(flow, at, sheet, count) for at, sheet in enumerate(flow.sheets))
    document = Document(pages, title, subject=f"index of {count}", bookmarks=tuple(flow.bookmarks))
    return document, missing_glyphs(pages, metrics)


def _title(flow: _Flow, count: str) -> None:
    """Place the title and, under it, the number of songs and the ways to the lists."""
    metrics, sheet = flow.metrics, flow.sheet
    for line in wrap(flow.title, "bold", style.TITLE, flow.width, metrics)[:3]:
        text = runs(line, "bold", style.TITLE, metrics)
        flow.y += max(metrics.rise(run.text, run.face, run.size) for run in text)
        sheet.items += place(text, style.SIDE, flow.y, "heading")
        flow.y += metrics.descent("bold", style.TITLE)
    size = style.HEADER
    flow.y += metrics.rise("dl", "regular", size) + 3.0
    at = style.SIDE
    for number, words in enumerate((count, *(index.name for index in flow.lists))):
        text = runs(words if not number else f"{SEPARATOR}{words.lower()}", "regular", size, metrics)
        sheet.items += place(text, at, flow.y, "heading", grey=style.QUIET_GREY)
        if number:
            rect = Rect(at, flow.y - size, width_of(text), size + metrics.descent("regular", size))
            flow.ways.append((0, rect, number - 1))
        at += width_of(text)
    flow.y += metrics.descent("regular", size) + HEAD_GAP


def _list(flow: _Flow, number: int, index: IndexList) -> None:
    """Place a list: below what is there if all of it fits, else from the top of a page."""
    columns = columns_of(index, flow.width, flow.metrics)
    groups = [[row_of(line, columns, flow.metrics) for line in group.lines] for group in index.groups]
    if number:
        whole = _head_height(flow.metrics) + sum(_height(rows) + GROUP_GAP for rows in groups)
        if flow.y + LIST_GAP + whole > flow.bottom:
            flow.turn()
        else:
            flow.y += LIST_GAP
    flow.mark(number, -1, index.name)
    _head(flow, index.name, "", columns)
    for at, (group, rows) in enumerate(zip(index.groups, groups, strict=True)):
        _group(flow, (number, at), group, rows, columns)


def _height(rows: Sequence[Row]) -> float:
    return sum(row.height for row in rows) + EVERY_GAP * ((len(rows) - 1) // EVERY)


def _group(flow: _Flow, place_of: tuple[int, int], group: IndexGroup, rows: Sequence[Row], columns: Columns) -> None:
    """Place the lines of a group, over as many pages as it needs; two lines at least stand together."""
    number, at = place_of
    for index, row in enumerate(rows):
        first = index == 0
        gap = (GROUP_GAP if at else 0.0) if first else (EVERY_GAP if index % EVERY == 0 else 0.0)
        together = row.height + (rows[1].height if first and len(rows) > 1 else 0.0)
        alone = index == len(rows) - 2 and flow.y + gap + row.height + rows[-1].height > flow.bottom and index > 1
        new_page = flow.y + gap + together > flow.bottom or alone
        if new_page:
            flow.turn()
            _head(flow, flow.lists[number].name, "continued", columns)
        elif first and at:
            middle = flow.y + gap / 2
            rule = Line(style.SIDE, middle, style.SIDE + flow.width, middle, style.HAIR, "rule", style.BLACK_KEY_TINT)
            flow.sheet.items.append(rule)
        flow.y += 0.0 if new_page else gap
        if first:
            flow.mark(number, at, group.label)
        if first or new_page:
            flow.sheet.groups.append(place_of)
            grey = 0.0 if first else style.LINE_GREY
            label = label_runs(group, flow.metrics)
            flow.sheet.items += place(label, style.SIDE, flow.y + row.above, "label", grey=grey)
        flow.sheet.items += set_row(row, columns, style.SIDE, flow.y, flow.metrics)
        if flow.sheet.groups[0][0] == number:
            flow.sheet.titles.append(row.line.title)
        flow.sheet.links += _opening(row, columns, flow)
        flow.y += row.height


def _opening(row: Row, columns: Columns, flow: _Flow) -> list[FileLink]:
    """Lead from a line to the song's part: the title in one way that viewers know, the rest in the other."""
    if not row.line.part:
        return []
    left, right = style.SIDE + columns.title, style.SIDE + flow.width
    middle = style.SIDE + columns.key - 4.0
    title = row.line.title
    return [
        FileLink(Rect(left, flow.y, middle - left, row.height), row.line.part, title),
        FileLink(Rect(middle, flow.y, right - middle, row.height), row.line.part, title, by_address=True),
    ]


def _head_height(metrics: Metrics) -> float:
    small = metrics.rise("dl", "regular", style.SMALL) + metrics.descent("regular", style.SMALL)
    name = metrics.rise("Bl", "bold", style.SECTION) + metrics.descent("bold", style.SECTION)
    return name + COLUMNS_GAP + small + RULE_GAP + COLUMNS_GAP


def _head(flow: _Flow, name: str, after: str, columns: Columns) -> None:
    """Place the name of a list and the heads of its columns, with a rule under them."""
    metrics, items = flow.metrics, flow.sheet.items
    flow.y += metrics.rise("Bl", "bold", style.SECTION)
    heading = runs(name, "bold", style.SECTION, metrics)
    items += place(heading, style.SIDE, flow.y, "list")
    if after:
        told = runs(f", {after}", "regular", style.HEADER, metrics)
        items += place(told, style.SIDE + width_of(heading), flow.y, "list", grey=style.QUIET_GREY)
    flow.y += metrics.descent("bold", style.SECTION) + COLUMNS_GAP + metrics.rise("dl", "regular", style.SMALL)
    heads = (
        ("title", columns.title),
        ("key", columns.key),
        ("tempo", columns.tempo),
        ("meter", columns.meter_right - metrics.width("meter", "regular", style.SMALL)),
        ("first words", columns.words),
    )
    for text, x in heads:
        told = runs(text, "regular", style.SMALL, metrics)
        items += place(told, style.SIDE + x, flow.y, "column", grey=style.QUIET_GREY)
    flow.y += metrics.descent("regular", style.SMALL) + RULE_GAP
    rule = Line(style.SIDE, flow.y, style.SIDE + flow.width, flow.y, style.BARLINE, "rule", style.LINE_GREY)
    items.append(rule)
    flow.y += COLUMNS_GAP


def _finished(flow: _Flow, at: int, sheet: _Sheet, count: str) -> Page:
    """Return a page its margin, its foot and its links."""
    links = list(sheet.links)
    links += [Link(rect, flow.places[number, -1]) for page, rect, number in flow.ways if page == at]
    number = sheet.groups[0][0]
    pages = [page for page in flow.sheets if any(there == number for there, _ in page.groups)]
    if len(pages) >= TABS_FROM:
        _tabs(flow, number, sheet, links)
    page = f"page {at + 1} of {len(flow.sheets)}"
    named = flow.lists[number].name.lower() if len(flow.sheets) > 1 else count
    ends = _ends(flow.lists[number], [group for there, group in sheet.groups if there == number], sheet.titles)
    ends = ends if len(pages) > 1 else ""
    foot = set_foot(flow.title, named, ends, page, flow.metrics, (flow.paper.width, flow.paper.height))
    return Page(flow.paper.width, flow.paper.height, (*sheet.items, *foot), tuple(links), str(at + 1))


def _ends(index: IndexList, groups: Sequence[int], titles: Sequence[str]) -> str:
    """Return what a page of a list begins and ends with: groups, or titles where it is all of one group."""
    first, last = index.groups[groups[0]].label, index.groups[groups[-1]].label
    if len(groups) > 1:
        return f"{first} to {last}"
    return f"{first}: {titles[0]} to {titles[-1]}" if index.by_title and len(titles) > 1 else first


def _tabs(flow: _Flow, number: int, sheet: _Sheet, links: list[Link | FileLink]) -> None:
    """Place a list's groups in the right margin, each always at the same height."""
    groups = flow.lists[number].groups
    top, room = style.TOP, flow.bottom - style.TOP
    height = min(TAB_HEIGHT, room / len(groups))
    if height < TAB_LEAST:
        return
    left = flow.paper.width - TAB_EDGE - TAB_WIDTH
    step = room / len(groups)
    here = {group for there, group in sheet.groups if there == number}
    size = style.SMALL
    for at, group in enumerate(groups):
        y = top + at * step + (step - height) / 2
        text = runs(elided(group.short, "bold", size, TAB_WIDTH, flow.metrics), "bold", size, flow.metrics)
        if at in here:
            sheet.items.append(Box(left, y, TAB_WIDTH, height, "tab"))
        x = left + (TAB_WIDTH - width_of(text)) / 2
        baseline = y + (height + flow.metrics.cap_height("bold", size)) / 2
        grey = 1.0 if at in here else style.QUIET_GREY
        sheet.items += place(text, x, baseline, "tab", grey=grey)
        links.append(Link(Rect(left, top + at * step, TAB_WIDTH, step), flow.places[number, at]))
