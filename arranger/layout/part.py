"""The player's part: an Arrangement -> a Document of placed items. Calls the rooms in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.collect import collect
from arranger.layout.content import PlannedLine, SectionContent
from arranger.layout.division import PagePlan
from arranger.layout.facts import played_key
from arranger.layout.finalize import foot_height, missing_glyphs, set_foot
from arranger.layout.heading import Heading, set_heading
from arranger.layout.legend import entries, leading, rows_of_legend, set_legend
from arranger.layout.lines import Room, plan
from arranger.layout.metrics import Metrics
from arranger.layout.model import Bookmark, Document, Item, Link, Page
from arranger.layout.onward import following
from arranger.layout.options import PartOptions
from arranger.layout.pages import Settled, paginate, spread
from arranger.layout.setting import set_line
from arranger.layout.style import Look
from arranger.layout.text import place, runs, wrap
from arranger.song.model import Tempo
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import NOWHERE
from arranger.units import A4, Paper

FOOT_ROOM = 9.0  # between the last line's words and the foot, beside the pencil's room
RIGHTS_LINES = 3  # of the rights at the foot of the first page; longer ones, and those of one line, stand in the head
UNKNOWN_TEMPO = 80  # quarters a minute, where a song names no tempo


@dataclass(frozen=True, slots=True)
class _Draft:
    """A part before its items are placed: its lines, the pages of its head, its legend, which lines are on which page.

    `plans[0]` is the page on which the head ends.
    """

    sections: tuple[SectionContent, ...]
    lines: tuple[Settled, ...]
    head: tuple[Heading, ...]
    notes: tuple[Item, ...]
    plans: tuple[PagePlan, ...]
    rooms: tuple[float, float]  # of the music on the page where the head ends, and on the others

    @property
    def pages(self) -> int:
        """How many pages there are."""
        return len(self.head) - 1 + len(self.plans)


def lay_out(
    arrangement: Arrangement,
    metrics: Metrics,
    paper: Paper = A4,
    date: str | None = None,
    *,
    options: PartOptions | None = None,
) -> tuple[Document, tuple[Diagnostic, ...]]:
    """Lay out the player's part.

    Args:
        arrangement: what the keys play.
        metrics: of the fonts that will draw it.
        paper: the size of the pages.
        date: printed at the foot of each page.
        options: all that can be chosen, `paper` and `date` too, which then count no more.

    Returns:
        The pages, and an error for each character that no font has.
    """
    options = options or PartOptions(paper, date)
    draft = _draft(arrangement, Look(options.hands), options, metrics)
    if draft.pages > 1 and _may_save_a_page(draft):
        close = _draft(arrangement, Look.close(options.hands), options, metrics)
        draft = close if close.pages < draft.pages else draft
    document = _document(arrangement, *_pages(arrangement, draft, options, metrics))
    return document, missing_glyphs(document.pages, metrics)


def _may_save_a_page(draft: _Draft) -> bool:
    """Return whether the close look may need fewer pages: broken rows may be whole in it, pictures are lower."""
    if len(draft.lines) > sum(len(section.rows) for section in draft.sections):
        return True
    heights = sum(line.inside.height - _saving(line.inside.line) for line in draft.lines)
    return heights - style.PENCIL <= draft.rooms[0] + (len(draft.plans) - 2) * draft.rooms[1]


def _saving(line: PlannedLine) -> float:
    """Return how much lower a line is in the close look, at most."""
    smaller = style.WORDS - style.WORDS_CLOSE
    return style.KEY_HEIGHT - style.KEY_HEIGHT_CLOSE + (line.verses + 1) * style.WORDS_LEADING * smaller


def _draft(arrangement: Arrangement, look: Look, options: PartOptions, metrics: Metrics) -> _Draft:
    """Settle everything but the places of the items."""
    paper = options.paper
    width = paper.width - 2 * style.SIDE
    bottom = paper.height - style.BOTTOM - foot_height(metrics) - FOOT_ROOM
    room = Room(width - style.COLUMN - style.GUTTER, width, bottom - style.TOP)
    patches = {sound.casefold(): number for sound, number in options.patches}
    sections = collect(arrangement, metrics, look, patches)
    planned = [line for section in sections for line in plan(section, room, metrics, look)]
    tempi = [_quarters_a_minute(section.facts.tempo) for section in arrangement.song.sections]
    lines = tuple(Settled.of(line, sections[line.section].name, metrics, tempi[line.section]) for line in planned)
    rights = arrangement.song.rights
    texts = wrap(rights.value, "regular", style.SMALL, width, metrics) if rights is not None else ()
    above = len(texts) == 1 or len(texts) > RIGHTS_LINES
    notes, notes_top = _notes(arrangement, planned, () if above else texts, metrics, width, bottom)
    limits = (notes_top - FOOT_ROOM, bottom)
    head = set_heading(arrangement, metrics, style.SIDE, style.TOP, width, limits, with_rights=above)
    first_room = limits[0 if len(head) == 1 else 1] - head[-1].bottom - style.HEADER_GAP
    return _Draft(
        sections, lines, head, tuple(notes), paginate(lines, first_room, room.height), (first_room, room.height)
    )


def _quarters_a_minute(tempo: Tempo | None) -> float:
    speed = tempo.quarters_a_minute if tempo is not None else None
    return float(speed if speed is not None else UNKNOWN_TEMPO)


def _notes(
    arrangement: Arrangement,
    lines: Sequence[PlannedLine],
    rights: Sequence[str],
    metrics: Metrics,
    width: float,
    bottom: float,
) -> tuple[list[Item], float]:
    """Place what stands under the music of the first page: the legend, the rights; give the top of it."""
    items: list[Item] = []
    step = leading(metrics)
    rows = rows_of_legend(entries(lines), metrics, width)
    baseline = bottom - step * len(rights)
    items += set_legend(rows, metrics, style.SIDE, baseline)
    span = arrangement.song.rights.span if arrangement.song.rights is not None else NOWHERE
    for number, text in enumerate(rights, 1):
        y = baseline + step * number
        set_text = runs(text, "regular", style.SMALL, metrics)
        items += place(set_text, style.SIDE, y, "rights", span)
    return items, bottom - step * (len(rows) + len(rights))


def _pages(
    arrangement: Arrangement, draft: _Draft, options: PartOptions, metrics: Metrics
) -> tuple[tuple[Page, ...], tuple[Bookmark, ...]]:
    """Place everything; give the pages and the bookmarks."""
    paper, lines = options.paper, draft.lines
    plans = (*[PagePlan(0, 0)] * (len(draft.head) - 1), *draft.plans)
    facts = " · ".join([played_key(arrangement), *([options.date] if options.date else [])])
    bookmarks: list[Bookmark] = []
    pages = []
    for number, page in enumerate(plans):
        head = draft.head[number] if number < len(draft.head) else None
        items: list[Item] = [*head.items] if head is not None else []
        top = head.bottom + style.HEADER_GAP if head is not None else style.TOP
        room = draft.rooms[0 if number == len(draft.head) - 1 else 1]
        items += _music(lines, page, (top, room), number, bookmarks, draft.sections, metrics)
        items += draft.notes if number == 0 else ()
        onward = following(arrangement.song, lines, plans, number, draft.sections)
        foot = (arrangement.song.title.value, facts, onward, f"page {number + 1} of {len(plans)}")
        items += set_foot(*foot, metrics, (paper.width, paper.height))
        links = _links(head, lines) if head is not None else ()
        pages.append(Page(paper.width, paper.height, tuple(items), links, label=str(number + 1)))
    return tuple(pages), tuple(bookmarks)


def _music(
    lines: Sequence[Settled],
    plan: PagePlan,
    span: tuple[float, float],
    number: int,
    bookmarks: list[Bookmark],
    names: Sequence[SectionContent],
    metrics: Metrics,
) -> list[Item]:
    """Place the lines of a page; sections that begin here are added to the bookmarks.

    `span` is the top of the music and the height for it.
    """
    items: list[Item] = []
    y, room = span
    for index, gap in zip(range(plan.first, plan.end), spread(lines, plan, room), strict=True):
        y += gap
        ready = lines[index].at_top if index == plan.first else lines[index].inside
        if ready.line.first:
            section = names[ready.line.section]
            bookmarks.append(Bookmark(section.name, number, y, section.span))
        items += set_line(ready, style.SIDE, y, metrics)
        y += ready.height
    return items


def _links(heading: Heading, lines: Sequence[Settled]) -> tuple[Link, ...]:
    """Lead from each step of the roadmap to its section; every section has one bookmark, in the order of lines."""
    order = [line.inside.line.section for line in lines if line.inside.line.first]
    return tuple(Link(rect, order.index(section)) for section, rect in heading.steps)


def _document(arrangement: Arrangement, pages: tuple[Page, ...], bookmarks: tuple[Bookmark, ...]) -> Document:
    song = arrangement.song
    authors = [text.value for text in (song.words_by, song.music_by) if text is not None]
    return Document(
        pages=pages,
        title=song.title.value,
        author=", ".join(dict.fromkeys(authors)),
        language=song.language.value if song.language is not None else "",
        subject=f"keys part in {played_key(arrangement).removeprefix('played in ')}",
        bookmarks=bookmarks,
    )
