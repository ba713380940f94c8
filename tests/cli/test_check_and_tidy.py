"""`check` with its options, and `tidy`: what they write, what they keep, what they say."""

import json
import os
import stat
from pathlib import Path

import pytest

from arranger import files

SONG = "song Low Tide\nkey D\n\nsection Verse\n| D | am | G |\nsing | Sand and | shells and | H\n"
TIDY = "song      Low Tide\nkey       D\n\nsection   Verse\n| D             | Am         | G |\n"


@pytest.fixture
def folder(folder):
    """Give the folder with one song."""
    (folder / "tide.song.txt").write_bytes(SONG.encode())
    return folder


def test_fix_mends_and_keeps_the_file_as_it_was(run, tmp_path):
    status, out, err = run("check", "tide.song.txt", "--fix")
    assert (status, out) == (0, "")
    assert err == (
        "tide.song.txt:5: mended lower-case-chord: `am` is now `Am`\n"
        "arranger: tide.song.txt: mended 1 mistake; tide.song.txt.before is the file as it was\n"
    )
    assert (tmp_path / "tide.song.txt").read_text() == SONG.replace("am", "Am")
    assert (tmp_path / "tide.song.txt.before").read_text() == SONG
    assert run("check", "tide.song.txt", "--fix") == (0, "", "")


def test_no_copy_is_ever_lost(run, tmp_path):
    for _ in range(3):
        (tmp_path / "tide.song.txt").write_text(SONG)
        run("check", "tide.song.txt", "--fix")
    names = {p.name for p in tmp_path.iterdir()}
    assert names == {"tide.song.txt", *(f"tide.song.txt.before{n}" for n in ("", "-2", "-3"))}


def test_what_cannot_be_mended_is_told_after_the_rest_is(run, tmp_path):
    (tmp_path / "tide.song.txt").write_text(SONG.replace("| G |", "| Hm |"))
    status, _, err = run("check", "tide.song.txt", "--fix")
    assert status == 1
    assert "mended lower-case-chord" in err and "error german-h" in err and "error lower-case-chord" not in err


@pytest.mark.parametrize(("ends", "mark"), [("\r\n", b""), ("\n", b"\xef\xbb\xbf"), ("\r\n", b"\xef\xbb\xbf")])
def test_line_ends_and_byte_order_marks_stay(run, tmp_path, ends, mark):
    (tmp_path / "tide.song.txt").write_bytes(mark + SONG.replace("\n", ends).encode())
    run("check", "tide.song.txt", "--fix")
    assert (tmp_path / "tide.song.txt").read_bytes() == mark + SONG.replace("am", "Am").replace("\n", ends).encode()


def test_json_for_editors(run):
    status, out, err = run("check", "tide.song.txt", "--json")
    assert (status, err) == (1, "")
    (file,) = json.loads(out)
    (problem,) = file["problems"]
    assert file["file"] == "tide.song.txt"
    assert problem["code"] == "lower-case-chord" and problem["severity"] == "error"
    assert problem["from"] == {"line": 5, "column": 7} and problem["to"] == {"line": 5, "column": 9}
    assert problem["fix"] == {"from": {"line": 5, "column": 7}, "to": {"line": 5, "column": 9}, "text": "Am"}
    assert problem["hints"] == ["write `Am`"]


def test_json_of_songs_without_mistakes_and_of_bytes_that_are_no_text(run, tmp_path):
    (tmp_path / "a.song.txt").write_text(SONG.replace("am", "Am"))
    (tmp_path / "b.song.txt").write_bytes(b"song \x1b[31m\xff")
    status, out, _ = run("check", "a.song.txt", "b.song.txt", "--json")
    assert status == 1 and "\x1b" not in out
    assert [[p["code"] for p in file["problems"]] for file in json.loads(out)] == [[], ["not-utf-8"]]


def test_explain(run):
    status, out, err = run("check", "--explain", "wrong-count")
    assert (status, err) == (0, "")
    assert out.startswith("wrong-count\n\nThe marks in a bar share it equally")
    assert "| D / G A |" in out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["check"], "the following arguments are required: SONG"),
        (["check", "--explain", "wrong-cuont"], "is `wrong-count` meant?"),
        (["check", "--explain", "wrong-count", "tide.song.txt"], "--explain takes a code alone"),
        (["tidy"], "the following arguments are required: SONG"),
        (["tidy", "tide.sogn.txt"], "there is no file"),
    ],
)
def test_what_cannot_be_done_as_given(run, words, told):
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert told in err


