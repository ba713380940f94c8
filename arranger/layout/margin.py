"""The margin column of a line: its facts broken into lines of text, and how high they are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from arranger.layout import style
from arranger.layout.content import MarginEntry
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Text
from arranger.layout.text import place, runs, wrap
from arranger.source import Span

_FACES: dict[str, tuple[Face, float, float]] = {  # role: face, size, leading
    "section": ("bold", style.SECTION, style.SECTION * 1.15),
    "cue": ("bold", style.MARGIN, style.MARGIN_LEADING),
    "fact": ("regular", style.MARGIN, style.MARGIN_LEADING),
    "pickup": ("regular", style.MARGIN, style.MARGIN_LEADING),
}


@dataclass(frozen=True, slots=True)
class MarginLine:
    """A line of text in the column; `y` is its baseline from the top of the line of music."""

    text: str
    face: Face
    size: float
    y: float
    role: str
    span: Span


def margin_lines(entries: Iterable[MarginEntry], metrics: Metrics, width: float) -> tuple[MarginLine, ...]:
    """Break the entries to the column's width, one under the other."""
    lines: list[MarginLine] = []
    bottom = 0.0
    for entry in entries:
        face, size, leading = _FACES[entry.role]
        text = f"pickup: {entry.text}" if entry.role == "pickup" else entry.text
        for line in wrap(text, face, size, width, metrics):
            # A line with stacked accents needs more than its leading.
            above = max(metrics.rise(line, face, size), metrics.rise("d", face, size))
            below = metrics.descent(face, size)
            y = bottom + max(above, leading - below if lines else above)
            lines.append(MarginLine(line, face, size, y, entry.role, entry.span))
            bottom = y + below
    return tuple(lines)


def margin_height(lines: tuple[MarginLine, ...], metrics: Metrics) -> float:
    """Give the height of the column's text."""
    return lines[-1].y + metrics.descent(lines[-1].face, lines[-1].size) if lines else 0.0


def set_margin(lines: Iterable[MarginLine], x: float, y: float, metrics: Metrics) -> list[Text]:
    """Place the column's text, its top left at (x, y)."""
    items: list[Text] = []
    for line in lines:
        items += place(runs(line.text, line.face, line.size, metrics), x, y + line.y, line.role, line.span)
    return items
