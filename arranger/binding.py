"""Bind the songs of an evening into one book, as parts or as stage copies: the last stages of the pipeline for it.

Songs come one after the other, each worked out when it is asked for: two of them are held at a time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from arranger.evening.joins import breaks_after, join
from arranger.evening.model import SongJoin
from arranger.evening.song_ends import evening_song
from arranger.harmony.model import Arrangement
from arranger.intake import Diagnostics, Wishes
from arranger.layout.model import Document
from arranger.layout.options import PartOptions, StageOptions
from arranger.layout.pages import players_part, stage_copy
from arranger.layout.pages.around import Ladder
from arranger.layout.pages.book import Book, around, row_look
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
    date = order.date.value if order.date is not None else None
    options: PartOptions | StageOptions = replace(wishes.stage if stage else wishes.pages, date=date)
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
