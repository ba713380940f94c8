"""Fourth room: lines -> pages. Which lines stand on which page, and the foot of each page.

A page breaks between lines only, and a line has the chords with their words: they never part. Of all divisions into
the fewest pages the one that costs least is taken. What a break costs, and why, stands here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.layout import style
from arranger.layout.content import MarginEntry, Symbol
from arranger.layout.lines import PlannedLine
from arranger.layout.metrics import Metrics
from arranger.layout.setting import SetLine, prepare
from arranger.layout.text import elided

# What it costs to end a page at a place. Only their proportions count.
SPLIT = 30.0  # inside a section: the eye must carry on over the turn
LONELY = 60.0  # a single line of a section before the break, or after it: it reads as belonging to what is next to it
HEADING = 10_000.0  # after a line that leads on (a heading, a cue across the page): it says nothing without its music
TURN = 15.0  # where no hand is free to turn: as bad as a quarter of a page left white; sheets may lie side by side
# A page but the last that is wholly empty; the cost grows with the square of what is empty. Over a third of a page it
# is dearer than dividing a section (240 / 9 = 27, 240 / 8 = 30): white paper makes the song look done.
EMPTY = 240.0
NAME_LINES = 2  # of the column that the name of a section takes where it goes on
SECTION_SHARE = 3.0  # of what a page leaves free, to a line's 1: sections are told apart at a glance
FREE = 2.0  # seconds that a hand needs to turn a page


@dataclass(frozen=True, slots=True)
class Settled:
    """A line as it stands inside a page and at the top of one, where the section that goes on is named again.

    `turns`: a hand is free at its end, long enough to turn a page.
    """

    inside: SetLine
    at_top: SetLine
    turns: bool = True

    @classmethod
    def of(cls, line: PlannedLine, section: str, metrics: Metrics, quarters_a_minute: float) -> Settled:
        """Prepare a line of a section for both places."""
        inside = prepare(line, metrics)
        turns = free_quarters(line) * 60 / quarters_a_minute >= FREE
        if line.first or line.across is not None:
            return cls(inside, inside, turns)
        name = elided(f"({section})", "regular", style.MARGIN, NAME_LINES * style.COLUMN, metrics)
        named = replace(line, margin=(MarginEntry(name, "fact"), *line.margin))
        return cls(inside, prepare(named, metrics, inside.rows), turns)


def free_quarters(line: PlannedLine) -> float:
    """Give how long the hands do nothing new at the end of a line, in quarters."""
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


@dataclass(frozen=True, slots=True)
class PagePlan:
    """The lines of a page, by index: from `first` up to `end`."""

    first: int
    end: int


def gap_before(lines: Sequence[Settled], index: int, first: int) -> float:
    """Give the room above a line: more where a section begins, none at the top of a page."""
    line = lines[index].inside.line
    return line.look.section_gap if index > first and line.first else 0.0


def spread(lines: Sequence[Settled], plan: PagePlan, room: float) -> tuple[float, ...]:
    """Give the room above each line of a page, where what the page leaves free is shared out, up to a most.

    Args:
        lines: all lines of the part.
        plan: the lines of the page.
        room: the height for them, as it was given to `paginate`.
    """
    gaps = [gap_before(lines, index, plan.first) for index in range(plan.first, plan.end)]
    height = sum(
        (lines[index].at_top if index == plan.first else lines[index].inside).height
        for index in range(plan.first, plan.end)
    )
    shares = [0.0 if index == plan.first else _share(lines, index) for index in range(plan.first, plan.end)]
    free = room + _hanging(lines[plan.end - 1].inside.line) - height - sum(gaps) if gaps else 0.0
    step = min(style.SPREAD, max(0.0, free) / sum(shares)) if any(shares) else 0.0
    return tuple(gap + step * share for gap, share in zip(gaps, shares, strict=True))


def _share(lines: Sequence[Settled], index: int) -> float:
    """Give the share of a line in what a page leaves free: what leads on to it stays with it."""
    if lines[index - 1].inside.line.leads_on:
        return 0.0
    return SECTION_SHARE if lines[index].inside.line.first else 1.0


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
        if height - _hanging(line.line) > room and end > first + 1:
            break
        pages, badness, _ = best[end]
        if end < len(lines):
            badness += _break_cost(lines, end) + EMPTY * max(0.0, 1.0 - height / room) ** 2
        choices.append((pages + 1, badness, end))
    return min(choices, key=lambda choice: (choice[0], round(choice[1], 6), -choice[2]))


def _hanging(last: PlannedLine) -> float:
    """Give what of a page's last line may hang into the margin: the pencil's room under it."""
    return 0.0 if last.across is not None else style.PENCIL


def _break_cost(lines: Sequence[Settled], at: int) -> float:
    """Give what it costs to end a page before a line."""
    turn = 0.0 if lines[at - 1].turns else TURN
    if lines[at - 1].inside.line.leads_on:
        return HEADING
    if lines[at].inside.line.first:
        return turn
    alone_before = lines[at - 1].inside.line.first
    alone_after = at + 1 == len(lines) or lines[at + 1].inside.line.first
    return turn + SPLIT + LONELY * (alone_before + alone_after)
