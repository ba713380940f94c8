"""Runs through a library: only what has changed, and what a run that was ended at the worst moment leaves behind."""

import errno
import os
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from arranger.files import reason
from arranger.layout.options import PartOptions
from arranger.library import plan as plan_module
from arranger.library import state as state_module
from arranger.library.digest import digest, program, settings
from arranger.library.state import FOLDER, State, StateError
from arranger.units import LETTER
from tests.library.helpers import SMALL, WISHES, go, left_in, nobody_at_work_on_the_program, put  # noqa: F401 (a fixture)

LOG = f"{FOLDER}/made.jsonl"
FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


class Killed(BaseException):
    """The process is gone: nobody catches this."""


@pytest.fixture
def songs(tmp_path):
    put(tmp_path / "songs", 5)
    return tmp_path / "songs"


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


@pytest.fixture
def undisturbed(songs, tmp_path):
    """Give what a run that nothing disturbs leaves."""
    go(songs, tmp_path / "undisturbed")
    return left_in(tmp_path / "undisturbed")


def counts(summary) -> tuple[int, int, int, int]:
    return tuple(summary.counts[what] for what in ("made", "unchanged", "errors", "missed"))


# What counts as a change.


def test_dates_do_not_count_and_contents_do(songs, out):
    assert counts(go(songs, out)[0]) == (5, 0, 0, 0)
    path = songs / "0" / "s00.song.txt"
    path.touch()
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)
    status = path.stat()
    path.write_bytes(path.read_bytes().replace(b"F", b"G"))
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)


def test_a_pdf_that_is_missing_is_made_again(songs, out, undisturbed):
    go(songs, out)
    (out / "0" / "s03.pdf").unlink()
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
    assert left_in(out) == undisturbed


def test_another_program_makes_all_again(songs, out, monkeypatch):
    go(songs, out)
    monkeypatch.setattr(plan_module, "program", lambda: "another")
    assert counts(go(songs, out)[0]) == (5, 0, 0, 0)


def test_the_program_is_its_files(tmp_path, monkeypatch):
    monkeypatch.setattr("arranger.__file__", str(tmp_path / "__init__.py"))
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "a.py").write_text("one")
    before = program()
    assert program() == before
    (tmp_path / "inner" / "a.py").write_text("two")
    changed = program()
    (tmp_path / "inner" / "a.py").rename(tmp_path / "inner" / "b.py")
    assert len({before, changed, program()}) == 3


def test_settings_of_one_kind_do_not_touch_the_other():
    other_taste = replace(WISHES, taste=replace(WISHES.taste, suspensions=Fraction(1, 3)))
    other_pages = replace(WISHES, pages=PartOptions(LETTER))
    other_stage = replace(WISHES, stage=replace(WISHES.stage, dark=True))
    part = [settings("part", wishes) for wishes in (WISHES, other_taste, other_pages, other_stage)]
    stage = [settings("stage", wishes) for wishes in (WISHES, other_taste, other_pages, other_stage)]
    assert part[0] == part[3] and len(set(part)) == 3
    assert stage[0] == stage[2] and len(set(stage)) == 3
    assert not set(part) & set(stage)


def test_of_fonts_contents_count_and_not_where_they_lie(tmp_path):
    paths = [tmp_path / name for name in ("a.ttf", "b.ttf", "c.ttf")]
    for path, data in zip(paths, (b"one", b"one", b"two"), strict=True):
        path.write_bytes(data)
    one, same, other = (settings("part", replace(WISHES, pages=PartOptions(fonts=(str(path),)))) for path in paths)
    assert one == same != other


def test_digests_know_where_parts_end():
    assert digest(b"ab", b"c") != digest(b"a", b"bc")


# Ended at the worst moment.


@pytest.mark.parametrize("moment", ["writing", "telling the log", "putting in place"])
@pytest.mark.parametrize("number", [0, 3])
def test_killed_and_carried_on(songs, out, undisturbed, monkeypatch, moment, number):
    killed_at(moment, number, Killed(), monkeypatch)
    with pytest.raises(Killed):
        go(songs, out)
    monkeypatch.undo()
    for pdf in out.rglob("*.pdf"):
        assert undisturbed[pdf.relative_to(out).as_posix()] == pdf.read_bytes()
    summary, _ = go(songs, out)
    assert counts(summary) == (5 - number, number, 0, 0)
    assert left_in(out) == undisturbed


def killed_at(moment: str, number: int, fault: BaseException, monkeypatch) -> None:
    """Let something happen at one moment of the song with that number."""
    passed = []

    def perhaps(real):
        def work(*arguments, **options):
            passed.append(1)
            if len(passed) == number + 1 + begun:
                raise fault
            return real(*arguments, **options)

        return work

    # Beginning a log takes a write and a putting in place itself.
    match moment:
        case "writing":
            begun = 1
            monkeypatch.setattr(os, "fsync", perhaps(os.fsync))
        case "telling the log":
            begun = 0
            monkeypatch.setattr(State, "add", perhaps(State.add))
        case "putting in place":
            begun = 1
            monkeypatch.setattr(Path, "replace", perhaps(Path.replace))


def test_killed_before_putting_in_place_and_the_song_changed_since(songs, out, monkeypatch):
    """The log says more than is there; what is there is still known to be the program's own."""
    go(songs, out)
    path = songs / "0" / "s00.song.txt"
    for chord in ("D7", "E7", "A7"):
        path.write_text(SMALL.format(0).replace("G7", chord), encoding="utf-8")
        killed_at("putting in place", 0, Killed(), monkeypatch)
        with pytest.raises(Killed):
            go(songs, out)
        monkeypatch.undo()
    path.write_text(SMALL.format(0).replace("G7", "Dm7"), encoding="utf-8")
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)


