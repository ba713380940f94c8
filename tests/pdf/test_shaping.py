"""Words in other scripts: the player's fonts, shaped glyphs, what readers find in the PDF, what is told of failures."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from arranger.layout.model import Document, Text
from arranger.layout.options import PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.pdf import shaping
from arranger.pdf.fonts import metrics, path_of, problem_with
from arranger.pdf.write import to_bytes
from arranger.song.model import SongText as Fact
from tests.layout import songs

NOTO = Path("/usr/share/fonts/truetype/noto")  # Debian's package fonts-noto-core
HEBREW, ARABIC, DEVANAGARI = (
    str(NOTO / f"Noto{name}-Regular.ttf") for name in ("SansHebrew", "NaskhArabic", "SansDevanagari")
)
needs_shaping = pytest.mark.skipif(shaping.shaper() is None, reason="the extra `scripts` is not installed")


def needs(*paths: str) -> pytest.MarkDecorator:
    return pytest.mark.skipif(not all(Path(path).is_file() for path in paths), reason="no such fonts here")


def titled(title: str, *fonts: str) -> tuple[Document, list[str]]:
    arrangement = songs.arranged(replace(songs.lanterns(), title=Fact(title)))
    document, problems = lay_out(arrangement, metrics(fonts), options=PartOptions(fonts=fonts))
    return document, [problem.code for problem in problems]


def read(document: Document, *fonts: str) -> str:
    page = pypdfium2.PdfDocument(to_bytes(document, fonts))[0]
    return str(page.get_textpage().get_text_range())


def test_greek_comes_from_a_face_of_the_program() -> None:
    document, problems = titled("Βροχή ἀεί")
    assert problems == []
    assert "Βροχή ἀεί" in read(document)
    faces = {item.face for item in document.pages[0].items if isinstance(item, Text) and item.role == "title"}
    assert faces == {"bold", "greek bold"}  # the blank is that of the text face


@pytest.mark.slow
def test_a_song_in_latin_letters_loads_no_shaper(tmp_path: Path) -> None:
    song = Path(__file__).parents[2] / "samples" / "lanterns.song.txt"
    code = "import sys; from arranger.cli import main; main(sys.argv[1:]); print('uharfbuzz' in sys.modules)"
    words = [sys.executable, "-c", code, "part", str(song), "-o", str(tmp_path / "part.pdf")]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.split()[-1] == "False"


@needs_shaping
def test_shaped_glyphs_stand_in_the_order_in_which_they_are_seen() -> None:
    path = path_of("regular")
    rightward, leftward = shaping.shape(path, "abc", False), shaping.shape(path, "abc", True)
    assert [glyph.number for glyph in leftward] == [glyph.number for glyph in rightward][::-1]
    assert "".join(glyph.text for glyph in rightward) == "abc"
    assert sum(glyph.advance for glyph in rightward) == pytest.approx(metrics().width("abc", "regular", 1.0), abs=0.01)


@needs(HEBREW)
def test_hebrew_is_set_from_right_to_left_and_read_in_order() -> None:
    document, problems = titled("שלום", HEBREW)
    assert problems == []
    assert "שלום" in read(document, HEBREW)


@needs_shaping
@needs(ARABIC, DEVANAGARI)
def test_letters_that_join_are_shaped_and_read_in_order() -> None:
    document, problems = titled("मेरी किताब", ARABIC, DEVANAGARI)
    assert problems == []
    assert "मेरी किताब" in read(document, ARABIC, DEVANAGARI)
    (title,) = [item for item in document.pages[0].items if isinstance(item, Text) and item.role == "title"]
    assert title.glyphs and title.face == "other 2"
    document, problems = titled("مرحبا", ARABIC)
    assert problems == [] and "مرحبا" in read(document, ARABIC)
    (title,) = [item for item in document.pages[0].items if isinstance(item, Text) and item.role == "title"]
    alone = sum(metrics((ARABIC,)).width(letter, "other 1", title.size) for letter in "مرحبا")
    joined = sum(glyph.advance for glyph in title.glyphs) * title.size
    assert joined != pytest.approx(alone)  # joined letters have forms of their own


@needs(ARABIC)
def test_without_the_extra_letters_that_join_are_an_error_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("arranger.pdf.fonts.shape", lambda *_: ())
    metrics.cache_clear()
    _, problems = titled("مرحبا مرحبا", ARABIC)
    metrics.cache_clear()
    assert problems == ["unshaped-script"]


@needs_shaping
@needs(ARABIC)
def test_the_same_shaped_document_gives_the_same_bytes() -> None:
    document, _ = titled("مرحبا", ARABIC)
    assert to_bytes(document, (ARABIC,)) == to_bytes(document, (ARABIC,))


def test_a_font_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    assert problem_with(path_of("regular")) is None
    assert "cannot be read" in (problem_with(str(tmp_path / "none.ttf")) or "")
    wrong = tmp_path / "wrong.ttf"
    wrong.write_text("no font at all, but longer than a header")
    assert "no TrueType font" in (problem_with(str(wrong)) or "")
