"""Second room: the content of a section -> its lines, each with the places of its bars and columns, not yet on a page.

One chord row of the song is one line wherever it fits; else it breaks at a barline, evenly; a bar that is too wide for
a whole line breaks between its columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.layout import style
from arranger.layout.content import BarContent, Column, MarginEntry, Picture, RowContent, SectionContent, Words
from arranger.layout.keyboard import shown_range, white_count
from arranger.layout.metrics import Metrics
from arranger.layout.spacing import BarBoxes, Box, Spaced, Step, fit, space
from arranger.layout.text import runs, width_of, wrap

OCTAVE, HAND, NOTE, CHORD, WORDS = range(5)  # rows of a line; verse n is WORDS + n
PUSH_WIDTH = 8.0  # the push mark before a symbol, with its gap
METER_GAP = 4.0
HYPHEN_GAP = 2.0  # on both sides of a hyphen between two parts of a word

KeyRange = tuple[int, int]


@dataclass(frozen=True, slots=True)
class PlacedColumn:
    """A column at x, from the start of the line. `picture` is what is drawn: None where the hand was just shown."""

    x: float
    column: Column
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class PlacedBar:
    """A bar between its barlines, from the start of the line; `meter` is the x of a printed meter."""

    left: float
    right: float
    meter: float
    content: BarContent
    columns: tuple[PlacedColumn, ...]


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """A line of music with everything but its place on a page.

    `keys` and `key_width` are those of its pictures. `first`: the section begins here.
    """

    section: int
    first: bool
    margin: tuple[MarginEntry, ...]
    bars: tuple[PlacedBar, ...]
    verses: int
    keys: KeyRange
    key_width: float
    tacet_bars: int | None = None
    closing: tuple[MarginEntry, ...] = ()


@dataclass(frozen=True, slots=True)
class _Measure:
    """What widths depend on: keys of all pictures (None: each line its own), the key's width, the room, the fonts."""

    keys: KeyRange | None
    key_width: float
    width: float
    metrics: Metrics


def plan(section: SectionContent, width: float, metrics: Metrics) -> tuple[PlannedLine, ...]:
    """Plan the lines of a section for a width of the music, with the largest pictures that need no more lines."""
    keys = shared_keys(section)
    best: tuple[PlannedLine, ...] = ()
    for key_width in style.KEY_WIDTHS:
        measure = _Measure(keys, key_width, width, metrics)
        lines = tuple(line for row in section.rows for line in _row_lines(section, row, measure))
        if not best or len(lines) < len(best):
            best = lines
        if len(best) == len(section.rows):
            break
    best = (replace(best[0], first=True), *best[1:])
    return (*best[:-1], replace(best[-1], closing=section.closing))


def shared_keys(section: SectionContent) -> KeyRange | None:
    """Give the keys that all pictures of a section show, None where they are too many for one picture."""
    keys = _keys([bar for row in section.rows for bar in row.bars])
    return keys if keys is None or white_count(*keys) <= style.KEYS_AT_MOST else None


def _keys(bars: Sequence[BarContent]) -> KeyRange | None:
    shown = [key for bar in bars for column in bar.columns if column.picture for key in column.picture.shown]
    return shown_range(shown) if shown else None


def _row_lines(section: SectionContent, row: RowContent, measure: _Measure) -> list[PlannedLine]:
    if not row.bars:
        return [_line(section, row, row.margin, (), measure, full=False)]
    bars = [part for bar in row.bars for part in _fitting(bar, measure)]
    groups = _broken(bars, measure)
    return [
        _line(section, row, row.margin if number == 0 else (), group, measure, full=len(groups) > 1)
        for number, group in enumerate(groups)
    ]


