"""The margin column of a line: its facts broken into lines of text, and how high they are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from arranger.layout import style
from arranger.layout.content import MarginEntry
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Item, Line
from arranger.layout.text import place, runs, width_of, wrap
from arranger.text.source import Span

ENTRY_AT_MOST = 76.0  # points: six lines; what is longer reads better across the page
COLUMN_AT_MOST = 190.0  # points: two lines of music and the gap between them

CUES_APART = 3.0  # points between two cues: each is for somebody else
HAIRPIN, HAIRPIN_MOUTH, HAIRPIN_LINE, HAIRPIN_GAP = 20.0, 5.5, 0.8, 3.0  # length, mouth, line, gap at both ends

_FACES: dict[str, tuple[Face, float, float]] = {  # role: face, size, leading
    "section": ("bold", style.SECTION, style.SECTION * 1.15),
    "cue": ("bold", style.MARGIN, style.MARGIN_LEADING),
    "change": ("bold", style.MARGIN, style.MARGIN_LEADING),
    "fact": ("regular", style.MARGIN, style.MARGIN_LEADING),
    "pickup": ("regular", style.MARGIN, style.MARGIN_LEADING),
}


@dataclass(frozen=True, slots=True)
class MarginLine:
    """A line of text in the column; `y` is its baseline from the top of the line of music.

    `hairpin`: `opens` or `closes` after the text, with `after` behind it.
    """

    text: str
    face: Face
    size: float
    y: float
    role: str
    span: Span
    hairpin: str = ""
    after: str = ""


def margin_lines(entries: Iterable[MarginEntry], metrics: Metrics, width: float) -> tuple[MarginLine, ...]:
    """Break the entries to the column's width, one under the other."""
    lines: list[MarginLine] = []
    bottom = 0.0
    for entry in entries:
        face, size, leading = _FACES[entry.role]
        begun = False
        text = f"pickup: {entry.text}" if entry.role == "pickup" else entry.text
        if entry.role == "section":
            size = _name_size(text, width, metrics)
        for line in wrap(text, face, size, width, metrics) or ("",):
            # A line with stacked accents needs more than its leading.
            above = max(metrics.rise(line, face, size), metrics.rise("d", face, size))
            below = metrics.descent(face, size)
            apart = CUES_APART if entry.role == "cue" and lines and lines[-1].role == "cue" and not begun else 0.0
            y = bottom + apart + max(above, leading - below if lines else above)
            begun = True
            lines.append(MarginLine(line, face, size, y, entry.role, entry.span, entry.hairpin, entry.after))
            bottom = y + below
    return tuple(lines)


def _name_size(name: str, width: float, metrics: Metrics) -> float:
    """Return the size at which a section's name stands in one line, else at which none of its words is broken.

    A size down to that of the facts under it; a word that is too long for that is broken nevertheless.
    """
    face, largest, _ = _FACES["section"]
    sizes = [largest - step / 2 for step in range(int(2 * (largest - style.MARGIN)) + 1)]
    words = name.split()
    whole = (size for size in sizes if metrics.width(name, face, size) <= width)
    unbroken = (size for size in sizes if all(metrics.width(word, face, size) <= width for word in words))
    return next(whole, next(unbroken, sizes[-1]))


def divided(
    entries: Iterable[MarginEntry], metrics: Metrics, width: float
) -> tuple[tuple[MarginEntry, ...], tuple[MarginEntry, ...]]:
    """Divide entries into those for the column and those that are too long for it.

    Args:
        entries: of one line of music.
        metrics: of the fonts.
        width: of the whole page between its margins.

    Returns:
        The entries for the column, and the others broken to lines of the page's width, one entry a line: they stand
        across the page, before the music or after it.
    """
    column: list[MarginEntry] = []
    across: list[MarginEntry] = []
    height = 0.0
    for entry in entries:
        tall = margin_height(margin_lines((entry,), metrics, style.COLUMN), metrics)
        if tall <= ENTRY_AT_MOST and height + tall <= COLUMN_AT_MOST:
            column.append(entry)
            height += tall
            continue
        face, size, _ = _FACES[entry.role]
        text = f"pickup: {entry.text}" if entry.role == "pickup" else entry.text
        role = "fact" if entry.role == "pickup" else entry.role
        parts = wrap(text, face, size, width, metrics)
        across += [MarginEntry(part, role, entry.span) for part in parts]
    return tuple(column), tuple(across)


def margin_height(lines: tuple[MarginLine, ...], metrics: Metrics) -> float:
    """Return the height of the column's text."""
    return lines[-1].y + metrics.descent(lines[-1].face, lines[-1].size) if lines else 0.0


def set_margin(lines: Iterable[MarginLine], x: float, y: float, metrics: Metrics) -> list[Item]:
    """Place the column's text, its top left at (x, y)."""
    items: list[Item] = []
    for line in lines:
        text = runs(line.text, line.face, line.size, metrics)
        items += place(text, x, y + line.y, line.role, line.span)
        if line.hairpin:
            start = x + width_of(text) + (HAIRPIN_GAP if text else 0.0)
            middle = y + line.y - metrics.cap_height("regular", line.size) * 0.4
            items += _hairpin(start, middle, line)
            after = runs(line.after, line.face, line.size, metrics)
            items += place(after, start + HAIRPIN + HAIRPIN_GAP, y + line.y, line.role, line.span)
    return items


def _hairpin(x: float, middle: float, line: MarginLine) -> list[Item]:
    """Draw a hairpin, its left end at x."""
    point, mouth = (x, x + HAIRPIN) if line.hairpin == "opens" else (x + HAIRPIN, x)
    return [
        Line(point, middle, mouth, middle + side * HAIRPIN_MOUTH / 2, HAIRPIN_LINE, "hairpin", span=line.span)
        for side in (-1, 1)
    ]
