"""Why the hands are as they are: for each printed chord what was chosen, the next best, and what that would have cost.

Takes a settled song; gives reasons as data and in words for a player. The cost of another choice is exact:
everything else is settled anew around it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from arranger.harmony import cost
from arranger.harmony.answer import best
from arranger.harmony.arrange import WorkedOut
from arranger.harmony.candidates import OCTAVE
from arranger.harmony.clock import seconds
from arranger.harmony.model import Arrangement, ChordId, ChordPart
from arranger.harmony.right_hand import Candidate, Scene, build, moved
from arranger.theory.pitch import NoteName, Pitch

NEXT_BEST = 2  # other choices told for one chord


@dataclass(frozen=True, slots=True)
class Terms:
    """What a choice of hands costs over the whole song as heard, by its parts.

    Attributes:
        movement: semitones of hand movement.
        moved: new keys under the fingers.
        register: semitones that the middle of the hand is off its target, summed over all heard chords, in eighths.
        small: the small terms (reach, leaps of the top note, going with the bass, low intervals), in thousandths.
    """

    movement: int
    moved: int
    register: int
    small: int


@dataclass(frozen=True, slots=True)
class Other:
    """Another hand for a chord: its notes, and what it would change in the whole song (positive: costs more)."""

    right: tuple[Pitch, ...]
    more: Terms
    thousandths: int


@dataclass(frozen=True, slots=True)
class Reason:
    """Why one printed chord has its hand: the next best others, of how many candidates in all."""

    where: ChordId
    others: tuple[Other, ...]
    candidates: int


def terms(hands: Sequence[Candidate], scene: Scene) -> Terms:
    """Add up the parts of the objective for a choice of hands."""
    taste = scene.taste
    movement = sum(h.within * u.times for h, u in zip(hands, scene.uses.unknowns, strict=True))
    new = register = 0
    for (one, two, shift), count in scene.uses.changes:
        before, after = hands[one].last, moved(hands[two].first, shift)
        movement += count * cost.movement(before, after)
        new += count * cost.moved_keys(before, after)
    for hand, unknown in zip(hands, scene.uses.unknowns, strict=True):
        if hand.first != hand.last:
            new += unknown.times * cost.moved_keys(hand.first, hand.last)
        for target, count in unknown.targets:
            register += 4 * count * abs(hand.first[0] + hand.first[-1] - 2 * target)
    whole = build([(h,) for h in hands], scene).cost([0] * len(hands))
    small = whole - taste.movement * movement - taste.moved * new - taste.register * register // 8
    return Terms(movement, new, register, small)


def reasons(worked: WorkedOut, places: Iterable[ChordId]) -> Iterator[Reason]:
    """Give the reasons for some printed chords; a chord that goes on in the same hand has none of its own."""
    settled, arrangement = worked.settled, worked.arrangement
    scene, choices = settled.scene, settled.choices
    heard = [u for h in settled.timeline.heard if (u := settled.timeline.at(h.chord).unknown) is not None]
    here = terms(settled.hands, scene)
    for where in places:
        printed = settled.timeline.at(where)
        if printed.unknown is None or printed.repeats:
            continue
        others = []
        names = _names(arrangement.chord(where))
        for candidate in choices[printed.unknown]:
            if candidate == settled.hands[printed.unknown]:
                continue
            fixed = [(candidate,) if i == printed.unknown else some for i, some in enumerate(choices)]
            answer = best(build(fixed, scene), heard)
            there = terms([some[c] for some, c in zip(fixed, answer.choice, strict=True)], scene)
            keys = moved(candidate.first, printed.shift + worked.shift)
            right = tuple(Pitch.at(k, names[k % OCTAVE]) for k in keys)
            others.append(Other(right, _less(there, here), answer.cost - settled.answer.cost))
        others.sort(key=lambda o: (o.thousandths, [p.midi for p in o.right]))
        yield Reason(where, tuple(others[:NEXT_BEST]), len(choices[printed.unknown]))


def _names(part: ChordPart) -> dict[int, NoteName]:
    """Give the names of all notes that a chord's hands may hold."""
    assert part.chord is not None
    names = [*part.chord.names, *(p.name for p in part.right + part.plain)]
    return {name.pitch_class: name for name in names}


def _less(one: Terms, two: Terms) -> Terms:
    return Terms(one.movement - two.movement, one.moved - two.moved, one.register - two.register, one.small - two.small)


def in_words(more: Terms) -> str:
    """Say what another choice would change, in words that a player understands.

    >>> in_words(Terms(4, 0, -12, 0))
    'over the song 4 semitones more to move; the hand nearer its place'
    """
    parts = []
    if more.movement:
        parts.append(f"{_count(abs(more.movement), 'semitone')} {_more(more.movement)} to move")
    if more.moved:
        parts.append(f"{_count(abs(more.moved), 'new key')} {_more(more.moved)} to find")
    told = [f"over the song {' and '.join(parts)}"] if parts else []
    if abs(more.register) >= NOTICED:
        told.append(f"the hand {'farther from' if more.register > 0 else 'nearer'} its place")
    if more.small > 0 and not told:
        told.append("nothing but a wider reach, a leap on top or going along with the bass")
    return "; ".join(told) or "no difference that counts: the first of equals was taken"


NOTICED = 8  # eighths: a whole semitone over the song


def _more(number: int) -> str:
    return "more" if number > 0 else "less"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


@dataclass(frozen=True, slots=True)
class Hard:
    """One change of chord by how much it asks of the hand.

    Attributes:
        where: the printed chord that is gone to.
        semitones, keys: hand movement and new keys.
        time: seconds from the chord before, at the song's tempo.
        demand: semitones and new keys over the time, for comparing.
    """

    where: ChordId
    semitones: int
    keys: int
    time: Fraction
    demand: Fraction


def hardest(arrangement: Arrangement, most: int) -> tuple[Hard, ...]:
    """Give the changes that ask most of the hand, hardest first: far to go, many new keys, little time.

    A change that is heard several times is told once, as it is heard with the least time.
    """
    found: dict[ChordId, Hard] = {}
    for before, after in pairwise(arrangement.heard):
        one, two = arrangement.chord(before.chord), arrangement.chord(after.chord)
        held = one.plain if one.suspension is None or one.suspension.resolves_to is not None else one.right
        hands = tuple(p.midi for p in held), tuple(p.midi for p in two.right)
        if after.cut or hands[0] == hands[1]:
            continue
        time = seconds(after.at - before.at, arrangement.song.sections[before.chord[0]].facts)
        semitones, keys = cost.movement(*hands), cost.moved_keys(*hands)
        hard = Hard(after.chord, semitones, keys, time, (semitones + Fraction(keys, 2)) / max(time, AT_LEAST))
        if after.chord not in found or hard.demand > found[after.chord].demand:
            found[after.chord] = hard
    return tuple(sorted(found.values(), key=lambda h: (-h.demand, h.where))[:most])


AT_LEAST = Fraction(1, 4)  # seconds: the least time between two attacks
