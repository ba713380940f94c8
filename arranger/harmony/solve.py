"""Both hands and the suspensions of a song found together, in the key that it is in. Takes a Song; gives `Settled`.

A chord is plain or takes one of the suspensions that are offered, each in every hand that it may have; the sum is that
of the hands with what the suspensions are worth (`suspensions.merit`), within the limits that keep suspensions rare.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from arranger.harmony.candidates import (
    HandChange,
    Scene,
    Unknown,
    Uses,
    bass_fits,
    candidates,
    nearest,
    node_cost,
    stage,
)
from arranger.harmony.fingers import Fingers, over_path
from arranger.harmony.optimum import Answer, Limit, best, best_within, lower_bound
from arranger.harmony.search import Problem, plan
from arranger.harmony.suspensions import (
    Neighbours,
    Offer,
    Standing,
    merit,
    neighbours,
    offers,
    standing,
    suspended,
    suspended_key,
)
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Timeline, bars_heard, unroll
from arranger.harmony.voicings import (
    OCTAVE,
    Candidate,
    Voicing,
    bass_way,
    change_costs,
    hand_movements,
    is_dominant_eleventh,
    moved,
)
from arranger.song.model import Song
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName


@dataclass(frozen=True, slots=True)
class Settled:
    """Both hands settled, at home.

    Attributes:
        timeline: the unrolled song.
        scene: what the right hand went by.
        hands: for each unknown, at shift 0.
        choices: for each unknown, the candidates that its hand was chosen from.
        lefts: the left hand's notes for each unknown, at shift 0.
        taken: the suspensions taken, by unknown.
        answer: the search's answer for these hands, with the suspensions that are taken.
        whole: the hands' sum with what the suspensions are worth; whatever hands and suspensions within the limits are
            taken, it does not go below `bound`.
        bound: see `whole`.
        fingers: a fingering for each hand.
        minimum, root_position: hand movement: the least for the same candidates; the least with the root lowest. None
            where they were not asked for (they take two searches more), or are not known.
    """

    timeline: Timeline
    scene: Scene
    hands: tuple[Candidate, ...]
    choices: tuple[tuple[Candidate, ...], ...]
    lefts: tuple[tuple[int, ...], ...]
    taken: dict[int, Offer]
    answer: Answer
    whole: int
    bound: int
    fingers: tuple[Fingers, ...]
    minimum: int | None
    root_position: int | None


def settle(song: Song, taste: Taste, *, figures: bool = True) -> tuple[Settled | None, tuple[Diagnostic, ...]]:
    """Settle both hands and the suspensions of a song in the key that it is in; with `figures`, how good that is."""
    problems: list[Diagnostic] = []
    timeline = unroll(song)
    scene, plain, lefts = stage(song, timeline, taste)
    alone = _copies_without_hands(song, timeline, scene.uses, plain, taste)
    if alone:
        timeline = unroll(song, frozenset(alone))
        scene, plain, lefts = stage(song, timeline, taste)
        for index in sorted(alone):
            section = song.sections[index]
            message = (
                f"the hands of {section.like!r} do not fit {section.facts.key.words}; {section.name!r} has its own"
            )
            problems.append(warning("copy-has-own-hands", message, section.span))
    plain, told = _completed(scene, plain)
    problems += told
    if any(not some for some in plain):
        return None, tuple(problems)
    return _search(song, timeline, scene, plain, lefts, figures), tuple(problems)


def _completed(
    scene: Scene, plain: Sequence[tuple[Candidate, ...]]
) -> tuple[list[tuple[Candidate, ...]], list[Diagnostic]]:
    """Give chords that no hand plays within the limits the nearest playable one, and say what every hand leaves out."""
    found: list[tuple[Candidate, ...]] = []
    problems: list[Diagnostic] = []
    for index, (unknown, some) in enumerate(zip(scene.uses.unknowns, plain, strict=True)):
        chord, span = unknown.printed.chord, unknown.printed.span
        if not some:
            some = tuple(Candidate(v, v) for v in nearest(unknown, scene.left_tops[index], scene.taste))
            if not some:
                message = f"no hand within the limits plays any of {chord}"
                problems.append(error("no-hand", message, span, "a wider range for the right hand would hold it"))
        found.append(some)
        if some and min(c.first[0] for c in some) < scene.left_tops[index] + scene.taste.clear_of_left:
            message = f"the right hand of {chord} lies among the left hand's keys"
            problems.append(warning("hands-close", message, span))
        if _pins(unknown) and some and some[0].first[-1] - some[0].first[0] > scene.taste.span:
            message = f"the pinned hand of {chord} is wider than {scene.taste.span} semitones"
            problems.append(warning("hand-wide", message, span, "leave a note out, or give it to the left hand"))
        lacking = () if _pins(unknown) or scene.taste.easy else _lacking(chord, some, scene.basses[index])
        if lacking:
            notes = " and ".join(map(str, lacking))
            message = f"{chord} has more than the hand can hold; {notes} is left out"
            problems.append(warning("notes-left-out", message, span))
    return found, problems


def _pins(unknown: Unknown) -> bool:
    written = unknown.printed.written
    return written is not None and bool(written.pins)


def _lacking(chord: Chord, some: Sequence[Candidate], bass: int) -> tuple[NoteName, ...]:
    """Return the telling notes (third or suspension, sixth or seventh, alterations) that no candidate sounds."""
    eleventh = is_dominant_eleventh(chord)
    told = [i for i in chord.members if i.degree in (2, 3, 4, 6, 7) or (i.alteration and i.degree >= 5)]
    sounding = {n % OCTAVE for c in some for n in c.first} | {bass % OCTAVE}
    return tuple(
        i.above(chord.root)
        for i in told
        if (chord.root.pitch_class + i.semitones) % OCTAVE not in sounding and not (eleventh and i.degree == 3)
    )


def _copies_without_hands(
    song: Song, timeline: Timeline, uses: Uses, plain: Sequence[Sequence[Candidate]], taste: Taste
) -> set[int]:
    """Return the sections that are copies in another key and share a chord for which no hand fits every copy."""
    empty = {
        i
        for i, (unknown, some) in enumerate(zip(uses.unknowns, plain, strict=True))
        if len(unknown.shifts) > 1 and not (some and bass_fits(unknown, taste))
    }
    return {
        index
        for index, part in enumerate(timeline.printed)
        if song.sections[index].model is not None and any(p.unknown in empty and p.shift for p in part)
    }


def _search(
    song: Song,
    timeline: Timeline,
    scene: Scene,
    plain: Sequence[tuple[Candidate, ...]],
    lefts: Sequence[tuple[int, ...]],
    figures: bool,
) -> Settled:
    heard = timeline.unknowns_heard()
    taken = Taken({})
    if scene.taste.suspensions:
        taken = choose(song, timeline, scene, plain, offers(song, timeline, scene.taste))
    choices = [suspended(some, taken.offers[i], scene) if i in taken.offers else some for i, some in enumerate(plain)]
    problem = build(choices, scene)
    answer = best(problem, heard)
    hands = tuple(some[c] for some, c in zip(choices, answer.choice, strict=True))
    whole = answer.cost + _worth_of(timeline, scene, taken.offers, hands)
    if taken.cost is not None and taken.hands is not None and whole > taken.cost:
        # In the easiest hands the suspensions stand worse than in those that were settled with them.
        hands, whole = taken.hands, taken.cost
        choice = tuple(some.index(hand) for some, hand in zip(choices, hands, strict=True))
        answer = replace(answer, choice=choice, cost=problem.cost(choice))
    return Settled(
        timeline=timeline,
        scene=scene,
        hands=hands,
        choices=tuple(choices),
        lefts=tuple(lefts),
        taken=taken.offers,
        answer=answer,
        whole=whole,
        bound=answer.bound if taken.bound is None else taken.bound,
        fingers=over_path(hands, scene.uses, heard),
        minimum=_least_movement(choices, scene, heard) if figures else None,
        root_position=_root_position(scene, plain, heard) if figures else None,
    )


def _worth_of(timeline: Timeline, scene: Scene, taken: Mapping[int, Offer], hands: Sequence[Candidate]) -> int:
    """Return what the suspensions are worth as they stand in these hands."""
    near = neighbours(timeline, scene) if taken else ()
    stands = {u: standing(offer, hands[u], hands, near[u], scene) for u, offer in taken.items()}
    return sum(merit(offer, stands[u], scene) for u, offer in taken.items())


def _least_movement(choices: Sequence[Sequence[Candidate]], scene: Scene, heard: Sequence[int]) -> int | None:
    """Return the least hand movement; None where there are too many ways to tell."""
    answer = best(build_movement(choices, scene.uses), heard)
    return answer.cost if answer.proven else None


def _root_position(scene: Scene, plain: Sequence[tuple[Candidate, ...]], heard: Sequence[int]) -> int | None:
    """Return the least hand movement with the root lowest in every hand; chords that have no such hand keep theirs."""
    choices = []
    for index, unknown in enumerate(scene.uses.unknowns):
        low = candidates(unknown, scene.left_tops[index], scene.taste, root_lowest=True)
        choices.append(tuple(Candidate(v, v) for v in low) or plain[index])
    return _least_movement(choices, scene, heard)


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
    scene: Scene, change: HandChange, times: int, states: Sequence[Sequence[_State]], near: Sequence[Neighbours]
) -> list[list[int]]:
    """Return the cost of each state of an unknown with each of the next, the worth of their suspensions included."""
    one, two, shift = change
    taste, unknowns = scene.taste, scene.uses.unknowns
    lasts = list(dict.fromkeys(s.hand.last for s in states[one]))  # many states share what they come to
    firsts = list(dict.fromkeys(s.hand.first for s in states[two]))
    heard_firsts = tuple(moved(first, shift) for first in firsts)
    from_place = [lasts.index(s.hand.last) for s in states[one]]
    to_place = [firsts.index(s.hand.first) for s in states[two]]
    way = bass_way(scene.basses[two] + shift - scene.basses[one])
    short = [[times * c for c in row] for row in change_costs(tuple(lasts), heard_firsts, way, taste)]
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


Table = Sequence[Sequence[int]]


def build(choices: Sequence[Sequence[Candidate]], scene: Scene) -> Problem:
    """State the whole sum as a search problem."""
    taste, basses = scene.taste, scene.basses
    nodes = [[node_cost(c, i, scene) for c in some] for i, some in enumerate(choices)]
    starts, ends = _ends(choices)

    def table(one: int, two: int, shift: int) -> Table:
        way = bass_way(basses[two] + shift - basses[one])
        return change_costs(starts[one], _all_moved(ends[two], shift), way, taste)

    return _joined(nodes, scene.uses.changes, table)


def build_movement(choices: Sequence[Sequence[Candidate]], uses: Uses) -> Problem:
    """State hand movement alone, in semitones, as a search problem."""
    nodes = [[c.within * uses.unknowns[i].times for c in some] for i, some in enumerate(choices)]
    starts, ends = _ends(choices)

    def table(one: int, two: int, shift: int) -> Table:
        return hand_movements(starts[one], _all_moved(ends[two], shift))

    return _joined(nodes, uses.changes, table)


def _ends(choices: Sequence[Sequence[Candidate]]) -> tuple[list[tuple[Voicing, ...]], list[tuple[Voicing, ...]]]:
    """Return for each unknown what its candidates go from, and what they are come to."""
    return [tuple(c.last for c in some) for some in choices], [tuple(c.first for c in some) for some in choices]


def _all_moved(voicings: tuple[Voicing, ...], shift: int) -> tuple[Voicing, ...]:
    return tuple(moved(v, shift) for v in voicings) if shift else voicings


def _joined(
    nodes: list[list[int]], changes: Sequence[tuple[HandChange, int]], table: Callable[[int, int, int], Table]
) -> Problem:
    pairs: dict[tuple[int, int], list[list[int]]] = {}
    for (one, two, shift), count in changes:
        costs = table(one, two, shift)
        if one == two:
            nodes[one] = [n + count * costs[i][i] for i, n in enumerate(nodes[one])]
            continue
        rows = costs if one < two else tuple(zip(*costs, strict=True))
        key = (min(one, two), max(one, two))
        old = pairs.get(key)
        if old is None:
            pairs[key] = [[count * c for c in row] for row in rows]
        else:
            pairs[key] = [[o + count * c for o, c in zip(a, b, strict=True)] for a, b in zip(old, rows, strict=True)]
    return Problem(tuple(nodes), {key: tuple(rows) for key, rows in pairs.items()})
