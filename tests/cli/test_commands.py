"""The commands from outside: what they write, what they say, what status they end with."""

import json
import os
import re
import stat
from pathlib import Path

import pypdf
import pytest

import arranger
from arranger import files
from arranger.cli import parsers
from arranger.commands import songs

SAMPLES = Path(__file__).parents[2] / "samples"

SONG = """song Low Tide
key D
tempo 72

section Verse
| D | G | A | D |
sing | Sand and | shells and | ropes and | rain |
"""
MINOR = SONG.replace("key D", "key Dm").replace("| D | G | A | D |", "| Dm | Gm | A | Dm |")
WRONG = SONG.replace("| D | G", "| D | H")
SILENT = "song Rest\nkey D\n\nsection Verse\n| N.C. | N.C. |\n"


@pytest.fixture
def folder(folder):
    """Give the folder with one song."""
    (folder / "tide.song.txt").write_text(SONG, encoding="utf-8")
    return folder


def text_of(pdf: Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(pdf).pages)


def left_in(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


# part


def test_the_part_stands_beside_the_song(run, folder):
    assert run("part", "tide.song.txt") == (0, "tide.pdf: 1 page\n", "")
    assert left_in(folder) == ["tide.pdf", "tide.song.txt"]
    assert "Low Tide" in text_of(folder / "tide.pdf")


def test_the_part_of_a_song_elsewhere_stands_beside_it(run, folder):
    there = folder / "songs"
    there.mkdir()
    (there / "tide.song.txt").write_text(SONG, encoding="utf-8")
    assert run("part", there / "tide.song.txt")[0] == 0
    assert left_in(there) == ["tide.pdf", "tide.song.txt"]


def test_a_file_or_a_folder_for_the_part(run, folder):
    (folder / "there").mkdir()
    assert run("part", "tide.song.txt", "-o", "mine.pdf")[:2] == (0, "mine.pdf: 1 page\n")
    assert run("part", "tide.song.txt", "-o", "there")[:2] == (0, "there/tide.pdf: 1 page\n")
    assert run("part", "tide.song.txt", "--output", "made/parts/")[:2] == (0, "made/parts/tide.pdf: 1 page\n")
    assert (folder / "mine.pdf").read_bytes() == (folder / "made" / "parts" / "tide.pdf").read_bytes()


def test_another_key_paper_and_date(run, folder):
    assert run("part", "tide.song.txt", "--key", "Eb", "--paper", "letter", "--date", "29 November")[0] == 0
    reader = pypdf.PdfReader(folder / "tide in Eb.pdf")
    assert [float(n) for n in reader.pages[0].mediabox[2:]] == [612, 792]
    text = text_of(folder / "tide in Eb.pdf")
    assert "E♭ major" in text
    assert "29 November" in text


def test_the_same_bytes_each_time(run, folder):
    run("part", "tide.song.txt")
    first = (folder / "tide.pdf").read_bytes()
    run("part", "tide.song.txt")
    assert (folder / "tide.pdf").read_bytes() == first


def test_a_song_with_an_error_leaves_its_pdf_and_the_others_are_made(run, folder):
    (folder / "wrong.song.txt").write_text(SONG, encoding="utf-8")
    run("part", "wrong.song.txt")
    before = (folder / "wrong.pdf").read_bytes()
    (folder / "wrong.song.txt").write_text(WRONG, encoding="utf-8")
    status, out, err = run("part", "wrong.song.txt", "tide.song.txt")
    assert (status, out) == (1, "tide.pdf: 1 page\n1 of 2 songs made, 1 page in all; 1 not: see the messages\n")
    assert err.startswith("wrong.song.txt:6:7: error ")
    assert (folder / "wrong.pdf").read_bytes() == before


def test_a_song_without_chords_has_no_part_and_says_why(run, folder):
    (folder / "rest.song.txt").write_text(SILENT, encoding="utf-8")
    status, out, err = run("part", "rest.song.txt")
    assert (status, out) == (1, "")
    assert "error no-chords: " in err
    assert not (folder / "rest.pdf").exists()


# What cannot be done as given: nothing is written, whatever else was right.


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["part"], "the following arguments are required: SONG"),
        (["part", "tode.song.txt"], "there is no file tode.song.txt\n  hint: is tide.song.txt meant?"),
        (["part", "away/x.song.txt"], "there is no file away/x.song.txt\n  hint: there is no folder away"),
        (["part", "."], "expected a song's file, found the folder .\n  hint: it holds low.song.txt"),
        (["part", "tide.song.txt", "--key", "H"], "tide.song.txt: expected a key such as D, Bb or F#m, found `H`"),
        (["part", "tide.song.txt", "--key", "G#"], "found G# major, which would need 8 sharps; the same sound is `Ab`"),
        (["part", "tide.song.txt", "--key", "Bm"], "expected a major key, since the music is in D major, found `Bm`"),
        (["part", "tide.song.txt", "--paper", "a3"], "expected a4 or letter after --paper, found `a3`"),
        (["part", "tide.song.txt", "--paper", ""], "expected a4 or letter after --paper, found ``"),
        (["part", "tide.song.txt", "--octaves", "all"], "expected every or phrase after --octaves, found `all`"),
        (
            ["part", "tide.song.txt", "--without", "pad"],
            "expected suspensions or octaves or arc after --without, found `pad`",
        ),
        (["part", "tide.song.txt", "--suspensions", "2"], "expected a share of the chords after --suspensions"),
        (["part", "tide.song.txt", "--suspensions", "1/0"], "found `1/0`\n  hint: 1/6, 1/3, or 0 for none"),
        (["part", "tide.song.txt", "--suspensions", "-1/6"], "--suspensions: expected one argument"),
        (["part", "tide.song.txt", "--suspensions", "1/"], "found `1/`"),
        (["part", "tide.song.txt", "--suspensions", "many"], "found `many`"),
        (["part", "tide.song.txt", "--without", "octaves", "--octaves", "every"], "contradict each other"),
        (["part", "tide.song.txt", "--without", "suspensions", "--suspensions", "1/3"], "contradict each other"),
        (["part", "tide.song.txt", "--date", " "], "expected a date of 1 to 40 plain characters"),
        (["part", "tide.song.txt", "--date", "x" * 41], "expected a date of 1 to 40 plain characters"),
        (["part", "tide.song.txt", "-o", "away/x.pdf"], "/away\n  hint: make it first, or end the name with /"),
        (["part", "tide.song.txt", "-o", "tide.song.txt"], "would lie over the song tide.song.txt"),
        (["part", "tide.song.txt", "-o", "tide.song.txt/x.pdf"], "expected a folder, found the file"),
        (["part", "tide.song.txt", "-o", "tide.song.txt/"], "expected a folder, found the file"),
        (["part", "tide.song.txt", "-o", "/dev/null"], "/dev/null is no ordinary file"),
        (["part", "tide.song.txt", "tide.song.txt"], "the song tide.song.txt is given twice"),
        (["part", "tide.song.txt", "low.song.txt", "-o", "x.pdf"], "2 songs cannot all become the one file x.pdf"),
        (["part", "tide.song.txt", "tide.txt"], "tide.song.txt and tide.txt would both become tide.pdf"),
        (["part", "tide.song.txt", "--papr", "a4"], "there is no option `--papr` here\n  hint: is `--paper` meant?"),
        (["part", "tide.song.txt", "--pap", "a4"], "there is no option `--pap` here"),
        (["show", "tide.song.txt", "--paper", "a4"], "there is no option `--paper` here"),
        (["show", "tide.song.txt", "low.song.txt"], "expected one song, found `low.song.txt` too"),
        (["check"], "the following arguments are required: SONG"),
        (["prat", "tide.song.txt"], "there is no command `prat`\n  hint: is `part` meant?"),
        (
            ["tide.song.txt"],
            "there is no command `tide.song.txt`\n  hint: `arranger part tide.song.txt` makes its part",
        ),
        (
            ["--key", "E", "part", "tide.song.txt"],
            "there is no option `--key` here\n  hint: options stand after the command",
        ),
        (["--", "part", "tide.song.txt"], "there is no option `--` here"),
        (["part", "tide.song.txt", "-o", ""], "expected a file or a folder after -o, found nothing"),
        (["--vers"], "there is no option `--vers` here\n  hint: is `--version` meant?"),
        (["part", "a\0b"], "there is no file a\ufffdb"),
        (["part", "x" * 300], "cannot be read: file name too long"),
        (["part", "tide.song.txt", "--octaves", "off"], "found `off`\n  hint: --without octaves leaves them out"),
        (["part", "tide.song.txt", "--suspensions", "off"], "`off`\n  hint: --without suspensions leaves them out"),
        (["part", "tide.song.txt", "--key", "+2"], "found `+2`\n  hint: name the key: +2 from D major is --key E"),
        (["part", "tide.song.txt", "--key=-1"], "found `-1`\n  hint: name the key: -1 from D major is --key Db"),
        (["part", "slow boat.song.txt"], '\n  hint: is "slow boats.song.txt" meant?'),
        (["slow boats.song.txt"], '\n  hint: `arranger part "slow boats.song.txt"` makes its part'),
        (["part", "tide.song.txt", "low.song.txt", "-o", "my x"], '\n  hint: -o "my x/" puts them into a folder'),
    ],
    ids=lambda value: " ".join(value)[:40] if isinstance(value, list) else "",
)
def test_refused(run, folder, words, told):
    (folder / "low.song.txt").write_text(SONG, encoding="utf-8")
    (folder / "tide.txt").write_text(SONG, encoding="utf-8")
    (folder / "slow boats.song.txt").write_text(SONG, encoding="utf-8")
    before = left_in(folder)
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert all(line.startswith(("arranger: ", "  hint: ")) for line in err.splitlines())
    assert told in err
    assert left_in(folder) == before


