"""Draw a line of music with its margin, hands, chords and words, in reading order.

A line of music is a stack of rows, from the top: endings, octave row, finger numbers, ties, keyboards, notes (the left
hand and the shape), chords, words. Rows that a line does not need take no room.
"""

from collections.abc import Mapping
from dataclasses import replace
from itertools import accumulate, pairwise
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.model import Column, Picture, PlacedColumn, PlannedLine, Rows
from arranger.layout.content.pictures import key_centre, white_count
from arranger.layout.content.symbols import PUSH_WIDTH
from arranger.layout.model import Box, Item, Keyboard, Line, Shape, Text, grown
from arranger.layout.setting.barlines import (
    Spot,
    fills_left,
    set_barlines,
    set_beats,
    set_endings,
    set_fills,
    set_hooks,
    set_meter,
)
from arranger.layout.setting.hand_places import hand_left, note_left
from arranger.layout.setting.line_rows import LEAD_ROW, TACET_ROW, rows_of
from arranger.layout.setting.margin import MarginLine, TextLine, margin_height, margin_lines, over_lines, set_margin
from arranger.layout.setting.spacing import HYPHEN_GAP, ROW_OF_FINGERS
from arranger.layout.setting.staves import ON_STAVES, amid, set_brace, set_sign, set_staves, signs_of
from arranger.layout.setting.staves_voices import set_voices
from arranger.layout.setting.verse_texts import set_texts, texts_height
from arranger.layout.style import Look
from arranger.layout.text import Metrics, Run, place, runs, width_of
from arranger.text.source import NOWHERE, Span
from arranger.units import Point

NO_PICKUPS: Mapping[int, float] = {}
AS_BAR = "as bar"  # before the number of the bar whose hands a line has
AS_BAR_GAP = 1.5  # between this and the chords
OVER_GAP = 1.0  # between what is said of a section and its music
BEFORE_FILLS = 14.0  # between what is said of a section and fills in the same row
ACROSS_GAP = 2.0  # between two lines of text across the page
HYPHEN_LINE = 0.08  # of the size: as thick as the face's hyphen
FINGER_GAP = 2.6  # at least this between two finger numbers, or they read as one


class SetLine(NamedTuple):
    """A line ready to be placed.

    Attributes:
        line: the line.
        rows: the y of its rows, from where its music begins.
        margin: what stands beside it.
        pickups: the words before its first bar, from the left edge of its margin.
        height: with the room for a pencil.
        over: what stands over it.
        down: how far its music begins under its top.
    """

    line: PlannedLine
    rows: Rows
    margin: tuple[MarginLine, ...]
    pickups: tuple[tuple[int, Text], ...]
    height: float
    over: tuple[TextLine, ...] = ()
    down: float = 0.0


def music_left(look: Look) -> float:
    """Return how far right of the margin's left edge the music begins."""
    return style.GUTTER if look.over else style.COLUMN + style.GUTTER


def prepare(line: PlannedLine, metrics: Metrics, width: float, rows: Rows | None = None) -> SetLine:
    """Settle the rows (unless they are known), what is said and the height of a line; `width` is the page's."""
    rows = rows or rows_in(line, metrics)
    if line.across is not None:
        text = margin_lines((line.across,), metrics, float("inf"))
        return SetLine(line, rows, text, (), margin_height(text, metrics) + ACROSS_GAP)
    if line.texts:
        return SetLine(line, rows, (), (), texts_height(line.texts, line.look, metrics) + line.look.pencil)
    if line.look.over:
        over = over_lines((*line.margin, *line.closing), width, metrics)
        down = sum(text.height for text in over) + (OVER_GAP if over else 0.0)
        if len(over) == 1 and _stands_before_fills(over[0], line, rows):
            down = 0.0
        return SetLine(line, rows, (), (), down + rows.bottom + line.look.pencil, over, down)
    pickups = _pickups(line, rows, metrics)
    facts = [entry for entry in line.margin if entry.role != "pickup"]
    margin = margin_lines((*facts, *line.closing), metrics, style.COLUMN)
    if pickups and not _clears(pickups, margin, metrics):  # a bar of rhythm goes under the words
        texts = margin_lines((*(e for e in facts if not e.rhythm), *line.closing), metrics, style.COLUMN)
        under = max(text.y + metrics.descent(text.face, text.size) for _, text in pickups)
        bars = margin_lines((e for e in facts if e.rhythm), metrics, style.COLUMN, under)
        if _clears(pickups, texts, metrics):
            margin = (*texts, *bars)
        else:
            pickups = ()
    if not pickups:
        # Between two lines of the margin they would be read as one of them; so they are.
        margin = margin_lines((*line.margin, *line.closing), metrics, style.COLUMN)
    height = max(rows.bottom, margin_height(margin, metrics)) + line.look.pencil
    if margin and margin[-1].entry.rhythm and pickups:  # it may reach into the pencil's room
        height = max(rows.bottom + line.look.pencil, margin_height(margin, metrics) + style.SECTION_GAP_CLOSE)
    return SetLine(line, rows, margin, pickups, height)