def test_tidy(run, tmp_path):
    song = tmp_path / "tide.song.txt"
    song.write_bytes(SONG.replace("am", "Am").replace("\n", "\r\n").encode())
    assert run("tidy", "tide.song.txt") == (0, "tide.song.txt: tidied\n", "")
    tidy = TIDY + "sing | Sand and | shells and | H |\n"
    assert song.read_bytes() == tidy.replace("\n", "\r\n").encode()
    assert run("tidy", "tide.song.txt") == (0, "tide.song.txt: tidy already\n", "")
    assert [p.name for p in tmp_path.iterdir()] == ["tide.song.txt"]


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
@pytest.mark.parametrize("command", [["tidy"], ["check", "--fix"]])
def test_a_link_stays_a_link_and_the_permissions_stay(run, tmp_path, command):
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "real.song.txt").write_text(SONG.replace("am", "Am") if command == ["tidy"] else SONG)
    (kept / "real.song.txt").chmod(0o640)
    (tmp_path / "link.song.txt").symlink_to("kept/real.song.txt")
    assert run(*command, "link.song.txt")[0] == 0
    assert (tmp_path / "link.song.txt").is_symlink()
    assert "Am" in (kept / "real.song.txt").read_text() and (kept / "real.song.txt").read_text() != SONG
    modes = {stat.S_IMODE(path.stat().st_mode) for path in kept.iterdir()}
    assert modes == {0o640}


@pytest.mark.parametrize("command", [["tidy"], ["check", "--fix"]])
def test_a_file_that_is_read_only_is_left_alone(run, tmp_path, command):
    song = tmp_path / "tide.song.txt"
    text = SONG.replace("am", "Am") if command == ["tidy"] else SONG
    song.write_text(text)
    song.chmod(0o444)
    status, _, err = run(*command, "tide.song.txt")
    assert status == 2
    assert "arranger: tide.song.txt cannot be written: it may not be written over\n" in err
    assert song.read_text() == text
    assert [path.name for path in tmp_path.iterdir()] == ["tide.song.txt"]


@pytest.mark.parametrize("command", [["tidy"], ["check", "--fix"]])
def test_what_an_editor_saves_meanwhile_is_not_lost(run, tmp_path, monkeypatch, command):
    song = tmp_path / "tide.song.txt"
    song.write_text(SONG.replace("am", "Am") if command == ["tidy"] else SONG)
    read = files.read

    def saved_after(path):
        data = read(path)
        song.write_text("song Saved\n")
        return data

    monkeypatch.setattr(files, "read", saved_after)
    status, _, err = run(*command, "tide.song.txt")
    assert status == 2 and "somebody has changed what is there" in err
    assert song.read_text() == "song Saved\n"
    assert [path.name for path in tmp_path.iterdir()] == ["tide.song.txt"]


def test_no_half_copy_is_left_where_the_disk_is_full(run, tmp_path, monkeypatch):
    def full(descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    status, _, err = run("check", "--fix", "tide.song.txt")
    assert status == 2 and "no space left on device" in err
    assert (tmp_path / "tide.song.txt").read_text() == SONG
    assert [path.name for path in tmp_path.iterdir()] == ["tide.song.txt"]


@pytest.mark.parametrize("words", [["tidy"], ["check", "--fix"], ["part"], ["stage"], ["convert"]])
def test_what_is_written_is_on_the_disk_before_it_replaces_anything(run, tmp_path, monkeypatch, words):
    done = []
    sync, replace = os.fsync, Path.replace

    def synced(descriptor):
        done.append("folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "file")
        sync(descriptor)

    def replaced(path, target):
        done.append("replaced")
        return replace(path, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(Path, "replace", replaced)
    text = "Tide\n\nD      G\nSand in the pockets\nA      D\nSalt\n" if words == ["convert"] else SONG
    (tmp_path / "ebb.txt").write_text(text.replace("am", "Am") if words != ["check", "--fix"] else text)
    status, _, err = run(*words, "ebb.txt")
    assert status == 0, err
    assert done[:2] == ["file", "replaced"] and done[-3:-1] == ["file", "replaced"]
    assert done[-1] == ("folder" if os.name == "posix" else done[-1])


def test_tidy_leaves_songs_with_errors_alone(run, tmp_path):
    status, out, err = run("tidy", "tide.song.txt")
    assert (status, out) == (1, "")
    assert "lower-case-chord" in err
    assert (tmp_path / "tide.song.txt").read_text() == SONG


@pytest.mark.parametrize("command", [("tidy",), ("check", "--fix")])
def test_letters_are_written_back_as_they_were_typed(run, tmp_path, command):
    words = "\ufa19 e\u0301 \u212b"  # composed, they would be other letters
    slip = "key: D" if "--fix" in command else "key  D"
    (tmp_path / "b.song.txt").write_text(f"song {words}\n{slip}\nsection Été\n| D∆ |\nsing | {words} |\n", "utf-8")
    run(*command, "b.song.txt")  # that the fonts have no such sign is another matter
    after = (tmp_path / "b.song.txt").read_text("utf-8")
    assert after.count(words) == 2 and "D∆" in after and slip not in after
