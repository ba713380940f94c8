"""Fourth room: lines -> pages. Which lines stand on which page, and the foot of each page.

A page breaks between lines only. Of all divisions into the fewest pages, the best one keeps sections whole, then
leaves no line of a section alone, then fills the pages evenly from the front.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.layout import style
from arranger.layout.content import MarginEntry
from arranger.layout.lines import PlannedLine
from arranger.layout.metrics import Metrics
from arranger.layout.setting import SetLine, prepare

SPLIT = 1000.0  # a section that is divided over two pages
LONELY = 600.0  # only one of its lines is before or after the break
EMPTY = 100.0  # a page but the last that is wholly empty; a half empty one costs a quarter of it


@dataclass(frozen=True, slots=True)
class Settled:
    """A line as it stands inside a page and at the top of one, where the section that goes on is named again."""

    inside: SetLine
    at_top: SetLine

    @classmethod
    def of(cls, line: PlannedLine, section: str, metrics: Metrics) -> Settled:
        """Prepare a line of a section for both places."""
        inside = prepare(line, metrics)
        if line.first:
            return cls(inside, inside)
        named = replace(line, margin=(MarginEntry(f"({section})", "fact"), *line.margin))
        return cls(inside, prepare(named, metrics))


@dataclass(frozen=True, slots=True)
class PagePlan:
    """The lines of a page, by index: from `first` up to `end`."""

    first: int
    end: int


def gap_before(lines: Sequence[Settled], index: int, first: int) -> float:
    """Give the room above a line: more where a section begins, none at the top of a page."""
    return style.SECTION_GAP if index > first and lines[index].inside.line.first else 0.0


def paginate(lines: Sequence[Settled], first_room: float, room: float) -> tuple[PagePlan, ...]:
    """Divide the lines over pages: `first_room` is the height free on the first page, `room` that on the others.

    A line that is higher than a page gets a page of its own; the first page has none where its head leaves no room.
    Costs are (pages, badness); the best division of the lines from each line on is settled from the last line back,
    for a first page and for the others.
    """
    count = len(lines)
    if not count:
        return (PagePlan(0, 0),)
    if first_room < room and lines[0].inside.height - style.PENCIL > first_room:
        return (PagePlan(0, 0), *paginate(lines, room, room))
    best: list[tuple[int, float, int]] = [(0, 0.0, count)] * (count + 1)  # pages, badness, end of the page that begins
    for first in range(count - 1, -1, -1):
        best[first] = _best_end(lines, first, first_room if first == 0 else room, best)
    plans = []
    first = 0
    while first < count:
        end = best[first][2]
        plans.append(PagePlan(first, end))
        first = end
    return tuple(plans)


def _best_end(
    lines: Sequence[Settled], first: int, room: float, best: Sequence[tuple[int, float, int]]
) -> tuple[int, float, int]:
    choices = []
    height = 0.0
    for end in range(first + 1, len(lines) + 1):
        line = lines[end - 1].at_top if end - 1 == first else lines[end - 1].inside
        height += line.height + gap_before(lines, end - 1, first)
        # The pencil's room under the last line may hang into the margin.
        if height - style.PENCIL > room and end > first + 1:
            break
        pages, badness, _ = best[end]
        if end < len(lines):
            badness += _break_cost(lines, end) + EMPTY * max(0.0, 1.0 - height / room) ** 2
        choices.append((pages + 1, badness, end))
    return min(choices, key=lambda choice: (choice[0], round(choice[1], 6), -choice[2]))


def _break_cost(lines: Sequence[Settled], at: int) -> float:
    """Give what it costs to end a page before a line."""
    if lines[at].inside.line.first:
        return 0.0
    alone_before = lines[at - 1].inside.line.first
    alone_after = at + 1 == len(lines) or lines[at + 1].inside.line.first
    return SPLIT + LONELY * (alone_before + alone_after)
