"""State hands and suspensions as one search problem, with the limits that keep suspensions rare.

The sum is that of the hands with what the suspensions are worth (`suspensions.merit`). Each unknown of the problem has
its states: every hand that it may have, plain or with a suspension that is offered.
"""

import itertools
from collections import Counter
from collections.abc import Sequence
from functools import partial
from math import ceil
from typing import NamedTuple

from arranger.harmony.candidates import Scene, climb_cost, node_costs
from arranger.harmony.choices import RULED_OUT, ChoiceProblem, problem_over
from arranger.harmony.drone_hands import with_drones
from arranger.harmony.inner_lines import keeps
from arranger.harmony.limits import Limit
from arranger.harmony.suspensions import Neighbours, Offer, Standing, merit, suspended, suspended_key
from arranger.harmony.timeline import Timeline, bars_counted
from arranger.harmony.uses import HandChange
from arranger.harmony.voicings import Candidate, Voicing, bass_way, change_costs, moved
from arranger.song.model import Song


class HandState(NamedTuple):
    """What an unknown may do: a hand, plain or with an offer.

    `claims`: it is to stand like this among its neighbours; a neighbour that does not let it is ruled out. Only where
    more than one neighbour has a say; else what it is worth is counted with the one.
    """

    hand: Candidate
    offer: Offer | None = None
    claims: Standing = Standing(prepared=False, held_over=False)


def states_of(
    scene: Scene, plain: Sequence[Sequence[Candidate]], offers: Sequence[Offer], near: Sequence[Neighbours]
) -> list[list[HandState]]:
    """Return the states of each unknown: its plain hands, then those of each offer that may be worth taking."""
    states = [[HandState(hand) for hand in some] for some in plain]
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
                states[offer.unknown] += [HandState(hand, offer, Standing(p, h)) for hand in hands]
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


def build(choices: Sequence[Sequence[Candidate]], scene: Scene) -> ChoiceProblem:
    """State the sum of the hands alone as a search problem."""
    return stated_sum(scene, [[HandState(hand) for hand in some] for some in choices], ())


def stated_sum(scene: Scene, states: Sequence[Sequence[HandState]], near: Sequence[Neighbours]) -> ChoiceProblem:
    """State hands and suspensions as one search problem."""
    ends = [_ends(some, scene) for some in states]
    nodes = []
    for i, some in enumerate(states):
        hands = dict.fromkeys([s.hand for s in some])  # states share hands, and many their offer
        alone = dict(zip(hands, node_costs(hands, i, scene), strict=True))
        alike = {(id(s.offer), s.claims): s for s in some}
        worth = {key: merit(s.offer, s.claims, scene) if s.offer else 0 for key, s in alike.items()}
        nodes.append([alone[s.hand] + worth[id(s.offer), s.claims] for s in some])
    among, climbs = partial(_table, scene, states, ends, near), partial(_climb_table, scene, states)
    rises = (((one, two, int(far)), 0) for one, two, far in scene.climbs)  # not changes that are heard: 0 times
    pairs = [*scene.uses.changes, *rises]
    problem = problem_over(nodes, pairs, lambda pair, times: among(pair, times) if times else climbs(pair))
    return with_drones(problem, scene.drones, [[s.hand for s in some] for some in states])


def _climb_table(scene: Scene, states: Sequence[Sequence[HandState]], pair: tuple[int, int, int]) -> list[list[int]]:
    """Return the cost of each state of a bar's first chord with each of another's where the top note climbs."""
    one, two, far = pair
    tops = [s.hand.first[-1] for s in states[two]]
    return [[climb_cost(s.hand.first[-1], top, bool(far), scene.taste) for top in tops] for s in states[one]]


class _Ends(NamedTuple):
    """What the states of an unknown begin and end with: the voicings, each once, and for each state which it has.

    `keys`: for each state, the suspended note (MIDI); None where it is plain.
    """

    firsts: tuple[Voicing, ...]
    first_of: list[int]
    lasts: tuple[Voicing, ...]
    last_of: list[int]
    keys: list[int | None]


def _ends(states: Sequence[HandState], scene: Scene) -> _Ends:
    firsts, lasts = (
        {voicing: place for place, voicing in enumerate(dict.fromkeys(voicings))}
        for voicings in ([s.hand.first for s in states], [s.hand.last for s in states])
    )
    return _Ends(
        tuple(firsts),
        [firsts[s.hand.first] for s in states],
        tuple(lasts),
        [lasts[s.hand.last] for s in states],
        [suspended_key(s.hand, s.offer, scene) if s.offer else None for s in states],
    )


