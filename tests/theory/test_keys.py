"""Keys as values: reading them, their twins, and how they spell. What outside sources say is under tests/reference."""

from itertools import product

import pytest

from arranger.theory.key import Key, Transposition, all_keys, another_key
from arranger.theory.pitch import NoteName

KEYS = all_keys()


def names(text: str) -> list[NoteName]:
    return [NoteName.parse(n) for n in text.split()]


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_text_and_back(key):
    for text in (str(key), key.words, str(key).replace("b", "♭").replace("#", "♯")):
        assert Key.parse(text) == key


@pytest.mark.parametrize(
    "text", ["", "H", "d", "D maybe", "Dmm", "D/F#", "Bb-", "D  minor major", "C##", "G#", "Fb", "Dbm", "Abb minor"]
)
def test_what_is_no_key(text):
    with pytest.raises(ValueError):
        Key.parse(text)


def test_the_message_counts_the_signs_that_a_key_would_need():
    with pytest.raises(ValueError, match="8 sharps"):
        Key.parse("G#")
    with pytest.raises(ValueError, match="8 flats"):
        Key.parse("Dbm")


@pytest.mark.parametrize(
    ("key", "twin"),
    [("B", None), ("Cb", "B"), ("C#", "Db"), ("F#", None), ("Gb", None), ("Abm", "G#m"), ("A#m", "Bbm"), ("D", None)],
)
def test_the_twin_with_fewer_signs(key, twin):
    assert Key.parse(key).enharmonic() == (Key.parse(twin) if twin else None)


@pytest.mark.parametrize(
    ("tonic", "minor", "twin"), [("G#", False, "Ab"), ("D#", False, "Eb"), ("Fb", False, "E"), ("Db", True, "C#m")]
)
def test_a_key_that_does_not_exist_has_a_twin_that_does(tonic, minor, twin):
    key = Key(NoteName.parse(tonic), minor)
    assert not key.exists
    assert key.enharmonic() == Key.parse(twin)


@pytest.mark.parametrize(
    ("key", "chromatic"),
    [
        ("C", "C C# D Eb E F F# G Ab A Bb B"),
        ("Am", "A Bb B C C# D Eb E F F# G G#"),
        ("Eb", "Eb E F Gb G Ab A Bb Cb C Db D"),
        ("E", "E E# F# G G# A A# B C C# D D#"),
    ],
)
def test_chromatic_names_of_a_key(key, chromatic):
    assert {Key.parse(key).spelled(n) for n in range(12)} == set(names(chromatic))


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_scale_notes_are_spelled_as_in_the_scale(key):
    assert all(key.spelled(n.pitch_class) == n for n in key.scale)
    assert sorted(key.spelled(n).pitch_class for n in range(12)) == list(range(12))
    if key.minor:  # the leading note is the raised seventh
        assert key.degree(key.spelled((key.tonic.pitch_class - 1) % 12)).degree == 7


def test_a_key_moves_to_a_key_that_exists_and_sounds_as_it_should():
    for minor in (False, True):
        keys = [k for k in KEYS if k.minor is minor]
        for home, target, key in product(keys, keys, KEYS):
            move = Transposition(home, target)
            moved = move.key(key)
            assert moved.exists
            assert moved.minor is key.minor
            assert (moved.tonic.pitch_class - key.tonic.pitch_class - move.semitones) % 12 == 0
        assert Transposition(home, target).key(home) == target


def test_the_nearest_move_goes_up_at_a_tritone():
    home = Key.parse("C")
    moves = {str(k): Transposition(home, k).semitones for k in KEYS[:15]}
    assert (moves["F#"], moves["Gb"], moves["G"], moves["F"], moves["B"], moves["Db"]) == (6, 6, -5, 5, -1, 1)


@pytest.mark.parametrize(
    ("text", "home", "wanted"),
    [
        ("E", "D", "E"),
        ("E", "Dm", "Em"),
        ("Em", "Dm", "Em"),
        ("E minor", "Dm", "Em"),
        ("B♭ major", "D", "Bb"),
        ("G#", "Dm", "G#m"),  # five sharps in minor, eight in major
        (" F# ", "C", "F#"),
    ],
)
def test_another_key_for_today(text, home, wanted):
    assert another_key(text, Key.parse(home)) == Key.parse(wanted)


@pytest.mark.parametrize(
    ("text", "home", "told"),
    [
        ("Bm", "D", "expected a major key, since the music is in D major, found `Bm`; `B` alone takes the mode"),
        ("B major", "Dm", "expected a minor key, since the music is in D minor, found `B major`"),
        ("G#", "D", "which would need 8 sharps; the same sound is `Ab`"),
        ("Db", "Dm", "which would need 8 flats; the same sound is `C#m`"),
        ("C##", "D", "found C## major, which would need 14 sharps; the same sound is `D`"),
        ("H", "D", "expected a key such as D, Bb or F#m, found `H`; the German H is `B`"),
        ("bb", "D", "is `Bb` meant?"),
        ("em", "Dm", "is `Em` meant?"),
        ("lower", "D", "found `lower`"),
        ("", "D", "found ``"),
    ],
)
def test_a_key_that_cannot_be_had(text, home, told):
    with pytest.raises(ValueError) as problem:
        another_key(text, Key.parse(home))
    assert told in str(problem.value)
