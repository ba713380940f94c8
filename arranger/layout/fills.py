"""The octave row: note names over the beats, on a rule with a tick at each beat, led to the chord that they lead to."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from arranger.layout import style
from arranger.layout.content import FillMark, PlacedBar, PlannedLine, Rows
from arranger.layout.keyboard import key_centre
from arranger.layout.model import Item, Line, Shape
from arranger.layout.rows import LEAD_ROW, TICK
from arranger.layout.text import place, width_of
from arranger.units import Point

RULE = 0.9
BEAT_GAP = 0.8  # between the baseline of chords and the ticks of beats, clear of the letters in the next row
BEAT = 2.6  # how high the tick of a beat is under the chords: it stands where only letters hang
HELD = 1.8  # the rule under a note while it sounds
HELD_GAP = 3.0  # before the next note
HEAD = 2.6  # half the width of the arrow's head
LAND = 3.0  # how far right of a chord's left edge the line to it lands


def set_fills(line: PlannedLine, rows: Rows, bar: PlacedBar, x: float, y: float) -> list[Item]:
    """Place what a bar has in the octave row, of a line whose music begins at x and whose top is y.

    Ticks stand in proportion to time between the chords; names over their ticks, or closer where there is no room.
    """
    filled = [(column.column.time, column.column.fill) for column in bar.columns if column.column.fill is not None]
    if not filled:
        return []
    items: list[Item] = []
    rule = y + rows.rule
    ticks = [place_of(bar, time, chords_only=True) for time, _ in filled]
    names = _names(bar, ticks, [fill for _, fill in filled])
    for name, (_, fill) in zip(names, filled, strict=True):
        if fill.label:
            label = x + name - style.NOTE_GAP - width_of(fill.label)
            items += place(fill.label, label, y + rows.octave, "octave label", fill.span)
        items += place(fill.runs, x + name, y + rows.octave, "octave", fill.span)
    last = filled[-1][1]
    begin, end = x + bar.columns[0].x, x + max(ticks[-1], names[-1] + width_of(last.runs))
    items.append(Line(begin, rule, end, rule, style.HAIR, "beats", style.LINE_GREY, last.span))
    for beat in _beats(bar):
        at = x + place_of(bar, beat, chords_only=True)
        if at <= end:
            items.append(Line(at, rule - TICK + 1.0, at, rule, style.HAIR, "beats", style.LINE_GREY, last.span))
    for tick, (time, fill) in zip(ticks, filled, strict=True):
        height = TICK - 0.5 if (time / bar.content.meter.felt_beat).denominator == 1 else TICK / 2
        items.append(Line(x + tick, rule - height, x + tick, rule, 1.2, "octave tick", span=fill.span))
        if fill.last:
            items += _lead(line, rows, bar, tick, fill, (x, y))
    return items


def _names(bar: PlacedBar, ticks: Sequence[float], marks: Sequence[FillMark]) -> list[float]:
    """Return the x of the names: over their ticks, moved to the left as far as the next name or the barline asks.

    The bar is wide enough for all of them; what would leave it at the left is moved back.
    """
    names: list[float] = []
    limit = bar.right - style.BAR_END
    for tick, mark in zip(reversed(ticks), reversed(marks), strict=True):
        names.insert(0, min(tick, limit - width_of(mark.runs)))
        limit = names[0] - style.NOTE_GAP - (width_of(mark.label) + style.NOTE_GAP if mark.label else 0.0)
    at = bar.columns[0].x
    for number, mark in enumerate(marks):
        at += width_of(mark.label) + style.NOTE_GAP if mark.label else 0.0
        names[number] = at = max(names[number], at)
        at += width_of(mark.runs) + style.NOTE_GAP
    return names


def set_hooks(rows: Rows, bar: PlacedBar, x: float, y: float) -> list[Item]:
    """Place what a bar has to be played as written: names over a rule, heavy for as long as each note sounds."""
    hooked = [(column, column.column.hook) for column in bar.columns if column.column.hook is not None]
    if not hooked:
        return []
    rule = y + rows.hook_rule
    span = hooked[0][1].span
    right = x + bar.right - style.BAR_END
    items: list[Item] = [Line(x + bar.columns[0].x, rule, right, rule, style.HAIR, "beats", style.LINE_GREY, span)]
    for beat in _beats(bar):
        at = x + place_of(bar, beat)
        if at <= right:
            items.append(Line(at, rule - TICK + 1.0, at, rule, style.HAIR, "beats", style.LINE_GREY, span))
    for column, hook in hooked:
        start = x + column.x
        items += place(hook.runs, start, y + rows.hook, "hook", hook.span)
        end = min(right, x + place_of(bar, column.column.time + hook.length) - HELD_GAP)
        items.append(Line(start, rule, max(end, start + HELD_GAP), rule, HELD, "hook length", span=hook.span))
        items.append(Line(start, rule - TICK + 0.5, start, rule, 1.2, "hook tick", span=hook.span))
    return items


def set_beats(rows: Rows, bar: PlacedBar, x: float, y: float) -> list[Item]:
    """Place a tick for each beat under chords that are not equally long: a chord stands by its time."""
    if not bar.content.uneven:
        return []
    top = y + rows.chord + BEAT_GAP
    places = (x + place_of(bar, beat, chords_only=True) for beat in _beats(bar))
    return [Line(at, top, at, top + BEAT, RULE, "beat", span=bar.content.span) for at in places]


def _beats(bar: PlacedBar) -> list[Fraction]:
    """Return the felt beats of a bar, from the first that it shows."""
    content = bar.content
    step = content.meter.felt_beat
    count = int(content.length / step)
    return [beat * step for beat in range(count) if beat * step >= content.start]


def place_of(bar: PlacedBar, time: Fraction, *, chords_only: bool = False) -> float:
    """Return the x of a time in a bar: between two columns (of the chord row alone, where so asked), in proportion."""
    known = [
        (column.column.time, column.x)
        for number, column in enumerate(bar.columns)
        if number == 0 or not chords_only or column.column.symbol is not None
    ]
    known.append((bar.content.length, bar.right))
    for (start, left), (end, right) in pairwise(known):
        if start <= time < end:
            return left + (right - left) * float((time - start) / (end - start))
    return known[0][1] if time < known[0][0] else bar.right


def _lead(
    line: PlannedLine, rows: Rows, bar: PlacedBar, tick: float, fill: FillMark, corner: tuple[float, float]
) -> list[Item]:
    """Draw the line from the last note of a fill to its chord; to the barline where that is on another line.

    `tick` is the place of the note, `corner` where the music of the line begins and its top.
    """
    x, y = corner
    rule, start = y + rows.rule, x + tick
    target = next((c for b in line.bars for c in b.columns if c.column.chord == fill.to), None)
    if target is None or target.x <= tick:
        end = x + bar.right - 1.0
        points = (Point(end, rule), Point(end - 2 * HEAD, rule - HEAD), Point(end - 2 * HEAD, rule + HEAD))
        return [
            Line(start, rule, end - HEAD, rule, RULE, "lead", span=fill.span),
            Shape(points, "lead", span=fill.span),
        ]
    end = x + target.x + LAND
    if line.look.hands == "keyboard" and target.picture is not None and fill.target is not None:
        end = x + target.x + key_centre(fill.target, line.keys[0]) * line.key_width
    bottom = rule + LEAD_ROW - 1.5
    points = (Point(end, bottom), Point(end - HEAD, bottom - 2 * HEAD), Point(end + HEAD, bottom - 2 * HEAD))
    return [
        Line(start, rule, end + RULE / 2, rule, RULE, "lead", span=fill.span),
        Line(end, rule, end, bottom - 2 * HEAD, RULE, "lead", span=fill.span),
        Shape(points, "lead", span=fill.span),
    ]