def _line(
    section: SectionContent,
    row: RowContent,
    margin: tuple[MarginEntry, ...],
    bars: tuple[BarContent, ...],
    measure: _Measure,
    full: bool,
) -> PlannedLine:
    """Place the bars of one line. A line that is not full is as long as its share of a line of four bars asks."""
    boxes = _boxes(bars, measure)
    natural = space(boxes, 0.0).end
    share = 1.0 if full else min(1.0, len(bars) / style.BARS_IN_FULL)
    length = max(min(measure.width, natural * style.SPARE), measure.width * share)
    return PlannedLine(
        section=section.index,
        first=False,
        margin=margin,
        bars=_placed(bars, fit(boxes, length), measure),
        verses=row.verses,
        keys=_line_keys(bars, measure),
        key_width=measure.key_width,
        tacet_bars=section.tacet_bars,
    )


def _placed(bars: tuple[BarContent, ...], spaced: Spaced, measure: _Measure) -> tuple[PlacedBar, ...]:
    rights = (*spaced.barlines[1:], spaced.end)
    pictures = _pictures(bars)
    placed = []
    for number, bar in enumerate(bars):
        columns = tuple(
            PlacedColumn(x, column, picture)
            for x, column, picture in zip(spaced.columns[number], bar.columns, pictures[number], strict=True)
        )
        left = spaced.barlines[number]
        meter = left + style.BAR_PAD + (style.REPEAT_PAD if bar.repeat_start else 0.0)
        placed.append(PlacedBar(left, rights[number], meter, bar, columns))
    return tuple(placed)


def _broken(bars: Sequence[BarContent], measure: _Measure) -> list[tuple[BarContent, ...]]:
    """Break a row into as few lines as can be, with bars as evenly spread as fits, then with widths as even.

    The best division of the first bars is settled for 1, 2, 3... bars in turn.
    """
    if _natural(bars, measure) <= measure.width:
        return [tuple(bars)]
    best: list[tuple[tuple[float, ...], int]] = [((0, 0, 0.0), 0)]  # (lines, bars squared, widths squared), last break
    for end in range(1, len(bars) + 1):
        choices = []
        for start in range(end - 1, -1, -1):
            natural = _natural(bars[start:end], measure)
            if natural > measure.width and start < end - 1:
                break
            (lines, squares, widths), _ = best[start]
            choices.append(((lines + 1, squares + (end - start) ** 2, round(widths + natural**2, 3)), start))
        best.append(min(choices))
    groups: list[tuple[BarContent, ...]] = []
    end = len(bars)
    while end:
        start = best[end][1]
        groups.insert(0, tuple(bars[start:end]))
        end = start
    return groups


def _natural(bars: Sequence[BarContent], measure: _Measure) -> float:
    return space(_boxes(bars, measure), 0.0).end


def _fitting(bar: BarContent, measure: _Measure) -> list[BarContent]:
    """Break a bar that is too wide for a line: between columns, and where one column is too wide, between its words."""
    if _natural([bar], measure) <= measure.width:
        return [bar]
    count = len(bar.columns)
    while count > 1 and _natural([replace(bar, columns=bar.columns[:count])], measure) > measure.width:
        count -= 1
    if count == 1 and _natural([replace(bar, columns=bar.columns[:1])], measure) > measure.width:
        head, rest = _split_words(bar.columns[0], measure)
        columns = (*((rest,) if rest else ()), *bar.columns[1:])
    else:
        head, columns = bar.columns[count - 1], bar.columns[count:]
    kept = (*bar.columns[: count - 1], head)
    if not columns:
        return [replace(bar, columns=kept)]
    start = columns[0].time
    first = replace(bar, columns=kept, length=start, whole_end=False, repeat_times=0, double=False, ending_stops=False)
    second = replace(
        bar, columns=columns, start=start, whole_start=False, repeat_start=False, ending="", meter_shown=False
    )
    return [first, *_fitting(second, measure)]


def _split_words(column: Column, measure: _Measure) -> tuple[Column, Column | None]:
    """Cut the words of a column where they fill a line; the rest goes to a column of its own."""
    # Room for what a bar has at its sides at most: pads, repeat signs, a meter.
    room = measure.width - 2 * (style.BAR_PAD + style.REPEAT_PAD) - 40
    heads: list[Words | None] = []
    rests: list[Words | None] = []
    for words in column.words:
        if words is None or width_of(words.runs) <= room:
            heads.append(words)
            rests.append(None)
            continue
        first, *others = wrap("".join(run.text for run in words.runs), "regular", style.WORDS, room, measure.metrics)
        heads.append(replace(words, runs=runs(first, "regular", style.WORDS, measure.metrics)))
        rests.append(replace(words, runs=runs(" ".join(others), "regular", style.WORDS, measure.metrics), glued=False))
    rest = Column(column.time, words=tuple(rests)) if any(rests) else None
    return replace(column, words=tuple(heads)), rest


