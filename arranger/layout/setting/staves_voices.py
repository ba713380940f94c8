"""Draw the voices of a line on its two staves: heads, stems, beams, flags, rests, dots, ties."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from arranger.layout.content.model import PlannedLine, Staff
from arranger.layout.content.pictures import SIGNS
from arranger.layout.curves import on_cubic
from arranger.layout.model import Disc, Item, Line, Shape, Text, Tie, grown
from arranger.layout.setting.staves import (
    HEAD_LEFT,
    HEAD_MIDDLE,
    LEDGER_LINE,
    LEDGER_OUT,
    LOWEST,
    SIZE,
    SPACE,
    amid,
    height_of,
    rest_rise,
    set_accidental,
)
from arranger.layout.setting.staves_notes import (
    DOT,
    DOT_GAP,
    FLAG_WIDTH,
    MIDDLE,
    STAVES,
    STEM_LINE,
    Cluster,
    PlacedNote,
    cluster,
    head_of,
    rest_glyph,
    scale_of,
    stem_steps,
    steps_of,
)
from arranger.layout.setting.staves_signs import set_rolls, set_signs, set_tuplets
from arranger.layout.text import Metrics
from arranger.sounding.notation import WrittenNote
from arranger.text.source import Span
from arranger.units import Point

BEAM = 0.5  # spaces that a beam is thick
BEAM_STEP = 0.75  # spaces from one beam to the next
SLOPE = 1.0  # spaces that a beam rises or falls at most
SHORTEST = 2.5  # spaces from a head to its beam at least
HOOK = 1.1  # spaces: a beam of one note among longer ones
TIE_LINE = 0.9
TIE_RISE = 2.2
TIE_OFF = 0.3  # spaces by which a tie ends above or below the middle of its head, so that it clears a staff line
TIE_GAP = 0.8  # between a tie and its head
TIE_AT_EDGE = 8.0  # of a tie that comes from the line before, or goes on in the next
_FLAG_STEPS = 8  # straight pieces of each edge, too short to be seen


def set_voices(line: PlannedLine, x: float, treble: float, bass: float, metrics: Metrics) -> list[Item]:
    """Place the voices of a line from x on; `treble` and `bass` are the lowest lines of the staves."""
    items: list[Item] = []
    size = line.look.staff  # all is placed as on ordinary staves, then made smaller
    treble, bass = treble / size, bass / size
    places: tuple[tuple[Staff, float], ...] = (("treble", treble), ("bass", bass))
    for number, (staff, lowest) in enumerate(places):
        voice = [
            PlacedNote(note, (x + placed.x) / size, bar, cluster(note) if note.heads else None)
            for bar in line.bars
            for placed in bar.columns
            if (note := placed.column.written[number]) is not None
        ]
        for one in voice:
            if one.arranged is not None:
                items += _heads(one.note, one.arranged, one.x, staff, lowest)
            else:
                items += _rest(one, staff, lowest, x, line, metrics)
        items += _stems(voice, staff, lowest)
        items += _ties(voice, staff, lowest, line, x)
        items += set_tuplets(voice, number, lowest, metrics)
        items += set_signs(voice, number, lowest)
    return grown([*items, *set_rolls(line, x, treble, bass)], size)


def _heads(note: WrittenNote, arranged: Cluster, x: float, staff: Staff, lowest: float) -> Iterator[Item]:
    scale, span, steps = scale_of(note), note.span, steps_of(note)
    size = SIZE * scale
    yield from _ledgers(note, arranged, x, staff, lowest)
    dotted: set[int] = set()
    for head, step, shift, sign in zip(note.heads, steps, arranged.heads, arranged.signs, strict=True):
        middle = height_of(step, staff, lowest)
        if sign is not None and head.sign is not None:
            yield set_accidental(SIGNS[head.sign], x + sign, middle, span, scale)
        at = middle + HEAD_MIDDLE * size
        yield Text(x + shift - HEAD_LEFT * size, at, head_of(note), "music", size, "note", span=span)
        if note.value.dotted:
            space = step + 1 if (step - LOWEST[staff]) % 2 == 0 else step
            space = space - 2 if space in dotted else space
            dotted.add(space)
            dot = x + arranged.dots + DOT / 2
            yield Disc(dot, height_of(space, staff, lowest), DOT / 2 * scale, "dot", span=span)


def _ledgers(note: WrittenNote, arranged: Cluster, x: float, staff: Staff, lowest: float) -> Iterator[Item]:
    """Yield the ledger lines of a chord, each as long as the heads on it or beyond it need."""
    low, high = LOWEST[staff], LOWEST[staff] + 8
    ends: dict[int, tuple[float, float]] = {}
    for step, shift in zip(steps_of(note), arranged.heads, strict=True):
        for line in (*range(low - 2, step - 1, -2), *range(high + 2, step + 1, 2)):
            left, right = ends.get(line, (shift, shift))
            ends[line] = min(left, shift), max(right, shift)
    out = LEDGER_OUT * scale_of(note)
    for line, (left, right) in ends.items():
        at = height_of(line, staff, lowest)
        yield Line(x + left - out, at, x + right + arranged.width + out, at, LEDGER_LINE, "ledger", span=note.span)


def _rest(
    one: PlacedNote, staff: Staff, lowest: float, x: float, line: PlannedLine, metrics: Metrics
) -> Iterator[Item]:
    """Yield a rest, amid its bar where it lasts all of it; the upper one is read where the song says `rest`."""
    note, glyph = one.note, rest_glyph(one.note)
    width = metrics.width(glyph, "music", SIZE)
    whole = note.whole_bar and one.bar.content.whole_start and one.bar.content.whole_end
    size = line.look.staff
    left = amid(one.x * size, x + one.bar.right, width * size, line.look) / size if whole else one.x
    said = any(
        column.symbol is not None and column.symbol.role == "rest" and column.time == note.start
        for column in one.bar.content.columns
    )
    role = "rest" if said and staff == "treble" else "staff sign"
    yield Text(left, lowest - rest_rise(glyph), glyph, "music", SIZE, role, span=note.span)
    if note.value.dotted:
        at = height_of(LOWEST[staff] + MIDDLE + 1, staff, lowest)
        yield Disc(left + width + DOT_GAP + DOT / 2, at, DOT / 2, "dot", span=note.span)


# --- stems, flags and beams --------------------------------------------------------------------------------------


def _stems(voice: Sequence[PlacedNote], staff: Staff, lowest: float) -> Iterator[Item]:
    joined: list[PlacedNote] = []
    for one, following in pairwise((*voice, None)):
        if one is None or one.arranged is None or one.note.value.plain >= 4:
            continue
        if one.note.beams:
            joined.append(one)
            goes_on = one.note.beams[0] in ("begin", "continue")
            if goes_on and following is not None and following.note.beams and following.bar is one.bar:
                continue
            yield from _beamed(joined, staff, lowest) if len(joined) > 1 else _alone(joined[0], staff, lowest)
            joined = []
        else:
            yield from _alone(one, staff, lowest)


def _ends(note: WrittenNote, staff: Staff, lowest: float) -> tuple[float, float]:
    """Return the heights of the head from which a stem comes, and of the last head before its tip."""
    steps = steps_of(note)
    near, far = (steps[0], steps[-1]) if note.stem_up else (steps[-1], steps[0])
    return height_of(near, staff, lowest), height_of(far, staff, lowest)


def _tip(note: WrittenNote, staff: Staff, lowest: float) -> float:
    """Return the height of a stem's tip: an octave from the head, and to the middle line from ledger lines."""
    _, far = _ends(note, staff, lowest)
    middle = height_of(LOWEST[staff] + MIDDLE, staff, lowest)
    length = stem_steps(note, STAVES.index(staff)) * SPACE / 2
    return min(far - length, middle) if note.stem_up else max(far + length, middle)


