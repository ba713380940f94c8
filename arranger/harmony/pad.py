"""What to hold on the pad: the one or two notes that lie through the chords of a section.

Takes a section's worked-out chords; gives held notes and where they must change. Only where the pad has keys
of its own: a split in the song (`pad / piano split C4`) or in the player's settings. Common practice, no source; what
is smooth is measured (`theory.roughness`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from arranger.harmony.candidates import OCTAVE
from arranger.harmony.model import ChordPart, PadNote
from arranger.song.model import Section
from arranger.theory.chord import Chord
from arranger.theory.pitch import Pitch
from arranger.theory.roughness import roughness_of

SEMITONES = (1, 11)
CONSONANT = (3, 4, 5, 7, 8, 9)  # semitones between two held notes
DEFAULT_TOP = 60  # C4: a low pad is held below it, a high one from it up


@dataclass(frozen=True, slots=True)
class Keys:
    """Where the pad is: an octave from `low` (MIDI) up."""

    low: int


def pad_keys(section: Section, split: int | None) -> Keys | None:
    """Return the pad's octave next to the split, or None where the pad has no keys of its own."""
    sound = section.facts.sound
    if sound is None or not any("pad" in part.lower() for part in sound.parts):
        return None
    if sound.kind == "split":
        at = sound.split_at.midi if sound.split_at else (split or DEFAULT_TOP)
        return Keys(at - OCTAVE) if "pad" in sound.parts[0].lower() else Keys(at)
    return Keys(split - OCTAVE) if split is not None and sound.kind == "layer" else None


def may_hold(pitch_class: int, chord: Chord) -> bool:
    """Return whether a note may lie over a chord: never a semitone from its third or from an altered note.

    A major seventh above the root is allowed; any other semitone against the root, or against the fifth, is not.
    """
    for member in chord.members:
        apart = (pitch_class - chord.root.pitch_class - member.semitones) % OCTAVE
        if apart not in SEMITONES:
            continue
        if member.degree == 1 and apart == OCTAVE - 1:
            continue
        return False
    bass = (pitch_class - chord.bass_name.pitch_class) % OCTAVE
    return bass not in SEMITONES or bass == OCTAVE - 1


def held(section: Section, chords: Sequence[ChordPart], split: int | None) -> tuple[PadNote, ...]:
    """Return the notes to hold, each from its place on; as few changes as can be, and the least rough of equals."""
    keys = pad_keys(section, split)
    played = [c for c in chords if c.kind == "chord" and c.chord is not None]
    if keys is None or not played:
        return ()
    found: list[PadNote] = []
    start = 0
    while start < len(played):
        end, notes = _longest(played, start, keys)
        if notes:
            here = played[start]
            found += [_note(section, here, n) for n in notes]
            start = end
        else:
            start += 1
    return tuple(found)


def _longest(played: Sequence[ChordPart], start: int, keys: Keys) -> tuple[int, tuple[int, ...]]:
    """Return how far the best note from a chord on may lie, and it alone or with a second that lies as far."""
    reach = {n: _reach(played, start, n) for n in range(keys.low, keys.low + OCTAVE)}
    end = max(reach.values())
    if end == start:
        return start, ()
    stretch = played[start:end]
    able = sorted((n for n, far in reach.items() if far == end), key=lambda n: (_rough(stretch, (n,)), n))
    one = able[0]
    pairs = [n for n in able[1:] if abs(n - one) in CONSONANT and _rough(stretch, (one, n)) <= PAIR * len(stretch)]
    return end, tuple(sorted((one, *pairs[:1])))


# Mean roughness (Hutchinson-Knopoff) that a second held note may add up to: that of a close minor triad with a seventh,
# which nobody hears as harsh on a pad.
PAIR = 0.25


def _reach(played: Sequence[ChordPart], start: int, note: int) -> int:
    end = start
    while end < len(played) and may_hold(note % OCTAVE, _chord(played[end])):
        end += 1
    return end


def _chord(part: ChordPart) -> Chord:
    assert part.chord is not None
    return part.chord


def _rough(stretch: Sequence[ChordPart], notes: tuple[int, ...]) -> float:
    """Return the roughness of held notes with both hands, summed over a stretch of chords."""
    hands = [tuple(sorted({*notes, *(p.midi for p in c.plain + c.left)})) for c in stretch]
    return sum(roughness_of(keys) for keys in hands)


def _note(section: Section, part: ChordPart, midi: int) -> PadNote:
    return PadNote(Pitch.at(midi, section.facts.key.spelled(midi % OCTAVE)), part.bar, part.start)
