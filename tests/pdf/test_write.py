"""The PDF read back by two other programs: text and places, fonts, outline, links, labels, what it says of itself."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from pathlib import Path

import pypdf
import pypdfium2
import pytest

from arranger.layout.model import Bookmark, Box, Disc, Document, Keyboard, KeyMark, Line, Link, Page, Shape, Text, Tie
from arranger.layout.options import PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.units import A4, Point, Rect, number
from tests.layout import songs

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def document() -> Document:
    return lay_out(songs.arranged(songs.lanterns()), metrics(), PartOptions(A4, verses="apart"))[0]


@pytest.fixture(scope="module")
def data(document: Document) -> bytes:
    return to_bytes(document)


def reader(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data), strict=True)


def read_items(data: bytes, page: int) -> list[tuple[str, float, float]]:
    """Give each shown string with its origin, from the bottom left, as another program finds them."""
    found: list[tuple[str, float, float]] = []

    def visit(text: str, _ctm: object, matrix: list[float], *_: object) -> None:
        if text.strip():
            found.append((text.strip("\n"), matrix[4], matrix[5]))

    reader(data).pages[page].extract_text(visitor_text=visit)
    return found


def test_every_text_is_read_back_in_order_where_it_was_placed(document: Document, data: bytes) -> None:
    for index, page in enumerate(document.pages):
        content = reader(data).pages[index].get_contents()
        assert content is not None
        placed = [item for item in page.items if isinstance(item, Text)]
        origins = [(float(operands[4]), float(operands[5])) for operands, name in content.operations if name == b"Tm"]
        assert origins == [(float(number(item.x)), float(number(page.height - item.y))) for item in placed]
        whole = pypdfium2.PdfDocument(data)[index].get_textpage().get_text_range()
        read = "".join(whole.split())
        expected = "".join("".join(item.text.split()) for item in placed)
        # Hyphens at a line's end are dropped or marked by the reader: they are left out on both sides.
        drop = str.maketrans("", "", "-\ufffe\u0002")
        assert read.translate(drop) == expected.translate(drop)


def test_the_places_of_characters_are_those_of_the_layout(document: Document, data: bytes) -> None:
    page, pdf = document.pages[0], pypdfium2.PdfDocument(data)[0].get_textpage()
    title = next(item for item in page.items if isinstance(item, Text) and item.role == "title")
    left, bottom, right, top = pdf.get_charbox(0, loose=False)
    assert left == pytest.approx(title.x, abs=2.5)
    assert bottom == pytest.approx(page.height - title.y, abs=0.5)
    assert top - bottom == pytest.approx(metrics().rise(title.text[0], title.face, title.size), abs=0.5)
    assert right - left < metrics().width(title.text[0], title.face, title.size)


def test_words_can_be_searched(data: bytes) -> None:
    text = pypdfium2.PdfDocument(data)[0].get_textpage()
    for wanted in ("lanterns one by", "Lanterns on the Harbour", "F♯", "♩"):
        assert text.search(wanted).get_next() is not None, wanted


def test_all_fonts_are_embedded_subsets(data: bytes) -> None:
    for page in reader(data).pages:
        fonts = page["/Resources"]["/Font"]  # type: ignore[index]
        assert len(fonts) == 3
        for reference in fonts.values():
            font = reference.get_object()
            assert font["/BaseFont"][:6].startswith("/KEYS")
            assert "/FontFile2" in font["/FontDescriptor"]
            assert "/ToUnicode" in font


def test_it_says_what_it_is(document: Document, data: bytes) -> None:
    info = reader(data).metadata
    assert info is not None
    assert (info.title, info.subject, info.creator) == (document.title, "keys part in D major", "keys-arranger")
    assert reader(data).page_labels == [str(number + 1) for number in range(len(document.pages))]
    assert reader(data).pages[0].mediabox[2:] == pytest.approx([595.28, 841.89], abs=0.01)


def test_titles_in_any_letters_and_a_language() -> None:
    page = Page(100.0, 100.0, (Text(10.0, 20.0, "Là", "regular", 10.0, "title"),), label="1")
    made = Document((page,), "Là-bas – “ő”", "Élise", language="fr", bookmarks=(Bookmark("Œuvre", 0, 5.0),))
    read = reader(to_bytes(made))
    assert read.metadata is not None
    assert (read.metadata.title, read.metadata.author) == ("Là-bas – “ő”", "Élise")
    assert read.trailer["/Root"]["/Lang"] == "fr"  # type: ignore[index]
    assert [entry.title for entry in read.outline] == ["Œuvre"]  # type: ignore[union-attr]


def test_the_outline_leads_to_the_sections(document: Document, data: bytes) -> None:
    read = reader(data)
    entries = [
        (entry.title, read.get_destination_page_number(entry), float(entry.top))  # type: ignore[union-attr,arg-type]
        for entry in read.outline
    ]
    assert entries == [
        (mark.title, mark.page, pytest.approx(document.pages[mark.page].height - mark.y, abs=0.01))
        for mark in document.bookmarks
    ]


def test_the_roadmap_is_linked(document: Document, data: bytes) -> None:
    page = document.pages[0]
    annotations = [reference.get_object() for reference in reader(data).pages[0]["/Annots"]]  # type: ignore[union-attr]
    assert [a["/Contents"] for a in annotations] == [document.bookmarks[link.target].title for link in page.links]
    rect = page.links[0].rect
    assert [float(edge) for edge in annotations[0]["/Rect"]] == pytest.approx(
        [rect.x, page.height - rect.bottom, rect.right, page.height - rect.y], abs=0.01
    )


def test_every_kind_of_item_is_drawn() -> None:
    items = (
        Line(10, 10, 90, 10, 1.0, "rule"),
        Box(10, 20, 30, 10, "box", 0.5),
        Disc(70, 25, 5, "disc"),
        Disc(85, 25, 5, "ring", 1.0),
        Shape((Point(10, 40), Point(20, 40), Point(15, 50)), "shape"),
        Tie(30, 50, 50, 4, 1.0, "tie"),
        Keyboard(10, 60, 60, 72, 6.0, 30.0, (KeyMark(60, "held"), KeyMark(64, "moved", 65)), (64, 62)),
    )
    blank = Page(100.0, 100.0, ())
    for item in items:
        page = Page(100.0, 100.0, (item,), (Link(Rect(0, 0, 1, 1), 0),) if item.role == "rule" else ())
        made = Document((page,), "t", bookmarks=(Bookmark("a", 0, 0.0),))
        image = pypdfium2.PdfDocument(to_bytes(made))[0].render(scale=2).to_numpy()
        empty = pypdfium2.PdfDocument(to_bytes(Document((blank,), "t")))[0].render(scale=2).to_numpy()
        assert (image != empty).any(), item
        rows, columns = (image != empty).any(axis=2).nonzero()
        x, y = _middle(item)
        assert (columns.min() + columns.max()) / 4 == pytest.approx(x, abs=2.0), item
        assert (rows.min() + rows.max()) / 4 == pytest.approx(y, abs=2.0), item


def _middle(item: object) -> tuple[float, float]:
    match item:
        case Line():
            return (item.x1 + item.x2) / 2, (item.y1 + item.y2) / 2
        case Box():
            return item.x + item.width / 2, item.y + item.height / 2
        case Disc():
            return item.x, item.y
        case Shape():
            return 15.0, 45.0
        case Tie():
            return 40.0, 48.0
        case Keyboard():
            return item.x + 24, item.y + item.height / 2
    raise AssertionError(item)


def test_a_character_without_glyph_is_drawn_as_the_missing_sign() -> None:
    page = Page(100.0, 100.0, (Text(10.0, 20.0, "漢", "music", 10.0, "title"),))
    assert reader(to_bytes(Document((page,), "t"))).pages[0].get_contents() is not None


def test_parentheses_and_backslashes_are_kept() -> None:
    page = Page(100.0, 100.0, (Text(5.0, 20.0, r"(a) \ b", "regular", 9.0, "words"),))
    text = pypdfium2.PdfDocument(to_bytes(Document((page,), "t")))[0].get_textpage().get_text_range()
    assert text == r"(a) \ b"


def test_the_same_document_gives_the_same_bytes(document: Document, data: bytes) -> None:
    assert to_bytes(document) == data


_ANOTHER_PROCESS = """
import hashlib
from arranger.layout.options import PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.units import A4
from tests.layout import songs
print(hashlib.sha256(to_bytes(lay_out(songs.arranged(songs.lanterns()), metrics(), PartOptions(A4))[0])).hexdigest())
"""


@pytest.mark.slow
def test_another_process_with_other_hashes_gives_the_same_bytes(data: bytes) -> None:
    digests = {
        subprocess.run(
            [sys.executable, "-c", _ANOTHER_PROCESS],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.strip()
        for seed in ("1", "2")
    }
    assert digests == {hashlib.sha256(data).hexdigest()}


def test_it_is_small(data: bytes) -> None:
    assert len(data) < 60_000


def test_the_pdf_library_finds_pictures_where_it_asks_for_one():
    """Pillow is not loaded with it, but when first used: in a fresh process, since another test may have loaded it."""
    code = (
        "import sys, arranger.pdf, reportlab.lib.utils as utils; assert 'PIL' not in sys.modules;"
        "assert utils.Image.new('L', (2, 3)).size == (2, 3); assert 'PIL.Image' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
