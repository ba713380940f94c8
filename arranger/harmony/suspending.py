"""Suspensions in the hand: their candidates, how they stand among the heard neighbours, and what they are worth.

Takes offers and hands; gives candidates, standings and merits. Which offers are taken is settled in `best_set`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from arranger.harmony.candidates import OCTAVE
from arranger.harmony.right_hand import Candidate, Scene, moved, window
from arranger.harmony.suspensions import Offer
from arranger.harmony.timeline import Timeline


@dataclass(frozen=True, slots=True)
class Neighbours:
    """The heard changes into and out of one unknown: (other unknown, its shift against this one, how often)."""

    into: tuple[tuple[int, int, int], ...]
    out: tuple[tuple[int, int, int], ...]
    free: bool  # heard after a cut somewhere: nothing can prepare it there


@dataclass(frozen=True, slots=True)
class Standing:
    """How a suspension stands among its neighbours, in every place where it is heard."""

    prepared: bool
    held_over: bool


def neighbours(timeline: Timeline, scene: Scene) -> tuple[Neighbours, ...]:
    """Collect each unknown's heard neighbours."""
    count = len(scene.uses.unknowns)
    into: list[list[tuple[int, int, int]]] = [[] for _ in range(count)]
    out: list[list[tuple[int, int, int]]] = [[] for _ in range(count)]
    for (one, two, shift), times in scene.uses.changes:
        out[one].append((two, shift, times))
        into[two].append((one, -shift, times))
    free = {timeline.at(h.chord).unknown for h in timeline.heard if h.cut}
    return tuple(Neighbours(tuple(into[i]), tuple(out[i]), i in free) for i in range(count))


def suspended(plain: Sequence[Candidate], offer: Offer, scene: Scene) -> tuple[Candidate, ...]:
    """Return the candidates of a chord with its suspension: each plain voicing with the third moved by the step."""
    unknown = scene.uses.unknowns[offer.unknown]
    third = (unknown.printed.chord.root.pitch_class + offer.third) % OCTAVE
    low, high = window(unknown, scene.taste)
    low = max(low, scene.left_tops[offer.unknown] + scene.taste.clear_of_left)
    found = set()
    for candidate in plain:
        notes = candidate.last
        if not any(n % OCTAVE == third for n in notes):
            continue
        sus = tuple(sorted({n + offer.step if n % OCTAVE == third else n for n in notes}))
        if len(sus) == len(notes) and sus[0] >= low and sus[-1] <= high and sus[-1] - sus[0] <= scene.taste.span:
            found.add(Candidate(sus, notes if offer.resolve_after is not None else sus))
    return tuple(sorted(found))


def suspended_key(candidate: Candidate, offer: Offer, scene: Scene) -> int:
    """Return the suspended note (MIDI) in a hand."""
    root = scene.uses.unknowns[offer.unknown].printed.chord.root.pitch_class
    pitch_class = (root + offer.third + offer.step) % OCTAVE
    return next(n for n in candidate.first if n % OCTAVE == pitch_class)


def standing(
    offer: Offer,
    candidate: Candidate,
    hands: Mapping[int, Candidate] | Sequence[Candidate],
    near: Neighbours,
    scene: Scene,
) -> Standing:
    """Return how a suspension stands among the hands before and after it."""
    key = suspended_key(candidate, offer, scene)
    before = all(key in moved(hands[other].last, shift) for other, shift, _ in near.into)
    after = all(key in moved(hands[other].first, shift) for other, shift, _ in near.out)
    return Standing(bool(near.into) and before and not near.free, bool(near.out) and after)


def merit(offer: Offer, stands: Standing, scene: Scene) -> int:
    """Return what a suspension is worth over all the times that it is heard (below 0: it speaks for itself)."""
    taste = scene.taste
    each = offer.merit + (taste.sus_prepared if stands.prepared else taste.sus_colour)
    if offer.resolve_after is None:
        each += taste.sus_held_over if stands.held_over else taste.sus_left
    return each * scene.uses.unknowns[offer.unknown].times
