"""Divide text into stretches of one direction, in the order in which they stand from left to right.

The rules are those of the Unicode bidirectional algorithm (UAX 9) without its explicit controls, which songs do not
need: the first strong letter gives the direction of the whole; numbers run to the right inside words that run to the
left; brackets go with what they enclose; what has no direction takes that of its sides. Names such as W1 or N0 are
those of the rules there, and so are the names of the classes of characters.
"""

import unicodedata
from itertools import groupby
from typing import NamedTuple

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
_NEUTRAL = ("B", "S", "WS", "ON", "LRI", "RLI", "FSI", "PDI")
_LEFT_OUT = ("BN", "LRE", "RLE", "LRO", "RLO", "PDF")  # what X9 leaves out: joiners, and controls not needed here
_MIRRORED = str.maketrans("<>«»", "><»«")  # beside the brackets
_MOST_OPEN = 63  # brackets inside one another: BD16


class DirectedText(NamedTuple):
    """Text of one direction, in reading order."""

    text: str
    leftward: bool


def joins(character: str) -> bool:
    """Return whether a character is of a script whose letters must be shaped."""
    code = ord(character)
    return any(first <= code <= last for first, last in _JOINING)


def runs_left(text: str) -> bool:
    """Return whether anything in a text runs from right to left."""
    return not text.isascii() and any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in text)


def stretches(text: str) -> tuple[DirectedText, ...]:
    """Return the stretches of a text in the order in which they stand, from left to right.

    >>> [(s.text, s.leftward) for s in stretches("do שלום 12 re")]
    [('do ', False), ('12', False), ('שלום ', True), (' re', False)]
    """
    levels = _levels(text)
    spans = [(level, list(group)) for level, group in groupby(range(len(text)), key=lambda place: levels[place])]
    parts = [(level, "".join(text[place] for place in places)) for level, places in spans]
    for lowest in range(max(levels, default=0), 0, -1):
        parts = _turned(parts, lowest)
    return tuple(DirectedText(part, level % 2 == 1) for level, part in parts)


def _turned(parts: list[tuple[int, str]], lowest: int) -> list[tuple[int, str]]:
    """Reverse every sequence of parts of a level or higher (rule L2)."""
    turned: list[tuple[int, str]] = []
    for high, group in groupby(parts, key=lambda part: part[0] >= lowest):
        together = list(group)
        turned += together[::-1] if high else together
    return turned


def _levels(text: str) -> list[int]:
    """Return the level of each character: 0 rightward, 1 leftward, 2 numbers and Latin inside leftward text."""
    classes = [unicodedata.bidirectional(character) or "L" for character in text]
    base = next((kind for kind in classes if kind in ("L", *_RIGHT_TO_LEFT)), "L")
    base = "L" if base == "L" else "R"
    outer = "LR".index(base)
    places = [place for place, kind in enumerate(classes) if kind not in _LEFT_OUT]
    kinds = [classes[place] for place in places]
    marks = [kind == "NSM" for kind in kinds]
    _settle_weak(kinds, base)
    _settle_brackets([text[place] for place in places], kinds, marks, base)
    _settle_neutral(kinds, base)
    levels = [outer] * len(text)
    for place, kind in zip(places, kinds, strict=True):  # I1, I2
        levels[place] = 1 if kind == "R" else 0 if (kind, outer) == ("L", 0) else 2
    for place, kind in enumerate(classes):
        if kind in _LEFT_OUT and place:
            levels[place] = levels[place - 1]
    blank = len(text)
    for place in reversed(range(len(text))):  # L1
        if classes[place] in ("B", "S") or (place + 1 == blank and classes[place] in ("WS", *_LEFT_OUT)):
            levels[place], blank = outer, place
    return levels


