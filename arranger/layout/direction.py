"""Which way text runs: a text in reading order -> its stretches from left to right, each of one direction.

The rules are those of the Unicode bidirectional algorithm (UAX 9) without its explicit controls, which songs do not
need: the first strong letter gives the direction of the whole; numbers run to the right inside words that run to the
left; what has no direction takes that of its sides.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from itertools import groupby

# First and last characters of the scripts whose letters join, stack or change their order: they must be shaped.
_JOINING = (
    (0x0600, 0x08FF),  # Arabic, Syriac, Thaana, N'Ko and others
    (0x0900, 0x0DFF),  # the scripts of India and Sri Lanka
    (0x0F00, 0x109F),  # Tibetan, Myanmar
    (0x1780, 0x18AF),  # Khmer, Mongolian
    (0x1A20, 0x1BFF),  # Tai Tham, Balinese and others
    (0xA980, 0xA9DF),  # Javanese
)
_RIGHT_TO_LEFT = ("R", "AL")
_NUMBERS = ("EN", "AN")
_MIRRORED = str.maketrans("()[]{}<>«»", ")(][}{><»«")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Text of one direction, in reading order."""

    text: str
    leftward: bool


def joins(character: str) -> bool:
    """Tell whether a character is of a script whose letters must be shaped."""
    code = ord(character)
    return any(first <= code <= last for first, last in _JOINING)


def runs_left(text: str) -> bool:
    """Tell whether anything in a text runs from right to left."""
    return not text.isascii() and any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in text)


def stretches(text: str) -> tuple[Stretch, ...]:
    """Give the stretches of a text in the order in which they stand, from left to right.

    >>> [(s.text, s.leftward) for s in stretches("do שלום 12 re")]
    [('do ', False), ('12', False), ('שלום ', True), (' re', False)]
    """
    levels = _levels(text)
    spans = [(level, list(group)) for level, group in groupby(range(len(text)), key=lambda place: levels[place])]
    parts = [(level, "".join(text[place] for place in places)) for level, places in spans]
    for lowest in range(max(levels, default=0), 0, -1):
        parts = _turned(parts, lowest)
    return tuple(Stretch(part, level % 2 == 1) for level, part in parts)


def _turned(parts: list[tuple[int, str]], lowest: int) -> list[tuple[int, str]]:
    """Reverse every sequence of parts of a level or higher (rule L2)."""
    turned: list[tuple[int, str]] = []
    for high, group in groupby(parts, key=lambda part: part[0] >= lowest):
        together = list(group)
        turned += together[::-1] if high else together
    return turned


def _levels(text: str) -> list[int]:
    """Give the embedding level of each character: 0 rightward, 1 leftward, 2 numbers and Latin inside leftward text."""
    kinds = _kinds(text)
    base = next((kind for kind in kinds if kind in "LR"), "L")
    strong = base
    levels: list[int] = []
    for kind in kinds:
        if kind in "LR":
            strong = kind
        if kind == "R":
            levels.append(1)
        elif kind == "L":
            levels.append(0 if base == "L" else 2)
        elif kind == "N":
            levels.append(2 if strong == "R" or base == "R" else 0)
        else:
            levels.append(-1)
    outer = 0 if base == "L" else 1
    start = 0
    while start < len(levels):
        if levels[start] >= 0:
            start += 1
            continue
        end = next((place for place in range(start, len(levels)) if levels[place] >= 0), len(levels))
        sides = {_side(levels, kinds, start - 1, outer), _side(levels, kinds, end, outer)}
        between = sides.pop() if len(sides) == 1 else outer
        levels[start:end] = [between if between == 1 else (0 if outer == 0 else 2 if between == 0 else outer)] * (
            end - start
        )
        start = end
    return levels


def _side(levels: list[int], kinds: list[str], place: int, outer: int) -> int:
    """Give the direction (0 or 1) of what stands beside neutral characters; numbers in leftward text count as 1."""
    if not 0 <= place < len(levels):
        return outer
    return 1 if levels[place] == 1 or (kinds[place] == "N" and levels[place] == 2) else 0


def _kinds(text: str) -> list[str]:
    """Give for each character `L`, `R`, `N` (a number) or ` ` (no direction); marks are as what they stand on."""
    kinds: list[str] = []
    for place, character in enumerate(text):
        found = unicodedata.bidirectional(character)
        if found == "NSM":
            kinds.append(kinds[-1] if kinds else " ")
        elif found in _RIGHT_TO_LEFT:
            kinds.append("R")
        elif found in _NUMBERS or (found in ("ES", "CS") and _between_numbers(text, place)):
            kinds.append("N")
        else:
            kinds.append("L" if found == "L" else " ")
    return kinds


def _between_numbers(text: str, place: int) -> bool:
    sides = text[place - 1 : place] + text[place + 1 : place + 2]
    return len(sides) == 2 and all(unicodedata.bidirectional(c) in _NUMBERS for c in sides)


def turned_round(text: str) -> str:
    """Give leftward text in the order in which it stands from left to right, for a script whose letters do not join.

    Marks stay behind the letter that they stand on; brackets are mirrored.

    >>> turned_round("(abc)")
    '(cba)'
    """
    letters: list[str] = []
    for character in text:
        if letters and unicodedata.combining(character):
            letters[-1] += character
        else:
            letters.append(character)
    return "".join(reversed(letters)).translate(_MIRRORED)
