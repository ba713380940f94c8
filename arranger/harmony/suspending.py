"""Which of the offered suspensions are taken: the best for singer and hands, within the limits.

Takes offers and the hands as settled; gives the offers taken. The choice is made one at a time, best first, each judged
with its heard neighbours as they then are; the caller settles all hands again and asks `broken` what no longer holds.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from arranger.harmony import cost
from arranger.harmony.candidates import OCTAVE
from arranger.harmony.right_hand import Candidate, Scene, moved, node_cost, window
from arranger.harmony.suspensions import Offer
from arranger.harmony.timeline import Timeline, bars_heard
from arranger.song.model import Song


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
    """Give the candidates of a chord with its suspension: each plain voicing with the third moved by the step."""
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
    """Give the suspended note (MIDI) in a hand."""
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
    """Tell how a suspension stands among the hands before and after it."""
    key = suspended_key(candidate, offer, scene)
    before = all(key in moved(hands[other].last, shift) for other, shift, _ in near.into)
    after = all(key in moved(hands[other].first, shift) for other, shift, _ in near.out)
    return Standing(bool(near.into) and before and not near.free, bool(near.out) and after)


def _merit(offer: Offer, stands: Standing, scene: Scene) -> int:
    taste = scene.taste
    merit = offer.merit + (taste.sus_prepared if stands.prepared else taste.sus_colour)
    if offer.resolve_after is None:
        merit += taste.sus_held_over if stands.held_over else taste.sus_left
    return merit * scene.uses.unknowns[offer.unknown].times


def _printed(song: Song, timeline: Timeline) -> dict[int, int]:
    """Count the printed chords of each section; one `like` another prints its model's again and does not count."""
    pairs = enumerate(zip(timeline.printed, song.sections, strict=True))
    return {i: sum(p.kind == "chord" for p in part) for i, (part, section) in pairs if section.model is None}


def _times_printed(song: Song, timeline: Timeline) -> dict[int, Counter[int]]:
    """Count how often each unknown is printed in each section, copies by `like` aside."""
    found: dict[int, Counter[int]] = {}
    for index, (part, section) in enumerate(zip(timeline.printed, song.sections, strict=True)):
        for one in part:
            if one.unknown is not None:
                found.setdefault(one.unknown, Counter())[index] += section.model is None
    return found


class Chooser:
    """Takes suspensions one by one. Mutable; lives in one call of `arrange`."""

    def __init__(
        self,
        song: Song,
        timeline: Timeline,
        scene: Scene,
        plain: Sequence[Sequence[Candidate]],
        offers: Sequence[Offer],
    ) -> None:
        self.song, self.timeline, self.scene, self.plain = song, timeline, scene, plain
        self.near = neighbours(timeline, scene)
        self.alone: dict[tuple[int, Candidate], int] = {}  # what candidates cost by themselves, as asked for
        self.candidates = {id(o): suspended(plain[o.unknown], o, scene) for o in offers}
        self.offers = [o for o in offers if self.candidates[id(o)]]
        share, printed = scene.taste.suspensions, _printed(song, timeline)
        self.most = int(sum(printed.values()) * share)
        # No section takes much more than its share: a colour in every bar of the chorus is none.
        self.most_in = {section: ceil(count * share) for section, count in printed.items()}
        self.weights = _times_printed(song, timeline)
        self.heard_at: dict[int, list[int]] = {}  # in thousandths of a bar: whole numbers compare fast
        for heard, bars in zip(timeline.heard, bars_heard(song, timeline.heard), strict=True):
            unknown = timeline.at(heard.chord).unknown
            assert unknown is not None
            self.heard_at.setdefault(unknown, []).append(round(1000 * bars))

    def choose(self, hands: Sequence[Candidate]) -> dict[int, Offer]:
        """Take the best offers within the limits, given the hands as settled without them."""
        now = list(hands)
        taken: dict[int, Offer] = {}
        gains = {id(o): self._gain(o, now) for o in self.offers}
        while True:
            open_ones = [o for o in self.offers if o.unknown not in taken and gains[id(o)][0] < 0]
            ordered = sorted(open_ones, key=lambda o: (gains[id(o)][0], o.unknown, o.kind, o.resolve_after is None))
            offer = next((o for o in ordered if not self._too_many({**taken, o.unknown: o})), None)
            if offer is None:
                break
            taken[offer.unknown] = offer
            now[offer.unknown] = gains[id(offer)][1]
            around = {other for other, _, _ in self.near[offer.unknown].into + self.near[offer.unknown].out}
            for other in self.offers:
                if other.unknown in around:
                    gains[id(other)] = self._gain(other, now)
        return taken

    def _local(self, index: int, candidate: Candidate, hands: Sequence[Candidate]) -> int:
        """Give what one candidate costs among the hands before and after it."""
        scene, taste = self.scene, self.scene.taste
        total = self.alone.get((index, candidate))
        if total is None:
            total = self.alone[index, candidate] = node_cost(candidate, index, scene)
        for other, shift, times in self.near[index].into:
            if other != index:
                way = cost.bass_way(scene.basses[index] - scene.basses[other] - shift)
                total += times * cost.change(moved(hands[other].last, shift), candidate.first, way, taste)
        for other, shift, times in self.near[index].out:
            if other != index:
                way = cost.bass_way(scene.basses[other] + shift - scene.basses[index])
                total += times * cost.change(candidate.last, moved(hands[other].first, shift), way, taste)
        return total

    def _gain(self, offer: Offer, hands: Sequence[Candidate]) -> tuple[int, Candidate]:
        """Give what an offer changes in the sum (below 0: better), with the best hand for it."""
        index = offer.unknown
        plain = min(self._local(index, c, hands) for c in self.plain[index])
        best = min((self._with(offer, c, hands), c) for c in self.candidates[id(offer)])
        return best[0] - plain, best[1]

    def _with(self, offer: Offer, candidate: Candidate, hands: Sequence[Candidate]) -> int:
        stands = standing(offer, candidate, hands, self.near[offer.unknown], self.scene)
        return self._local(offer.unknown, candidate, hands) + _merit(offer, stands, self.scene)

    def _too_many(self, taken: Mapping[int, Offer]) -> bool:
        """Tell whether the song or a section would have more than its share, or open ones stand too near each other."""
        if sum(self.weights[u].total() for u in taken) > self.most:
            return True
        sections: Counter[int] = Counter()
        for unknown in taken:
            sections.update(self.weights[unknown])
        return any(n > self.most_in.get(s, n) for s, n in sections.items()) or self._crowded(taken)

    def _crowded(self, taken: Mapping[int, Offer]) -> bool:
        """Tell whether two that do not resolve are heard too near each other."""
        bars = self.scene.taste.suspensions_open_bars
        if not bars:
            return False
        times = sorted(t for u, o in taken.items() if o.resolve_after is None for t in self.heard_at.get(u, ()))
        return any(b - a < 1000 * bars for a, b in itertools.pairwise(times))

    def broken(self, taken: Mapping[int, Offer], hands: Sequence[Candidate]) -> set[int]:
        """Give the unknowns whose suspension no longer earns its place among the hands as settled again."""
        return {
            unknown
            for unknown, offer in taken.items()
            if self._with(offer, hands[unknown], hands)
            >= min(self._local(unknown, c, hands) for c in self.plain[unknown])
        }
