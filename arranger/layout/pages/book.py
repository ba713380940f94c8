"""Join the pages of an evening's songs to one book: its order first, links from there to the songs and back, bookmarks.

Songs come one at a time, and of each what is kept is packed: a book takes little more memory than its longest song.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from arranger.evening.model import EveningBreak, EveningSong, SongJoin
from arranger.layout import style
from arranger.layout.model import Bookmark, Box, Document, Item, Link, Page, Text, moved
from arranger.layout.options import PartOptions, StageOptions
from arranger.layout.packed import PackedPages
from arranger.layout.pages.around import Around, Ladder
from arranger.layout.pages.fitting import margins_of, sizes
from arranger.layout.pages.head_and_foot import missing_glyphs
from arranger.layout.pages.join_row import OVER, UNDER, RowLook, brief, briefest, foot_row, head_row
from arranger.layout.pages.order_page import FACTS, OrderEntry, OrderFrame, OrderLeaf, lay_out_order
from arranger.layout.style import UNIT
from arranger.layout.text import Metrics
from arranger.song.running_order import RunningOrder
from arranger.text.diagnostics import Diagnostic
from arranger.units import Point, Rect

ROW_LEADING = 1.2  # x the size of type in the rows between songs
PAIR = 2  # pages that a song has where it is to begin on a left-hand page
TOUCH = 2.0  # points around what leads somewhere
ORDER = 0  # the bookmark of the order


class _Bound(NamedTuple):
    """A song in the book: its pages, its bookmarks, of which the first is its own."""

    pages: PackedPages
    bookmarks: tuple[Bookmark, ...]


class BookPages(NamedTuple):
    """A whole book: what the document says of itself, its pages and their number, and what is wrong with its order."""

    document: Document
    pages: Iterable[Page]
    pages_in_all: int
    problems: tuple[Diagnostic, ...]


def row_look(options: PartOptions | StageOptions) -> RowLook:
    """Return how rows between songs are set on pages of a kind."""
    patches = {sound.casefold(): number for sound, number in options.patches}
    if isinstance(options, StageOptions):
        return RowLook(UNIT, UNIT * ROW_LEADING, pictures=False, patches=patches)
    return RowLook(style.MARGIN, style.MARGIN * ROW_LEADING, options.hands == "keyboard", patches)


def around(
    song: EveningSong, count: int, before: SongJoin | None, after: SongJoin | None, look: RowLook, metrics: Metrics
) -> Ladder:
    """Return what may stand around a song of the evening, the best first.

    The rows to its neighbours; the same with letters in place of pictures; the one at its foot alone, for the other
    repeats it; last no row, and how the song leads on in the line at the foot of its last page: but where the set has
    chords to lead on by, these have their row.
    """
    number = f"{song.number} of {count}"

    def rows(how: RowLook, head: bool = True) -> Around:
        above = head_row(before, how, metrics) if before is not None and head else None
        return Around(above, foot_row(after, how, metrics) if after is not None else None, number)

    letters = look._replace(pictures=False)
    tried = [rows(look), *([rows(letters)] if look.pictures else []), rows(letters, head=False)]
    if after is not None and after.written:
        return tuple(tried)
    if after is None:
        return (*tried, Around(number=number))
    return (*tried, Around(number=number, onward=brief(after), briefly=briefest(after)))


class Book:
    """Gathers the songs of an evening. Mutable: songs are added in order, then the book is bound."""

    def __init__(self, order: RunningOrder, options: PartOptions | StageOptions, metrics: Metrics) -> None:
        self._order, self._options, self._metrics = order, options, metrics
        self._bound: list[_Bound] = []
        self._entries: list[OrderEntry] = []
        self._languages: dict[str, None] = {}
        self._next = ORDER + 1  # the number of the next song's own bookmark
        self._before = ORDER  # and that of the song before

    def add(self, entry: OrderEntry, document: Document, *, last: bool) -> None:
        """Add the pages of a song, as they were laid out with `around`."""
        own = self._next
        marks = [Bookmark(f"{entry.song.number} {entry.song.title}", 0, 0.0)]
        marks += (replace(mark, level=1) for mark in document.bookmarks)
        following = own + len(marks)
        pages = PackedPages()
        for number, page in enumerate(document.pages, 1):
            inside = tuple(link._replace(target=link.target + own + 1) for link in page.links if isinstance(link, Link))
            ends = number == len(document.pages) and not last
            leads = tuple(self._leads(page, self._before, following, ends))
            pages.append(page._replace(links=(*inside, *leads)))
        self._bound.append(_Bound(pages, tuple(marks)))
        self._entries.append(entry)
        self._languages[document.language] = None
        self._before, self._next = own, following

    def _leads(self, page: Page, before: int, after: int, ends: bool) -> Iterator[Link]:
        """Yield the links of a page out of its song: to the order, to the song before, to the next where it `ends`."""
        rows = {item.role for item in page.items if isinstance(item, Text)}
        targets = {"page": ORDER, "foot": ORDER, OVER: before, UNDER: after}
        if UNDER not in rows and ends:
            targets["next"] = after
        for role, target in targets.items():
            texts = [item for item in page.items if isinstance(item, Text) and item.role == role]
            if texts:
                yield Link(_rect(texts, page.scale), target)

    def bind(self, first: Sequence[EveningBreak], *, facing: bool, kind: str) -> BookPages:
        """Put the order before the songs and return the whole.

        Args:
            first: breaks before the first song.
            facing: songs of two pages begin on left-hand pages, that is those with an even number.
            kind: what the pages are, in the plural: `keys parts`.
        """
        orders = PackedPages()
        orders.extend(self._order_pages(first))
        title = self._order.title.value
        marks = [Bookmark(title, 0, 0.0)]
        parts: list[PackedPages] = [orders]
        count = len(orders)
        for bound in self._bound:
            if blank_before(count, len(bound.pages), facing=facing):
                parts.append(blank_page(self._options))
                count += 1
            marks += (replace(mark, page=mark.page + count) for mark in bound.bookmarks)
            parts.append(bound.pages)
            count += len(bound.pages)
        document = Document(
            (),
            title,
            subject=f"{kind} of {len(self._bound)} song{'' if len(self._bound) == 1 else 's'}",
            language=next(iter(self._languages)) if len(self._languages) == 1 else "",
            bookmarks=tuple(marks),
        )
        return BookPages(document, Numbered(parts), count, missing_glyphs(orders, self._metrics))

    def _order_pages(self, first: Sequence[EveningBreak]) -> Iterator[Page]:
        """Yield the pages of the order: on a stage copy in type that can be read from the player's distance."""
        options, metrics = self._options, self._metrics
        patches: Mapping[str, str] = row_look(options).patches
        own: list[int] = []
        number = ORDER + 1
        for bound in self._bound:
            own.append(number)
            number += len(bound.bookmarks)

        def leads(leaf: OrderLeaf, scale: float, left: float) -> tuple[Link, ...]:
            return tuple(
                Link(Rect(r.x * scale + left, r.y * scale, r.width * scale, r.height * scale), own[song])
                for song, r in leaf.places
            )

        if isinstance(options, PartOptions):
            paper = options.paper
            frame = OrderFrame(paper.width, paper.height)
            for leaf in lay_out_order(self._order, self._entries, first, frame, patches, metrics):
                yield Page(paper.width, paper.height, leaf.items, leads(leaf, 1.0, 0.0))
            return
        sheet, (side, _, end) = options.sheet, margins_of(options)
        scale = sizes(options.distance, metrics)[-1] / FACTS  # the least that can be read
        frame = OrderFrame(sheet.page_width / scale, sheet.height / scale, side / scale, end / scale)
        leaves = lay_out_order(self._order, self._entries, first, frame, patches, metrics)
        for at in range(0, len(leaves), sheet.pages):
            some = leaves[at : at + sheet.pages]
            links = [link for n, leaf in enumerate(some) for link in leads(leaf, scale, n * sheet.page_width)]
            yield _sheet([leaf.items for leaf in some], options, scale, options.dark)._replace(links=tuple(links))


