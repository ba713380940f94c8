"""Write a Document as SVG, one picture a page, in the same fonts and places as its PDF. Text stays text.

A page's size is its `viewBox`, in points. Looks are presentation attributes alone, so that a page may be shown where
style sheets and scripts are forbidden. Every item has its `data-role`, and one that comes from the text of the song
`data-from` and `data-to` (the end not included). Families are named by `family`; whoever
shows the page loads the fonts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from xml.sax.saxutils import escape, quoteattr

from arranger.layout import style
from arranger.layout.content import pictures
from arranger.layout.curves import tie_curves
from arranger.layout.direction import runs_left
from arranger.layout.model import Box, Disc, Document, Face, Item, Keyboard, KeyMark, Line, Page, Shape, Text, Tie
from arranger.text.source import NOWHERE, Span
from arranger.text.terminal import printable
from arranger.theory.pitch import is_black
from arranger.units import number

NAMESPACE = "http://www.w3.org/2000/svg"

_CHARACTER = re.compile("[^\ufffe\uffff]")  # `printable` leaves no other that XML has no place for

Ends = Callable[[Span], tuple[int, int] | None]  # where a stretch of the text begins and ends; None leaves it out
Inks = Mapping[float, float]  # another lightness for each, where pages are dark


def family(face: Face) -> str:
    """Return the name of a face for web pages.

    >>> family("greek bold")
    'part-greek-bold'
    """
    return f"part-{face.replace(' ', '-')}"


def in_characters(span: Span) -> tuple[int, int]:
    """Return where a stretch begins and ends, in characters of the source."""
    return span.start, span.end


def nowhere(_: Span) -> None:
    """Return no place: for pages that are of several texts."""


def pages(document: Document, ends: Ends = in_characters) -> tuple[str, ...]:
    """Return each page of a document as an SVG picture; `ends` says how places of the text are counted."""
    return tuple(_page(page, document.language, ends) for page in document.pages)


def faces(document: Document) -> tuple[Face, ...]:
    """Return the faces whose fonts a document needs, in alphabetical order."""
    texts = (item for page in document.pages for item in page.items if isinstance(item, Text))
    return tuple(sorted({item.face for item in texts}))


def _page(page: Page, language: str, ends: Ends) -> str:
    inks = style.NIGHT_INKS if page.dark else {}
    width, height = number(page.width), number(page.height)
    said = f" xml:lang={quoteattr(language)}" if language else ""
    parts = [f'<svg xmlns="{NAMESPACE}" viewBox="0 0 {width} {height}" text-rendering="optimizeSpeed"{said}>']
    parts.append(f'<rect width="{width}" height="{height}" fill="{_ink(1.0, inks)}"/>')
    parts.append(f'<g transform="scale({page.scale:.6g})">' if page.scale != 1.0 else "<g>")
    for item in page.items:
        parts.append(f"<g{_source(item, ends)}>{''.join(_drawn(item, inks))}</g>")
    parts.append("</g></svg>")
    return "".join(parts)


def _source(item: Item, ends: Ends) -> str:
    """Return the attributes that say what an item is, and where in the text it comes from."""
    role = f" data-role={quoteattr(item.role)}"
    place = None if item.span == NOWHERE else ends(item.span)
    return role if place is None else f'{role} data-from="{place[0]}" data-to="{place[1]}"'


def _ink(grey: float, inks: Inks) -> str:
    level = round(inks.get(grey, grey) * 255)
    return f"#{level:02x}{level:02x}{level:02x}"


def _drawn(item: Item, inks: Inks) -> Iterator[str]:
    """Yield the elements of an item."""
    match item:
        case Text():
            yield _text(item, inks)
        case Keyboard():
            yield f'<g transform="translate({number(item.x)} {number(item.y)})">'
            yield _picture(item.low, item.high, item.key_width, item.height, item.marks, item.resolves)
            yield "</g>"
        case Line():
            ends = f"M{number(item.x1)} {number(item.y1)}L{number(item.x2)} {number(item.y2)}"
            yield f'<path d="{ends}" stroke="{_ink(item.grey, inks)}" stroke-width="{number(item.width)}"/>'
        case Box():
            place = f'x="{number(item.x)}" y="{number(item.y)}"'
            size = f'width="{number(item.width)}" height="{number(item.height)}"'
            yield f'<rect {place} {size} fill="{_ink(item.grey, inks)}"/>'
        case Disc(ring=ring) if ring:
            look = f'fill="none" stroke="{_ink(item.grey, inks)}" stroke-width="{number(ring)}"'
            yield f"<circle {_circle(item)} {look}/>"
        case Disc():
            yield f'<circle {_circle(item)} fill="{_ink(item.grey, inks)}"/>'
        case Shape():
            points = " ".join(f"{number(point.x)},{number(point.y)}" for point in item.points)
            yield f'<polygon points="{points}" fill="{_ink(item.grey, inks)}"/>'
        case Tie():
            yield f'<path d="{_crescent(item)}" fill="{_ink(item.grey, inks)}"/>'
        case _:
            raise TypeError(f"no drawing for {type(item).__name__}")


def _circle(item: Disc) -> str:
    return f'cx="{number(item.x)}" cy="{number(item.y)}" r="{number(item.radius)}"'


def _crescent(tie: Tie) -> str:
    """Return the path of a tie."""
    (start, *there), (_, *back) = ([f"{number(x)} {number(y)}" for x, y in curve] for curve in tie_curves(tie))
    return f"M{start}C{' '.join(there)}C{' '.join(back)}Z"


def _text(item: Text, inks: Inks) -> str:
    """Return a text at its place. One that is shaped is shaped again by whoever shows it, in the same font.

    Leftward text begins at its right end (SVG 1.1, 10.7).
    """
    x, direction = item.x, ""
    if item.glyphs and runs_left(item.text):
        x += sum(glyph.advance for glyph in item.glyphs) * item.size
        direction = ' direction="rtl" unicode-bidi="embed"'
    look = f'font-family="{family(item.face)}" font-size="{number(item.size)}" fill="{_ink(item.grey, inks)}"'
    shown = escape("".join(c if _CHARACTER.match(c) else "\N{REPLACEMENT CHARACTER}" for c in printable(item.text)))
    return f'<text x="{number(x)}" y="{number(item.y)}" {look}{direction} xml:space="preserve">{shown}</text>'


@lru_cache(maxsize=1024)
def _picture(
    low: int, high: int, unit: float, height: float, marks: tuple[KeyMark, ...], resolves: tuple[int, int] | None
) -> str:
    """Return a picture of keys whose top left is the origin; dark pages have none."""
    signs = pictures.signs(Keyboard(0.0, 0.0, low, high, unit, height, marks, resolves))
    return _bed(low, high, unit, height) + "".join(part for sign in signs for part in _drawn(sign, {}))


@lru_cache(maxsize=64)
def _bed(low: int, high: int, unit: float, height: float) -> str:
    """Return the keys: outlines, black keys with a light tint, a tick under middle C."""
    count, foot = pictures.white_count(low, high), number(height)
    outline = f"M0 0H{number(count * unit)}V{foot}H0Z"
    outline += "".join(f"M{number(i * unit)} 0V{foot}" for i in range(1, count))
    hair = number(style.HAIR)
    drawn = f'<path d="{outline}" fill="none" stroke="{_ink(style.LINE_GREY, {})}" stroke-width="{hair}"/>'
    width, length = pictures.BLACK_WIDTH * unit, pictures.BLACK_HEIGHT * height
    lefts = [pictures.key_centre(key, low) * unit - width / 2 for key in range(low, high) if is_black(key)]
    black = "".join(f"M{number(left)} 0h{number(width)}v{number(length)}h{number(-width)}Z" for left in lefts)
    ink, edge = _ink(style.BLACK_KEY_TINT, {}), _ink(style.BLACK_KEY_EDGE, {})
    drawn += f'<path d="{black}" fill="{ink}" stroke="{edge}" stroke-width="{hair}"/>'
    if low <= style.MIDDLE_C <= high:
        x, end = number(pictures.key_centre(style.MIDDLE_C, low) * unit), number(height + pictures.MIDDLE_C_MARK)
        drawn += f'<path d="M{x} {foot}V{end}" stroke="#000000" stroke-width="1.2"/>'
    return drawn