def _alone(one: PlacedNote, staff: Staff, lowest: float) -> Iterator[Item]:
    start, _ = _ends(one.note, staff, lowest)
    tip = _tip(one.note, staff, lowest)
    yield Line(one.stem, start, one.stem, tip, STEM_LINE, "stem", span=one.note.span)
    if one.note.value.plain < 1:
        way = 1 if one.note.stem_up else -1
        for number in range(_flags(one.note)):
            at = tip + way * number * BEAM_STEP * SPACE
            yield _flag(one.stem, at, way, scale_of(one.note), one.note.span)


def _flags(note: WrittenNote) -> int:
    return max(1, (1 / (2 * note.value.plain)).numerator.bit_length())


def _flag(x: float, tip: float, way: int, scale: float, span: Span) -> Shape:
    """Return a flag: it hangs from the tip of a stem, thick at first and bent back at its end."""
    unit = SPACE * scale
    outer = ((0.0, 0.0), (0.1, 0.9), (FLAG_WIDTH * 1.35, 1.2), (FLAG_WIDTH * 0.72, 2.7))
    inner = ((0.0, 0.65), (0.3, 1.3), (FLAG_WIDTH * 1.1, 1.5), (FLAG_WIDTH * 0.72, 2.7))
    points = [on_cubic(outer, step / _FLAG_STEPS) for step in range(_FLAG_STEPS + 1)]
    points += [on_cubic(inner, step / _FLAG_STEPS) for step in range(_FLAG_STEPS - 1, -1, -1)]
    return Shape(tuple(Point(x + u * unit, tip + way * v * unit) for u, v in points), "flag", span=span)


