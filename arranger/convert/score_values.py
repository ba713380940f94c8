"""Read numbers and names out of elements of a score; move pitches from where they are written to where they sound.

Files have anything in the place of a number: nothing, words, more digits than can be reckoned with. All give None.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

from arranger.convert.score_file import Element, bare
from arranger.theory.pitch import LETTERS, NATURAL, NoteName, Pitch

_INTEGER = re.compile(r"[+-]?\d{1,12}")
_DECIMAL = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,9})?|\.\d{1,9})")


def child(element: Element, name: str) -> Element | None:
    """Return the first child of a name, whatever its namespace."""
    return next((one for one in element if bare(one) == name), None)


def text_of_child(element: Element, name: str) -> str:
    """Return the text of the first child of a name, without blanks round it; empty where there is none."""
    found = child(element, name)
    return (found.text or "").strip() if found is not None else ""


def integer(text: str | None) -> int | None:
    """Read a whole number of at most twelve digits.

    >>> integer(" 12 "), integer("2.0"), integer("NaN"), integer("9" * 400)
    (12, 2, None, None)
    """
    found = decimal(text)
    return int(found) if found is not None and found.denominator == 1 else None


def decimal(text: str | None) -> Fraction | None:
    """Read a number with or without decimals.

    >>> decimal("0.5"), decimal("1e9"), decimal("-3")
    (Fraction(1, 2), None, Fraction(-3, 1))
    """
    text = (text or "").strip()
    return Fraction(text) if _DECIMAL.fullmatch(text) else None


# Of a quarter: MusicXML 4.0, `note-type-value`.
TYPES = {
    "maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2),
    "quarter": Fraction(1), "eighth": Fraction(1, 2), "16th": Fraction(1, 4), "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16), "128th": Fraction(1, 32),
}  # fmt: skip
MOST_DOTS = 4


def dotted(length: Fraction, dots: int) -> Fraction:
    """Return a length with its dots."""
    return length * (2 - Fraction(1, 2 ** min(dots, MOST_DOTS)))


class Shift(NamedTuple):
    """From written to sounding pitch: steps of the scale, semitones (with whole octaves)."""

    steps: int = 0
    semitones: int = 0

    @property
    def fifths(self) -> int:
        """Places moved on the line of fifths."""
        return 7 * self.semitones - 12 * self.steps

    def name(self, name: NoteName) -> NoteName:
        """Return the sounding name of a written one; what would need a triple sign is simplified."""
        place = name.fifths + self.fifths
        while place > 19:  # B##
            place -= 12
        while place < -15:  # Fbb
            place += 12
        return NoteName.at_fifths(place)

    def pitch(self, pitch: Pitch) -> Pitch:
        """Return the sounding pitch of a written one."""
        return Pitch.at(pitch.midi + self.semitones, self.name(pitch.name))


def shift_of(transpose: Element) -> Shift:
    """Read how an instrument sounds.

    A missing number of steps is that of the plainest interval.
    """
    semitones = integer(text_of_child(transpose, "chromatic")) or 0
    steps = integer(text_of_child(transpose, "diatonic"))
    octaves = integer(text_of_child(transpose, "octave-change")) or 0
    if abs(semitones) > 48 or abs(octaves) > 4:
        return Shift()
    if steps is None or abs(7 * semitones - 12 * steps) > 12:
        place = (7 * semitones + 5) % 12 - 5  # the plainest name of the interval, as a place on the line of fifths
        steps = (7 * semitones - place) // 12
    return Shift(steps + 7 * octaves, semitones + 12 * octaves)


def written_pitch(element: Element) -> Pitch | None:
    """Read a note's `pitch`."""
    step, octave = text_of_child(element, "step").upper(), integer(text_of_child(element, "octave"))
    if step not in NATURAL or len(step) != 1 or octave is None or not -1 <= octave <= 9:
        return None
    alter = decimal(text_of_child(element, "alter")) or Fraction(0)
    if abs(alter) > 2:
        return None
    return Pitch(NoteName(LETTERS[LETTERS.index(step)], round(alter)), octave)
