"""Both hands, whatever the chords: inside the window and the span, members right, hands apart, basses in line."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.harmony.voicings import member_sets, root_in_left
from arranger.theory.qualities import QUALITIES
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(suspensions=Fraction(0), octaves="none")
ROOTS = ("C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B")
SYMBOLS = st.builds(lambda r, q: f"{r}{q.name}", st.sampled_from(ROOTS), st.sampled_from(QUALITIES))


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(st.lists(SYMBOLS, min_size=1, max_size=10), st.sampled_from(["p", "mf", "ff"]), st.booleans())
def test_what_must_always_hold(symbols: list[str], level: str, bass_player: bool) -> None:
    song = replace(songs.one("C", " | ".join(symbols), level=level), band=("bass",) if bass_player else ())
    found, problems = arranged(song, PLAIN)
    assert found is not None and not problems
    for part in found.sections[0].chords:
        chord = part.chord
        assert chord is not None
        keys = [p.midi for p in part.right]
        assert PLAIN.low <= keys[0] and keys[-1] <= PLAIN.high and keys[-1] - keys[0] <= PLAIN.span
        assert keys == sorted(set(keys))
        assert {k % 12 for k in keys} <= chord.pitch_classes
        assert keys[0] >= part.left[-1].midi + PLAIN.clear_of_left
        sounding = {k % 12 for k in keys} | {p.name.pitch_class for p in part.left}
        for degree in (3, 7):
            member = chord.member_on(degree)
            eleventh = chord.quality.name == "11" and degree == 3  # its third gives way
            if member is not None and not eleventh:
                assert (chord.root.pitch_class + member.semitones) % 12 in sounding
        assert chord.root.pitch_class in sounding
        assert all(p.name in chord.names for p in part.right)
        assert len(part.fingers) == len(part.right)


# Common practice, no source: descending basses are played as steps.
@pytest.mark.parametrize(
    ("key", "bars", "basses"),
    [
        ("C", "C G/B | Am C/G | F", "C3 B2 A2 G2 F2"),
        ("D", "D A/C# | Bm D/A | G", "D3 C#3 B2 A2 G2"),
    ],
)
def test_walking_basses(key: str, bars: str, basses: str) -> None:
    found, _ = arranged(songs.one(key, bars), PLAIN)
    assert found is not None
    assert " ".join(str(c.left[0]) for c in found.sections[0].chords) == basses


def test_without_a_bass_player_the_left_hand_plays_octaves() -> None:
    found, _ = arranged(songs.song([songs.section("A", "C", ["C | G/B | F"])], band=()), PLAIN)
    assert found is not None
    for chord in found.sections[0].chords:
        low, high = chord.left
        assert high.midi - low.midi == 12 and low.midi >= PLAIN.left_octave_low
        assert chord.chord is not None and low.name == chord.chord.bass_name


def test_without_a_bass_player_a_soft_left_hand_plays_root_and_fifth() -> None:
    found, _ = arranged(
        songs.song([songs.section("A", "C", ["A | G/B | Fm | Bdim | Gaug | G"], level="p")], band=()), PLAIN
    )
    assert found is not None
    ways = [c.left[1].midi - c.left[0].midi for c in found.sections[0].chords]
    assert ways == [7, 12, 7, 12, 12, 7]  # turned, diminished and augmented chords get the octave
    for chord in found.sections[0].chords:
        if chord.left[1].midi - chord.left[0].midi == 7:
            assert chord.left[0].midi >= 37  # P5 from C#2: accepted by all published tables of low-interval limits
            assert chord.chord is not None and chord.left[1].name in chord.chord.names
        assert chord.right[0].midi >= chord.left[-1].midi + PLAIN.clear_of_left


def test_a_small_left_hand_plays_one_note() -> None:
    found, _ = arranged(replace(songs.one("C", "C | F | G"), band=()), PLAIN._replace(span=9))
    assert found is not None
    assert all(len(c.left) == 1 for c in found.sections[0].chords)


def test_a_bass_that_is_no_member_stays_in_the_left_hand() -> None:
    found, _ = arranged(songs.one("C", "F/G | C"), PLAIN)
    assert found is not None
    first = found.sections[0].chords[0]
    assert {str(p.name) for p in first.right} == {"F", "A", "C"}
    assert [str(p.name) for p in first.left] == ["G"]


# Common practice, no source: what three fingers keep of a larger chord.
@pytest.mark.parametrize(
    ("symbol", "kept"),
    [
        ("C7", ["3 5 b7", "1 3 b7"]),
        ("Cmaj7", ["3 5 7"]),
        ("Cm7b5", ["b3 b5 b7"]),
        ("Cdim7", ["b3 b5 bb7"]),
        ("C9", ["3 b7 9"]),
        ("C13", ["3 b7 13"]),
        ("C11", ["b7 9 11"]),
        ("Cm11", ["b3 b7 11"]),
        ("C7sus4", ["4 5 b7", "1 4 b7"]),
        ("C9sus4", ["4 b7 9"]),
        ("Cadd9", ["3 5 9"]),
        ("C6/9", ["3 6 9"]),
        ("C7#5", ["3 #5 b7"]),
        ("C7alt", ["3 #5 b7 #9"]),  # an alteration without room takes a fourth finger
        ("C/E", ["1 3 5", "1 5"]),
        ("C7/E", ["1 3 b7", "1 5 b7"]),
        ("C7/G", ["1 3 b7"]),
    ],
)
def test_what_is_kept(symbol: str, kept: list[str]) -> None:
    chord = songs.chord(symbol)
    sets = [" ".join(str(i) for i in sorted(one, key=lambda i: i.semitones % 12)) for one in member_sets(chord, 3)]
    order = [" ".join(sorted(k.split(), key=lambda d: _semitones(d))) for k in kept]
    assert sorted(sets) == sorted(order)
    if not root_in_left(chord):
        assert all("1" in s.split() for s in sets)


def _semitones(degree: str) -> int:
    from_table = {"1": 0, "2": 2, "9": 2, "b3": 3, "#9": 3, "3": 4, "4": 5, "11": 5, "b5": 6, "5": 7, "#5": 8, "6": 9}
    return {**from_table, "13": 9, "bb7": 9, "b7": 10, "7": 11}[degree]


def test_softer_lies_lower() -> None:
    soft, _ = arranged(songs.one("C", "C | F | G | C", level="p"), PLAIN)
    loud, _ = arranged(songs.one("C", "C | F | G | C", level="ff"), PLAIN)
    assert soft is not None and loud is not None
    middle = [sum(p.midi for c in a.sections[0].chords for p in c.right) for a in (soft, loud)]
    assert middle[0] < middle[1]
