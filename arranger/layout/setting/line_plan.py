"""Plan the lines of a part's section, with their rows, before they have a place on a page.

One chord row of the song is one line wherever it fits; else it breaks at a barline, evenly; a bar that is too wide for
a whole line breaks between its columns.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

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
    Rows,
    SectionContent,
    Words,
)
from arranger.layout.content.on_staves import without_notes
from arranger.layout.content.pictures import shown_range, white_count
from arranger.layout.model import Face
from arranger.layout.setting.known_bars import KnownBars
from arranger.layout.setting.margin import beside_and_across
from arranger.layout.setting.spacing import (
    METER_GAP,
    Group,
    Measure,
    Spaced,
    broken_row,
    filled,
    measured,
    meter_width,
    shown_in,
)
from arranger.layout.setting.staves import SPACE, signature_width
from arranger.layout.setting.staves_notes import extent
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.layout.text import Metrics, Run

BrokenRow = tuple[Measure, list[Group]]  # the measure of a row, and its lines

HAND = "dl♯"  # what letters of a hand are as high as
ORDINARY = "dl"  # letters as tall as words without capitals' accents have
TICK = 3.5  # the beats' ticks under an octave row
LEAD_ROW = 8.0  # under the octave row's rule: the arrow to the chord
LEAD_END = 6.5  # where that arrow ends
TIE_ROW = 5.0
MIDDLE_C_ROW = 4.0
TACET_ROW = 30.0

VERSE = 1.5  # of the size of words: a verse with accents over its capitals and letters below the line
# Points of a line that are not words, at most: endings, notes to play, fingers, hands, chords, the pencil's room.
BESIDE_VERSES = {"keyboard": 160.0, "staff": 270.0, "letters": 120.0}


class Room(NamedTuple):
    """What lines must fit: the width of the music; that of the page between its margins; the height of a page."""

    music: float
    across: float
    height: float


def plan(
    section: SectionContent,
    room: Room,
    metrics: Metrics,
    look: Look = DEFAULT_LOOK,
    known: KnownBars | None = None,
) -> tuple[PlannedLine, ...]:
    """Plan the lines of a section, with the largest pictures that need no more lines than fit the room.

    `known` has what is remembered of the bars, and the size of their words.
    """
    broken = _broken_section(section, room, metrics, look, known or KnownBars(look.words))
    lines: list[PlannedLine] = []
    for number, (row, (measure, groups)) in enumerate(zip(section.rows, broken, strict=True)):
        column, across = beside_and_across(row.margin, metrics, room.across, over=look.over)
        lines += [PlannedLine(section.index, across=entry, leads_on=True, look=look) for entry in across]
        for group in groups:
            line = _line(section, number, column, group, measure, full=len(groups) > 1)
            lines += _divided_verses(line, room.height)
            column = ()
    closing, after = beside_and_across(section.closing, metrics, room.across, over=look.over, closing=True)
    lines[-1] = replace(lines[-1], closing=closing)
    lines += [PlannedLine(section.index, across=entry, look=look) for entry in after]
    lines[0] = replace(lines[0], first=True)
    return tuple(lines)


def _broken_section(
    section: SectionContent, room: Room, metrics: Metrics, look: Look, known: KnownBars
) -> list[BrokenRow]:
    """Break the rows of a section into lines.

    As few as can be: where pictures are too wide for that they are drawn smaller, and where words are, the row gets
    closer gaps, then smaller words, as far as the look lets it; last, shapes that only spell the notes are left out.
    """
    head = signature_width(section.key) if look.hands == "staff" else 0.0
    keys = _row_keys(section)
    ways = _closer(look)

    def broken(content: SectionContent, number: int, key_width: float, way: Look) -> BrokenRow:
        measure = Measure(keys[number], key_width, room.music - head, head, way, metrics)
        bars = (known.sized(bar, way.words) for bar in content.rows[number].bars)
        parts = [part for bar in bars for part in known.fitting(bar, measure)]
        return measure, broken_row(parts, measure.width)

    places = range(len(section.rows))
    chosen = [broken(section, number, style.KEY_WIDTHS[0], look) for number in places]
    wide = [number for number in places if len(chosen[number][1]) > 1]
    if not wide:
        return chosen
    sizes = style.KEY_WIDTHS if look.hands == "keyboard" else style.KEY_WIDTHS[:1]
    bare = _without_spelled_shapes(section)
    least = [len(broken(bare, number, sizes[-1], ways[-1])[1]) for number in wide]
    if least == [len(chosen[number][1]) for number in wide]:
        return chosen
    for content, width in ((content, width) for content in (section, bare) for width in sizes):
        closest = [broken(content, number, width, ways[-1]) for number in wide]
        if [len(groups) for _, groups in closest] == least:
            break
    if content is not section or width != style.KEY_WIDTHS[0]:
        chosen = [broken(content, number, width, look) for number in places]
    for number, count, last in zip(wide, least, closest, strict=True):
        tried = (broken(content, number, width, way) for way in ways[:-1])
        chosen[number] = next((one for one in tried if len(one[1]) == count), last)
    return chosen


def _closer(look: Look) -> tuple[Look, ...]:
    """Return a look, then those that a row may have in it so that it need not be broken."""
    if look.least_words is None:
        return (look,)
    close = look._replace(gaps=style.GAPS_CLOSE)
    return (look, close) if look.least_words == look.words else (look, close, close._replace(words=look.least_words))


def _divided_verses(line: PlannedLine, height: float) -> list[PlannedLine]:
    """Divide the verses of a line that would be higher than a page: the chords stand over each group of them."""
    lines = (height - BESIDE_VERSES[line.look.hands]) / (VERSE * line.look.words)
    if line.verses <= max(1.0, lines):
        return [line]
    return [
        replace(line, verse_range=(part.start, part.stop), margin=line.margin if part.start == 0 else ())
        for part in evenly(line.verses, lines)
    ]


def evenly(verses: int, most: float) -> list[range]:
    """Divide verses into as few groups as can be, of at most so many verses (one at least), as even as can be."""
    groups = -(-verses // max(1, int(most)))
    return [range(start, end) for start, end in pairwise(verses * part // groups for part in range(groups + 1))]


def _without_spelled_shapes(section: SectionContent) -> SectionContent:
    """Leave out the shapes that only spell the notes (`C-E-B♭ over C`): what they help is not worth another line."""

    def bare(column: Column) -> Column:
        picture = column.picture
        if picture is None or not any("-" in run.text for run in picture.shape):
            return column
        return replace(column, picture=replace(picture, shape=()))

    def bare_bar(bar: BarContent) -> BarContent:
        columns = tuple(map(bare, bar.columns))
        return bar if columns == bar.columns else replace(bar, columns=columns)

    rows = tuple(replace(row, bars=tuple(map(bare_bar, row.bars))) for row in section.rows)
    return replace(section, rows=rows)


def _row_keys(section: SectionContent) -> list[KeyRange]:
    """Return the keys that the pictures of each row show: the same for a whole section if they fit one picture."""
    shared = _keys([bar for row in section.rows for bar in row.bars])
    if white_count(*shared) <= style.KEYS_AT_MOST:
        return [shared] * len(section.rows)
    return [_keys(row.bars) for row in section.rows]


def _keys(bars: Sequence[BarContent]) -> KeyRange:
    shown = [key for bar in bars for column in bar.columns if column.picture for key in column.picture.shown]
    return shown_range(shown or [style.MIDDLE_C])


def _line(
    section: SectionContent, number: int, margin: tuple[MarginEntry, ...], bars: Group, measure: Measure, full: bool
) -> PlannedLine:
    """Place the bars of one line."""
    row = section.rows[number]
    line = PlannedLine(
        section=section.index,
        margin=margin,
        bars=_placed(bars, measure, full),
        verses=row.verses,
        keys=measure.keys,
        key_width=measure.key_width,
        tacet_bars=section.tacet_bars,
        look=measure.look,
        key=section.key,
        labels=row.labels,
        row=number,
    )
    if row.hands_of is None or not bars:
        return line
    first, last, begun = bars[0].content, bars[-1].content, row.bars[0].number
    if not (first.whole_start and last.whole_end):
        return line
    alone = measure._replace(head=0.0, width=measure.width + measure.head)
    without = tuple(measured(_handless(bar.content), alone) for bar in bars)
    hands = (row.hands_of, first.number - begun, last.number - begun)
    return replace(line, hands=hands, bare=_placed(without, alone, full))


def _placed(bars: Group, measure: Measure, full: bool) -> tuple[PlacedBar, ...]:
    boxes = [shown.boxes for shown in shown_in(bars)]
    if boxes:
        boxes[0] = boxes[0]._replace(before=boxes[0].before + measure.head)
    return placed_bars(bars, filled(boxes, measure.width + measure.head, full), measure)


def _handless(bar: BarContent) -> BarContent:
    """Leave out the hands of a bar."""
    return replace(bar, columns=tuple(map(without_notes, bar.columns)))


def placed_bars(bars: Group, spaced: Spaced, measure: Measure) -> tuple[PlacedBar, ...]:
    """Return the bars of a line where the spacing has them."""
    rights = (*spaced.barlines[1:], spaced.end)
    placed = []
    for number, (bar, shown) in enumerate(zip(bars, shown_in(bars), strict=True)):
        content = bar.content
        columns = tuple(map(PlacedColumn, spaced.columns[number], content.columns, shown.pictures))
        opens = left = spaced.barlines[number]
        meter = left + measure.look.gaps.bar + (style.REPEAT_PAD if content.repeat_start else 0.0)
        if measure.head and number == 0:  # clef, signature, meter, then the repeat sign, as in print
            opens = meter = left + measure.head
            if content.meter_shown:
                opens += meter_width(content, measure.look, measure.metrics) + METER_GAP
        placed.append(PlacedBar(left, rights[number], meter, content, columns, opens))
    return tuple(placed)


def rows_of(
    bars: Sequence[BarContent],
    pictures: Sequence[Sequence[Picture | None]],
    verses: Iterable[int],
    look: Look,
    metrics: Metrics,
    sign: float = 0.0,
) -> Rows:
    """Stack the rows that a line needs for its bars, the hands that each column shows, and some of the verses.

    Where chords come first, hands stand under them, and barlines end over the words. `sign` is the height of what
    stands in place of hands.
    """
    sizes = look.sizes
    columns = [column for bar in bars for column in bar.columns]
    hands = [picture for shown in pictures for picture in shown if picture is not None]
    fingers = treble = bass = chord = 0.0
    endings, hook, hook_rule, octave, rule, y = _rows_above(bars, columns, look, metrics)
    if any(picture.fingers for picture in hands):
        fingers = y + metrics.cap_height("regular", sizes.small)
        y = fingers + 1.5
    top = y
    if look.chords_first:
        chord = y + _chord_rise(columns, "H", sizes.chord, metrics) + 1.0
        y = chord + metrics.descent("bold", sizes.chord)
    keyboard = note = y
    if sign:
        note = y + sign
        y = note
    elif look.hands == "staff" and bars:
        above, between, below = extent(columns)
        top = y + above
        treble = top + 4 * SPACE
        bass = treble + between + 4 * SPACE
        y = bass + below
    elif look.hands == "letters" and any(picture.letters for picture in hands):
        face: Face = "regular" if look.chords_first else "bold"
        keyboard = y + metrics.rise(HAND, face, sizes.letters)
        y = keyboard + metrics.descent(face, sizes.letters)
    elif any(picture.marks for picture in hands):
        top = keyboard = y + TIE_ROW
        y = keyboard + look.keyboard + MIDDLE_C_ROW
    if any(picture.left or picture.shape for picture in hands):
        note = y + metrics.rise(HAND, "regular", sizes.small)
        y = note + metrics.descent("regular", sizes.small)
    if not look.chords_first:
        chord = y + _chord_rise(columns, ORDINARY, sizes.chord, metrics) + style.ROW_GAP
        y = chord + metrics.descent("bold", sizes.chord)
    words, height = _verse_rows(columns, verses, y, look, metrics)
    over = (endings, octave, rule, fingers)
    bottom = y if look.chords_first else height
    return Rows(*over, keyboard, note, chord, words, top, bottom, hook, hook_rule, treble, bass, height)


def _rows_above(
    bars: Sequence[BarContent], columns: Sequence[Column], look: Look, metrics: Metrics
) -> tuple[float, float, float, float, float, float]:
    """Return the rows over the hands, and where they end: endings, notes to play with their rule, fills with theirs."""
    sizes = look.sizes
    y = endings = hook = hook_rule = octave = rule = 0.0
    if any(bar.in_ending or bar.repeat_times > 2 for bar in bars):
        endings = y + metrics.rise(ORDINARY, "bold", sizes.ending) + 1.5
        y = endings + style.ROW_GAP
    hooked = [run for column in columns if column.hook for run in column.hook.runs]
    filled = [run for column in columns if column.fill for run in column.fill.runs]
    if hooked:
        hook = y + note_rise(hooked, metrics, sizes.octave)
        hook_rule = hook + metrics.descent("bold", sizes.octave) + TICK - 0.5
        y = hook_rule + style.ROW_GAP + 1.5
    if filled:
        octave = y + note_rise(filled, metrics, sizes.octave)
        rule = octave + metrics.descent("bold", sizes.octave) + TICK - 0.5
        y = rule + (LEAD_END if look.chords_first else LEAD_ROW)
    return endings, hook, hook_rule, octave, rule, y


def _chord_rise(columns: Sequence[Column], least: str, size: float, metrics: Metrics) -> float:
    """Return how high the symbols rise over their baseline, at least as high as some letters."""
    symbols = [column.symbol for column in columns if column.symbol is not None]
    rises = [run.rise + metrics.rise(run.text, run.face, run.size) for s in symbols for run in (*s.runs, *s.manner)]
    return max((metrics.rise(least, "bold", size), *rises))


def _verse_rows(
    columns: Sequence[Column], verses: Iterable[int], y: float, look: Look, metrics: Metrics
) -> tuple[tuple[tuple[int, float], ...], float]:
    """Return the baselines of the verses that have words here, under each other from y on, and where they end."""
    words: list[tuple[int, float]] = []
    for verse in verses:
        texts = [run for column in columns for run in verse_runs(column.words, verse)]
        if texts:
            rise = max(metrics.rise(run.text, run.face, run.size) for run in texts)
            below = metrics.descent("regular", look.words)
            least = metrics.rise(ORDINARY, "regular", look.words) + 1.0
            if look.chords_first:
                rise += 1.0
            elif words:
                least = style.WORDS_LEADING * look.words - below
            baseline = y + max(rise, least)
            words.append((verse, baseline))
            y = baseline + below
    return tuple(words), y


def note_rise(notes: Iterable[Run], metrics: Metrics, size: float) -> float:
    """Return how high the names of notes rise: as letters with a flat, or higher (double flats of the music face)."""
    return max(metrics.rise("d♭", "bold", size), *(metrics.rise(n.text, n.face, n.size) for n in notes))


def verse_runs(words: tuple[Words | None, ...], verse: int) -> Iterator[Run]:
    """Yield the set text of the words of a verse at one place."""
    if verse < len(words) and (sung := words[verse]) is not None:
        yield from sung.runs
