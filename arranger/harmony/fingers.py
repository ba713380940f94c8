"""Choose the fingers of each hand, and name the shape that the hand holds.

Fingers are chosen over the path: a key that stays down keeps its finger where the hand allows it; 1 is the thumb, 5 the
little finger. Spans between fingers are those of Parncutt, Sloboda, Clarke, Raekallio & Desain 1997 (Music Perception
14/4), right hand, in semitones; triads are fingered by inversion as charts do (bottom to top: root 1-3-5, first
inversion 1-2-5, second 1-3-5; the same line stands in three published charts). Names are for players who know triads
and inversions.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations, pairwise

from arranger.harmony.choices import problem_over
from arranger.harmony.model import Inversion
from arranger.harmony.optimum import best
from arranger.harmony.uses import HandChange, Uses
from arranger.harmony.voicings import OCTAVE, TRIAD_STEPS, Candidate, Voicing, moved
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName, Pitch

Fingers = tuple[int, ...]

# (lower finger, higher finger): least and most practical, comfortable, relaxed distance upward, in semitones.
SPANS = {
    (1, 2): (-5, -3, 1, 5, 8, 10),
    (1, 3): (-4, -2, 3, 7, 10, 12),
    (1, 4): (-3, -1, 5, 9, 12, 14),
    (1, 5): (-1, 1, 7, 10, 13, 15),
    (2, 3): (1, 1, 1, 2, 3, 5),
    (2, 4): (1, 1, 3, 4, 5, 7),
    (2, 5): (2, 2, 5, 6, 8, 10),
    (3, 4): (1, 1, 1, 2, 2, 4),
    (3, 5): (1, 1, 3, 4, 5, 7),
    (4, 5): (1, 1, 1, 2, 3, 5),
}

# Costs. A finger that has to leave its key weighs more than a span that is not relaxed, but less than one that strains.
TENSE = 1  # a pair of fingers outside its relaxed range
STRAINED = 8  # outside its comfortable range
CHANGED = 3  # a key that stays down under another finger
NOT_AS_CHARTED = 2  # a triad fingered otherwise than charts do
MOST_WAYS = 5  # fingerings tried for one hand; the sixth easiest is never the best of a path
IMPOSSIBLE = 1000  # outside the practical range: taken only where nothing else is left


@lru_cache(maxsize=4096)
def charted(voicing: Voicing) -> Fingers | None:
    """Return the fingering that charts give a close major or minor triad, None for anything else.

    >>> charted((60, 64, 67)), charted((64, 67, 72)), charted((67, 72, 76)), charted((60, 65, 67))
    ((1, 3, 5), (1, 2, 5), (1, 3, 5), None)
    """
    if len(voicing) != 3:
        return None
    steps = (voicing[1] - voicing[0], voicing[2] - voicing[1])
    if steps in ((4, 3), (3, 4), (5, 4), (5, 3)):
        return (1, 3, 5)
    return (1, 2, 5) if steps in ((3, 5), (4, 5)) else None


@lru_cache(maxsize=4096)
def strain(voicing: Voicing, fingers: Fingers) -> int:
    """Return the cost of a fingering by itself: over all pairs of its fingers, and against the charts."""
    cost = 0
    for (low, one), (high, two) in combinations(zip(voicing, fingers, strict=True), 2):
        practical, comfortable, relaxed, most_relaxed, most_comfortable, most_practical = SPANS[one, two]
        reach = high - low
        if not practical <= reach <= most_practical:
            cost += IMPOSSIBLE
        elif not comfortable <= reach <= most_comfortable:
            cost += STRAINED
        elif not relaxed <= reach <= most_relaxed:
            cost += TENSE
    chart = charted(voicing)
    return cost + (NOT_AS_CHARTED if chart is not None and chart != fingers else 0)


@lru_cache(maxsize=4096)
def fingerings(voicing: Voicing) -> tuple[Fingers, ...]:
    """Return the easiest fingerings of up to five notes, the easiest first; only such as the hand can take, if any."""
    wide = voicing[-1] - voicing[0] >= SPANS[1, 5][2]

    def order(fingers: Fingers) -> tuple[int, bool, Fingers]:
        whole_hand = len(fingers) > 1 and (fingers[0], fingers[-1]) == (1, 5)
        return strain(voicing, fingers), wide != whole_hand, fingers  # of equals, the whole hand for a fifth and more

    every = sorted(combinations((1, 2, 3, 4, 5), len(voicing)), key=order)
    possible = tuple(f for f in every if strain(voicing, f) < IMPOSSIBLE)
    return (possible or tuple(every))[:MOST_WAYS]


def changed(one: Voicing, before: Fingers, two: Voicing, after: Fingers) -> int:
    """Count the keys that stay down under another finger."""
    held = dict(zip(one, before, strict=True))
    return sum(held.get(key, finger) != finger for key, finger in zip(two, after, strict=True))


@lru_cache(maxsize=2048)
def _changed_fingers(before: Candidate, after: Voicing) -> tuple[tuple[int, ...], ...]:
    """Return what keys cost that stay down under another finger, for each fingering before and after a change.

    The fingers of a resolved suspension are those that it was struck with.
    """
    held = [(before.last.index(key), place) for place, key in enumerate(after) if key in before.last]
    ways = fingerings(after)
    return tuple(
        [
            tuple([CHANGED * sum([old[i] != new[j] for i, j in held]) for new in ways])
            for old in fingerings(before.first)
        ]
    )


def over_path(hands: Sequence[Candidate], uses: Uses, heard: Sequence[int]) -> tuple[Fingers, ...]:
    """Choose a fingering for each hand, so that all heard changes together cost the least.

    A suspension keeps its fingers where it resolves; a hand of more than five notes is given none.
    """
    ways = [fingerings(h.first) if len(h.first) <= 5 else ((),) for h in hands]
    nodes = [
        [max(1, u.times) * strain(h.first, f) if f else 0 for f in some]
        for h, u, some in zip(hands, uses.unknowns, ways, strict=True)
    ]

    def can_change(change: HandChange) -> bool:
        one, two, _ = change
        before = hands[one]
        return one != two and bool(ways[one][0] and ways[two][0]) and len(before.first) == len(before.last)

    def table(change: HandChange, times: int) -> list[list[int]]:
        one, two, shift = change
        return [[times * c for c in row] for row in _changed_fingers(hands[one], moved(hands[two].first, shift))]

    answer = best(problem_over(nodes, [one for one in uses.changes if can_change(one[0])], table), heard)
    return tuple(some[c] for some, c in zip(ways, answer.choice, strict=True))


def shape(chord: Chord, right: tuple[Pitch, ...], *, always: bool = False) -> str:
    """Name what the right hand holds on a chord of more than three notes, for a player who knows triads.

    `C over A` for Am7; the notes themselves (`D-E-G over C`) where they are no triad. Empty for triads, but with
    `always` the name of one over another bass (`D over F#`). A plain triad is named by its chord already.
    """
    if not right or (len(chord.members) <= 3 and not always):
        return ""
    held = _triad(right) or "-".join(str(p.name) for p in right)
    if len(chord.members) <= 3 and held == f"{chord.root}{chord.quality.name}" and chord.bass is None:
        return ""
    return f"{held} over {chord.bass_name}"


def _triad(right: tuple[Pitch, ...]) -> str:
    """Name the triad that a hand holds, in any inversion; empty where it is none."""
    names: dict[int, NoteName] = {p.name.pitch_class: p.name for p in right}
    for root, name in names.items():
        over = sorted((pc - root) % OCTAVE for pc in names)
        steps = tuple(b - a for a, b in pairwise(over))
        symmetric = steps == (4, 4) and name.pitch_class != right[0].name.pitch_class
        if steps in TRIAD_STEPS and not symmetric:
            return f"{name}{TRIAD_STEPS[steps]}"
    return ""


INVERSIONS: dict[int, Inversion] = {1: "root", 2: "first", 3: "first", 4: "first", 5: "second", 6: "third", 7: "third"}


def inversion(chord: Chord, voicing: Voicing) -> Inversion:
    """Name a hand by the chord member that is lowest in it; a second or fourth stands where the third would."""
    if not voicing:
        return "none"
    lowest = (voicing[0] - chord.root.pitch_class) % OCTAVE
    member = next((i for i in chord.members if i.pitch_class == lowest), None)
    degree = member.degree if member else {2: 2, 5: 4}.get(lowest, 0)  # a suggested 2 or 4 is no member
    return INVERSIONS.get(degree, "none")
