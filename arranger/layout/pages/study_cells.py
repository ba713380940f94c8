"""Draw what studies are made of, before it has a place on the page: rows of hands as pictures, lines of text."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.content.margin_text import key_words
from arranger.layout.content.pictures import in_octaves, key_centre, marks, shown_range, white_count
from arranger.layout.content.symbols import chord_runs
from arranger.layout.model import Item, Keyboard, KeyMark
from arranger.layout.style import Sizes
from arranger.layout.text import Metrics, Run, cut, place, printed_name, runs, width_of, wrap
from arranger.studies.model import SoundRow, StudyHand, StudyRow, Words
from arranger.theory.key import Key

SIZES = Sizes(chord=13.0, raised=10.0, rise=3.7)  # capitals have 16 minutes at 71 cm, the keys beside them
TEXT = style.SMALL
LEADING = 10.5
KEYBOARD = style.KEY_HEIGHT_CLOSE
KEY_WIDTHS = (6.2, 5.4, 4.8)  # of a white key: the widest with which two rows stand side by side
FINGERS = 7.0  # from the top to the baseline of the fingers, and to the keys
KEYS = 13.0
SYMBOL = 15.5  # from the keys to the baseline of a chord: raised brackets clear the tick under middle C
UNDER = 10.0  # and from there to the lines of text under it
PICTURES_APART = 7.0
CELLS_APART = 14.0
LABEL_LINES = 2
WORDS_SHARE = 0.42  # of a row that says in words what moves, at least


class StudyCell(NamedTuple):
    """A row of a study, drawn from (0, 0) on; the lines of its label stand over it. Lengths are in points."""

    label: tuple[str, ...]
    items: tuple[Item, ...]
    width: float
    height: float


def cell_width(width: float) -> float:
    """Return the width of cells of which two stand side by side."""
    return (width - CELLS_APART) / 2


def row_cell(row: StudyRow, width: float, metrics: Metrics, *, with_left: bool) -> StudyCell:
    """Draw hands one after the other on the same stretch of keys; with the left hand's letters where asked for.

    A row takes half the width, and all of it where it must. Where it says in words what moves, its label and these
    words stand beside the pictures.
    """
    keys = [tuple(pitch.midi for pitch in hand.right) for hand in row.hands]
    low, high = shown_range([key for hand in keys for key in hand])
    count, gaps = len(row.hands), PICTURES_APART * (len(row.hands) - 1)
    white = white_count(low, high)
    room = cell_width(width)
    words = room * WORDS_SHARE if row.says_moves else 0.0
    unit = next((unit for unit in KEY_WIDTHS if count * white * unit + gaps <= room - words), 0.0)
    if not unit:
        room, words = width, words and width * WORDS_SHARE
        least = (room - words - gaps) / count / white
        unit = next((unit for unit in KEY_WIDTHS if count * white * unit + gaps <= room - words), least)
    picture = white * unit
    items: list[Item] = []
    bottom = KEYS + KEYBOARD + SYMBOL
    for number, hand in enumerate(row.hands):
        left = number * (picture + PICTURES_APART)
        before = keys[number - 1] if number and _comes_from(row, number) else ()
        played = marks(before, keys[number])
        items += _fingers(hand, played, left, low, unit, metrics)
        items.append(Keyboard(left, KEYS, low, high, unit, KEYBOARD, played, span=hand.span))
        items += _name(hand, left, picture, metrics)
        under = hand.remark or (left_words(hand) if with_left else "")
        items += place(runs(under, "regular", TEXT, metrics), left, bottom + UNDER, "left hand", hand.span)
    lines = UNDER if with_left or any(hand.remark for hand in row.hands) else 0.0
    height = bottom + lines + metrics.descent("regular", TEXT)
    if not row.says_moves:
        return StudyCell(_label(row, room, LABEL_LINES, metrics), tuple(items), room, height)
    left = count * (picture + PICTURES_APART)
    y = 0.0
    for text, most, grey in (
        (in_print(row.label, metrics), 3, style.QUIET_GREY),
        (moves_words(row.hands[-2], row.hands[-1]), 4, 0.0),
    ):
        for line in _wrapped(text, room - left, most, metrics):
            y += LEADING
            items += place(runs(line, "regular", TEXT, metrics), left, y - 2.0, "moves", grey=grey)
    return StudyCell((), tuple(items), room, max(height, y))


def _comes_from(row: StudyRow, number: int) -> bool:
    """Return whether a hand is shown against the one before: not where single notes lie between the chords."""
    return row.hands[number].chord is not None and row.hands[number - 1].chord is not None


def _label(row: StudyRow, room: float, most: int, metrics: Metrics) -> tuple[str, ...]:
    text = in_print(row.label, metrics)
    if len(row.movement) > 1:
        text += f": {sum(row.movement)} semitones ({' '.join(map(str, row.movement))})"
    return _wrapped(text, room, most, metrics)


def _wrapped(text: str, room: float, most: int, metrics: Metrics) -> tuple[str, ...]:
    """Break a text into lines; of more than there is room for the last one is cut short."""
    lines = wrap(text, "regular", TEXT, room, metrics)
    if len(lines) <= most:
        return lines
    return (*lines[: most - 1], cut(" ".join(lines[most - 1 :]), "regular", TEXT, room, metrics))


def in_print(words: Words, metrics: Metrics) -> str:
    """Return words, chord symbols and keys as one text, with real accidentals; names of songs stay as they are."""
    return "".join(
        part
        if isinstance(part, str)
        else key_words(part)
        if isinstance(part, Key)
        else "".join(run.text for run in chord_runs(part, metrics))
        for part in words
    )


def _fingers(
    hand: StudyHand, played: Sequence[KeyMark], left: float, low: int, unit: float, metrics: Metrics
) -> list[Item]:
    """Place finger numbers over their keys, apart where keys are closer than figures are wide."""
    if not hand.fingers:
        return []
    numbers = [runs(str(finger), "regular", TEXT, metrics) for finger in hand.fingers]
    centres = [left + key_centre(mark.key, low) * unit for mark in played]
    for _ in centres:
        for one, two in pairwise(range(len(centres))):
            short = (width_of(numbers[one]) + width_of(numbers[two])) / 2 + 1.0 - (centres[two] - centres[one])
            if short > 0:
                centres[one] -= short / 2
                centres[two] += short / 2
    items: list[Item] = []
    for number, centre in zip(numbers, centres, strict=True):
        items += place(number, centre - width_of(number) / 2, FINGERS, "finger", hand.span)
    return items


def _name(hand: StudyHand, left: float, room: float, metrics: Metrics) -> list[Item]:
    """Place a chord's symbol under its picture, or the name of a note of an octave line."""
    size = SIZES
    if hand.chord is None:
        parts = runs(printed_name(hand.right[0].name.plain()), "regular", size.chord, metrics)
    else:
        parts = symbol_runs(hand, size, metrics)
        if width_of(parts) > room:  # under a picture there is its own width
            share = max(TEXT / size.chord, room / width_of(parts))
            parts = symbol_runs(hand, Sizes(size.chord * share, size.raised * share, size.rise * share), metrics)
    return [*place(parts, left, KEYS + KEYBOARD + SYMBOL, "chord", hand.span)]


