"""Define pages as placed items: what the stages after the layout take.

Everything is in points from the top left of the page, y down (items in units of the page's scale, where it has one).
The y of a text is its baseline. Text items stand in reading order. `grey` is a lightness: 0 black, 1 white. Every item
carries the span of the text that caused it (not compared) and its `role`: what it is on the page (`chord`, `words`,
`margin`, `octave`, `barline`...).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

from arranger.text.source import NOWHERE, Span
from arranger.units import Point, Rect

# The program's own faces, then up to three that the player names.
Face = Literal["regular", "bold", "music", "greek", "greek bold", "other 1", "other 2", "other 3"]


class Glyph(NamedTuple):
    """A shaped glyph: its number in the face; its advance and shift from its place, in shares of the size.

    `text` is what it reads as; of glyphs that read as something together, the first has it.
    """

    number: int
    advance: float
    dx: float = 0.0
    dy: float = 0.0
    text: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """A run of text in one face, from x on, on the baseline y.

    `glyphs` draw it from left to right where it is shaped; the text is in reading order then. `gap` is the way to the
    next text where its last word goes on in that: readers find them as one word.
    """

    x: float
    y: float
    text: str
    face: Face
    size: float
    role: str
    grey: float = 0.0
    span: Span = field(default=NOWHERE, compare=False)
    glyphs: tuple[Glyph, ...] = ()
    gap: float = 0.0


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line with flat ends."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float
    role: str
    grey: float = 0.0
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Box:
    """A filled rectangle."""

    x: float
    y: float
    width: float
    height: float
    role: str
    grey: float = 0.0
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Disc:
    """A filled circle around (x, y); a ring of that line width where `ring` is above 0."""

    x: float
    y: float
    radius: float
    role: str
    ring: float = 0.0
    grey: float = 0.0
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Shape:
    """A filled polygon."""

    points: tuple[Point, ...]
    role: str
    grey: float = 0.0
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Tie:
    """A flat arc over the stretch from x1 to x2: its ends at y, its top `rise` above; `width` is its line's.

    With a negative `rise` it hangs below.
    """

    x1: float
    x2: float
    y: float
    rise: float
    width: float
    role: str
    grey: float = 0.0
    span: Span = field(default=NOWHERE, compare=False)


class KeyMark(NamedTuple):
    """A played key of a picture.

    `kind`: `fresh` (the hand is free: the note comes from nowhere), `moved` (with the key it comes from, if there is
    one, as `origin`) or `held` (it stays down). Keys are MIDI numbers.
    """

    key: int
    kind: Literal["fresh", "moved", "held"]
    origin: int | None = None


@dataclass(frozen=True, slots=True)
class Keyboard:
    """A picture of a stretch of keyboard; (x, y) is its top left.

    Attributes:
        low, high: the first and the last key shown, both white (MIDI).
        key_width: of a white key.
        height: of a white key.
        marks: the keys played.
        resolves: (from, to): the suspended key and the one it goes to.
    """

    x: float
    y: float
    low: int
    high: int
    key_width: float
    height: float
    marks: tuple[KeyMark, ...]
    resolves: tuple[int, int] | None = None
    role: str = "hand"
    span: Span = field(default=NOWHERE, compare=False)


Item = Text | Line | Box | Disc | Shape | Tie | Keyboard


class Link(NamedTuple):
    """A stretch of a page that leads to a bookmark's place when touched; `target` is the bookmark's index."""

    rect: Rect
    target: int


class FileLink(NamedTuple):
    """A stretch of a page that opens another file.

    Attributes:
        rect: the stretch.
        file: the file, by a path from the document's own place, with `/`.
        title: what the file is, for those who hear the page.
        by_address: as an address, which browsers follow; else as the PDF standard has it for other documents, which
            most other viewers follow. No viewer is known to follow neither.
    """

    rect: Rect
    file: str
    title: str
    by_address: bool = False


@dataclass(frozen=True, slots=True)
class Bookmark:
    """An entry of the outline: a title and its place. `page` counts from 0; `y` is the upper edge to show.

    `level` is 0, or 1 for an entry under the last one of level 0; such entries are folded away at first.
    """

    title: str
    page: int
    y: float
    span: Span = field(default=NOWHERE, compare=False)
    level: int = 0


class Page(NamedTuple):
    """A page.

    Attributes:
        width, height: its size.
        items: in drawing and reading order, in units of which each has `scale` points.
        links: in points.
        label: that viewers show for it.
        scale: how much larger everything is drawn than it is set.
        dark: drawn in light inks on near-black (`style.NIGHT_INKS`).
    """

    width: float
    height: float
    items: tuple[Item, ...]
    links: tuple[Link | FileLink, ...] = ()
    label: str = ""
    scale: float = 1.0
    dark: bool = False


class Document(NamedTuple):
    """All pages with what a PDF says about itself. `language` is a BCP 47 tag, empty where none is known."""

    pages: tuple[Page, ...]
    title: str
    author: str = ""
    subject: str = ""
    language: str = ""
    bookmarks: tuple[Bookmark, ...] = ()


def moved(item: Item, dx: float, dy: float) -> Item:
    """Return an item in another place."""
    if isinstance(item, Shape):
        return replace(item, points=tuple(Point(point.x + dx, point.y + dy) for point in item.points))
    across = {name: getattr(item, name) + dx for name in ("x", "x1", "x2") if hasattr(item, name)}
    down = {name: getattr(item, name) + dy for name in ("y", "y1", "y2") if hasattr(item, name)}
    return replace(item, **across, **down)


def grown(items: Iterable[Item], factor: float) -> list[Item]:
    """Return items as many times as large, about the origin: their places and all their sizes."""
    if factor == 1.0:
        return list(items)
    found: list[Item] = []
    for item in items:
        if isinstance(item, Shape):
            found.append(replace(item, points=tuple(Point(x * factor, y * factor) for x, y in item.points)))
        else:
            found.append(replace(item, **{n: getattr(item, n) * factor for n in _LENGTHS if hasattr(item, n)}))
    return found


_LENGTHS = ("x", "x1", "x2", "y", "y1", "y2", "size", "width", "height", "radius", "ring", "rise", "gap")


def leftmost(item: Item) -> float:
    """Return the x of the left edge of an item, as it is placed."""
    if isinstance(item, Shape):
        return min(point.x for point in item.points)
    edges: list[float] = [getattr(item, name) for name in ("x", "x1", "x2") if hasattr(item, name)]
    return min(edges)
