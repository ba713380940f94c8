"""Links to other files, and bookmarks under bookmarks, read back by two other programs."""

from __future__ import annotations

import io
from urllib.parse import unquote, urljoin

import pypdf
import pypdfium2
import pytest

from arranger.layout.model import Bookmark, Document, FileLink, Link, Page, Text
from arranger.pdf.write import to_bytes
from arranger.units import Rect

FILES = ["lanterns.pdf", "deep/slow boats.pdf", "Été (2) #1 50%.pdf", "a.b.c/海.pdf", "../out.pdf", "back\\slash.pdf"]


def document(files: list[str]) -> Document:
    text = Text(20.0, 20.0, "x", "regular", 10.0, "words")
    links = [
        FileLink(Rect(10.0, 10.0 + 20 * n, 50.0, 12.0), file, f"song {file}", by_address=by_address)
        for n, file in enumerate(files)
        for by_address in (False, True)
    ]
    pages = tuple(Page(300.0, 400.0, (text,), (*links, Link(Rect(0.0, 0.0, 9.0, 9.0), 3)), str(n)) for n in (1, 2))
    marks = [("By title", 0, 0), ("A", 0, 1), ("B", 1, 1), ("By key", 1, 0), ("C major", 1, 1), ("By tempo", 1, 0)]
    return Document(
        pages, "x", bookmarks=tuple(Bookmark(title, page, 30.0, level=level) for title, page, level in marks)
    )


@pytest.fixture(scope="module")
def reader() -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(to_bytes(document(FILES))), strict=True)


def test_every_link_names_its_file_in_both_ways(reader: pypdf.PdfReader) -> None:
    for page in reader.pages:
        annotations = [one.get_object() for one in page["/Annots"]]
        actions = [one["/A"].get_object() for one in annotations if "/A" in one]
        remote = [action for action in actions if action["/S"] == "/GoToR"]
        assert [action["/F"]["/UF"] for action in remote] == FILES
        assert [action["/F"]["/F"].original_bytes.decode() for action in remote] == FILES
        assert all(list(action["/D"]) == [0, "/Fit"] for action in remote)
        addresses = [action["/URI"] for action in actions if action["/S"] == "/URI"]
        assert [unquote(address).removeprefix("./") for address in addresses] == FILES
        assert all(address.isascii() and " " not in address for address in addresses)
        home = "https://example.org/band/parts/index.pdf"
        assert urljoin(home, addresses[0]) == "https://example.org/band/parts/lanterns.pdf"
        assert [one["/Contents"] for one in annotations][:2] == ["song lanterns.pdf"] * 2


def test_a_file_has_one_action_however_often_it_is_linked(reader: pypdf.PdfReader) -> None:
    first, second = ([one.get_object().raw_get("/A").idnum for one in page["/Annots"][:-1]] for page in reader.pages)
    assert first == second
    assert len(set(first)) == 2 * len(FILES)


def test_links_and_bookmarks_inside_the_document_still_lead_there(reader: pypdf.PdfReader) -> None:
    last = reader.pages[0]["/Annots"][-1].get_object()
    assert last["/Contents"] == "By key" and last["/Dest"][0].idnum == reader.pages[1].indirect_reference.idnum


def test_bookmarks_stand_under_others(reader: pypdf.PdfReader) -> None:
    def titles(entries: list[object]) -> list[object]:
        return [titles(one) if isinstance(one, list) else one.title for one in entries]  # type: ignore[attr-defined]

    assert titles(reader.outline) == ["By title", ["A", "B"], "By key", ["C major"], "By tempo"]
    found = pypdfium2.PdfDocument(to_bytes(document(FILES))).get_toc()
    shown = [(mark.get_title(), mark.level, mark.get_dest().get_index()) for mark in found]
    assert shown == [
        ("By title", 0, 0), ("A", 1, 0), ("B", 1, 1), ("By key", 0, 1), ("C major", 1, 1), ("By tempo", 0, 1),
    ]  # fmt: skip
    root = reader.trailer["/Root"]["/Outlines"]
    assert root["/Count"] == 3 and root["/First"]["/Count"] == -2


def test_the_same_links_give_the_same_bytes() -> None:
    assert to_bytes(document(FILES)) == to_bytes(document(FILES))
