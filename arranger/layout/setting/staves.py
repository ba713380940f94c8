"""Draw notes, signs and rests on two small staves, and find the room that they take.

A *step* is a place on the staff: 7 x octave + letter (C 0 to B 6), so middle C is 28. The clefs, heads and signs are of
the music face, drawn for a staff as high as their size whose lowest line is the baseline; lengths named in spaces are
of `SPACE`. There is a key signature at each line's start; a chord states every sign in which it differs, whatever
stood before it in the bar, so that it can be read on its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.model import BarContent, Staff, StaffNote
from arranger.layout.content.pictures import SIGNS
from arranger.layout.content.symbols import rest_runs
from arranger.layout.model import Disc, Face, Item, Line, Shape, Text, Tie
from arranger.layout.style import Look
from arranger.layout.text import Metrics
from arranger.text.source import NOWHERE, Span
from arranger.theory.key import Key
from arranger.units import Point

SPACE = 5.0  # between staff lines: staves of 7 mm, the size of parts; heads of 1.8 mm
SIZE = 4 * SPACE
STAFF_LINE = 0.45
LEDGER_LINE = 0.7
LEDGER_OUT = 1.6  # how far a ledger line reaches beyond a head, on both sides
LOWEST = {"treble": 30, "bass": 18}  # the steps of the lowest lines: E4, G2
HEAD, OPEN_HEAD = "\U0001d158", "\U0001d157"
HEAD_WIDTH, HEAD_LEFT, HEAD_MIDDLE = 0.297, 0.05, 0.134  # of the size: its ink, its bearing, its middle's height
CLEFS = {"treble": "\U0001d11e", "bass": "\U0001d122"}
CLEF_WIDTH = 0.9 * SIZE  # to the signature: the dots of the bass clef keep clear of it
# Of each sign: its share of the size, its width, and how high its middle lies, in shares of its own size.
_SIGN_SHAPE = {
    "𝄫": (0.85, 0.42, 0.11),
    "♭": (0.85, 0.30, 0.11),
    "♮": (0.85, 0.31, 0.10),
    "♯": (0.72, 0.51, 0.178),
    "𝄪": (1.0, 0.31, 0.131),
}
SIGN_GAP = 1.2
SIGN_OVER, SIGN_UNDER = 1.5, 1.3  # spaces that a sign reaches above and below the middle of its note, at most
SIGNS_APART = 6  # steps between two signs that may stand over each other
SHARPS, FLATS = (38, 35, 39, 36, 33, 37, 34), (34, 37, 33, 36, 32, 35, 31)  # steps of a treble staff's signature
BETWEEN = 3.5  # spaces between the staves at least, with middle C in them; notes that need more get it
CLEAR = 1.5  # spaces between the lowest note of the upper staff and the highest of the lower
HEAD_GAP = 4.0  # after the signature, and between a head and the note it resolves to
TIE_LENGTH = 6.5
TIE_RISE = 1.9
TIE_LINE = 0.9
TIE_OFF = 0.2  # spaces by which a tie ends above or below the middle of its head, so that it clears a staff line
TIE_GAP = 0.5  # before the head or sign at which a tie ends
TIE_REACH = (0.2, 1.4)  # steps from its note between which a tie lies
# Steps that a sign reaches above and below its note, where a tie would run into it.
_SIGN_REACH = {"𝄫": (3.4, 1.3), "♭": (3.4, 1.3), "♮": (2.9, 2.9), "♯": (2.9, 2.9), "𝄪": (1.3, 1.3)}


class HeldTie(NamedTuple):
    """A tie that comes to a note from the left: the note, from where to where, and whether it curves up."""

    note: StaffNote
    start: float
    end: float
    up: bool


class Cluster(NamedTuple):
    """Notes that sound together, arranged: the room to the left (signs, ties), to the right, and each part's x."""

    left: float
    right: float
    heads: tuple[tuple[StaffNote, float], ...]
    signs: tuple[tuple[StaffNote, float], ...]
    ties: tuple[HeldTie, ...]