def _stands_before_fills(text: TextLine, line: PlannedLine, rows: Rows) -> bool:
    """Return whether a text over a line has its place in the row of fills, left of all of them."""
    if not rows.octave or rows.endings or rows.hook or text.height > rows.rule + LEAD_ROW:
        return False
    fills = min(fills_left(bar, line.look.gaps) for bar in line.bars)
    return text.width + BEFORE_FILLS <= music_left(line.look) + fills


def _clears(pickups: tuple[tuple[int, Text], ...], margin: tuple[MarginLine, ...], metrics: Metrics) -> bool:
    """Return whether the text of the margin ends over the words before the first bar."""
    tops = [text.y - metrics.rise(text.text, text.face, text.size) for _, text in pickups]
    return margin_height(margin, metrics) <= min(tops)


def rows_in(line: PlannedLine, metrics: Metrics) -> Rows:
    """Return the y of the rows of a line, from where its music begins."""
    pictures = [[placed.picture for placed in bar.columns] for bar in line.bars]
    verses = range(*(line.verse_range or (0, line.verses)))
    sign = metrics.rise(AS_BAR, "regular", style.SMALL) + AS_BAR_GAP if line.as_bar is not None else 0.0
    rows = rows_of([bar.content for bar in line.bars], pictures, verses, line.look, metrics, sign)
    return rows._replace(bottom=max(rows.bottom, TACET_ROW)) if line.tacet_bars is not None else rows


def _pickups(line: PlannedLine, rows: Rows, metrics: Metrics) -> tuple[tuple[int, Text], ...]:
    """Set the words before the first bar right before its barline, each at the height of its verse, if there is room.

    Each comes with its verse.
    """
    baselines = dict(rows.words)
    found = []
    right = style.COLUMN + style.GUTTER - style.WORD_GAP
    for entry in line.margin:
        if entry.role != "pickup":
            continue
        parts = runs(entry.text, "regular", line.look.words, metrics)
        room = right - (style.GUTTER if line.verses > 1 else 0.0)
        if len(parts) != 1 or parts[0].width > room or entry.verse not in baselines:
            return ()
        face, size, y = parts[0].face, parts[0].size, baselines[entry.verse]
        text = Text(right - parts[0].width, y, parts[0].text, face, size, "pickup", 0.0, entry.span, parts[0].glyphs)
        found.append((entry.verse, text))
    return tuple(found)


def set_line(ready: SetLine, x: float, y: float, metrics: Metrics) -> list[Item]:
    """Place a line: the left edge of its margin at x, its top at y."""
    line = ready.line
    items: list[Item] = [*set_margin(ready.margin, x, y, metrics)]
    if line.across is not None:
        return items
    if line.texts:
        return set_texts(line.texts, line.look, x, y, metrics)
    above = y
    for text in ready.over:
        items += text.placed(x, above)
        above += text.height
    y = y + ready.down
    at = Spot(line, ready.rows, x + music_left(line.look), y, metrics)
    pickups = {verse: replace(text, x=x + text.x, y=y + text.y) for verse, text in ready.pickups}
    lefts = {verse: text.x - style.WORD_GAP for verse, text in pickups.items()}
    items += set_gutter(at, at.x - style.WORD_GAP, pickups=lefts)
    items += pickups.values()
    if line.tacet_bars is not None:
        items += set_tacet(line.tacet_bars, at.x, y, metrics)
    if line.as_bar is not None:
        sign = runs(f"{AS_BAR} {line.as_bar}", "regular", style.SMALL, metrics)
        left = at.x + line.bars[0].columns[0].x
        items += place(sign, left, y + ready.rows.note, "as bar", line.bars[0].content.span, style.QUIET_GREY)
    return items + set_bars(at)


