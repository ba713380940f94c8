"""Show the hands of a chord as keys, notes or letters; draw and measure pictures of keyboards.

The geometry is used by the drawing too. Where no unit is named, lengths are in widths of a white key.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache
from itertools import combinations

from arranger.harmony.model import Arrangement, ChordId, ChordPart
from arranger.layout.content.model import Picture
from arranger.layout.model import Disc, Item, Keyboard, KeyMark, Line, Shape, Tie
from arranger.layout.style import KEYS_AT_LEAST, MIDDLE_C, MIDDLE_C_WITHIN, STROKE, TIE, Look, Sizes
from arranger.layout.text import Metrics, Run, printed_name, printed_shape, runs
from arranger.text.source import NOWHERE, Span
from arranger.theory.pitch import Pitch, is_black
from arranger.units import Point

LEFT = "L.H."  # before the left hand's letters
OCTAVE_BELOW = "oct"  # after a left hand's letter: with its octave
_OCTAVE = 12
SIGNS = {-2: "𝄫", -1: "♭", 0: "♮", 1: "♯", 2: "𝄪"}


def picture(arrangement: Arrangement, where: ChordId, fresh: bool, look: Look, metrics: Metrics) -> Picture | None:
    """Return the picture of a chord's hands, None where both are silent.

    `fresh`: its hand is shown for the first time.
    """
    chord = arrangement.chord(where)
    if not chord.right and not chord.left:
        return None
    settled = chord.suspension
    resolution = settled.resolves_to if settled else None
    resolves = (settled.note.midi, resolution.midi) if settled and resolution else None
    played = marks(_hand_before(arrangement, chord), tuple(pitch.midi for pitch in chord.right))
    shown = {mark.key for mark in played} | {mark.origin for mark in played if mark.origin is not None}
    staves = look.hands == "staff"
    return Picture(
        marks=played,
        resolves=resolves,
        shown=tuple(sorted(shown.union(resolves or ()))),
        fingers=chord.fingers if fresh else (),
        left=_left_hand(chord.left, look.sizes, metrics) if not staves else (),
        shape=runs(printed_shape(chord.shape), "regular", look.sizes.small, metrics)
        if not (look.hands != "keyboard" and "-" in chord.shape)  # letters and notes say the notes themselves
        and not (staves and chord.repeats)
        and chord.right == chord.plain  # under a suspension it would name what is not there
        else (),
        letters=_letters(chord, resolution, played, look.sizes, metrics) if look.hands == "letters" else (),
        # A bar without notes on a staff is a silent one: there each chord is drawn.
        restated=chord.repeats and not staves,
        span=chord.span,
    )


def _hand_before(arrangement: Arrangement, chord: ChordPart) -> tuple[int, ...]:
    """Return the keys that are down when a chord comes; none where the hand is free."""
    if chord.came_from is None:
        return ()
    before = arrangement.chord(chord.came_from)
    resolved = before.suspension is not None and before.suspension.resolves_to is not None
    return tuple(pitch.midi for pitch in (before.plain if resolved else before.right))


def in_octaves(left: Sequence[Pitch]) -> bool:
    """Return whether the left hand plays a note and its octave."""
    return len(left) == 2 and left[0].name == left[1].name and left[1].midi - left[0].midi == _OCTAVE


def _left_hand(left: Sequence[Pitch], sizes: Sizes, metrics: Metrics) -> tuple[Run, ...]:
    """Set the left hand's letters; a note and its octave are one letter with a word after it."""
    if not left:
        return ()
    if in_octaves(left):
        return runs(f"{LEFT} {printed_name(left[0].name.plain())} {OCTAVE_BELOW}", "regular", sizes.small, metrics)
    names = " ".join(printed_name(pitch.name.plain()) for pitch in left)
    return runs(f"{LEFT} {names}", "regular", sizes.small, metrics)


