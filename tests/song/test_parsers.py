"""The parsers kept in the player's cache folder: read from nowhere else, and built anew whenever they cannot be had."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from arranger import resources
from arranger.resources import keep, kept
from arranger.song import cells, grammar
from arranger.song.cells import chord_row, read_mark
from arranger.song.grammar import parse_fact, parse_roadmap
from arranger.song.words_and_notes import note_row, sung_row

ROOT = Path(__file__).parents[2]
FACTS = [("key", "F#m"), ("tempo", "dotted 60"), ("sound", "piano + pad / strings"), ("key", "x")]
ROWS = [
    (parse_roadmap, "Verse 1 (soft), Chorus"), (chord_row, "|: D | <G=BDG / (A) Dx |1. E :| x3"),
    (sung_row, "| lan*terns | a- | \\* |"), (note_row, "| (D4 E) / |"),
]  # fmt: skip
CHORDS = ["F#mi7(b5)/C", "<(Am7)=ACE", "Gsus4(9)", "Cx", "C7alt", "Ebma9#11"]
posix = pytest.mark.skipif(os.name == "nt", reason="whose a folder is, is asked where the system can tell")


def parsed() -> list[object]:
    """Parse by parsers that are had anew, as a process does when it begins."""
    known = (grammar.parser, grammar.parse_chord, grammar.parse_fact, chord_row, sung_row, note_row, cells._understood)
    for one in known:
        one.cache_clear()
    facts = [parse_fact(*fact) for fact in FACTS]
    return [*facts, *(read(text) for read, text in ROWS), *map(read_mark, CHORDS)]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(resources, "cache_folder", lambda: tmp_path / "cache")
    return tmp_path / "cache" / "parsers"


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """List the grammars of which parsers are built."""
    found = []
    plain = grammar.Lark

    class Counted(plain):  # type: ignore[valid-type, misc]
        def __init__(self, text: str, **options: object) -> None:
            found.append(next(name for name in grammar.STARTS if resources.grammar_text(name) == text))
            super().__init__(text, **options)

    monkeypatch.setattr(grammar, "Lark", Counted)
    return found


BOTH = ["song.lark", "chord.lark"]


def test_parsers_are_built_once_and_kept(folder: Path, built: list[str]) -> None:
    first = parsed()
    assert sorted(built) == sorted(BOTH)
    assert len(list(folder.iterdir())) == 2
    assert parsed() == first
    assert sorted(built) == sorted(BOTH)


def flipped(data: bytes) -> bytes:
    return data[:9000] + bytes([data[9000] ^ 1]) + data[9001:]


@pytest.mark.parametrize(
    "damage", [flipped, lambda data: data[:-1], lambda data: data[:20], lambda data: b"", lambda data: data + b"x"]
)
def test_what_is_damaged_is_built_anew(
    folder: Path, built: list[str], damage: Callable[[bytes], bytes], capfd: pytest.CaptureFixture[str]
) -> None:
    first = parsed()
    whole = {path: path.read_bytes() for path in folder.iterdir()}
    for path, data in whole.items():
        path.write_bytes(damage(data))
    built.clear()
    assert parsed() == first
    assert sorted(built) == sorted(BOTH)
    built.clear()
    assert parsed() == first
    assert built == []
    assert capfd.readouterr() == ("", "")


def test_what_cannot_be_loaded_is_built_anew(folder: Path, built: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """Whole by its sum and yet no parser: nothing that is said of it reaches the player."""
    first = parsed()
    made_of: list[bytes] = []
    for name in BOTH:
        text = resources.grammar_text(name)
        made_of.append("\n".join((text, grammar.lark_release, *grammar.STARTS[name])).encode())
        assert kept(name, made_of[-1]) is not None
        keep(name, made_of[-1], b"no pickle")
    built.clear()
    assert parsed() == first
    assert sorted(built) == sorted(BOTH)
    assert all(kept(name, of) not in (None, b"no pickle") for name, of in zip(BOTH, made_of, strict=True))
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(("what", "value"), [("lark_release", "1.3.999"), ("STARTS", None)])
def test_another_lark_builds_its_own(
    folder: Path, built: list[str], monkeypatch: pytest.MonkeyPatch, what: str, value: object
) -> None:
    first = parsed()
    built.clear()
    other = {name: (*starts, starts[0]) for name, starts in grammar.STARTS.items()}
    monkeypatch.setattr(grammar, what, value or other)
    assert parsed() == first
    assert sorted(built) == sorted(BOTH)
    assert len(list(folder.iterdir())) == 2, "in the place of what was there"


def test_kept_content_is_of_what_it_is_made_of(folder: Path) -> None:
    keep("a", b"one", b"content")
    assert kept("a", b"one") == b"content"
    assert kept("a", b"two") is None
    assert kept("b", b"one") is None


@posix
def test_the_folder_is_the_player_s_alone(folder: Path) -> None:
    keep("a", b"", b"content")
    assert folder.stat().st_mode & 0o777 == 0o700
    for mode in (0o770, 0o707, 0o701, 0o750):
        folder.chmod(mode)
        assert kept("a", b"") is None, oct(mode)
        keep("b", b"", b"content")
        assert len(list(folder.iterdir())) == 1, oct(mode)
    folder.chmod(0o700)
    assert kept("a", b"") == b"content"
    folder.parent.chmod(0o777)  # a folder that others put in its place would be theirs, or open to them
    assert kept("a", b"") == b"content"


@posix
def test_what_others_put_in_its_place_is_not_read(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Exchanged in the moment after the folder was looked at: what is read is still in the folder that was."""
    keep("a", b"", b"content")
    plain = resources.ordinary_bytes

    def exchanged(path: Path, *rest: object) -> bytes:
        folder.rename(folder.with_name("away"))
        folder.mkdir()
        (folder / path.name).write_bytes(b"other" + resources._sum_of(b"other", b""))
        return plain(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(resources, "ordinary_bytes", exchanged)
    assert kept("a", b"") == b"content"


@posix
def test_nothing_is_read_from_a_folder_of_others(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep("a", b"", b"content")
    monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    assert kept("a", b"") is None
    keep("b", b"", b"content")
    assert len(list(folder.iterdir())) == 1


@posix
def test_nothing_is_read_through_a_link(folder: Path, tmp_path: Path) -> None:
    keep("a", b"", b"content")
    folder.rename(tmp_path / "elsewhere")
    folder.symlink_to(tmp_path / "elsewhere")
    assert kept("a", b"") is None


@pytest.mark.parametrize("where", ["a file", "no home"])
def test_where_nothing_can_be_kept_parsers_are_built(
    folder: Path, built: list[str], where: str, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def no_home() -> Path:
        raise FileNotFoundError

    if where == "no home":
        monkeypatch.setattr(resources, "cache_folder", no_home)
    else:
        folder.parent.write_text("in the way", encoding="utf-8")
    first = parsed()
    assert parsed() == first
    assert sorted(built) == sorted(BOTH * 2)
    assert capfd.readouterr() == ("", "")


def test_a_full_disk_leaves_nothing_behind(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep("a", b"", b"content")

    def full(path: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    keep("a", b"", b"other")
    assert [path.read_bytes()[:7] for path in folder.iterdir()] == [b"content"]


MANY = """
import sys
from pathlib import Path
from arranger import resources
resources.cache_folder = lambda: Path(sys.argv[1])
from arranger.song.cells import chord_row, read_mark
print(chord_row("| D | <G=BDG x |"), read_mark("F#mi7(b5)/C"))
"""


@pytest.mark.slow
def test_processes_that_begin_at_once_do_not_disturb_each_other(folder: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    told = set()
    for _ in range(3):
        for path in folder.iterdir() if folder.exists() else ():
            path.write_bytes(path.read_bytes()[:-5])
        line = [sys.executable, "-c", MANY, str(folder.parent)]
        many = [subprocess.Popen(line, env=environment, stdout=-1, stderr=-1, text=True) for _ in range(6)]
        told |= {process.communicate() for process in many}
    assert len(told) == 1
    assert next(iter(told))[1] == ""
    assert len(list(folder.iterdir())) == 2
