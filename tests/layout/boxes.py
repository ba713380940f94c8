"""Where items lie on a page: rectangles for the tests of overlaps and margins."""

from __future__ import annotations

from arranger.layout.content.pictures import MIDDLE_C_MARK, white_count
from arranger.layout.model import Box, Disc, Item, Keyboard, Line, Page, Shape, Text, Tie
from arranger.layout.text import Metrics
from arranger.units import Rect

ON_STAVES = {"note", "accidental", "clef"}  # chords and signatures are as close as they are engraved
NO_DESCENDERS = set("0123456789.×")
SIGN_FEET = {
    "𝄎": 0.26,
    "𝄐": 0.64,
    "𝄻": 0.37,
    "𝄼": 0.24,
    "𝄽": 0.12,
    "𝄾": 0.26,
    "♮": -0.22,
    "𝄞": -0.4,
    "𝄢": 0.1,
    "♯": -0.24,
    "♭": -0.03,
}  # of the size, as drawn


def text_rect(item: Text, metrics: Metrics) -> Rect:
    """Give what a text covers: its width, from its tallest glyph to the depth of descenders, if it can have any."""
    above = metrics.rise(item.text, item.face, item.size)
    if item.face == "music":
        below = -min(SIGN_FEET.get(character, 0.0) for character in item.text) * item.size
    else:
        below = 0.0 if set(item.text) <= NO_DESCENDERS else metrics.descent(item.face, item.size)
    return Rect(item.x, item.y - above, metrics.width(item.text, item.face, item.size), above + below)


def picture_rect(item: Keyboard) -> Rect:
    """Give what a picture covers, with the tick under middle C; ties over it have a row of their own."""
    return Rect(item.x, item.y, white_count(item.low, item.high) * item.key_width, item.height + MIDDLE_C_MARK)


def rect(item: Item, metrics: Metrics) -> Rect:
    """Give what any item covers."""
    match item:
        case Text():
            return text_rect(item, metrics)
        case Keyboard():
            return picture_rect(item)
        case Line():
            x, y = min(item.x1, item.x2), min(item.y1, item.y2)
            return Rect(x, y, abs(item.x1 - item.x2), abs(item.y1 - item.y2))
        case Box():
            return Rect(item.x, item.y, item.width, item.height)
        case Disc():
            return Rect(item.x - item.radius, item.y - item.radius, 2 * item.radius, 2 * item.radius)
        case Shape():
            xs, ys = [p.x for p in item.points], [p.y for p in item.points]
            return Rect(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))
        case Tie():
            return Rect(item.x1, item.y - max(item.rise, 0.0), item.x2 - item.x1, abs(item.rise))


def overlaps(page: Page, metrics: Metrics, slack: float = 0.3) -> list[tuple[Item, Item]]:
    """Give all pairs of texts, pictures, barlines and signs of a page that cover each other by more than `slack`."""
    texts = [(item, text_rect(item, metrics)) for item in page.items if isinstance(item, Text)]
    pictures = [(item, picture_rect(item)) for item in page.items if isinstance(item, Keyboard)]
    roles = ("barline", "repeat", "ending", "rule", "push", "rest")
    lines = [(item, rect(item, metrics)) for item in page.items if not isinstance(item, Text) and item.role in roles]
    solid = sorted([*texts, *pictures], key=lambda pair: pair[1].y)
    found: list[tuple[Item, Item]] = []
    for number, (item, here) in enumerate(solid):
        for other, there in solid[number + 1 :]:
            if there.y > here.bottom:
                break
            if here.overlaps(there, slack) and not {item.role, other.role} <= ON_STAVES:
                found.append((item, other))
    for item, here in texts:
        for other, there in lines:
            grown = Rect(there.x - 0.2, there.y - 0.2, there.width + 0.4, there.height + 0.4)
            if here.overlaps(grown, 0.0):
                found.append((item, other))
    return found


def outside(page: Page, metrics: Metrics, side: float, top: float, bottom: float) -> list[Item]:
    """Give the items that are not wholly inside the margins (0.1 pt is let pass)."""
    found = []
    for item in page.items:
        here = rect(item, metrics)
        inside = here.x >= side - 0.1 and here.right <= page.width - side + 0.1
        if not inside or here.y < top - 0.1 or here.bottom > page.height - bottom + 3.0:
            found.append(item)
    return found
