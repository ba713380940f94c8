"""Set the texts beside the music of a part, and those over and under the music of a stage copy."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.how_played import SUGGESTED
from arranger.layout.content.model import MarginEntry, SectionContent
from arranger.layout.model import Face, Item, Line, moved
from arranger.layout.setting.rhythm_bar import HEIGHT as RHYTHM
from arranger.layout.setting.rhythm_bar import beside_each_other, set_rhythm
from arranger.layout.style import BOX_PAD_X, BOX_PAD_Y, NAME, PIECE_GAP, QUIET_GREY, UNIT
from arranger.layout.text import Metrics, Run, elided, place, rise_of, runs, width_of, wrap
from arranger.text.source import Span

ENTRY_AT_MOST = 76.0  # points: six lines; what is longer reads better across the page
COLUMN_AT_MOST = 190.0  # points: two lines of music and the gap between them

CUES_APART = 3.0  # points between two cues: each is for somebody else
HAIRPIN, HAIRPIN_MOUTH, HAIRPIN_LINE, HAIRPIN_GAP = 20.0, 5.5, 0.8, 3.0  # length, mouth, line, gap at both ends

_BOLD = ("section", "section again", "cue", "change", "onward")  # roles; what is looked for or asks for something


def _face(role: str) -> Face:
    return "bold" if role in _BOLD else "regular"


class MarginLine(NamedTuple):
    """A line of text in the column, of an entry; `y` is its baseline from the top of the line of music."""

    text: str
    size: float
    y: float
    entry: MarginEntry


def margin_lines(
    entries: Iterable[MarginEntry], metrics: Metrics, width: float, bottom: float = 0.0
) -> tuple[MarginLine, ...]:
    """Break the entries to the column's width, one under the other, from `bottom` on."""
    said = tuple(entries)
    return _margin_lines(said, tuple([entry.span for entry in said]), metrics, width, bottom) if said else ()


@lru_cache(maxsize=512)  # of a part: looks ask for the same; equal entries in other places of the song are others
def _margin_lines(
    entries: tuple[MarginEntry, ...], _places: tuple[Span, ...], metrics: Metrics, width: float, bottom: float
) -> tuple[MarginLine, ...]:
    lines: list[MarginLine] = []
    for entry in entries:
        face, size, leading = _face(entry.role), style.MARGIN, style.MARGIN_LEADING
        for bars in beside_each_other(entry.rhythm, min(width, style.COLUMN)):
            bottom += RHYTHM
            drawn = replace(entry, rhythm=bars)
            lines.append(MarginLine("", size, bottom - metrics.descent(face, size), drawn))
        if entry.rhythm:
            continue
        if entry.role == "section":
            size, leading = _name_size(entry.text, width, metrics), style.SECTION * 1.15
        apart = CUES_APART if entry.role == "cue" and lines and lines[-1].entry.role == "cue" else 0.0
        for text in wrap(entry.words, face, size, width, metrics) or ("",):
            # A line with stacked accents needs more than its leading.
            above = max(metrics.rise(text, face, size), metrics.rise("d", face, size))
            below = metrics.descent(face, size)
            y = bottom + apart + max(above, leading - below if lines else above)
            lines.append(MarginLine(text, size, y, entry))
            bottom, apart = y + below, 0.0
    return tuple(lines)


def _name_size(name: str, width: float, metrics: Metrics) -> float:
    """Return the size at which a section's name stands in one line, else at which none of its words is broken.

    A size down to that of the facts under it; a word that is too long for that is broken nevertheless.
    """
    sizes = [style.SECTION - step / 2 for step in range(int(2 * (style.SECTION - style.MARGIN)) + 1)]
    whole = (size for size in sizes if metrics.width(name, "bold", size) <= width)
    unbroken = (size for size in sizes if all(metrics.width(word, "bold", size) <= width for word in name.split()))
    return next(whole, next(unbroken, sizes[-1]))


def divided(
    entries: Iterable[MarginEntry], metrics: Metrics, width: float
) -> tuple[tuple[MarginEntry, ...], tuple[MarginEntry, ...]]:
    """Divide the entries of one line of music into those for the column and those that are too long for it.

    The long ones are broken to lines of the `width` between the page's margins, one entry a line: they stand across
    the page, before the music or after it.
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
        if entry.rhythm:  # its words stand before it
            continue
        size = style.SECTION if entry.role == "section" else style.MARGIN
        role = "fact" if entry.role == "pickup" else entry.role
        parts = wrap(entry.words, _face(role), size, width, metrics)
        across += [MarginEntry(part, role, entry.span) for part in parts]
    return tuple(column), tuple(across)


OVER_AT_MOST = 3  # lines over the music of what is said of it; an entry that alone needs more stands across the page


def beside_and_across(
    entries: Iterable[MarginEntry], metrics: Metrics, width: float, *, over: bool, closing: bool = False
) -> tuple[tuple[MarginEntry, ...], tuple[MarginEntry, ...]]:
    """Divide entries as `divided` does; where what is said stands over the music, by what is too long for that.

    What is said of a section's end (`closing`) stands across the page then.
    """
    if not over:
        return divided(entries, metrics, width)
    kept: list[MarginEntry] = []
    across: list[MarginEntry] = []
    for entry in entries:
        if entry.rhythm:  # over the music its words stand alone
            continue
        if not closing and len(over_lines((*kept, entry), width, metrics)) <= OVER_AT_MOST:
            kept.append(entry)
            continue
        size = style.SECTION if entry.role == "section" else style.MARGIN
        role = "fact" if entry.role == "pickup" else entry.role
        across += [MarginEntry(part, role, entry.span) for part in wrap(entry.words, _face(role), size, width, metrics)]
    return tuple(kept), tuple(across)


def margin_height(lines: tuple[MarginLine, ...], metrics: Metrics) -> float:
    """Return the height of the column's text."""
    return lines[-1].y + metrics.descent(_face(lines[-1].entry.role), lines[-1].size) if lines else 0.0