def test_a_torn_line_of_the_log(songs, out, undisturbed):
    go(songs, out)
    log = out / LOG
    whole = log.read_bytes()
    log.write_bytes(whole[:-1])  # the line is whole, and only its end is missing
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)
    for cut in (2, 40, len(whole.splitlines()[-1])):
        log.write_bytes(whole[:-cut])
        assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
        assert left_in(out) == undisturbed


def test_rubbish_in_the_log_is_not_believed(songs, out, undisturbed):
    go(songs, out)
    log = out / LOG
    log.write_bytes(log.read_bytes() + b'[1,2]\n{"owned":1}\nnull\n\xff\n["a","b"]\n')
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)


@pytest.mark.parametrize("header", [b"", b"hello\n", b'{"format": 999, "songs": "."}\n', b"[]\n"])
def test_a_log_that_is_not_to_be_understood(songs, out, header):
    go(songs, out)
    (out / LOG).write_bytes(header)
    with pytest.raises(StateError, match="is no log of this program, or of a newer one"):
        go(songs, out)


def test_a_lost_log_takes_on_what_is_the_same(songs, out, undisturbed):
    go(songs, out)
    (out / LOG).unlink()
    (out / "0" / "s00.pdf").write_bytes(b"my own")
    assert counts(go(songs, out)[0]) == (4, 0, 0, 1)
    (out / "0" / "s00.pdf").unlink()
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
    assert left_in(out) == undisturbed


@pytest.mark.parametrize("moment", ["writing", "telling the log", "putting in place"])
def test_a_full_disk(songs, out, undisturbed, monkeypatch, moment):
    fault = StateError(f"the log cannot be written: {reason(FULL)}") if moment == "telling the log" else FULL
    killed_at(moment, 2, fault, monkeypatch)
    summary, _ = go(songs, out)
    monkeypatch.undo()
    assert summary.stopped.endswith("cannot be written: no space left on device")
    assert (summary.counts["made"], summary.left) == (2, 3)
    assert sorted(path.name for path in (out / FOLDER).iterdir()) == ["lock", "made.jsonl"]
    assert len(list(out.rglob("*.pdf"))) == 2
    assert counts(go(songs, out)[0]) == (3, 2, 0, 0)
    assert left_in(out) == undisturbed


def test_a_log_that_finds_no_room_has_no_torn_line(songs, out, monkeypatch):
    go(songs, out)
    before = (out / LOG).read_bytes()
    with State(out, songs) as state:
        record = next(iter(state.records.values()))
        log = state._log

        class Short:
            """A disk with room for ten bytes."""

            def __getattr__(self, name):
                return getattr(log, name)

            def write(self, data):
                return log.write(data[:10])

        state._log = Short()
        with pytest.raises(StateError, match="no space left"):
            state.add(replace(record, pages=99))
        assert state.records[record.song, record.kind] == record
    assert (out / LOG).read_bytes() == before


def test_one_pdf_that_cannot_be_written_is_told_and_the_others_are_made(songs, out):
    (out / "1").mkdir(parents=True)
    (out / "1" / "s01.pdf").mkdir()
    (out / "2").write_text("a file where a folder is to be")
    summary, heard = go(songs, out)
    assert counts(summary) == (3, 0, 0, 2)
    told = {outcome.name: outcome.messages[0] for outcome in heard.outcomes if outcome.what == "missed"}
    assert told["1/s01.song.txt"] == "cannot be written: is a directory"
    assert told["2/s02.song.txt"].startswith("cannot be written: ")


# Gone.


def test_songs_in_a_folder_that_cannot_be_read_are_not_gone(songs, out, monkeypatch):
    go(songs, out)
    real = os.scandir

    def scandir(path):
        if Path(path).name == "1":
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    summary, _ = go(songs, out, prune=True)
    assert (summary.gone, summary.pruned, counts(summary)) == ([], [], (0, 3, 0, 1))
    assert (out / "1" / "s01.pdf").exists()


def test_a_song_that_gets_errors_keeps_its_pdf_of_yesterday(songs, out):
    go(songs, out)
    path = songs / "0" / "s00.song.txt"
    good = path.read_text()
    path.write_text(good.replace("key C", "key H"))
    for _ in range(2):
        summary, _ = go(songs, out, prune=True)
        assert (counts(summary), summary.pruned) == ((0, 4, 1, 0), [])
    assert (out / "0" / "s00.pdf").exists()
    path.write_text(good.replace("G7", "G"))
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
    path.unlink()
    summary, _ = go(songs, out, prune=True)
    assert summary.pruned == [str(out / "0" / "s00.pdf")]


# Two at once.


def test_two_runs_at_once(songs, out):
    code = "import sys; from pathlib import Path; from arranger.library.state import State\n"
    code += "state = State(Path(sys.argv[1]), Path(sys.argv[2])); print('have it', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", code, str(out), str(songs)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout.readline().strip() == b"have it"
        with pytest.raises(StateError, match="another run is at work in") as refused:
            go(songs, out)
        assert refused.value.hint
        other.kill()  # the system frees the lock of whoever dies
    assert counts(go(songs, out)[0]) == (5, 0, 0, 0)


def test_the_lock_is_no_leftover(songs, out):
    go(songs, out)
    assert (out / FOLDER / "lock").exists()
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)


def test_a_disk_without_locks_is_told(songs, out, monkeypatch):
    if sys.platform == "win32":
        pytest.skip("locks are of another kind")

    def lockf(*_):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(state_module.fcntl, "lockf", lockf)
    with pytest.raises(OSError, match="No locks"):
        go(songs, out)
