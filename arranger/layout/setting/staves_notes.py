"""Arrange what sounds together on two small staves: heads, signs and dots beside each other, and the room they take.

Values are shown as in print: whole and half notes have open heads, all but whole ones stems; stems are an octave long;
seconds stand side by side, on the stem's two sides; fills are small. The notes are those of `sounding.notation`.
Engraving practice, no source.
"""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from arranger.layout.content.model import Column, PlacedBar, Staff
from arranger.layout.content.pictures import SIGNS
from arranger.layout.setting.staves import (
    BETWEEN,
    CLEAR,
    HEAD,
    HEAD_WIDTH,
    LOWEST,
    OPEN_HEAD,
    SIGN_GAP,
    SIGN_OVER,
    SIGN_UNDER,
    SIGNS_APART,
    SIZE,
    SPACE,
    sign_width,
)
from arranger.layout.text import Metrics
from arranger.sounding.notation import ROLL, WrittenNote
from arranger.sounding.staff_places import step_of

WHOLE_HEAD = "\U0001d15d"
WHOLE_WIDTH = 0.414  # of the size: its ink
SMALL = 0.72  # of their size: the notes of fills
STEM_LINE = 0.6
STEM, SHORT_STEM = 7.0, 5.0  # steps: an octave; what is enough where a stem without flag or beam leaves the staff
MIDDLE = 4  # steps from the lowest line to the middle one
TIE_ROOM = 5.0  # behind a note that is tied on: a tie that is seen
RESTS = {
    8.0: "\U0001d13a",
    4.0: "\U0001d13b",
    2.0: "\U0001d13c",
    1.0: "\U0001d13d",
    0.5: "\U0001d13e",
    0.25: "\U0001d13f",
    0.125: "\U0001d140",
}
SHORTEST_REST = 0.125
DOT_GAP, DOT = 1.8, 1.9  # points from a head to its dot; across the dot
FLAG_WIDTH = 1.05  # spaces that a flag reaches beyond its stem
STAVES: tuple[Staff, ...] = ("treble", "bass")
# Signs of playing, in steps of half a space. The dot of a short note lies in a space; accents stand outside the staff.
DOT_OFF = 2.0  # from the middle of a head to that of its dot
ACCENT_OFF, ACCENT_HIGH = 2.5, 2.0  # from a head or its dot to the middle of an accent; how high it is
FERMATA_OFF, FERMATA_HIGH = 1.2, 2.8  # from staff, head or accent to a fermata; how high it is
ROLL_ROOM = 1.4 * SPACE  # the wavy line before a chord, with its gap
TUPLET_OFF, TUPLET_HIGH = 1.0, 4.0  # from staff or notes to the number of a tuplet; how high it is with its bracket


class Cluster(NamedTuple):
    """Notes of one staff that sound together, arranged about the x of their column.

    Attributes:
        left, right: the room on both sides.
        heads: the x of each head, in the order of the notes.
        signs: the x of each sign, None where it has none.
        dots: where dots stand.
        width: of a head.
    """

    left: float
    right: float
    heads: tuple[float, ...]
    signs: tuple[float | None, ...]
    dots: float
    width: float


class PlacedNote(NamedTuple):
    """A note or rest of a line: at x, in its bar; how it is arranged, None of a rest."""

    note: WrittenNote
    x: float
    bar: PlacedBar
    arranged: Cluster | None

    @property
    def stem(self) -> float:
        """The x of its stem: right of the heads where it points up, else left of them."""
        assert self.arranged is not None
        return self.x + (self.arranged.width - STEM_LINE / 2 if self.note.stem_up else STEM_LINE / 2)


def head_of(note: WrittenNote) -> str:
    """Return the glyph of a note's heads."""
    return WHOLE_HEAD if note.value.plain >= 4 else OPEN_HEAD if note.value.plain >= 2 else HEAD


def scale_of(note: WrittenNote) -> float:
    """Return the size of a note, of the ordinary one."""
    return SMALL if note.small else 1.0


