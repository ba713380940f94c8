"""The drill of a triad and its suspensions: the movement of the teaching rule, in all keys and inversions."""

from __future__ import annotations

from itertools import pairwise

import pytest

from arranger.harmony.taste import DEFAULT
from arranger.harmony.voicings import hand_movement
from arranger.studies.drills import drill, drill_study, suspended_chords
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import BY_NAME
from tests.studies.practised import one, told

ROOTS = ("C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B")
# Table B1: a 4 lies 1 over a major third and 2 over a minor one, a 2 lies 2 under a major third, 1 under a minor one.
MOVEMENT = {"": [2, 2, 1, 1], "m": [1, 1, 2, 2], "7": [1, 1]}
INVERSIONS = ["root position", "first inversion", "second inversion"]


@pytest.mark.parametrize("quality", MOVEMENT)
@pytest.mark.parametrize("root", ROOTS)
def test_movement_in_all_keys_and_inversions(root: str, quality: str) -> None:
    chord = Chord(NoteName.parse(root), BY_NAME[quality])
    found = drill(chord, DEFAULT)
    assert list(found)[:3] == INVERSIONS
    for way, hands in found.items():
        assert [hand_movement(a, b) for a, b in pairwise(hands)] == MOVEMENT[quality], way
        assert hands[0] == hands[-1] == hands[len(hands) // 2] or quality == "7"
        for hand in hands:
            assert DEFAULT.low <= hand[0] and hand[-1] <= DEFAULT.high and hand[-1] - hand[0] <= DEFAULT.span
        names = {key % 12 for key in hands[0]} - {chord.root.pitch_class, (chord.root.pitch_class + 7) % 12}
        suspended = {key % 12 for hand in hands[1::2] for key in hand} - {key % 12 for key in hands[0]}
        twos = {(chord.root.pitch_class + 2) % 12} if quality != "7" else set()
        assert suspended == twos | {(chord.root.pitch_class + 5) % 12}
        assert names, "the third is there"


def test_a_narrow_hand_has_what_fits() -> None:
    chord = Chord(NoteName("C"), BY_NAME[""])
    narrow = DEFAULT._replace(low=60, high=67)
    assert drill(chord, narrow) == {
        "root position": ((60, 64, 67), (60, 62, 67), (60, 64, 67), (60, 65, 67), (60, 64, 67))
    }
    assert drill(chord, DEFAULT._replace(span=6)) == {}


def test_the_chords_that_are_suspended() -> None:
    found = suspended_chords([one("| C | F | Gsus4 G | C |\n| Dm | G7sus4 G7 | Am | Em7 |")])
    names = [str(chord) for chord, _ in found]
    assert {"G", "G7"} <= set(names)
    assert "Em7" not in names and "N.C." not in names
    minor = suspended_chords([one("| Am | Esus4 E | Dsus2 Dm | Am |", "key Am\n")])
    assert {"E", "Dm"} <= {str(chord) for chord, _ in minor}, "V in minor is major; the others are as the key has them"


def test_rows() -> None:
    study = drill_study(
        [one("| C | F | Gsus4 | G |\n| C | F | G | C |", taste=DEFAULT._replace(suspensions=0))], DEFAULT
    )
    assert study is not None
    assert "".join(map(str, study.heading)) == "G with suspensions, through the inversions"
    assert [told(row) for row in study.rows] == [f"G in C, {way}" for way in INVERSIONS]
    for row in study.rows:
        assert [hand.added for hand in row.hands] == ["", "sus2", "", "sus4", ""]
        assert row.movement == (2, 2, 1, 1)
    assert drill_study([one("| C | F | G | C |", taste=DEFAULT._replace(suspensions=0))], DEFAULT) is None
