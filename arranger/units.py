"""Convert lengths and define shapes on paper. Everything is in points (1/72 inch), x right, y down from top left."""

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

MM = 72 / 25.4  # points in a millimetre
METRES = {"m": Fraction(1), "cm": Fraction(1, 100)}


def mm(millimetres: float) -> float:
    """Return points for millimetres."""
    return millimetres * MM


def inch(inches: float) -> float:
    """Return points for inches."""
    return inches * 72.0


@lru_cache(maxsize=2048)  # four of five places on a page share a number with another
def number(value: float) -> str:
    """Return a number as pages are drawn with it, in two decimals at most: 0.0035 mm.

    >>> number(12.0), number(0.456), number(-0.001), number(100.5)
    ('12', '0.46', '0', '100.5')
    """
    text = f"{value:.2f}"
    if text[-1] != "0":
        return text
    text = text[:-3] if text[-2] == "0" else text[:-1]
    return "0" if text == "-0" else text


def in_units(text: str, units: Mapping[str, float | Fraction], usual: str) -> float | None:
    """Return a length as people type it, with a decimal point or comma; None where it is none.

    Args:
        text: a number of a few digits and perhaps a unit.
        units: what one of each unit is in the unit of what is returned.
        usual: the unit of a number that has none.

    >>> in_units("0,8m", METRES, "m"), in_units(" 70 cm", METRES, "m"), in_units("1e9", METRES, "m")
    (0.8, 0.7, None)
    """
    match = re.fullmatch(r"([0-9]{1,3}(?:[.,][0-9]{1,20})?)\s*([a-z]*)", text.strip())
    if match is None or (match[2] or usual) not in units:
        return None
    return float(Fraction(match[1].replace(",", ".")) * units[match[2] or usual])


class Point(NamedTuple):
    """A place in points from the top left."""

    x: float
    y: float


class Rect(NamedTuple):
    """A rectangle in points: its top-left corner, its width and its height (both at least 0)."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The x of the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """The y of the lower edge."""
        return self.y + self.height

    def overlaps(self, other: "Rect", slack: float = 0.0) -> bool:
        """Return whether the two share more than `slack` points in both directions."""
        return (
            min(self.right, other.right) - max(self.x, other.x) > slack
            and min(self.bottom, other.bottom) - max(self.y, other.y) > slack
        )


class Paper(NamedTuple):
    """A paper size in points, upright."""

    name: str
    width: float
    height: float


A4 = Paper("a4", mm(210), mm(297))  # ISO 216
LETTER = Paper("letter", inch(8.5), inch(11))  # 8.5 x 11 in, the US letter sheet
PAPERS = {paper.name: paper for paper in (A4, LETTER)}
A5 = Paper("a5", mm(148), mm(210))  # ISO 216

SCREEN = inch(10)  # the diagonal of a tablet's screen unless the player says: of those in use, rather a small one


class Sheet(NamedTuple):
    """What a stage copy is printed or shown on. Lengths are in points."""

    name: str
    width: float  # of the whole sheet or screen
    height: float
    pages: int = 1  # that lie side by side on it
    side: float = mm(15)  # its margins at the sides
    end: float = mm(10)  # and at the top and bottom
    least: float = mm(6)  # the narrowest margin that can be asked for
    screen: bool = False  # no two screens lie side by side, and nothing is lost at their edges

    @property
    def page_width(self) -> float:
        """The width of one page."""
        return self.width / self.pages


WIDEST_MARGIN = inch(1)  # the American Council of the Blind asks for it in large print; more is lost paper
SCREENS = (6.0, 18.0)  # diagonals in inches: less is a telephone, more is no tablet


def screen(name: str, diagonal: float, upright: bool) -> Sheet:
    """Return a screen of 4:3 with a diagonal in points: its sides are 3/5 and 4/5 of that."""
    short, long = diagonal * 0.6, diagonal * 0.8
    width, height = (short, long) if upright else (long, short)
    return Sheet(name, width, height, side=mm(4), end=mm(4), least=mm(2), screen=True)


# Sides 15 mm, top and bottom 10 mm: what a pop and jazz orchestra asks of its parts (Metropole Orkest); printers lose
# up to 6 mm. Small pages have 10 mm all round.
SHEETS = {
    sheet.name: sheet
    for sheet in (
        Sheet("a4", A4.width, A4.height),
        Sheet("letter", LETTER.width, LETTER.height),
        Sheet("a5", A5.width, A5.height, side=mm(10)),
        Sheet("a4-pair", A4.height, A4.width, pages=2, side=mm(10)),
        Sheet("letter-pair", LETTER.height, LETTER.width, pages=2, side=mm(10)),
        screen("tablet", SCREEN, upright=True),
        screen("tablet-flat", SCREEN, upright=False),
    )
}


def ordinal(number: int) -> str:
    """Return `1st`, `2nd`, `3rd`, `4th`.

    >>> [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 21, 112)]
    ['1st', '2nd', '3rd', '4th', '11th', '12th', '21st', '112th']
    """
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{'th' if number % 100 in (11, 12, 13) else ending}"


def in_minutes(seconds: Fraction) -> str:
    """Return a time as on a clock, rounded to seconds.

    >>> in_minutes(Fraction(160)), in_minutes(Fraction(3725))
    ('2:40', '1:02:05')
    """
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"
