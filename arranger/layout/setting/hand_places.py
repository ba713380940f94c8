"""Reckon where hands stand beside their chords: picture or letters, the left hand's note, the name of the shape.

A chord stands over its words. Its picture is right of it, and the left hand's note over it, so that a line is lower by
the height of chords than where they stand under pictures.
"""

from __future__ import annotations

from arranger.layout.content.model import Column, Picture
from arranger.layout.content.symbols import PUSH_WIDTH
from arranger.layout.style import Look
from arranger.layout.text import width_of


def symbol_width(column: Column) -> float:
    """Return the width of what stands in the chord row of a column."""
    if column.symbol is None:
        return 0.0
    push = PUSH_WIDTH if column.symbol.push else 0.0
    return width_of(column.symbol.runs) + width_of(column.symbol.manner) + push


def hand_left(column: Column, picture: Picture, look: Look) -> float:
    """Return how far right of its column a hand begins: after the chord and the left hand's note over it, if beside."""
    if not look.beside or not picture.marks:
        return 0.0
    return _after(symbol_width(column), picture, look)


def _after(symbol: float, picture: Picture, look: Look) -> float:
    """Return how far right of its column a hand begins, after a chord that is so wide."""
    wide = max(symbol, width_of(picture.left)) if look.hands == "keyboard" else symbol
    return wide + look.gaps.chords if wide else 0.0


def note_left(column: Column, picture: Picture, keyboard: float, look: Look) -> tuple[float, float]:
    """Return how far right of its column the left hand's note and the name of the shape begin.

    Under the hand they stand side by side. Beside it the left hand's note stands over the chord, or after letters; the
    name of the shape comes last.
    """
    gap = look.gaps.pictures
    if not look.beside:
        return 0.0, width_of(picture.left) + gap if picture.left else 0.0
    if look.hands == "keyboard":
        if picture.marks:
            return 0.0, hand_left(column, picture, look) + keyboard + gap
        wide = max(symbol_width(column), width_of(picture.left))
        return 0.0, wide + gap if wide else 0.0
    wide = hand_left(column, picture, look) + width_of(picture.letters) if picture.marks else symbol_width(column)
    left = wide + gap if wide else 0.0
    return left, left + width_of(picture.left) + gap if picture.left else left


def beside_width(column: Column, picture: Picture, look: Look) -> tuple[float, float | None]:
    """Return how wide a chord is with its hand beside it, and without a picture of the keyboard.

    The second is how far right of the column that begins, with the name of the shape after it; None without one.
    """
    wide = symbol_width(column)
    if look.hands == "keyboard" and picture.marks:
        after = look.gaps.pictures + width_of(picture.shape) if picture.shape else 0.0
        return max(wide, width_of(picture.left)), _after(wide, picture, look) + after
    left, shape = note_left(column, picture, 0.0, look)
    ends = [wide]
    if picture.marks:
        ends.append(hand_left(column, picture, look) + width_of(picture.letters))
    if picture.left:
        ends.append(left + width_of(picture.left))
    if picture.shape:
        ends.append(shape + width_of(picture.shape))
    return max(ends), None
