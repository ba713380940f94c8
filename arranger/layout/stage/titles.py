"""Texts in a stage copy beside the music: the line with a section's name and facts, cues, prompts.

Takes entries and a width; gives lines of text, each with its items placed from its own top left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from arranger.layout.content import MarginEntry, Prompt, StageSection
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Item, Line
from arranger.layout.style import BOX_PAD_X, BOX_PAD_Y, NAME, PIECE_GAP, QUIET_GREY, UNIT
from arranger.layout.text import Run, elided, place, runs, width_of, wrap
from arranger.text.source import NOWHERE, Span

_FACES: dict[str, Face] = {"cue": "bold", "change": "bold", "onward": "bold", "fact": "regular", "pickup": "regular"}
LINE_SPACE = 1.0  # between two lines of text, beside what their letters need
FRAME = 1.2  # the line of the box around a name: as heavy as the stems of bold letters


@dataclass(frozen=True, slots=True)
class TextLine:
    """A line of text: its items from its top left, and its height."""

    items: tuple[Item, ...]
    height: float


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
    flow.add(text, _FACES[entry.role], UNIT, entry.role, entry.span)


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