def _letters(
    chord: ChordPart, resolution: Pitch | None, played: Sequence[KeyMark], sizes: Sizes, metrics: Metrics
) -> tuple[Run, ...]:
    """Set the right hand as letters, lowest first: what moves is bold, what stays is light."""
    parts: list[Run] = []
    for number, (pitch, mark) in enumerate(zip(chord.right, played, strict=True)):
        text = printed_name(pitch.name.plain())  # keys to press: nobody looks for a double flat, nor for F flat
        if resolution is not None and chord.suspension is not None and chord.suspension.note == pitch:
            text += f"→{printed_name(resolution.name.plain())}"
        if number:
            parts += runs("·", "regular", sizes.letters, metrics)
        parts += runs(text, "regular" if mark.kind == "held" else "bold", sizes.letters, metrics)
    return tuple(parts)


BLACK_WIDTH = 0.6  # of a white key: 13.7 of 23.5 mm at the base, published measures
BLACK_HEIGHT = 0.6  # of a white key's length; a little shorter than real ones (0.65), for room under them

_WHITE_STEP = (0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6)  # white keys below each key of an octave, or at it
# Where black keys lie across the gap of their neighbours, in white keys from the gap, as on real keyboards: the outer
# ones of a group lean outwards.
_LEAN = {1: -0.12, 3: 0.12, 6: -0.15, 8: 0.0, 10: 0.15}

# The signs in a picture, in widths of a white key.
MOVED_RADIUS = 0.44
HELD_RADIUS = 0.27  # clearly smaller, at a glance and out of focus
RING = 0.13  # the line of the ring where a suspension goes
TIE_WIDTH = 0.9
TIE_RISE = 2.6  # points
WHITE_DISC = 0.81  # where discs lie on a white key, of its length from the top: under the black keys
BLACK_DISC = 0.42  # and on a black one
MIDDLE_C_MARK = 2.2  # points: the tick under middle C