def test_all_missing_songs_are_told_at_once_and_nothing_is_made(run, folder):
    status, _, err = run("part", "one.song.txt", "tide.song.txt", "two.song.txt")
    assert status == 2
    assert err.count("there is no file") == 2
    assert left_in(folder) == ["tide.song.txt"]


def test_the_letter_alone_takes_the_songs_own_mode(run, folder):
    (folder / "ebb.song.txt").write_text(MINOR, encoding="utf-8")
    assert run("part", "ebb.song.txt", "tide.song.txt", "--key", "B")[0] == 0
    assert "B minor" in text_of(folder / "ebb in Bm.pdf")
    assert "B major" in text_of(folder / "tide in B.pdf")
    status, out, err = run("part", "ebb.song.txt", "tide.song.txt", "--key", "Bm", "-o", "m/")
    assert (status, out) == (2, "m/ebb in Bm.pdf: 1 page\n1 of 2 songs made, 1 page in all; 1 not: see the messages\n")
    assert "tide.song.txt: expected a major key" in err


def test_words_that_contradict_nothing(run):
    assert run("part", "tide.song.txt", "--without", "octaves", "--without", "suspensions")[0] == 0
    assert run("part", "tide.song.txt", "--without", "octaves,suspensions")[0] == 0
    assert run("part", "tide.song.txt", "--without", "suspensions", "--suspensions", "0")[0] == 0
    assert run("part", "tide.song.txt", "--suspensions", "1/3", "--octaves", "every")[0] == 0


