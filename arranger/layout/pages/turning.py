"""Divide lines of any kind over pages, and find when a hand is free to turn one.

A page breaks between lines only. Of all divisions into the fewest pages the one that costs least is taken. What a
break costs, and why, stands here and nowhere else.

A player turns a page in a rest, while a chord is held, or at the end of a section while its last chord sounds. In all
manners that the program knows the left hand strikes its bass once for a chord and holds it, whatever the right hand
does: it may let go, for the pedal holds on. Lines and suspensions that resolve want both eyes, so no hand counts as
free before they are done.
"""

from collections.abc import Callable, Hashable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.model import Arrangement, ChordId, ChordPart, Heard
from arranger.harmony.timeline import seconds
from arranger.song.model import Bar

# What it costs to end a page at a place. Only their proportions count.
SPLIT = 30.0  # inside a section: the eye must carry on over the turn
LONELY = 60.0  # a single line of a section before the break, or after it: it reads as belonging to what is next to it
HEADING = 10_000.0  # after a line that leads on (a heading, a cue across the page): it says nothing without its music
TURN = 15.0  # where no hand is free to turn: as bad as a quarter of a page left white; sheets may lie side by side
# A page but the last that is wholly empty; the cost grows with the square of what is empty. Over a third of a page it
# is dearer than dividing a section (240 / 9 = 27, 240 / 8 = 30): white paper makes the song look done.
EMPTY = 240.0
EMPTY_STRICT = 500.0  # the same where a page over a quarter empty has its reason: 500 / 16 = 31
SECTION_SHARE = 3.0  # of what a page leaves free, to a line's 1: sections are told apart at a glance
FREE = 2.0  # seconds that a hand needs to turn a page


class Block(NamedTuple):
    """A line as the division sees it. Lengths are in points.

    Attributes:
        height: inside a page.
        at_top: its height at the top of a page.
        gap: above it inside a page.
        hangs: what of it may hang into the margin where it is the last of a page.
        first: a section begins with it.
        leads_on: it says nothing without the line after it.
        busy: how many turns of a page that ends after it find no hand free.
        hands: what lines with the same chords and hands have in common; None where no other line has them.
        folded: its height where a line with the same hands stands before it on the page.
    """

    height: float
    at_top: float
    gap: float = 0.0
    hangs: float = 0.0
    first: bool = False
    leads_on: bool = False
    busy: int = 0
    hands: Hashable | None = None
    folded: float = 0.0


class PagePlan(NamedTuple):
    """The lines of a page, by index: from `first` up to `end`."""

    first: int
    end: int


def divide(
    blocks: Sequence[Block],
    first_room: float,
    room: float,
    turned: Callable[[int], bool] = lambda _: True,
    turn: float = TURN,
    strict: bool = False,
) -> tuple[PagePlan, ...]:
    """Divide lines over pages.

    A line that is higher than a page gets a page of its own; the first page has none where its head leaves no room.
    Costs are (pages, badness), after how many lonely lines there are if that is `strict`; the best division of the
    lines from each line on is settled from the last line back, for a first page and for the others.

    Args:
        blocks: the lines.
        first_room: the height free on the first page.
        room: that on the others.
        turned: whether a page is turned at its end, by the number of pages after it; it is unless said.
        turn: what it costs where no hand is free for that.
        strict: no page ends after the only line of a section on it, nor before the last one, if that can be; and a
            section is rather divided than a quarter of a page left white.
    """
    count = len(blocks)
    if not count:
        return (PagePlan(0, 0),)
    if first_room < room and blocks[0].at_top - blocks[0].hangs > first_room:
        return (PagePlan(0, 0), *divide(blocks, room, room, turned, turn, strict))
    empty = EMPTY_STRICT if strict else EMPTY
    # Lonely lines, pages, badness, end of the page that begins.
    best: list[tuple[int, int, float, int]] = [(0, 0, 0.0, count)] * (count + 1)
    for first in range(count - 1, -1, -1):
        height, free = 0.0, room if first else first_room
        shown: set[Hashable] = set()
        chosen: tuple[int, int, float, int] | None = None  # with minus the end: later is better
        for end, last in enumerate(blocks[first:], first + 1):
            height += last.gap + (last.folded if last.hands in shown else last.height) if chosen else last.at_top
            if last.hands is not None:
                shown.add(last.hands)
            if chosen and height - last.hangs > free:
                break
            lonely, pages, badness, _ = best[end]
            if end < count:
                busy = last.busy * turn if turned(pages) else 0.0
                badness += busy + _break_cost(blocks, end) + empty * max(0.0, 1.0 - height / free) ** 2
                lonely += strict and _is_lonely(blocks, end)
            choice = lonely, pages + 1, round(badness, 6), -end
            if chosen is None or choice < chosen:
                chosen, best[first] = choice, (lonely, pages + 1, badness, end)
    plans = []
    first = 0
    while first < count:
        plans.append(PagePlan(first, best[first][3]))
        first = plans[-1].end
    return tuple(plans)


