"""Placed items moved, enlarged, and in other inks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from arranger.layout.model import Box, Disc, Item, Keyboard, Line, Shape, Text, Tie
from arranger.units import Point, Rect


def moved(item: Item, dx: float, dy: float) -> Item:
    """Move an item."""
    return enlarged(item, 1.0, dx, dy)


def enlarged(item: Item, factor: float, dx: float, dy: float) -> Item:
    """Enlarge an item from the origin, then move it."""
    match item:
        case Text():
            return replace(
                item,
                x=item.x * factor + dx,
                y=item.y * factor + dy,
                size=item.size * factor,
                gap=item.gap * factor,
            )
        case Line():
            return replace(
                item,
                x1=item.x1 * factor + dx,
                y1=item.y1 * factor + dy,
                x2=item.x2 * factor + dx,
                y2=item.y2 * factor + dy,
                width=item.width * factor,
            )
        case Box():
            return replace(
                item,
                x=item.x * factor + dx,
                y=item.y * factor + dy,
                width=item.width * factor,
                height=item.height * factor,
            )
        case Disc():
            return replace(
                item,
                x=item.x * factor + dx,
                y=item.y * factor + dy,
                radius=item.radius * factor,
                ring=item.ring * factor,
            )
        case Shape():
            points = tuple(Point(point.x * factor + dx, point.y * factor + dy) for point in item.points)
            return replace(item, points=points)
        case Tie():
            return replace(
                item,
                x1=item.x1 * factor + dx,
                x2=item.x2 * factor + dx,
                y=item.y * factor + dy,
                rise=item.rise * factor,
                width=item.width * factor,
            )
        case Keyboard():
            return replace(
                item,
                x=item.x * factor + dx,
                y=item.y * factor + dy,
                key_width=item.key_width * factor,
                height=item.height * factor,
            )


def enlarged_rect(rect: Rect, factor: float, dx: float, dy: float) -> Rect:
    """Enlarge a rectangle from the origin, then move it."""
    return Rect(rect.x * factor + dx, rect.y * factor + dy, rect.width * factor, rect.height * factor)


def inked(item: Item, inks: Mapping[float, float]) -> Item:
    """Return an item in other inks: for each lightness that occurs, another. Pictures of keyboards keep theirs."""
    return item if isinstance(item, Keyboard) else replace(item, grey=inks[item.grey])
