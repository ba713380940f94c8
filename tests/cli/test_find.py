"""`find`: what is printed, what is said, and the status."""

import json
import os
import sqlite3
from contextlib import closing

import pytest

from arranger.cli import main
from arranger.library import find as find_module

SONGS = {
    "lanterns": ("Lanterns on the Harbour", "D", "72", "4/4", "we hung them | along the wall"),
    "ferry": ("Night Ferry", "Dm", "dotted 56", "6/8", "the lan- | tern on the harbour"),
    "été": ("L’Été", "Bb", "free", "3/4", ""),
}

GERMAN = "the German H is `B`, and B is `Bb`"


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    for name, (title, key, tempo, meter, words) in SONGS.items():
        text = f"song {title}\nkey {key}\ntempo {tempo}\nmeter {meter}\nsection Verse\n| {key} | {key} |\n"
        text += f"sing | {words} |\n" if words else ""
        (tmp_path / f"{name}.song.txt").write_text(text, encoding="utf-8")

    def run(*words):
        status = main(["find", *map(str, words)])
        return status, *capsys.readouterr()

    return run


def test_songs_are_listed_in_columns_with_the_place_of_the_words(run):
    assert run("lantern") == (
        0,
        "Lanterns on the Harbour  D   72         4/4  lanterns.song.txt\n"
        "Night Ferry              Dm  dotted 56  6/8  ferry.song.txt\n"
        "    Verse: the lantern on the harbour\n",
        "",
    )


def test_words_that_belong_together(run):
    assert run("along the wall")[1].splitlines()[1] == "    Verse: we hung them along the wall"
    status, out, err = run("wall the along")
    assert (status, out) == (1, "")
    assert err == (
        "arranger: no song has these words in this order\n  hint: 1 song has them all: leave the quotes out\n"
    )


@pytest.mark.parametrize(
    ("options", "files"),
    [
        (["--key", "D"], ["lanterns"]),
        (["--key", "D minor"], ["ferry"]),
        (["--key", "A#"], ["été"]),
        (["--tempo", "56"], ["ferry"]),
        (["--tempo", "50-80"], ["lanterns", "ferry"]),
        (["--tempo", "60-"], ["lanterns"]),
        (["--tempo=-60"], ["ferry"]),
        (["--meter", " 3/4"], ["été"]),
        (["--key", "D", "--tempo", "70–80", "--meter", "4/4", "harbour"], ["lanterns"]),
    ],
)
def test_keys_tempi_and_meters(run, options, files):
    status, out, err = run(*options)
    assert (status, err) == (0, "")
    assert [line.split("  ")[-1] for line in out.splitlines() if not line.startswith("    ")] == [
        f"{name}.song.txt" for name in files
    ]


@pytest.mark.parametrize(
    ("words", "message", "hint"),
    [
        ([], "expected words to look for, or --key, --tempo or --meter", "arranger find lantern --key D"),
        (["?!"], "expected words with letters or figures, found `?!`", ""),
        (["--key", "h"], "expected a key such as D, Bb or F#m after --key, found `h`", GERMAN),
        (["--key", "bb"], "expected a key such as D, Bb or F#m after --key, found `bb`", "is `Bb` meant?"),
        (["--tempo", "fast"], "expected a tempo such as 72, or from and to as 60-80, after --tempo, found `fast`", ""),
        (["--tempo", "80-60"], "expected the slower tempo first after --tempo, found `80-60`", "--tempo 60-80"),
        (["--meter", "waltz"], "expected a meter such as 6/8 after --meter, found `waltz`", ""),
        (["x", "--in", ""], "expected a folder after --in, found nothing", "`.` is the folder that you are in"),
        (["x", "--in", "nowhere"], "there is no folder nowhere", "--in names the folder where the songs are"),
        (
            ["x", "--in", "ferry.song.txt"],
            "expected a folder, found the file ferry.song.txt",
            "--in names the folder where the songs are",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_asked(run, words, message, hint):
    assert run(*words) == (2, "", f"arranger: {message}\n" + (f"  hint: {hint}\n" if hint else ""))


def test_nothing_found(run, tmp_path):
    assert run("lantrens") == (
        1,
        "",
        "arranger: nothing found in 3 songs\n  hint: near: “Lanterns on the Harbour”\n",
    )
    assert run("ferry", "--key", "E", "--meter", "6/8") == (
        1,
        "",
        "arranger: no song with these words is like that\n  hint: 1 song has these words without --key and --meter\n",
    )
    (tmp_path / "empty").mkdir()
    status, _, err = run("ferry", "--in", "empty")
    assert status == 1 and err.startswith("arranger: there is no song in this folder\n")


def test_a_wait_for_another_run_is_told(run, tmp_path, monkeypatch):
    expected = run("ferry")
    (tmp_path / "more.song.txt").write_text("song More\nkey D\nsection Verse\n| D |\n", encoding="utf-8")
    monkeypatch.setattr(find_module, "PATIENCE", 0.05)
    with closing(sqlite3.connect(find_module.songs_path("."), isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        status, out, err = run("ferry")
    assert (status, out) == expected[:2]
    assert err == (
        "arranger: another run is at work on what is kept of these songs: waiting, 10 seconds at most\n"
        "  hint: after that they are all read anew, for this once\n"
    )
    assert run("ferry") == expected


def test_json_for_other_programs(run):
    status, out, err = run("ferry", "--json")
    assert (status, err) == (0, "")
    assert json.loads(out) == {
        "songs": 3,
        "found": [
            {
                "title": "Night Ferry",
                "key": "Dm",
                "tempo": "dotted 56",
                "bpm": 56,
                "beat": "3/2",
                "meter": "6/8",
                "first_words": "the lantern on the harbour",
                "errors": 0,
                "file": "ferry.song.txt",
                "place": None,
            }
        ],
        "near": [],
    }


def test_songs_with_errors_are_listed_and_said(run, tmp_path):
    (tmp_path / "bad.song.txt").write_text("song Bad Ferry\nsection Verse\n| Q |\n")
    status, out, err = run("ferry", "--in", tmp_path)
    assert status == 0
    assert out.splitlines()[0] == f"Bad Ferry    ?   –          4/4  {tmp_path / 'bad.song.txt'}  (2 errors)"
    assert err.startswith("arranger: songs with errors are listed by what can be read of them\n")


def test_more_than_a_glance_takes_in(run, tmp_path):
    for number in range(50):
        (tmp_path / f"{number}.song.txt").write_text(f"song Gull {number}\nkey D\nsection Verse\n| D |\n")
    _, out, err = run("gull")
    assert len(out.splitlines()) == 40
    assert err == "arranger: 50 songs found; these are the likeliest 40\n  hint: --all lists them all\n"
    assert len(run("gull", "--all")[1].splitlines()) == 50
    assert len(json.loads(run("gull", "--json")[1])["found"]) == 50


def test_what_cannot_be_read_is_told_and_passed_over(run, tmp_path):
    (tmp_path / "gone.song.txt").symlink_to("nowhere.song.txt")
    status, out, err = run("ferry")
    assert status == 0 and "Night Ferry" in out
    assert err == f"arranger: .{os.sep}gone.song.txt cannot be read: no such file or directory\n"
