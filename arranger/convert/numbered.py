"""Name chords that are counted from a key: `1 4 5 6m`, or `I IV V vi`, in E are E A B C#m. Columns stay.

Common practice, no source: a number is a degree of the key's scale, its chord major unless a sign says otherwise; where
no chord of a sheet has a sign for minor, those of the scale are meant.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from arranger.convert.marks import chord_candidates
from arranger.convert.model import Remark, SheetLine
from arranger.habits.free_form import facts_in
from arranger.habits.signs import sign_of, times_of, with_own_signs
from arranger.song.cells import is_chord
from arranger.theory.key import Key

_NUMBER = re.compile(
    r"(?P<sign>[#b]?)(?P<degree>[1-7])(?P<kind>(?:m|-|maj|dim|°|aug|\+|sus|add|[79])[^/|]*)?(?:/(?P<bass>[#b]?[1-7]))?"
)
# The same in Roman numerals: small ones are minor.
_ROMAN = re.compile(
    r"(?P<sign>[#b]?)(?P<degree>VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(?P<kind>(?:m|-|maj|dim|°|o|ø|aug|\+|sus|add|[79])"
    r"[^/|]*)?(?:/(?P<bass>[#b]?(?:[1-7]|VII|VI|IV|V|III|II|I)))?"
)
_DEGREES = ("i", "ii", "iii", "iv", "v", "vi", "vii")
_PIECE = re.compile(r"[^\s|:]+|[|:]+")
_MINOR_SIGN = re.compile(r"m(?!aj)|-")
_NAMED = re.compile(r"\s*(?:[^\W\d_][^\W\d_' \-]*(?:[ \-][0-9]{1,2})?\s*:|\[[^\[\]]*[^\W\d_][^\[\]]*\])\s*")
_SMALL_CHORDS = {False: ["2", "3", "6"], True: ["1", "4", "5"]}  # degrees with minor chords in major, and in minor
FEWEST_LINES, FEWEST = 2, 2  # lines, and numbers in each, that show a sheet to count its chords


class _Number(NamedTuple):
    """A chord by its number: its columns, a sign before it, the degree, what stands behind it, a bass or None."""

    start: int
    end: int
    sign: str
    degree: str
    kind: str
    bass: str | None
    roman: bool = False


class ChordsNamed(NamedTuple):
    """A sheet's lines with its chords named, and what was guessed."""

    lines: tuple[SheetLine, ...]
    notes: tuple[Remark, ...] = ()


def with_numbers_named(lines: Sequence[SheetLine], key: Key | None) -> ChordsNamed | None:
    """Return a sheet's lines with chords in the place of numbers; None where no key is known to count from.

    Args:
        lines: of the sheet.
        key: as somebody asked for it; None where the sheet says it.
    """
    counted = {line.number: _numbers_in(line) for line in lines}
    roman = {line.number: _numbers_in(line, roman=True) for line in lines}
    if sum(map(len, roman.values())) > sum(map(len, counted.values())):
        counted = _without_verses(roman, lines)
    marks = [number for found in counted.values() for number in found]
    if sum(len(found) >= FEWEST for found in counted.values()) < FEWEST_LINES:
        return ChordsNamed(tuple(lines))
    if chord_candidates(tuple(lines)):
        return ChordsNamed(tuple(lines))  # the chords have names: the numbers are counted in, or fingers
    stated = (facts_in(line.text)[0].get("key") for line in lines if not counted[line.number])
    key = key or next((found for found in stated if found is not None), None)
    if key is None:
        return None
    signed = any(number.roman for number in marks) or any(_MINOR_SIGN.match(number.kind) for number in marks)
    notes = [Remark("assumed", 0, f"the chords are counted from the key: 1 is {key}")]
    if key.minor and any(n.degree == "6" and _MINOR_SIGN.match(n.kind) for n in marks):
        key = key.relative
        notes = [Remark("check", 0, f"the chords are counted from {key.words}, whose 6m is the key's own chord")]
    elif not signed and (key.minor or any(number.degree in _SMALL_CHORDS[False] for number in marks)):
        notes.append(Remark("check", 0, f"no number says minor: the chords are those of the scale of {key.words}"))
    named = (_named(line, counted[line.number], key, signed) for line in lines)
    return ChordsNamed(tuple(named), tuple(notes))