# What is there is kept.


@pytest.mark.parametrize("command", ["part", "stage"])
def test_another_key_has_a_name_of_its_own(run, folder, command):
    ending = "" if command == "part" else ".stage"
    assert run(command, "tide.song.txt")[0] == 0
    own = (folder / f"tide{ending}.pdf").read_bytes()
    (folder / "ebb.song.txt").write_text(MINOR, encoding="utf-8")
    for key, names in (("Bb", ("tide in Bb", "ebb in Bbm")), ("F#", ("tide in F#", "ebb in F#m"))):
        assert run(command, "tide.song.txt", "ebb.song.txt", "--key", key, "-o", "there/")[0] == 0
        assert set(left_in(folder / "there")) >= {f"{name}{ending}.pdf" for name in names}
    assert run(command, "tide.song.txt", "--key", "E")[0] == 0
    assert (folder / f"tide{ending}.pdf").read_bytes() == own
    assert "E major" in text_of(folder / f"tide in E{ending}.pdf")
    assert run(command, "tide.song.txt", "--key", "D")[1].startswith(f"tide{ending}.pdf: ")
    assert run(command, "tide.song.txt", "--key", "E", "-o", "mine.pdf")[1].startswith("mine.pdf: ")


def test_a_pdf_that_the_player_has_written_in_is_kept(run, folder):
    pdf = folder / "tide.pdf"
    assert run("part", "tide.song.txt")[0] == 0
    assert run("part", "tide.song.txt", "--paper", "letter")[0] == 0, "what is as it was made is made anew"
    noted = pdf.read_bytes() + b"\n% a note\n"
    for present in (noted, b"%PDF-1.4\nof another program", b"", b"as it was"):
        pdf.write_bytes(present)
        for command in (["part", "tide.song.txt"], ["stage", "tide.song.txt", "-o", "tide.pdf"]):
            status, out, err = run(*command)
            assert (status, out) == (2, "")
            assert err == (
                "arranger: tide.pdf: there already, made by another version of the program or changed since\n"
                "  hint: --force writes over it; -o puts what is new elsewhere\n"
            )
            assert pdf.read_bytes() == present
    assert run("part", "tide.song.txt", "--force")[0] == 0
    assert run("part", "tide.song.txt")[0] == 0


