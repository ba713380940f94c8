"""Draw notes, signs and rests on two small staves, and find the room that they take.

A *step* is a place on the staff: 7 x octave + letter (C 0 to B 6), so middle C is 28. The clefs, heads and signs are of
the music face, drawn for a staff as high as their size whose lowest line is the baseline; lengths named in spaces are
of `SPACE`. There is a key signature at each line's start; a chord states every sign in which it differs, whatever
stood before it in the bar, so that it can be read on its own. All is drawn as on staves of 7 mm, then made
smaller as a whole for a look with smaller ones.
"""

from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.model import BarContent, Staff
from arranger.layout.content.pictures import SIGNS
from arranger.layout.curves import on_cubic
from arranger.layout.model import Item, Line, Shape, Text
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
HEAD_GAP = 4.0  # after the signature
NOTE_APART = 4.0  # between two notes at least
NOTE_PAD = 2.0  # between a barline and the first note, beside the gap of the look


def sign_width(sign: str) -> float:
    """Return how wide a sign is, in points."""
    share, width, _ = _SIGN_SHAPE[sign]
    return share * width * SIZE


def signature_width(key: Key | None) -> float:
    """Return the room of clef and signature at the start of a line."""
    count = abs(key.signature) if key is not None else 0
    sign = SIGNS[1 if key is not None and key.signature > 0 else -1]
    return CLEF_WIDTH + count * sign_width(sign) + HEAD_GAP


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
            items.append(set_accidental(sign, at, height_of(step + shift, staff, y), span))
            at += sign_width(sign)
    return items


def height_of(step: int, staff: Staff, lowest: float) -> float:
    """Return the height of a step on a staff whose lowest line is at `lowest`."""
    return lowest - (step - LOWEST[staff]) * SPACE / 2


def set_accidental(sign: str, x: float, middle: float, span: Span, scale: float = 1.0) -> Text:
    """Place a sign before a note: its ink from x on, its middle at that height; `scale` is that of small notes."""
    share, _, height = _SIGN_SHAPE[sign]
    size = share * SIZE * scale
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
ON_STAVES = ("rest", "repeat", "slash")  # signs that stand on the staves rather than in the chord row


class StaffSign(NamedTuple):
    """What stands amid a bar on both staves where no note does: its glyph and its width."""

    text: str
    width: float
    span: Span


def meter_size(look: Look, metrics: Metrics) -> float:
    """Return the size of a meter's figures: on staves one fills two spaces, as in print."""
    return FIGURE * SPACE * look.staff / metrics.cap_height("bold", 1.0) if look.hands == "staff" else look.sizes.meter


def set_brace(x: float, treble: float, bass: float, span: Span = NOWHERE) -> list[Item]:
    """Join both staves at their left end x: a line, and a brace before it."""
    top = treble - 4 * SPACE
    left, height = x - BRACE_GAP - BRACE_WIDTH, bass - top
    outer = [on_cubic(_OUTER, step / _BRACE_STEPS) for step in range(_BRACE_STEPS + 1)]
    inner = [on_cubic(_INNER, step / _BRACE_STEPS) for step in range(_BRACE_STEPS + 1)]
    half = [*outer, *reversed(inner[1:-1])]
    shapes = [
        Shape(tuple(Point(left + u * BRACE_WIDTH, top + v * height) for u, v in points), "brace", span=span)
        for points in (half, [(u, 1.0 - v) for u, v in half])
    ]
    return [Line(x, top, x, bass, style.BARLINE, "barline", span=span), *shapes]


def signs_of(bar: BarContent, metrics: Metrics) -> tuple[StaffSign | None, ...]:
    """Return what stands on both staves at each column of a bar beside notes and rests: the sign of a repeated bar."""
    found: list[StaffSign | None] = []
    for column in bar.columns:
        symbol = column.symbol
        if symbol is None or symbol.role != "repeat":
            found.append(None)
            continue
        text = "".join(run.text for run in symbol.runs)
        found.append(StaffSign(text, metrics.width(text, "music", SIZE), symbol.span))
    return tuple(found)


def set_sign(sign: StaffSign, x: float, treble: float, bass: float) -> list[Text]:
    """Place a sign on both staves from x on; only the upper one is read as what the song says."""
    return [
        Text(x, lowest, sign.text, "music", SIZE, role, span=sign.span)
        for lowest, role in ((treble, "repeat"), (bass, "staff sign"))
    ]


def amid(first: float, end: float, width: float, look: Look) -> float:
    """Return the x of what stands amid its bar: the bar's first column lies at `first`, its barline at `end`."""
    return (first - NOTE_PAD + end - look.gaps.bar - width) / 2


def rest_rise(glyph: str) -> float:
    """Return how far over the lowest line a rest begins: the face has two of them a line lower than they stand."""
    return SPACE if glyph in (_WHOLE, _HALF) else 0.0
