"""A player's settings and the reasons of a part, from outside."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pypdf
import pytest

from arranger import files
from arranger.player import Player, read_player
from arranger.song.read import decode, read
from arranger.text.source import Source

SONG = """song Low Tide
key Db
tempo 72

section Verse
| Db | Gb | Bbm | Ab |
| Db/F | Gb | Ab7 | Db |
"""


@pytest.fixture
def folder(folder):
    """Give the folder with one song."""
    (folder / "tide.song.txt").write_text(SONG, encoding="utf-8")
    return folder


def chords(out: str) -> list[dict]:
    return [c for s in json.loads(out)["sections"] for c in s["chords"]]


# player


def test_the_settings_in_force_are_a_file_that_reads_back(run):
    status, out, err = run("player")
    assert (status, err) == (0, "")
    assert read_player(Source.of("player.toml", out)) == (Player(), ())


def test_a_first_file_is_written_where_the_platform_keeps_settings_and_never_over_another(run, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("APPDATA", str(tmp_path / "config"))
    path = files.settings_path()
    assert run("player", "--write") == (0, f"{path}\n", "")
    path.write_text("[hand]\nnotes = 4\n", encoding="utf-8")
    status, out, err = run("player", "--write")
    assert (status, out) == (2, "") and "exists already" in err
    assert "notes = 4" in run("player")[1]
    assert json.loads(run("show", "tide.song.txt", "--json")[1])["hand"]["notes"] == 4


def test_names_in_the_settings_steer_no_terminal_and_quotes_in_them_stay(run):
    Path("mine.toml").write_text('[keyboard.patches]\n"up \\u001b[2J" = "A\\"3\\" \\u202e"\n', encoding="utf-8")
    status, out, err = run("player", "--player", "mine.toml")
    assert (status, err) == (0, "") and "\x1b" not in out and "\u202e" not in out
    player, problems = read_player(Source.of("player.toml", out))
    assert (player.patches, problems) == ((("up \x1b[2j", 'A"3" \u202e'),), ())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[page]\nfonts = ["~nouser-of-this-name/x.ttf"]', "the font ~nouser-of-this-name/x.ttf cannot be read"),
        ('[page]\nfonts = ["a\\u0000b"]', "mine.toml:2:1: error player-value: fonts: expected files of fonts"),
        ("[hand]\nspan = ['octave']", "mine.toml:2:1: error player-value: span: expected one of sixth"),
        (f"[hand]\nnotes = {'9' * 5000}", "mine.toml:2:9: error player-syntax: expected settings, found a number"),
        (f"[hand]\nnotes = {'[' * 3000}", "mine.toml:2:9: error player-syntax: expected settings, found brackets"),
    ],
)
def test_settings_that_nobody_would_write_are_told(run, text, told):
    Path("mine.toml").write_text(text, encoding="utf-8")
    status, out, err = run("part", "tide.song.txt", "--player", "mine.toml")
    assert (status, out) == (2, "") and told in err
    assert not Path("tide.pdf").exists()


def test_without_a_home_the_defaults_hold(run, monkeypatch):
    def nowhere():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "home", nowhere)
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for words in (["part", "tide.song.txt"], ["stage", "tide.song.txt"], ["check", "tide.song.txt"], ["player"]):
        status, out, err = run(*words)
        assert (status, err) == (0, "")
    assert run("find", "tide")[0] == 0
    assert read_player(Source.of("player.toml", out)) == (Player(), ())
    status, out, err = run("player", "--write")
    assert (status, out) == (2, "") and "there is no home folder to keep settings in" in err


@pytest.mark.skipif(sys.platform == "win32", reason="the home folder has another variable there")
def test_an_empty_home_is_none(run, monkeypatch):
    monkeypatch.setenv("HOME", "")
    for name in ("XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    status, out, err = run("player", "--write")
    assert (status, out) == (2, "") and "there is no home folder to keep settings in" in err


def test_settings_from_a_file(run, tmp_path):
    Path("small.toml").write_text('[hand]\nspan = "sixth"\n[page]\npaper = "letter"\n', encoding="utf-8")
    assert json.loads(run("show", "tide.song.txt", "--json", "--player", "small.toml")[1])["hand"]["span"] == 9
    assert run("part", "tide.song.txt", "--player", "small.toml")[0] == 0
    box = pypdf.PdfReader("tide.pdf").pages[0].mediabox
    assert (round(box.width), round(box.height)) == (612, 792)


def test_mistakes_in_the_settings_stop_the_command_and_are_told_with_their_place(run):
    Path("mine.toml").write_text('[hand]\nspan = "octav"\nnotes = 7\n', encoding="utf-8")
    status, out, err = run("part", "tide.song.txt", "--player", "mine.toml")
    assert (status, out) == (2, "")
    assert "mine.toml:2:1: error player-value" in err and "mine.toml:3:1: error player-value" in err
    assert "did you mean octave?" in err
    assert not Path("tide.pdf").exists()


def test_no_settings_where_they_are_said_to_be(run):
    status, _, err = run("part", "tide.song.txt", "--player", "none.toml")
    assert status == 2 and "none.toml cannot be read" in err


def test_a_transposing_keyboard(run):
    Path("mine.toml").write_text("[keyboard]\ntranspose = true\n", encoding="utf-8")
    data = json.loads(run("show", "tide.song.txt", "--json", "--player", "mine.toml")[1])
    assert (data["key"], data["transpose"]) == ("C", 1)
    data = json.loads(run("show", "tide.song.txt", "--json", "--player", "mine.toml", "--key", "E")[1])
    assert (data["key"], data["transpose"]) == ("C", 4)


def test_easy(run):
    found = chords(run("show", "tide.song.txt", "--json", "--easy")[1])
    assert [c["shape"] for c in found[:5]] == ["", "", "", "", "Db over F"]
    assert all(len(c["left"]) == 1 and c["suspension"] is None for c in found)
    status, _, err = run("show", "tide.song.txt", "--easy", "--octaves", "every")
    assert status == 2 and "--easy has no" in err


# reasons


def test_why_in_one_bar(run):
    status, out, err = run("show", "tide.song.txt", "--why", "Verse:2")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith("Verse, bar 2  Gb: ")
    assert len(lines) >= 3 and all(line.startswith("    not ") for line in lines[-2:])


def test_why_everywhere(run):
    out = run("show", "tide.song.txt", "--why")[1]
    assert [line.split(":")[0] for line in out.splitlines() if not line.startswith(" ")] == [
        "Verse, bar 1  Db",
        "Verse, bar 2  Gb",
        "Verse, bar 3  Bbm",
        "Verse, bar 4  Ab",
        "Verse, bar 5  Db/F",
        "Verse, bar 6  Gb",
        "Verse, bar 7  Ab7",
        "Verse, bar 8  Db",
    ]


@pytest.mark.parametrize(
    ("bar", "words"),
    [
        ("Vers:2", "there is no section 'Vers'"),
        ("Verse:99", "the last bar with one is 8"),
        ("two", "such as 5 or Verse 1:5"),
    ],
)
def test_a_bar_that_is_not_there(run, bar, words):
    status, out, err = run("show", "tide.song.txt", "--why", bar)
    assert (status, out) == (2, "") and words in err


def test_the_hardest_changes(run):
    status, out, _ = run("show", "tide.song.txt", "--hardest", "3")
    assert status == 0 and len(out.splitlines()) == 3
    assert all("semitones and" in line and line.rstrip().endswith(" s") for line in out.splitlines())
    assert run("show", "tide.song.txt", "--hardest", "0")[0] == 2


def test_fills_can_be_pasted(run, tmp_path):
    """Each row that is shown is read by the program, and gives the very notes that it was made of."""
    status, out, _ = run("show", "tide.song.txt", "--fills")
    assert status == 0
    rows = [line.strip().rpartition("   (")[0] for line in out.splitlines() if line.startswith("    octave |")]
    assert len(rows) > 6
    for row in rows:
        text = SONG.replace("| Db | Gb | Bbm | Ab |", f"| Db | Gb | Bbm | Ab |\n{row}", 1)
        song, problems = read(decode("x", text.encode())[0])
        assert song is not None and not problems
        pitches = [str(n.pitch) for bar in song.sections[0].rows[0].octave.bars for n in bar if n.pitch]
        assert pitches == [word for word in row.split() if word[0] in "ABCDEFG" and word[-1].isdigit()]


def test_one_view_at_a_time(run):
    status, _, err = run("show", "tide.song.txt", "--json", "--fills")
    assert status == 2 and "cannot be shown together" in err


# pages


@pytest.mark.parametrize("hands", ["keyboard", "staff", "letters"])
def test_hands_are_shown_as_asked(run, hands):
    assert run("part", "tide.song.txt", "--hands", hands, "-o", f"{hands}.pdf")[0] == 0
    assert Path(f"{hands}.pdf").read_bytes().startswith(b"%PDF")


def test_verses_stand_together_or_apart_as_the_option_or_the_settings_say(run):
    song = "song Two\nkey C\n\nsection Verse 1\ndynamic mf\n| C | F | G | C |\nsing | a | b | c | d |\n"
    song += "\nsection Verse 2\nlike Verse 1\nsing | e | f | g | h |\n"
    Path("two.song.txt").write_text(song, encoding="utf-8")
    Path("apart.toml").write_text('[page]\nverses = "apart"\n', encoding="utf-8")

    def shown(*options: str) -> str:
        assert run("part", "two.song.txt", *options, "-o", "two.pdf", "--force")[0] == 0
        return pypdf.PdfReader("two.pdf").pages[0].extract_text()

    assert "Verse 1, 2\n" in shown()
    for options in (("--verses", "apart"), ("--player", "apart.toml")):
        text = shown(*options)
        assert "Verse 1, 2\n" not in text and "Verse 2\n" in text
    assert "Verse 1, 2\n" in shown("--player", "apart.toml", "--verses", "together")
    assert "expected together or apart after --verses" in run("part", "two.song.txt", "--verses", "x")[2]


def test_a_part_on_fewer_pages_than_can_be_read_is_refused(run):
    verse = "".join(f"| C | F | G | {chord} |\nsing | some | words | of | this\n" for chord in "CDEFGAB")
    text = "song Long\nkey C\n" + "".join(f"\nsection Part {n}\ndynamic {n}\n{verse}" for n in ("p", "mp", "mf", "f"))
    Path("long.song.txt").write_text(text, encoding="utf-8")
    status, _, err = run("part", "long.song.txt", "--pages", "1")
    assert status == 1 and "error too-small-to-read: the part does not fit 1 page" in err
    assert not Path("long.pdf").exists()
    assert run("part", "long.song.txt", "--pages", "any")[0] == 0


def test_hands_in_no_other_way(run):
    status, _, err = run("part", "tide.song.txt", "--hands", "tablature")
    assert status == 2 and "expected keyboard or staff or letters" in err


def test_the_page_says_how_to_set_the_keyboard_and_what_to_call_up(run):
    song = SONG.replace("section Verse\n", "section Verse\nsound piano + pad\n")
    Path("tide.song.txt").write_text(song, encoding="utf-8")
    settings = '[keyboard]\ntranspose = true\n[keyboard.patches]\n"piano + pad" = "A12"\n'
    Path("mine.toml").write_text(settings, encoding="utf-8")
    assert run("part", "tide.song.txt", "--player", "mine.toml")[0] == 0
    text = pypdf.PdfReader("tide.pdf").pages[0].extract_text()
    assert "played in C major · transpose +1" in text and "A12" in text


def test_the_page_says_where_to_call_up_the_next_sound(run):
    song = SONG.replace("section Verse\n", "section Verse\nsound piano\n")
    song += "\nsection Chorus\nsound organ\n| Gb | Ab | Db |\n"
    Path("tide.song.txt").write_text(song, encoding="utf-8")
    Path("mine.toml").write_text('[keyboard.patches]\npiano = "1"\norgan = "17"\n', encoding="utf-8")
    assert run("part", "tide.song.txt", "--player", "mine.toml")[0] == 0
    text = " ".join(pypdf.PdfReader("tide.pdf").pages[0].extract_text().split())
    assert "organ 17" in text and "call up in Verse, bar 8" in text
