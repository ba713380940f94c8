"""Lay out the player's part of a song on its pages.

A page breaks between lines only, and a line has the chords with their words: they never part.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.collect import collect
from arranger.layout.content.how_played import drawn_order
from arranger.layout.content.margin_text import played_key
from arranger.layout.content.model import MarginEntry, PlannedLine, SectionContent, Symbol
from arranger.layout.model import Bookmark, Document, Item, Link, Page
from arranger.layout.options import PART_OPTIONS, PartOptions
from arranger.layout.pages.head_and_foot import (
    HeadPage,
    document_of,
    foot_height,
    missing_glyphs,
    set_foot,
    set_heading,
)
from arranger.layout.pages.legend import entries, leading, rows_of_legend, set_legend
from arranger.layout.pages.turning import FREE, Block, PagePlan, divide, tops
from arranger.layout.setting.line_plan import Room, plan
from arranger.layout.setting.music import SetLine, prepare, set_line
from arranger.layout.style import Look
from arranger.layout.text import Metrics, elided, place, runs, wrap
from arranger.song.model import Song
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import NOWHERE, Span

NAME_LINES = 2  # of the column that the name of a section takes where it goes on


class PartLine(NamedTuple):
    """A line as it stands inside a page and at the top of one, where the section that goes on is named again.

    `turns`: a hand is free at its end, long enough to turn a page.
    """

    inside: SetLine
    at_top: SetLine
    turns: bool = True

    @classmethod
    def of(cls, line: PlannedLine, section: str, metrics: Metrics, quarters_a_minute: float) -> PartLine:
        """Prepare a line of a section for both places."""
        inside = prepare(line, metrics)
        turns = free_quarters(line) * 60 / quarters_a_minute >= FREE
        if line.first or line.across is not None:
            return cls(inside, inside, turns)
        name = elided(f"({section})", "regular", style.MARGIN, NAME_LINES * style.COLUMN, metrics)
        named = replace(line, margin=(MarginEntry(name, "fact"), *line.margin))
        return cls(inside, prepare(named, metrics, inside.rows), turns)

    @property
    def block(self) -> Block:
        """The line as the division of pages sees it: more room where a section begins, the pencil's room may hang."""
        line = self.inside.line
        gap = line.look.section_gap if line.first else 0.0
        hangs = 0.0 if line.across is not None else style.PENCIL
        return Block(
            self.inside.height, self.at_top.height, gap, hangs, line.first, line.leads_on, busy=0 if self.turns else 1
        )


def free_quarters(line: PlannedLine) -> float:
    """Return how long the hands do nothing new at the end of a line, in quarters."""
    free = 0.0
    for bar in reversed(line.bars):
        busy = [
            placed.column.time
            for placed in bar.columns
            if placed.column.fill or placed.column.hook or _strikes(placed.column.symbol)
        ]
        if busy:
            return free + float(bar.content.length - max(busy))
        free += float(bar.content.length - bar.content.start)
    return float("inf")


def _strikes(symbol: Symbol | None) -> bool:
    return symbol is not None and symbol.role in ("chord", "resolution", "repeat")


MOST_WAYS = 2  # sections to which a page may lead that are named with their chords; more are only named