def _break_cost(blocks: Sequence[Block], at: int) -> float:
    """Return what it costs to end a page before a line, turns apart."""
    if blocks[at - 1].leads_on:
        return HEADING
    if blocks[at].first:
        return 0.0
    return SPLIT + LONELY * _alone(blocks, at)


def _alone(blocks: Sequence[Block], at: int) -> int:
    """Count the lines before and after a break inside a section that stand there without another of the section."""
    return blocks[at - 1].first + (at + 1 == len(blocks) or blocks[at + 1].first)


def _is_lonely(blocks: Sequence[Block], at: int) -> bool:
    return not blocks[at].first and _alone(blocks, at) > 0


def forms(blocks: Sequence[Block], plan: PagePlan) -> list[tuple[int, int | None]]:
    """Return the lines of a page by index, each with that before it whose hands it has, where it is without its own."""
    shown: dict[Hashable, int] = {}
    found = []
    for place in range(plan.first, plan.end):
        hands = blocks[place].hands
        known = shown.setdefault(hands, place) if hands is not None else place
        found.append((place, known if known != place else None))
    return found


def _heights(blocks: Sequence[Block], plan: PagePlan) -> list[float]:
    """Return how high each line of a page is on it."""
    return [
        blocks[place].folded if known is not None else blocks[place].height if number else blocks[place].at_top
        for number, (place, known) in enumerate(forms(blocks, plan))
    ]


def filled_height(blocks: Sequence[Block], plan: PagePlan) -> float:
    """Return how much of a page its lines take, with the gaps between them."""
    gaps = sum(block.gap for block in blocks[plan.first + 1 : plan.end])
    return sum(_heights(blocks, plan)) + gaps


def spread(blocks: Sequence[Block], plan: PagePlan, room: float, most: float) -> tuple[float, ...]:
    """Return the room above each line of a page, where what the page leaves free is shared out.

    `room` is the height for them, as it was given to `divide`; two lines of a section move apart by `most` at most.
    """
    places = range(plan.first, plan.end)
    if not places:
        return ()
    gaps = [0.0 if place == plan.first else blocks[place].gap for place in places]
    height = sum(_heights(blocks, plan))
    shares = [0.0 if place == plan.first else _share(blocks, place) for place in places]
    # What may hang into the margin does so only where it must: the last line keeps clear of the foot.
    free = room - height - sum(gaps)
    step = min(most, max(0.0, free) / sum(shares)) if any(shares) else 0.0
    return tuple(gap + step * share for gap, share in zip(gaps, shares, strict=True))


def tops(blocks: Sequence[Block], plan: PagePlan, top: float, room: float, most: float) -> list[tuple[int, float]]:
    """Return the lines of a page by index, each with its y, where the first begins at `top`; see `spread`."""
    found = []
    places = range(plan.first, plan.end)
    for index, gap, height in zip(places, spread(blocks, plan, room, most), _heights(blocks, plan), strict=True):
        top += gap
        found.append((index, top))
        top += height
    return found


def _share(blocks: Sequence[Block], place: int) -> float:
    """Return the share of a line in what a page leaves free: what leads on to it stays with it."""
    if blocks[place - 1].leads_on:
        return 0.0
    return SECTION_SHARE if blocks[place].first else 1.0