def set_bars(at: Spot) -> list[Item]:
    """Place the music of a line."""
    line, rows, x, y, metrics = at
    items: list[Item] = []
    said: list[Text] = []  # rests that the song says: read in their place among the chords
    if line.look.hands == "staff" and line.bars:
        ends, span = (x + line.bars[0].left, x + line.bars[-1].right), line.bars[0].content.span
        size = line.look.staff
        lowest = (y + rows.treble) / size, (y + rows.bass) / size
        items += grown(set_staves(ends[0] / size, ends[1] / size, *lowest, line.key, span), size)
        items += grown(set_brace(ends[0] / size, *lowest, span), size)
        for item in set_voices(line, x, y + rows.treble, y + rows.bass, metrics):
            if isinstance(item, Text) and item.role == "rest":
                said.append(item)
            else:
                items.append(item)
    items += set_barlines(at)
    for bar in line.bars:
        for set_part in (set_endings, set_hooks, set_fills, set_meter, set_beats):
            items += set_part(at, bar)
        signs = signs_of(bar.content, metrics) if rows.treble else (None,) * len(bar.columns)
        for placed, sign in zip(bar.columns, signs, strict=True):
            if sign is not None:
                size = line.look.staff
                left = x + amid(placed.x, bar.right, sign.width * size, line.look)
                items += grown(set_sign(sign, left / size, (y + rows.treble) / size, (y + rows.bass) / size), size)
            symbol = placed.column.symbol
            if said and symbol is not None and symbol.role == "rest" and said[0].x < x + bar.right:
                items.append(said.pop(0))
            if rows.treble and symbol is not None and symbol.role in ON_STAVES:  # it stands there, not in the chord row
                placed = placed._replace(column=placed.column._replace(symbol=None))
            items += _column(at, placed)
    return [*items, *said, *_words(at)]


def set_gutter(
    at: Spot, right: float, *, numbered: bool = True, pickups: Mapping[int, float] = NO_PICKUPS
) -> list[Item]:
    """Place the number of the line's first bar, if bars have numbers, and those of the verses, up to `right`.

    `pickups` are where the numbers of verses end whose words begin before the bar.
    """
    line, rows, _, y, metrics = at
    items: list[Item] = []
    first = line.bars[0].content if line.bars else None
    # A short bar before the first has no number, as in print.
    if numbered and first is not None and first.whole_start and first.number:
        number = runs(str(first.number), "regular", line.look.sizes.number, metrics)
        items += place(number, right - width_of(number), y + rows.chord, "bar number", first.span, style.QUIET_GREY)
    for verse, baseline in rows.words if line.verses > 1 else ():
        label = line.labels[verse] if line.labels else f"{verse + 1}."
        number = runs(label, "regular", line.look.sizes.manner, metrics)
        items += place(number, pickups.get(verse, right) - width_of(number), y + baseline, "verse")
    return items


def set_tacet(bars: int, x: float, y: float, metrics: Metrics) -> list[Item]:
    """Place a rest of many bars as in print: a thick line between two strokes, with the number of bars over it."""
    width, middle = 90.0, y + 21.0
    items: list[Item] = [
        Box(x, middle - 2.0, width, 4.0, "rest"),
        Line(x, middle - 6.0, x, middle + 6.0, style.BARLINE, "rest"),
        Line(x + width, middle - 6.0, x + width, middle + 6.0, style.BARLINE, "rest"),
    ]
    number = runs(str(bars), "bold", style.WORDS, metrics)
    items += place(number, x + (width - width_of(number)) / 2, middle - 8.0, "rest")
    items += place(runs("tacet", "regular", style.WORDS, metrics), x + width + 8.0, middle + 4.0, "rest")
    return items


def _column(at: Spot, placed: PlacedColumn) -> list[Item]:
    """Place what begins at one time but the words, from the top: the picture with its notes, the symbol."""
    symbol: list[Item] = []
    x, size, found = at.x + placed.x, at.line.look.sizes.chord, placed.column.symbol
    picture = _picture(at, placed.column, placed.picture, x) if placed.picture is not None else []
    if found is not None:
        y = at.y + at.rows.chord
        left = x
        if found.push:
            symbol.append(push_mark(x, y - at.metrics.cap_height("bold", size) / 2, found.span))
            left += PUSH_WIDTH
        symbol += place(found.runs, left, y, found.role, found.span)
        symbol += place(found.manner, left + width_of(found.runs), y, "manner", found.span)
    return symbol + picture if at.line.look.chords_first or at.line.look.beside else picture + symbol