def _pictures(bars: Sequence[BarContent]) -> list[list[Picture | None]]:
    """Tell which pictures a line shows: each change once, and the first hand of the line in any case."""
    shown: set[Picture] = set()
    first = True
    chosen = []
    for bar in bars:
        row = []
        for column in bar.columns:
            picture = column.picture
            if picture is not None:
                if picture in shown or (picture.restated and not first):
                    picture = None
                else:
                    shown.add(picture)
                first = False
            row.append(picture)
        chosen.append(row)
    return chosen


def _line_keys(bars: Sequence[BarContent], measure: _Measure) -> KeyRange:
    return measure.keys or _keys(bars) or shown_range([style.MIDDLE_C])


def picture_width(keys: KeyRange, key_width: float) -> float:
    """Give the width of a picture."""
    return white_count(*keys) * key_width


def _boxes(bars: Sequence[BarContent], measure: _Measure) -> list[BarBoxes]:
    """Give what the spacing must keep apart."""
    hand = picture_width(_line_keys(bars, measure), measure.key_width)
    all_boxes = []
    for bar, pictures in zip(bars, _pictures(bars), strict=True):
        before = style.BAR_PAD + (style.REPEAT_PAD if bar.repeat_start else 0.0)
        if bar.meter_shown:
            before += meter_width(bar, measure.metrics) + METER_GAP
        steps = []
        last = bar.start
        for column, picture in zip(bar.columns, pictures, strict=True):
            boxes = _column_boxes(column, picture, hand, measure.metrics)
            steps.append(Step(float(column.time - last), boxes))
            last = column.time
        after = style.BAR_END + (style.REPEAT_PAD if bar.repeat_times else 0.0)
        all_boxes.append(BarBoxes(before, after, tuple(steps), float(bar.length - last)))
    return all_boxes


def _column_boxes(column: Column, picture: Picture | None, hand: float, metrics: Metrics) -> tuple[Box, ...]:
    boxes = []
    if column.fill is not None:
        label = width_of(column.fill.label)
        left = label + style.NOTE_GAP if label else 0.0
        boxes.append(Box(OCTAVE, left, width_of(column.fill.runs), style.NOTE_GAP))
    if picture is not None:
        if picture.marks:
            boxes.append(Box(HAND, 0.0, hand, style.PICTURE_GAP))
        note = note_width(picture)
        if note:
            boxes.append(Box(NOTE, 0.0, note, style.PICTURE_GAP))
    if column.symbol is not None:
        width = width_of(column.symbol.runs) + width_of(column.symbol.manner)
        boxes.append(Box(CHORD, 0.0, width + (PUSH_WIDTH if column.symbol.push else 0.0), style.CHORD_GAP))
    for verse, words in enumerate(column.words):
        if words is not None:
            hyphen = metrics.width("-", "regular", style.WORDS) + 2 * HYPHEN_GAP - style.WORD_GAP
            left = max(0.0, hyphen) if words.glued else 0.0
            boxes.append(Box(WORDS + verse, left, width_of(words.runs), style.WORD_GAP))
    return tuple(boxes)


def note_width(picture: Picture) -> float:
    """Give the width of the texts under a picture."""
    gap = style.PICTURE_GAP if picture.left and picture.shape else 0.0
    return width_of(picture.left) + gap + width_of(picture.shape)


def meter_width(bar: BarContent, metrics: Metrics) -> float:
    """Give the width of a meter printed in a bar: its figures one over the other."""
    return max(metrics.width(str(figure), "bold", style.METER) for figure in (bar.meter.beats, bar.meter.unit))
