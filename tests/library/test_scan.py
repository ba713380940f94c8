"""Walking a folder of songs: what is found, in what order, and what is passed over."""

import os
import sys
from pathlib import Path

import pytest

from arranger.library import scan as scan_module
from arranger.library.scan import FoundSong, scan

POSIX = os.name == "posix"
NOT_ROOT = POSIX and os.geteuid() != 0


def put(folder: Path, *names: str) -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name, encoding="utf-8")


def names(folder: Path) -> list[str]:
    return [song.name for song in scan(folder)[0]]


def told(folder: Path) -> list[tuple[str, str, bool]]:
    return [(problem.name, problem.message, problem.missed) for problem in scan(folder)[1]]


def test_songs_in_the_order_of_their_names(tmp_path):
    put(
        tmp_path,
        "z.song.txt",
        "b/c/d.song.txt",
        "a.SONG.TXT",
        "b/a.song.txt",
        "notes.txt",
        "a.pdf",
        "b/x.song.txt.before",
    )
    assert names(tmp_path) == ["a.SONG.TXT", "b/a.song.txt", "b/c/d.song.txt", "z.song.txt"]
    assert told(tmp_path) == []


def test_what_is_said_of_a_song(tmp_path):
    put(tmp_path, "b/a.song.txt")
    path = tmp_path / "b" / "a.song.txt"
    for moment in (12345, 10**19 // 2):  # long ago; the system says itself that it was changed now
        os.utime(path, ns=(1, moment))
        status = path.stat()
        changed = max(status.st_mtime_ns, status.st_ctime_ns)
        assert scan(tmp_path)[0] == [FoundSong("b/a.song.txt", str(path), len("b/a.song.txt"), changed)]


def test_paths_are_as_the_folder_was_given(tmp_path, monkeypatch):
    put(tmp_path, "songs/b/a.song.txt")
    monkeypatch.chdir(tmp_path)
    assert [song.path for song in scan("songs")[0]] == [os.path.join("songs", "b", "a.song.txt")]  # noqa: PTH118


def test_hidden_files_and_folders_are_passed_over_without_a_word(tmp_path):
    put(tmp_path, ".git/a.song.txt", "._a.song.txt", ".song.txt")
    assert scan(tmp_path) == ([], [])


def test_a_folder_with_the_name_of_a_song_is_a_folder(tmp_path):
    put(tmp_path, "a.song.txt/b.song.txt")
    assert names(tmp_path) == ["a.song.txt/b.song.txt"]


@pytest.mark.skipif(not POSIX, reason="links need a right on Windows")
def test_links_in_circles_end(tmp_path):
    put(tmp_path, "a/one.song.txt", "b/two.song.txt")
    (tmp_path / "a" / "up").symlink_to(tmp_path)
    (tmp_path / "b" / "over").symlink_to(tmp_path / "a")
    assert names(tmp_path) == ["a/one.song.txt", "b/two.song.txt"]
    message = "leads to a folder that is read already"
    assert told(tmp_path) == [("a/up", message, False), ("b/over", message, False)]


@pytest.mark.skipif(not POSIX, reason="links need a right on Windows")
def test_links_out_are_followed_once_and_what_lies_inside_comes_first(tmp_path):
    put(tmp_path, "else/one.song.txt", "else/deep/two.song.txt", "songs/z/own.song.txt")
    songs = tmp_path / "songs"
    (songs / "a").symlink_to(tmp_path / "else")
    (songs / "b").symlink_to(tmp_path / "else" / "deep")  # read already, by a
    (songs / "c").symlink_to(songs / "z")
    assert names(songs) == ["a/deep/two.song.txt", "a/one.song.txt", "z/own.song.txt"]
    assert [name for name, _, _ in told(songs)] == ["b", "c"]


@pytest.mark.skipif(not POSIX, reason="links need a right on Windows")
def test_many_links_to_links_take_no_longer(tmp_path):
    """Thirty folders, each with two links to the next, have a thousand million paths."""
    put(tmp_path, "songs/a.song.txt")
    for number in range(30):
        folder = tmp_path / f"f{number}"
        folder.mkdir()
        put(folder, f"{number:02}.song.txt")
        for link in ("x", "y"):
            (folder / link).symlink_to(tmp_path / f"f{number + 1}")
    (tmp_path / "songs" / "in").symlink_to(tmp_path / "f0")
    assert len(names(tmp_path / "songs")) == 31


@pytest.mark.skipif(not POSIX, reason="links need a right on Windows")
def test_links_that_lead_nowhere(tmp_path):
    (tmp_path / "gone.song.txt").symlink_to(tmp_path / "nothing")
    (tmp_path / "self.song.txt").symlink_to("self.song.txt")
    (tmp_path / "other").symlink_to(tmp_path / "nothing")  # no song's name: whatever it was, it is not missed
    assert [(name, missed) for name, _, missed in told(tmp_path)] == [("gone.song.txt", True), ("self.song.txt", True)]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_no_song(tmp_path):
    os.mkfifo(tmp_path / "a.song.txt")
    assert told(tmp_path) == [("a.song.txt", "is no ordinary file", True)]


@pytest.mark.skipif(sys.platform != "linux", reason="other systems refuse such names themselves")
def test_names_that_are_no_plain_text(tmp_path):
    put(tmp_path, "Été – 2.song.txt", "two\nlines.song.txt", "turn\u202e.song.txt", "c\x07d/a.song.txt")
    Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff.song.txt")).write_bytes(b"")
    assert names(tmp_path) == ["Été – 2.song.txt"]
    message = "has a name that is no plain text"
    assert {(name, m) for name, m, _ in told(tmp_path)} == {
        (name, message) for name in ("two\nlines.song.txt", "turn\u202e.song.txt", "c\x07d", "\udcff.song.txt")
    }


def test_folders_without_end(tmp_path, monkeypatch):
    monkeypatch.setattr(scan_module, "DEEPEST", 3)
    put(tmp_path, "1/2/3/a.song.txt", "1/2/3/4/b.song.txt")
    assert names(tmp_path) == ["1/2/3/a.song.txt"]
    assert told(tmp_path) == [("1/2/3/4", "lies deeper than 3 folders", True)]


@pytest.mark.skipif(not POSIX, reason="needs rights of the POSIX kind")
def test_a_folder_that_may_not_be_read(tmp_path, monkeypatch):
    put(tmp_path, "a/one.song.txt", "b/two.song.txt")
    (tmp_path / "a").chmod(0)
    if not NOT_ROOT:  # root may read everything: refuse in the system's place
        monkeypatch.setattr(scan_module.os, "scandir", refusing(tmp_path / "a"))
    try:
        assert names(tmp_path) == ["b/two.song.txt"]
        assert told(tmp_path) == [("a", "cannot be read: permission denied", True)]
    finally:
        (tmp_path / "a").chmod(0o755)


def refusing(folder: Path):
    """Give a scandir that may not read one folder."""
    real = os.scandir

    def scandir(path):
        if Path(path) == folder:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    return scandir


def test_no_folder_at_all(tmp_path):
    assert told(tmp_path / "nothing") == [("", "cannot be read: no such file or directory", True)]
