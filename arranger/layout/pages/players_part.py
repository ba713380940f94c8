"""Lay out the player's part of a song on its pages.

A page breaks between lines only, and a line has the chords with their words: they never part.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.margin_text import played_key
from arranger.layout.content.model import PlannedLine, SectionContent
from arranger.layout.model import Bookmark, Document, Item, Link, Page
from arranger.layout.options import PART_OPTIONS, PartOptions
from arranger.layout.pages.around import ALONE, Around, Ladder
from arranger.layout.pages.head_and_foot import document_of, missing_glyphs, set_foot
from arranger.layout.pages.part_choice import FACING, PartChoice
from arranger.layout.pages.part_draft import PartDraft
from arranger.layout.pages.turning import PagePlan, forms, tops
from arranger.layout.setting.music import set_line
from arranger.layout.text import Metrics
from arranger.song.model import Song
from arranger.text.diagnostics import Diagnostic, error

NEAR = 60  # cm from a seated player's eyes to the part: see `style`
MOST_WAYS = 2  # sections to which a page may lead that are named with their chords; more are named by their pages


Move = tuple[int | None, int, int]  # from a section, or the head, to another, from a bar on


def moves_of(arrangement: Arrangement) -> list[Move]:
    """Return where the roadmap leads, in order: from each section as it is drawn to the next, repeats apart."""
    found: list[Move] = []
    last, step = None, -1
    for visit in arrangement.visits:
        written = arrangement.song.roadmap[visit.step]
        here = written.section if visit.section is None else visit.section
        if (here, visit.step) != (last, step):
            found.append((last, here, written.from_bar or 1))
        last, step = here, visit.step
    return found


def following(
    song: Song,
    lines: Sequence[PlannedLine],
    plans: Sequence[PagePlan],
    sections: Mapping[int, SectionContent],
    moves: Sequence[Move],
) -> list[tuple[str, ...]]:
    """Return for each page what to have ready when it is left: the sections to which the roadmap leads from it.

    In ever fewer words. A section that begins on the next page is named with its first chord, one elsewhere with its
    page; many by their pages. A page to which nothing leads is only announced; nothing is said where the head goes on.
    `moves` are as `moves_of` returns them.
    """
    pages = [[line for line in lines[plan.first : plan.end] if not line.texts] for plan in plans]
    first = {line.section: page for page, here in enumerate(pages) for line in here if line.first}
    begun = {index: first[section.index] for index, section in sections.items()}

    def opening(page: int, section: int, from_bar: int = 1) -> str:
        """Name a section and the first chord that a page has of it, from a bar on."""
        bars = (bar for line in pages[page] if line.section == sections[section].index for bar in line.bars)
        columns = (placed.column for bar in bars if bar.content.number >= from_bar for placed in bar.columns)
        symbols = (column.symbol for column in columns if column.symbol is not None and column.symbol.role == "chord")
        chord = next(("".join(run.text for run in symbol.runs) for symbol in symbols), "")
        return ", ".join(filter(None, (song.sections[section].name, chord)))

    def onward(number: int) -> tuple[str, ...]:
        coming = pages[number + 1] if number + 1 < len(pages) else ()
        if coming and not coming[0].first:
            return (f"next: {opening(number + 1, coming[0].section)}",)
        ended = {index for line in pages[number] for index in sections[line.section].indices}
        ways = dict.fromkeys(
            (section, from_bar)
            for last, section, from_bar in moves
            if begun[section] != number and (last in ended if ended else last is None)
        )
        if not ways:
            return (f"next page: {opening(number + 1, coming[0].section)}",) if coming else ()
        names = [
            opening(number + 1, section, bar)
            if begun[section] == number + 1
            else f"{song.sections[section].name}, page {begun[section] + 1}"
            for section, bar in ways
        ]
        by_page: dict[int, dict[str, None]] = {}
        for section, _ in ways:
            by_page.setdefault(begun[section], {})[song.sections[section].name] = None
        texts = [
            names,
            [f"{' or '.join(there)}, page {page + 1}" for page, there in by_page.items()],
            [f"page {page + 1}" for page in by_page],
        ]
        return tuple(f"next: {' or '.join(text)}" for text in texts[len(ways) > MOST_WAYS :])

    return list(map(onward, range(len(pages))))


def lay_out(
    arrangement: Arrangement, metrics: Metrics, options: PartOptions = PART_OPTIONS, ladder: Ladder = (ALONE,)
) -> tuple[Document, tuple[Diagnostic, ...]]:
    """Lay out the player's part; `ladder` has what may stand around its pages in a book, the best first.

    Returns:
        The pages, and an error for each character that no font has, and where there are more pages than asked for.
    """
    choice = PartChoice(arrangement, options, metrics, ladder[-1])
    around, draft = _around(choice, ladder)
    draft = choice.placed(draft)
    document = document_of(arrangement, "keys part", *_pages(arrangement, draft, options, metrics, around))
    problems = missing_glyphs(document.pages, metrics)
    if options.pages is not None and draft.pages > options.pages:
        problems = (_too_much(draft.pages, options.pages), *problems)
    return document, problems


def _around(choice: PartChoice, ladder: Ladder) -> tuple[Around, PartDraft]:
    """Return the best that may stand around a part without taking it a page, with the draft.

    Its size of type stays too, unless the part has no room for any row at all.
    """
    least = choice.best()
    for around in ladder[:-1]:
        draft = choice.around_with(around).at(least.groups, least.look)
        if draft.pages <= least.pages:
            return around, draft
    if len(ladder) > 1 and ladder[-1].below is None:  # a smaller look rather than none of it
        draft = choice.around_with(ladder[-2]).best()
        if draft.pages <= least.pages:
            return ladder[-2], draft
    return ladder[-1], least


def _too_much(needed: int, asked: int) -> Diagnostic:
    """Return the error that a part does not fit its pages in the least look that can be read."""
    count = f"{asked} page" if asked == 1 else f"{asked} pages"
    message = f"the part does not fit {count}: its letters would be too small to read at {NEAR:g} cm"
    return error(
        "too-small-to-read", message, None, f"--pages {needed} fits" if needed <= FACING else "--pages any fits"
    )


def _pages(
    arrangement: Arrangement, draft: PartDraft, options: PartOptions, metrics: Metrics, around: Around
) -> tuple[tuple[Page, ...], tuple[Bookmark, ...]]:
    """Place everything; return the pages and the bookmarks."""
    paper, lines = options.paper, draft.lines
    plans = (*[PagePlan(0, 0)] * (len(draft.head) - 1), *draft.plans)
    facts = " · ".join([played_key(arrangement), *([options.date] if options.date else [])])
    begun = [line.inside.line for line in lines if line.inside.line.first]
    drawn = {line.section: number for number, line in enumerate(begun)}  # every section that is drawn has one bookmark
    order = {index: drawn[section.index] for index, section in draft.sections.items()}
    planned = [line.inside.line for line in lines]
    onward = following(arrangement.song, planned, plans, draft.sections, moves_of(arrangement))
    bookmarks: list[Bookmark] = []
    pages = []
    for number, page in enumerate(plans):
        items: list[Item] = []
        links: tuple[Link, ...] = ()
        top = style.TOP
        if number < len(draft.head):
            head = draft.head[number]
            items += head.items
            links = tuple(Link(rect, order[section]) for section, rect in head.steps)
            top = head.bottom + style.HEADER_GAP
        room = draft.rooms[0 if number == len(draft.head) - 1 else 1]
        known = {index: lines[before].inside.line.bars[0].content.number if before is not None else None
                 for index, before in forms(draft.blocks, page)}  # fmt: skip
        for index, y in tops(draft.blocks, page, top, room, style.SPREAD):
            ready = lines[index].at(index == page.first, known[index])
            if ready.line.first:
                section = draft.sections[ready.line.section]
                bookmarks.append(Bookmark(section.name, number, y, section.span))
            items += set_line(ready, draft.look.side, y, metrics)
        items += draft.notes if number == 0 else ()
        if draft.below is not None and number == len(plans) - 1:
            items += draft.below.at(top + room - draft.below.height)
        if number == len(plans) - 1:
            onward[number] = tuple(filter(None, map(around.after, onward[number] or ("",))))
        foot = (arrangement.song.title.value, facts, onward[number], around.paging(number + 1, len(plans)))
        items += set_foot(*foot, metrics, (paper.width, paper.height), draft.look.side)
        pages.append(Page(paper.width, paper.height, tuple(items), links, label=str(number + 1)))
    return tuple(pages), tuple(bookmarks)
