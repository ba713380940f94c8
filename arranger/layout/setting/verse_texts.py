"""Set verses as text after the song: their numbers, a line for each row, as many side by side as there is room for."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.layout import style
from arranger.layout.content.model import PlannedLine, VerseText
from arranger.layout.model import Item
from arranger.layout.style import Look
from arranger.layout.text import Metrics, place, rise_of, runs, width_of, wrap

LABEL = 22.0  # before the lines: a number of two figures
APART = 16.0  # between two verses side by side
MOST_BESIDE = 3
TALLEST = 0.5  # of a page: a verse that is higher is divided


def text_lines_of(
    texts: Sequence[VerseText], section: int, look: Look, metrics: Metrics, width: float, height: float
) -> list[PlannedLine]:
    """Return the lines of verses that stand as text: those that fit side by side together, none higher than a page."""
    whole = [part for text in texts for part in _parts(text, look, metrics, width, height)]
    lines: list[PlannedLine] = []
    while whole:
        count = next(n for n in range(MOST_BESIDE, 0, -1) if n == 1 or _fit(whole[:n], look, metrics, width, n))
        lines.append(PlannedLine(section, look=look, texts=tuple(whole[:count])))
        whole = whole[count:]
    return lines


def _parts(text: VerseText, look: Look, metrics: Metrics, width: float, height: float) -> list[VerseText]:
    """Break the rows of a verse to the page's width, and the verse where it is higher than half a page."""
    rows = [line for row in text.rows for line in wrap(row, "regular", look.words, width - LABEL, metrics)]
    leading = max(_leading(row, look, metrics) for row in rows) if rows else 1.0
    most = max(1, int(height * TALLEST / leading))
    return [
        VerseText("" if start else text.label, tuple(rows[start : start + most]), text.index, text.span)
        for start in range(0, len(rows), most)
    ]


def _fit(texts: Sequence[VerseText], look: Look, metrics: Metrics, width: float, count: int) -> bool:
    widest = (max(width_of(runs(row, "regular", look.words, metrics)) for row in text.rows) for text in texts)
    return len(texts) == count and sum(widest) + count * LABEL + (count - 1) * APART <= width


def _leading(row: str, look: Look, metrics: Metrics) -> float:
    rise = rise_of(runs(row, "regular", look.words, metrics), metrics)
    return max(style.WORDS_LEADING * look.words, rise + metrics.descent("regular", look.words))


def texts_height(texts: Sequence[VerseText], look: Look, metrics: Metrics) -> float:
    """Return the height of verses side by side."""
    return max(sum(_leading(row, look, metrics) for row in text.rows) for text in texts)


def set_texts(texts: Sequence[VerseText], look: Look, x: float, y: float, metrics: Metrics) -> list[Item]:
    """Place verses side by side, their top left at (x, y); each is read to its end before the next."""
    items: list[Item] = []
    below = metrics.descent("regular", look.words)
    for text in texts:
        bottom = y
        widest = 0.0
        for number, row in enumerate(text.rows):
            parts = runs(row, "regular", look.words, metrics)
            bottom += _leading(row, look, metrics)
            if number == 0:
                items += place(runs(text.label, "bold", look.words, metrics), x, bottom - below, "verse", text.span)
            items += place(parts, x + LABEL, bottom - below, "words", text.span)
            widest = max(widest, width_of(parts))
        x += LABEL + widest + APART
    return items
