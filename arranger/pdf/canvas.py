"""Turn a page's items into PDF drawing operators. The only place where y is turned: PDF counts from the bottom.

All graphics come first, then all text in one text object, so that the text is in reading order and over the drawing.
Numbers are as short as two decimals (0.0035 mm) allow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from arranger.layout import style
from arranger.layout.content import pictures
from arranger.layout.curves import tie_curves
from arranger.layout.direction import runs_left
from arranger.layout.model import Box, Disc, Face, Item, Keyboard, KeyMark, Line, Page, Shape, Text, Tie
from arranger.pdf.fonts import NO_BREAK_SPACE, is_invisible
from arranger.theory.pitch import is_black
from arranger.units import number

CIRCLE = 0.5523  # how far the handles of four Bezier curves lie that make a circle (4/3 tan 22.5 degrees)

Inks = Mapping[float, float]  # another lightness for each, where pages are dark
Codes = Mapping[Face, Mapping[str, tuple[str, int]]]  # face -> character -> (font resource, code)


def content(page: Page, codes: Codes) -> str:
    """Return the content stream of a page.

    The drawing is scaled as a whole; texts have their sizes in points, by which readers find what stands in one line.
    """
    scale = page.scale
    inks = style.NIGHT_INKS if page.dark else {}
    drawing = _Drawing(page.height / scale, inks)
    texts = []
    for item in page.items:
        if isinstance(item, Text):
            texts.append(_enlarged(item, scale) if scale != 1.0 else item)
        else:
            drawing.add(item)
    drawn = drawing.operators
    if scale != 1.0:
        drawn = [f"q {scale:.6g} 0 0 {scale:.6g} 0 0 cm", *drawn, "Q"]
    return "\n".join([*drawn, *_text(texts, page.height, codes, inks)]) + "\n"


def _enlarged(item: Text, scale: float) -> Text:
    return replace(item, x=item.x * scale, y=item.y * scale, size=item.size * scale, gap=item.gap * scale)


class _Drawing:
    """Collects the operators of graphics; remembers widths and greys that are in force."""

    def __init__(self, height: float, inks: Inks) -> None:
        self.height = height
        self._inks = inks
        self.operators: list[str] = []
        self._width = -1.0
        self._fill = self._stroke = 0.0

    def add(self, item: Item) -> None:
        """Draw an item."""
        match item:
            case Keyboard():
                self._keyboard(item)
            case Line():
                self._set_line(item.width, item.grey)
                start = f"{number(item.x1)} {number(self.height - item.y1)}"
                self.operators.append(f"{start} m {number(item.x2)} {number(self.height - item.y2)} l S")
            case Box():
                self._set_fill(item.grey)
                corner = f"{number(item.x)} {number(self.height - item.y - item.height)}"
                self.operators.append(f"{corner} {number(item.width)} {number(item.height)} re f")
            case Disc(ring=ring) if ring:
                self._set_line(ring, item.grey)
                self.operators.append(f"{_circle(item.x, self.height - item.y, item.radius)} S")
            case Disc():
                self._set_fill(item.grey)
                self.operators.append(f"{_circle(item.x, self.height - item.y, item.radius)} f")
            case Shape():
                self._set_fill(item.grey)
                points = [f"{number(point.x)} {number(self.height - point.y)}" for point in item.points]
                self.operators.append(f"{points[0]} m {' l '.join(points[1:])} l f")
            case Tie():
                self._set_fill(item.grey)
                self.operators.append(f"{_crescent(item, self.height)} f")
            case _:
                raise TypeError(f"no drawing for {type(item).__name__}")

    def _set_line(self, width: float, grey: float) -> None:
        grey = self._inks.get(grey, grey)
        if width != self._width:
            self._width = width
            self.operators.append(f"{number(width)} w")
        if grey != self._stroke:
            self._stroke = grey
            self.operators.append(f"{number(grey)} G")

    def _set_fill(self, grey: float) -> None:
        grey = self._inks.get(grey, grey)
        if grey != self._fill:
            self._fill = grey
            self.operators.append(f"{number(grey)} g")

    def _keyboard(self, item: Keyboard) -> None:
        """Draw a picture: it is the same text wherever it stands, moved to its place."""
        drawn = _picture(item.low, item.high, item.key_width, item.height, item.marks, item.resolves)
        self.operators.append(f"q 1 0 0 1 {number(item.x)} {number(self.height - item.y)} cm\n{drawn} Q")


@lru_cache(maxsize=1024)
def _picture(
    low: int,
    high: int,
    unit: float,
    height: float,
    marks: tuple[KeyMark, ...],
    resolves: tuple[int, int] | None,
) -> str:
    """Draw a picture whose top left is the origin."""
    signs = _Drawing(0.0, {})
    for item in pictures.signs(Keyboard(0.0, 0.0, low, high, unit, height, marks, resolves)):
        signs.add(item)
    return "\n".join([_bed(low, high, unit, height), "0 g 0 G", *signs.operators])


@lru_cache(maxsize=64)
def _bed(low: int, high: int, unit: float, height: float) -> str:
    """Draw the keys: outlines, black keys with a light tint, a tick under middle C."""
    count = pictures.white_count(low, high)
    operators = [f"{number(style.HAIR)} w {number(style.LINE_GREY)} G"]
    operators.append(f"0 0 {number(count * unit)} {number(-height)} re")
    operators += [f"{number(i * unit)} 0 m {number(i * unit)} {number(-height)} l" for i in range(1, count)]
    operators.append(f"S {number(style.BLACK_KEY_TINT)} g {number(style.BLACK_KEY_EDGE)} G")
    width, length = pictures.BLACK_WIDTH * unit, pictures.BLACK_HEIGHT * height
    for key in range(low, high):
        if is_black(key):
            left = pictures.key_centre(key, low) * unit - width / 2
            operators.append(f"{number(left)} {number(-length)} {number(width)} {number(length)} re")
    operators.append("B")
    if low <= style.MIDDLE_C <= high:
        x = number(pictures.key_centre(style.MIDDLE_C, low) * unit)
        foot = number(-height - pictures.MIDDLE_C_MARK)
        operators.append(f"1.2 w 0 G {x} {number(-height)} m {x} {foot} l S")
    return "\n".join(operators)


@lru_cache(maxsize=1024)
def _circle(x: float, y: float, radius: float) -> str:
    """Return the path of a circle around a point of the flipped page."""
    k = CIRCLE * radius
    left, right, top, bottom = number(x - radius), number(x + radius), number(y + radius), number(y - radius)
    cx, cy = number(x), number(y)
    x1, x2, y1, y2 = number(x - k), number(x + k), number(y - k), number(y + k)
    return (
        f"{right} {cy} m {right} {y2} {x2} {top} {cx} {top} c {x1} {top} {left} {y2} {left} {cy} c "
        f"{left} {y1} {x1} {bottom} {cx} {bottom} c {x2} {bottom} {right} {y1} {right} {cy} c"
    )


def _crescent(tie: Tie, height: float) -> str:
    """Return the path of a tie, on a page of a height."""
    (start, *there), (_, *back) = ([f"{number(x)} {number(height - y)}" for x, y in curve] for curve in tie_curves(tie))
    return f"{start} m {' '.join(there)} c {' '.join(back)} c"


def _text(items: Sequence[Text], height: float, codes: Codes, inks: Inks) -> list[str]:
    """Return the operators that draw the texts in one text object."""
    operators = ["BT 0 g"]
    font: tuple[str, float] = ("", 0.0)
    grey = 0.0
    inside = False  # a word goes on from the text before
    for number_, item in enumerate(items):
        if inks.get(item.grey, item.grey) != grey:
            grey = inks.get(item.grey, item.grey)
            operators.append(f"{number(grey)} g")
        if item.glyphs:
            font = (glyph_resource(item.face), item.size)
            operators += _glyphs(item, height)
            continue
        goes_on = _goes_on(items, number_)
        if goes_on and not inside:
            operators.append(_reads_as(_word_parts(items, number_)))
        place = f"1 0 0 1 {number(item.x)} {number(height - item.y)} Tm"
        strings = _strings(item.text, codes[item.face])
        if goes_on:  # the last letter is as wide as the way to the next text, for readers that look at widths
            strings = [*_strings(item.text[:-1], codes[item.face]), *_strings(item.text[-1], codes[item.face])]
        for resource, string in strings:
            if font != (resource, item.size):
                font = (resource, item.size)
                operators.append(f"/{resource} {number(item.size)} Tf")
            operators.append(f"{place} {string} Tj".lstrip())
            place = ""  # what follows in the same text stands where the pen is
        if goes_on:
            operators[-1] = f"{number(item.gap)} Tc {operators[-1]} 0 Tc"
        elif inside:
            operators.append("EMC")
        inside = goes_on
    operators.append("ET")
    return operators


def _goes_on(items: Sequence[Text], place: int) -> bool:
    """Return whether the last word of a text goes on in the next; never in shaped or leftward text."""
    if not items[place].gap or place + 1 == len(items):
        return False
    return not any(item.glyphs or runs_left(item.text) for item in items[place : place + 2])


def _word_parts(items: Sequence[Text], place: int) -> str:
    """Join the texts from a place on through which a word goes on."""
    end = place
    while _goes_on(items, end):
        end += 1
    return "".join(item.text for item in items[place : end + 1])


def _reads_as(text: str) -> str:
    """Return the opening of a stretch that reads as a text, whatever is drawn (ISO 32000-1, 14.9.4)."""
    return f"/Span <</ActualText <feff{text.encode('utf-16-be').hex()}>>> BDC"


def glyph_resource(face: Face) -> str:
    """Return the font resource of a face whose glyphs are drawn by their numbers."""
    return f"G{face.replace(' ', '')}"


def _glyphs(item: Text, height: float) -> list[str]:
    """Draw shaped text, each glyph at its place.

    Rightward text says what it reads as; readers turn leftward text round by themselves, and would turn that too.
    """
    operators = [f"/{glyph_resource(item.face)} {number(item.size)} Tf"]
    marked = not runs_left(item.text)
    if marked:
        operators.insert(0, _reads_as(item.text))
    x = item.x
    for glyph in item.glyphs:
        at = f"{number(x + glyph.dx * item.size)} {number(height - item.y + glyph.dy * item.size)}"
        operators.append(f"1 0 0 1 {at} Tm <{glyph.number:04x}> Tj")
        x += glyph.advance * item.size
    return [*operators, "EMC"] if marked else operators


def _strings(text: str, codes: Mapping[str, tuple[str, int]]) -> list[tuple[str, str]]:
    """Return a text as strings of codes, one for each stretch of the same subset."""
    first = next(iter(codes.values()))[0]
    if text.isascii() and text.isprintable() and codes.get(" ") == (first, ord(" ")):  # so ASCII has its own codes
        return [(first, _plain(text))] if text else []
    stretches: list[tuple[str, list[int]]] = []
    for character in text:
        if character == NO_BREAK_SPACE:
            character = " "
        known = codes.get(character)
        if known is None:
            if is_invisible(character):
                continue
            known = (first, 0)
        if not stretches or stretches[-1][0] != known[0]:
            stretches.append((known[0], []))
        stretches[-1][1].append(known[1])
    return [(resource, _string(bytes(values))) for resource, values in stretches]


def _string(values: bytes) -> str:
    """Return a PDF string: plain where all codes are printable ASCII, else hexadecimal."""
    if all(32 <= value < 127 for value in values):
        return _plain(values.decode("ascii"))
    return f"<{values.hex()}>"


def _plain(text: str) -> str:
    """Return a PDF string of printable ASCII."""
    escaped = "(" in text or ")" in text or "\\" in text
    return f"({text.translate(_ESCAPES)})" if escaped else f"({text})"


_ESCAPES = str.maketrans({"(": r"\(", ")": r"\)", "\\": r"\\"})