def _settle_weak(kinds: list[str], base: str) -> None:
    """Settle marks, numbers and what belongs to them (W1 to W7), in place."""
    strong = base
    for place, kind in enumerate(kinds):
        if kind == "NSM":  # W1
            before = kinds[place - 1] if place else base
            kind = kinds[place] = "ON" if before in ("LRI", "RLI", "FSI", "PDI") else before
        if kind in ("L", *_RIGHT_TO_LEFT):
            strong = kind
        elif kind == "EN" and strong == "AL":  # W2
            kinds[place] = "AN"
    kinds[:] = ["R" if kind == "AL" else kind for kind in kinds]  # W3
    for place in range(1, len(kinds) - 1):  # W4
        before, kind, after = kinds[place - 1 : place + 2]
        if before == after and ((kind == "ES" and before == "EN") or (kind == "CS" and before in _NUMBERS)):
            kinds[place] = before
    place = 0
    for kind, group in groupby(list(kinds)):  # W5
        end = place + len(list(group))
        if kind == "ET" and "EN" in kinds[max(0, place - 1) : place] + kinds[end : end + 1]:
            kinds[place:end] = ["EN"] * (end - place)
        place = end
    strong = base
    for place, kind in enumerate(kinds):
        if kind in ("ES", "ET", "CS"):  # W6
            kinds[place] = "ON"
        elif kind in ("L", "R"):
            strong = kind
        elif kind == "EN" and strong == "L":  # W7
            kinds[place] = "L"


def _settle_brackets(characters: list[str], kinds: list[str], marks: list[bool], base: str) -> None:
    """Settle brackets that have a partner, with the marks on them (N0), in place."""
    for opening, closing in _bracket_pairs(characters, kinds):
        inside = {_strong(kind) for kind in kinds[opening + 1 : closing]} - {None}
        if not inside:
            continue
        before = next((s for kind in reversed(kinds[:opening]) if (s := _strong(kind))), base)
        side = base if base in inside else before
        for bracket in (opening, closing):
            kinds[bracket] = side
            for mark in range(bracket + 1, len(kinds)):
                if not marks[mark]:
                    break
                kinds[mark] = side


def _bracket_pairs(characters: list[str], kinds: list[str]) -> list[tuple[int, int]]:
    """Return the places of brackets and their partners (BD16), in the order of the first."""
    pairs: list[tuple[int, int]] = []
    opened: list[tuple[str, int]] = []
    for place, (character, kind) in enumerate(zip(characters, kinds, strict=True)):
        if kind != "ON":
            continue
        partner = _partner(character)
        if partner > character:
            if len(opened) == _MOST_OPEN:
                break
            opened.append((partner, place))
        elif partner:
            depth = next((d for d in reversed(range(len(opened))) if opened[d][0] == character), None)
            if depth is not None:
                pairs.append((opened[depth][1], place))
                del opened[depth:]
    return sorted(pairs)


def _partner(character: str) -> str:
    """Return the bracket that belongs to a bracket; nothing for other characters.

    Brackets of a pair are neighbours in Unicode, or have one sign between them (ASCII and its full-width forms).

    >>> _partner("("), _partner("}"), _partner("」"), _partner("a")
    (')', '{', '「', '')
    """
    category = unicodedata.category(character)
    if category not in ("Ps", "Pe") or not unicodedata.mirrored(character):
        return ""
    way, wanted = (1, "Pe") if category == "Ps" else (-1, "Ps")
    near = (chr(ord(character) + way * step) for step in (1, 2))
    return next((c for c in near if unicodedata.category(c) == wanted and unicodedata.mirrored(c)), "")


def _strong(kind: str) -> str | None:
    """Return the direction that a class counts as for neutral characters; numbers count as leftward."""
    return "R" if kind in ("R", *_NUMBERS) else "L" if kind == "L" else None


def _settle_neutral(kinds: list[str], base: str) -> None:
    """Settle what has no direction by its two sides, or as the whole (N1, N2), in place."""
    place = 0
    for neutral, group in groupby([kind in _NEUTRAL for kind in kinds]):
        end = place + len(list(group))
        if neutral:
            before = _strong(kinds[place - 1]) if place else base
            after = _strong(kinds[end]) if end < len(kinds) else base
            kinds[place:end] = [before if before and before == after else base] * (end - place)
        place = end


def turned_round(text: str) -> str:
    """Return leftward text in the order in which it stands from left to right, for a script whose letters do not join.

    Marks stay behind the letter that they stand on; brackets are mirrored.

    >>> turned_round("(abc)")
    '(cba)'
    """
    letters: list[str] = []
    for character in text:
        if letters and unicodedata.combining(character):
            letters[-1] += character
        else:
            letters.append(_partner(character) or character)
    return "".join(reversed(letters)).translate(_MIRRORED)
