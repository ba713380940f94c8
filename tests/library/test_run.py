"""Runs through a library: only what has changed, and what a run that was ended at the worst moment leaves behind."""

import errno
import os
import sqlite3
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest

from arranger.files import reason
from arranger.layout.options import PartOptions
from arranger.library import plan as plan_module
from arranger.library import run as run_module
from arranger.library import store as store_module
from arranger.library.ledger import FOLDER, STORE, Ledger, StoreError
from arranger.library.plan import program, settings
from arranger.library.scan import PART, STAGE
from arranger.library.store import digest
from arranger.units import LETTER
from tests.library.helpers import SMALL, WISHES, counts, files_in, go, left_in, nobody_at_work_on_the_program, put  # noqa: F401 (a fixture)

FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


class Killed(BaseException):
    """The process is gone: nobody catches this."""


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
    other_taste = WISHES._replace(taste=WISHES.taste._replace(suspensions=Fraction(1, 3)))
    other_pages = WISHES._replace(pages=PartOptions(LETTER))
    other_stage = WISHES._replace(stage=WISHES.stage._replace(dark=True))
    part = [settings("part", wishes) for wishes in (WISHES, other_taste, other_pages, other_stage)]
    stage = [settings("stage", wishes) for wishes in (WISHES, other_taste, other_pages, other_stage)]
    assert part[0] == part[3] and len(set(part)) == 3
    assert stage[0] == stage[2] and len(set(stage)) == 3
    assert not set(part) & set(stage)


def test_of_fonts_contents_count_and_not_where_they_lie(tmp_path):
    paths = [tmp_path / name for name in ("a.ttf", "b.ttf", "c.ttf")]
    for path, data in zip(paths, (b"one", b"one", b"two"), strict=True):
        path.write_bytes(data)
    one, same, other = (settings("part", WISHES._replace(pages=PartOptions(fonts=(str(path),)))) for path in paths)
    assert one == same != other


def test_digests_know_where_parts_end():
    assert digest(b"ab", b"c") != digest(b"a", b"bc")


# Ended at the worst moment.


@pytest.mark.parametrize("moment", ["writing", "telling the store", "putting in place"])
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

    begun = 0
    match moment:
        case "writing":
            monkeypatch.setattr(os, "fsync", perhaps(os.fsync))
        case "telling the store":
            monkeypatch.setattr(Ledger, "add", perhaps(Ledger.add))
        case "putting in place":
            monkeypatch.setattr(Path, "replace", perhaps(Path.replace))


def test_killed_before_putting_in_place_and_the_song_changed_since(songs, out, monkeypatch):
    """The store says more than is there; what is there is still known to be the program's own."""
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


def test_a_lost_store_takes_on_what_is_the_same(songs, out, undisturbed):
    go(songs, out)
    (out / FOLDER / STORE).unlink()
    (out / "0" / "s00.pdf").write_bytes(b"my own")
    assert counts(go(songs, out)[0]) == (4, 0, 0, 1)
    (out / "0" / "s00.pdf").unlink()
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
    assert left_in(out) == undisturbed


@pytest.mark.parametrize("moment", ["writing", "telling the store", "putting in place"])
def test_a_full_disk(songs, out, undisturbed, monkeypatch, moment):
    fault = StoreError(f"the store cannot be written: {reason(FULL)}") if moment == "telling the store" else FULL
    killed_at(moment, 2, fault, monkeypatch)
    summary, _ = go(songs, out)
    monkeypatch.undo()
    assert summary.stopped.endswith("cannot be written: no space left on device")
    assert (summary.counts["made"], summary.left) == (2, 3)
    assert sorted(path.name for path in (out / FOLDER).iterdir()) == ["lock", STORE]
    assert len(list(out.rglob("*.pdf"))) == 2
    assert counts(go(songs, out)[0]) == (3, 2, 0, 0)
    assert left_in(out) == undisturbed