def _words(at: Spot) -> list[Item]:
    """Place the words of a line, verse by verse, so that they are read and found as they are sung."""
    line, rows, x, y, metrics = at
    items: list[Item] = []
    second = dict(rows.under)
    for verse, baseline in rows.words:
        for bar in line.bars:
            last, end = None, 0.0  # the words before, in this bar
            for placed in bar.columns:
                words = placed.column.words[verse] if verse < len(placed.column.words) else None
                if words is None:
                    continue
                texts = place(words.runs, x + placed.x, y + baseline, "words", words.span)
                if words.glued and last is not None:
                    items[-1] = replace(last, gap=texts[0].x - end)
                    items += _hyphen(end, texts[0].x, y + baseline, line.look.words, metrics)
                items += texts
                if words.under:
                    inward = x + placed.x + style.UNDER_INDENT * line.look.words
                    items += place(words.under, inward, y + second[verse], "words", words.span)
                last, end = texts[-1], x + placed.x + width_of(words.runs)
    return items


def _hyphen(left: float, right: float, baseline: float, size: float, metrics: Metrics) -> list[Line]:
    """Draw a hyphen in the middle between two parts of a word: a line, for as text it would part them in a search."""
    width = metrics.width("-", "regular", size)
    if right - left < width + HYPHEN_GAP:
        return []
    start, thick = (left + right - width) / 2, HYPHEN_LINE * size
    y = baseline - metrics.rise("-", "regular", size) + thick / 2
    return [Line(start + thick / 2, y, start + width - thick / 2, y, thick, "hyphen")]


def push_mark(x: float, middle: float, span: Span = NOWHERE) -> Shape:
    """Return the mark of a chord that comes early: a triangle that points back."""
    return Shape((Point(x, middle), Point(x + 6.0, middle - 4.0), Point(x + 6.0, middle + 4.0)), "push", span=span)


def _picture(at: Spot, column: Column, picture: Picture, x: float) -> list[Item]:
    """Place a hand with the finger numbers over it, the left hand and the shape under it or beside it."""
    line, rows, _, y, metrics = at
    items: list[Item] = []
    span, look, top = picture.span, line.look, y + rows.keyboard
    left, shape = note_left(column, picture, white_count(*line.keys) * line.key_width, look)
    start, x = x, x + hand_left(column, picture, look)
    for number, right in _fingers(picture, line, metrics):
        items += place(number, x + right, y + rows.fingers, "finger", span)
    if look.hands == "letters":
        items += place(picture.letters, x, top, "letters", span)
    elif look.hands == "keyboard" and picture.marks:
        keys = (*line.keys, line.key_width, look.keyboard)
        items.append(Keyboard(x, top, *keys, picture.marks, picture.resolves, span=span))
    items += place(picture.left, start + left, y + rows.note, "left hand", span)
    baseline = rows.chord if look.beside else rows.note
    return items + place(picture.shape, start + shape, y + baseline, "shape", span, style.QUIET_GREY)


def _fingers(picture: Picture, line: PlannedLine, metrics: Metrics) -> list[tuple[tuple[Run, ...], float]]:
    """Return finger numbers with their places: over the keys, apart where keys are closer than figures are wide."""
    if not picture.fingers:
        return []
    numbers = [runs(str(finger), "regular", style.SMALL, metrics) for finger in picture.fingers]
    if line.look.hands != "keyboard":
        # Over notes and letters they stand in a row: their order says whose they are.
        starts = accumulate((width_of(number) + ROW_OF_FINGERS for number in numbers), initial=0.0)
        return list(zip(numbers, starts, strict=False))
    centres = [key_centre(mark.key, line.keys[0]) * line.key_width for mark in picture.marks]
    for _ in range(len(centres)):
        for left, right in pairwise(range(len(centres))):
            near = (width_of(numbers[left]) + width_of(numbers[right])) / 2 + FINGER_GAP
            short = near - (centres[right] - centres[left])
            if short > 0:
                centres[left] -= short / 2
                centres[right] += short / 2
    return [(number, centre - width_of(number) / 2) for number, centre in zip(numbers, centres, strict=True)]