def following(
    song: Song,
    lines: Sequence[PlannedLine],
    plans: Sequence[PagePlan],
    sections: Sequence[SectionContent],
    apart: Mapping[int, int],
) -> list[str]:
    """Return for each page what to have ready when it is left: the sections to which the roadmap leads from it.

    One that begins on the next page is named with its first chord, one elsewhere with its page. A page to which nothing
    leads is only announced; nothing is said where the head goes on. `apart` has the sections that stand for visits of
    another, each with that one.
    """
    pages = [lines[plan.first : plan.end] for plan in plans]
    begun = {line.section: page for page, here in enumerate(pages) for line in here if line.first}
    entered = list(zip((None, *(step.section for step in song.roadmap)), song.roadmap, strict=False))

    def opening(page: int, section: int, from_bar: int = 1) -> str:
        """Name a section and the first chord that a page has of it, from a bar on."""
        bars = (bar for line in pages[page] if line.section == section for bar in line.bars)
        columns = (placed.column for bar in bars if bar.content.number >= from_bar for placed in bar.columns)
        symbols = (column.symbol for column in columns if column.symbol is not None and column.symbol.role == "chord")
        chord = next(("".join(run.text for run in symbol.runs) for symbol in symbols), "")
        return ", ".join(filter(None, (sections[section].name, chord)))

    def onward(number: int) -> str:
        coming = pages[number + 1] if number + 1 < len(pages) else ()
        if coming and not coming[0].first:
            return f"next: {opening(number + 1, coming[0].section)}"
        ended = {apart.get(line.section, line.section) for line in pages[number]}
        ways = dict.fromkeys(
            (step.section, step.from_bar or 1)
            for last, step in entered
            if begun[step.section] != number and (last in ended if ended else last is None)
        )
        if coming and apart.get(coming[0].section) in ended:  # other visits of a section of this page
            ways = {(coming[0].section, 1): None, **ways}
        if not ways:
            return f"next page: {opening(number + 1, coming[0].section)}" if coming else ""
        names = [
            opening(number + 1, section, bar)
            if begun[section] == number + 1
            else f"{sections[section].name}, page {begun[section] + 1}"
            for section, bar in ways
        ]
        if len(ways) > MOST_WAYS:
            names = list(dict.fromkeys(sections[section].name for section, _ in ways))
        return f"next: {' or '.join(names)}"

    return list(map(onward, range(len(pages))))


FOOT_ROOM = 9.0  # between the last line's words and the foot, beside the pencil's room
RIGHTS_LINES = 3  # of the rights at the foot of the first page; longer ones, and those of one line, stand in the head
UNKNOWN_TEMPO = 80  # quarters a minute, where a song names no tempo


class _Draft(NamedTuple):
    """A part before its items are placed: its lines, the pages of its head, its legend, which lines are on which page.

    `plans[0]` is the page on which the head ends.
    """

    sections: tuple[SectionContent, ...]
    lines: tuple[PartLine, ...]
    blocks: tuple[Block, ...]  # the same as the division of pages sees them
    head: tuple[HeadPage, ...]
    notes: tuple[Item, ...]
    plans: tuple[PagePlan, ...]
    rooms: tuple[float, float]  # of the music on the page where the head ends, and on the others

    @property
    def pages(self) -> int:
        """How many pages there are."""
        return len(self.head) - 1 + len(self.plans)


def lay_out(
    arrangement: Arrangement, metrics: Metrics, options: PartOptions = PART_OPTIONS
) -> tuple[Document, tuple[Diagnostic, ...]]:
    """Lay out the player's part; return the pages, and an error for each character that no font has."""
    draft = _draft(arrangement, Look(options.hands), options, metrics)
    if draft.pages > 1 and _may_save_a_page(draft):
        close = _draft(arrangement, Look.close(options.hands), options, metrics)
        draft = close if close.pages < draft.pages else draft
    document = document_of(arrangement, "keys part", *_pages(arrangement, draft, options, metrics))
    return document, missing_glyphs(document.pages, metrics)


def _may_save_a_page(draft: _Draft) -> bool:
    """Return whether the close look may need fewer pages: broken rows may be whole in it, pictures are lower."""
    if len(draft.lines) > sum(len(section.rows) for section in draft.sections):
        return True
    # So much lower is each line in the close look, at most.
    smaller = style.WORDS - style.WORDS_CLOSE
    heights = sum(
        line.inside.height
        - (style.KEY_HEIGHT - style.KEY_HEIGHT_CLOSE)
        - (line.inside.line.verses + 1) * style.WORDS_LEADING * smaller
        for line in draft.lines
    )
    return heights - style.PENCIL <= draft.rooms[0] + (len(draft.plans) - 2) * draft.rooms[1]