def test_many_pdfs_that_are_kept_are_one_message(run, folder):
    songs = [f"{name}.song.txt" for name in "abcde"]
    for name in songs:
        (folder / name).write_text(SONG, encoding="utf-8")
        (folder / name.replace("song.txt", "pdf")).write_bytes(b"older")
    status, out, err = run("part", *songs, "tide.song.txt")
    assert (status, out) == (2, "")
    assert err.startswith("arranger: a.pdf, b.pdf, c.pdf and 2 more: there already, ") and err.count("\n") == 2
    assert not (folder / "tide.pdf").exists()


def test_a_pdf_that_is_changed_while_its_song_is_worked_out_is_kept(run, folder, monkeypatch):
    run("part", "tide.song.txt")
    finished = songs.worked_out

    def slow(*words):
        (folder / "tide.pdf").write_bytes(b"noted")
        return finished(*words)

    monkeypatch.setattr(songs, "worked_out", slow)
    status, out, err = run("part", "tide.song.txt")
    assert (status, out) == (2, "")
    assert "tide.pdf cannot be written: somebody has changed what is there" in err
    assert left_in(folder) == ["tide.pdf", "tide.song.txt"]
    assert (folder / "tide.pdf").read_bytes() == b"noted"


@pytest.mark.parametrize("command", ["part", "stage"])
@pytest.mark.parametrize("force", [[], ["--force"]])
@pytest.mark.parametrize("name", ["low.song.txt", "new.Song.TXT", "player.toml", "new.toml", "link.pdf", "there"])
def test_a_song_or_settings_or_a_folder_is_never_written_over(run, folder, command, force, name):
    """`arranger part -o *.song.txt`: the shell puts the first song behind -o."""
    (folder / "low.song.txt").write_text(SONG, encoding="utf-8")
    (folder / "player.toml").write_text("", encoding="utf-8")
    (folder / "link.pdf").symlink_to(folder / "player.toml")
    (folder / "there").mkdir()
    (folder / "there" / "tide.pdf").mkdir()
    (folder / "there" / "tide.stage.pdf").mkdir()
    before = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    status, out, err = run(command, "-o", name, "tide.song.txt", *force)
    assert (status, out) == (2, "")
    assert "expected a file to write, found the folder" in err or "expected a name for a PDF, found" in err
    assert {path: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before


# What the shell hands over.


def test_a_pattern_that_the_shell_left_is_expanded(run, folder):
    (folder / "ebb.song.txt").write_text(MINOR, encoding="utf-8")
    in_all = "2 of 2 songs made, 2 pages in all\n"
    assert run("part", "*.song.txt") == (0, f"ebb.pdf: 1 page\ntide.pdf: 1 page\n{in_all}", "")
    assert run("check", str(folder / "t?de.song.txt")) == (0, "", "")
    assert "there is no file x*.song.txt" in run("check", "x*.song.txt")[2]
    (folder / "[1].song.txt").write_text(WRONG, encoding="utf-8")
    assert run("check", "[1].song.txt")[0] == 1, "a file of that very name"


@pytest.mark.parametrize("option", ["--key=--", "-o=--", "-o--", "--output=--", "--font=--", "--date=--", "--paper=--"])
@pytest.mark.parametrize("command", ["part", "stage"])
def test_two_hyphens_are_no_value(run, folder, command, option):
    status, out, err = run(command, "tide.song.txt", option)
    assert (status, out) == (2, "")
    assert err == f"arranger: expected a value after `{option[:-2].rstrip('=')}`, found `--`\n"
    assert run(command, "--", "tide.song.txt")[0] == 0


@pytest.mark.skipif(os.name == "nt", reason="Windows has pipes elsewhere")
def test_a_pipe_is_no_song_and_no_pdf(run, folder):
    os.mkfifo(folder / "waits.song.txt")
    os.mkfifo(folder / "tide.pdf")
    os.mkfifo(folder / "mine.toml")
    for command in ("part", "check", "tidy", "show", "convert"):
        status, out, err = run(command, "waits.song.txt")
        assert (status, out) == (2, "")
        assert "waits.song.txt, which is no ordinary file" in err
    assert f"{folder / 'tide.pdf'} is no ordinary file" in run("part", "tide.song.txt", "--force")[2]
    assert (
        "mine.toml cannot be read: it is no ordinary file" in run("show", "tide.song.txt", "--player", "mine.toml")[2]
    )
    assert (
        "the font mine.toml cannot be read: it is no ordinary file"
        in run("check", "tide.song.txt", "--font", "mine.toml")[2]
    )


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"PK\x03\x04\x14\0mimetype", "a document of a word processor, or a ZIP archive"),
        (b"{\\rtf1\\ansi", "a document in rich text (RTF)"),
        (b"%PDF-1.7\n%\xe2\xe3", "a PDF"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "a document of an old word processor"),
    ],
)
@pytest.mark.parametrize("command", ["part", "stage", "check", "tidy", "show", "convert"])
def test_a_word_processor_s_file(run, folder, command, data, found):
    (folder / "words.docx").write_bytes(data)
    status, out, err = run(command, "words.docx")
    assert (status, out) == (1, "")
    code = "sheet-not-text" if command == "convert" else "not-text"
    first, hint = err.splitlines()
    assert first == f"words.docx: error {code}: expected plain text, found {found}"
    assert hint.startswith("  hint: open it")