def _without_verses(
    roman: Mapping[int, tuple[_Number, ...]], lines: Sequence[SheetLine]
) -> dict[int, tuple[_Number, ...]]:
    """Leave out a numeral that stands alone behind a blank line: it is a verse's."""
    above = [False, *(bool(line.cells) for line in lines)]
    apart = {line.number for line, filled in zip(lines, above, strict=False) if not filled}
    return {n: () if len(found) == 1 and n in apart else found for n, found in roman.items()}


def _numbers_in(line: SheetLine, *, roman: bool = False) -> tuple[_Number, ...]:
    """Return the numbers of a line that has nothing but chords by their numbers, behind a name or none."""
    text = with_own_signs(line.padded)
    name = _NAMED.match(text)
    found: list[_Number] = []
    for piece in _PIECE.finditer(text, name.end() if name is not None else 0):
        number = (_ROMAN if roman else _NUMBER).fullmatch(piece[0])
        if number is not None and roman and is_chord(f"C{_roman_kind(number)}"):
            found.append(_roman(piece, number))
            continue
        if number is not None and is_chord(f"C{number['kind'] or ''}"):
            found.append(_Number(*piece.span(), number["sign"], number["degree"], number["kind"] or "", number["bass"]))
        elif not ("|" in piece[0] or sign_of(piece[0]) or times_of(piece[0].strip("()"))):
            return ()
    return tuple(found)


def _roman_kind(number: re.Match[str]) -> str:
    """Return what kind of chord a Roman numeral names: a small one is minor, if it is not diminished."""
    kind = number["kind"] or ""
    kind = "m7b5" if kind.startswith("ø") else f"dim{kind[1:]}" if kind[:1] in ("°", "o") else kind
    small = (number["degree"].islower() and not kind.startswith(("m", "-", "dim"))) or kind.startswith("maj")
    return f"m{kind}" if small and number["degree"].islower() else kind


def _roman(piece: re.Match[str], number: re.Match[str]) -> _Number:
    """Return a chord by its Roman numeral as one by its number."""
    degree = str(_DEGREES.index(number["degree"].lower()) + 1)
    bass = number["bass"]
    if bass and not bass[-1].isdigit():
        sign = bass[:1] if bass[0] in "#b" else ""
        bass = f"{sign}{_DEGREES.index(bass[len(sign) :].lower()) + 1}"
    return _Number(*piece.span(), number["sign"], degree, _roman_kind(number), bass, roman=True)


def _named(line: SheetLine, numbers: Sequence[_Number], key: Key, signed: bool) -> SheetLine:
    """Return a line with its numbers as chords, each in its column, or right behind the chord before it."""
    cells: list[str] = []
    at = 0
    for number in numbers:
        cells += line.cells[at : number.start]
        while len(cells) > number.start and cells[-2:] == [" ", " "]:
            cells.pop()  # longer names take the blanks behind them
        cells += _chord(number, key, signed)
        at = number.end
        cells += [" "] * (at - len(cells))
    return SheetLine(line.number, (*cells, *line.cells[at:])) if numbers else line


def _chord(number: _Number, key: Key, signed: bool) -> str:
    plain = not signed and not number.sign and not number.kind.startswith(("dim", "°", "sus"))
    small = "m" if plain and number.degree in _SMALL_CHORDS[key.minor] else ""
    bass = f"/{_note(number.bass[:-1], number.bass[-1], key)}" if number.bass else ""
    return f"{_note(number.sign, number.degree, key)}{small}{number.kind}{bass}"


def _note(sign: str, degree: str, key: Key) -> str:
    name = str(key.scale[int(degree) - 1])
    if not sign:
        return name
    if name.endswith(("#", "b")) and name[-1] != sign:
        return name[:-1]  # a flat seventh in E is D
    return name + sign
