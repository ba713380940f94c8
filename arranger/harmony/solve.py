"""Both hands and the suspensions of a song found together, in the key that it is in. Takes a Song; gives `Solved`.

A chord is plain or takes one of the suspensions that are offered, each in every hand that it may have; the sum is that
of the hands with what the suspensions are worth (`suspensions.merit`), within the limits that keep suspensions rare.
"""

import itertools
from collections import Counter
from collections.abc import Sequence
from functools import partial
from math import ceil
from typing import NamedTuple

from arranger.harmony.arc import Arc, plan_arc
from arranger.harmony.candidates import (
    Scene,
    candidates,
    climb_cost,
    completed,
    copies_without_hands,
    hands_cost,
    node_costs,
    scene_of,
)
from arranger.harmony.choices import MOST_ENTRIES as MOST_SEARCHED
from arranger.harmony.choices import RULED_OUT, ChoiceProblem, plan, problem_over
from arranger.harmony.drone_hands import DroneGroup, settled, with_drones
from arranger.harmony.fingers import Fingers, over_path
from arranger.harmony.inner_lines import keeps
from arranger.harmony.limits import Limit
from arranger.harmony.offers_beside import beside_drones, beside_inner_lines
from arranger.harmony.optimum import best, lower_bound
from arranger.harmony.suspensions import (
    Neighbours,
    Offer,
    Standing,
    merit,
    neighbours,
    offers,
    suspended,
    suspended_key,
)
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Timeline, bars_counted, unroll
from arranger.harmony.uses import HandChange, Uses
from arranger.harmony.voicings import (
    Candidate,
    Voicing,
    bass_way,
    change_costs,
    hand_movements,
    moved,
)
from arranger.harmony.within_limits import best_within
from arranger.song.model import Song
from arranger.text.diagnostics import Diagnostic, warning


class Solved(NamedTuple):
    """Both hands and the suspensions of a song, in the key that it is in.

    Attributes:
        arc: how full the keys play, when, with the song as it is played.
        timeline: the unrolled song.
        scene: what the right hand went by, the left hand among it.
        hands: for each unknown, at shift 0.
        choices: for each unknown, the candidates that its hand was chosen from.
        suspensions: for each unknown the one that is taken, None where it is plain.
        registers: for each of the scene's drones, the keys on which it stays; none where no hand holds it.
        objective: the hands' sum.
        whole: the hands' sum with what the suspensions are worth; whatever hands and suspensions within the limits are
            taken, it does not go below `bound`.
        bound: see `whole`.
        fingers: a fingering for each hand.
        minimum, root_position: hand movement: the least for the same candidates; the least with the root lowest. None
            where they were not asked for (they take two searches more), or are not known.
    """

    arc: Arc
    timeline: Timeline
    scene: Scene
    hands: tuple[Candidate, ...]
    choices: tuple[tuple[Candidate, ...], ...]
    suspensions: tuple[Offer | None, ...]
    registers: tuple[tuple[int, ...], ...]
    objective: int
    whole: int
    bound: int
    fingers: tuple[Fingers, ...]
    minimum: int | None
    root_position: int | None


def solve_song(
    song: Song, taste: Taste, *, figures: bool = True, arc: Arc | None = None
) -> tuple[Solved | None, tuple[Diagnostic, ...]]:
    """Find both hands and the suspensions of a song in the key that it is in; with `figures`, how good that is.

    `arc`: its arc, where it is known before.
    """
    problems: list[Diagnostic] = []
    arc = plan_arc(song, taste) if arc is None else arc
    song = arc.song
    timeline = unroll(arc)
    scene, plain = scene_of(song, timeline, taste)
    alone = copies_without_hands(song, timeline, scene, plain)
    if alone:
        timeline = unroll(arc, frozenset(alone))
        scene, plain = scene_of(song, timeline, taste)
        for index in sorted(alone):
            section = song.sections[index]
            message = (
                f"the hands of {section.like!r} do not fit {section.facts.key.words}; {section.name!r} has its own"
            )
            problems.append(warning("copy-has-own-hands", message, section.span))
    plain, found = completed(scene, plain)
    problems += found
    if any(not some for some in plain):
        return None, tuple(problems)
    offered = offers(song, timeline, taste) if taste.suspensions else ()
    offered = beside_inner_lines(beside_drones(offered, scene), scene)
    chosen = choose(song, timeline, scene, plain, offered)
    heard = timeline.unknowns_heard()
    choices = tuple(
        suspended(some, offer, scene) if offer else some for some, offer in zip(plain, chosen.suspensions, strict=True)
    )
    solved = Solved(
        arc=arc,
        timeline=timeline,
        scene=scene,
        hands=chosen.hands,
        choices=choices,
        suspensions=chosen.suspensions,
        registers=chosen.registers,
        objective=hands_cost(chosen.hands, scene, range(len(plain)), scene.uses.changes, scene.climbs),
        whole=chosen.whole,
        bound=chosen.bound,
        fingers=over_path(chosen.hands, scene.uses, heard),
        minimum=_least_movement(choices, scene, heard, scene.drones) if figures else None,
        root_position=_root_position(scene, plain, heard) if figures else None,
    )
    return solved, tuple(problems)


