"""Make the drill of a triad and its suspensions, in all inversions, of each chord that is suspended in some songs.

Major: itself, with 2, itself, with 4, itself; minor likewise; a dominant seventh has its 4 alone. Common practice, no
source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise, zip_longest

from arranger.harmony.model import ChordPart
from arranger.harmony.sites import SUS
from arranger.harmony.taste import Taste
from arranger.harmony.voicings import OCTAVE, Voicing, hand_movement
from arranger.song.model import Facts
from arranger.studies.model import Study, StudyHand, StudyRow, Words
from arranger.studies.study_hands import (
    ArrangedSong,
    bar_length,
    bass_key,
    close_hands,
    fingers_along,
    inversions_of,
    spelled,
    tempo_of,
)
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.qualities import BY_NAME

SUSPENDED = {"": ("", "sus2", "", "sus4", ""), "m": ("", "sus2", "", "sus4", ""), "7": ("", "sus4", "")}
WRITTEN = {"sus2": "", "sus4": "", "7sus4": "7"}  # a chord that the song itself suspends, and what it is without
DRILL_WEIGHT = Fraction(2)
CHORDS_NAMED = 6  # in the heading


def suspended_chords(songs: Sequence[ArrangedSong]) -> tuple[tuple[Chord, Facts], ...]:
    """Return the plain chord of each that is suspended in the songs, suggested or written, most often heard first.

    One over another bass is the same to the hand. With the facts of the section where it is heard first.
    """
    counted: Counter[Chord] = Counter()
    facts: dict[Chord, Facts] = {}
    for song in songs:
        for heard in song.arrangement.heard:
            here = song.facts(heard.chord[0])
            chord = _plain(song.arrangement.chord(heard.chord), here.key)
            if chord is not None:
                counted[chord] += 1
                facts.setdefault(chord, here)
    return tuple((chord, facts[chord]) for chord, _ in counted.most_common())


def _plain(part: ChordPart, key: Key) -> Chord | None:
    """Return the chord that a suspended one stands for; None where it is not suspended, or no chord of the drill."""
    chord = part.chord
    if chord is None or chord.changes:
        return None
    if part.suspension is not None:
        return Chord(chord.root, chord.quality) if chord.quality.name in SUSPENDED else None
    if chord.quality.name not in WRITTEN:
        return None
    third = next((name for name in key.scale if name.step == (chord.root.step + 2) % 7), None)
    minor = third is not None and (third.pitch_class - chord.root.pitch_class) % OCTAVE == 3
    dominant = key.minor and chord.root == key.scale[4]  # V in minor is major
    quality = "m" if minor and not dominant and chord.quality.name != "7sus4" else WRITTEN[chord.quality.name]
    return Chord(chord.root, BY_NAME[quality])


def drill(chord: Chord, taste: Taste) -> dict[str, tuple[Voicing, ...]]:
    """Return for each inversion, in words, the hands of a chord and its suspensions one after the other.

    The suspended note lies where the third lay. All hands are within the player's limits.
    """
    third = chord.member_on(3)
    assert third is not None
    place = (chord.root.pitch_class + third.semitones) % OCTAVE
    ways = {
        plain: tuple(_with(plain, place, SUS[one].semitones - third.semitones if one else 0) for one in _order(chord))
        for plain in close_hands(chord, taste)
        if any(key % OCTAVE == place for key in plain)
    }
    fitting = [plain for plain, hands in ways.items() if all(_fits(hand, taste) for hand in hands)]
    return {name: ways[some[0]] for name, some in inversions_of(chord, fitting, taste).items()}


def _order(chord: Chord) -> tuple[str, ...]:
    return SUSPENDED[chord.quality.name]


def _with(plain: Voicing, third: int, step: int) -> Voicing:
    return tuple(sorted(key + step if key % OCTAVE == third else key for key in plain))


def _fits(hand: Voicing, taste: Taste) -> bool:
    inside = taste.low <= hand[0] and hand[-1] <= taste.high
    return inside and hand[-1] - hand[0] <= taste.span and len(set(hand)) == len(hand)


def drill_study(songs: Sequence[ArrangedSong], taste: Taste) -> Study | None:
    """Return the study of all chords that are suspended in the songs; None where there is none to play."""
    chords = suspended_chords(songs)
    each = [list(_rows(chord, facts, taste)) for chord, facts in chords]
    heading: Words = ()
    shown = [chord for (chord, _), rows in zip(chords, each, strict=True) if rows]
    if not shown:
        return None
    for number, chord in enumerate(shown[:CHORDS_NAMED]):
        heading += (", ", chord) if number else (chord,)
    if len(shown) > CHORDS_NAMED:
        heading += (f" and {len(shown) - CHORDS_NAMED} more",)
    facts = next(facts for chord, facts in chords if chord == shown[0])
    # All inversions of the chord that is suspended most; then one of each other chord, and so on: through the keys.
    most, *others = (some for some in each if some)
    rows = [*most, *(row for turn in zip_longest(*others) for row in turn if row is not None)]
    return Study(
        kind="triad",
        heading=(*heading, " with suspensions, through the inversions"),
        rows=tuple(rows),
        key=facts.key,
        meter=facts.meter,
        tempo=tempo_of(facts),
        weight=DRILL_WEIGHT,
    )


def _rows(chord: Chord, facts: Facts, taste: Taste) -> Iterator[StudyRow]:
    names = [*chord.names, *(SUS[one].above(chord.root) for one in _order(chord) if one)]
    bass = bass_key(chord, taste)
    length = bar_length(facts)
    for way, path in drill(chord, taste).items():
        fingers = fingers_along(path)
        hands = tuple(
            StudyHand(chord, spelled(hand, names), own, (bass,), added, length)
            for hand, own, added in zip(path, fingers, _order(chord), strict=True)
        )
        movement = tuple(hand_movement(one, two) for one, two in pairwise(path))
        yield StudyRow((chord, " in ", facts.key, f", {way}"), hands, movement)
