"""Find the key of music whose key nobody says, from its chords or from how long each pitch class sounds.

The method is that of Krumhansl and Schmuckler (C. Krumhansl, "Cognitive Foundations of Musical Pitch", 1990): the
correlation of the durations of the twelve pitch classes with a profile of each of the 24 keys; the highest is the key.
The profiles are those of D. Temperley from the Kostka-Payne corpus ("Music and Probability", 2007, table 6.1), which
name more keys right in this use than the older ones from listeners' ratings. They are the values that music21 has under
the name TemperleyKostkaPayne; the tests hold that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import fmean

from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

# For each degree in semitones above the tonic: how often it sounds in music in a key of that mode.
MAJOR_PROFILE = (0.748, 0.060, 0.488, 0.082, 0.670, 0.460, 0.096, 0.715, 0.104, 0.366, 0.057, 0.400)
MINOR_PROFILE = (0.712, 0.084, 0.474, 0.618, 0.049, 0.460, 0.105, 0.747, 0.404, 0.067, 0.133, 0.330)

# Durations alone do not tell a key from its relative one well: progressions of popular songs go round the same four
# chords. Songs mostly end at home and mostly begin there; these are shares of the whole duration, no source.
LAST_CHORD = Fraction(1, 6)
FIRST_CHORD = Fraction(1, 12)
# Where a key and its relative one are as close as this, music that begins and ends on the tonic of one is in that.
CLOSE = 0.1


@dataclass(frozen=True, slots=True)
class RankedKey:
    """A key with its correlation, -1 to 1."""

    key: Key
    correlation: float


def ranked_keys(weights: Sequence[float], sharps: bool | None = None) -> tuple[RankedKey, ...]:
    """Rank all 24 keys by how well they fit, best first.

    Args:
        weights: how long each pitch class from C up sounds, in any unit; not all the same.
        sharps: how keys of six signs are spelled: with sharps, with flats; None for flats.

    Raises:
        ValueError: all weights are the same, so that no key fits better than another.

    >>> str(ranked_keys([4, 0, 1, 0, 3, 1, 0, 3, 0, 1, 0, 1])[0].key)
    'C'
    """
    if len(set(weights)) < 2:
        raise ValueError("every pitch class sounds as long as every other")
    found = [
        RankedKey(_key(tonic, minor, sharps), _correlation(weights, profile, tonic))
        for minor, profile in ((False, MAJOR_PROFILE), (True, MINOR_PROFILE))
        for tonic in range(12)
    ]
    return tuple(sorted(found, key=lambda f: -f.correlation))


def _correlation(weights: Sequence[float], profile: Sequence[float], tonic: int) -> float:
    turned = [profile[(pitch - tonic) % 12] for pitch in range(12)]
    mean, own = fmean(weights), fmean(profile)
    together = sum((w - mean) * (p - own) for w, p in zip(weights, turned, strict=True))
    apart = sum((w - mean) ** 2 for w in weights) * sum((p - own) ** 2 for p in turned)
    return float(together / apart**0.5)


def _key(tonic: int, minor: bool, sharps: bool | None) -> Key:
    """Spell a key with the fewest signs; of six sharps and six flats as asked."""
    names = [NoteName.at_fifths(place) for place in range(-8, 12)]
    keys = [Key(name, minor) for name in names if name.pitch_class == tonic]
    usable = sorted(
        (k for k in keys if k.exists), key=lambda k: (abs(k.signature), (k.signature > 0) is not bool(sharps))
    )
    return usable[0]


Sounds = Sequence[tuple[frozenset[int], Fraction]]  # pitch classes that sound together, and for how long


def weights_of(sounds: Iterable[tuple[frozenset[int], Fraction]]) -> tuple[float, ...]:
    """Return how long each pitch class sounds."""
    weights = [Fraction(0)] * 12
    for pitches, length in sounds:
        for pitch in pitches:
            weights[pitch] += length
    return tuple(map(float, weights))


def keys_of_sounds(sounds: Sounds, *, sharps: bool = False) -> tuple[RankedKey, ...]:
    """Rank the keys of chords given as pitch classes, in the order heard; the first and the last chord count more.

    Empty where they name no key: nothing sounds, or everything alike. `sharps` spells keys of six signs.
    """
    total = sum((length for _, length in sounds), Fraction(0))
    if not total:
        return ()
    ends = [(sounds[0][0], total * FIRST_CHORD), (sounds[-1][0], total * LAST_CHORD)]
    weights = weights_of([*sounds, *ends])
    return ranked_keys(weights, sharps) if len(set(weights)) > 1 else ()


def key_of_chords(chords: Sequence[tuple[Chord, Fraction]]) -> Key | None:
    """Find the key of a song's chords with their durations, in the order in which they are played.

    Chords are spelled, and so is the key: with sharps where more of their roots have sharps than flats. A written bass
    sounds too.

    >>> from arranger.theory.qualities import BY_NAME
    >>> str(key_of_chords([(Chord(NoteName(root), BY_NAME[""]), Fraction(1)) for root in "GCDG"]))
    'G'
    """
    signs = sum((chord.root.alter > 0) - (chord.root.alter < 0) for chord, _ in chords)
    sounds = [(chord.pitch_classes | {chord.bass_name.pitch_class}, length) for chord, length in chords]
    found = keys_of_sounds(sounds, sharps=signs > 0)
    if not found:
        return None
    best, relative = found[0], next(f for f in found if f.key == found[0].key.relative)
    home = (chords[0][0], chords[-1][0])
    at_home = all(
        chord.root.pitch_class == relative.key.tonic.pitch_class and _is_minor(chord) is relative.key.minor
        for chord in home
    )
    return relative.key if at_home and best.correlation - relative.correlation <= CLOSE else best.key


def _is_minor(chord: Chord) -> bool:
    third = chord.member_on(3)
    return third is not None and third.semitones == 3
