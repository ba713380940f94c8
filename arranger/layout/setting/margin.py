"""Texts beside the music: the margin column of a part; the lines over and under the music of a stage copy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from arranger.layout import style
from arranger.layout.content.model import MarginEntry, Prompt, StageSection
from arranger.layout.model import Face, Item, Line, moved
from arranger.layout.style import BOX_PAD_X, BOX_PAD_Y, NAME, PIECE_GAP, QUIET_GREY, UNIT
from arranger.layout.text import Metrics, Run, elided, place, runs, width_of, wrap
from arranger.text.source import NOWHERE, Span

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


_LINE_FACES: dict[str, Face] = {
    "cue": "bold",
    "change": "bold",
    "onward": "bold",
    "fact": "regular",
    "pickup": "regular",
}
LINE_SPACE = 1.0  # between two lines of text, beside what their letters need
FRAME = 1.2  # the line of the box around a name: as heavy as the stems of bold letters


@dataclass(frozen=True, slots=True)
class TextLine:
    """A line of text: its items from its top left, and its height."""

    items: tuple[Item, ...]
    height: float

    def placed(self, x: float, y: float) -> list[Item]:
        """Return its items with its top left at (x, y)."""
        return [moved(item, x, y) for item in self.items]


@dataclass(slots=True)
class _Flow:
    """Pieces side by side, broken to a width; pieces are collected for a line until it is full."""

    width: float
    metrics: Metrics
    lines: list[TextLine] = field(default_factory=list)
    x: float = 0.0
    pieces: list[tuple[tuple[Run, ...], float, str, Span, bool]] = field(default_factory=list)

    def add(self, text: str, face: Face, size: float, role: str, span: Span, boxed: bool = False) -> None:
        """Add a piece after the others of its line, or on a line of its own where it does not fit."""
        pad = 2 * BOX_PAD_X if boxed else 0.0
        for line in wrap(text, face, size, self.width - pad, self.metrics):
            set_text = runs(line, face, size, self.metrics)
            if self.pieces and self.x + PIECE_GAP + width_of(set_text) + pad > self.width:
                self.end_line()
            self.x += PIECE_GAP if self.pieces else 0.0
            self.pieces.append((set_text, self.x, role, span, boxed))
            self.x += width_of(set_text) + pad

    def add_right(self, text: str, face: Face, role: str, span: Span) -> None:
        """Add a piece at the right end of the line."""
        self.add(text, face, UNIT, role, span)
        if self.pieces:
            set_text, x, _, _, boxed = self.pieces[-1]
            self.pieces[-1] = (set_text, max(x, self.width - width_of(set_text)), role, span, boxed)

    def end_line(self) -> None:
        """Place the pieces of the line."""
        if not self.pieces:
            return
        every = [(run, boxed) for set_text, _, _, _, boxed in self.pieces for run in set_text]
        above = max(self.metrics.rise(r.text, r.face, r.size) + (BOX_PAD_Y if boxed else 0.0) for r, boxed in every)
        below = max(
            self.metrics.descent(run.face, run.size) + (BOX_PAD_Y - 1.0 if boxed else 0.0) for run, boxed in every
        )
        items: list[Item] = []
        for set_text, x, role, span, boxed in self.pieces:
            if boxed:
                rise = max(self.metrics.rise(run.text, run.face, run.size) for run in set_text)
                foot = self.metrics.descent("bold", NAME) + BOX_PAD_Y - 1.0
                box_width = width_of(set_text) + 2 * BOX_PAD_X
                items += _frame(x, above - rise - BOX_PAD_Y, box_width, rise + BOX_PAD_Y + foot, span)
                items += place(set_text, x + BOX_PAD_X, above, role, span)
            else:
                items += place(set_text, x, above, role, span, QUIET_GREY if role == "pickup" else 0.0)
        self.lines.append(TextLine(tuple(items), above + below + LINE_SPACE))
        self.pieces, self.x = [], 0.0


def _frame(x: float, y: float, width: float, height: float, span: Span) -> list[Line]:
    """Return the four sides of a box whose outer top left is (x, y); upright lines fill the corners."""
    half, right, bottom = FRAME / 2, x + width, y + height
    sides = [(x, y + half, right, y + half), (x, bottom - half, right, bottom - half)]
    sides += [(x + half, y, x + half, bottom), (right - half, y, right - half, bottom)]
    return [Line(*side, FRAME, "box", span=span) for side in sides]


def heading(section: StageSection, width: float, metrics: Metrics) -> tuple[TextLine, ...]:
    """Return the lines over a section: its name in a box, cues, facts, and where the roadmap leads."""
    flow = _Flow(width, metrics)
    flow.add(section.name, "bold", NAME, "section", section.span, boxed=True)
    for entry in section.entries:
        _add(flow, entry)
    if len(section.onward) == 1:
        flow.add_right(section.onward[0], "bold", "onward", section.span)
    elif section.onward:
        flow.end_line()
        for text in section.onward:
            flow.add(text, "bold", UNIT, "onward", section.span)
    flow.end_line()
    return tuple(flow.lines)


def cue_lines(entries: Sequence[MarginEntry], width: float, metrics: Metrics) -> tuple[TextLine, ...]:
    """Return the lines of cues between two lines of music."""
    flow = _Flow(width, metrics)
    for entry in entries:
        _add(flow, entry)
    flow.end_line()
    return tuple(flow.lines)


def _add(flow: _Flow, entry: MarginEntry) -> None:
    text = f"pickup: {entry.text}" if entry.role == "pickup" else entry.text
    flow.add(text, _LINE_FACES[entry.role], UNIT, entry.role, entry.span)


def going_on(section: StageSection, width: float, metrics: Metrics) -> TextLine:
    """Name a section again where it goes on at the top of a page."""
    name = elided(f"({section.name})", "bold", NAME, width, metrics)
    flow = _Flow(width, metrics)
    flow.add(name, "bold", NAME, "section again", section.span)
    flow.end_line()
    return flow.lines[0] if flow.lines else TextLine((), 0.0)


def prompt_lines(prompts: Sequence[Prompt], width: float, metrics: Metrics) -> tuple[TextLine, ...]:
    """Return the lines of prompts: those of several verses are numbered."""
    flow = _Flow(width, metrics)
    for number, prompt in enumerate(prompts, 1):
        text = f"{number}. {prompt.text}" if len(prompts) > 1 else prompt.text
        flow.add(elided(text, "regular", UNIT, width, metrics), "regular", UNIT, "prompt", prompt.span or NOWHERE)
    flow.end_line()
    return tuple(flow.lines)