# Files whole or not at all.


def test_nothing_is_left_where_the_disk_is_full(run, folder, monkeypatch):
    run("part", "tide.song.txt")
    before = (folder / "tide.pdf").read_bytes()
    full = OSError(28, "No space left on device")

    def fail(self, target):
        raise full

    monkeypatch.setattr(Path, "replace", fail)
    status, out, err = run("part", "tide.song.txt", "--paper", "letter")
    assert (status, out) == (2, "")
    assert err == ("arranger: tide.pdf cannot be written: no space left on device\n  hint: nothing has changed there\n")
    assert (folder / "tide.pdf").read_bytes() == before
    assert left_in(folder) == ["tide.pdf", "tide.song.txt"]


def test_nothing_is_left_where_the_player_stops_it(run, folder, monkeypatch):
    def stop(self, target):
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", stop)
    assert run("part", "tide.song.txt") == (130, "", "arranger: stopped\n")
    assert left_in(folder) == ["tide.song.txt"]


def test_a_folder_that_may_not_be_written(run, folder, monkeypatch):
    """Asked before anything is done. (`access` is played, since whoever runs the tests may be allowed everything.)"""
    allowed = os.access
    shut = folder / "shut"
    shut.mkdir()
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != shut and allowed(path, mode))
    status, out, err = run("part", "tide.song.txt", "-o", "shut/")
    assert (status, out) == (2, "")
    assert f"you may not write into the folder {shut}" in err


