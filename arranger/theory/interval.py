"""Measure intervals in letters and in semitones: a major third is degree 3, 4 semitones."""

from functools import lru_cache
from typing import NamedTuple

from arranger.theory.pitch import LETTERS, NATURAL, NoteName

# Semitones of the major or perfect interval on each degree from 1 to 7 (those of the major scale).
MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)


class Interval(NamedTuple):
    """A rising interval: `degree` counts letters with both ends (1 unison, 9 ninth), `semitones` counts keys."""

    degree: int
    semitones: int

    @classmethod
    def parse(cls, text: str) -> "Interval":
        """Read a chord degree: `3` is major, `b3` minor, `#11` raised.

        >>> Interval.parse("b7")
        Interval(degree=7, semitones=10)
        """
        number = text.lstrip("#b")
        shift = text.count("#") - text.count("b")
        octaves, step = divmod(int(number) - 1, 7)
        return cls(int(number), 12 * octaves + MAJOR_SCALE[step] + shift)

    @property
    def alteration(self) -> int:
        """Semitones away from the interval on the same degree of the major scale."""
        octaves, step = divmod(self.degree - 1, 7)
        return self.semitones - 12 * octaves - MAJOR_SCALE[step]

    @property
    def pitch_class(self) -> int:
        """Semitones within the octave, 0 to 11."""
        return self.semitones % 12

    @lru_cache(maxsize=4096)  # noqa: B019  # frozen values, a few hundred in all: every chord asks again and again
    def above(self, name: NoteName) -> NoteName:
        """Return the name of the note this far above a name, spelled by letters.

        >>> str(Interval.parse("b3").above(NoteName("D")))
        'F'
        """
        letter = LETTERS[(name.step + self.degree - 1) % 7]
        alter = (name.pitch_class + self.semitones - NATURAL[letter] + 6) % 12 - 6
        return NoteName(letter, alter)

    def __str__(self) -> str:
        shift = self.alteration
        return ("#" * shift if shift >= 0 else "b" * -shift) + str(self.degree)


def between(low: NoteName, high: NoteName) -> Interval:
    """Return the interval from one name up to the next of another, counted by letters.

    Altered unisons and seconds may fall below the unison (`E#` to `Fb`), sevenths reach the octave (`C` to `B#`).

    >>> between(NoteName("D"), NoteName("C"))
    Interval(degree=7, semitones=10)
    """
    step = (high.step - low.step) % 7
    natural = MAJOR_SCALE[step]
    # The letters settle the octave: of all sizes with this pitch class, the one nearest to the major scale's.
    semitones = natural + (high.pitch_class - low.pitch_class - natural + 6) % 12 - 6
    return Interval(step + 1, semitones)
