"""Bind the songs of an evening into one book, as parts or as stage copies: the last stages of the pipeline for it.

Songs come one after the other, each worked out when it is asked for: two of them are held at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from arranger.evening.joins import breaks_after, join
from arranger.evening.model import EveningSong, SongJoin
from arranger.evening.song_ends import evening_song
from arranger.harmony.model import Arrangement
from arranger.intake import Diagnostics, Wishes
from arranger.layout.model import Document
from arranger.layout.options import PartOptions, StageOptions
from arranger.layout.pages import players_part, stage_copy
from arranger.layout.pages.around import Ladder
from arranger.layout.pages.book import Book, around, blank_before, blank_page, row_look
from arranger.layout.pages.order_page import OrderEntry
from arranger.layout.text import Metrics
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.song.running_order import RunningOrder
from arranger.text.diagnostics import has_errors


@dataclass(frozen=True, slots=True)
class BoundBook:
    """A finished book: the bytes of its PDF, how many songs and pages it has."""

    pdf: bytes
    songs: int
    pages: int


FactsOf = Callable[[int], EveningSong | None]  # of a song by its place from 0
WorkOut = Callable[[int], Arrangement | None]  # of a song by its place from 0; None after its errors were told
Tell = Callable[[int, Diagnostics], None]  # takes what there is to say of a song's pages; of the order's for ORDER
ORDER = -1


def to_book(
    order: RunningOrder, work_out: WorkOut, tell: Tell, wishes: Wishes, *, stage: bool = False, facing: bool = False
) -> BoundBook | None:
    """Make the book of an evening; None where a song cannot be played or printed as it should be.

    Args:
        order: as read, with a song at least.
        work_out: works out a song in its key and with its facts of the evening; it is asked for each once, in order.
        tell: takes what there is to say of a song's pages.
        wishes: the player's; the date is that of the evening.
        stage: the book has stage copies, else parts.
        facing: songs of two pages begin on left-hand pages.
    """
    options = _options(order, wishes, stage=stage)
    measured = metrics(options.fonts)
    first, after = breaks_after(order)
    book, look, songs = Book(order, options, measured), row_look(options), order.songs
    whole = True
    before: SongJoin | None = None
    here = work_out(0)
    facts = evening_song(here, 1) if here is not None else None
    for number, song in enumerate(songs):
        last = number + 1 == len(songs)
        following = None if last else work_out(number + 1)
        next_facts = evening_song(following, number + 2) if following is not None else None
        leads: SongJoin | None = None
        if facts is not None and next_facts is not None:
            leads = join(facts, next_facts, song.onward, after[number], wishes.taste)
        if here is not None and facts is not None:
            beside = around(facts, len(songs), before, leads, look, measured)
            document, problems = _pages(here, options, measured, beside)
            tell(number, problems)
            if document is None:
                whole = False
            elif whole:
                book.add(OrderEntry(facts, song.onward, after[number]), document, last=last)
        whole = whole and here is not None
        here, facts, before = following, next_facts, leads
    if not whole:
        return None
    kind = "stage copies" if stage else "keys parts"
    bound = book.bind(first, facing=facing, kind=kind)
    tell(ORDER, bound.problems)
    if has_errors(bound.problems):
        return None
    return BoundBook(to_bytes(bound.document, options.fonts, bound.pages), len(songs), bound.pages_in_all)


def to_song_pages(
    order: RunningOrder, number: int, here: Arrangement, facts_of: FactsOf, wishes: Wishes, *, stage: bool = False
) -> tuple[Document | None, Diagnostics]:
    """Return the pages of one song of an evening as its book has them; None where they cannot be printed.

    Args:
        order: as read.
        number: the song's place in the order, from 0.
        here: the song in its key and with its facts of the evening.
        facts_of: returns the facts of a song by its place from 0; None where it cannot be played.
        wishes: the player's.
        stage: stage copies, else parts.
    """
    options = _options(order, wishes, stage=stage)
    measured = metrics(options.fonts)
    _, after = breaks_after(order)
    songs = order.songs

    def leads(one: int) -> SongJoin | None:
        """Return how a song leads to the next."""
        facts, following = facts_of(one), facts_of(one + 1)
        if facts is None or following is None:
            return None
        return join(facts, following, songs[one].onward, after[one], wishes.taste)

    before = leads(number - 1) if number else None
    behind = leads(number) if number + 1 < len(songs) else None
    facts = evening_song(here, number + 1)
    return _pages(here, options, measured, around(facts, len(songs), before, behind, row_look(options), measured))


class OrderPages(NamedTuple):
    """The first pages of a book, with the order; a blank page, and the songs (from 0) that one stands before."""

    document: Document
    blank: Document
    blanks: tuple[int, ...]


def to_order_pages(
    order: RunningOrder,
    songs: Sequence[EveningSong],
    counts: Sequence[int],
    wishes: Wishes,
    *,
    stage: bool = False,
    facing: bool = False,
) -> tuple[OrderPages, Diagnostics]:
    """Return the pages of the order as its book has them.

    Args:
        order: as read.
        songs: the facts of all its songs, in order.
        counts: how many pages each song has.
        wishes: the player's.
        stage: stage copies, else parts.
        facing: songs of two pages begin on left-hand pages.
    """
    options = _options(order, wishes, stage=stage)
    first, after = breaks_after(order)
    book = Book(order, options, metrics(options.fonts))
    for number, song in enumerate(songs):
        book.add(OrderEntry(song, order.songs[number].onward, after[number]), Document((), song.title), last=True)
    bound = book.bind(first, facing=False, kind="")
    pages = tuple(bound.pages)
    blanks, so_far = [], len(pages)
    for number, count in enumerate(counts):
        if blank_before(so_far, count, facing=facing):
            blanks.append(number)
            so_far += 1
        so_far += count
    document = bound.document._replace(pages=pages)
    return OrderPages(document, document._replace(pages=tuple(blank_page(options))), tuple(blanks)), bound.problems


def _options(order: RunningOrder, wishes: Wishes, *, stage: bool) -> PartOptions | StageOptions:
    """Return how pages of an evening are: with its date."""
    date = order.date.value if order.date is not None else None
    options: PartOptions | StageOptions = (wishes.stage if stage else wishes.pages)._replace(date=date)
    return options


def _pages(
    arrangement: Arrangement, options: PartOptions | StageOptions, measured: Metrics, beside: Ladder
) -> tuple[Document | None, Diagnostics]:
    """Lay out a song; None where it cannot be read or printed as it should be."""
    document: Document | None
    if isinstance(options, StageOptions):
        document, _, problems = stage_copy.lay_out(arrangement, measured, options, beside)
    else:
        document, problems = players_part.lay_out(arrangement, measured, options, beside)
    return (None if has_errors(problems) else document), problems