def _beamed(group: Sequence[PlacedNote], staff: Staff, lowest: float) -> Iterator[Item]:
    """Yield stems and beams of notes that are joined: a straight beam that slopes little, and clears all heads."""
    up = group[0].note.stem_up
    way = -1 if up else 1  # from the heads to the beam
    scale = scale_of(group[0].note)
    tips = [_tip(one.note, staff, lowest) for one in group]
    first, last = group[0], group[-1]
    across = last.stem - first.stem
    rise = tips[-1] - tips[0]
    inner = [tip for tip in tips[1:-1] if (tip < min(tips[0], tips[-1]) if up else tip > max(tips[0], tips[-1]))]
    slope = 0.0 if inner else max(-SLOPE * SPACE, min(SLOPE * SPACE, rise / 2)) / across

    def gap(one: PlacedNote, tip: float) -> float:
        """Return how far the beam must be moved for a stem to be as long as it should be."""
        return way * (tip - (slope * (one.stem - first.stem)))

    start = way * max(gap(one, tip) for one, tip in zip(group, tips, strict=True))
    if not inner and len(group) > 1:  # stems may be a little shorter than an octave where the beam slopes
        least = [_ends(one.note, staff, lowest)[1] + way * SHORTEST * SPACE * scale for one in group]
        shortest = way * max(gap(one, tip) for one, tip in zip(group, least, strict=True))
        mean = way * sum(gap(one, tip) for one, tip in zip(group, tips, strict=True)) / len(group)
        start = min(shortest, mean) if up else max(shortest, mean)

    def height(at: float) -> float:
        return start + slope * (at - first.stem)

    for one in group:
        near, _ = _ends(one.note, staff, lowest)
        yield Line(one.stem, near, one.stem, height(one.stem), STEM_LINE, "stem", span=one.note.span)
    for level in range(max(len(one.note.beams) for one in group)):
        inward = -way * level * BEAM_STEP * SPACE * scale
        for left, right in _stretches(group, level):
            thick = -way * BEAM * SPACE * scale
            ends = ((left, height(left)), (right, height(right)))
            upper = [Point(at, y + inward) for at, y in ends]
            lower = [Point(at, y + inward + thick) for at, y in reversed(ends)]
            yield Shape((*upper, *lower), "beam", span=first.note.span)


def _stretches(group: Sequence[PlacedNote], level: int) -> Iterator[tuple[float, float]]:
    """Yield from where to where the beams of one level go."""
    edge = STEM_LINE / 2
    begun: float | None = None
    for place, one in enumerate(group):
        kind = one.note.beams[level] if level < len(one.note.beams) else ""
        if kind in ("forward", "backward"):
            side = 1 if kind == "forward" and place + 1 < len(group) else -1
            yield (one.stem - edge, one.stem + HOOK * SPACE) if side > 0 else (one.stem - HOOK * SPACE, one.stem + edge)
        elif kind and begun is None:
            begun = one.stem - edge
        ends = kind == "end" or place == len(group) - 1
        if kind in ("begin", "continue", "end") and ends and begun is not None:
            yield begun, one.stem + edge
            begun = None


# --- ties -----------------------------------------------------------------------------------------------------------


def _ties(voice: Sequence[PlacedNote], staff: Staff, lowest: float, line: PlannedLine, x: float) -> Iterator[Item]:
    """Yield the ties of a voice; those that come from another line or go on there end at its edge."""
    for number, one in enumerate(voice):
        if one.arranged is None:
            continue
        following = voice[number + 1] if number + 1 < len(voice) else None
        steps = steps_of(one.note)
        for place, (head, step) in enumerate(zip(one.note.heads, steps, strict=True)):
            left = one.x + one.arranged.heads[place]
            side = 1 if _curves_up(place, steps, one.note, LOWEST[staff] + MIDDLE) else -1
            at = height_of(step, staff, lowest) - side * TIE_OFF * SPACE
            ends = None
            if head.tied_on:
                start = left + one.arranged.width + TIE_GAP
                start += DOT_GAP + DOT if one.note.value.dotted else 0.0
                ends = start, _tied_to(following, step, (x + line.bars[-1].right) / line.look.staff - TIE_GAP)
            if head.tied_back and number == 0:
                yield _tie(left - TIE_GAP - TIE_AT_EDGE, left - TIE_GAP, at, side, one.note.span)
            if ends is not None:
                yield _tie(*ends, at, side, one.note.span)


def _tied_to(following: PlacedNote | None, step: int, edge: float) -> float:
    """Return where a tie to the next note ends: before its head, or at the edge of the line."""
    if following is None or following.arranged is None:
        return edge
    steps = steps_of(following.note)
    shift = following.arranged.heads[steps.index(step)] if step in steps else 0.0
    return following.x + shift - TIE_GAP


def _tie(start: float, end: float, at: float, side: int, span: Span) -> Tie:
    return Tie(
        start, max(end, start + 3.0), at, side * min(TIE_RISE, 1.2 + (end - start) / 16), TIE_LINE, "tie", span=span
    )


def _curves_up(place: int, steps: Sequence[int], note: WrittenNote, middle: int) -> bool:
    """Return which way a tie curves: of a note alone away from its stem; a chord's upper half up, its lower half down.

    The middle note of an odd number goes by the middle line.
    """
    if len(steps) == 1:
        return not note.stem_up if note.value.plain < 4 else steps[0] >= middle
    rank = 2 * place - (len(steps) - 1)
    return rank > 0 if rank else steps[place] >= middle
