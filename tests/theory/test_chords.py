"""Chords as values, over all roots, qualities and basses. What outside sources say is under tests/reference."""

from itertools import product

import pytest

from arranger.theory.chord import Change, Chord
from arranger.theory.interval import Interval
from arranger.theory.pitch import NoteName, Pitch, is_black
from arranger.theory.qualities import BY_NAME, QUALITIES

ROOTS = [NoteName(letter, alter) for letter, alter in product("CDEFGAB", (-1, 0, 1))]  # 12 and their enharmonics


def chord(quality: str, *changes: tuple[str, str], bass: str | None = None) -> Chord:
    made = tuple(Change(kind, Interval.parse(degree)) for kind, degree in changes)
    return Chord(NoteName("C"), BY_NAME[quality], made, NoteName.parse(bass) if bass else None)


@pytest.mark.parametrize("quality", QUALITIES, ids=lambda q: q.name or "major")
def test_members_are_spelled_on_their_degrees(quality):
    for root in ROOTS:
        made = Chord(root, quality)
        assert made.members == tuple(sorted(quality.degrees))
        assert made.names[0] == made.bass_name == root
        for member, name in zip(made.members, made.names, strict=True):
            assert (name.step - root.step) % 7 == (member.degree - 1) % 7
            assert (name.pitch_class - root.pitch_class) % 12 == member.pitch_class
            assert made.interval_of(name) == member
            assert made.member_on(member.degree) == member
        for bass in ROOTS:
            over = Chord(root, quality, bass=bass)
            assert over.members == made.members
            assert over.bass_name == bass
            assert str(over) == f"{root}{quality.name}/{bass}"


def test_names_and_rows_of_the_table_are_unique():
    assert len(BY_NAME) == len(QUALITIES)
    for quality in QUALITIES:
        assert quality.degrees[0] == Interval(1, 0)
        assert 0 <= quality.raised <= len(quality.name)
        assert len({i.degree for i in quality.degrees}) == len(quality.degrees)
    # C2 is Csus2 by another name; no other two rows are the same notes on the same degrees.
    rows = [q.degrees for q in QUALITIES if q.name != "2"]
    assert len(set(rows)) == len(rows)


@pytest.mark.parametrize(
    ("made", "names", "text"),
    [
        (chord("7", ("alter", "b9")), "C E G Bb Db", "C7(b9)"),
        (chord("7", ("alter", "b5")), "C E Gb Bb", "C7(b5)"),
        (chord("9", ("alter", "b9")), "C E G Bb Db", "C9(b9)"),
        (chord("maj7", ("alter", "#11")), "C E G B F#", "Cmaj7(#11)"),
        (chord("", ("add", "4")), "C E F G", "C(add4)"),
        (chord("m", ("no", "5")), "C Eb", "Cm(no5)"),
        (chord("m7", ("no", "3")), "C G Bb", "Cm7(no3)"),
        (chord("", ("add", "3")), "C E G", "C(add3)"),  # what is there already is not there twice
    ],
    ids=str,
)
def test_changes(made, names, text):
    assert [str(n) for n in made.names] == names.split()
    assert str(made) == text


def test_two_altered_ninths_stand_together():
    made = chord("7", ("alter", "b9"), ("alter", "#9"))
    assert [str(n) for n in made.names] == ["C", "E", "G", "Bb", "Db", "D#"]


def test_a_bass_that_sounds_as_a_member_counts_as_it():
    assert chord("7", bass="A#").interval_of(NoteName("A", 1)) == Interval.parse("b7")
    assert chord("7", bass="D").interval_of(NoteName("D")) is None


def test_black_keys():
    octave = {n: is_black(Pitch(NoteName(n), 4).midi) for n in "CDEFGAB"}
    assert not any(octave.values())
    assert [is_black(m) for m in range(60, 72)].count(True) == 5


@pytest.mark.parametrize("text", ["H4", "C", "c4", "C###4", "C4 ", "Cb", "4"])
def test_what_is_no_pitch(text):
    with pytest.raises(ValueError):
        Pitch.parse(text)


@pytest.mark.parametrize("name", ROOTS, ids=str)
def test_names_on_the_line_of_fifths(name):
    assert NoteName.at_fifths(name.fifths) == name
    assert name.simplest() == name
    assert NoteName.parse(str(name).replace("#", "♯").replace("b", "♭")) == name
