"""The content of a section -> its lines and their rows, not yet on a page.

One chord row of the song is one line wherever it fits; else it breaks at a barline, evenly; a bar that is too wide for
a whole line breaks between its columns.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from arranger.layout import style
from arranger.layout.content.model import (
    BarContent,
    Column,
    KeyRange,
    MarginEntry,
    Picture,
    PlacedBar,
    PlacedColumn,
    PlannedLine,
    RowContent,
    Rows,
    SectionContent,
    Words,
)
from arranger.layout.content.pictures import shown_range, white_count
from arranger.layout.setting.breaking import Groups, Measure, Widths, broken_row, fitting, pictures_of
from arranger.layout.setting.margin import divided
from arranger.layout.setting.spacing import METER_GAP, Spaced, fit, head_width, meter_width, space
from arranger.layout.setting.staves import SPACE, extent
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.layout.text import Metrics, Run

Broken = list[tuple[Widths, Groups]]

VERSE = 1.5  # of the size of words: a verse with accents over its capitals and letters below the line
# Points of a line that are not words, at most: endings, notes to play, fingers, hands, chords, the pencil's room.
BESIDE_VERSES = {"keyboard": 160.0, "staff": 270.0, "letters": 120.0}


@dataclass(frozen=True, slots=True)
class Room:
    """What lines must fit: the width of the music; that of the page between its margins; the height of a page."""

    music: float
    across: float
    height: float

    @classmethod
    def of_music(cls, width: float) -> Room:
        """Return the room around music of a width, on pages without end."""
        return cls(width, style.COLUMN + style.GUTTER + width, float("inf"))


def plan(
    section: SectionContent, room: Room | float, metrics: Metrics, look: Look = DEFAULT_LOOK
) -> tuple[PlannedLine, ...]:
    """Plan the lines of a section, with the largest pictures that need no more lines.

    Args:
        section: what stands on them.
        room: what they must fit; a number is a width of the music on pages without end.
        metrics: of the fonts.
        look: of the part.
    """
    room = room if isinstance(room, Room) else Room.of_music(room)
    keys = _row_keys(section)

    def broken(content: SectionContent, key_width: float) -> Broken:
        return _broken_rows(content, keys, key_width, room.music, look, metrics)

    chosen = broken(section, style.KEY_WIDTHS[0])
    if _count(chosen) > len(section.rows):
        sizes = style.KEY_WIDTHS if look.hands == "keyboard" else style.KEY_WIDTHS[:1]
        bare = _without_spelled_shapes(section)
        fewest = _count(broken(bare, sizes[-1]))
        if fewest < _count(chosen):
            choices = ((content, width) for content in (section, bare) for width in sizes)
            chosen = next(rows for rows in (broken(*choice) for choice in choices) if _count(rows) == fewest)
    lines: list[PlannedLine] = []
    for row, (widths, groups) in zip(section.rows, chosen, strict=True):
        column, across = divided(row.margin, metrics, room.across)
        lines += _across(section, across, widths.measure, leads_on=True)
        for number, group in enumerate(groups):
            line = _line(section, row, column if number == 0 else (), group, widths, full=len(groups) > 1)
            lines += _divided_verses(line, room.height)
    closing, after = divided(section.closing, metrics, room.across)
    lines[-1] = replace(lines[-1], closing=closing)
    lines += _across(section, after, chosen[-1][0].measure, leads_on=False)
    lines[0] = replace(lines[0], first=True)
    return tuple(lines)


def _across(
    section: SectionContent, entries: Sequence[MarginEntry], measure: Measure, leads_on: bool
) -> list[PlannedLine]:
    """Return the lines of text across the page."""
    return [
        PlannedLine(
            section.index,
            False,
            (),
            (),
            0,
            measure.keys,
            measure.key_width,
            across=entry,
            leads_on=leads_on,
            look=measure.look,
        )
        for entry in entries
    ]


def _divided_verses(line: PlannedLine, height: float) -> list[PlannedLine]:
    """Divide the verses of a line that would be higher than a page: the chords stand over each group of them."""
    fixed = BESIDE_VERSES[line.look.hands]
    most = line.verses if height == float("inf") else max(1, int((height - fixed) / (VERSE * line.look.words)))
    if line.verses <= most:
        return [line]
    groups = -(-line.verses // most)
    edges = [line.verses * number // groups for number in range(groups + 1)]
    return [
        replace(line, verse_range=(start, end), margin=line.margin if start == 0 else ())
        for start, end in pairwise(edges)
    ]


def _without_spelled_shapes(section: SectionContent) -> SectionContent:
    """Leave out the shapes that only spell the notes (`C-E-B♭ over C`): what they help is not worth another line."""

    def bare(column: Column) -> Column:
        picture = column.picture
        if picture is None or not any("-" in run.text for run in picture.shape):
            return column
        return replace(column, picture=replace(picture, shape=()))

    rows = tuple(
        replace(row, bars=tuple(replace(bar, columns=tuple(map(bare, bar.columns))) for bar in row.bars))
        for row in section.rows
    )
    return replace(section, rows=rows)


def _count(rows: Broken) -> int:
    return sum(len(groups) for _, groups in rows)


def _row_keys(section: SectionContent) -> list[KeyRange]:
    """Return the keys that the pictures of each row show: the same for a whole section if they fit one picture."""
    shared = _keys([bar for row in section.rows for bar in row.bars])
    if white_count(*shared) <= style.KEYS_AT_MOST:
        return [shared] * len(section.rows)
    return [_keys(row.bars) for row in section.rows]


def _keys(bars: Sequence[BarContent]) -> KeyRange:
    shown = [key for bar in bars for column in bar.columns if column.picture for key in column.picture.shown]
    return shown_range(shown or [style.MIDDLE_C])


def _broken_rows(
    section: SectionContent, keys: Sequence[KeyRange], key_width: float, width: float, look: Look, metrics: Metrics
) -> Broken:
    rows: Broken = []
    head = head_width(look, section.key)
    for row, shown in zip(section.rows, keys, strict=True):
        widths = Widths(Measure(shown, key_width, width - head, head, look, metrics))
        rows.append((widths, broken_row([part for bar in row.bars for part in fitting(bar, widths)], widths)))
    return rows


def _line(
    section: SectionContent,
    row: RowContent,
    margin: tuple[MarginEntry, ...],
    bars: tuple[BarContent, ...],
    widths: Widths,
    full: bool,
) -> PlannedLine:
    """Place the bars of one line. A line that is not full is as long as its share of a line of four bars asks."""
    measure = widths.measure
    pictures = pictures_of(bars)
    boxes = [widths.boxes(bar, shown) for bar, shown in zip(bars, pictures, strict=True)]
    if boxes:
        boxes[0] = replace(boxes[0], before=boxes[0].before + measure.head)
    natural = space(boxes, 0.0).end
    share = 1.0 if full else min(1.0, len(bars) / style.BARS_IN_FULL)
    width = measure.width + measure.head
    length = max(min(width, natural * style.SPARE), width * share)
    return PlannedLine(
        section=section.index,
        first=False,
        margin=margin,
        bars=_placed(bars, pictures, fit(boxes, length), measure),
        verses=row.verses,
        keys=measure.keys,
        key_width=measure.key_width,
        tacet_bars=section.tacet_bars,
        look=measure.look,
        key=section.key,
    )


def _placed(
    bars: Sequence[BarContent], pictures: Sequence[Sequence[Picture | None]], spaced: Spaced, measure: Measure
) -> tuple[PlacedBar, ...]:
    rights = (*spaced.barlines[1:], spaced.end)
    placed = []
    for number, bar in enumerate(bars):
        columns = tuple(
            PlacedColumn(x, column, picture)
            for x, column, picture in zip(spaced.columns[number], bar.columns, pictures[number], strict=True)
        )
        left = spaced.barlines[number]
        opens = left
        meter = left + style.BAR_PAD + (style.REPEAT_PAD if bar.repeat_start else 0.0)
        if measure.head and number == 0:  # clef, signature, meter, then the repeat sign, as in print
            opens = meter = left + measure.head
            if bar.meter_shown:
                opens += meter_width(bar, measure.look, measure.metrics) + METER_GAP
        placed.append(PlacedBar(left, rights[number], meter, bar, columns, opens))
    return tuple(placed)


ORDINARY = "dl"  # letters as tall as words without capitals' accents have
TICK = 3.5  # the beats' ticks under an octave row
LEAD_ROW = 8.0  # under the octave row's rule: the arrow to the chord
TIE_ROW = 5.0
MIDDLE_C_ROW = 4.0
TACET_ROW = 30.0


def rows_of(line: PlannedLine, metrics: Metrics) -> Rows:
    """Stack the rows that a line needs."""
    columns = [placed for bar in line.bars for placed in bar.columns]
    pictures = [placed.picture for placed in columns if placed.picture is not None]
    look = line.look
    y = endings = hook = hook_rule = octave = rule = fingers = treble = bass = 0.0
    if any(bar.content.in_ending or bar.content.repeat_times > 2 for bar in line.bars):
        endings = y + metrics.rise(ORDINARY, "bold", style.ENDING) + 1.5
        y = endings + style.ROW_GAP
    hooked = [run for placed in columns if placed.column.hook for run in placed.column.hook.runs]
    filled = [run for placed in columns if placed.column.fill for run in placed.column.fill.runs]
    if hooked:
        hook = y + note_rise(hooked, metrics)
        hook_rule = hook + metrics.descent("bold", style.OCTAVE) + TICK - 0.5
        y = hook_rule + style.ROW_GAP + 1.5
    if filled:
        octave = y + note_rise(filled, metrics)
        rule = octave + metrics.descent("bold", style.OCTAVE) + TICK - 0.5
        y = rule + LEAD_ROW
    if any(picture.fingers for picture in pictures):
        fingers = y + metrics.cap_height("regular", style.SMALL)
        y = fingers + 1.5
    top = keyboard = note = y
    if look.hands == "staff" and line.bars:
        above, between, below = extent([note for picture in pictures for note in picture.notes])
        top = y + above
        treble = top + 4 * SPACE
        bass = treble + between + 4 * SPACE
        y = bass + below
    elif look.hands == "letters" and any(picture.letters for picture in pictures):
        keyboard = y + metrics.rise("dl♯", "bold", style.LETTERS)
        y = keyboard + metrics.descent("bold", style.LETTERS)
    elif any(picture.marks for picture in pictures):
        top = keyboard = y + TIE_ROW
        y = keyboard + look.keyboard + MIDDLE_C_ROW
    if any(picture.left or picture.shape for picture in pictures):
        note = y + metrics.rise("dl♯", "regular", style.SMALL)
        y = note + metrics.descent("regular", style.SMALL)
    if line.across is not None:
        return Rows(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, (), 0.0, 0.0)
    symbols = [placed.column.symbol for placed in columns if placed.column.symbol is not None]
    rises = [run.rise + metrics.rise(run.text, run.face, run.size) for s in symbols for run in (*s.runs, *s.manner)]
    chord = y + max((metrics.rise(ORDINARY, "bold", style.CHORD), *rises)) + style.ROW_GAP
    y = chord + metrics.descent("bold", style.CHORD)
    words: list[tuple[int, float]] = []
    for verse in range(*(line.verse_range or (0, line.verses))):
        texts = [run for placed in columns for run in verse_runs(placed.column.words, verse)]
        if not texts:
            continue
        rise = max(metrics.rise(run.text, run.face, run.size) for run in texts)
        below = metrics.descent("regular", look.words)
        first = metrics.rise(ORDINARY, "regular", look.words) + 1.0
        baseline = y + max(rise, style.WORDS_LEADING * look.words - below if words else first)
        words.append((verse, baseline))
        y = baseline + below
    if line.tacet_bars is not None:
        y = max(y, TACET_ROW)
    return Rows(
        endings, octave, rule, fingers, keyboard, note, chord, tuple(words), top, y, hook, hook_rule, treble, bass
    )


def note_rise(notes: Iterable[Run], metrics: Metrics, size: float = style.OCTAVE) -> float:
    """Return how high the names of notes rise: as letters with a flat, or higher (double flats of the music face)."""
    return max(metrics.rise("d♭", "bold", size), *(metrics.rise(n.text, n.face, n.size) for n in notes))


def verse_runs(words: tuple[Words | None, ...], verse: int) -> Iterator[Run]:
    """Return what is sung of a verse at one place."""
    if verse < len(words) and (sung := words[verse]) is not None:
        yield from sung.runs