def symbol_runs(hand: StudyHand, sizes: Sizes, metrics: Metrics) -> tuple[Run, ...]:
    """Set a chord with what is suspended light behind it, as in the part."""
    assert hand.chord is not None
    parts = chord_runs(hand.chord, metrics, sizes)
    if not hand.added:
        return parts
    low = not hand.chord.suffix and not hand.added.startswith("(")
    size, rise = (sizes.chord, 0.0) if low else (sizes.raised, sizes.rise)
    return (*parts, *runs(hand.added, "regular", size, metrics, rise))


def left_words(hand: StudyHand) -> str:
    """Return the left hand in letters: `L.H. G`, with its octave `L.H. G oct`."""
    if not hand.left:
        return ""
    if in_octaves(hand.left):
        return f"L.H. {printed_name(hand.left[0].name.plain())} oct"
    return f"L.H. {' '.join(printed_name(pitch.name.plain()) for pitch in hand.left)}"


def moves_words(one: StudyHand, two: StudyHand) -> str:
    """Return in words what stays and what moves from a hand to the next: `stays D; moves G to A, B to C♯`."""
    before = {pitch.midi: printed_name(pitch.name.plain()) for pitch in one.right}
    after = {pitch.midi: printed_name(pitch.name.plain()) for pitch in two.right}
    played = marks(tuple(before), tuple(after))
    stay = [after[mark.key] for mark in played if mark.kind == "held"]
    move = [f"{before[mark.origin]} to {after[mark.key]}" for mark in played if mark.origin is not None]
    new = [after[mark.key] for mark in played if mark.kind != "held" and mark.origin is None]
    gone = set(before) - {mark.origin for mark in played} - {mark.key for mark in played}
    parts = [f"stays {', '.join(stay)}" if stay else "nothing stays"]
    parts += [f"moves {', '.join(move)}"] if move else []
    parts += [f"comes {', '.join(new)}"] if new else []
    parts += [f"goes {', '.join(before[key] for key in sorted(gone))}"] if gone else []
    return "; ".join(parts)


def sound_cell(row: SoundRow, width: float, metrics: Metrics) -> StudyCell:
    """Set a change of sound as a line: the seconds, the sound, where it is."""
    seconds = f"{float(row.seconds):.1f} s"
    items: list[Item] = [*place(runs(seconds, "bold", TEXT, metrics), 0.0, LEADING * 0.8, "seconds")]
    text = f"{row.sound}: {in_print(row.place, metrics)}" + ("" if row.enough else "; too short to let go and be back")
    line = cut(text, "regular", TEXT, width - 34.0, metrics)
    items += place(runs(line, "regular", TEXT, metrics), 34.0, LEADING * 0.8, "sound")
    return StudyCell((), tuple(items), width, LEADING)
