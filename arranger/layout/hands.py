"""The three ways in which a hand is shown, side by side: how much room each takes, and what is drawn.

Keyboards, notes on two staves, letters: a player chooses one for the whole part.
"""

from __future__ import annotations

from arranger.layout.content import Picture
from arranger.layout.metrics import Metrics
from arranger.layout.model import Item, Keyboard
from arranger.layout.staff import cluster, set_notes, signature_width
from arranger.layout.style import Look
from arranger.layout.text import place, width_of
from arranger.theory.key import Key


def head_width(look: Look, key: Key | None) -> float:
    """Return the room that clefs and signature take at the start of a line."""
    return signature_width(key) if look.hands == "staff" else 0.0


def hand_extent(picture: Picture, look: Look, keyboard: float) -> tuple[float, float] | None:
    """Return how far a hand reaches to the left and right of its column; None where nothing is drawn."""
    if look.hands == "staff":
        arranged = cluster(picture.notes)
        return (arranged.left, arranged.right) if picture.notes else None
    if not picture.marks:
        return None
    return 0.0, width_of(picture.letters) if look.hands == "letters" else keyboard


def set_hand(
    picture: Picture,
    look: Look,
    x: float,
    tops: tuple[float, float],
    keys: tuple[int, int],
    key_width: float,
    metrics: Metrics,
) -> list[Item]:
    """Place a hand at x.

    Args:
        picture: the hand.
        look: of the part.
        x: its column.
        tops: keyboards: their top (twice); letters: their baseline (twice); staves: the lowest lines of both.
        keys: the first and last key of the line's keyboards.
        key_width: of a white key.
        metrics: of the fonts.
    """
    if look.hands == "staff":
        return set_notes(picture.notes, x, *tops, metrics, picture.span)
    if look.hands == "letters":
        return [*place(picture.letters, x, tops[0], "letters", picture.span)]
    if not picture.marks:
        return []
    low, high = keys
    return [
        Keyboard(x, tops[0], low, high, key_width, look.keyboard, picture.marks, picture.resolves, span=picture.span)
    ]
