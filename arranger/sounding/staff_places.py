"""Find where pitches lie on staves, on which a pad lies best, which signs they need, and which way stems point.

A *step* is a place on the staff: 7 x octave + letter (C 0 to B 6), so middle C is 28.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, MutableMapping
from functools import lru_cache

from arranger.harmony.model import Arrangement
from arranger.theory.key import Key
from arranger.theory.pitch import LETTER_STEPS, NoteName, Pitch

MIDDLE_LINES = (34, 22)  # of the treble and the bass staff: B4, D3
MIDDLE_C = 60  # its number in MIDI
MOST_SIGNS = 2  # sharps or flats that a sign can show


def step_of(pitch: Pitch) -> int:
    """Return the step of a pitch on a staff, its line or space: 7 for each octave, 1 for each letter, middle C 28.

    >>> step_of(Pitch.parse("C4")), step_of(Pitch.parse("F#5"))
    (28, 38)
    """
    return 7 * pitch.octave + LETTER_STEPS[pitch.name.letter]  # asked for again and again


def printable(pitch: Pitch) -> Pitch:
    """Return a pitch as a staff can show it: by its simplest name where three sharps or flats have no sign.

    >>> str(printable(Pitch.parse("Bbb4"))), str(printable(Pitch(NoteName("B", -3), 4)))
    ('Bbb4', 'Ab4')
    """
    return pitch if abs(pitch.name.alter) <= MOST_SIGNS else Pitch.at(pitch.midi, pitch.name.simplest())


@lru_cache(maxsize=64)
def signature(key: Key) -> Mapping[int, int]:
    """Return the letters that a key signature alters (C is 0), each with its alteration in semitones."""
    count = key.signature
    names = (NoteName.at_fifths(place) for place in (range(6, 6 + count) if count > 0 else range(-2, -2 + count, -1)))
    return {name.step: name.alter for name in names}


def sign_of(pitch: Pitch, key: Key, before: MutableMapping[int, int]) -> int | None:
    """Return the alteration that a sign before a note shows, None where it needs no sign.

    `before` holds how its bar altered each step of the staff so far, and is kept up to date.
    """
    step, usual = step_of(pitch), signature(key).get(pitch.name.step, 0)
    if before.get(step, usual) == pitch.name.alter:
        return None
    before[step] = pitch.name.alter
    return pitch.name.alter


def stems_up(steps: Iterable[int], staff: int) -> bool:
    """Return whether the stem of a chord, or of all that a beam joins, points up.

    The note farthest from the middle line decides; on that line, and where two are as far, it points down.

    Args:
        steps: of all the notes.
        staff: 0 the upper, 1 the lower.
    """
    offsets = [step - MIDDLE_LINES[staff] for step in steps]
    return -min(offsets) > max(offsets)


def pad_staff(arrangement: Arrangement) -> int | None:
    """Return the staff on which the keys of a pad lie best: 0 the upper, 1 the lower; None where none has any."""
    keys = [note.pitch.midi for section in arrangement.sections for note in section.pad]
    return int(sum(keys) < MIDDLE_C * len(keys)) if keys else None
