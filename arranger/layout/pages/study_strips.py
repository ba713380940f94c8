"""Set what stands across a page to practise from, strip by strip: head, headings with boxes, rows, foot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.margin_text import tempo_words
from arranger.layout.content.symbols import chord_runs
from arranger.layout.model import Item, Line, moved
from arranger.layout.pages.study_cells import CELLS_APART, LEADING, TEXT, StudyCell, cell_width
from arranger.layout.style import Sizes
from arranger.layout.text import Metrics, Run, cut, place, printed_name, runs, width_of, wrap
from arranger.song.model import Tempo
from arranger.studies.model import Study, TimedStudy
from arranger.theory.chord import Chord
from arranger.theory.key import Key

TITLE = 18.0
TITLES = 10.0  # of the songs
TITLES_LINES = 3
HEADING = 11.0
HEADING_SIZES = Sizes(chord=12.5, raised=9.8, rise=3.5)
HEADING_LEADING = 15.0
BASELINE = 3.0  # over the lower edge of a heading's line
SLOWEST = 30  # beats a minute: below it metronomes stop, or count out of reach of the ear (judgement, no source)
BOX = 9.0  # a box to tick in pencil
BOX_GAP = 3.0
TEMPI_APART = 9.0
STUDIES_APART = 7.0
LINES_APART = 5.0

# How to practise, with what was found and no more; figures lead to the sources.
HOW = (
    "Play each study at a tempo at which it is right: how much was kept went with how large a share of the trials was "
    "right, not with how many there were or how long they took (1). Go round the studies in short turns rather than "
    "one after the other to the end: where ratings differed, taking turns was generally better (2). Sleep on it: the "
    "accuracy of a keyboard sequence rose in a session after 24 hours (3); no effect was found of minutes of spacing "
    "(4). Hear it first: a model helped rhythm and tempo, and patterns of raising the tempo made no difference (5). "
    "So the three tempi (half, two thirds, the song's) are a convention. Tick a box when the study was right at its "
    "tempo."
)
SOURCES = (
    "1 Duke, Simmons and Cash 2009, J. Res. Music Educ. 56:310. 2 Carter and Grahn 2016, Front. Psychol. 7:1251. "
    "3 Simmons 2012, J. Res. Music Educ. 59:357. 4 Wiseheart 2017. 5 Henley 2001, J. Res. Music Educ."
)
CAUTION = (
    "A wide stretch held long, or one pattern repeated too long, can hurt. Your own limits rule, not the page: leave "
    "notes out, rest, and stop where it hurts."
)

Piece = tuple[tuple[Item, ...], float, float]  # items, and how far they are moved to the right and down


class Strip(NamedTuple):
    """What is placed across the page and not parted: its pieces, and its height with the gap under it.

    `studies` are the numbers of those whose headings it has, from 0.
    """

    pieces: tuple[Piece, ...]
    height: float
    studies: tuple[int, ...] = ()

    def at(self, x: float, y: float) -> tuple[Piece, ...]:
        """Return its pieces for another place."""
        return tuple((items, dx + x, dy + y) for items, dx, dy in self.pieces)

    def placed(self, x: float, y: float) -> Iterator[Item]:
        """Yield its items where its top left is at (x, y)."""
        for items, dx, dy in self.at(x, y):
            yield from (moved(item, dx, dy) for item in items)


def joined(strips: Sequence[Strip], gap: float = 0.0) -> Strip:
    """Return strips one under the other as one."""
    pieces: tuple[Piece, ...] = ()
    y = 0.0
    for strip in strips:
        pieces += strip.at(0.0, y)
        y += strip.height + gap
    return Strip(pieces, y - gap, tuple(number for strip in strips for number in strip.studies))


def paragraph(text: str, width: float, metrics: Metrics, most: int | None = None, size: float = TEXT) -> Strip:
    """Set a text in as many lines as it needs, or so many at most."""
    lines = wrap(text, "regular", size, width, metrics)
    if most is not None and len(lines) > most:
        lines = (*lines[: most - 1], cut(" ".join(lines[most - 1 :]), "regular", size, width, metrics))
    items: list[Item] = []
    leading = size * LEADING / TEXT
    for number, line in enumerate(lines, 1):
        items += place(runs(line, "regular", size, metrics), 0.0, number * leading - 2.0, "text")
    return Strip(((tuple(items), 0.0, 0.0),), len(lines) * leading)


def head_strip(title: str, songs: Sequence[str], minutes: int, width: float, metrics: Metrics) -> Strip:
    """Set the title and how long it takes; the songs, where they are several; how to practise; a rule."""
    length = runs(f"{minutes} minutes", "bold", style.HEADER, metrics)
    short = cut(title, "bold", TITLE, width - width_of(length) - CELLS_APART, metrics)
    baseline = metrics.rise(f"{short}d", "bold", TITLE)
    items: list[Item] = [*place(runs(short, "bold", TITLE, metrics), 0.0, baseline, "title")]
    items += place(length, width - width_of(length), baseline, "minutes")
    strips = [Strip(((tuple(items), 0.0, 0.0),), baseline + metrics.descent("bold", TITLE))]
    strips += [paragraph(" · ".join(songs), width, metrics, TITLES_LINES, TITLES)] if len(songs) > 1 else []
    rule = Line(0.0, 2.0, width, 2.0, style.BARLINE, "rule", style.LINE_GREY)
    strips += [paragraph(HOW, width, metrics), Strip((((rule,), 0.0, 0.0),), STUDIES_APART)]
    return joined(strips, 2.0)


def foot_strip(width: float, metrics: Metrics) -> Strip:
    """Set the sources, and the caution for hands that hurt."""
    return joined([paragraph(SOURCES, width, metrics), paragraph(CAUTION, width, metrics)], 2.0)


def lines_of(cells: Sequence[StudyCell], width: float, metrics: Metrics) -> list[Strip]:
    """Set cells side by side as far as they fit; their pictures stand on one height."""
    lines: list[list[StudyCell]] = []
    used = 0.0
    for cell in cells:
        if not lines or used + CELLS_APART + cell.width > width + 0.01:
            lines.append([])
            used = -CELLS_APART
        lines[-1].append(cell)
        used += CELLS_APART + cell.width
    return [_line(line, width, metrics) for line in lines]


def _line(cells: Sequence[StudyCell], width: float, metrics: Metrics) -> Strip:
    label = max(len(cell.label) for cell in cells) * LEADING
    pieces: tuple[Piece, ...] = ()
    x = 0.0
    for cell in cells:
        y = label - len(cell.label) * LEADING
        texts: list[Item] = []
        for text in cell.label:
            y += LEADING
            texts += place(runs(text, "regular", TEXT, metrics), 0.0, y - 2.0, "label", grey=style.QUIET_GREY)
        pieces += ((tuple(texts), x, 0.0), (cell.items, x, label))
        x += cell.width + CELLS_APART
    one_text = not label and cells[0].width == width  # a change of sound
    return Strip(pieces, label + max(cell.height for cell in cells) + (0.0 if one_text else LINES_APART))


def heading_strip(number: int, one: TimedStudy, narrow: bool, width: float, metrics: Metrics) -> Strip:
    """Set the name of a study, its minutes and, for each tempo, a box to tick: beside it, or under it where `narrow`.

    Under these, what else is to be said of it, and how many of its rows are shown where that is not all.
    """
    room = cell_width(width) if narrow else width
    boxes, boxes_width = _boxes(one, metrics)
    mark = runs(f"{number + 1}  ", "bold", HEADING, metrics)
    indent = width_of(mark)
    items: list[Item] = [*place(mark, 0.0, HEADING_LEADING - BASELINE, "heading")]
    y = 0.0
    for line in _broken(_words(one.study, metrics), room - indent - (0.0 if narrow else boxes_width + CELLS_APART)):
        y += HEADING_LEADING
        items += place(line, indent, y - BASELINE, "heading")
    y += HEADING_LEADING if narrow else 0.0
    at = (indent, y - BASELINE) if narrow else (room - boxes_width, HEADING_LEADING - BASELINE)
    strips = [Strip(((tuple(items), 0.0, 0.0), (tuple(boxes), *at)), y)]
    shown = f"{one.rows} of {row_count(one.study)} shown." if one.rows < row_count(one.study) else ""
    remark = " ".join(filter(None, (one.study.remark, shown)))
    strips += [paragraph(remark, room, metrics, 2)] if remark else []
    whole = joined(strips)
    return whole._replace(height=whole.height + 1.0, studies=(number,))


def row_count(study: Study) -> int:
    """Return how many rows a study has."""
    return len(study.sounds) if study.kind == "sounds" else len(study.rows)


def metronome_mark(bpm: int, unit: Fraction) -> str:
    """Return a tempo as it is set on a metronome: beats that are too slow for it are divided.

    >>> metronome_mark(36, Fraction(1)), metronome_mark(28, Fraction(1)), metronome_mark(20, Fraction(3, 2))
    ('♩ = 36', 'eighths = 56', 'eighths = 60')
    """
    parts = 3 if unit == Fraction(3, 2) else 2
    if bpm < SLOWEST and unit >= 1:
        bpm, unit = bpm * parts, unit / parts
    return tempo_words(Tempo(str(bpm), bpm, unit))


def _boxes(one: TimedStudy, metrics: Metrics) -> tuple[list[Item], float]:
    """Set boxes and minutes on a baseline at y 0, and return how wide they are."""
    study, x = one.study, 0.0
    items: list[Item] = []
    marks = ["done"] if study.kind == "sounds" else []
    if not marks:
        marks = [metronome_mark(bpm, study.tempo.unit) for bpm in study.tempi]
    for mark in marks:
        text = runs(mark, "regular", TEXT, metrics)
        items += place(text, x, 0.0, "tempo")
        x += width_of(text) + BOX_GAP
        items += _box(x, 1.0 - BOX)
        x += BOX + TEMPI_APART
    text = runs(f"{one.minutes} min", "bold", HEADING, metrics)
    items += place(text, x, 0.0, "minutes")
    return items, x + width_of(text)


def _words(study: Study, metrics: Metrics) -> list[list[Run]]:
    """Set a heading in pieces between which a line may end: before a word, or a chord that follows a blank."""
    pieces: list[list[Run]] = [[]]
    for part in study.heading:
        if isinstance(part, Chord):
            pieces[-1] += chord_runs(part, metrics, HEADING_SIZES)
            continue
        text = f"{printed_name(part.tonic)}{'m' if part.minor else ''}" if isinstance(part, Key) else part
        for number, word in enumerate(text.split(" ")):
            if number:
                pieces.append(list(runs(" ", "bold", HEADING, metrics)))
            pieces[-1] += runs(word, "bold", HEADING, metrics)
    return [piece for piece in pieces if piece]


def _broken(pieces: Sequence[list[Run]], room: float) -> list[list[Run]]:
    """Set pieces side by side on as many lines as they need; a line begins with no blank."""
    lines: list[list[Run]] = [[]]
    for piece in pieces:
        if lines[-1] and width_of((*lines[-1], *piece)) > room:
            lines.append([])
        lines[-1] += piece[1:] if not lines[-1] and piece[0].text == " " else piece
    return lines


def _box(x: float, y: float) -> list[Item]:
    ends = ((x, y, x + BOX, y), (x + BOX, y, x + BOX, y + BOX), (x + BOX, y + BOX, x, y + BOX), (x, y + BOX, x, y))
    return [Line(*end, style.BARLINE, "box") for end in ends]
