"""What is no sheet of one song, given to the command: a clear message, status 1, nothing written."""

import random
import re

import pytest

from arranger.cli import main

VERSE = "Verse 1\nG            D\nFrost on the window\nC         D\nand frost on the wall\n"
# Made of chance with a seed, without the signs by which kinds of files are known.
NOISE = bytes(random.Random(9).randrange(256) for _ in range(4096))

BAD = {
    "noise": (NOISE, "sheet-not-text"),
    "photograph": (b"\xff\xd8\xff\xe0\x00\x10JFIF" + NOISE, "sheet-not-text"),
    "spreadsheet": (b"PK\x03\x04\x14\x00" + NOISE, "sheet-not-text"),
    "nothing": (b"", "sheet-without-chords"),
    "blanks": (b"\n   \n\t\n", "sheet-without-chords"),
    "poem": (
        b"Frost\n\nFrost on the window\nand frost on the wall\n\nnobody answers\nnobody at all\n",
        "sheet-without-chords",
    ),
    "book": (
        "\n\n".join(f"Title: {name}\nKey: G\n\n{VERSE}" for name in ("Frost", "Thaw", "Mud", "Larks")).encode(),
        "sheet-of-many",
    ),
    "brackets": (
        b"Frost\n\n/G/Frost on the /D/window\n/C/and frost on the /D/wall\n/Em/nobody /C/answers\n",
        "sheet-chords-inside",
    ),
    "numbers": (
        b"Frost\n\n1       4       5\nFrost on the window\n1       6m      5\nand frost on the wall\n",
        "sheet-without-key",
    ),
    "tablature": (
        b"Frost\n\ne|--3-----2---|\nB|--0-----3---|\nG|--0-----2---|\nD|--0-----0---|\nA|--2---------|\nE|--3---------|\n",
        "sheet-tablature",
    ),
}


@pytest.fixture(params=BAD, ids=str)
def bad(request, tmp_path, monkeypatch):
    """Put one bad file in an empty folder; give its code."""
    data, code = BAD[request.param]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sheet.txt").write_bytes(data)
    return code


@pytest.mark.parametrize(
    "words", [[], ["-o", "made.song.txt"], ["-o", "songs/"], ["--part"], ["--force"]], ids=" ".join
)
def test_it_is_told_and_nothing_is_written(bad, words, tmp_path, capsys):
    before = (tmp_path / "sheet.txt").read_bytes()
    status = main(["convert", "sheet.txt", *words])
    out, err = capsys.readouterr()
    assert status == 1
    assert out == ""
    assert re.match(rf"sheet\.txt(:\d+:\d+)?: error {bad}: expected [a-z].*, found [a-z0-9]", err)
    assert "Traceback" not in err
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.txt"]
    assert (tmp_path / "sheet.txt").read_bytes() == before


def test_each_message_says_a_way_out(bad, capsys):
    main(["convert", "sheet.txt"])
    told = capsys.readouterr().err
    assert told.count("error") == 1, "said once"
    if "found an empty file" in told:  # says it all
        return
    assert re.search(r"^  hint: [a-z].{15,}", told, re.MULTILINE), told


def test_a_good_sheet_beside_bad_ones_is_made(bad, tmp_path, capsys):
    (tmp_path / "frost.txt").write_text(f"Frost\n\n{VERSE}", encoding="utf-8")
    assert main(["convert", "sheet.txt", "frost.txt", "-o", "songs/"]) == 1
    assert [p.name for p in (tmp_path / "songs").iterdir()] == ["frost.song.txt"]
    assert f"error {bad}" in capsys.readouterr().err
