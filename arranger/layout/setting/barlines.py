"""Draw barlines, repeats, endings and meters, the ticks of beats, and the notes of fills and hooks over a line."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import cycle
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.model import FillMark, PlacedBar, PlannedLine, Rows
from arranger.layout.content.pictures import key_centre
from arranger.layout.model import Box, Disc, Item, Line, Shape
from arranger.layout.setting.hand_places import hand_left
from arranger.layout.setting.line_rows import LEAD_ROW, TICK
from arranger.layout.setting.staves import FIGURE, SPACE, meter_size
from arranger.layout.style import Gaps
from arranger.layout.text import Metrics, place, runs, width_of
from arranger.text.source import Span
from arranger.units import Point

DOT = 1.7  # radius of a repeat dot
DOTS_APART = 4.0  # of each dot from the middle of the barline
STAFF_DOT = 0.25 * SPACE  # clear of the lines on both sides of its space
HOOK = 8.0  # how far an ending's bracket comes down


class Spot(NamedTuple):
    """A line of music, its rows, the x where its music begins, the y of its top, and the fonts."""

    line: PlannedLine
    rows: Rows
    x: float
    y: float
    metrics: Metrics


class _Upright(NamedTuple):
    """How the barlines of a line stand: from where to where, how dark, the heights and the radius of repeat dots."""

    top: float
    bottom: float
    grey: float
    dots: tuple[float, ...]
    dot: float


def _upright(at: Spot) -> _Upright:
    """Return how barlines stand: through both staves, dots at the middle lines; else from the hands to the words."""
    rows, y = at.rows, at.y
    if rows.treble:
        space = SPACE * at.line.look.staff
        middles = (y + rows.treble - 2 * space, y + rows.bass - 2 * space)
        dots = tuple(middle + side * space / 2 for middle in middles for side in (-1, 1))
        return _Upright(y + rows.treble - 4 * space, y + rows.bass, 0.0, dots, STAFF_DOT * at.line.look.staff)
    top, bottom = y + rows.top, y + rows.bottom
    middle = (top + bottom) / 2
    return _Upright(top, bottom, style.LINE_GREY, (middle - DOTS_APART, middle + DOTS_APART), DOT)


def set_barlines(at: Spot) -> list[Item]:
    """Place all barlines of a line."""
    bars, x = at.line.bars, at.x
    if not bars:
        return []
    items: list[Item] = []
    upright = _upright(at)
    if bars[0].content.repeat_start:
        items += _repeat(x + bars[0].opens, upright, bars[0], 1)
    elif bars[0].content.whole_start and not at.rows.treble:
        items.append(_stroke(x + bars[0].left, upright, bars[0], "barline"))
    for bar, following in zip(bars, (*bars[1:], None), strict=True):
        content, right = bar.content, x + bar.right
        if not content.whole_end:
            continue
        if content.repeat_times:
            items += _repeat(right, upright, bar, -1)
        if following is not None and following.content.repeat_start:
            items += _repeat(right, upright, following, 1)
        elif content.final and not content.repeat_times:
            items += [_stroke(right - style.THICK - 1.6, upright, bar), _heavy(right - style.THICK, upright, bar)]
        elif not content.repeat_times:
            if content.double:
                items.append(_stroke(right - style.DOUBLE_GAP, upright, bar, "barline"))
            items.append(_stroke(right, upright, bar, "barline"))
    return items


def _repeat(x: float, upright: _Upright, bar: PlacedBar, side: int) -> list[Item]:
    """Return a repeat sign with its outer edge at x, in reading order; its dots lie right of it (1) or left (-1)."""
    span = bar.content.span
    thin = x + side * (style.THICK + 1.6)
    dots = [Disc(thin + side * 3.2, y, upright.dot, "repeat", span=span) for y in upright.dots]
    parts = [_heavy(x if side > 0 else x - style.THICK, upright, bar), _stroke(thin, upright, bar)]
    return [*parts, *dots] if side > 0 else [*dots, *reversed(parts)]


def _heavy(x: float, upright: _Upright, bar: PlacedBar) -> Item:
    return Box(x, upright.top, style.THICK, upright.bottom - upright.top, "repeat", 0.0, bar.content.span)


def _stroke(x: float, upright: _Upright, bar: PlacedBar, role: str = "repeat") -> Item:
    grey = upright.grey if role == "barline" else 0.0
    return Line(x, upright.top, x, upright.bottom, style.BARLINE, role, grey, bar.content.span)


def set_endings(at: Spot, bar: PlacedBar) -> list[Item]:
    """Place the bracket of an ending over a bar, with its number, and how often a repeat is played if not twice."""
    content, metrics, size = bar.content, at.metrics, at.line.look.sizes.ending
    if not at.rows.endings:
        return []
    items: list[Item] = []
    baseline = at.y + at.rows.endings
    top = baseline - size
    left, right = at.x + bar.left + 1.0, at.x + bar.right - 1.0
    if content.in_ending:
        stretch = (left if content.ending else left - 1.0, right if content.ending_stops else right + 1.0)
        items.append(Line(stretch[0], top, stretch[1], top, style.BARLINE, "ending", span=content.span))
    if content.ending:
        items.append(Line(left, top, left, top + HOOK, style.BARLINE, "ending", span=content.span))
        items += place(runs(content.ending, "bold", size, metrics), left + 3.0, baseline, "ending", content.span)
    if content.ending_stops and content.repeat_times:
        items.append(Line(right, top, right, top + HOOK, style.BARLINE, "ending", span=content.span))
    # A numbered ending says by its numbers how often it is played.
    if content.repeat_times > 2 and not content.in_ending:
        times = runs(f"×{content.repeat_times}", "bold", size, metrics)
        items += place(times, right - 1.0 - width_of(times), baseline, "times", content.span)
    return items


def set_meter(at: Spot, bar: PlacedBar) -> list[Item]:
    """Place a meter where it changes: its figures one over the other, in two spaces each on staves."""
    meter, rows, metrics = bar.content.meter, at.rows, at.metrics
    if not bar.content.meter_shown:
        return []
    size = meter_size(at.line.look, metrics)
    figures = [runs(str(figure), "bold", size, metrics) for figure in (meter.beats, meter.unit)]
    width = max(map(width_of, figures))
    baselines = [rows.chord + 0.5 - metrics.cap_height("bold", size), rows.chord + 2.0]
    if rows.treble:
        space = SPACE * at.line.look.staff
        baselines = [low - (up + (2 - FIGURE) / 2) * space for low in (rows.treble, rows.bass) for up in (2, 0)]
    items: list[Item] = []
    for figure, y in zip(cycle(figures), baselines, strict=False):
        items += place(figure, at.x + bar.meter + (width - width_of(figure)) / 2, at.y + y, "meter", bar.content.span)
    return items


RULE = 0.9
BEAT_GAP = 0.8  # between the baseline of chords and the ticks of beats, clear of the letters in the next row
BEAT = 2.6  # how high the tick of a beat is under the chords: it stands where only letters hang
HELD = 1.8  # the rule under a note while it sounds
HELD_GAP = 3.0  # before the next note
HEAD = 2.6  # half the width of the arrow's head
LAND = 3.0  # how far right of a chord's left edge the line to it lands


def set_fills(at: Spot, bar: PlacedBar) -> list[Item]:
    """Place the notes of octave fills over a bar.

    Ticks stand in proportion to time between the chords; names over their ticks, or closer where there is no room.
    """
    filled = [(column.column.time, column.column.fill) for column in bar.columns if column.column.fill is not None]
    if not filled:
        return []
    items: list[Item] = []
    x, rule, octave = at.x, at.y + at.rows.rule, at.y + at.rows.octave
    ticks = [place_of(bar, time, chords_only=True) for time, _ in filled]
    names = _names(bar, ticks, [fill for _, fill in filled], at.line.look.gaps)
    for name, (_, fill) in zip(names, filled, strict=True):
        if fill.label:
            items += place(
                fill.label, x + name - style.NOTE_GAP - width_of(fill.label), octave, "octave label", fill.span
            )
        items += place(fill.runs, x + name, octave, "octave", fill.span)
    last = filled[-1][1]
    items += _rule(at, bar, rule, x + max(ticks[-1], names[-1] + width_of(last.runs)), last.span, chords_only=True)
    for tick, (time, fill) in zip(ticks, filled, strict=True):
        height = TICK - 0.5 if (time / bar.content.meter.felt_beat).denominator == 1 else TICK / 2
        items.append(Line(x + tick, rule - height, x + tick, rule, 1.2, "octave tick", span=fill.span))
        if fill.last:
            items += _lead(at, bar, tick, fill)
    return items


def fills_left(bar: PlacedBar, gaps: Gaps) -> float:
    """Return how far left the notes of a bar's fills reach, from the start of the line; infinite without any."""
    filled = [(column.column.time, column.column.fill) for column in bar.columns if column.column.fill is not None]
    if not filled:
        return float("inf")
    names = _names(bar, [place_of(bar, time, chords_only=True) for time, _ in filled], [f for _, f in filled], gaps)
    labels = [style.NOTE_GAP + width_of(fill.label) if fill.label else 0.0 for _, fill in filled]
    lefts = [name - label for name, label in zip(names, labels, strict=True)]
    return min(bar.columns[0].x, *lefts)