@lru_cache(maxsize=1024)
def cluster(notes: tuple[StaffNote, ...]) -> Cluster:
    """Arrange notes that sound together: seconds side by side, signs in as few columns as keep them apart."""
    width = HEAD_WIDTH * SIZE
    heads: list[tuple[StaffNote, float]] = []
    aside = False
    ordered = sorted(notes, key=lambda note: (note.staff, note.kind == "resolution", note.step))
    for number, note in enumerate(ordered):
        if note.kind == "resolution":
            continue
        last = ordered[number - 1] if number else None
        near = last is not None and last.staff == note.staff and note.step - last.step <= 1
        aside = near and not aside
        heads.append((note, width if aside else 0.0))
    right = max((x for _, x in heads), default=0.0) + width
    for note in ordered:
        if note.kind == "resolution":
            room = sign_width(note.sign) + SIGN_GAP if note.sign else 0.0
            heads.append((note, right + HEAD_GAP + room))
            right += HEAD_GAP + room + width
    columns: list[list[StaffNote]] = []
    for note in sorted(notes, key=lambda n: -n.step):
        if note.sign and note.kind != "resolution":
            free = (c for c in columns if all(abs(c_n.step - note.step) >= SIGNS_APART for c_n in c))
            column = next(free, None)
            if column is None:
                columns.append([note])
            else:
                column.append(note)
    signs: list[tuple[StaffNote, float]] = []
    left = 0.0
    for column in columns:
        left += SIGN_GAP + max(sign_width(note.sign) for note in column)
        signs += [(note, -left) for note in column]
    signs += [(n, x - SIGN_GAP - sign_width(n.sign)) for n, x in heads if n.kind == "resolution" and n.sign]
    ties = _ties(heads, signs)
    left = max((left, *(-tie.start for tie in ties)))
    return Cluster(left, right, tuple(heads), tuple(signs), ties)


def _ties(heads: Sequence[tuple[StaffNote, float]], signs: Sequence[tuple[StaffNote, float]]) -> tuple[HeldTie, ...]:
    """Return a tie for each note that stays: it ends at its head, or left of what stands in its way."""
    steps = sorted(note.step for note, _ in heads if note.staff == "treble" and note.kind != "resolution")
    ties = []
    for note, x in heads:
        if note.kind != "held":
            continue
        up = _curves_up(note.step, steps)
        low, high = TIE_REACH if up else (-TIE_REACH[1], -TIE_REACH[0])
        ways = [at for sign, at in signs if at < x and _in_way(sign, note.step + low, note.step + high)]
        # A head beside it stands in the way where the tie would run through it, not where it runs over it.
        ways += [at for other, at in heads if at < x and other.step - note.step == (1 if up else -1)]
        end = min((x, *ways)) - TIE_GAP
        ties.append(HeldTie(note, min(end, 0.0) - TIE_LENGTH, end, up))
    return tuple(ties)


def _in_way(sign: StaffNote, low: float, high: float) -> bool:
    above, below = _SIGN_REACH[sign.sign]
    return sign.step - below < high and sign.step + above > low


def _curves_up(step: int, steps: Sequence[int]) -> bool:
    """Return which way the tie of a note curves: the chord's upper half up, its lower half down, seconds apart.

    The middle note of an odd number goes by the middle line, as a note alone does.
    """
    below, above = step - 1 in steps, step + 1 in steps
    if below != above:
        return below
    rank = 2 * steps.index(step) - (len(steps) - 1)
    return rank > 0 if rank else step >= LOWEST["treble"] + 4


def sign_width(sign: str) -> float:
    """Return how wide a sign is, in points."""
    share, width, _ = _SIGN_SHAPE[sign]
    return share * width * SIZE


def signature_width(key: Key | None) -> float:
    """Return the room of clef and signature at the start of a line."""
    count = abs(key.signature) if key is not None else 0
    sign = SIGNS[1 if key is not None and key.signature > 0 else -1]
    return CLEF_WIDTH + count * sign_width(sign) + HEAD_GAP


def extent(notes: Sequence[StaffNote]) -> tuple[float, float, float]:
    """Return the room over the upper staff, between the two staves, and under the lower, in points.

    The first and the last count from the outer lines, the second from the lowest line to the top of the other staff.
    """
    half = SPACE / 2
    upper = [note.step for note in notes if note.staff == "treble"]
    lower = [note.step for note in notes if note.staff == "bass"]
    top = LOWEST["treble"] + 8
    # The treble clef reaches 1.5 spaces over its staff and under it; heads half a space.
    above = max(1.5 * SPACE, max((step - top for step in upper), default=0) * half + SIGN_OVER * SPACE)
    hang = max((LOWEST["treble"] - step for step in upper), default=0) * half
    rise = max((step - LOWEST["bass"] - 8 for step in lower), default=0) * half
    between = max(BETWEEN * SPACE, max(hang, 0.0) + max(rise, 0.0) + CLEAR * SPACE)
    below = max(0.5 * SPACE, max((LOWEST["bass"] - step for step in lower), default=0) * half + SIGN_UNDER * SPACE)
    return above, between, below