def has_flag(note: WrittenNote) -> bool:
    """Return whether a note has a flag of its own."""
    return bool(note.heads) and note.value.plain < 1 and not note.beams


def stem_steps(note: WrittenNote, staff: int) -> float:
    """Return how far a stem reaches beyond the last head on its way, in steps."""
    middle = LOWEST[STAVES[staff]] + MIDDLE
    steps = steps_of(note)
    outside = steps[-1] >= middle if note.stem_up else steps[0] <= middle
    return (SHORT_STEM if outside and note.value.plain >= 1 else STEM) * scale_of(note)


def steps_of(note: WrittenNote) -> tuple[int, ...]:
    """Return where the heads of a note lie, lowest first."""
    return tuple(step_of(head.pitch) for head in note.heads)


def cluster(note: WrittenNote) -> Cluster:
    """Arrange the heads, signs and dots of a note or chord."""
    signs = tuple(SIGNS[head.sign] if head.sign is not None else "" for head in note.heads)
    whole = note.value.plain >= 4
    flag = has_flag(note) and note.stem_up
    return _cluster(steps_of(note), signs, note.stem_up or whole, whole, note.value.dotted, flag, scale_of(note))


@lru_cache(maxsize=2048)
def _cluster(
    steps: tuple[int, ...], signs: tuple[str, ...], up: bool, whole: bool, dotted: bool, flag: bool, scale: float
) -> Cluster:
    width = (WHOLE_WIDTH if whole else HEAD_WIDTH) * SIZE * scale
    heads = [0.0] * len(steps)
    order = range(len(steps)) if up else range(len(steps) - 1, -1, -1)
    last: int | None = None
    for index in order:
        if last is not None and abs(steps[index] - steps[last]) <= 1 and heads[last] == 0:
            heads[index] = width if up else -width
        last = index
    right = max(heads) + width
    dots = right + DOT_GAP
    if dotted:
        right = dots + DOT
    if flag:
        right = max(right, width + FLAG_WIDTH * SPACE * scale)
    left = -min(heads)
    columns: list[list[int]] = []
    for index in range(len(steps) - 1, -1, -1):
        if signs[index]:
            free = (c for c in columns if all(abs(steps[other] - steps[index]) >= SIGNS_APART for other in c))
            column = next(free, None)
            if column is None:
                columns.append([index])
            else:
                column.append(index)
    places: list[float | None] = [None] * len(steps)
    for column in columns:
        left += SIGN_GAP + max(sign_width(signs[index]) for index in column) * scale
        for index in column:
            places[index] = -left
    return Cluster(left, right, tuple(heads), tuple(places), dots, width)


def rest_glyph(note: WrittenNote) -> str:
    """Return the glyph of a rest."""
    return RESTS[max(float(note.value.plain), SHORTEST_REST)]


def room_of(column: Column, metrics: Metrics) -> tuple[float, float]:
    """Return the room on both sides of a column that the notes and rests of both staves take."""
    left = right = 0.0
    for note in column.written:
        if note is None:
            continue
        if note.heads:
            arranged = cluster(note)
            tied = TIE_ROOM if any(head.tied_on for head in note.heads) else 0.0
            left, right = max(left, arranged.left), max(right, arranged.right + tied)
        else:
            dot = DOT_GAP + DOT if note.value.dotted else 0.0
            right = max(right, metrics.width(rest_glyph(note), "music", SIZE) + dot)
    rolled = any(note is not None and ROLL in note.signs for note in column.written)
    return left + (ROLL_ROOM if rolled else 0.0), right


def reach(note: WrittenNote, staff: int) -> tuple[float, float]:
    """Return the lowest and the highest step that a note with its stem comes to; stems reach the middle line."""
    steps = steps_of(note)
    low, high = float(steps[0]), float(steps[-1])
    if note.value.plain < 4:
        stem = stem_steps(note, staff)
        low, high = (low, high + stem) if note.stem_up else (low - stem, high)
    return low, high


