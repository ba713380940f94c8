"""Plan the lines of a part's section, with their rows, before they have a place on a page.

One chord row of the song is one line wherever it fits; else it breaks at a barline, evenly; a bar that is too wide for
a whole line breaks between its columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.model import (
    BarContent,
    KeyRange,
    MarginEntry,
    PlacedBar,
    PlacedColumn,
    PlannedLine,
    RowContent,
    SectionContent,
)
from arranger.layout.content.pictures import shown_range, white_count
from arranger.layout.setting.known_bars import KnownBars
from arranger.layout.setting.margin import beside_and_across
from arranger.layout.setting.row_pairs import joined
from arranger.layout.setting.spacing import (
    METER_GAP,
    Group,
    Measure,
    Spaced,
    filled,
    meter_width,
    shown_in,
)
from arranger.layout.setting.staves import signature_width
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.layout.text import Metrics

BrokenRow = tuple[Measure, list[Group]]  # the measure of a row, and its lines

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
    known = known or KnownBars(look.words)
    section, places = in_rows(section, room, metrics, look, known)
    broken = _broken_section(section, room, metrics, look, known)
    lines: list[PlannedLine] = []
    for number, (row, (measure, groups)) in enumerate(zip(section.rows, broken, strict=True)):
        column, across = beside_and_across(row.margin, metrics, room.across, over=look.over)
        lines += [PlannedLine(section.index, across=entry, leads_on=True, look=look) for entry in across]
        for group in groups:
            line = _line(section, number, column, group, measure, full=len(groups) > 1, known=known)
            line = replace(line, row=places[number]) if places[number] != number else line
            lines += _divided_verses(line, room.height)
            column = ()
    closing, after = beside_and_across(section.closing, metrics, room.across, over=look.over, closing=True)
    lines[-1] = replace(lines[-1], closing=closing)
    lines += [PlannedLine(section.index, across=entry, look=look) for entry in after]
    lines[0] = replace(lines[0], first=True)
    return tuple(lines)


def in_rows(
    section: SectionContent, room: Room, metrics: Metrics, look: Look, known: KnownBars
) -> tuple[SectionContent, Sequence[int]]:
    """Return a section with the rows that it has in a look, and the first of its own rows that each of them has."""
    if not look.joined:
        return section, range(len(section.rows))
    fits = partial(_fits_line, section, room, metrics, look, known)
    return joined(section, fits, known.closed)


def _broken_section(
    section: SectionContent,
    room: Room,
    metrics: Metrics,
    look: Look,
    known: KnownBars,
    *,
    halved: bool = True,
) -> list[BrokenRow]:
    """Break the rows of a section into lines, with their hands one way throughout: beside the chords or over them.

    Before a row breaks the words of a bar stand on two lines if they may be `halved`; then all hands over their chords,
    or in a mixed look those of the row, rather than its words on two lines.
    """
    looks = [look, look._replace(beside=False)] if look.beside else [look]
    halves = [False, True] if halved and look.least_words is not None else [False]
    if look.mixed:
        return _fewest_lines(
            section, room, metrics, [way._replace(halved=half) for half in halves for way in looks], known
        )
    ways: list[list[BrokenRow]] = []
    for way in looks:
        ways.append(_fewest_lines(section, room, metrics, [way._replace(halved=half) for half in halves], known))
        if all(len(groups) == 1 for _, groups in ways[-1]):
            break
    return min(ways, key=lambda rows: sum(len(groups) for _, groups in rows))


def _fewest_lines(
    section: SectionContent, room: Room, metrics: Metrics, looks: Sequence[Look], known: KnownBars
) -> list[BrokenRow]:
    """Break each row of a section into lines in the first of some looks that needs the fewest."""
    chosen = _broken_rows(section, room, metrics, looks[0], known)
    for way in looks[1:]:
        if all(len(groups) == 1 for _, groups in chosen):
            break
        other = _broken_rows(section, room, metrics, way, known)
        chosen = [min(ways, key=lambda one: len(one[1])) for ways in zip(chosen, other, strict=True)]
    return chosen


def _fits_line(
    section: SectionContent, room: Room, metrics: Metrics, look: Look, known: KnownBars, row: RowContent
) -> bool:
    """Return whether a row of a section fits one line in a look, as narrow as it may be set."""
    (keys,) = _row_keys(replace(section, rows=(row,)))
    head = signature_width(section.key) * look.staff if look.hands == "staff" else 0.0
    key_width = style.KEY_WIDTHS[-1 if look.hands == "keyboard" else 0]
    narrow = _closer(look)[-1]
    for way in [narrow, narrow._replace(beside=False)] if look.beside else [narrow]:
        measure = Measure(keys, key_width, room.music - head, head, way, metrics)
        if len(known.broken(_bars_in(way, row, measure, known, bare=True), measure)) == 1:
            return True
    return False


def _broken_rows(
    section: SectionContent, room: Room, metrics: Metrics, look: Look, known: KnownBars
) -> list[BrokenRow]:
    """Break the rows of a section into lines.

    As few as can be: where pictures are too wide for that they are drawn smaller, and where words are, the row gets
    closer gaps, then smaller words, as far as the look lets it; last, shapes that only spell the notes are left out.
    """
    head = signature_width(section.key) * look.staff if look.hands == "staff" else 0.0
    keys = _row_keys(section)
    ways = _closer(look)

    def broken(number: int, key_width: float, way: Look, *, bare: bool = False) -> BrokenRow:
        measure = Measure(keys[number], key_width, room.music - head, head, way, metrics)
        return measure, known.broken(_bars_in(way, section.rows[number], measure, known, bare=bare), measure)

    places = range(len(section.rows))
    chosen = [broken(number, style.KEY_WIDTHS[0], look) for number in places]
    wide = [number for number in places if len(chosen[number][1]) > 1]
    if not wide:
        return chosen
    sizes = style.KEY_WIDTHS if look.hands == "keyboard" else style.KEY_WIDTHS[:1]
    least = [len(broken(number, sizes[-1], ways[-1], bare=True)[1]) for number in wide]
    if least == [len(chosen[number][1]) for number in wide]:
        return chosen
    bare, width = next(
        (bare, width)
        for bare in (False, True)
        for width in sizes
        if (bare, width) == (True, sizes[-1])
        or all(
            len(broken(number, width, ways[-1], bare=bare)[1]) == count
            for number, count in zip(wide, least, strict=True)
        )
    )
    if bare or width != style.KEY_WIDTHS[0]:
        chosen = [broken(number, width, look, bare=bare) for number in places]
    for number, count in zip(wide, least, strict=True):
        tried = (broken(number, width, way, bare=bare) for way in ways)
        chosen[number] = next(one for one in tried if len(one[1]) == count)
    return chosen


def _bars_in(
    look: Look, row: RowContent, measure: Measure, known: KnownBars, *, bare: bool = False
) -> Sequence[BarContent]:
    """Return the bars of a row with the words of a look; `bare`: without shapes, which are not worth another line."""
    bars: Sequence[BarContent] = [known.unspelled(bar) for bar in row.bars] if bare else row.bars
    bars = [known.sized(bar, look.words) for bar in bars]
    if look.halved and bars:
        share = measure.width / len(bars) - 2 * look.gaps.bar
        bars = [known.halved(bar, share, measure.metrics) for bar in bars]
    return bars


def _closer(look: Look) -> tuple[Look, ...]:
    """Return a look, then those that a row may have in it so that it need not be broken."""
    if look.least_words is None:
        return (look,)
    close = look._replace(gaps=style.GAPS_CLOSE)
    return (look, close) if look.least_words == look.words else (look, close, close._replace(words=look.least_words))


def _divided_verses(line: PlannedLine, height: float) -> list[PlannedLine]:
    """Divide the verses of a line that would be higher than a page: the chords stand over each group of them."""
    lines = (height - BESIDE_VERSES[line.look.hands]) / (VERSE * line.look.words)
    lines /= 2 if line.under else 1
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
    section: SectionContent,
    number: int,
    margin: tuple[MarginEntry, ...],
    bars: Group,
    measure: Measure,
    full: bool,
    known: KnownBars,
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
    without = tuple(known.measured(known.handless(bar.content), alone) for bar in bars)
    hands = (row.hands_of, first.number - begun, last.number - begun)
    return replace(line, hands=hands, bare=_placed(without, alone, full))


def _placed(bars: Group, measure: Measure, full: bool) -> tuple[PlacedBar, ...]:
    boxes = [shown.boxes for shown in shown_in(bars)]
    if boxes:
        boxes[0] = boxes[0]._replace(before=boxes[0].before + measure.head)
    return placed_bars(bars, filled(boxes, measure.width + measure.head, full), measure)


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