def _rule(at: Spot, bar: PlacedBar, y: float, end: float, span: Span, *, chords_only: bool = False) -> list[Item]:
    """Return the line under notes that are played, from the bar's first column, with ticks for its beats."""
    items: list[Item] = [Line(at.x + bar.columns[0].x, y, end, y, style.HAIR, "beats", style.LINE_GREY, span)]
    for beat in _beats(bar):
        x = at.x + place_of(bar, beat, chords_only=chords_only)
        if x <= end:
            items.append(Line(x, y - TICK + 1.0, x, y, style.HAIR, "beats", style.LINE_GREY, span))
    return items


def _names(bar: PlacedBar, ticks: Sequence[float], marks: Sequence[FillMark], gaps: Gaps) -> list[float]:
    """Return the x of the names: over their ticks, moved to the left as far as the next name or the barline asks.

    What would leave the bar at the left is moved back, as far as it is wide enough: `OCT last time` may begin over the
    bar before, where nothing is played.
    """
    names: list[float] = []
    limit = right = bar.right - gaps.bar
    for tick, mark in zip(reversed(ticks), reversed(marks), strict=True):
        names.insert(0, min(tick, limit - width_of(mark.runs)))
        limit = names[0] - style.NOTE_GAP - (width_of(mark.label) + style.NOTE_GAP if mark.label else 0.0)
    at = bar.columns[0].x
    for number, mark in enumerate(marks):
        at += width_of(mark.label) + style.NOTE_GAP if mark.label else 0.0
        names[number] = at = max(names[number], at)
        at += width_of(mark.runs) + style.NOTE_GAP
    over = max(0.0, at - style.NOTE_GAP - right)
    return [name - over for name in names]


