"""Fonts as read are kept: what is taken from the cache is what parsing gives, and what is damaged is parsed anew."""

from pathlib import Path

import pytest
from reportlab.pdfbase.ttfonts import TTFontFace

from arranger import resources
from arranger.pdf import fonts
from arranger.pdf.fonts import LoadedFace, path_of
from arranger.resources import FONT_FILES


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(resources, "cache_folder", lambda: tmp_path / "cache")
    return tmp_path / "cache" / "parsers"


@pytest.fixture
def parsed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Count the fonts that are parsed."""
    found = []

    class Counted(TTFontFace):
        def __init__(self, *values: object) -> None:
            found.append(1)
            super().__init__(*values)

    monkeypatch.setattr(fonts, "TTFontFace", Counted)
    return found


def parts(face: LoadedFace) -> dict[str, object]:
    return {name: value for name, value in vars(face.parsed).items() if name != "_pdfScale"}


@pytest.mark.parametrize("name", FONT_FILES)
def test_a_kept_font_is_the_parsed_one(name, folder: Path, parsed: list[int]) -> None:
    path = path_of(name)
    one, two = LoadedFace(path, FONT_FILES[name]), LoadedFace(path, FONT_FILES[name])
    assert len(parsed) == 1
    assert parts(one) == parts(two)
    assert len(one.parsed.charToGlyph) > 5
    some = [*one.parsed.charToGlyph][:100]
    assert one.parsed.makeSubset(some) == two.parsed.makeSubset(some)
    assert {c: one.top(chr(c)) for c in some} == {c: two.top(chr(c)) for c in some}


@pytest.mark.parametrize("content", [b"", b"nothing", b"\x80\x05K\x01."])
def test_a_font_that_was_kept_badly_is_parsed_anew(content: bytes, folder: Path, parsed: list[int]) -> None:
    path, name = path_of("music"), FONT_FILES["music"]
    LoadedFace(path, name)
    (kept,) = folder.iterdir()
    kept.write_bytes(content)
    LoadedFace(path, name)
    assert len(parsed) == 2
    LoadedFace(path, name)
    assert len(parsed) == 2


def test_a_font_of_the_players_is_not_kept(tmp_path: Path, folder: Path, parsed: list[int]) -> None:
    own = tmp_path / "own.ttf"
    own.write_bytes(Path(path_of("music")).read_bytes())
    LoadedFace(str(own))
    LoadedFace(str(own))
    assert len(parsed) == 2
    assert not folder.exists()
