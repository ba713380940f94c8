"""Tiny pictures of what the PDF looks like when another program draws it: each kind of item, and a keyboard.

The goldens are drawn with characters, so that a change can be looked at in the diff. Programs differ in how they draw
edges: a picture is the same when nearly all its points are.
"""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest

from arranger.layout.model import Disc, Document, Item, Keyboard, KeyMark, Line, Page, Shape, Text, Tie
from arranger.pdf.write import to_bytes
from arranger.units import Point
from tests.conftest import GOLDEN

GREYS = "#+:. "  # from black to white, a fifth of the range each
SAME = 0.97  # of the points: edges may fall to the next grey, and a few farther

ITEMS: tuple[Item, ...] = (
    Text(2, 16, "Gm", "bold", 16, "chord"),
    Text(28, 11, "7", "bold", 11, "chord"),
    Text(38, 16, "♭", "music", 16, "chord"),
    Text(48, 30, "𝄞", "music", 24, "clef"),
    Line(46, 12, 76, 12, 1, "rule"),
    Line(46, 24, 76, 24, 2, "rule", 0.5),
    Disc(8, 32, 5, "mark"),
    Disc(24, 32, 5, "mark", 1.5),
    Tie(34, 46, 32, 4, 1.5, "tie"),
    Shape((Point(66, 38), Point(76, 38), Point(71, 28)), "arrow"),
)
KEYS = Keyboard(
    2,
    2,
    60,
    71,
    9,
    36,
    (KeyMark(62, "held"), KeyMark(66, "moved", 64), KeyMark(69, "moved", 71)),
    resolves=(69, 67),
)


def raster(items: tuple[Item, ...], width: int, height: int) -> str:
    """Draw items on a page of so many points and give it as text, a character a point."""
    document = Document((Page(width, height, items, label="1"),), "Raster")
    bitmap = pypdfium2.PdfDocument(to_bytes(document))[0].render(scale=1, grayscale=True)
    values, stride = bytes(bitmap.buffer), bitmap.stride
    rows = (values[row * stride : row * stride + width] for row in range(height))
    return "".join("".join(GREYS[value * len(GREYS) // 256] for value in row).rstrip() + "\n" for row in rows)


def likeness(one: str, other: str, width: int) -> float:
    """Give the share of points that are equal, or next to each other among the greys."""
    pairs = [
        abs(GREYS.index(a) - GREYS.index(b)) <= 1
        for row, other_row in zip(one.splitlines(), other.splitlines(), strict=True)
        for a, b in zip(row.ljust(width), other_row.ljust(width), strict=True)
    ]
    return sum(pairs) / len(pairs)


@pytest.mark.parametrize(("name", "items", "size"), [("items", ITEMS, (80, 44)), ("keyboard", (KEYS,), (68, 42))])
def test_it_looks_as_it_did(
    name: str, items: tuple[Item, ...], size: tuple[int, int], request: pytest.FixtureRequest
) -> None:
    drawn = raster(items, *size)
    path: Path = GOLDEN / "rasters" / f"{name}.txt"
    if request.config.getoption("--golden"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(drawn, encoding="utf-8", newline="\n")
    assert likeness(drawn, path.read_text(encoding="utf-8"), size[0]) >= SAME


def test_a_picture_that_lacks_one_item_is_told_apart() -> None:
    whole = raster(ITEMS, 80, 44)
    for index in (0, 3, 6, 7, 9):
        assert likeness(raster(ITEMS[:index] + ITEMS[index + 1 :], 80, 44), whole, 80) < 0.995
    assert likeness(raster((), 80, 44), whole, 80) < SAME
