"""Stage copies as they are drawn: every item enlarged by the scale of its page, in its inks."""

from dataclasses import replace

from arranger.harmony.model import Arrangement
from arranger.layout.model import Box, Disc, Document, Item, Keyboard, Line, Page, Shape, Text, Tie
from arranger.layout.options import StageOptions
from arranger.layout.pages import stage_copy
from arranger.layout.pages.stage_copy import Legibility
from arranger.layout.style import NIGHT_INKS
from arranger.layout.text import Metrics
from arranger.text.diagnostics import Diagnostic
from arranger.units import Point


def lay_out(
    arrangement: Arrangement, metrics: Metrics, options: StageOptions
) -> tuple[Document | None, Legibility | None, tuple[Diagnostic, ...]]:
    """Lay out a stage copy, and return it as it is drawn."""
    document, reading, problems = stage_copy.lay_out(arrangement, metrics, options)
    return (drawn(document) if document is not None else None), reading, problems


def drawn(document: Document) -> Document:
    """Return a document with all items in points and in the inks of its pages."""
    return document._replace(pages=tuple(map(_drawn, document.pages)))


def _drawn(page: Page) -> Page:
    items = [enlarged(item, page.scale) for item in page.items]
    if page.dark:
        items = [item if isinstance(item, Keyboard) else replace(item, grey=NIGHT_INKS[item.grey]) for item in items]
    return page._replace(items=tuple(items), scale=1.0, dark=False)


def enlarged(item: Item, factor: float) -> Item:
    """Enlarge an item from the origin."""
    if isinstance(item, Shape):
        return replace(item, points=tuple(Point(point.x * factor, point.y * factor) for point in item.points))
    lengths: dict[type[Item], tuple[str, ...]] = {
        Text: ("x", "y", "size", "gap"),
        Line: ("x1", "y1", "x2", "y2", "width"),
        Box: ("x", "y", "width", "height"),
        Disc: ("x", "y", "radius", "ring"),
        Tie: ("x1", "x2", "y", "rise", "width"),
        Keyboard: ("x", "y", "key_width", "height"),
    }
    return replace(item, **{name: getattr(item, name) * factor for name in lengths[type(item)]})