HOLDING = ("held", "halves", "quarters", "eighths", "broken")  # manners in which the left hand holds its bass
OWN_WORDS = Fraction(1)  # quarters: how often both hands strike, at most, in a manner in the writer's own words
SILENT = -1  # in place of a chord: a section without any, as a whole


class Passage(NamedTuple):
    """From one chord to what is played next; `free` seconds pass in which no hand does anything new.

    A section in which nothing is played counts as one chord, with the number `SILENT`.
    """

    chord: ChordId
    after: ChordId
    free: float

    @property
    def turns(self) -> bool:
        """Whether there is time to turn a page."""
        return self.free >= FREE


class _Event(NamedTuple):
    """A chord as it is heard, or a silent section: when it begins, and when the last thing is done in it (quarters)."""

    chord: ChordId
    at: Fraction
    done: Fraction


def passages(arrangement: Arrangement) -> tuple[Passage, ...]:
    """Return what follows what as heard, each pair of chords once, with the least free time between them."""
    found: dict[tuple[ChordId, ChordId], Fraction] = {}
    for one, two in pairwise(_events(arrangement)):
        facts = arrangement.song.sections[one.chord[0]].facts
        free = seconds(max(Fraction(0), two.at - min(one.done, two.at)), facts)
        pair = one.chord, two.chord
        found[pair] = min(free, found.get(pair, free))
    return tuple(Passage(one, two, float(free)) for (one, two), free in found.items())


def _events(arrangement: Arrangement) -> list[_Event]:
    """Return all chords as they are heard, and the silent sections between them."""
    song = arrangement.song
    by_step: dict[int, list[Heard]] = {}
    for heard in arrangement.heard:
        by_step.setdefault(heard.step, []).append(heard)
    events: list[_Event] = []
    now = Fraction(0)
    for number, step in enumerate(song.roadmap):
        if number not in by_step:
            events.append(_Event((step.section, SILENT), now, now))
            now += step.times * sum((bar.length for bar in song.sections[step.section].bars), Fraction(0))
            continue
        for heard in by_step[number]:
            last = max((done for done in _done(arrangement, heard) if done < heard.length), default=Fraction(0))
            events.append(_Event(heard.chord, heard.at, heard.at + last))
            now = heard.at + heard.length
    return events


def _done(arrangement: Arrangement, one: Heard) -> Iterator[Fraction]:
    """Return when something is done on a chord, in quarters from its beginning."""
    number, _ = one.chord
    section, part = arrangement.song.sections[number], arrangement.sections[number]
    chord = arrangement.chord(one.chord)
    manner = chord.written.manner if chord.written is not None else ()
    if part.play not in HOLDING and not {"hold", "stop"} & set(manner):
        # The last strike before the chord ends.
        yield max(0, -(-one.length // OWN_WORDS) - 1) * OWN_WORDS
    bars = section.bars
    settled = chord.suspension
    if settled is not None and settled.bar is not None and settled.start is not None:
        yield _since(bars, chord, _index(bars, settled.bar), settled.start)
    for line in part.octaves:
        if line.before == one.chord:
            for note in line.notes:
                yield _since(bars, chord, _flat(arrangement, number, note.row, note.bar_index), note.start)
    for row_index, row in enumerate(section.rows):
        for bar_index, notes in enumerate(row.hook.bars if row.hook is not None else ()):
            for hook in notes:
                if hook.pitch is not None:
                    yield _since(bars, chord, _flat(arrangement, number, row_index, bar_index), hook.start)


def _index(bars: tuple[Bar, ...], number: int) -> int:
    return next(index for index, bar in enumerate(bars) if bar.number == number)


def _flat(arrangement: Arrangement, section: int, row: int, bar: int) -> int:
    """Return the place of a bar among all bars of its section."""
    rows = arrangement.song.sections[section].rows
    return sum(len(rows[before].bars) for before in range(row)) + bar


def _since(bars: tuple[Bar, ...], chord: ChordPart, index: int, start: Fraction) -> Fraction:
    """Return the time from a chord to a place of its section in quarters, as written; below 0 before the chord."""
    here = _index(bars, chord.bar)
    between = sum((bar.length for bar in bars[min(here, index) : max(here, index)]), Fraction(0))
    return (between if index >= here else -between) + start - chord.start
