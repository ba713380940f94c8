"""`convert` from outside: what it writes, what it says, what it leaves alone."""

import os

import pypdf
import pytest

from arranger.pipeline import all_problems
from arranger.text.diagnostics import has_errors
from arranger.text.source import Source

SHEET = """Low Tide
by Nell Tarrant

Verse 1
G           D/F#        Em          C
Sand in the pockets and salt on the line

Chorus
C          D        G
Low tide,  low tide again
"""


@pytest.fixture
def folder(folder):
    """Give the folder with one sheet."""
    (folder / "tide.txt").write_text(SHEET, encoding="utf-8")
    return folder


def names(folder):
    return sorted(p.name for p in folder.iterdir())


def test_the_song_stands_beside_the_sheet_and_passes_check(run, tmp_path):
    status, out, err = run("convert", "tide.txt")
    assert (status, out) == (0, "tide.song.txt: made of tide.txt; right as far as the sheet tells\n")
    assert err.count("assumed:") == 3  # bars, meter, key
    assert names(tmp_path) == ["tide.song.txt", "tide.txt"]
    assert run("check", "tide.song.txt") == (0, "", "")


def test_the_same_sheet_gives_the_same_song(run, tmp_path):
    run("convert", "tide.txt")
    first = (tmp_path / "tide.song.txt").read_bytes()
    run("convert", "tide.txt", "--force")
    assert (tmp_path / "tide.song.txt").read_bytes() == first


def test_a_song_that_is_there_stays(run, tmp_path):
    (tmp_path / "tide.song.txt").write_text("mine")
    status, out, err = run("convert", "tide.txt", "--part")
    assert (status, out) == (2, "")
    assert "tide.song.txt is there already" in err and "--force" in err
    assert (tmp_path / "tide.song.txt").read_text() == "mine"
    assert names(tmp_path) == ["tide.song.txt", "tide.txt"]
    assert run("convert", "tide.txt", "--force")[0] == 0
    assert (tmp_path / "tide.song.txt").read_text().startswith("song ")


@pytest.mark.parametrize(("where", "made"), [("mine.song.txt", "mine.song.txt"), ("songs/", "songs/tide.song.txt")])
def test_a_file_or_a_folder(run, tmp_path, where, made):
    assert run("convert", "tide.txt", "-o", where)[0] == 0
    assert (tmp_path / made).is_file()


def test_straight_to_the_part(run, tmp_path):
    status, out, _ = run("convert", "tide.txt", "--part", "-o", "songs/")
    assert status == 0
    assert out == "songs/tide.song.txt: made of tide.txt; right as far as the sheet tells\nsongs/tide.pdf: 1 page\n"
    assert "Low Tide" in pypdf.PdfReader(tmp_path / "songs" / "tide.pdf").pages[0].extract_text()


def test_what_the_player_says(run, tmp_path):
    assert run("convert", "tide.txt", "--key", "Em", "--meter", "3/4", "--bars", "two-a-chord")[0] == 0
    text = (tmp_path / "tide.song.txt").read_text()
    assert "key       Em\n" in text and "meter     3/4\n" in text
    assert text.count("| %") == 7  # a second bar for each chord
    assert not has_errors(all_problems(Source.of("", text)))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["convert"], "the following arguments are required: SHEET"),
        (["convert", "tied.txt"], "there is no file tied.txt"),
        (["convert", "tide.txt", "--key", "X"], "expected a key such as D, Bb or F#m after --key, found `X`"),
        (["convert", "tide.txt", "--meter", "4"], "expected a meter such as 3/4 or 6/8 after --meter, found `4`"),
        (["convert", "tide.txt", "--meter", "4/16"], "expected a meter"),
        (["convert", "tide.txt", "--bars", "three"], "expected one-a-chord or two-a-chord after --bars"),
        (["convert", "tide.txt", "tide.txt"], "the sheet tide.txt is given twice"),
        (["convert", "tide.txt", "-o", "player.toml", "--force"], "found player.toml, the name of a file of settings"),
        (["convert", "tide.txt", "-o", "tide.pdf", "--force"], "expected a name for a song, found tide.pdf"),
        (["convert", "tide.txt", "-o", "tide.txt"], "the song tide.txt would lie over the sheet tide.txt"),
    ],
)
def test_what_cannot_be_done_as_given(run, tmp_path, words, told):
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert told in err
    assert names(tmp_path) == ["tide.txt"]


def test_what_found_no_place_is_kept_and_listed(run, tmp_path):
    tabbed = SHEET.replace("Chorus\n", "e|---0---2---3---|\nB|---1---3---0---|\n\nChorus\n")
    (tmp_path / "tide.txt").write_text(tabbed)
    status, _, err = run("convert", "tide.txt")
    assert status == 0
    assert "tide.txt:8: not in the song, kept as a remark: e|---0---2---3---|\n" in err
    assert "# sheet, line 8: e|---0---2---3---|\n" in (tmp_path / "tide.song.txt").read_text()


def test_one_that_is_no_sheet_does_not_stop_the_others(run, tmp_path):
    (tmp_path / "words.txt").write_text("Only words\nand no chord\n")
    status, out, err = run("convert", "words.txt", "tide.txt")
    assert status == 1
    assert out == (
        "tide.song.txt: made of tide.txt; right as far as the sheet tells\n"
        "2 sheets: 1 right as far as they tell, 1 not made\n"
    )
    assert "words.txt: error sheet-without-chords: " in err


def test_old_encodings_are_read_and_told(run, tmp_path):
    (tmp_path / "tide.txt").write_bytes(SHEET.replace("Sand", "Sänd").encode("cp1252"))
    status, _, err = run("convert", "tide.txt")
    assert status == 0
    assert "tide.txt: read as Windows-1252\n" in err
    assert "Sänd" in (tmp_path / "tide.song.txt").read_text(encoding="utf-8")


def test_a_sheet_given_as_a_song_stays_as_it_is(run, tmp_path):
    for words in (["part", "tide.txt"], ["check", "tide.txt"], ["check", "tide.txt", "--fix"], ["tidy", "tide.txt"]):
        status, out, err = run(*words)
        assert (status, out) == (1, "")
        assert err == (
            "tide.txt: error typed-sheet: expected a song, found a typed sheet: lines of chords above lines of words\n"
            "  hint: `arranger convert tide.txt` makes a song of it\n"
        )
    assert names(tmp_path) == ["tide.txt"]


@pytest.mark.parametrize("name", [b"a\xff.txt", b"b\x1b[31m.txt", b"\x01.txt", "e\u2028x.txt".encode()])
def test_names_that_no_title_can_be(run, tmp_path, name):
    path = tmp_path / os.fsdecode(name)
    try:
        path.write_text("G  C\nla la\n", encoding="utf-8")
    except OSError:
        pytest.skip("this file system has no such names")
    assert run("convert", str(path))[0] == 0
    assert run("check", str(path).removesuffix(".txt") + ".song.txt") == (0, "", "")