def test_a_pdf_that_may_not_be_written_over_and_a_song_that_may_not_be_read(run, folder, monkeypatch):
    allowed = os.access
    shut = {folder / "tide.pdf"}
    (folder / "tide.pdf").write_bytes(b"as it was")
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) not in shut and allowed(path, mode))
    assert f"you may not write over {folder / 'tide.pdf'}" in run("part", "tide.song.txt")[2]
    shut.add(Path("tide.song.txt"))
    assert "you may not read tide.song.txt" in run("part", "tide.song.txt")[2]
    assert (folder / "tide.pdf").read_bytes() == b"as it was"


def test_permissions_and_links_stay(folder):
    target, link = folder / "kept.pdf", folder / "link.pdf"
    target.write_bytes(b"old")
    target.chmod(0o640)
    link.symlink_to(target)
    files.write(link, b"new", b"old".__eq__)
    assert link.is_symlink()
    assert target.read_bytes() == b"new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    before = os.umask(0o027)
    try:
        files.write(folder / "fresh.pdf", b"new", lambda _: False)
    finally:
        os.umask(before)
    assert stat.S_IMODE((folder / "fresh.pdf").stat().st_mode) == 0o640


def test_a_link_to_the_song_is_the_song(run, folder):
    (folder / "tide.pdf").symlink_to(folder / "tide.song.txt")
    status, _, err = run("part", "tide.song.txt")
    assert status == 2
    assert "would lie over the song" in err
    assert (folder / "tide.song.txt").read_text(encoding="utf-8") == SONG


def test_a_circle_of_links(run, folder):
    (folder / "a.pdf").symlink_to(folder / "b.pdf")
    (folder / "b.pdf").symlink_to(folder / "a.pdf")
    status, out, err = run("part", "tide.song.txt", "-o", "a.pdf")
    assert (status, out) == (2, "")
    assert "cannot be written" in err


@pytest.mark.parametrize(
    ("song", "pdf"),
    [
        ("a.song.txt", "a.pdf"),
        ("A Song.Song.TXT", "A Song.pdf"),
        ("a.b.song.txt", "a.b.pdf"),
        ("a.txt", "a.pdf"),
        ("a", "a.pdf"),
        (".song.txt", ".song.txt.pdf"),
    ],
)
def test_names_of_pdfs(song, pdf):
    assert files.pdf_name(Path(song)) == pdf


# check


@pytest.mark.slow
def test_check_says_nothing_of_the_samples(run):
    assert run("check", *sorted(SAMPLES.glob("*.song.txt"))) == (0, "", "")


def test_check_tells_all_and_writes_nothing(run, folder):
    (folder / "wrong.song.txt").write_text(WRONG.replace("| A |", "| K |"), encoding="utf-8")
    status, out, err = run("check", "tide.song.txt", "wrong.song.txt")
    assert (status, out) == (1, "")
    assert re.findall(r"^\S+: error", err, re.MULTILINE) == ["wrong.song.txt:6:7: error", "wrong.song.txt:6:11: error"]
    assert left_in(folder) == ["tide.song.txt", "wrong.song.txt"]


def test_check_tells_what_part_would(run, folder):
    (folder / "rest.song.txt").write_text(SILENT, encoding="utf-8")
    (folder / "sand.song.txt").write_text(SONG.replace("Sand", "砂"), encoding="utf-8")
    for song in ("rest", "sand"):
        told = run("check", f"{song}.song.txt")
        assert told[0] == 1
        assert told == run("part", f"{song}.song.txt")


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"song \xff\n", "not-utf-8"),
        (b"song A\x1b[2J\n", "control-character"),
        (b"x" * (1 << 20) + b"xx", "file-too-large"),
    ],
)
def test_files_that_are_no_songs(run, folder, data, code):
    (folder / "odd.song.txt").write_bytes(data)
    status, out, err = run("check", "odd.song.txt")
    assert (status, out) == (1, "")
    assert f"error {code}: " in err
    assert "\x1b" not in err


