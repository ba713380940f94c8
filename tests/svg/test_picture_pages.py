"""Pages for the screen: the same items in the same places as in the document, well-formed, whatever a song says."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from arranger.intake import Wishes
from arranger.layout.model import Document, Page, Text
from arranger.layout.options import PartOptions, StageOptions
from arranger.pipeline import to_arrangement, to_pages, to_song
from arranger.staging import to_stage_pages
from arranger.svg.picture_pages import NAMESPACE, faces, pages
from arranger.text.source import Source, Span
from arranger.units import SHEETS, number

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
SVG = f"{{{NAMESPACE}}}"


def laid_out(path, wishes):
    song, _ = to_song(Source.of(path.name, path.read_text(encoding="utf-8")))
    arrangement, _ = to_arrangement(song, wishes)
    document, _ = to_pages(arrangement, wishes)
    return song, document


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name.partition(".")[0])
@pytest.mark.parametrize("hands", ["keyboard", "staff", "letters"])
def test_pages_have_every_text_and_its_place_in_the_song(path, hands):
    song, document = laid_out(path, Wishes(pages=PartOptions(hands=hands), figures=False))
    for page, drawn in zip(document.pages, pages(document), strict=True):
        root = ET.fromstring(drawn)
        assert root.get("viewBox") == f"0 0 {number(page.width)} {number(page.height)}"
        texts = [item for item in page.items if isinstance(item, Text)]
        shown = list(root.iter(f"{SVG}text"))
        assert [element.text for element in shown] == [item.text for item in texts]
        for group in root[1]:
            start, end = group.get("data-from"), group.get("data-to")
            assert (start is None) == (end is None)
            assert start is None or 0 <= int(start) < int(end) <= len(song.source.text)
        assert len(root[1]) == len(page.items)


def test_text_begins_where_the_page_has_it():
    item = Text(10.0, 20.5, "A & <b>", "bold", 11.0, "words", span=Span(3, 9))
    (drawn,) = pages(Document((Page(100.0, 50.0, (item,), scale=2.0),), "t"))
    root = ET.fromstring(drawn)
    text = root.find(f".//{SVG}text")
    assert text.text == "A & <b>"
    assert (text.get("x"), text.get("y"), text.get("font-size")) == ("10", "20.5", "11")
    assert text.get("font-family") == "part-bold"
    assert root[1].get("transform") == "scale(2)"
    assert (root[1][0].get("data-from"), root[1][0].get("data-to")) == ("3", "9")


def test_no_text_becomes_markup_or_breaks_the_page():
    """What XML 1.0 (2.2) has no place for is replaced: controls, half characters, U+FFFE and U+FFFF."""
    hostile = "\"'<script>alert(1)</script>&amp;]]>\x00\x1b\ufffe\uffff\ud800\u202e"
    item = Text(0.0, 0.0, hostile, "regular", 9.0, 'words" onload="x')
    (drawn,) = pages(Document((Page(10.0, 10.0, (item,)),), "t", language='en" x="'))
    root = ET.fromstring(drawn.encode())
    assert {element.tag for element in root.iter()} == {f"{SVG}{name}" for name in ("svg", "rect", "g", "text")}
    assert not any(re.match("on|style|href", name) for element in root.iter() for name in element.attrib)


def test_stage_copies_for_screens_are_dark():
    path, wishes = SAMPLES[0], Wishes(stage=StageOptions(sheet=SHEETS["tablet"], dark=True), figures=False)
    song, _ = to_song(Source.of(path.name, path.read_text(encoding="utf-8")))
    arrangement, _ = to_arrangement(song, wishes)
    document, _ = to_stage_pages(arrangement, wishes)
    for drawn in pages(document):
        root = ET.fromstring(drawn)
        ground, inks = root[0].get("fill"), {text.get("fill") for text in root.iter(f"{SVG}text")}
        assert int(ground[1:3], 16) < 40
        assert all(int(ink[1:3], 16) > 128 for ink in inks)


def test_the_faces_are_those_of_the_texts():
    _, document = laid_out(SAMPLES[0], Wishes(figures=False))
    named = set(re.findall(r'font-family="([^"]+)"', "".join(pages(document))))
    assert named == {f"part-{face.replace(' ', '-')}" for face in faces(document)}