def set_staves(x: float, right: float, treble: float, bass: float, key: Key | None, span: Span = NOWHERE) -> list[Item]:
    """Place both staves from x to `right` with clefs and signature; `treble` and `bass` are their lowest lines."""
    items: list[Item] = []
    places: tuple[tuple[Staff, float, int], ...] = (("treble", treble, 0), ("bass", bass, -14))
    for staff, y, shift in places:
        for line in range(5):
            at = y - line * SPACE
            items.append(Line(x, at, right, at, STAFF_LINE, "staff", span=span))
        items.append(Text(x + 1.5, y, CLEFS[staff], "music", SIZE, "clef", span=span))
        at = x + CLEF_WIDTH
        count = key.signature if key is not None else 0
        for step in (SHARPS if count > 0 else FLATS)[: abs(count)]:
            sign = SIGNS[1 if count > 0 else -1]
            items.append(_accidental(sign, at, _height(step + shift, staff, y), span))
            at += sign_width(sign)
    return items


def set_notes(
    notes: tuple[StaffNote, ...], x: float, treble: float, bass: float, metrics: Metrics, span: Span = NOWHERE
) -> list[Item]:
    """Place the notes of one chord, their heads from x on."""
    arranged = cluster(notes)
    items: list[Item] = []
    width = HEAD_WIDTH * SIZE
    lowest = {"treble": treble, "bass": bass}
    for note, shift in arranged.heads:
        low, high = LOWEST[note.staff], LOWEST[note.staff] + 8
        for line in (*range(low - 2, note.step - 1, -2), *range(high + 2, note.step + 1, 2)):
            at = _height(line, note.staff, lowest[note.staff])
            ends = x + shift - LEDGER_OUT, x + shift + width + LEDGER_OUT
            items.append(Line(ends[0], at, ends[1], at, LEDGER_LINE, "ledger", span=span))
    for note, shift in arranged.signs:
        items.append(_accidental(note.sign, x + shift, _height(note.step, note.staff, lowest[note.staff]), span))
    for note, shift in arranged.heads:
        left, middle = x + shift, _height(note.step, note.staff, lowest[note.staff])
        if note.kind != "resolution":
            sign = OPEN_HEAD if note.kind in ("held", "again") else HEAD
            at = middle + HEAD_MIDDLE * SIZE
            items.append(Text(left - HEAD_LEFT * SIZE, at, sign, "music", SIZE, "note", span=span))
            continue
        beside = (head for head in arranged.heads if head[0].staff == note.staff and abs(head[0].step - note.step) == 1)
        start = next(beside, None)
        if start is not None:
            ends = x + start[1] + width + 0.8, left - 0.8
            from_y = _height(start[0].step, note.staff, treble)
            items.append(Line(ends[0], from_y, ends[1], middle, 0.9, "resolution", span=span))
        items.append(Disc(left + width / 2, middle, SPACE * 0.36, "resolution", 0.9, span=span))
    for tie in arranged.ties:
        side = 1 if tie.up else -1
        at = _height(tie.note.step, tie.note.staff, treble) - side * TIE_OFF * SPACE
        items.append(Tie(x + tie.start, x + tie.end, at, side * TIE_RISE, TIE_LINE, "tie", span=span))
    return items


def _height(step: int, staff: Staff, lowest: float) -> float:
    return lowest - (step - LOWEST[staff]) * SPACE / 2


def _accidental(sign: str, x: float, middle: float, span: Span) -> Text:
    share, _, height = _SIGN_SHAPE[sign]
    size = share * SIZE
    return Text(x - 0.05 * size, middle + height * size, sign, "music", size, "accidental", span=span)


BRACE_WIDTH = 6.0
BRACE_GAP = 1.5  # between the brace and the line that joins the staves
# The upper half of a brace: the outer and the inner edge from its tip to its point as cubic curves, in shares of
# its width from the left and of its height from the top. The face has no brace, and one must fit any height.
_OUTER = ((1.0, 0.0), (0.15, 0.12), (0.75, 0.36), (0.0, 0.5))
_INNER = ((1.0, 0.0), (0.5, 0.12), (1.1, 0.38), (0.0, 0.5))
_BRACE_STEPS = 12  # straight pieces of each edge, too short to be seen
FIGURE = 1.88  # spaces that a meter's figure is high: of its two, so that round figures do not touch
_WHOLE, _HALF = "\U0001d13b", "\U0001d13c"
SLASH_HIGH, SLASH_LOW = 0.781, 0.12  # of its size: how far the bold slash rises and hangs
SLASH_SIZE = 2 * SPACE / (SLASH_HIGH + SLASH_LOW)  # so that it fills the middle two spaces, as in print
# How far over the lowest line they begin: the face has these rests a line lower than they stand on five lines.
_RISES = {_WHOLE: SPACE, _HALF: SPACE, "/": SPACE + SLASH_LOW * SLASH_SIZE}
ON_STAVES = ("rest", "repeat", "slash")  # signs that stand on the staves rather than in the chord row
WHOLE_BAR = Fraction(4)  # a silent bar has the rest of four quarters, whatever its meter


