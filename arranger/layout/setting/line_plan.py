"""Plan the lines of a part's section, with their rows, before they have a place on a page.

One chord row of the song is one line wherever it fits; else it breaks at a barline, evenly; a bar that is too wide for
a whole line breaks between its columns.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
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
from arranger.layout.setting.known_bars import SHAPES, KnownBars, RowSetting, Shapes
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


class BrokenRow(NamedTuple):
    """The measure of a row, its lines, and which names of shapes it has."""

    measure: Measure
    groups: list[Group]
    shapes: Shapes

    @property
    def setting(self) -> RowSetting:
        """How the row is set."""
        return RowSetting(self.measure.key_width, self.measure.look, self.shapes)


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
    settings = known.rows_of(section, metrics).settings
    section, places = in_rows(section, room, metrics, look, known)
    breaking = _Breaking.of(section, room, metrics, look, known)
    found = settings.get((look, room.music))
    if found is None:
        broken = _broken_section(breaking, look)
        settings[look, room.music] = tuple([row.setting for row in broken])
    else:
        broken = [breaking.row(number, *setting) for number, setting in enumerate(found)]
    lines: list[PlannedLine] = []
    for number, (row, (measure, groups, _)) in enumerate(zip(section.rows, broken, strict=True)):
        column, across = beside_and_across(row.margin, metrics, room.across, over=look.over)
        lines += [PlannedLine(section.index, across=entry, leads_on=True, look=look) for entry in across]
        for group in groups:
            line = _line(section, number, column, group, measure, full=len(groups) > 1, known=known)
            line = line._replace(row=places[number]) if places[number] != number else line
            lines += _divided_verses(line, room.height)
            column = ()
    closing, after = beside_and_across(section.closing, metrics, room.across, over=look.over, closing=True)
    lines[-1] = lines[-1]._replace(closing=closing)
    lines += [PlannedLine(section.index, across=entry, look=look) for entry in after]
    lines[0] = lines[0]._replace(first=True)
    return tuple(lines)


def in_rows(
    section: SectionContent, room: Room, metrics: Metrics, look: Look, known: KnownBars
) -> tuple[SectionContent, Sequence[int]]:
    """Return a section with the rows that it has in a look, and the first of its own rows that each of them has."""
    if not look.joined:
        return section, range(len(section.rows))
    found = known.rows_of(section, metrics).joined

    def as_one_line(pair: tuple[int, ...]) -> RowContent | None:
        row, fit = known.as_one(section, pair), found.get((pair, look, room.music))
        if fit is None:
            fit = _may_fit_line(replace(section, rows=(row,)), room, metrics, look, known)
            found[pair, look, room.music] = fit
        return row if fit else None

    return joined(section, as_one_line)


class _Breaking(NamedTuple):
    """Breaks the rows of a section into lines, with what that depends on."""

    section: SectionContent
    room: Room
    metrics: Metrics
    known: KnownBars
    keys: Sequence[KeyRange]  # of the pictures in each row
    head: float

    @classmethod
    def of(cls, section: SectionContent, room: Room, metrics: Metrics, look: Look, known: KnownBars) -> "_Breaking":
        """Return what breaks the rows of a section in a look, and in others with the same hands."""
        head = signature_width(section.key) * look.staff if look.hands == "staff" else 0.0
        return cls(section, room, metrics, known, _row_keys(section), head)

    def row(self, number: int, key_width: float, look: Look, shapes: Shapes = "all") -> BrokenRow:
        """Break a row with keys of a width in a look, and some names of shapes."""
        measure = Measure(self.keys[number], key_width, self.room.music - self.head, self.head, look, self.metrics)
        row = self.known.set_row(self.section.rows[number], measure, shapes)
        return BrokenRow(measure, self.known.broken(row, measure), shapes)

    def least(self, number: int, look: Look) -> int:
        """Return into how few lines a row can be broken in a look: with all in it as narrow as it may be set."""
        return len(self.row(number, _key_widths(look)[-1], _closer(look)[-1], SHAPES[-1]).groups)


def _key_widths(look: Look) -> Sequence[float]:
    return style.KEY_WIDTHS if look.hands == "keyboard" else style.KEY_WIDTHS[:1]


def _broken_section(breaking: _Breaking, look: Look) -> list[BrokenRow]:
    """Break the rows of a section into lines, with their hands one way throughout: beside the chords or over them.

    Before a row breaks the words of a bar stand on two lines if the look lets it; then all hands over their chords, or
    in a mixed look those of the row, rather than its words on two lines.
    """
    looks = [look, look._replace(beside=False)] if look.beside else [look]
    halves = [False] if look.least_words is None else [False, True]
    if look.mixed:
        return _fewest_lines(breaking, [way._replace(halved=half) for half in halves for way in looks])
    best: list[BrokenRow] = []
    for way in looks:
        found = _fewest_lines(breaking, [way._replace(halved=half) for half in halves])
        best = min(best, found, key=_lines_of) if best else found
        if _lines_of(best) == len(best):
            break
    return best


def _lines_of(rows: Sequence[BrokenRow]) -> int:
    return sum(len(row.groups) for row in rows)


def _fewest_lines(breaking: _Breaking, looks: Sequence[Look]) -> list[BrokenRow]:
    """Break each row of a section into lines in the first of some looks that needs the fewest."""
    chosen = _broken_rows(breaking, looks[0])
    for way in looks[1:]:
        lines = {number: len(row.groups) for number, row in enumerate(chosen) if len(row.groups) > 1}
        if all(breaking.least(number, way) >= count for number, count in lines.items()):
            continue
        other = _broken_rows(breaking, way)
        chosen = [min(ways, key=lambda one: len(one.groups)) for ways in zip(chosen, other, strict=True)]
    return chosen


def _may_fit_line(section: SectionContent, room: Room, metrics: Metrics, look: Look, known: KnownBars) -> bool:
    """Return whether the only row of a section fits one line in a look, as narrow as it may be set."""
    breaking = _Breaking.of(section, room, metrics, look, known)
    return any(breaking.least(0, way) == 1 for way in ([look, look._replace(beside=False)] if look.beside else [look]))


def _broken_rows(breaking: _Breaking, look: Look) -> list[BrokenRow]:
    """Break the rows of a section into lines.

    As few as can be: where pictures are too wide for that they are drawn smaller, and where words are, the row gets
    closer gaps, then smaller words, as far as the look lets it; last, names of shapes are left out, for no name is
    worth another line: those that only spell the notes first.
    """
    ways, sizes = _closer(look), _key_widths(look)
    places = range(len(breaking.section.rows))
    chosen = [breaking.row(number, sizes[0], look) for number in places]
    wide = [number for number in places if len(chosen[number].groups) > 1]
    least = {number: breaking.least(number, look) for number in wide}
    if all(len(chosen[number].groups) == count for number, count in least.items()):
        return chosen
    shapes, width = next(
        (shapes, width)
        for shapes in SHAPES
        for width in sizes
        if (shapes, width) == (SHAPES[-1], sizes[-1])
        or all(len(breaking.row(number, width, ways[-1], shapes).groups) == count for number, count in least.items())
    )
    if shapes != "all" or width != sizes[0]:
        chosen = [breaking.row(number, width, look, shapes) for number in places]
    for number, count in least.items():
        tried = (breaking.row(number, width, way, shapes) for way in ways)
        chosen[number] = next(one for one in tried if len(one.groups) == count)
    return chosen


@lru_cache(maxsize=64)  # looks are few; every row asks
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
        line._replace(verse_range=(part.start, part.stop), margin=line.margin if part.start == 0 else ())
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
    return line._replace(hands=hands, bare=_placed(without, alone, full))


def _placed(bars: Group, measure: Measure, full: bool) -> tuple[PlacedBar, ...]:
    boxes = [shown.spaced for shown in shown_in(bars)]
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