def white_index(key: int) -> int:
    """Count white keys from MIDI 0 to the white key, or to the one below a black key."""
    return 7 * (key // 12) + _WHITE_STEP[key % 12]


def white_key(index: int) -> int:
    """Return the MIDI number of a white key; the inverse of `white_index`.

    >>> white_key(white_index(65))
    65
    """
    octave, step = divmod(index, 7)
    return 12 * octave + (0, 2, 4, 5, 7, 9, 11)[step]


@cache
def white_count(low: int, high: int) -> int:
    """Count the white keys from one white key to another, both included."""
    return white_index(high) - white_index(low) + 1


def key_centre(key: int, low: int) -> float:
    """Return the middle of a key, in white keys from the left edge of a picture that begins with the key `low`."""
    place = white_index(key) - white_index(low)
    return place + 1.0 + _LEAN[key % 12] if is_black(key) else place + 0.5


def shown_range(keys: Sequence[int]) -> tuple[int, int]:
    """Return the first and last white key of a picture that shows all of these keys.

    It is wide enough to tell the place by the groups of black keys, and shows middle C if that is near.
    """
    low = white_index(min(keys))
    high = white_index(max(keys)) + (1 if is_black(max(keys)) else 0)
    middle = white_index(MIDDLE_C)
    lacking = KEYS_AT_LEAST - (high - low + 1)
    if 0 < low - middle <= max(MIDDLE_C_WITHIN, lacking):
        low = middle
    upward = True
    while high - low + 1 < KEYS_AT_LEAST:
        low, high = (low, high + 1) if upward else (low - 1, high)
        upward = not upward
    return white_key(low), white_key(high)


def marks(before: Sequence[int], now: Sequence[int]) -> tuple[KeyMark, ...]:
    """Return for each key whether it is held, or moved and from where. Both hands are given lowest first.

    Keys that stay down are held. The others are paired so that the sum of the ways is least: in order of pitch, and
    where their numbers differ, the best such pairing of the fewer; a note without a partner comes from nowhere.
    """
    return _marks(tuple(before), tuple(now))


@lru_cache(maxsize=1024)
def _marks(before: tuple[int, ...], now: tuple[int, ...]) -> tuple[KeyMark, ...]:
    stay = set(before) & set(now)
    left = [key for key in before if key not in stay]
    new = [key for key in now if key not in stay]
    origins = dict(_pairs(left, new))
    return tuple(
        KeyMark(key, "held") if key in stay else KeyMark(key, "moved" if before else "fresh", origins.get(key))
        for key in now
    )


def _pairs(left: list[int], new: list[int]) -> list[tuple[int, int]]:
    """Return (new, left) pairs of least distance."""
    fewer = min(len(left), len(new))
    choices = (
        list(zip(picked_new, picked_left, strict=True))
        for picked_new in combinations(new, fewer)
        for picked_left in combinations(left, fewer)
    )
    return min(choices, key=lambda pairs: sum(abs(a - b) for a, b in pairs))


def disc_place(key: int, picture: Keyboard) -> Point:
    """Return where the disc of a key lies on the page."""
    height = BLACK_DISC if is_black(key) else WHITE_DISC
    return Point(picture.x + key_centre(key, picture.low) * picture.key_width, picture.y + height * picture.height)


def signs(picture: Keyboard) -> tuple[Item, ...]:
    """Return what is drawn over the keys of a picture: strokes, then discs and ties."""
    unit, span = picture.key_width, picture.span
    played = [mark.key for mark in picture.marks]
    items: list[Item] = []
    for mark in picture.marks:
        if mark.origin is not None:
            start = _stroke_start(mark.origin, mark.key, played, picture)
            items.append(stroke(start, disc_place(mark.key, picture), STROKE, span))
    for mark in picture.marks:
        at = disc_place(mark.key, picture)
        held = mark.kind == "held"
        items.append(Disc(at.x, at.y, (HELD_RADIUS if held else MOVED_RADIUS) * unit, "disc", span=span))
        if held:
            half = TIE_WIDTH * unit / 2
            items.append(Tie(at.x - half, at.x + half, picture.y - 1.2, TIE_RISE, TIE, "tie", span=span))
    if picture.resolves is not None:
        start, end = (disc_place(key, picture) for key in picture.resolves)
        items.append(Line(start.x, start.y, end.x, end.y, STROKE * 0.5, "resolution", span=span))
        items.append(Disc(end.x, end.y, HELD_RADIUS * 1.25 * unit, "resolution", RING * unit, span=span))
    return tuple(items)


def _stroke_start(origin: int, key: int, played: Sequence[int], picture: Keyboard) -> Point:
    """Return where a moved note's stroke begins: on the key it comes from, or short of another played key between."""
    start, end = disc_place(origin, picture), disc_place(key, picture)
    between = [k for k in played if k != key and min(origin, key) <= k <= max(origin, key)]
    if not between:
        return start
    nearest = disc_place(min(between, key=lambda k: abs(k - key)), picture)
    share = max(0.0, abs(nearest.x - end.x) - 0.5 * picture.key_width) / max(abs(start.x - end.x), 1e-6)
    return Point(end.x + (start.x - end.x) * share, end.y + (start.y - end.y) * share)


def stroke(start: Point, end: Point, width: float, span: Span = NOWHERE) -> Shape:
    """Return a stroke from a point to a disc: it begins thin and grows, so that its direction shows."""
    along, across = end.x - start.x, end.y - start.y
    length = max((along**2 + across**2) ** 0.5, 1e-6)
    nx, ny = -across / length * width / 2, along / length * width / 2
    thin = 0.3  # of the width: a mere point would vanish in a photocopy
    points = (
        Point(start.x + nx * thin, start.y + ny * thin),
        Point(end.x + nx, end.y + ny),
        Point(end.x - nx, end.y - ny),
        Point(start.x - nx * thin, start.y - ny * thin),
    )
    return Shape(points, "stroke", span=span)
