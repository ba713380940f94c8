"""How lines are divided over pages, of whatever kind. Takes what is to be known of lines; gives the lines of each page.

A page breaks between lines only. Of all divisions into the fewest pages the one that costs least is taken. What a
break costs, and why, stands here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

# What it costs to end a page at a place. Only their proportions count.
SPLIT = 30.0  # inside a section: the eye must carry on over the turn
LONELY = 60.0  # a single line of a section before the break, or after it: it reads as belonging to what is next to it
HEADING = 10_000.0  # after a line that leads on (a heading, a cue across the page): it says nothing without its music
TURN = 15.0  # where no hand is free to turn: as bad as a quarter of a page left white; sheets may lie side by side
# A page but the last that is wholly empty; the cost grows with the square of what is empty. Over a third of a page it
# is dearer than dividing a section (240 / 9 = 27, 240 / 8 = 30): white paper makes the song look done.
EMPTY = 240.0
SECTION_SHARE = 3.0  # of what a page leaves free, to a line's 1: sections are told apart at a glance
FREE = 2.0  # seconds that a hand needs to turn a page


@dataclass(frozen=True, slots=True)
class Block:
    """A line as the division sees it. Lengths are in points.

    Attributes:
        height: inside a page.
        at_top: its height at the top of a page.
        gap: above it inside a page.
        hangs: what of it may hang into the margin where it is the last of a page.
        first: a section begins with it.
        leads_on: it says nothing without the line after it.
        busy: how many turns of a page that ends after it find no hand free.
    """

    height: float
    at_top: float
    gap: float = 0.0
    hangs: float = 0.0
    first: bool = False
    leads_on: bool = False
    busy: int = 0


@dataclass(frozen=True, slots=True)
class PagePlan:
    """The lines of a page, by index: from `first` up to `end`."""

    first: int
    end: int


def always(pages_left: int) -> bool:
    """Tell that every end of a page is a turn."""
    return True


def divide(
    blocks: Sequence[Block],
    first_room: float,
    room: float,
    turned: Callable[[int], bool] = always,
    turn: float = TURN,
) -> tuple[PagePlan, ...]:
    """Divide lines over pages.

    A line that is higher than a page gets a page of its own; the first page has none where its head leaves no room.
    Costs are (pages, badness); the best division of the lines from each line on is settled from the last line back,
    for a first page and for the others.

    Args:
        blocks: the lines.
        first_room: the height free on the first page.
        room: the height free on the others.
        turned: tells whether a page is turned at its end, by the number of pages after it.
        turn: what it costs where no hand is free for that.
    """
    count = len(blocks)
    if not count:
        return (PagePlan(0, 0),)
    if first_room < room and blocks[0].at_top - blocks[0].hangs > first_room:
        return (PagePlan(0, 0), *divide(blocks, room, room, turned, turn))
    best: list[tuple[int, float, int]] = [(0, 0.0, count)] * (count + 1)  # pages, badness, end of the page that begins
    for first in range(count - 1, -1, -1):
        best[first] = _best_end(blocks, first, first_room if first == 0 else room, best, turned, turn)
    plans = []
    first = 0
    while first < count:
        end = best[first][2]
        plans.append(PagePlan(first, end))
        first = end
    return tuple(plans)


def _best_end(
    blocks: Sequence[Block],
    first: int,
    room: float,
    best: Sequence[tuple[int, float, int]],
    turned: Callable[[int], bool],
    turn: float,
) -> tuple[int, float, int]:
    choices = []
    height = blocks[first].at_top
    for end in range(first + 1, len(blocks) + 1):
        last = blocks[end - 1]
        if end > first + 1:
            height += last.height + last.gap
            if height - last.hangs > room:
                break
        pages, badness, _ = best[end]
        if end < len(blocks):
            busy = last.busy * turn if turned(pages) else 0.0
            badness += busy + _break_cost(blocks, end) + EMPTY * max(0.0, 1.0 - height / room) ** 2
        choices.append((pages + 1, badness, end))
    return min(choices, key=lambda choice: (choice[0], round(choice[1], 6), -choice[2]))


def _break_cost(blocks: Sequence[Block], at: int) -> float:
    """Return what it costs to end a page before a line, turns apart."""
    if blocks[at - 1].leads_on:
        return HEADING
    if blocks[at].first:
        return 0.0
    alone_before = blocks[at - 1].first
    alone_after = at + 1 == len(blocks) or blocks[at + 1].first
    return SPLIT + LONELY * (alone_before + alone_after)


def spread(blocks: Sequence[Block], plan: PagePlan, room: float, most: float) -> tuple[float, ...]:
    """Return the room above each line of a page, where what the page leaves free is shared out.

    Args:
        blocks: all lines.
        plan: the lines of the page.
        room: the height for them, as it was given to `divide`.
        most: by which two lines of a section move apart.
    """
    places = range(plan.first, plan.end)
    if not places:
        return ()
    gaps = [0.0 if place == plan.first else blocks[place].gap for place in places]
    height = sum(blocks[place].at_top if place == plan.first else blocks[place].height for place in places)
    shares = [0.0 if place == plan.first else _share(blocks, place) for place in places]
    # What may hang into the margin does so only where it must: the last line keeps clear of the foot.
    free = room - height - sum(gaps)
    step = min(most, max(0.0, free) / sum(shares)) if any(shares) else 0.0
    return tuple(gap + step * share for gap, share in zip(gaps, shares, strict=True))


def _share(blocks: Sequence[Block], place: int) -> float:
    """Return the share of a line in what a page leaves free: what leads on to it stays with it."""
    if blocks[place - 1].leads_on:
        return 0.0
    return SECTION_SHARE if blocks[place].first else 1.0
