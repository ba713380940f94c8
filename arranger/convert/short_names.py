"""Find the letters and numbers that name sections in one sheet: `A` over chords, `1` over a verse, `I:` for an intro.

What one letter means only the sheet as a whole shows: `B` is a chord, a bridge, or the part after `A`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from arranger.convert.chord_lines import read_chords
from arranger.convert.marks import Habits
from arranger.convert.model import ChordLine, SheetLine
from arranger.convert.opening_names import names_over_chords
from arranger.convert.sheet_head import states_order
from arranger.habits.headings import SPARE_LETTERS, Heading, said_behind

_BARE_LETTER = re.compile(r"([A-H])(?:\s+[(\[]([^()\[\]]*)[)\]]|\s*[-–—=]\s*([^\W\d_].*))?")
_BARE_NUMBER = re.compile(r"(?:no\.?\s?)?([1-9][0-9]?|I{1,3}|IV|VI{0,3}|IX|X)")
_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")
_VERSE = re.compile(r"[Vv]\s?[1-9]?[.:]?")
_BARE_SHORT = re.compile(
    r"(C|B|PC|CH|Ch|BR|Br)(?:\s?[1-9](?!\s?[xX]))?((?:\s+(?:C|B|PC|CH|Ch))*)\s*(?:[xX]\s?([2-9])|([2-9])\s?[xX])?"
)
_SHORT = {"c": "Chorus", "ch": "Chorus", "b": "Bridge", "br": "Bridge", "pc": "Prechorus"}
_LETTERED = re.compile(r"[\[(]?([A-Z])[\])]?[:)]\s*(.*)")
_TOKEN = re.compile(r"\b[A-Z]\b")
FEWEST = 2  # letters or numbers in a row that show a habit


@dataclass(frozen=True, slots=True)
class ShortNames:
    """What letters and numbers name in a sheet.

    Attributes:
        letters: names of the letters that stand before a colon.
        alone: headings of lines that are a letter or a number alone, or another name that no list knows, by the
            number of the line.
    """

    letters: dict[str, str] = field(default_factory=dict)
    alone: dict[int, Heading] = field(default_factory=dict)

    def behind(self, text: str) -> tuple[Heading, str] | None:
        """Return the section that a letter before a colon names, and what stands behind it."""
        match = _LETTERED.fullmatch(text)
        name = self.letters.get(match[1]) if match is not None else None
        return None if match is None or name is None else (Heading(name), match[2])


def short_names_of(lines: Sequence[SheetLine], habits: Habits) -> ShortNames:
    """Return what letters and numbers name in a sheet."""
    letters: dict[str, str] = {}
    if any(line.text.strip().startswith(("A:", "[A]:", "A)")) for line in lines):
        letters = {letter: f"Part {letter}" for letter in "ABCDEFGH"}  # where a part is called A, B is no bridge
    for line in lines:
        if states_order(line.text):
            said = line.text.partition(":")[2]
            letters |= {c: SPARE_LETTERS[c] for c in _TOKEN.findall(said) if c in SPARE_LETTERS and c not in letters}
    alone = dict(_numbers_alone(lines))
    parts = dict(_letters_alone(lines, habits)) or dict(_letters_beside_verses(lines, habits))
    return ShortNames(letters, {**dict(names_over_chords(lines, habits)), **alone, **parts})


def _numbers_alone(lines: Sequence[SheetLine]) -> Iterator[tuple[int, Heading]]:
    """Yield the verses that a line with their number alone begins: 1, 2... each behind a blank line or at the start."""
    found: list[tuple[int, int]] = []
    for index, line in enumerate(lines[:-1]):
        match = _BARE_NUMBER.fullmatch(line.text.strip())
        if match is not None and not (index and lines[index - 1].cells) and lines[index + 1].cells:
            number = int(match[1]) if match[1].isdigit() else _ROMAN.index(match[1]) + 1
            found.append((line.number, number))
    if len(found) >= FEWEST and [number for _, number in found] == list(range(1, len(found) + 1)):
        yield from ((line, Heading(f"Verse {number}")) for line, number in found)


def _letters_alone(lines: Sequence[SheetLine], habits: Habits) -> Iterator[tuple[int, Heading]]:
    """Yield the parts that a letter alone right above a line of chords names: A, then B..., or A again."""
    found: list[tuple[int, str, str]] = []
    for index, line in enumerate(lines[:-1]):
        match = _BARE_LETTER.fullmatch(line.text.strip())
        if match is None or (index and lines[index - 1].cells):
            continue
        below = read_chords(lines[index + 1], habits)
        if _shows_chords(below):
            found.append((line.number, match[1], match[2] or match[3] or ""))
    new = list(dict.fromkeys(letter for _, letter, _ in found))
    if len(new) >= FEWEST and "".join(new) == "ABCDEFGH"[: len(new)]:
        for number, letter, remark in found:
            times, said = said_behind(remark)
            yield number, Heading(f"Part {letter}", times or 1, said)


def _letters_beside_verses(lines: Sequence[SheetLine], habits: Habits) -> Iterator[tuple[int, Heading]]:
    """Yield the chorus and the bridge that a letter alone names in a sheet that names its verses V1, V2."""
    if sum(_VERSE.fullmatch(line.text.strip()) is not None for line in lines) < FEWEST:
        return
    for index, line in enumerate(lines):
        match = _BARE_SHORT.fullmatch(line.text.strip())
        if match is None or (index and lines[index - 1].cells):
            continue
        after = lines[index + 1] if index + 1 < len(lines) else None
        alone = after is None or not after.cells
        if not alone and (match[2] or after is None or not read_chords(after, habits).certain):
            continue
        times = 1 + len(match[2].split()) if alone else 1
        yield line.number, Heading(_SHORT[match[1].lower()], int(match[3] or match[4] or times))


def _shows_chords(line: ChordLine) -> bool:
    return line.certain and len(line.chords) >= FEWEST
