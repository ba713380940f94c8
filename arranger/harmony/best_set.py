"""Which of the offered suspensions are taken: the best set within the limits, proven.

Takes offers and the right hand's plain candidates; gives the offers taken. All hands and all offers are settled
together: a chord is plain or takes one of its offers, each in every hand that it may have, and the sum is that of the
hands with what the suspensions are worth (`suspending.merit`).
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from arranger.harmony import cost
from arranger.harmony.answer import lower_bound
from arranger.harmony.limited import Limit, best_within
from arranger.harmony.right_hand import Candidate, Scene, moved, node_cost
from arranger.harmony.search import Problem, plan
from arranger.harmony.suspending import Neighbours, Standing, merit, neighbours, suspended, suspended_key
from arranger.harmony.suspensions import Offer
from arranger.harmony.timeline import Timeline, bars_heard
from arranger.harmony.uses import Change
from arranger.song.model import Song


@dataclass(frozen=True, slots=True)
class Taken:
    """The offers taken, by unknown, and what is known of hands and suspensions together.

    `cost` is the least found of the hands' sum with what the suspensions are worth, in these `hands`; whatever hands
    and suspensions are taken within the limits, it does not go below `bound`. None where there is nothing to offer, or
    the problem is too large for the search (then there are no offers, and the bound alone).
    """

    offers: dict[int, Offer]
    bound: int | None = None
    cost: int | None = None
    hands: tuple[Candidate, ...] | None = None


NOTHING = Standing(prepared=False, held_over=False)


@dataclass(frozen=True, slots=True)
class _State:
    """What an unknown may do: a hand, plain or with an offer.

    `claims`: it is to stand like this among its neighbours; a neighbour that does not let it is ruled out. Only where
    more than one neighbour has a say; else what it is worth is settled with the one.
    """

    hand: Candidate
    offer: Offer | None = None
    claims: Standing = NOTHING


NOT_SO = 1 << 40  # rules out a pair of states: more than any song can cost


def choose(
    song: Song, timeline: Timeline, scene: Scene, plain: Sequence[Sequence[Candidate]], offers: Sequence[Offer]
) -> Taken:
    """Take the best set of offers."""
    near = neighbours(timeline, scene)
    states = _states(scene, plain, offers, near)
    if not any(one.offer for some in states for one in some):
        return Taken({})
    problem = _problem(scene, states, near)
    if plan(problem, MOST_ENTRIES) is None:
        return Taken({}, lower_bound(problem, timeline.unknowns_heard()))
    found = best_within(problem, _limits(song, timeline, scene, states))
    chosen = [some[c] for some, c in zip(states, found.choice, strict=True)]
    taken = {i: one.offer for i, one in enumerate(chosen) if one.offer is not None}
    return Taken(taken, found.bound, found.cost, tuple(one.hand for one in chosen))


MOST_ENTRIES = 1_000_000  # of all tables together: they are made again many times


def _states(
    scene: Scene, plain: Sequence[Sequence[Candidate]], offers: Sequence[Offer], near: Sequence[Neighbours]
) -> list[list[_State]]:
    states = [[_State(hand) for hand in some] for some in plain]
    for offer in offers:
        around = near[offer.unknown]
        can_be = bool(around.into) and not around.free, bool(around.out) and offer.resolve_after is None
        prepared = (True, False) if can_be[0] and len(around.into) > 1 else (False,)
        held = (True, False) if can_be[1] and len(around.out) > 1 else (False,)
        times = scene.uses.unknowns[offer.unknown].times
        for p, h in itertools.product(prepared, held):
            at_best = Standing(p or (can_be[0] and len(around.into) == 1), h or (can_be[1] and len(around.out) == 1))
            if merit(offer, at_best, scene) < times * _most_saved(offer, scene):
                hands = suspended(plain[offer.unknown], offer, scene)
                states[offer.unknown] += [_State(hand, offer, Standing(p, h)) for hand in hands]
    return states


def _most_saved(offer: Offer, scene: Scene) -> int:
    """Return what a suspension can save the hands at most each time: what is worth less is never taken.

    Against the plain hand that it stands for one note lies a step off. On each side that saves the step, a new key and
    small terms at most; one that resolves pays step and key again inside the chord.
    """
    taste, step = scene.taste, abs(offer.step)
    side = taste.top_leap * step + taste.parallel
    alone = taste.register * step + taste.wide * step + taste.muddy
    if offer.resolve_after is not None:
        return alone + side
    return alone + 2 * (side + taste.movement * step + taste.moved)


def _problem(scene: Scene, states: Sequence[Sequence[_State]], near: Sequence[Neighbours]) -> Problem:
    """State hands and suspensions as one search problem."""
    nodes = [
        [node_cost(s.hand, i, scene) + (merit(s.offer, s.claims, scene) if s.offer else 0) for s in some]
        for i, some in enumerate(states)
    ]
    pairs: dict[tuple[int, int], list[list[int]]] = {}
    for change, times in scene.uses.changes:
        one, two, _ = change
        table = _table(scene, change, times, states, near)
        if one == two:
            nodes[one] = [cost + table[i][i] for i, cost in enumerate(nodes[one])]
            continue
        rows = table if one < two else [list(column) for column in zip(*table, strict=True)]
        key = (min(one, two), max(one, two))
        old = pairs.get(key)
        pairs[key] = (
            [[a + b for a, b in zip(x, y, strict=True)] for x, y in zip(old, rows, strict=True)] if old else rows
        )
    return Problem(tuple(nodes), {key: tuple(rows) for key, rows in pairs.items()})


def _table(
    scene: Scene, change: Change, times: int, states: Sequence[Sequence[_State]], near: Sequence[Neighbours]
) -> list[list[int]]:
    """Return the cost of each state of an unknown with each of the next, the worth of their suspensions included."""
    one, two, shift = change
    taste, unknowns = scene.taste, scene.uses.unknowns
    lasts = list(dict.fromkeys(s.hand.last for s in states[one]))  # many states share what they come to
    firsts = list(dict.fromkeys(s.hand.first for s in states[two]))
    heard_firsts = tuple(moved(first, shift) for first in firsts)
    from_place = [lasts.index(s.hand.last) for s in states[one]]
    to_place = [firsts.index(s.hand.first) for s in states[two]]
    way = cost.bass_way(scene.basses[two] + shift - scene.basses[one])
    short = [[times * c for c in row] for row in cost.changes(tuple(lasts), heard_firsts, way, taste)]
    wide = [[row[place] for place in to_place] for row in short]
    table = [list(wide[place]) for place in from_place]
    for j, state in enumerate(states[two]):
        worth = _worth(state.claims.prepared, len(near[two].into), taste.sus_prepared - taste.sus_colour)
        if state.offer is None or near[two].free or worth is None:
            continue
        key = suspended_key(state.hand, state.offer, scene) + shift
        prepares = [key in last for last in lasts]
        for row, place in zip(table, from_place, strict=True):
            row[j] += worth[prepares[place]] * unknowns[two].times
    for row, state in zip(table, states[one], strict=True):
        worth = _worth(state.claims.held_over, len(near[one].out), taste.sus_held_over - taste.sus_left)
        if state.offer is None or state.offer.resolve_after is not None or worth is None:
            continue
        key = suspended_key(state.hand, state.offer, scene)
        holds = [key in first for first in heard_firsts]
        for j, place in enumerate(to_place):
            row[j] += worth[holds[place]] * unknowns[one].times
    return table


def _worth(claimed: bool, say: int, gain: int) -> tuple[int, int] | None:
    """Return how the worth of a suspension depends on one neighbour's state; None where it does not.

    Where one neighbour has the say, the gain is settled here; where more have, a claim of all of them is held to.
    """
    if say == 1:
        return 0, gain
    return (NOT_SO, 0) if claimed else None


def _limits(song: Song, timeline: Timeline, scene: Scene, states: Sequence[Sequence[_State]]) -> list[Limit]:
    """Return the limits: open ones apart, no section with much more than its share, the song with its share."""
    share, printed = scene.taste.suspensions, _printed(song, timeline)
    may = {i for i, some in enumerate(states) if any(s.offer for s in some)}
    times = {u: count for u, count in _times_printed(song, timeline).items() if u in may}

    def of_all(amounts: dict[int, int]) -> dict[int, tuple[int, ...]]:
        return {u: tuple(n if s.offer else 0 for s in states[u]) for u, n in sorted(amounts.items()) if n}

    limits = []
    for amounts in _open_together(song, timeline, scene, states):
        uses = {
            u: tuple(n if s.offer and s.offer.resolve_after is None else 0 for s in states[u])
            for u, n in sorted(amounts.items())
        }
        limits.append(Limit(uses, 1))
    for section, count in printed.items():  # a colour in every bar of the chorus is none
        limits.append(Limit(of_all({u: n[section] for u, n in times.items()}), ceil(count * share)))
    limits.append(Limit(of_all({u: n.total() for u, n in times.items()}), int(sum(printed.values()) * share)))
    return [limit for limit in limits if sum(max(uses) for uses in limit.uses.values()) > limit.most]


PARTS = 1000  # of a bar: whole numbers compare fast


def _open_together(
    song: Song, timeline: Timeline, scene: Scene, states: Sequence[Sequence[_State]]
) -> list[Counter[int]]:
    """Return the groups of unknowns of which one at most may stay open: how often each is heard within so many bars."""
    bars = PARTS * scene.taste.suspensions_open_bars
    may = {i for i, some in enumerate(states) if any(s.offer and s.offer.resolve_after is None for s in some)}
    heard = []
    for one, bar in zip(timeline.heard, bars_heard(song, timeline.heard), strict=True):
        unknown = timeline.at(one.chord).unknown
        if unknown is not None and unknown in may:
            heard.append((round(PARTS * bar), unknown))
    groups: list[Counter[int]] = []
    for place, (start, _) in enumerate(heard):
        group: Counter[int] = Counter()
        for at, unknown in itertools.islice(heard, place, None):
            if at - start >= bars:
                break
            group[unknown] += 1
        if group.total() > 1 and not any(group <= other for other in groups):
            groups = [other for other in groups if not other <= group] + [group]
    return groups


def _printed(song: Song, timeline: Timeline) -> dict[int, int]:
    """Count the printed chords of each section; one `like` another prints its model's again and does not count."""
    pairs = enumerate(zip(timeline.printed, song.sections, strict=True))
    return {i: sum(p.kind == "chord" for p in part) for i, (part, section) in pairs if section.model is None}


def _times_printed(song: Song, timeline: Timeline) -> dict[int, Counter[int]]:
    """Count how often each unknown is printed in each section, copies by `like` aside."""
    found: dict[int, Counter[int]] = {}
    for index, (part, section) in enumerate(zip(timeline.printed, song.sections, strict=True)):
        for one in part:
            if one.unknown is not None and section.model is None:
                found.setdefault(one.unknown, Counter())[index] += 1
    return found
