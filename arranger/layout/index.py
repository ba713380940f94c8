"""The index of many songs: lists of them in several orders -> a Document whose lines lead to the songs' parts.

A list begins on a page of its own, unless all of it fits below the one before. What the songs of a group have in common
stands once in the left column, and again, light, where a page begins inside the group. A list over several pages has
all its groups in the right margin, those of the page in white on black: they show at the edge of the closed sheets,
and lead there on a screen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.model import Bookmark, Box, Document, Face, FileLink, Item, Line, Link, Page
from arranger.layout.pages.head_and_foot import foot_height, missing_glyphs, set_foot
from arranger.layout.text import ELLIPSIS, Metrics, Run, elided, place, runs, width_of, wrap
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
TITLE = 11.0  # bold: 16 minutes at 60 cm, on a stand; looked for among fifty others
FACTS = 10.5
WORDS = 9.5  # read once the title is found
LEADING = 15.0
EVERY = 5  # lines after which a little room leads the eye across, as in long tables
EVERY_GAP = 3.5
GAP = 11.0  # between columns
TITLE_LINES = 2
TITLE_SHARE = 0.56  # of the room for titles and first words, that titles take at most
TEMPO_WIDEST = 84.0  # of a tempo in words that nobody foresaw
WHOLE_WORD = 0.6  # of what fits: a cut at a blank must leave as much, or a word is cut


class IndexLine(NamedTuple):
    """What a line says of a song, as it is printed.

    Attributes:
        title: with its article.
        article: that of the title, with its blank; it is printed light, for the title is filed by the next word.
        key, tempo, meter: empty where it is not known.
        words: the first ones.
        part: the file of its part, by a path from the index with `/`; empty where there is none.
    """

    title: str
    article: str
    key: str
    tempo: str
    meter: str
    words: str
    part: str


class IndexGroup(NamedTuple):
    """Lines that stand together: what they have in common, the same in three or four letters, a remark beside it."""

    label: str
    short: str
    lines: tuple[IndexLine, ...]
    note: str = ""


class IndexList(NamedTuple):
    """All songs in one order. `by_title`: those of a group are in the order of their titles."""

    name: str
    groups: tuple[IndexGroup, ...]
    by_title: bool = True


class IndexColumns(NamedTuple):
    """Where the columns of a list stand, from its left edge; `equals` is where the tempi's numbers line up."""

    title: float
    title_width: float
    key: float
    equals: float
    tempo: float
    meter_right: float
    words: float
    words_width: float


class IndexRow(NamedTuple):
    """A line with the lines of its title, and how high it stands over its first baseline and under its last."""

    line: IndexLine
    titles: tuple[str, ...]
    words: str
    above: float
    height: float


def columns_of(index: IndexList, width: float, metrics: Metrics) -> IndexColumns:
    """Settle the columns of a list over the width that it has."""
    lines = [line for group in index.groups for line in group.lines]
    label = max((width_of(label_runs(group, metrics)) for group in index.groups), default=0.0)
    key = _widest((line.key for line in lines), "key", "bold", metrics)
    tempi = {_at_number(line.tempo) for line in lines}
    before = max((_width(sign, "regular", metrics) for sign, _ in tempi), default=0.0)
    tempo = max(
        _width("tempo", "regular", metrics, style.SMALL),
        *((before if sign else 0.0) + _width(rest, "regular", metrics) for sign, rest in tempi),
    )
    tempo = min(TEMPO_WIDEST, tempo)
    meter = _widest((line.meter for line in lines), "meter", "regular", metrics)
    rest = width - label - key - tempo - meter - 5 * GAP
    longest = max((width_of(runs(line.title, "bold", TITLE, metrics)) for line in lines), default=0.0)
    titles = max(min(longest, rest * TITLE_SHARE), rest / 3)
    key_at = label + GAP + titles + GAP
    tempo_at = key_at + key + GAP
    right = tempo_at + tempo + GAP + meter
    words = right + GAP
    return IndexColumns(label + GAP, titles, key_at, tempo_at + before, tempo_at, right, words, width - words)


def _at_number(tempo: str) -> tuple[str, str]:
    """Divide a tempo where it lines up with others: behind the note that it counts. Words before it line up nowhere.

    >>> _at_number("♩. = 56"), _at_number("half = 60"), _at_number("free")
    (('♩. ', '= 56'), ('', 'half = 60'), ('', 'free'))
    """
    sign, equals, number = tempo.partition("=")
    return (sign, equals + number) if equals and not sign.strip().isalpha() else ("", tempo)


def label_runs(group: IndexGroup, metrics: Metrics) -> tuple[Run, ...]:
    """Set a group's label with its remark."""
    size = 15.0 if len(group.label) == 1 else TITLE  # a letter is as large as the line is high
    note = runs(f"\u00a0{group.note}", "regular", style.SMALL, metrics) if group.note else ()
    return (*runs(group.label, "bold", size, metrics), *note)


def _width(text: str, face: Face, metrics: Metrics, size: float = FACTS) -> float:
    return width_of(runs(text, face, size, metrics))