def set_hooks(at: Spot, bar: PlacedBar) -> list[Item]:
    """Place the notes of hooks over a bar: names over a rule, heavy for as long as each note sounds."""
    hooked = [(column, column.column.hook) for column in bar.columns if column.column.hook is not None]
    if not hooked:
        return []
    rule, right = at.y + at.rows.hook_rule, at.x + bar.right - at.line.look.gaps.bar
    items = _rule(at, bar, rule, right, hooked[0][1].span)
    for column, hook in hooked:
        start = at.x + column.x
        items += place(hook.runs, start, at.y + at.rows.hook, "hook", hook.span)
        end = min(right, at.x + place_of(bar, column.column.time + hook.length) - HELD_GAP)
        items.append(Line(start, rule, max(end, start + HELD_GAP), rule, HELD, "hook length", span=hook.span))
        items.append(Line(start, rule - TICK + 0.5, start, rule, 1.2, "hook tick", span=hook.span))
    return items


def set_beats(at: Spot, bar: PlacedBar) -> list[Item]:
    """Place a tick for each beat under chords that are not equally long: a chord stands by its time."""
    if not bar.content.uneven:
        return []
    top = at.y + at.rows.chord + BEAT_GAP
    places = (at.x + place_of(bar, beat, chords_only=True) for beat in _beats(bar))
    return [Line(x, top, x, top + BEAT, RULE, "beat", span=bar.content.span) for x in places]


def _beats(bar: PlacedBar) -> list[Fraction]:
    """Return the felt beats of a bar, from the first that it shows."""
    content = bar.content
    step = content.meter.felt_beat
    count = int(content.length / step)
    return [beat * step for beat in range(count) if beat * step >= content.start]


def place_of(bar: PlacedBar, time: Fraction, *, chords_only: bool = False) -> float:
    """Return the x of a time in a bar: between two columns (of the chord row alone, where so asked), in proportion."""
    start, left = bar.columns[0].column.time, bar.columns[0].x
    if time < start:
        return left
    for column in bar.columns[1:]:
        if not chords_only or column.column.symbol is not None:
            if time < column.column.time:
                return _between((start, left), (column.column.time, column.x), time)
            start, left = column.column.time, column.x
    return _between((start, left), (bar.content.length, bar.right), time) if time < bar.content.length else bar.right


def _between(one: tuple[Fraction, float], two: tuple[Fraction, float], time: Fraction) -> float:
    """Return the x of a time between two others with theirs."""
    (start, left), (end, right) = one, two
    return left if time == start else left + (right - left) * float((time - start) / (end - start))


def _lead(at: Spot, bar: PlacedBar, tick: float, fill: FillMark) -> list[Item]:
    """Draw the line from the last note of a fill, at its tick, to its chord; to the barline where that is elsewhere."""
    line, x, rule, start = at.line, at.x, at.y + at.rows.rule, at.x + tick
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
        end = x + target.x + hand_left(target.column, target.picture, line.look)
        end += key_centre(fill.target, line.keys[0]) * line.key_width
    bottom = rule + LEAD_ROW - 1.5
    points = (Point(end, bottom), Point(end - HEAD, bottom - 2 * HEAD), Point(end + HEAD, bottom - 2 * HEAD))
    return [
        Line(start, rule, end + RULE / 2, rule, RULE, "lead", span=fill.span),
        Line(end, rule, end, bottom - 2 * HEAD, RULE, "lead", span=fill.span),
        Shape(points, "lead", span=fill.span),
    ]