class SignPlace(NamedTuple):
    """A sign of playing at a note, and from which to which step it reaches."""

    sign: str
    low: float
    high: float


def sign_places(note: WrittenNote, staff: int) -> tuple[SignPlace, ...]:
    """Return where the signs of playing at a note lie, the nearest first.

    A dot and an accent stand on the side of the heads, a fermata over the upper and under the lower staff. Common
    practice, no source.
    """
    if not note.heads or not note.signs:
        return ()
    bottom = LOWEST[STAVES[staff]]
    top, way, steps = bottom + 8, -1 if note.stem_up else 1, steps_of(note)
    edge = float(steps[-1] if way > 0 else steps[0])
    found: list[SignPlace] = []
    if "stop" in note.signs:
        at = edge + way * DOT_OFF
        on_line = bottom <= at <= top and (at - bottom) % 2 == 0
        edge = at + way if on_line else at
        found.append(SignPlace("stop", edge - 0.5, edge + 0.5))
    if "accent" in note.signs:
        away = way * ACCENT_OFF
        edge = max(edge + away, top + ACCENT_OFF) if way > 0 else min(edge + away, bottom - ACCENT_OFF)
        found.append(SignPlace("accent", edge - ACCENT_HIGH / 2, edge + ACCENT_HIGH / 2))
    if "hold" in note.signs:
        heads = (steps[0] - 1.0, steps[-1] + 1.0)
        reaches = [reach(note, staff), heads, *((one.low, one.high) for one in found)]
        over = max(float(top), *(high for _, high in reaches)) + FERMATA_OFF
        under = min(float(bottom), *(low for low, _ in reaches)) - FERMATA_OFF - FERMATA_HIGH
        low = under if staff else over
        found.append(SignPlace("hold", low, low + FERMATA_HIGH))
    return tuple(found)


def whole_reach(note: WrittenNote, staff: int) -> tuple[float, float]:
    """Return the lowest and the highest step that a note comes to with its stem, its signs and its tuplet's number."""
    low, high = reach(note, staff)
    for place in sign_places(note, staff):
        low, high = min(low, place.low), max(high, place.high)
    if note.value.tuplet is not None:
        bottom, room = LOWEST[STAVES[staff]], TUPLET_OFF + TUPLET_HIGH
        if note.stem_up:
            high = max(high, bottom + 8) + room
        else:
            low = min(low, bottom) - room
    return low, high


def extent(columns: Iterable[Column]) -> tuple[float, float, float]:
    """Return the room over the upper staff, between the two staves, and under the lower, in points.

    The first and the last count from the outer lines, the second from the lowest line to the top of the other staff.
    """
    half = SPACE / 2
    sounding: Sequence[list[WrittenNote]] = [], []
    for column in columns:
        for staff, note in enumerate(column.written):
            if note is not None and note.heads:
                sounding[staff].append(note)
    upper, lower = ([whole_reach(note, staff) for note in notes] for staff, notes in enumerate(sounding))
    tops = [steps_of(note)[-1] for note in sounding[0]]
    bottoms = [steps_of(note)[0] for note in sounding[1]]
    top, bottom = LOWEST["treble"] + 8, LOWEST["bass"]
    # The treble clef reaches 1.5 spaces over its staff and under it; heads half a space, signs more.
    above = max(
        1.5 * SPACE,
        max((step - top for _, step in upper), default=0) * half + 0.5 * SPACE,
        max((step - top for step in tops), default=0) * half + SIGN_OVER * SPACE,
    )
    hang = max((LOWEST["treble"] - step for step, _ in upper), default=0) * half
    rise = max((step - bottom - 8 for _, step in lower), default=0) * half
    between = max(BETWEEN * SPACE, max(hang, 0.0) + max(rise, 0.0) + CLEAR * SPACE)
    below = max(
        0.5 * SPACE,
        max((bottom - step for step, _ in lower), default=0) * half + 0.5 * SPACE,
        max((bottom - step for step in bottoms), default=0) * half + SIGN_UNDER * SPACE,
    )
    return above, between, below
