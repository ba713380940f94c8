"""Another key for today: the shapes learnt at home are kept while the hand stays on the keyboard's window."""

from __future__ import annotations

import pytest

from arranger.harmony.taste import DEFAULT
from arranger.theory.key import Key
from tests.harmony import songs
from tests.harmony.songs import arranged

SONG = songs.song(
    [
        songs.section("A", "C", ["C | Am7 | F G/B | C", "Dm7 | G7 | C | G"]),
        songs.section("B", "C", ["F | G | Em | Am", "F | G | C | C"], level="f"),
    ]
)


@pytest.mark.parametrize(
    ("key", "shift"), [("C", 0), ("Db", 1), ("D", 2), ("Eb", 3), ("E", 4), ("F", 5), ("B", -1), ("Bb", -2)]
)
def test_hands_move_as_a_whole(key: str, shift: int) -> None:
    home, _ = arranged(SONG)
    away, problems = arranged(SONG, key=Key.parse(key))
    assert home is not None and away is not None
    assert [p.code for p in problems] == []
    for part, other in zip(home.sections, away.sections, strict=True):
        for one, two in zip(part.chords, other.chords, strict=True):
            assert [p.midi + shift for p in one.right] == [p.midi for p in two.right]
            assert two.right[0].midi >= two.left[-1].midi + DEFAULT.clear_of_left
            assert {p.name for p in two.plain} <= set(two.chord.names if two.chord else ())
            assert DEFAULT.left_low - 3 <= two.left[-1].midi <= DEFAULT.left_high
    assert away.movement == home.movement
    assert str(away.key) == key and str(away.song.written_key or "C") == "C"


def test_where_they_do_not_fit_they_are_worked_out_again_and_it_is_said() -> None:
    moved, problems = arranged(songs.one("C", "C=C5E5G5 | F | C"), key=Key.parse("F"))
    assert moved is not None
    assert [p.code for p in problems] == ["hands-changed"]
    low, problems = arranged(songs.one("C", "C=F3A3C4 | F | C"), key=Key.parse("Bb"))
    assert low is not None
    assert [p.code for p in problems] == ["hands-changed"]


def test_names_follow_the_key() -> None:
    found, _ = arranged(SONG, key=Key.parse("Eb"))
    assert found is not None
    symbols = [str(c.chord) for c in found.sections[0].chords]
    assert symbols == ["Eb", "Cm7", "Ab", "Bb/D", "Eb", "Fm7", "Bb7", "Eb", "Bb"]
