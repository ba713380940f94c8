"""What a voicing and a change of voicing cost: pure functions of MIDI numbers and `Taste`, in its thousandths."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, pairwise

from arranger.harmony.candidates import Voicing
from arranger.harmony.taste import Taste

# Lowest acceptable place of an interval (semitones -> MIDI number of its lower note), where all published tables that
# were compared accept it: m3 from C#3, M3 from B2, P4 from Bb2, P5 from C#2, m6 from C#3, M6 from F2; for seconds the
# one table that has them (m2 E3, M2 Eb3), for sevenths and the tritone the stricter one.
LOW_LIMITS = {1: 52, 2: 51, 3: 49, 4: 47, 5: 46, 6: 46, 7: 37, 8: 49, 9: 41, 10: 41, 11: 41}

BASS_LEAP = 5  # semitones: a hand may follow a bass that leaps a fourth or more (Open Music Theory, keyboard style)


@lru_cache(maxsize=1 << 13)
def movement(one: Voicing, two: Voicing) -> int:
    """Return the hand movement in semitones between two rising voicings.

    Of equal size: the sum over the notes paired in order of pitch, which is the best pairing there is. Of unequal size:
    the best pairing of the smaller with as many of the larger, and 1 for each finger added or lifted.

    >>> movement((60, 64, 67), (60, 64, 67, 69)), movement((59, 62, 65, 67), (60, 64, 67))
    (1, 3)
    """
    if len(one) == len(two):
        return sum(abs(a - b) for a, b in zip(one, two, strict=True))
    small, large = (one, two) if len(one) < len(two) else (two, one)
    chosen = combinations(large, len(small))
    return min(sum(abs(a - b) for a, b in zip(small, c, strict=True)) for c in chosen) + len(large) - len(small)


def moved_keys(one: Voicing, two: Voicing) -> int:
    """Count the keys of the second voicing that were not down in the first."""
    return len(set(two).difference(one))


def common_keys(one: Voicing, two: Voicing) -> int:
    """Count the keys that stay down."""
    return len(set(two).intersection(one))


def change(one: Voicing, two: Voicing, bass: int, taste: Taste) -> int:
    """Return the cost of going from one voicing to another while the bass moves by `bass` semitones."""
    if len(one) == 3 == len(two):  # nearly all changes: written out, for speed
        a, b, c = one
        d, e, f = two
        cost = taste.movement * (abs(a - d) + abs(b - e) + abs(c - f))
        cost += taste.moved * ((d not in one) + (e not in one) + (f not in one))
    else:
        cost = taste.movement * movement(one, two) + taste.moved * moved_keys(one, two)
    leap = abs(two[-1] - one[-1]) - taste.top_leap_over
    if leap > 0:
        cost += min(taste.small_most, taste.top_leap * leap)
    hand = two[0] + two[-1] - one[0] - one[-1]
    if hand * bass > 0 and abs(bass) < BASS_LEAP:
        cost += taste.parallel
    return cost


def bass_way(bass: int) -> int:
    """Return what a change's cost depends on in the bass's move: its direction, 0 where it leaps or stays."""
    return (bass > 0) - (bass < 0) if abs(bass) < BASS_LEAP else 0


@lru_cache(maxsize=1024)  # those of a few songs; each is some KiB
def changes(
    ones: tuple[Voicing, ...], twos: tuple[Voicing, ...], way: int, taste: Taste
) -> tuple[tuple[int, ...], ...]:
    """Return the table of `change` for each of some voicings with each of others; `way` as `bass_way` gives it."""
    return tuple(tuple(change(one, two, way, taste) for two in twos) for one in ones)


@lru_cache(maxsize=1024)
def movements(ones: tuple[Voicing, ...], twos: tuple[Voicing, ...]) -> tuple[tuple[int, ...], ...]:
    """Return the table of `movement` for each of some voicings with each of others."""
    return tuple(tuple(movement(one, two) for two in twos) for one in ones)


def place(voicing: Voicing, target: int, taste: Taste) -> int:
    """Return the register's cost of one voicing as heard once: by how far its middle is from the target (MIDI)."""
    return taste.register * abs(voicing[0] + voicing[-1] - 2 * target) // 2


@lru_cache(maxsize=1 << 12)
def sound(voicing: Voicing, left: int, taste: Taste) -> int:
    """Return the small terms of one voicing: wide reaches, and intervals too low over the left hand's top note."""
    cost = min(taste.small_most, taste.wide * max(0, voicing[-1] - voicing[0] - taste.wide_over))
    pairs = ((left, voicing[0]), *pairwise(voicing))
    if any(low < LOW_LIMITS.get(high - low, 0) for low, high in pairs):
        cost += taste.muddy
    return cost
