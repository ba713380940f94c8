"""Measure how much each change of chord asks of the right hand, and rank the changes.

What counts is what the search weighs too: semitones of movement, new keys, a reach near an octave; beside them the
thumb on a black key, and the time that there is. Weights are those of `taste`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from arranger.harmony.model import Arrangement, ChordId, ChordPart
from arranger.harmony.taste import DEFAULT, THUMB_ON_BLACK
from arranger.harmony.timeline import seconds
from arranger.harmony.voicings import Voicing, hand_movement, new_keys
from arranger.theory.pitch import Pitch, is_black

AT_LEAST = Fraction(1, 4)  # seconds: the least time between two attacks


@dataclass(frozen=True, slots=True)
class HardChange:
    """One change of chord by how much it asks of the hand.

    Attributes:
        before: the printed chord that is left.
        where: the printed chord that is gone to.
        semitones, keys: hand movement and new keys.
        time: seconds from the chord before, at the song's tempo.
        demand: what is asked, in semitones, over the time: for comparing.
    """

    before: ChordId
    where: ChordId
    semitones: int
    keys: int
    time: Fraction
    demand: Fraction


def held(part: ChordPart) -> tuple[Pitch, ...]:
    """Return what the right hand holds when the next chord comes: a suspension that resolves has become plain."""
    resolved = part.suspension is None or part.suspension.resolves_to is not None
    return part.plain if resolved else part.right


def demand(before: Voicing, after: Voicing, fingers: Sequence[int], time: Fraction) -> Fraction:
    """Return what a change of hands asks, in semitones of movement for each second.

    Args:
        before: the keys that are down (MIDI).
        after: the keys that are gone to.
        fingers: those of `after`; none where they are not known.
        time: seconds until they must be there.

    >>> demand((60, 64, 67), (60, 65, 69), (1, 3, 5), Fraction(1))
    Fraction(4, 1)
    """
    asked = DEFAULT.movement * hand_movement(before, after) + DEFAULT.moved * new_keys(before, after)
    asked += DEFAULT.wide * max(0, after[-1] - after[0] - DEFAULT.wide_over) if after else 0
    asked += THUMB_ON_BLACK if _thumb_goes_in(before, after, fingers) else 0
    return Fraction(asked, 1000) / max(time, AT_LEAST)


def _thumb_goes_in(before: Voicing, after: Voicing, fingers: Sequence[int]) -> bool:
    """Return whether the thumb goes to a black key while another finger plays a white one."""
    if not fingers or fingers[0] != 1 or not is_black(after[0]) or after[0] in before:
        return False
    return not all(is_black(key) for key in after)


def changes_heard(arrangement: Arrangement) -> Iterator[HardChange]:
    """Yield every change of the right hand as it is heard, in order; not where the hand is free."""
    for before, after in pairwise(arrangement.heard):
        one, two = arrangement.chord(before.chord), arrangement.chord(after.chord)
        hands = tuple(p.midi for p in held(one)), tuple(p.midi for p in two.right)
        if after.cut or hands[0] == hands[1]:
            continue
        time = seconds(after.at - before.at, arrangement.song.sections[before.chord[0]].facts)
        semitones, keys = hand_movement(*hands), new_keys(*hands)
        yield HardChange(before.chord, after.chord, semitones, keys, time, demand(*hands, two.fingers, time))


def hardest(arrangement: Arrangement, most: int) -> tuple[HardChange, ...]:
    """Return the changes that ask most of the hand, hardest first: far to go, many new keys, little time.

    A change that is heard several times counts once, as it is heard with the least time.
    """
    found: dict[ChordId, HardChange] = {}
    for hard in changes_heard(arrangement):
        if hard.where not in found or hard.demand > found[hard.where].demand:
            found[hard.where] = hard
    return tuple(sorted(found.values(), key=lambda h: (-h.demand, h.where))[:most])
