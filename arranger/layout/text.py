"""Set text: which face has each sign, how wide a text is, where it breaks and where it is cut short.

The pipeline passes in the metrics of the real fonts; tests pass in square ones. A *run* is text in one face at one
size, raised by `rise`. What a face lacks comes from the faces that its metrics name in its place; what no face has is
set in the asked face and reported when the pages are checked.
"""

import re
import unicodedata
from bisect import bisect_left
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple, Protocol

from arranger.layout.direction import DirectedText, joins, runs_left, stretches, turned_round
from arranger.layout.model import Face, Glyph, Text
from arranger.text.source import NOWHERE, Span


class Metrics(Protocol):
    """Widths, heights and coverage of the faces. Lengths are in points at the given size.

    One instance always gives the same: what is set with it is remembered by it.
    """

    def __hash__(self) -> int:
        """Return what tells instances apart."""

    def width(self, text: str, face: Face, size: float) -> float:
        """Return the advance width."""

    def covers(self, character: str, face: Face) -> bool:
        """Return whether the face has a glyph for the character."""

    def fallbacks(self, face: Face) -> tuple[Face, ...]:
        """Return the faces that are tried, in order, for what a face lacks."""

    def shaped(self, text: str, face: Face, leftward: bool) -> tuple[Glyph, ...]:
        """Shape a text; empty where that cannot be done."""

    def cap_height(self, face: Face, size: float) -> float:
        """Return the height of an unaccented capital."""

    def ascent(self, face: Face, size: float) -> float:
        """Return how far letters with one accent rise above the baseline."""

    def descent(self, face: Face, size: float) -> float:
        """Return how far letters hang below the baseline, above 0."""

    def rise(self, text: str, face: Face, size: float) -> float:
        """Return how far the tallest glyph of a text rises above the baseline (stacked accents rise over `ascent`)."""


MUSIC_SCALE = 1.3  # signs of the music face are drawn small; so their notes and naturals are as high as capitals
_NAME_IN_SHAPE = re.compile(r"\b[A-G][#b]+")
SIGNS = str.maketrans({"#": "♯", "b": "♭"})


class Run(NamedTuple):
    """Text in one face; `rise` lifts its baseline; `glyphs` where it is shaped."""

    text: str
    face: Face
    size: float
    rise: float = 0.0
    width: float = 0.0
    glyphs: tuple[Glyph, ...] = ()


@lru_cache(maxsize=4096)
def runs(text: str, face: Face, size: float, metrics: Metrics, rise: float = 0.0) -> tuple[Run, ...]:
    """Set a text: one run for each stretch of one face and one direction, from left to right."""
    if text.isascii() or (all(metrics.covers(c, face) for c in text) and not runs_left(text)):
        return (Run(text, face, size, rise, metrics.width(text, face, size)),) if text else ()
    found: list[Run] = []
    for stretch in stretches(text) if runs_left(text) else (DirectedText(text, leftward=False),):
        parts = _by_face(stretch.text, face, metrics)
        for used, part in reversed(parts) if stretch.leftward else parts:
            scaled = size * MUSIC_SCALE if used == "music" and face != "music" else size
            found.append(_run(part, used, scaled, rise, stretch.leftward, metrics))
    return tuple(found)


def _by_face(text: str, face: Face, metrics: Metrics) -> list[tuple[Face, str]]:
    """Divide a text by the faces that have its characters; a blank or a mark stays with what is before it."""
    parts: list[tuple[Face, str]] = []
    for character in text:
        used = face
        last = parts[-1][0] if parts else face
        clings = character == " " or unicodedata.combining(character)
        if clings and last != "music" and metrics.covers(character, last):
            used = last
        elif not metrics.covers(character, face):
            used = next((other for other in metrics.fallbacks(face) if metrics.covers(character, other)), face)
        if parts and parts[-1][0] == used:
            parts[-1] = (used, parts[-1][1] + character)
        else:
            parts.append((used, character))
    return parts


def _run(text: str, face: Face, size: float, rise: float, leftward: bool, metrics: Metrics) -> Run:
    if leftward or any(map(joins, text)):
        glyphs = metrics.shaped(text, face, leftward)
        if glyphs:
            return Run(text, face, size, rise, size * sum(glyph.advance for glyph in glyphs), glyphs)
    shown = turned_round(text) if leftward else text
    return Run(shown, face, size, rise, metrics.width(shown, face, size))


def width_of(parts: Iterable[Run]) -> float:
    """Return the width of runs set side by side."""
    width = 0.0
    for run in parts:  # called for every text of a part, and quicker than a sum over a generator
        width += run.width
    return width


def rise_of(parts: Iterable[Run], metrics: Metrics) -> float:
    """Return how far runs rise above their baseline, each in its own face: stacked accents rise high."""
    return max((run.rise + metrics.rise(run.text, run.face, run.size) for run in parts), default=0.0)


def place(parts: Iterable[Run], x: float, y: float, role: str, span: Span = NOWHERE, grey: float = 0.0) -> list[Text]:
    """Return the text items of runs set side by side from x on the baseline y."""
    items = []
    for run in parts:
        items.append(Text(x, y - run.rise, run.text, run.face, run.size, role, grey, span, run.glyphs))
        x += run.width
    return items


def printed_name(name: object) -> str:
    """Return a note's name with real accidentals.

    >>> printed_name("F#"), printed_name("Bb"), printed_name("C##")
    ('F♯', 'B♭', 'C𝄪')
    """
    text = str(name)
    return text[0] + text[1:].replace("##", "𝄪").replace("bb", "𝄫").translate(SIGNS)


def printed_shape(shape: str) -> str:
    """Return a shape's name with real accidentals.

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


def _longest_head(word: str, face: Face, size: float, width: float, metrics: Metrics, after: str = "") -> int:
    """Count the characters of a word that fit, at least one, with what stands after them; found by halving."""

    def is_too_wide(count: int) -> bool:
        head = word[:count].rstrip() if after else word[:count]
        return not _fits(head + after, face, size, width, metrics)

    return max(1, bisect_left(range(1, len(word)), True, key=is_too_wide))


ELLIPSIS = "…"


def elided(text: str, face: Face, size: float, width: float, metrics: Metrics) -> str:
    """Cut a text short, with an ellipsis, where it is wider than there is room."""
    if _fits(text, face, size, width, metrics):
        return text
    if not _fits(text[:1].rstrip() + ELLIPSIS, face, size, width, metrics):
        return ELLIPSIS
    return text[: _longest_head(text, face, size, width, metrics, ELLIPSIS)].rstrip() + ELLIPSIS


WHOLE_WORD = 0.6  # of what fits: a cut at a blank must leave as much, or a word is cut


def cut(text: str, face: Face, size: float, width: float, metrics: Metrics) -> str:
    """Cut a text short where it is wider than there is room: at a blank, if that leaves most of what fits."""
    short = elided(text, face, size, width, metrics)
    if short == text:
        return text
    head = short.removesuffix(ELLIPSIS)
    at = head.rfind(" ") if text[len(head) : len(head) + 1] != " " else len(head)
    if at >= WHOLE_WORD * len(head):
        head = head[:at]
    return head.rstrip(" ,;:.–-") + ELLIPSIS
