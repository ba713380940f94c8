"""Keys, scales, transposition and pitch numbers against music21."""

import warnings
from itertools import product

import pytest

from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.key import Key, Transposition, all_keys
from arranger.theory.pitch import NoteName, Pitch
from arranger.theory.qualities import BY_NAME, QUALITIES

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it warns while it is imported
    import music21.harmony
    import music21.interval
    import music21.key
    import music21.pitch

KEYS = all_keys()
MAJORS = KEYS[:15]
NAMES = [NoteName(letter, alter) for letter, alter in product("CDEFGAB", (-1, 0, 1))]


def theirs(name: NoteName | Pitch) -> str:
    return str(name).replace("b", "-")


def ours(name: str) -> str:
    return name.replace("-", "b")


def music21_key(key: Key) -> "music21.key.Key":
    return music21.key.Key(theirs(key.tonic), "minor" if key.minor else "major")


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_signature_scale_and_relative(key):
    other = music21_key(key)
    assert key.signature == other.sharps
    assert [str(n) for n in key.scale] == [ours(p.name) for p in other.pitches[:7]]
    assert str(key.relative.tonic) == ours(other.relative.tonic.name)
    assert key.relative.minor is not key.minor
    assert key.relative.relative == key


def test_the_fifteen_signatures():
    """music21 `KeySignature(n)`, n from 7 flats to 7 sharps, names the same keys in the same order."""
    for sharps, key in zip(range(-7, 8), MAJORS, strict=True):
        signature = music21.key.KeySignature(sharps)
        assert str(key.tonic) == ours(signature.asKey("major").tonic.name)
        assert str(key.relative.tonic) == ours(signature.asKey("minor").tonic.name)
        altered = {ours(p.name) for p in signature.alteredPitches}
        assert {str(n) for n in key.scale if n.alter} == altered


@pytest.mark.parametrize("minor", [False, True], ids=["major", "minor"])
def test_names_move_as_music21_moves_them(minor):
    """Every name of every scale, and the chromatic names beside it, from every key to every key of its mode."""
    keys = [k for k in KEYS if k.minor is minor]
    for home, target in product(keys, keys):
        move = Transposition(home, target)
        by = music21.interval.Interval(
            music21.pitch.Pitch(f"{theirs(home.tonic)}4"), music21.pitch.Pitch(f"{theirs(target.tonic)}4")
        )
        for name in home.scale:
            moved = by.transposePitch(music21.pitch.Pitch(f"{theirs(name)}4"), maxAccidental=None)
            assert str(move.name(name)) == ours(moved.name), (home, target, name)
        assert move.name(home.tonic) == target.tonic
        assert (home.tonic.pitch_class + move.semitones - target.tonic.pitch_class) % 12 == 0
        assert -5 <= move.semitones <= 6


@pytest.mark.slow
def test_keys_move_as_music21_moves_them():
    """A section's own key goes along with the song; where it would have no signature it turns into its twin."""
    home = Key(NoteName("D"))
    for target, key in product(MAJORS, KEYS):
        by = music21.interval.Interval(music21.pitch.Pitch("D4"), music21.pitch.Pitch(theirs(target.tonic), octave=4))
        moved = music21_key(key).transpose(by)
        ours_moved = Transposition(home, target).key(key)
        if abs(moved.sharps) < 7 or key == home:  # with seven signs its twin with five is taken
            assert (ours_moved.signature, str(ours_moved.tonic)) == (moved.sharps, ours(moved.tonic.name))
        else:
            assert ours_moved.tonic.pitch_class == moved.tonic.pitchClass


def test_moved_names_sound_right_and_have_one_accidental_at_most():
    for home, target, name in product(MAJORS, MAJORS, NAMES):
        move = Transposition(home, target)
        moved = move.name(name)
        assert (moved.pitch_class - name.pitch_class - move.semitones) % 12 == 0
        assert abs(moved.alter) <= 1


@pytest.mark.parametrize("quality", ["", "m", "7", "maj7", "m7b5", "dim7", "sus4", "9", "13"])
def test_chords_move_as_music21_moves_them(quality):
    if not BY_NAME[quality].music21:
        pytest.fail(f"{quality} has no figure in the table")
    home = Key(NoteName("D"))
    for target in MAJORS:
        move = Transposition(home, target)
        by = music21.interval.Interval(music21.pitch.Pitch("D4"), music21.pitch.Pitch(f"{theirs(target.tonic)}4"))
        for root in home.scale:
            chord = Chord(root, BY_NAME[quality])
            figure = theirs(root) + BY_NAME[quality].music21.removeprefix("C")
            moved = [by.transposePitch(p, maxAccidental=None) for p in music21.harmony.ChordSymbol(figure).pitches]
            assert {str(n) for n in chord.moved(move).names} == {ours(p.name) for p in moved}, (chord, target)


