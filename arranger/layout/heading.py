"""The head of the first page: title, key, tempo and meter, who plays and begins, the roadmap, the authors."""

from __future__ import annotations

from dataclasses import dataclass

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.facts import key_words, step_words, tempo_words
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Item, Line
from arranger.layout.text import place, runs, width_of, wrap
from arranger.source import NOWHERE, Span
from arranger.units import Rect

SEPARATOR = " · "
TITLE_GAP = 14.0  # between the title and the key on its right
RULE_GAP = 5.0


@dataclass(frozen=True, slots=True)
class Heading:
    """The placed head: its items, for each step of the roadmap the rectangles of its words, its height from the top."""

    items: tuple[Item, ...]
    steps: tuple[tuple[int, Rect], ...]  # (section index, where)
    bottom: float


def set_heading(arrangement: Arrangement, metrics: Metrics, x: float, y: float, width: float) -> Heading:
    """Place the head in a width, its top left at (x, y)."""
    items: list[Item] = []
    y = _title(arrangement, metrics, x, y, width, items)
    song = arrangement.song
    who = []
    if song.start is not None:
        who.append((f"start: {song.start.value}", song.start.span))
    if song.band:
        who.append((f"with {', '.join(song.band)}", NOWHERE))
    if who:
        text = SEPARATOR.join(part for part, _ in who)
        y = _paragraph(text, "regular", style.HEADER, who[0][1], metrics, x, y, width, items)
    y, steps = _roadmap(arrangement, metrics, x, y, width, items)
    credits = [("words", song.words_by), ("music", song.music_by), ("copyist", song.copyist)]
    named = SEPARATOR.join(f"{role}: {text.value}" for role, text in credits if text is not None)
    if named:
        y = _paragraph(named, "regular", style.SMALL, NOWHERE, metrics, x, y, width, items)
    y += RULE_GAP
    items.append(Line(x, y, x + width, y, style.BARLINE, "rule", style.LINE_GREY))
    return Heading(tuple(items), tuple(steps), y)


def _title(arrangement: Arrangement, metrics: Metrics, x: float, y: float, width: float, items: list[Item]) -> float:
    """Place the title and, on its right or under it, key, tempo and meter; give the y of the bottom."""
    song = arrangement.song
    facts = [key_words(arrangement.key)]
    if song.tempo is not None:
        facts.append(tempo_words(song.tempo))
    facts.append(str(arrangement.meter))
    if song.feel != "straight":
        facts.append(song.feel)
    if song.capo is not None:
        facts.append(f"guitar: capo {song.capo.fret}, shapes in {key_words(song.capo.shapes)}")
    right = runs(SEPARATOR.join(facts), "bold", style.HEADER, metrics)
    lines = wrap(song.title.value, "bold", style.TITLE, width, metrics)
    for line in lines:
        text = runs(line, "bold", style.TITLE, metrics)
        baseline = y + max(metrics.rise(line, "bold", style.TITLE), metrics.cap_height("bold", style.TITLE))
        items += place(text, x, baseline, "title", song.title.span)
        y = baseline + metrics.descent("bold", style.TITLE)
        end = x + width_of(text)
    if len(lines) == 1 and end + TITLE_GAP + width_of(right) <= x + width:
        items += place(right, x + width - width_of(right), baseline, "key")
        return y
    return _paragraph(SEPARATOR.join(facts), "bold", style.HEADER, NOWHERE, metrics, x, y, width, items, "key")


def _paragraph(
    text: str,
    face: Face,
    size: float,
    span: Span,
    metrics: Metrics,
    x: float,
    y: float,
    width: float,
    items: list[Item],
    role: str = "header",
) -> float:
    """Place a text in as many lines as it needs; give the y of the bottom."""
    for line in wrap(text, face, size, width, metrics):
        baseline = y + max(metrics.rise(line, face, size), size * style.HEADER_LEADING / style.HEADER * 0.78)
        items += place(runs(line, face, size, metrics), x, baseline, role, span)
        y = baseline + metrics.descent(face, size)
    return y


def _roadmap(
    arrangement: Arrangement, metrics: Metrics, x: float, y: float, width: float, items: list[Item]
) -> tuple[float, list[tuple[int, Rect]]]:
    """Place the playing order, each step whole on one line where it fits; give the bottom and where the steps are."""
    song = arrangement.song
    steps: list[tuple[int, Rect]] = []
    face: Face = "bold"
    below = metrics.descent(face, style.HEADER)
    at = x
    baseline = y + metrics.rise("dÉ", face, style.HEADER)
    for number, step in enumerate(song.roadmap):
        text = step_words(song, step) + ("," if number < len(song.roadmap) - 1 else "")
        for part, line in enumerate(wrap(text, face, style.HEADER, width, metrics)):
            set_text = runs(line, face, style.HEADER, metrics)
            if part or (at > x and at + width_of(set_text) > x + width):
                at = x
                baseline += style.HEADER_LEADING
            items += place(set_text, at, baseline, "roadmap", step.span)
            top = baseline - metrics.cap_height(face, style.HEADER)
            steps.append((step.section, Rect(at, top, width_of(set_text), baseline + below - top)))
            at += width_of(set_text) + metrics.width(" ", face, style.HEADER)
    return baseline + below, steps