class StaffSign(NamedTuple):
    """What stands on both staves where no note does: its glyphs, their type, its role, whether it is amid its bar."""

    text: str
    face: Face
    size: float
    role: str
    amid: bool
    width: float
    span: Span


def meter_size(look: Look, metrics: Metrics) -> float:
    """Return the size of a meter's figures: on staves one fills two spaces, as in print."""
    return FIGURE * SPACE / metrics.cap_height("bold", 1.0) if look.hands == "staff" else look.sizes.meter


def set_brace(x: float, treble: float, bass: float, span: Span = NOWHERE) -> list[Item]:
    """Join both staves at their left end x: a line, and a brace before it."""
    top = treble - 4 * SPACE
    left, height = x - BRACE_GAP - BRACE_WIDTH, bass - top
    outer = [_cubic(_OUTER, step / _BRACE_STEPS) for step in range(_BRACE_STEPS + 1)]
    inner = [_cubic(_INNER, step / _BRACE_STEPS) for step in range(_BRACE_STEPS + 1)]
    half = [*outer, *reversed(inner[1:-1])]
    shapes = [
        Shape(tuple(Point(left + u * BRACE_WIDTH, top + v * height) for u, v in points), "brace", span=span)
        for points in (half, [(u, 1.0 - v) for u, v in half])
    ]
    return [Line(x, top, x, bass, style.BARLINE, "barline", span=span), *shapes]


def _cubic(points: tuple[tuple[float, float], ...], at: float) -> tuple[float, float]:
    """Return the point of a cubic curve at 0 to 1 of its way."""
    weights = ((1 - at) ** 3, 3 * at * (1 - at) ** 2, 3 * at**2 * (1 - at), at**3)
    x, y = (sum(weight * point[axis] for weight, point in zip(weights, points, strict=True)) for axis in (0, 1))
    return x, y


def signs_of(bar: BarContent, metrics: Metrics) -> tuple[StaffSign | None, ...]:
    """Return what stands on the staves at each column of a bar beside notes.

    Rests where the hands are silent, the sign of a repeated bar, slashes where a chord goes on through a whole bar.
    """
    found: list[StaffSign | None] = []
    parts = [number for number, column in enumerate(bar.columns) if column.chord is not None]
    for number, column in enumerate(bar.columns):
        symbol = column.symbol
        silent = column.chord is not None and column.picture is None
        alone = silent and parts == [number] and column.time == 0 and bar.whole_start and bar.whole_end
        if symbol is not None and (symbol.role in ("rest", "repeat") or (symbol.role == "slash" and not parts)):
            text = "".join(run.text for run in symbol.runs)
            found.append(_sign(text, symbol.role, alone or symbol.role == "repeat", metrics, symbol.span))
        elif silent:
            end = next((bar.columns[later].time for later in parts if later > number), bar.length)
            # Where a bar is broken right after it, its length is not known here.
            length = WHOLE_BAR if alone else (end - column.time or WHOLE_BAR)
            text = "".join(run.text for run in rest_runs(length, metrics))
            found.append(_sign(text, "staff sign", alone, metrics, bar.span))
        else:
            found.append(None)
    return tuple(found)


def _sign(text: str, role: str, amid: bool, metrics: Metrics, span: Span) -> StaffSign:
    face: Face = "bold" if role == "slash" else "music"
    size = SLASH_SIZE if role == "slash" else SIZE
    return StaffSign(text, face, size, role, amid, metrics.width(text, face, size), span)


def set_sign(sign: StaffSign, x: float, treble: float, bass: float, metrics: Metrics) -> list[Text]:
    """Place a sign on both staves from x on; only the upper one is read as what the song says."""
    items: list[Text] = []
    for lowest, role in ((treble, sign.role), (bass, "staff sign")):
        at = x
        for glyph in sign.text:
            items.append(Text(at, lowest - _RISES.get(glyph, 0.0), glyph, sign.face, sign.size, role, span=sign.span))
            at += metrics.width(glyph, sign.face, sign.size)
    return items