def test_warnings_stop_nothing(run, folder):
    text = SONG.replace("tempo 72", "roadmap Verse") + "\nsection Coda\n| D |\n"
    (folder / "tide.song.txt").write_text(text, encoding="utf-8")
    status, out, err = run("part", "tide.song.txt")
    assert (status, out) == (0, "tide.pdf: 1 page\n")
    assert ": warning " in err


# show


def test_show_as_a_table(run):
    status, out, err = run("show", "tide.song.txt", "--key", "E")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "Low Tide · E major (written in D major) · 72 · 4/4"
    assert [re.split(r"\s+", line.strip())[:3] for line in lines[5:9]] == [
        [str(bar), "1", chord] for bar, chord in enumerate("EABE", start=1)
    ]
    assert lines[-1].endswith("proven.")


def test_show_as_json(run):
    # Frames weigh more to keep in place: four keys are pulled toward where the hand likes to be, not three.
    for options, most in (((), 1.07), (("--without", "arc"), 1.03)):
        status, out, err = run("show", SAMPLES / "lanterns.song.txt", "--json", *options)
        assert (status, err) == (0, "")
        shown = json.loads(out)
        assert shown["title"] == "Lanterns on the Harbour"
        movement = shown["movement"]
        assert movement["proven"] is True
        assert movement["minimum"] <= movement["arranged"] <= movement["minimum"] * most
        assert movement["arranged"] < movement["root_position"]


def test_show_heeds_what_changes_the_music(run):
    def chords(*options):
        shown = json.loads(run("show", SAMPLES / "lanterns.song.txt", "--json", *options)[1])
        return shown, [chord for section in shown["sections"] for chord in section["chords"]]

    plain, all_plain = chords("--without", "suspensions", "--without", "octaves")
    assert not any(chord["suspension"] for chord in all_plain)
    assert not any(section["octaves"] for section in plain["sections"])
    usual, all_usual = chords()
    more = chords("--suspensions", "1/2")[1]
    assert 0 < sum(bool(c["suspension"]) for c in all_usual) < sum(bool(c["suspension"]) for c in more)
    every = chords("--octaves", "every")[0]
    count = [sum(len(s["octaves"]) for s in shown["sections"]) for shown in (usual, every)]
    assert 0 < count[0] < count[1]
    moved, all_moved = chords("--key", "E")
    assert moved["key"] == "E"
    assert all_moved[0]["symbol"] == "E"
    assert moved["movement"]["arranged"] == usual["movement"]["arranged"]


def test_show_of_a_wrong_song_shows_nothing(run, folder):
    (folder / "wrong.song.txt").write_text(WRONG, encoding="utf-8")
    assert run("show", "wrong.song.txt", "--json")[:2] == (1, "")


# Help and version.


@pytest.mark.parametrize("command", ["part", "check", "tidy", "show"])
def test_help_names_every_option(run, command):
    status, out, err = run(command, "--help")
    assert (status, err) == (0, "")
    assert out.startswith(f"usage: arranger {command} ")
    for option in parsers()[1][command].long_options:
        assert option in out
    assert max(map(len, out.splitlines())) <= 88


@pytest.mark.parametrize("command", parsers()[1])
def test_a_command_made_alone_is_as_among_all(command):
    whole, alone = parsers(), parsers([command])
    assert list(alone[1]) == [command]
    assert alone[1][command].known == whole[1][command].known
    assert alone[1][command].format_help() == whole[1][command].format_help()


def test_help_of_the_whole(run):
    status, out, _ = run("--help")
    assert (status, out) == (0, parsers()[0].format_help())
    assert all(re.search(rf"^    {command}(?: |$)", out, re.MULTILINE) for command in parsers()[1])
    assert run() == (2, out, "")


def test_version(run):
    assert run("--version") == (0, f"arranger {arranger.__version__}\n", "")
