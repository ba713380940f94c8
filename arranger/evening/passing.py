"""Find the hands of chords that lead from one song to the next; those of the songs stay as they are printed.

The measures are those of the songs themselves, and the answer is the least of all choices: a chain has few enough of
them to go through it chord by chord.
"""

from __future__ import annotations

from collections.abc import Sequence

from arranger.evening.model import PassedChord, SongEnd
from arranger.harmony.taste import Taste
from arranger.harmony.voicings import OCTAVE, Voicing, bass_way, change_cost, sound_cost, voicings
from arranger.theory.chord import Chord
from arranger.theory.pitch import Pitch

Hand = tuple[Voicing, int]  # the right hand's keys, and the bass note (MIDI)


def passing(chords: Sequence[Chord], last: SongEnd, first: SongEnd, taste: Taste) -> tuple[PassedChord, ...]:
    """Return the hands of chords between the last hand of a song and the first of the next.

    A hand has as many keys as the one before the chords where there are such; the bass goes the shortest way. No hand
    at all where one of the chords has none inside the player's limits.
    """
    if not chords:
        return ()
    before = tuple(pitch.midi for pitch in last.right), last.left[0].midi if last.left else taste.left_target
    after = tuple(pitch.midi for pitch in first.right), first.left[0].midi if first.left else taste.left_target
    basses = basses_between(chords, before[1], taste)
    choices = [
        hands_of(chord, bass, len(before[0]), taste) if bass is not None else ()
        for chord, bass in zip(chords, basses, strict=True)
    ]
    if not before[0] or not after[0] or not all(choices):
        return tuple(PassedChord(chord) for chord in chords)
    notes = [bass for bass in basses if bass is not None]
    best = least([*zip(choices, notes, strict=True)], before, after, taste)
    return tuple(
        PassedChord(chord, _spelled(hand, chord), (Pitch.at(bass, chord.bass_name),))
        for chord, hand, bass in zip(chords, best, notes, strict=True)
    )


def basses_between(chords: Sequence[Chord], before: int, taste: Taste) -> list[int | None]:
    """Return the bass note of each chord (MIDI): the octave nearest to the bass before it, in the left hand's range."""
    found: list[int | None] = []
    for chord in chords:
        low = taste.left_low + (chord.bass_name.pitch_class - taste.left_low) % OCTAVE
        octaves = range(low, taste.left_high + 1, OCTAVE)
        bass = min(octaves, key=lambda note: (abs(note - before), note), default=None)
        found.append(bass)
        before = before if bass is None else bass
    return found


def hands_of(chord: Chord, bass: int, size: int, taste: Taste) -> tuple[Voicing, ...]:
    """Return the right hands that a chord may have over a bass note, of `size` keys where there are such."""
    some = voicings(chord, taste, max(taste.moved_low, bass + taste.clear_of_left), taste.high)
    return tuple(hand for hand in some if len(hand) == size) or some


def least(
    choices: Sequence[tuple[Sequence[Voicing], int]], before: Hand, after: Hand, taste: Taste
) -> tuple[Voicing, ...]:
    """Return the hands whose cost is least in all, from the hand before them to the one after them.

    Args:
        choices: for each chord its hands, one at least, and its bass note.
        before: the hand before the chords, and its bass note.
        after: the hand after them, and its bass note.
        taste: weights.
    """
    paths: list[tuple[int, tuple[Voicing, ...]]] = [(0, ())]
    last = before[1]
    for hands, bass in choices:
        way = bass_way(bass - last)
        paths = [
            min(
                (
                    cost
                    + change_cost(path[-1] if path else before[0], hand, way, taste)
                    + sound_cost(hand, bass, taste),
                    (*path, hand),
                )
                for cost, path in paths
            )
            for hand in hands
        ]
        last = bass
    way = bass_way(after[1] - last)
    return min((cost + change_cost(path[-1], after[0], way, taste), path) for cost, path in paths)[1]


def _spelled(hand: Voicing, chord: Chord) -> tuple[Pitch, ...]:
    names = {name.pitch_class: name for name in chord.names}
    return tuple(Pitch.at(key, names.get(key % OCTAVE, chord.bass_name)) for key in hand)