def _widest(texts: Iterable[str], head: str, face: Face, metrics: Metrics) -> float:
    return max(_width(head, "regular", metrics, style.SMALL), *(_width(text, face, metrics) for text in set(texts)))


def row_of(line: IndexLine, columns: IndexColumns, metrics: Metrics) -> IndexRow:
    """Break a title and cut what is too long."""
    title = " ".join(line.title.split())
    titles = wrap(title, "bold", TITLE, columns.title_width, metrics) or ("",)
    if len(titles) > TITLE_LINES:
        rest = title[len(" ".join(titles[: TITLE_LINES - 1])) :].lstrip()
        titles = (*titles[: TITLE_LINES - 1], cut(rest, "bold", TITLE, columns.title_width, metrics))
    words = cut(line.words, "regular", WORDS, columns.words_width, metrics)
    rises = [_rise(text, "bold", TITLE, metrics) for text in titles]
    above = max(rises[0], _rise(words, "regular", WORDS, metrics), _rise(line.key + line.tempo, "bold", FACTS, metrics))
    below = metrics.descent("bold", TITLE)
    height = max(LEADING, above + below)
    for rise in rises[1:]:
        height += max(TITLE * 1.15, rise + below)
    return IndexRow(line, titles, words, max(above, LEADING - below), height)


def _rise(text: str, face: Face, size: float, metrics: Metrics) -> float:
    """Return how far a text rises above its baseline, in whichever face has its signs."""
    return max((metrics.rise(run.text, run.face, run.size) for run in runs(text, face, size, metrics)), default=0.0)


def cut(text: str, face: Face, size: float, width: float, metrics: Metrics) -> str:
    """Cut a text short where it is wider than there is room: at a blank, if that leaves most of what fits."""
    short = elided(text, face, size, width, metrics)
    if short == text:
        return text
    head = short.removesuffix(ELLIPSIS)
    at = head.rfind(" ") if text[len(head) : len(head) + 1] != " " else len(head)
    if at >= WHOLE_WORD * len(head):
        head = head[:at]
    return head.rstrip(" ,;:.–-") + ELLIPSIS


def set_row(row: IndexRow, columns: IndexColumns, x: float, y: float, metrics: Metrics) -> list[Item]:
    """Place a line: its left edge at x, its top at y. The items stand in reading order."""
    line = row.line
    baseline = y + row.above
    items: list[Item] = []
    at = baseline
    for number, text in enumerate(row.titles):
        if number:
            at += max(TITLE * 1.15, _rise(text, "bold", TITLE, metrics) + metrics.descent("bold", TITLE))
        article = line.article if not number and text.startswith(line.article) else ""
        bold = runs(text.removeprefix(article), "bold", TITLE, metrics)
        items += place((*runs(article, "regular", TITLE, metrics), *bold), x + columns.title, at, "title")
    items += place(runs(line.key, "bold", FACTS, metrics), x + columns.key, baseline, "key")
    sign, rest = _at_number(line.tempo)
    before = runs(sign, "regular", FACTS, metrics)
    told = runs(cut(rest, "regular", FACTS, TEMPO_WIDEST, metrics), "regular", FACTS, metrics)
    tempo_at = columns.equals - width_of(before) if sign else columns.tempo
    items += place((*before, *told), x + tempo_at, baseline, "tempo")
    meter = runs(line.meter, "regular", FACTS, metrics)
    items += place(meter, x + columns.meter_right - width_of(meter), baseline, "meter")
    words = runs(row.words, "regular", WORDS, metrics)
    return [*items, *place(words, x + columns.words, baseline, "words", grey=style.QUIET_GREY)]


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


def _height(rows: Sequence[IndexRow]) -> float:
    return sum(row.height for row in rows) + EVERY_GAP * ((len(rows) - 1) // EVERY)


def _group(
    flow: _Flow, place_of: tuple[int, int], group: IndexGroup, rows: Sequence[IndexRow], columns: IndexColumns
) -> None:
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


def _opening(row: IndexRow, columns: IndexColumns, flow: _Flow) -> list[FileLink]:
    """Lead from a line to the song's part: the title in one way that viewers know, the rest in the other."""
    if not row.line.part:
        return []
    left, middle, right = style.SIDE + columns.title, style.SIDE + columns.key - 4.0, style.SIDE + flow.width
    title = row.line.title
    return [
        FileLink(Rect(left, flow.y, middle - left, row.height), row.line.part, title),
        FileLink(Rect(middle, flow.y, right - middle, row.height), row.line.part, title, by_address=True),
    ]


def _head_height(metrics: Metrics) -> float:
    small = metrics.rise("dl", "regular", style.SMALL) + metrics.descent("regular", style.SMALL)
    name = metrics.rise("Bl", "bold", style.SECTION) + metrics.descent("bold", style.SECTION)
    return name + COLUMNS_GAP + small + RULE_GAP + COLUMNS_GAP


def _head(flow: _Flow, name: str, after: str, columns: IndexColumns) -> None:
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
    items.append(Line(style.SIDE, flow.y, style.SIDE + flow.width, flow.y, style.BARLINE, "rule", style.LINE_GREY))
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
