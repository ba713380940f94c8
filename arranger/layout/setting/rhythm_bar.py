"""Draw a bar of rhythm: when each hand strikes, on two lines, the right hand's stems up and the left hand's down.

Heads of part of a hand stand a little under the line (all but the top key), or follow the keys that are played in turn.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from arranger.harmony.patterns import Part, Stroke
from arranger.layout import style
from arranger.layout.content.model import RhythmBar
from arranger.layout.model import Item, Line, Shape, Text, Tie
from arranger.layout.setting.staves import HEAD, HEAD_LEFT, HEAD_MIDDLE, HEAD_WIDTH, OPEN_HEAD
from arranger.song.model import Meter
from arranger.text.source import Span
from arranger.units import Point

SIZE = 12.0  # of the music face: heads of 1.3 mm, told apart when the section is looked over before it is played
EIGHTH = 8.0  # points for an eighth where there is room
BEFORE, AFTER = 3.0, 2.0  # the barlines and the first and last note
STEM = 8.0
STEM_LINE, BEAM_LINE, STAFF_LINE = 0.6, 1.8, 0.35
RIGHT, LEFT = 12.5, 21.5  # the two lines, from the top
HEIGHT = 34.0
DOT = 1.6  # points from a head to its dot, whose side is as long
REACH = 2.5  # points by which heads leave their line, at most
WHOLE, HALF = Fraction(4), Fraction(2)
VALUES = tuple(Fraction(n, 4) for n in (16, 12, 8, 6, 4, 3, 2, 1))  # quarters that one note lasts, with a dot or none
DOTTED = (Fraction(3), Fraction(3, 2), Fraction(3, 4))
RESTS = (
    (Fraction(4), "\U0001d13b"),
    (Fraction(2), "\U0001d13c"),
    (Fraction(1), "\U0001d13d"),
    (Fraction(1, 2), "\U0001d13e"),
)
_HEIGHTS: dict[Part, float] = {
    "right hand": 0.0,
    "lower keys": -REACH / 2,
    "left hand": 0.0,
    "lowest note": -REACH,
    "fifth": -REACH / 3,
    "octave": REACH / 3,
    "highest note": REACH / 3,
    "tenth": REACH,
}
IN_TURN = (-REACH, 0.0, REACH, 0.0)  # keys from below and back: the way of a hand of three


class _Note(NamedTuple):
    """A note or, without a height, a rest: its place and value in quarters; `tied` to the one before it."""

    start: Fraction
    value: Fraction
    height: float | None
    tied: bool = False


def rhythm_width(bars: Sequence[RhythmBar], width: float) -> float | None:
    """Return the room for an eighth in a line of bars; None where their notes would touch."""
    eighths = float(sum(bar.meter.length for bar in bars)) * 2
    each = min(EIGHTH, (width - len(bars) * (BEFORE + AFTER)) / eighths)
    closest = min(float(stroke.length) * 2 for bar in bars for stroke in bar.strokes)
    return each if each * closest >= HEAD_WIDTH * SIZE + 0.8 else None


def beside_each_other(bars: tuple[RhythmBar, ...], width: float) -> tuple[tuple[RhythmBar, ...], ...]:
    """Return the lines that bars of rhythm take: one where there is room, else one each; a bar too long is left out."""
    if bars and rhythm_width(bars, width) is not None:
        return (bars,)
    return tuple((bar,) for bar in bars if rhythm_width((bar,), width) is not None)


def set_rhythm(bars: Sequence[RhythmBar], x: float, y: float, width: float, span: Span) -> list[Item]:
    """Place bars of rhythm side by side, their top left at (x, y)."""
    each = rhythm_width(bars, width)
    if each is None:
        return []
    items: list[Item] = []
    left = x
    for bar in bars:
        end = left + BEFORE + float(bar.meter.length) * 2 * each + AFTER
        for right, line in ((True, y + RIGHT), (False, y + LEFT)):
            items.append(Line(x, line, end, line, STAFF_LINE, "rhythm line", style.LINE_GREY, span))
            notes = list(_notes([s for s in bar.strokes if s.is_right == right], bar.meter))
            items += _hand(notes, bar.meter, left + BEFORE, line, each, right=right, span=span)
        for at in (left, end):
            items.append(
                Line(at, y + RIGHT - REACH, at, y + LEFT + REACH, STAFF_LINE, "rhythm line", style.LINE_GREY, span)
            )
        left = end
    return items


def _notes(strokes: Sequence[Stroke], meter: Meter) -> Iterator[_Note]:
    """Yield the notes and rests of one hand."""
    now, turn = Fraction(0), 0
    for stroke in strokes:
        yield from _split(now, stroke.start - now, None)
        height = _HEIGHTS.get(stroke.part, IN_TURN[turn % len(IN_TURN)])
        turn += stroke.part == "next key"
        yield from _split(stroke.start, stroke.length, height)
        now = stroke.start + stroke.length
    yield from _split(now, meter.length - now, None)


def _split(start: Fraction, length: Fraction, height: float | None) -> Iterator[_Note]:
    """Yield notes that last a length together, tied; or rests."""
    tied = False
    while length > 0:
        values = VALUES if height is not None else [value for value, _ in RESTS]
        value = next((value for value in values if value <= length), length)
        yield _Note(start, value, height, tied)
        start, length, tied = start + value, length - value, True


def _hand(
    notes: Sequence[_Note], meter: Meter, x: float, line: float, each: float, *, right: bool, span: Span
) -> list[Item]:
    items: list[Item] = []
    width = HEAD_WIDTH * SIZE
    way = -1 if right else 1
    beam = line + way * (STEM + REACH)

    def at(note: _Note) -> float:
        return x + float(note.start) * 2 * each

    for number, note in enumerate(notes):
        if note.height is None:
            items.append(_rest(note, at(note), line, span))
            continue
        middle = line - note.height
        sign = OPEN_HEAD if note.value >= HALF else HEAD
        items.append(
            Text(at(note) - HEAD_LEFT * SIZE, middle + HEAD_MIDDLE * SIZE, sign, "music", SIZE, "rhythm", span=span)
        )
        if note.value in DOTTED:
            dot = at(note) + width + DOT
            corners = ((0.0, -DOT / 2), (DOT, -DOT / 2), (DOT, DOT / 2), (0.0, DOT / 2))
            items.append(Shape(tuple(Point(dot + a, middle - 1.5 + b) for a, b in corners), "rhythm", span=span))
        if note.value < WHOLE:
            stem = at(note) + (width - STEM_LINE / 2 if right else STEM_LINE / 2)
            items.append(Line(stem, middle, stem, beam, STEM_LINE, "rhythm", span=span))
        if note.tied:
            start = at(notes[number - 1]) + width
            items.append(Tie(start, at(note), middle - way * 2.4, way * -1.8, 0.7, "rhythm", span=span))
    for group in _beamed(notes, meter):
        ends = [at(note) + (width - STEM_LINE / 2 if right else STEM_LINE / 2) for note in group]
        for level in range(2 if group[0].value < Fraction(1, 2) else 1):
            height = beam - way * (BEAM_LINE / 2 + level * 2.6)
            if len(group) > 1:
                items.append(
                    Line(
                        ends[0] - STEM_LINE / 2,
                        height,
                        ends[-1] + STEM_LINE / 2,
                        height,
                        BEAM_LINE,
                        "rhythm",
                        span=span,
                    )
                )
            else:  # a note by itself has a flag
                items.append(Line(ends[0], height, ends[0] + 3.2, height - way * 3.2, 1.2, "rhythm", span=span))
    return items


def _rest(note: _Note, x: float, line: float, span: Span) -> Text:
    sign = next((sign for value, sign in RESTS if value <= note.value), RESTS[-1][1])
    return Text(x - 0.05 * SIZE, line + 0.5 * SIZE, sign, "music", SIZE, "rhythm", span=span)


def _beamed(notes: Sequence[_Note], meter: Meter) -> list[list[_Note]]:
    """Return the notes that a beam joins: neighbours shorter than a quarter inside a beat, or a half of a plain bar."""
    beat = meter.felt_beat if meter.felt_beat > 1 else Fraction(1)
    if meter.length in (2, 4) and meter.unit < 8:
        beat = Fraction(2)
    elif meter.length == 3 and meter.unit < 8:
        beat = Fraction(3)
    groups = []
    for (_, short), some in groupby(notes, lambda n: (n.start // beat, n.height is not None and n.value < 1)):
        if short:
            groups.append(list(some))
    return groups