def _table(
    scene: Scene,
    states: Sequence[Sequence[HandState]],
    ends: Sequence[_Ends],
    near: Sequence[Neighbours],
    change: HandChange,
    times: int,
) -> list[list[int]]:
    """Return the cost of each state of an unknown with each of the next, the worth of their suspensions included.

    States that come to the same hand may have the very same row.
    """
    one, two, shift = change
    taste, unknowns, before, after = scene.taste, scene.uses.unknowns, ends[one], ends[two]
    firsts = tuple([moved(first, shift) for first in after.firsts]) if shift else after.firsts
    way = bass_way(scene.basses[two] + shift - scene.basses[one])
    short = [[times * c for c in row] for row in change_costs(before.lasts, firsts, way, taste)]
    for step in [one for one in scene.lines if one.change == change]:
        for row, last in zip(short, before.lasts, strict=True):
            for j, first in enumerate(firsts):
                row[j] += 0 if keeps(last, first, step.note, step.way) else step.cost
    wide = [[row[place] for place in after.first_of] for row in short]
    taken = [j for j, key in enumerate(after.keys) if key is not None]
    if taken and not near[two].free:
        say, gain = len(near[two].into), taste.sus_prepared - taste.sus_colour
        for j in taken:
            worth, key = _worth(states[two][j].claims.prepared, say, gain), after.keys[j]
            if worth is not None and key is not None:
                each = [w * unknowns[two].times for w in worth]
                for row, last in zip(wide, before.lasts, strict=True):
                    row[j] += each[key + shift in last]
    table = [wide[place] for place in before.last_of]
    for i, (state, key) in enumerate(zip(states[one], before.keys, strict=True)):
        if state.offer is None or state.offer.resolve_after is not None:
            continue
        worth = _worth(state.claims.held_over, len(near[one].out), taste.sus_held_over - taste.sus_left)
        if worth is not None:
            each = [worth[key in first] * unknowns[one].times for first in firsts]
            table[i] = [cost + each[place] for cost, place in zip(table[i], after.first_of, strict=True)]
    return table


def _worth(claimed: bool, say: int, gain: int) -> tuple[int, int] | None:
    """Return how the worth of a suspension depends on one neighbour's state; None where it does not.

    Where one neighbour has the say, the gain is counted here; where more have, a claim of all of them is held to.
    """
    if say == 1:
        return 0, gain
    return (RULED_OUT, 0) if claimed else None


def limits_of(song: Song, timeline: Timeline, scene: Scene, states: Sequence[Sequence[HandState]]) -> list[Limit]:
    """Return the limits: open ones apart, no section with much more than its share, the song with its share."""
    share, may = scene.taste.suspensions, {i for i, some in enumerate(states) if any(s.offer for s in some)}
    limits = []
    for amounts in _open_together(song, timeline, scene, states):
        uses = {
            u: tuple(n if s.offer and s.offer.resolve_after is None else 0 for s in states[u])
            for u, n in sorted(amounts.items())
        }
        limits.append(Limit(uses, 1))
    # How often each unknown is printed in each section; one `like` another prints its model's again and does not count.
    pairs = zip(timeline.printed, song.sections, strict=True)
    printed = [Counter(p.unknown for p in part if p.unknown is not None) for part, s in pairs if s.model is None]
    whole = sum(printed, Counter[int]())
    shares = [(counts, ceil(counts.total() * share)) for counts in printed]  # a colour in every bar of a chorus is none
    for counts, most in (*shares, (whole, int(whole.total() * share))):
        uses = {u: tuple(n if s.offer else 0 for s in states[u]) for u, n in sorted(counts.items()) if u in may}
        limits.append(Limit(uses, most))
    return [limit for limit in limits if sum(max(uses) for uses in limit.uses.values()) > limit.most]


def _open_together(
    song: Song, timeline: Timeline, scene: Scene, states: Sequence[Sequence[HandState]]
) -> list[Counter[int]]:
    """Return the groups of unknowns of which one at most may stay open: how often each is heard within so many bars."""
    counts, unit = bars_counted(song, timeline.heard)
    bars = unit * scene.taste.suspensions_open_bars
    may = {i for i, some in enumerate(states) if any(s.offer and s.offer.resolve_after is None for s in some)}
    heard = []
    for one, bar in zip(timeline.heard, counts, strict=True):
        unknown = timeline.at(one.chord).unknown
        if unknown is not None and unknown in may:
            heard.append((bar, unknown))
    groups: dict[int, Counter[int]] = {}  # by the place where they begin
    holding: dict[int, set[int]] = {unknown: set() for _, unknown in heard}  # the groups that have an unknown
    for place, (start, _) in enumerate(heard):
        group: Counter[int] = Counter()
        for at, unknown in itertools.islice(heard, place, None):
            if at - start >= bars:
                break
            group[unknown] += 1
        near = [holding[unknown] for unknown in group]
        if group.total() < 2 or any(group <= groups[other] for other in set.intersection(*near)):
            continue
        for other in [other for other in set.union(*near) if groups[other] <= group]:
            for unknown in groups.pop(other):
                holding[unknown].remove(other)
        groups[place] = group
        for unknown in group:
            holding[unknown].add(place)
    return list(groups.values())
