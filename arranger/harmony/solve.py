"""Both hands and the suspensions of a song found together, in the key that it is in. Takes a Song; gives `Solved`.

A chord is plain or takes one of the suspensions that are offered, each in every hand that it may have; the sum is that
of the hands with what the suspensions are worth (`suspensions.merit`), within the limits that keep suspensions rare.
"""

from collections.abc import Sequence
from typing import NamedTuple

from arranger.harmony.arc import Arc, plan_arc
from arranger.harmony.candidates import (
    Scene,
    candidates,
    completed,
    copies_without_hands,
    hands_cost,
    node_costs,
    scene_of,
)
from arranger.harmony.choices import MOST_ENTRIES as MOST_SEARCHED
from arranger.harmony.choices import ChoiceProblem, plan, problem_over
from arranger.harmony.drone_hands import DroneGroup, settled, with_drones
from arranger.harmony.fingers import Fingers, over_path
from arranger.harmony.offers_beside import beside_drones, beside_inner_lines
from arranger.harmony.optimum import best, lower_bound
from arranger.harmony.sum_of_hands import HandState, limits_of, stated_sum, states_of
from arranger.harmony.suspensions import (
    Neighbours,
    Offer,
    neighbours,
    offers,
    suspended,
)
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Timeline, unroll
from arranger.harmony.uses import HandChange, Uses
from arranger.harmony.voicings import (
    Candidate,
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


MOST_ENTRIES = 1_000_000  # of all tables together: they are made again many times


def choose(
    song: Song, timeline: Timeline, scene: Scene, plain: Sequence[Sequence[Candidate]], offered: Sequence[Offer]
) -> Chosen:
    """Choose hands and suspensions together; plain hands alone where the problem is too large for the search."""
    near, heard = neighbours(timeline, scene), timeline.unknowns_heard()
    states = states_of(scene, plain, offered, near)
    problem, drones = stated_sum(scene, states, near), scene.drones
    any_offer = any(state.offer for some in states for state in some)
    if (any_offer or drones) and plan(problem, MOST_ENTRIES if any_offer else MOST_SEARCHED) is None:
        bound = lower_bound(problem, heard)
        states, drones = _with_settled_drones(scene, plain, near)
        answer = best(stated_sum(scene._replace(drones=drones), states, near), heard)._replace(bound=bound)
    elif any_offer:
        answer = best_within(problem, limits_of(song, timeline, scene, states))
    else:
        answer = best(problem, heard)
    chosen = [some[c] for some, c in zip(states, answer.choice, strict=False)]  # the drones' registers come after
    places = iter(answer.choice[len(states) :])
    registers = tuple(group.registers[next(places)] if group.registers else () for group in drones)
    return Chosen(tuple(s.hand for s in chosen), tuple(s.offer for s in chosen), registers, answer.cost, answer.bound)


def _with_settled_drones(
    scene: Scene, plain: Sequence[Sequence[Candidate]], near: Sequence[Neighbours]
) -> tuple[list[list[HandState]], tuple[DroneGroup, ...]]:
    """Return the plain states that hold every drone on keys that are settled beforehand, and the drones there."""
    costs = [node_costs(some, index, scene) for index, some in enumerate(plain)]
    drones = settled(scene.drones, plain, costs)
    states = states_of(scene, plain, (), near)
    for group in drones:
        for unknown, places in zip(group.unknowns, group.places, strict=True):
            states[unknown] = [s for s in states[unknown] if all(place.holds(s.hand) for place in places)]
    return states, drones