def set_margin(lines: Iterable[MarginLine], x: float, y: float, metrics: Metrics) -> list[Item]:
    """Place the column's text, its top left at (x, y)."""
    items: list[Item] = []
    for line in lines:
        entry, face = line.entry, _face(line.entry.role)
        if entry.rhythm:
            top = y + line.y + metrics.descent(face, line.size) - RHYTHM
            items += set_rhythm(entry.rhythm, x, top, style.COLUMN, entry.span)
            continue
        text = runs(line.text, face, line.size, metrics)
        items += place(text, x, y + line.y, entry.role, entry.span, QUIET_GREY if entry.role == SUGGESTED else 0.0)
        if entry.hairpin:
            items += _hairpin(entry, x + width_of(text) + (HAIRPIN_GAP if text else 0.0), y + line.y, metrics)
    return items


def _hairpin(entry: MarginEntry, start: float, baseline: float, metrics: Metrics) -> list[Item]:
    """Draw the hairpin of a dynamic that changes, from a place on, with what is behind it."""
    middle = baseline - metrics.cap_height("regular", style.MARGIN) * 0.4
    point, mouth = (start, start + HAIRPIN) if entry.hairpin == "opens" else (start + HAIRPIN, start)
    items: list[Item] = []
    for end in (middle + side * HAIRPIN_MOUTH / 2 for side in (-1, 1)):
        items.append(Line(point, middle, mouth, end, HAIRPIN_LINE, "hairpin", span=entry.span))
    after = runs(entry.after, _face(entry.role), style.MARGIN, metrics)
    return [*items, *place(after, start + HAIRPIN + HAIRPIN_GAP, baseline, entry.role, entry.span)]


LINE_SPACE = 1.0  # between two lines of text, beside what their letters need
FRAME = 1.2  # the line of the box around a name: as heavy as the stems of bold letters


class TextLine(NamedTuple):
    """A line of text: its items from its top left, its height and its width."""

    items: tuple[Item, ...]
    height: float
    width: float = 0.0

    def placed(self, x: float, y: float) -> list[Item]:
        """Return its items with its top left at (x, y)."""
        return [moved(item, x, y) for item in self.items]


class _Piece(NamedTuple):
    text: tuple[Run, ...]
    x: float
    entry: MarginEntry
    boxed: bool

    @property
    def pad(self) -> float:
        """The room over the text: a section's name stands in a box on a stage copy."""
        return BOX_PAD_Y if self.boxed else 0.0