def test_a_store_that_finds_no_room_is_as_it_was(songs, out):
    go(songs, out)
    before = left_in(out)
    with Ledger(out, songs) as ledger:
        record = next(iter(ledger.records.values()))
        ((pages,),) = ledger._store.rows("PRAGMA page_count")
        ledger._store.rows(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(StoreError, match="cannot be written: no space left on device"):
            ledger.add(record._replace(messages=("no room for this" * 9_999,)))
        assert ledger.records[record.output] == record
        ledger.add(record)
    assert left_in(out) == before


def test_one_pdf_that_cannot_be_written_is_told_and_the_others_are_made(songs, out):
    (out / "1").mkdir(parents=True)
    (out / "1" / "s01.pdf").mkdir()
    (out / "2").write_text("a file where a folder is to be")
    summary, heard = go(songs, out)
    assert counts(summary) == (3, 0, 0, 2)
    told = {outcome.name: outcome.messages[0] for outcome in heard.outcomes if outcome.what == "missed"}
    assert told["1/s01.song.txt"] == "cannot be written: is a directory"
    assert told["2/s02.song.txt"].startswith("cannot be written: ")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_where_a_pdf_or_the_index_is_to_be_is_told_and_not_waited_for(songs, out):
    (out / "1").mkdir(parents=True)
    for name in ("1/s01.pdf", "index.csv"):
        os.mkfifo(out / name)
    for made in (4, 0):
        summary, heard = go(songs, out)
        assert (summary.counts["made"], summary.counts["missed"], summary.index) == (made, 1, False)
        told = {outcome.path: outcome.messages for outcome in heard.outcomes if outcome.what == "missed"}
        message = ("cannot be written: something is there that is no ordinary file",)
        assert told == {str(out / "1" / "s01.pdf"): message, str(out / "index.csv"): message}


def test_a_fault_of_the_program_in_one_song_leaves_the_others_alone(songs, out, undisturbed, monkeypatch):
    """A fault beside the workers: what becomes of a song is written where all are."""
    go(songs, out)
    before = (out / "0" / "s03.pdf").read_bytes()
    for number in (3, 4):
        path = songs / f"{number % 3}" / f"s{number:02}.song.txt"
        path.write_text(path.read_text().replace("G7", "G"))
    real = run_module.digest

    def digest(*parts):
        if parts[0].startswith(b"%PDF") and b"(3)" in parts[0]:
            raise MemoryError
        return real(*parts)

    monkeypatch.setattr(run_module, "digest", digest)
    summary, heard = go(songs, out)
    assert counts(summary) == (1, 3, 0, 1)
    (outcome,) = [outcome for outcome in heard.outcomes if outcome.what == "missed"]
    assert (outcome.name, outcome.messages) == ("0/s03.song.txt", ("could not be made: MemoryError",))
    assert (out / "0" / "s03.pdf").read_bytes() == before
    monkeypatch.undo()
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)


def test_a_fault_of_the_program_in_the_index_is_told(songs, out, monkeypatch):
    def index_files(*_):
        raise RecursionError("too deep")

    monkeypatch.setattr(run_module, "index_files", index_files)
    summary, heard = go(songs, out)
    assert (counts(summary), summary.index) == ((5, 0, 0, 0), False)
    assert heard.outcomes[-1].messages == ("could not be made: RecursionError: too deep",)


# Kinds.


def test_stage_copies_are_kept_up_to_date_until_all_are_removed(songs, out):
    go(songs, out, kinds=(PART, STAGE))
    path = songs / "0" / "s00.song.txt"
    copy, part = out / "0" / "s00.stage.pdf", out / "0" / "s00.pdf"
    before = copy.read_bytes(), part.read_bytes()
    path.write_text(path.read_text().replace("G7", "E7"))
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
    assert copy.read_bytes() != before[0] and part.read_bytes() != before[1]
    copy.unlink()
    go(songs, out)  # one that is missing is made again, as a part is
    assert copy.exists()
    for stage in out.rglob("*.stage.pdf"):
        stage.unlink()
    path.write_text(path.read_text().replace("E7", "A7"))
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
    assert not list(out.rglob("*.stage.pdf"))


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
    code = "import sys; from pathlib import Path; from arranger.library.ledger import Ledger\n"
    code += "ledger = Ledger(Path(sys.argv[1]), Path(sys.argv[2])); print('have it', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", code, str(out), str(songs)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout.readline().strip() == b"have it"
        with pytest.raises(StoreError, match="another run is at work in") as refused:
            go(songs, out)
        assert refused.value.hint
        other.kill()  # the system frees the lock of whoever dies
    assert counts(go(songs, out)[0]) == (5, 0, 0, 0)


def test_the_lock_is_no_leftover(songs, out):
    go(songs, out)
    assert (out / FOLDER / "lock").exists()
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)


def test_a_disk_without_locks_is_told(songs, out, monkeypatch):
    def connect(*arguments, **options):
        raise sqlite3.OperationalError("disk I/O error")  # as SQLite tells of such a disk

    monkeypatch.setattr(store_module.sqlite3, "connect", connect)
    with pytest.raises(OSError, match="it cannot be locked: disk I/O error"):
        go(songs, out)
