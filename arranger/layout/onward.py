"""What to have ready when a page is left: where the roadmap leads from it. For the foot of each page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from arranger.layout.content import SectionContent
from arranger.layout.division import PagePlan
from arranger.layout.pages import Settled
from arranger.song.model import Song

MOST_WAYS = 2  # sections to which a page may lead that are told with their chords; more are only named


def following(
    song: Song, lines: Sequence[Settled], plans: Sequence[PagePlan], number: int, sections: Sequence[SectionContent]
) -> str:
    """Return what to have ready when a page is left: the sections to which the roadmap leads from it.

    One that begins on the next page is told with its first chord, one elsewhere with its page. A page to which nothing
    leads is only announced; nothing is told where the head goes on.
    """
    here, coming = plans[number], plans[number + 1] if number + 1 < len(plans) else PagePlan(0, 0)
    if coming.first < coming.end and not lines[coming.first].inside.line.first:
        return f"next: {_opening(lines, coming, sections[lines[coming.first].inside.line.section])}"
    begun = {
        line.section: page
        for page, plan in enumerate(plans)
        for line in (lines[index].inside.line for index in range(plan.first, plan.end))
        if line.first
    }
    ended = {lines[index].inside.line.section for index in range(here.first, here.end)}
    before = [None, *(step.section for step in song.roadmap)]
    left = dict.fromkeys(
        (step.section, step.from_bar or 1)
        for last, step in zip(before, song.roadmap, strict=False)
        if begun[step.section] != number and (last in ended if ended else last is None)
    )
    if left:
        return f"next: {_ways_on(left, begun, lines, plans, number, sections)}"
    return (
        f"next page: {_opening(lines, coming, sections[lines[coming.first].inside.line.section])}" if coming.end else ""
    )


def _ways_on(
    left: Iterable[tuple[int, int]],
    begun: Mapping[int, int],
    lines: Sequence[Settled],
    plans: Sequence[PagePlan],
    number: int,
    sections: Sequence[SectionContent],
) -> str:
    """Name sections by index and bar: with the first chord on the next page, with the page elsewhere."""
    ways = list(left)
    if len(ways) > MOST_WAYS:
        names = dict.fromkeys(sections[section].name for section, _ in ways)
        return " or ".join(names)
    told = []
    for section, bar in ways:
        page = begun[section]
        near = page == number + 1
        told.append(
            _opening(lines, plans[page], sections[section], bar)
            if near
            else f"{sections[section].name}, page {page + 1}"
        )
    return " or ".join(told)


def _opening(lines: Sequence[Settled], plan: PagePlan, section: SectionContent, from_bar: int = 1) -> str:
    """Name a section and the first chord that a page has of it, from a bar on."""
    symbols = (
        placed.column.symbol
        for ready in lines[plan.first : plan.end]
        for bar in (ready.inside.line.bars if ready.inside.line.section == section.index else ())
        for placed in bar.columns
        if placed.column.symbol is not None and bar.content.number >= from_bar
    )
    chords = ("".join(run.text for run in symbol.runs) for symbol in symbols if symbol.role == "chord")
    return ", ".join(filter(None, (section.name, next(chords, ""))))