def _least_movement(
    choices: Sequence[Sequence[Candidate]], scene: Scene, heard: Sequence[int], drones: Sequence[DroneGroup] = ()
) -> int | None:
    """Return the least hand movement, drones held; None where there are too many ways to know it."""
    answer = best(with_drones(_movement_problem(choices, scene.uses), drones, choices), heard)
    return answer.cost if answer.proven else None


def _root_position(scene: Scene, plain: Sequence[tuple[Candidate, ...]], heard: Sequence[int]) -> int | None:
    """Return the least hand movement with the root lowest in every hand; chords that have no such hand keep theirs."""
    choices = []
    for index, unknown in enumerate(scene.uses.unknowns):
        low = candidates(unknown, scene.lefts[index][-1], scene.taste, root_lowest=True)
        choices.append(tuple(Candidate(v, v) for v in low) or plain[index])
    return _least_movement(choices, scene, heard)


def _movement_problem(choices: Sequence[Sequence[Candidate]], uses: Uses) -> ChoiceProblem:
    """State hand movement alone, in semitones, as a search problem."""
    nodes = [[c.within * uses.unknowns[i].times for c in some] for i, some in enumerate(choices)]
    lasts = [tuple(c.last for c in some) for some in choices]
    firsts = [tuple(c.first for c in some) for some in choices]

    def table(change: HandChange, times: int) -> list[list[int]]:
        one, two, shift = change
        moves = hand_movements(lasts[one], tuple(moved(first, shift) for first in firsts[two]))
        return [[times * semitones for semitones in row] for row in moves]

    return problem_over(nodes, uses.changes, table)


class Chosen(NamedTuple):
    """The hand and the suspension taken for each unknown, their sum, and what no others within the limits go below.

    `registers`: as in `Solved`.
    """

    hands: tuple[Candidate, ...]
    suspensions: tuple[Offer | None, ...]
    registers: tuple[tuple[int, ...], ...]
    whole: int
    bound: int


class _State(NamedTuple):
    """What an unknown may do: a hand, plain or with an offer.

    `claims`: it is to stand like this among its neighbours; a neighbour that does not let it is ruled out. Only where
    more than one neighbour has a say; else what it is worth is counted with the one.
    """

    hand: Candidate
    offer: Offer | None = None
    claims: Standing = Standing(prepared=False, held_over=False)


MOST_ENTRIES = 1_000_000  # of all tables together: they are made again many times


def choose(
    song: Song, timeline: Timeline, scene: Scene, plain: Sequence[Sequence[Candidate]], offered: Sequence[Offer]
) -> Chosen:
    """Choose hands and suspensions together; plain hands alone where the problem is too large for the search."""
    near, heard = neighbours(timeline, scene), timeline.unknowns_heard()
    states = _states(scene, plain, offered, near)
    problem, drones = _problem(scene, states, near), scene.drones
    any_offer = any(state.offer for some in states for state in some)
    if (any_offer or drones) and plan(problem, MOST_ENTRIES if any_offer else MOST_SEARCHED) is None:
        bound = lower_bound(problem, heard)
        states, drones = _with_settled_drones(scene, plain, near)
        answer = best(_problem(scene._replace(drones=drones), states, near), heard)._replace(bound=bound)
    elif any_offer:
        answer = best_within(problem, _limits(song, timeline, scene, states))
    else:
        answer = best(problem, heard)
    chosen = [some[c] for some, c in zip(states, answer.choice, strict=False)]  # the drones' registers come after
    places = iter(answer.choice[len(states) :])
    registers = tuple(group.registers[next(places)] if group.registers else () for group in drones)
    return Chosen(tuple(s.hand for s in chosen), tuple(s.offer for s in chosen), registers, answer.cost, answer.bound)


def _with_settled_drones(
    scene: Scene, plain: Sequence[Sequence[Candidate]], near: Sequence[Neighbours]
) -> tuple[list[list[_State]], tuple[DroneGroup, ...]]:
    """Return the plain states that hold every drone on keys that are settled beforehand, and the drones there."""
    costs = [node_costs(some, index, scene) for index, some in enumerate(plain)]
    drones = settled(scene.drones, plain, costs)
    states = _states(scene, plain, (), near)
    for group in drones:
        for unknown, places in zip(group.unknowns, group.places, strict=True):
            states[unknown] = [s for s in states[unknown] if all(place.holds(s.hand) for place in places)]
    return states, drones


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


def build(choices: Sequence[Sequence[Candidate]], scene: Scene) -> ChoiceProblem:
    """State the sum of the hands alone as a search problem."""
    return _problem(scene, [[_State(hand) for hand in some] for some in choices], ())


def _problem(scene: Scene, states: Sequence[Sequence[_State]], near: Sequence[Neighbours]) -> ChoiceProblem:
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


def _climb_table(scene: Scene, states: Sequence[Sequence[_State]], pair: tuple[int, int, int]) -> list[list[int]]:
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


def _ends(states: Sequence[_State], scene: Scene) -> _Ends:
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
    states: Sequence[Sequence[_State]],
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


def _limits(song: Song, timeline: Timeline, scene: Scene, states: Sequence[Sequence[_State]]) -> list[Limit]:
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
    song: Song, timeline: Timeline, scene: Scene, states: Sequence[Sequence[_State]]
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
