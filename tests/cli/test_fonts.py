"""Words in scripts that the program's fonts lack: what is told, and the player's own fonts."""

from importlib.util import find_spec
from pathlib import Path

import pypdf

SONG = """song Low Tide
key D

section Verse
| D | G | A | D |
sing | {} and | shells and | ropes and | rain |
"""
GEORGIAN = SONG.format("ზღვა")
DEJAVU = Path(find_spec("matplotlib").origin).parent / "mpl-data" / "fonts" / "ttf"  # music21, of the tests, needs it


def test_what_no_font_has_is_an_error_and_no_gap(run, folder):
    (folder / "tide.song.txt").write_text(SONG.format("砂"), encoding="utf-8")
    status, out, err = run("part", "tide.song.txt")
    assert (status, out) == (1, "")
    assert "error missing-glyph: " in err
    assert "U+7802" in err
    assert not (folder / "tide.pdf").exists()


def test_a_font_of_the_players_prints_what_the_programs_lack(run, folder):
    (folder / "tide.song.txt").write_text(GEORGIAN, encoding="utf-8")
    assert run("check", "tide.song.txt")[0] == 1
    font = str(DEJAVU / "DejaVuSans.ttf")
    assert run("check", "tide.song.txt", "--font", font) == (0, "", "")
    assert run("part", "tide.song.txt", "--font", font) == (0, "tide.pdf: 1 page\n", "")
    assert "ზღვა" in pypdf.PdfReader(folder / "tide.pdf").pages[0].extract_text()


def test_fonts_of_the_settings_lie_beside_them(run, folder):
    (folder / "tide.song.txt").write_text(GEORGIAN, encoding="utf-8")
    (folder / "mine").mkdir()
    (folder / "mine" / "font.ttf").write_bytes((DEJAVU / "DejaVuSans.ttf").read_bytes())
    (folder / "mine" / "player.toml").write_text('[page]\nfonts = ["font.ttf"]\n', encoding="utf-8")
    assert run("part", "tide.song.txt", "--player", "mine/player.toml") == (0, "tide.pdf: 1 page\n", "")
    assert run("check", "tide.song.txt", "--player", "mine/player.toml") == (0, "", "")


def test_a_font_that_is_none_is_refused_by_name(run, folder):
    (folder / "tide.song.txt").write_text(GEORGIAN, encoding="utf-8")
    (folder / "font.ttf").write_bytes(b"no font at all, but longer than a header")
    for font, told in (("font.ttf", "is no TrueType font"), ("absent.ttf", "cannot be read: No such file")):
        status, out, err = run("part", "tide.song.txt", "--font", font)
        assert (status, out) == (2, "")
        assert err.startswith(f"arranger: the font {font} {told}")
    assert not (folder / "tide.pdf").exists()
