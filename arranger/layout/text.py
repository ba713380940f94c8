"""Setting text: which face has each sign, how wide a text is, where it breaks. Takes strings; gives runs.

A *run* is text in one face at one size, raised by `rise`. Signs that a face lacks come from the music face; what no
face has is set in the asked face and reported when the pages are checked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Text
from arranger.source import NOWHERE, Span

MUSIC_SCALE = 1.3  # signs of the music face are drawn small; so their notes and naturals are as high as capitals
_NAME_IN_SHAPE = re.compile(r"\b[A-G][#b]+")
SIGNS = str.maketrans({"#": "♯", "b": "♭"})


@dataclass(frozen=True, slots=True)
class Run:
    """Text in one face; `rise` lifts its baseline."""

    text: str
    face: Face
    size: float
    rise: float = 0.0
    width: float = 0.0


@lru_cache(maxsize=4096)
def runs(text: str, face: Face, size: float, metrics: Metrics, rise: float = 0.0) -> tuple[Run, ...]:
    """Set a text: one run for each stretch that the same face covers."""
    if all(metrics.covers(c, face) for c in text):
        return (Run(text, face, size, rise, metrics.width(text, face, size)),) if text else ()
    stretches: list[tuple[Face, list[str]]] = []
    for character in text:
        used: Face = "music" if not metrics.covers(character, face) and metrics.covers(character, "music") else face
        if not stretches or stretches[-1][0] != used:
            stretches.append((used, []))
        stretches[-1][1].append(character)
    parts = (
        (used, "".join(characters), size * MUSIC_SCALE if used != face else size) for used, characters in stretches
    )
    return tuple(Run(part, used, scaled, rise, metrics.width(part, used, scaled)) for used, part, scaled in parts)


def width_of(parts: Iterable[Run]) -> float:
    """Give the width of runs set side by side."""
    return sum(run.width for run in parts)


def place(parts: Iterable[Run], x: float, y: float, role: str, span: Span = NOWHERE, grey: float = 0.0) -> list[Text]:
    """Give the text items of runs set side by side from x on the baseline y."""
    items = []
    for run in parts:
        items.append(Text(x, y - run.rise, run.text, run.face, run.size, role, grey, span))
        x += run.width
    return items


def printed_name(name: object) -> str:
    """Give a note's name with real accidentals.

    >>> printed_name("F#"), printed_name("Bb"), printed_name("C##")
    ('F♯', 'B♭', 'C𝄪')
    """
    text = str(name)
    return text[0] + text[1:].replace("##", "𝄪").replace("bb", "𝄫").translate(SIGNS)


def printed_shape(shape: str) -> str:
    """Give a shape's name with real accidentals.

    >>> printed_shape("Bb-D-Eb over C"), printed_shape("C#dim over A")
    ('B♭-D-E♭ over C', 'C♯dim over A')
    """
    return _NAME_IN_SHAPE.sub(lambda name: printed_name(name[0]), shape)


def wrap(text: str, face: Face, size: float, width: float, metrics: Metrics) -> tuple[str, ...]:
    """Break a text into lines that fit a width: at blanks, inside a word only where the word alone is too wide."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        joined = f"{line} {word}" if line else word
        if _fits(joined, face, size, width, metrics):
            line = joined
            continue
        if line:
            lines.append(line)
        while not _fits(word, face, size, width, metrics) and len(word) > 1:
            head = _longest_head(word, face, size, width, metrics)
            lines.append(word[:head])
            word = word[head:]
        line = word
    return (*lines, line) if line else tuple(lines)


def _fits(text: str, face: Face, size: float, width: float, metrics: Metrics) -> bool:
    return width_of(runs(text, face, size, metrics)) <= width


def _longest_head(word: str, face: Face, size: float, width: float, metrics: Metrics) -> int:
    """Count the characters of a word that fit, at least one; found by halving."""
    low, high = 1, len(word) - 1
    while low < high:
        middle = (low + high + 1) // 2
        if _fits(word[:middle], face, size, width, metrics):
            low = middle
        else:
            high = middle - 1
    return low


ELLIPSIS = "…"


def elided(text: str, face: Face, size: float, width: float, metrics: Metrics) -> str:
    """Cut a text short, with an ellipsis, where it is wider than there is room."""
    if _fits(text, face, size, width, metrics):
        return text
    low, high = 0, len(text) - 1
    while low < high:
        middle = (low + high + 1) // 2
        if _fits(text[:middle].rstrip() + ELLIPSIS, face, size, width, metrics):
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + ELLIPSIS
