"""Words in scripts that the program's fonts lack: what is told, and the player's own fonts."""

import os
import struct
from importlib.util import find_spec
from pathlib import Path
from random import Random

import pypdf
import pytest

from arranger.resources import FONT_AT_MOST
from arranger.text.terminal import printable

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
    (folder / "large.ttf").touch()
    os.truncate(folder / "large.ttf", FONT_AT_MOST + 1)
    for font, told in (
        ("font.ttf", "is no TrueType font, or a damaged one"),
        ("absent.ttf", "cannot be read: No such file"),
        ("large.ttf", "cannot be read: it has more than 64 MiB"),
        ("/dev/zero", "cannot be read: it is no ordinary file"),
        (".", "cannot be read: "),
        ("a\0b", "is no TrueType font"),
    ):
        status, out, err = run("part", "tide.song.txt", "--font", font)
        assert (status, out) == (2, "")
        assert err.startswith(f"arranger: the font {printable(font)} {told}")
    assert not (folder / "tide.pdf").exists()


def damaged(data: bytes, chance: Random) -> bytes:
    """Return a font with some damage: cut off, bits turned, bytes of a table's head changed, or a stretch of noise."""
    font = bytearray(data)
    match chance.randrange(4):
        case 0:
            del font[chance.randrange(len(font)) :]
        case 1:
            for _ in range(chance.randrange(1, 8)):
                font[chance.randrange(400)] ^= 1 << chance.randrange(8)
        case 2:
            (tables,) = struct.unpack_from(">H", font, 4)
            start, length = struct.unpack_from(">LL", font, 12 + 16 * chance.randrange(tables) + 8)
            for _ in range(chance.randrange(1, 6)):
                font[start + chance.randrange(min(length, 80))] = chance.choice((0, 255, chance.randrange(256)))
        case _:
            place = chance.randrange(len(font) - 5000)
            font[place : place + 5000] = chance.randbytes(5000)
    return bytes(font)


@pytest.mark.slow
def test_a_damaged_font_is_one_message_or_none(run, folder):
    """A part with glyphs of a damaged font is made, or the font is refused; nothing is a fault of the program."""
    chance = Random(7)
    (folder / "tide.song.txt").write_text(GEORGIAN, encoding="utf-8")
    data = (DEJAVU / "DejaVuSans.ttf").read_bytes()
    statuses = set()
    for number in range(25):
        font = folder / f"{number}.ttf"
        font.write_bytes(damaged(data, chance))
        status, _, err = run("part", "tide.song.txt", "--font", font.name)
        statuses.add(status)
        refused = f"arranger: the font {font.name} is no TrueType font, or a damaged one (fonts with PostScript "
        assert status == 0 or (err.startswith(refused) if status == 2 else "error missing-glyph" in err)
    assert statuses >= {0, 2}


def test_a_font_with_more_characters_than_there_are_is_refused_at_once(run, folder):
    """Its map of characters has one group that is 4,294,967,295 long."""
    data = bytearray((DEJAVU / "DejaVuSans.ttf").read_bytes())
    (tables,) = struct.unpack_from(">H", data, 4)
    records = {
        bytes(data[12 + 16 * n : 16 + 16 * n]): struct.unpack_from(">L", data, 20 + 16 * n)[0] for n in range(tables)
    }
    cmap = records[b"cmap"]
    maps = [
        struct.unpack_from(">HHL", data, cmap + 4 + 8 * n) for n in range(struct.unpack_from(">H", data, cmap + 2)[0])
    ]
    large = next(cmap + at for _, _, at in maps if struct.unpack_from(">H", data, cmap + at)[0] == 12)
    struct.pack_into(">LL", data, large + 16, 0, 0xFFFFFFFF)
    (folder / "font.ttf").write_bytes(data)
    (folder / "tide.song.txt").write_text(GEORGIAN, encoding="utf-8")
    status, out, err = run("part", "tide.song.txt", "--font", "font.ttf")
    assert (status, out) == (2, "") and "is no TrueType font, or a damaged one" in err


def test_a_font_that_turns_out_to_be_damaged_where_it_is_used(run, folder):
    """Its glyphs are gone, all else is there."""
    data = bytearray((DEJAVU / "DejaVuSans.ttf").read_bytes())
    (tables,) = struct.unpack_from(">H", data, 4)
    record = next(12 + 16 * n for n in range(tables) if data[12 + 16 * n : 16 + 16 * n] == b"glyf")
    struct.pack_into(">L", data, record + 8, len(data) - 4)
    (folder / "font.ttf").write_bytes(data)
    (folder / "tide.song.txt").write_text(GEORGIAN, encoding="utf-8")
    status, out, err = run("part", "tide.song.txt", "--font", "font.ttf")
    assert (status, out) == (2, "")
    assert err.startswith("arranger: the font font.ttf is no TrueType font, or a damaged one")
