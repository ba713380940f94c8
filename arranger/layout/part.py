"""The player's part: an Arrangement -> a Document of placed items. Calls the rooms in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from arranger.diagnostics import Diagnostic
from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.collect import collect
from arranger.layout.content import SectionContent
from arranger.layout.facts import key_words
from arranger.layout.finalize import foot_height, missing_glyphs, set_foot
from arranger.layout.heading import Heading, set_heading
from arranger.layout.legend import entries, leading, rows_of_legend, set_legend
from arranger.layout.lines import PlannedLine, plan
from arranger.layout.metrics import Metrics
from arranger.layout.model import Bookmark, Document, Item, Link, Page
from arranger.layout.pages import PagePlan, Settled, gap_before, paginate
from arranger.layout.setting import set_line
from arranger.layout.text import place, runs, wrap
from arranger.source import NOWHERE
from arranger.units import A4, Paper

FOOT_ROOM = 9.0  # between the last line's words and the foot, beside the pencil's room


def lay_out(
    arrangement: Arrangement, metrics: Metrics, paper: Paper = A4, date: str | None = None
) -> tuple[Document, tuple[Diagnostic, ...]]:
    """Lay out the player's part.

    Args:
        arrangement: what the keys play.
        metrics: of the fonts that will draw it.
        paper: the size of the pages.
        date: printed at the foot of each page.

    Returns:
        The pages, and an error for each character that no font has.
    """
    width = paper.width - 2 * style.SIDE
    music = width - style.COLUMN - style.GUTTER
    sections = collect(arrangement, metrics)
    planned = [line for section in sections for line in plan(section, music, metrics)]
    lines = [Settled.of(line, sections[line.section].name, metrics) for line in planned]
    heading = set_heading(arrangement, metrics, style.SIDE, style.TOP, width)
    bottom = paper.height - style.BOTTOM - foot_height(metrics)
    notes, notes_top = _notes(arrangement, planned, metrics, width, bottom - FOOT_ROOM)
    first_room = notes_top - FOOT_ROOM - heading.bottom - style.HEADER_GAP
    plans = paginate(lines, first_room, bottom - FOOT_ROOM - style.TOP)
    bookmarks: list[Bookmark] = []
    pages = []
    for number, page in enumerate(plans):
        items: list[Item] = list(heading.items) if number == 0 else []
        top = heading.bottom + style.HEADER_GAP if number == 0 else style.TOP
        items += _music(lines, page, top, number, bookmarks, sections, metrics)
        items += notes if number == 0 else []
        following = _following(lines, plans[number + 1], sections) if number + 1 < len(plans) else ""
        facts = " · ".join([key_words(arrangement.key), *([date] if date else [])])
        foot = (arrangement.song.title.value, facts, following, f"page {number + 1} of {len(plans)}")
        items += set_foot(*foot, metrics, (paper.width, paper.height))
        pages.append(Page(paper.width, paper.height, tuple(items), label=str(number + 1)))
    pages[0] = replace(pages[0], links=_links(heading, lines))
    document = _document(arrangement, tuple(pages), tuple(bookmarks))
    return document, missing_glyphs(document.pages, metrics)


def _notes(
    arrangement: Arrangement, lines: Sequence[PlannedLine], metrics: Metrics, width: float, bottom: float
) -> tuple[list[Item], float]:
    """Place what stands under the music of the first page: the legend, the rights; give the top of it."""
    items: list[Item] = []
    rights = arrangement.song.rights
    texts = wrap(rights.value, "regular", style.SMALL, width, metrics) if rights is not None else ()
    step = leading(metrics)
    rows = rows_of_legend(entries(lines), metrics, width)
    baseline = bottom - step * len(texts)
    items += set_legend(rows, metrics, style.SIDE, baseline)
    for number, text in enumerate(texts, 1):
        y = baseline + step * number
        items += place(
            runs(text, "regular", style.SMALL, metrics), style.SIDE, y, "rights", rights.span if rights else NOWHERE
        )
    return items, bottom - step * (len(rows) + len(texts))


def _music(
    lines: Sequence[Settled],
    plan: PagePlan,
    top: float,
    number: int,
    bookmarks: list[Bookmark],
    names: Sequence[SectionContent],
    metrics: Metrics,
) -> list[Item]:
    """Place the lines of a page from its top down; sections that begin here are added to the bookmarks."""
    items: list[Item] = []
    y = top
    for index in range(plan.first, plan.end):
        y += gap_before(lines, index, plan.first)
        ready = lines[index].at_top if index == plan.first else lines[index].inside
        if ready.line.first:
            section = names[ready.line.section]
            bookmarks.append(Bookmark(section.name, number, y, section.span))
        items += set_line(ready, style.SIDE, y, metrics)
        y += ready.height
    return items


def _following(lines: Sequence[Settled], plan: PagePlan, sections: Sequence[SectionContent]) -> str:
    """Tell what the next page begins with: the section and its first chord there."""
    line = lines[plan.first].inside.line
    symbols = [c.column.symbol for bar in line.bars for c in bar.columns if c.column.symbol is not None]
    chords = ["".join(run.text for run in symbol.runs) for symbol in symbols if symbol.role == "chord"]
    return f"next: {sections[line.section].name}{f', {chords[0]}' if chords else ''}"


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
        subject=f"keys part in {key_words(arrangement.key)}",
        bookmarks=bookmarks,
    )
