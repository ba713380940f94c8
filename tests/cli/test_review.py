"""`convert --review`, the summary of a run of `convert`, and the open places that `check` and `library` count."""

import pytest

OPEN = """Low Tide

Verse 1
C           F           G           C
Sand in the pockets and salt on the line
Am          F           G
ropes in the rafters and rain

Verse 2
Sand in the kettle and salt in the wine
oars in the attic again
"""
PLAIN = """Tin Roof
Key: C

Chorus
C        F         G
Tin roof, tin roof, rain
"""


@pytest.fixture
def folder(folder):
    """Give the folder with two sheets."""
    (folder / "open.txt").write_text(OPEN)
    (folder / "plain.txt").write_text(PLAIN)
    return folder


def test_one_line_a_sheet_totals_and_each_assumption_once(run, tmp_path):
    status, out, err = run("convert", "open.txt", "plain.txt", "-o", "songs/")
    assert status == 0
    assert out == (
        "songs/open.song.txt: made of open.txt; 1 place to look at (# check)\n"
        "songs/plain.song.txt: made of plain.txt; right as far as the sheet tells\n"
        "2 sheets: 1 right as far as they tell, 1 with 1 place to look at\n"
    )
    assert err == (
        "2 of 2 sheets: assumed: each chord lasts one bar where the sheet has no barlines; check the bars\n"
        "2 of 2 sheets: assumed: the meter is 4/4; the sheet names none\n"
        "open.txt: assumed: the key is C major: found from the chords (Krumhansl and Schmuckler's method), a guess\n"
    )


def test_the_open_places_of_a_folder_with_the_most_last(run, tmp_path):
    run("convert", "open.txt", "plain.txt", "-o", "songs/")
    (tmp_path / "songs" / "deeper").mkdir()
    several = (tmp_path / "songs" / "open.song.txt").read_text().replace("key ", "# check the key\nkey ", 1)
    (tmp_path / "songs" / "deeper" / "more.song.txt").write_text(several)
    status, out, err = run("convert", "--review", "songs")
    assert (status, err) == (0, "")
    assert out == (
        "songs/open.song.txt:15: line 10: no chords over these words: laid over those of Verse 1 by syllables\n"
        "songs/deeper/more.song.txt:2: the key\n"
        "songs/deeper/more.song.txt:16: line 10: no chords over these words: laid over those of Verse 1 by syllables\n"
        "3 songs: 3 places to look at in 2, nothing in 1\n"
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--review", "nowhere"], "expected a folder of songs after --review, found no such folder: nowhere"),
        (["--review", "open.txt"], "expected a folder of songs after --review, found the file: open.txt"),
        (["--review", "."], "there is no song in ."),
        (["--review", ".", "open.txt"], "--review takes a folder of songs alone, without sheets"),
    ],
)
def test_what_cannot_be_reviewed(run, words, told):
    status, out, err = run("convert", *words)
    assert (status, out) == (2, "")
    assert told in err


def test_check_counts_open_places(run):
    run("convert", "open.txt", "plain.txt")
    assert run("check", "plain.song.txt") == (0, "", "")
    status, out, err = run("check", "open.song.txt")
    assert (status, out, err) == (0, "open.song.txt: 1 place to look at (# check), line 15\n", "")


@pytest.mark.slow
def test_the_library_counts_open_places_of_all_songs(run, tmp_path):
    run("convert", "open.txt", "plain.txt", "-o", "songs/")
    said = "1 place to look at (# check) in 1 of the songs\n  hint: `arranger convert --review songs` lists them\n"
    assert said in run("library", "songs")[2]
    _, out, err = run("library", "songs")  # nothing has changed, and it is still open
    assert "0 made, 2 unchanged" in out and said in err
