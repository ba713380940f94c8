"""Define spelled notes. `NoteName` is a letter with its accidental; `Pitch` adds the octave.

Octaves are scientific: middle C is C4, MIDI number 60 (published as the "ISO system" in Open Music Theory, "Pitches").
"""

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

LETTERS = "CDEFGAB"
LETTER_STEPS = {letter: step for step, letter in enumerate(LETTERS)}
NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}  # semitones above C
FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}  # places on the line of fifths

_ACCIDENTALS = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2, "x": 2}
_SIGNS = str.maketrans({"♯": "#", "♭": "b", "♮": "", "𝄪": "x"})
_NAME = re.compile(r"([A-G])(##|#|x|bb|b)?")
_PITCH = r"([A-G])(##|#|x|bb|b)?(-?\d)"


def accidental_text(alter: int) -> str:
    """Return the ASCII accidental: `#` or `b` for each semitone.

    >>> accidental_text(-2), accidental_text(0), accidental_text(1)
    ('bb', '', '#')
    """
    return "#" * alter if alter >= 0 else "b" * -alter


class NoteName(NamedTuple):
    """A note without octave: a letter A to G and its alteration in semitones (sharps above 0, flats below)."""

    letter: str
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> "NoteName":
        """Read `F#`, `Bb`, `C##`, `E♭`.

        Raises:
            ValueError: it is no note name.
        """
        match = _NAME.fullmatch(text.translate(_SIGNS))
        if not match:
            raise ValueError(f"no note name: {text!r}")
        return cls(match[1], _ACCIDENTALS[match[2] or ""])

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return (NATURAL[self.letter] + self.alter) % 12

    @property
    def step(self) -> int:
        """The place of the letter in C D E F G A B, 0 to 6."""
        return LETTER_STEPS[self.letter]

    @property
    def fifths(self) -> int:
        """The place on the line of fifths: C 0, G 1, F -1, F# 6, Bb -2."""
        return FIFTHS[self.letter] + 7 * self.alter

    @classmethod
    def at_fifths(cls, place: int) -> "NoteName":
        """Return the name at a place on the line of fifths; the inverse of `fifths`.

        >>> str(NoteName.at_fifths(6)), str(NoteName.at_fifths(-2))
        ('F#', 'Bb')
        """
        alter, index = divmod(place + 1, 7)
        return cls("FCGDAEB"[index], alter)

    def simplest(self) -> "NoteName":
        """Return the enharmonic name with at most one accidental; names that have one or none stay as they are.

        >>> str(NoteName("B", -2).simplest()), str(NoteName("E", 1).simplest())
        ('A', 'E#')
        """
        if -1 <= self.alter <= 1:
            return self
        place = self.fifths
        while place > 12:  # beyond B#: a double sharp
            place -= 12
        while place < -8:  # beyond Fb: a double flat
            place += 12
        return NoteName.at_fifths(place)

    def plain(self) -> "NoteName":
        """Return the name by which a player looks for the key: a letter alone for every white one.

        >>> str(NoteName("F", -1).plain()), str(NoteName("E", 2).plain()), str(NoteName("G", -1).plain())
        ('E', 'F#', 'Gb')
        """
        letter = next((letter for letter, natural in NATURAL.items() if natural == self.pitch_class), None)
        return NoteName(letter) if letter is not None else self.simplest()

    def __str__(self) -> str:
        return self.letter + accidental_text(self.alter)


class Pitch(NamedTuple):
    """A spelled key of the keyboard. `midi` is its MIDI number; Cb4 is 59, the same key as B3."""

    name: NoteName
    octave: int

    @classmethod
    def parse(cls, text: str) -> "Pitch":
        """Read `F#4`.

        Raises:
            ValueError: it is no pitch.
        """
        match = re.fullmatch(_PITCH, text.translate(_SIGNS))
        if not match:
            raise ValueError(f"no pitch: {text!r}")
        return cls(NoteName(match[1], _ACCIDENTALS[match[2] or ""]), int(match[3]))

    @classmethod
    def at(cls, midi: int, name: NoteName) -> "Pitch":
        """Spell a MIDI number with a name.

        Raises:
            ValueError: the name is that of another key.

        >>> str(Pitch.at(59, NoteName("C", -1)))
        'Cb4'
        """
        octave, rest = divmod(midi - NATURAL[name.letter] - name.alter, 12)
        if rest:
            raise ValueError(f"MIDI {midi} is not {name}")
        return cls(name, octave - 1)

    @property
    def midi(self) -> int:
        """The MIDI number; middle C is 60."""
        return 12 * (self.octave + 1) + NATURAL[self.name.letter] + self.name.alter

    def plain(self) -> "Pitch":
        """Return the same key by its plain name, in the octave of that name.

        >>> str(Pitch.parse("Cb4").plain())
        'B3'
        """
        return Pitch.at(self.midi, self.name.plain())

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"


def is_black(midi: int) -> bool:
    """Return whether the key of a MIDI number is a black one."""
    return midi % 12 in (1, 3, 6, 8, 10)


def spelled_by(notes: Sequence[int], names: tuple[NoteName, ...]) -> tuple[Pitch, ...]:
    """Return notes (MIDI) spelled by the first of some names that each has; every note must have one."""
    by_class = _by_class(names)
    return tuple([Pitch.at(note, by_class[note % 12]) for note in notes])


@lru_cache(maxsize=1024)
def _by_class(names: tuple[NoteName, ...]) -> Mapping[int, NoteName]:
    """Return the first of some names for each pitch class (0 to 11)."""
    return MappingProxyType({name.pitch_class: name for name in reversed(names)})
