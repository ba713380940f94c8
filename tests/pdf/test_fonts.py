"""The faces: coverage, metrics, subsets."""

from __future__ import annotations

import pytest

from arranger.layout.model import Face
from arranger.pdf.fonts import ALWAYS, CODES, finished, load, metrics, subsets
from arranger.resources import FONT_FILES, font_path

FACES: tuple[Face, ...] = ("regular", "bold", "music")


@pytest.mark.parametrize("text", ["ÀÉÎõü ßæœ", "ąčęłńśźż", "ấộữỹ", "Ѣжяї", "ʻōlelo", "♯♭·×–—‘’“”…°½→✓"])
def test_the_text_faces_have_the_letters_of_songs(text: str) -> None:
    for face in FACES[:2]:
        assert [c for c in text if not metrics().covers(c, face)] == []


def test_the_music_face_has_what_the_text_faces_lack() -> None:
    for sign in "♩♮𝄎𝄐𝄞𝄢𝄪𝄫𝄻𝄼𝄽𝄾":
        assert metrics().covers(sign, "music")
        assert not metrics().covers(sign, "regular")


def test_invisible_characters_take_no_room() -> None:
    assert metrics().width("a\u200db", "regular", 10.0) == metrics().width("ab", "regular", 10.0)


def test_widths_and_heights_are_those_of_the_files() -> None:
    # Widths, capital height (OS/2) and the tops of outlines (glyf) of the cut faces, in thousandths of the size.
    assert metrics().width("H", "regular", 1000.0) == pytest.approx(1475 / 2048 * 1000, abs=0.5)
    assert metrics().width("\u00a0", "regular", 1.0) == metrics().width(" ", "regular", 1.0)
    assert metrics().cap_height("regular", 1000.0) == pytest.approx(725.1, abs=0.5)
    assert metrics().rise("Hx", "regular", 1000.0) == pytest.approx(713, abs=1)
    assert metrics().rise("Ấ", "regular", 1000.0) == pytest.approx(1252, abs=1)
    assert metrics().rise("", "regular", 1000.0) == metrics().rise(" ", "regular", 1000.0) == 0.0


@pytest.mark.parametrize("face", FACES)
def test_no_face_bears_a_reserved_name(face: Face) -> None:
    name = load(face).parsed.name.decode("ascii")
    assert name.startswith("KeysPart")
    assert "Andika" not in name and "SIL" not in name
    assert font_path(FONT_FILES[face]).with_name("OFL-text.txt").is_file()


def test_common_characters_always_have_the_same_codes() -> None:
    plain, accented = subsets("regular", "abc"), subsets("regular", "abcéạ")
    assert plain == subsets("regular", "xyz♯")
    assert accented[0][: len(plain[0])] == plain[0]
    assert accented[0][len(plain[0]) :] == ("é", "ạ")


def test_many_characters_are_divided_over_subsets() -> None:
    used = [chr(code) for code in range(0x100, 0x250) if metrics().covers(chr(code), "regular")]
    parts = subsets("regular", used)
    assert len(parts) == 2
    assert all(len(part) <= CODES for part in parts)
    found = [c for part in parts for c in part if c != "\0"]
    assert sorted(found) == sorted({*used, *ALWAYS["regular"]})


def test_a_subset_is_a_font_of_its_own() -> None:
    subset = finished("bold", subsets("bold", "é")[0], 0)
    assert subset.base_name == "KEYSAA+KeysPart-Bold"
    assert subset is finished("bold", subsets("bold", "é")[0], 0)
    assert len(subset.widths) == len(subset.characters)
    assert subset.length < font_path(FONT_FILES["bold"]).stat().st_size / 3