def blank_before(count: int, pages: int, *, facing: bool) -> bool:
    """Return whether a blank page stands before a song, so that its two pages lie side by side.

    Args:
        count: how many pages stand before it.
        pages: how many it has.
        facing: songs of two pages begin on left-hand pages, that is those with an even number.
    """
    return facing and pages == PAIR and count % 2 == 0


def blank_page(options: PartOptions | StageOptions) -> PackedPages:
    """Return a page on which nothing stands."""
    pages = PackedPages()
    if isinstance(options, StageOptions):
        pages.append(_sheet([()], options, 1.0, options.dark))
    else:
        pages.append(Page(options.paper.width, options.paper.height, ()))
    return pages


def _sheet(leaves: Sequence[Sequence[Item]], options: StageOptions, scale: float, dark: bool) -> Page:
    """Return a sheet with pages side by side, in units of the scale."""
    sheet = options.sheet
    items: list[Item] = []
    if dark:
        items.append(Box(0.0, 0.0, sheet.width / scale, sheet.height / scale, "paper", 1.0))
    for number, leaf in enumerate(leaves):
        items += (moved(item, number * sheet.page_width / scale, 0.0) for item in leaf)
    return Page(sheet.width, sheet.height, tuple(items), scale=scale, dark=dark)


def _rect(texts: Sequence[Text], scale: float) -> Rect:
    """Return the stretch around some texts, in points."""
    top_left = Point(min(text.x for text in texts), min(text.y - text.size for text in texts))
    right = max(text.x + text.size * 0.5 * len(text.text) for text in texts)
    bottom = max(text.y for text in texts)
    x, y = top_left.x * scale - TOUCH, top_left.y * scale - TOUCH
    return Rect(x, y, right * scale + TOUCH - x, bottom * scale + 2 * TOUCH - y)


class Numbered:
    """The pages of all parts of a book in order, labelled with their numbers from 1. They are unpacked one by one."""

    def __init__(self, parts: Sequence[PackedPages]) -> None:
        self._parts = parts

    def __iter__(self) -> Iterator[Page]:
        number = 0
        for part in self._parts:
            for page in part:
                number += 1
                yield page._replace(label=str(number))