def _draft(arrangement: Arrangement, look: Look, options: PartOptions, metrics: Metrics) -> _Draft:
    """Settle everything but the places of the items."""
    paper = options.paper
    width = paper.width - 2 * style.SIDE
    bottom = paper.height - style.BOTTOM - foot_height(metrics) - FOOT_ROOM
    room = Room(width - style.COLUMN - style.GUTTER, width, bottom - style.TOP)
    patches = {sound.casefold(): number for sound, number in options.patches}
    sections = collect(arrangement, metrics, look, patches)
    planned = [line for index in drawn_order(arrangement) for line in plan(sections[index], room, metrics, look)]
    tempi = [section.facts.tempo for section in arrangement.song.sections]
    speeds = [float((tempo and tempo.quarters_a_minute) or UNKNOWN_TEMPO) for tempo in tempi]
    lines = tuple(PartLine.of(line, sections[line.section].name, metrics, speeds[line.section]) for line in planned)
    rights = arrangement.song.rights
    span = rights.span if rights is not None else NOWHERE
    texts = wrap(rights.value, "regular", style.SMALL, width, metrics) if rights is not None else ()
    above = len(texts) == 1 or len(texts) > RIGHTS_LINES
    notes, notes_top = _notes(planned, () if above else texts, span, metrics, width, bottom)
    limits = (notes_top - FOOT_ROOM, bottom)
    head = set_heading(arrangement, metrics, width, limits, with_rights=above)
    first_room = limits[0 if len(head) == 1 else 1] - head[-1].bottom - style.HEADER_GAP
    blocks = tuple(line.block for line in lines)
    plans = divide(blocks, first_room, room.height)
    return _Draft(sections, lines, blocks, head, notes, plans, (first_room, room.height))


def _notes(
    lines: Sequence[PlannedLine], rights: Sequence[str], span: Span, metrics: Metrics, width: float, bottom: float
) -> tuple[tuple[Item, ...], float]:
    """Place what stands under the music of the first page: the legend, the rights; return it and its top."""
    step = leading(metrics)
    rows = rows_of_legend(entries(lines), metrics, width)
    baseline = bottom - step * len(rights)
    items = set_legend(rows, metrics, style.SIDE, baseline)
    for number, text in enumerate(rights, 1):
        set_text = runs(text, "regular", style.SMALL, metrics)
        items += place(set_text, style.SIDE, baseline + step * number, "rights", span)
    return tuple(items), bottom - step * (len(rows) + len(rights))


def _pages(
    arrangement: Arrangement, draft: _Draft, options: PartOptions, metrics: Metrics
) -> tuple[tuple[Page, ...], tuple[Bookmark, ...]]:
    """Place everything; return the pages and the bookmarks."""
    paper, lines = options.paper, draft.lines
    plans = (*[PagePlan(0, 0)] * (len(draft.head) - 1), *draft.plans)
    facts = " · ".join([played_key(arrangement), *([options.date] if options.date else [])])
    begun = [line.inside.line for line in lines if line.inside.line.first]
    order = {line.section: number for number, line in enumerate(begun)}  # every section has one bookmark
    apart = {index: part.of for index, part in enumerate(arrangement.sections) if part.of is not None}
    onward = following(arrangement.song, [line.inside.line for line in lines], plans, draft.sections, apart)
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
        for index, y in tops(draft.blocks, page, top, room, style.SPREAD):
            ready = lines[index].at_top if index == page.first else lines[index].inside
            if ready.line.first:
                section = draft.sections[ready.line.section]
                bookmarks.append(Bookmark(section.name, number, y, section.span))
            items += set_line(ready, style.SIDE, y, metrics)
        items += draft.notes if number == 0 else ()
        foot = (arrangement.song.title.value, facts, onward[number], f"page {number + 1} of {len(plans)}")
        items += set_foot(*foot, metrics, (paper.width, paper.height))
        pages.append(Page(paper.width, paper.height, tuple(items), links, label=str(number + 1)))
    return tuple(pages), tuple(bookmarks)