def exactly(name: NoteName, move: Transposition) -> NoteName:
    """Move along the line of fifths with no regard to double accidentals."""
    return NoteName.at_fifths(name.fifths + move.fifths)


@pytest.mark.slow
def test_every_chord_moves_and_comes_back():
    for home, target in product((Key(NoteName("D")), Key(NoteName("B", -1))), MAJORS):
        there, back = Transposition(home, target), Transposition(target, home)
        for root, quality in product(home.scale, QUALITIES):
            for bass in (None, *Chord(root, quality).names, *home.scale):
                if bass is not None and abs(bass.alter) > 1:
                    continue  # nobody writes a double accidental in the bass
                chord = Chord(root, quality, bass=bass)
                moved = chord.moved(there)
                returned = moved.moved(back)
                assert {(p + there.semitones) % 12 for p in chord.pitch_classes} == moved.pitch_classes
                assert returned.bass_name.pitch_class == chord.bass_name.pitch_class
                if all(abs(exactly(n, there).alter) <= 1 for n in (root, bass or root)):
                    assert returned == chord, (str(chord), str(moved), target)


# Open Music Theory, 1st ed., "Triads and seventh chords": the chords that a major key has.
TRIADS = ("", "m", "m", "", "", "m", "dim")
SEVENTHS = ("maj7", "m7", "m7", "maj7", "7", "m7", "m7b5")

# Sus chords of scale notes only, degrees 1 to 7. The exceptions IV and VII of sus4, and "five of seven each", also in
# "Suspended Triads" (alessandro-cossu.com, 2020); the natural minor follows from its scale.
SUS = {
    (False, "sus2"): {1, 2, 4, 5, 6},
    (False, "sus4"): {1, 2, 3, 5, 6},
    (True, "sus2"): {1, 3, 4, 6, 7},
    (True, "sus4"): {1, 3, 4, 5, 7},
}


@pytest.mark.parametrize("key", MAJORS, ids=str)
def test_diatonic_chords(key):
    for wanted in (TRIADS, SEVENTHS):
        for degree, quality in enumerate(wanted):
            stacked = [key.scale[(degree + 2 * i) % 7] for i in range(3 if wanted is TRIADS else 4)]
            assert list(Chord(key.scale[degree], BY_NAME[quality]).names) == stacked


@pytest.mark.parametrize("key", KEYS, ids=str)
@pytest.mark.parametrize("kind", ["sus2", "sus4"])
def test_sus_chords_of_the_scale(key, kind):
    possible = {
        degree
        for degree, root in enumerate(key.scale, start=1)
        if all(map(key.holds, Chord(root, BY_NAME[kind]).names))
    }
    assert possible == SUS[key.minor, kind]


def test_pitch_numbers():
    """Open Music Theory, "Pitches": middle C is C4, the octave number changes at C, Cb4 sounds as B3."""
    assert Pitch.parse("C4").midi == 60
    assert Pitch.parse("Cb4").midi == Pitch.parse("B3").midi == 59
    assert Pitch.parse("B#3").midi == Pitch.parse("C4").midi
    assert Pitch.parse("A4").midi == 69  # 440 Hz (ISO 16)
    for name, octave in product([*NAMES, NoteName("F", 2), NoteName("B", -2)], range(-1, 9)):
        pitch = Pitch(name, octave)
        assert pitch.midi == music21.pitch.Pitch(theirs(name), octave=octave).midi or pitch.midi < 0
        assert Pitch.parse(str(pitch)) == pitch
        assert Pitch.at(pitch.midi, name) == pitch


def test_intervals_as_music21_names_them():
    for low, high in product(NAMES, NAMES):
        rising = music21.interval.Interval(
            music21.pitch.Pitch(theirs(low), octave=4), music21.pitch.Pitch(theirs(high), octave=4)
        )
        between = Key(low).degree(high)
        steps = rising.generic.directed
        if steps < 0:
            continue  # the other way round; it is met with the names exchanged
        assert (between.degree, between.semitones) == (steps, rising.semitones), (low, high)
        assert between.above(low) == high


@pytest.mark.parametrize("text", ["1", "b2", "2", "b3", "3", "4", "#4", "b5", "5", "#5", "6", "bb7", "7", "#9", "13"])
def test_degrees_keep_their_name(text):
    interval = Interval.parse(text)
    assert str(interval) == text
    for name in NAMES:
        above = interval.above(name)
        assert (above.pitch_class - name.pitch_class - interval.semitones) % 12 == 0
        assert (above.step - name.step) % 7 == (interval.degree - 1) % 7
