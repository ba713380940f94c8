"""Key-finding against music21: its profiles, its own analysis of the same music, and the keys that its corpus states.

Of its corpus: the harmonic analyses of twenty of Bach's chorales (analyst A. Jones), each of which begins with the name
of a key, and the notes of ten chorales.
"""

import warnings
from fractions import Fraction

import pytest

from arranger.theory.key import Key, all_keys
from arranger.theory.keyfinding import MAJOR_PROFILE, MINOR_PROFILE, RankedKey, keys_of_sounds, ranked_keys, weights_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it warns while it is imported
    import music21.analysis.discrete
    import music21.corpus

ANALYSED = sorted(p.name for p in music21.corpus.getComposer("bach") if "choraleAnalyses" in str(p))
SCORES = ("bwv1.6", "bwv2.6", "bwv7.7", "bwv66.6", "bwv103.6", "bwv244.3", "bwv269", "bwv281", "bwv310", "bwv347")


def theirs(key: "music21.key.Key") -> tuple[int, bool]:
    return key.tonic.pitchClass, key.mode == "minor"


def ours(key: Key) -> tuple[int, bool]:
    return key.tonic.pitch_class, key.minor


def test_the_profiles_are_those_that_music21_has():
    method = music21.analysis.discrete.TemperleyKostkaPayne()
    assert list(MAJOR_PROFILE) == method.getWeights("major")
    assert list(MINOR_PROFILE) == method.getWeights("minor")


@pytest.mark.parametrize("name", SCORES)
def test_music21_finds_the_same_key_with_the_same_correlation(name):
    score = music21.corpus.parse(f"bach/{name}")
    notes = list(score.recurse().notes)
    weights = weights_of(
        [(frozenset(p.pitchClass for p in note.pitches), Fraction(note.quarterLength)) for note in notes]
    )
    found = ranked_keys(weights)
    their_key = music21.analysis.discrete.TemperleyKostkaPayne().getSolution(score)
    assert ours(found[0].key) == theirs(their_key)
    assert found[0].correlation == pytest.approx(their_key.correlationCoefficient, abs=1e-9)
    others = [theirs(key) for key in their_key.alternateInterpretations[:5]]
    assert [ours(f.key) for f in found[1:6]] == others


def analysed_chords(name: str) -> tuple[list[tuple[frozenset[int], Fraction]], "music21.key.Key"]:
    score = music21.corpus.parse(f"bach/choraleAnalyses/{name}")
    numerals = list(score.recurse().getElementsByClass("RomanNumeral"))
    chords = [(frozenset(n.pitchClasses), Fraction(n.quarterLength)) for n in numerals]
    return chords, numerals[0].key


@pytest.mark.slow
def test_the_stated_keys_of_chorales_are_found_from_their_chords():
    """All twenty chorales whose harmonies the corpus has."""
    assert len(ANALYSED) == 20
    hits = plain = 0
    for name in ANALYSED:
        chords, key = analysed_chords(name)
        found = keys_of_sounds(chords)[0].key
        hits += ours(found) == theirs(key)
        plain += ours(ranked_keys(weights_of(chords))[0].key) == theirs(key)
    assert (hits, plain) == (HITS, PLAIN_HITS)


HITS, PLAIN_HITS = 20, 17  # of 20: with the first and the last chord counted more, and without


def test_every_key_is_found_from_its_own_chords():
    for key in all_keys():
        tonic, fourth, fifth = (key.scale[i].pitch_class for i in (0, 3, 4))
        third = 3 if key.minor else 4
        chords = [
            (frozenset({(root + step) % 12 for step in (0, size, 7)}), Fraction(4))
            for root, size in ((tonic, third), (fourth, third), (fifth, 4), (tonic, third))
        ]
        found = keys_of_sounds(chords, sharps=key.signature > 0)[0].key
        assert ours(found) == ours(key)
        assert abs(found.signature) <= 6
        if abs(key.signature) < 6 or key.signature == 6:
            assert found == key


def test_what_names_no_key():
    assert keys_of_sounds([]) == ()
    assert keys_of_sounds([(frozenset(range(12)), Fraction(1))]) == ()
    with pytest.raises(ValueError, match="as long as every other"):
        ranked_keys([1] * 12)


def test_all_keys_are_ranked_once():
    found = ranked_keys([4, 0, 1, 0, 3, 1, 0, 3, 0, 1, 0, 1])
    assert all(isinstance(f, RankedKey) for f in found)
    assert len({ours(f.key) for f in found}) == 24
    assert sorted((f.correlation for f in found), reverse=True) == [f.correlation for f in found]
