"""Hand movement against published distances between chords, and the costs' own rules."""

from itertools import combinations, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.harmony.taste import DEFAULT
from arranger.harmony.voicings import change_cost, hand_movement, sound_cost, voicings
from tests.harmony import songs
from tests.harmony.songs import chord

WIDE = songs.TODAY._replace(low=36, high=96)
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def least(one: str, two: str) -> int:
    """The least movement between any two close voicings in a wide window."""
    firsts = list(voicings(chord(one), WIDE, 55, 79))
    return min(hand_movement(a, b) for a in firsts for b in voicings(chord(two), WIDE, 36, 96))


# Table B1: smallest sum over all pairings, octaves ignored. P, L and R of Cohn 1997 (J. Music Theory 41/1) in the
# opening pages; S, N, H of Open Music Theory 2nd ed., "Neo-Riemannian Triadic Progressions"; sums computed there.
@pytest.mark.parametrize(
    ("name", "two", "semitones"),
    [("P", "Cm", 1), ("L", "Em", 1), ("R", "Am", 2), ("S", "C#m", 2), ("N", "Fm", 2), ("H", "Abm", 3)],
)
def test_neo_riemannian_moves(name: str, two: str, semitones: int) -> None:
    assert least("C", two) == semitones


# Table B1, "from C major to every triad", computed from the definition.
def test_from_c_major_to_every_triad() -> None:
    assert [least("C", root) for root in ROOTS] == [0, 3, 6, 3, 2, 3, 6, 3, 2, 3, 6, 3]
    assert [least("C", root + "m") for root in ROOTS] == [1, 2, 5, 4, 1, 2, 5, 4, 3, 2, 5, 4]


# Table B1, diatonic triads of C major.
def test_diatonic_triads() -> None:
    names = ("C", "Dm", "Em", "F", "G", "Am", "Bdim")
    table = "0513325/5062432/1604234/3240614/3426052/2331505/5244250"
    assert "/".join("".join(str(least(a, b)) for b in names) for a in names) == table


# Table B1, suspensions and sevenths of complete chords.
@pytest.mark.parametrize(
    ("one", "two", "semitones"),
    [("Csus4", "C", 1), ("Csus4", "Cm", 2), ("Csus2", "C", 2), ("Csus2", "Cm", 1), ("Csus4", "Csus2", 3)],
)
def test_suspensions(one: str, two: str, semitones: int) -> None:
    assert least(one, two) == semitones


@pytest.mark.parametrize(
    ("one", "two", "semitones"),
    [("Dm7", "G7", 3), ("G7", "Cmaj7", 3), ("C7", "F7", 4), ("C7", "Gb7", 2), ("C7", "C#dim7", 1)],
)
def test_sevenths_of_four_notes(one: str, two: str, semitones: int) -> None:
    whole = [[sorted((c.root.pitch_class + i.semitones) % 12 for i in c.members) for c in map(chord, (one, two))]][0]
    turned = [[n + 12 * (i < k) for i, n in enumerate(whole[1])] for k in range(4)]
    shifted = [sorted(n + o for n in t) for t in turned for o in (-12, 0)]
    assert min(hand_movement(tuple(whole[0]), tuple(s)) for s in shifted) == semitones


@given(st.sets(st.integers(50, 80), min_size=1, max_size=4), st.sets(st.integers(50, 80), min_size=1, max_size=4))
def test_no_pairing_is_better(one: set[int], two: set[int]) -> None:
    """Pairing in order of pitch is always best; 1 for each finger added or lifted (the definition, by brute force)."""
    a, b = tuple(sorted(one)), tuple(sorted(two))
    small, large = sorted((a, b), key=len)
    ways = (
        sum(abs(x - y) for x, y in zip(small, order, strict=True))
        for some in combinations(large, len(small))
        for order in permutations(some)
    )
    assert hand_movement(a, b) == min(ways) + len(large) - len(small)


def test_examples_of_unequal_hands() -> None:
    assert hand_movement((60, 64, 67), (60, 64, 67, 69)) == 1
    assert hand_movement((59, 62, 65, 67), (60, 64, 67)) == 3


def test_small_terms_stay_small() -> None:
    """They only choose among equals: each is under half a semitone."""
    t = DEFAULT
    worst_leap = change_cost((53, 57, 60), (79,), 0, t) - t.movement * hand_movement((53, 57, 60), (79,)) - t.moved
    assert max(worst_leap, t.muddy, t.parallel, t.small_most) < 500
    assert sound_cost((55, 56, 79), 54, t) - t.muddy < 500


# Published low-interval limits, the values on which all compared tables agree (see `LOW_LIMITS`): accepted from
# the second column up, refused below the third.
@pytest.mark.parametrize(
    ("semitones", "accepted", "refused"),
    [(3, 49, 47), (4, 47, 44), (5, 46, 39), (7, 37, 32), (8, 49, 40), (9, 41, 39), (2, 51, 50)],
)
def test_low_interval_limits(semitones: int, accepted: int, refused: int) -> None:
    assert sound_cost((accepted, accepted + semitones), 0, DEFAULT) == 0
    assert sound_cost((refused, refused + semitones), 0, DEFAULT) == DEFAULT.muddy
