"""Draw what stands at the notes of a line on staves: signs of playing, and the numbers and brackets of tuplets.

The signs are those that MusicXML has for the same notes. Sizes and places by common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import cos, pi, sin

from arranger.layout.content.model import PlannedLine
from arranger.layout.model import Disc, Item, Line, Shape, Text
from arranger.layout.setting.staves import LOWEST, SIZE, SPACE, height_of
from arranger.layout.setting.staves_notes import (
    DOT,
    STAVES,
    TUPLET_HIGH,
    TUPLET_OFF,
    PlacedNote,
    cluster,
    reach,
    sign_places,
    steps_of,
)
from arranger.layout.text import Metrics
from arranger.sounding.notation import ROLL, WrittenNote
from arranger.text.source import Span
from arranger.units import Point

ACCENT_WIDTH, ACCENT_LINE = 1.4 * SPACE, 0.16 * SPACE
FERMATAS = ("\U0001d110", "\U0001d111")  # over the upper staff, under the lower one
FERMATA_MIDDLE, FERMATA_LIFT = 0.379, 0.648  # of its size: the middle of its ink; how high the upright one hangs
WAVE, WAVE_LONG, WAVE_LINE = 0.26 * SPACE, 1.1 * SPACE, 0.2 * SPACE  # of a roll: half its width, a wave, its thickness
_WAVE_STEPS = 8  # straight pieces of a wave, too short to be seen
ROLL_GAP = 0.5 * SPACE  # between a roll and what stands after it
TUPLET = 8.0  # the size of a tuplet's number
BRACKET, BRACKET_HOOK, BRACKET_GAP = 0.6, 0.7 * SPACE, 2.0  # of a tuplet: its line, its ends, the gap at its number


def set_signs(voice: Sequence[PlacedNote], staff: int, lowest: float) -> Iterator[Item]:
    """Yield the dots, accents and fermatas of a voice; `lowest` is the lowest line of its staff."""
    for one in voice:
        if one.arranged is None:
            continue
        middle, span = one.x + one.arranged.width / 2, one.note.span
        for sign, low, high in sign_places(one.note, staff):
            top, bottom = (lowest - (step - LOWEST[STAVES[staff]]) * SPACE / 2 for step in (high, low))
            if sign == "stop":
                yield Disc(middle, (top + bottom) / 2, DOT / 2, "staccato", span=span)
            elif sign == "accent":
                yield _accent(middle, top, bottom, span)
            else:
                baseline = top if staff else bottom + FERMATA_LIFT * SIZE
                yield Text(
                    middle - FERMATA_MIDDLE * SIZE, baseline, FERMATAS[staff], "music", SIZE, "fermata", span=span
                )


def _accent(middle: float, top: float, bottom: float, span: Span) -> Shape:
    """Return an accent: two strokes that meet at its right."""
    left, right, at = middle - ACCENT_WIDTH / 2, middle + ACCENT_WIDTH / 2, (top + bottom) / 2
    half = ACCENT_LINE / 2
    outer = (Point(left, top - half), Point(right, at - half), Point(right, at + half), Point(left, bottom + half))
    inner = (Point(left, bottom - half), Point(right - 5 * half, at), Point(left, top + half))
    return Shape((*outer, *inner), "accent", span=span)


def set_rolls(line: PlannedLine, x: float, treble: float, bass: float) -> list[Item]:
    """Place the wavy line before each chord that is rolled: through both staves where both hands roll as one.

    All but `x` is as on ordinary staves.
    """
    found: list[Item] = []
    for bar in line.bars:
        for placed in bar.columns:
            written = [note for note in placed.column.written if note is not None and note.heads]
            rolled = [note is not None and ROLL in note.signs for note in placed.column.written]
            if not any(rolled):
                continue
            left = (x + placed.x) / line.look.staff - max(cluster(note).left for note in written) - ROLL_GAP - WAVE
            ends = []
            for staff, (note, lowest) in enumerate(zip(placed.column.written, (treble, bass), strict=True)):
                if note is not None and rolled[staff]:
                    steps = steps_of(note)
                    ends += [
                        height_of(steps[-1] + 1, STAVES[staff], lowest),
                        height_of(steps[0] - 1, STAVES[staff], lowest),
                    ]
            found.append(_wave(left, min(ends), max(ends), written[0].span))
    return found


def _wave(x: float, top: float, bottom: float, span: Span) -> Shape:
    """Return a wavy line from top to bottom around x, thick where it slopes to the right."""
    count = max(2, round((bottom - top) / WAVE_LONG)) * _WAVE_STEPS
    edges: tuple[list[Point], list[Point]] = [], []
    for step in range(count + 1):
        turn = 2 * pi * step / _WAVE_STEPS
        half = WAVE_LINE * (0.7 + 0.3 * cos(turn)) / 2
        y = top + (bottom - top) * step / count
        for edge, side in zip(edges, (-1, 1), strict=True):
            edge.append(Point(x + WAVE * sin(turn) + side * half, y))
    return Shape((*edges[0], *reversed(edges[1])), "roll", span=span)


# --- tuplets -------------------------------------------------------------------------------------------------------


def set_tuplets(voice: Sequence[PlacedNote], staff: int, lowest: float, metrics: Metrics) -> Iterator[Item]:
    """Yield the number of each tuplet on the side of its stems, in a bracket unless one beam joins its notes."""
    run: list[PlacedNote] = []
    for one, following in pairwise((*voice, None)):
        if one is None or one.note.value.tuplet is None:
            continue
        run.append(one)
        end = one.note.end
        inside = end.denominator & (end.denominator - 1) != 0
        same = following is not None and following.note.value.tuplet == one.note.value.tuplet
        if inside and same and following is not None and following.bar is one.bar:
            continue
        yield from _tuplet(run, staff, lowest, metrics)
        run = []


def _tuplet(run: Sequence[PlacedNote], staff: int, lowest: float, metrics: Metrics) -> Iterator[Item]:
    notes = [one.note for one in run if one.arranged is not None]
    bottom = LOWEST[STAVES[staff]]
    up = all(note.stem_up for note in notes)
    reaches = [reach(note, staff) for note in notes]
    if up:
        step = max((bottom + 8.0, *(high for _, high in reaches))) + TUPLET_OFF
    else:
        step = min((float(bottom), *(low for low, _ in reaches))) - TUPLET_OFF - TUPLET_HIGH
    low = lowest - (step - bottom) * SPACE / 2  # the lower end of its room
    middle = low - TUPLET_HIGH * SPACE / 4
    span, number = run[0].note.span, str(run[0].note.value.tuplet[0]) if run[0].note.value.tuplet else ""
    left, right = run[0].x, run[-1].x + (run[-1].arranged.width if run[-1].arranged is not None else SPACE)
    width = metrics.width(number, "bold", TUPLET)
    at = (left + right - width) / 2
    yield Text(at, middle + metrics.cap_height("bold", TUPLET) / 2, number, "bold", TUPLET, "tuplet", span=span)
    if _joined(notes, run):
        return
    hook = BRACKET_HOOK if up else -BRACKET_HOOK
    for start, stop, edge in ((left, at - BRACKET_GAP, left), (at + width + BRACKET_GAP, right, right)):
        if start < stop:
            yield Line(start, middle, stop, middle, BRACKET, "tuplet bracket", span=span)
        yield Line(
            edge,
            middle - BRACKET / 2 if up else middle + BRACKET / 2,
            edge,
            middle + hook,
            BRACKET,
            "tuplet bracket",
            span=span,
        )


def _joined(notes: Sequence[WrittenNote], run: Sequence[PlacedNote]) -> bool:
    """Return whether one beam joins all notes of a tuplet, and nothing else."""
    if len(notes) != len(run) or len(notes) < 2:
        return False
    kinds = [note.beams[0] if note.beams else "" for note in notes]
    return kinds[0] == "begin" and kinds[-1] == "end" and all(kind == "continue" for kind in kinds[1:-1])