@dataclass(slots=True)
class _Filling:
    """Texts side by side, broken to a width; they are collected for a line until it is full.

    `part`: in the sizes of a part, where a name has no box.
    """

    width: float
    metrics: Metrics
    part: bool = False
    lines: list[TextLine] = field(default_factory=list)
    x: float = 0.0
    pieces: list[_Piece] = field(default_factory=list)

    def add_pickups(self, pickups: Sequence[MarginEntry]) -> None:
        """Add the words sung before the music in one line, the last, where they fit it: named once."""
        texts = [entry.words if number == 0 else f"{entry.label} {entry.text}" for number, entry in enumerate(pickups)]
        wide = sum(PIECE_GAP + width_of(runs(text, "regular", style.MARGIN, self.metrics)) for text in texts)
        if self.x + wide > self.width:
            self.end_line()
        for entry, text in zip(pickups, texts, strict=True):
            self.add(entry, text)

    def add(self, entry: MarginEntry, words: str = "") -> None:
        """Add a text, or other words for it, after the others of its line, or on its own where it does not fit."""
        boxed = entry.role == "section" and not self.part
        pad = 2 * BOX_PAD_X if boxed else 0.0
        face, size = _face(entry.role), NAME if entry.role in ("section", "section again") else UNIT
        if self.part:
            size = style.SECTION if entry.role == "section" else style.MARGIN
        if entry.hairpin:
            after = width_of(runs(entry.after, face, size, self.metrics)) + (HAIRPIN_GAP if entry.after else 0.0)
            pad += HAIRPIN + after + (HAIRPIN_GAP if entry.text else 0.0)
        whole = words or entry.words
        if entry.role in ("section again", "prompt"):
            whole = elided(whole, face, size, self.width, self.metrics)
        for line in wrap(whole, face, size, self.width - pad, self.metrics) or ("",):
            text = runs(line, face, size, self.metrics)
            if self.pieces and self.x + PIECE_GAP + width_of(text) + pad > self.width:
                self.end_line()
            self.x += PIECE_GAP if self.pieces else 0.0
            self.pieces.append(_Piece(text, self.x, entry, boxed))
            self.x += width_of(text) + pad

    def end_line(self) -> None:
        """Place the pieces of the line."""
        if not self.pieces:
            return
        metrics, items = self.metrics, []
        above = max(rise_of(piece.text, metrics) + piece.pad for piece in self.pieces)
        least = metrics.descent("regular", style.MARGIN) if self.part else 0.0
        below = max(
            least,
            *(
                metrics.descent(run.face, run.size) + (piece.pad - 1.0 if piece.pad else 0.0)
                for piece in self.pieces
                for run in piece.text
            ),
        )
        if self.part:
            above = max(above, metrics.rise("dl", "bold", style.MARGIN))
        for text, x, entry, boxed in self.pieces:
            if entry.hairpin:
                items += _hairpin(entry, x + width_of(text) + (HAIRPIN_GAP if text else 0.0), above, metrics)
            if boxed:
                foot = metrics.descent("bold", NAME) + BOX_PAD_Y - 1.0
                rise = rise_of(text, metrics)
                box = (width_of(text) + 2 * BOX_PAD_X, rise + BOX_PAD_Y + foot)
                items += _frame(x, above - rise - BOX_PAD_Y, *box, entry.span)
                x += BOX_PAD_X
            quiet = entry.role == SUGGESTED or (entry.role == "pickup" and not self.part)
            items += place(text, x, above, entry.role, entry.span, QUIET_GREY if quiet else 0.0)
        self.lines.append(TextLine(tuple(items), above + below + LINE_SPACE, self.x))
        self.pieces, self.x = [], 0.0


def _frame(x: float, y: float, width: float, height: float, span: Span) -> list[Item]:
    """Return the four sides of a box whose outer top left is (x, y); upright lines fill the corners."""
    half, right, bottom = FRAME / 2, x + width, y + height
    sides = [(x, y + half, right, y + half), (x, bottom - half, right, bottom - half)]
    sides += [(x + half, y, x + half, bottom), (right - half, y, right - half, bottom)]
    return [Line(*side, FRAME, "box", span=span) for side in sides]


def text_lines(entries: Iterable[MarginEntry], width: float, metrics: Metrics) -> tuple[TextLine, ...]:
    """Return the lines of texts over or under the music; a prompt, and a name that is said again, are cut short."""
    filling = _Filling(width, metrics)
    for entry in entries:
        filling.add(entry)
    filling.end_line()
    return tuple(filling.lines)


def over_lines(entries: Iterable[MarginEntry], width: float, metrics: Metrics) -> tuple[TextLine, ...]:
    """Return the lines over the first row of a part's section: its name, what is said of it, where it leads."""
    said = tuple(entries)
    return _over_lines(said, tuple([entry.span for entry in said]), width, metrics) if said else ()


@lru_cache(maxsize=512)  # as lines of the margin
def _over_lines(
    entries: tuple[MarginEntry, ...], _places: tuple[Span, ...], width: float, metrics: Metrics
) -> tuple[TextLine, ...]:
    filling = _Filling(width, metrics, part=True)
    pickups: list[MarginEntry] = []
    for entry in entries:
        if entry.role == "pickup":
            pickups.append(entry)
        else:
            filling.add(entry)
    filling.add_pickups(pickups)
    filling.end_line()
    return tuple(filling.lines)


def heading(section: SectionContent, width: float, metrics: Metrics) -> tuple[TextLine, ...]:
    """Return the lines over a section: its name in a box, cues, facts, and at the right where the roadmap leads."""
    entries = (MarginEntry(section.name, "section", section.span), *section.rows[0].margin)
    onward = [MarginEntry(text, "onward", section.span) for text in section.onward]
    if len(onward) != 1:
        return text_lines(entries, width, metrics) + text_lines(onward, width, metrics)
    filling = _Filling(width, metrics)
    for entry in (*entries, *onward):
        filling.add(entry)
    if filling.pieces:
        last = filling.pieces[-1]
        filling.pieces[-1] = last._replace(x=max(last.x, width - width_of(last.text)))
    filling.end_line()
    return tuple(filling.lines)


def prompt_lines(prompts: Sequence[MarginEntry], width: float, metrics: Metrics) -> tuple[TextLine, ...]:
    """Return the lines of prompts: those of several verses are numbered."""
    if len(prompts) > 1:
        prompts = [replace(prompt, text=f"{number}. {prompt.text}") for number, prompt in enumerate(prompts, 1)]
    return text_lines(prompts, width, metrics)
