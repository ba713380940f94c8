"""Pages as text, one item a line, lengths with two decimals: what the goldens compare."""

from __future__ import annotations

from collections.abc import Iterator

from arranger.layout.model import Box, Disc, Document, FileLink, Item, Keyboard, KeyMark, Line, Shape, Text, Tie


def dump(document: Document) -> str:
    """Return the document as text."""
    return "\n".join(_lines(document)) + "\n"


def _lines(document: Document) -> Iterator[str]:
    yield f"title {document.title}"
    yield f"author {document.author}"
    yield f"subject {document.subject}"
    for mark in document.bookmarks:
        yield f"bookmark page {mark.page} y {mark.y:.2f} {mark.title}"
    for number, page in enumerate(document.pages):
        yield f"page {number} {page.width:.2f} x {page.height:.2f} label {page.label}"
        for link in page.links:
            rect = link.rect
            where = f"opens {link.file}" if isinstance(link, FileLink) else f"to {link.target}"
            yield f"link {rect.x:.2f} {rect.y:.2f} {rect.width:.2f} {rect.height:.2f} {where}"
        for item in page.items:
            yield _item(item)


def _item(item: Item) -> str:
    """Return one line: the kind, the place and size, the role."""
    grey = f" grey {item.grey:.2f}" if not isinstance(item, Keyboard) and item.grey else ""
    match item:
        case Text():
            return f"text {item.x:.2f} {item.y:.2f} {item.face} {item.size:.2f} {item.role}{grey}: {item.text}"
        case Line():
            ends = f"{item.x1:.2f} {item.y1:.2f} {item.x2:.2f} {item.y2:.2f}"
            return f"line {ends} width {item.width:.2f} {item.role}{grey}"
        case Box():
            return f"box {item.x:.2f} {item.y:.2f} {item.width:.2f} {item.height:.2f} {item.role}{grey}"
        case Disc():
            ring = f" ring {item.ring:.2f}" if item.ring else ""
            return f"disc {item.x:.2f} {item.y:.2f} radius {item.radius:.2f}{ring} {item.role}{grey}"
        case Shape():
            points = " ".join(f"{point.x:.2f},{point.y:.2f}" for point in item.points)
            return f"shape {points} {item.role}{grey}"
        case Tie():
            ends = f"{item.x1:.2f} {item.x2:.2f} {item.y:.2f} rise {item.rise:.2f}"
            return f"tie {ends} width {item.width:.2f} {item.role}{grey}"
        case Keyboard():
            resolves = f" resolves {item.resolves[0]}>{item.resolves[1]}" if item.resolves else ""
            keys = " ".join(map(_mark, item.marks))
            size = f"{item.key_width:.2f} x {item.height:.2f}"
            return (
                f"keyboard {item.x:.2f} {item.y:.2f} {size} keys {item.low}-{item.high} {item.role}: {keys}{resolves}"
            )


def _mark(mark: KeyMark) -> str:
    came = f"<{mark.origin}" if mark.origin is not None else ""
    return f"{mark.key}{came}{'=' if mark.kind == 'held' else ''}"
