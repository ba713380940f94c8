"""Stores of a library that are damaged, of another version, or made to do harm: no run fails, and nothing is lost."""

import json
import os
import sqlite3
from contextlib import closing

import pytest

from arranger.library.ledger import ASIDE, FOLDER, OLD_LOG, STORE, Ledger, StoreError
from arranger.library.scan import PART, STAGE
from arranger.library.store import digest, opened_line, sealed_line
from tests.library.damage import ALL, check
from tests.library.helpers import (
    SMALL,
    counts,
    files_in,
    go,
    left_in,
    lines_in,
    put,
    put_lines,
)


@pytest.fixture
def store(out):
    return out / FOLDER / STORE


def told(out, songs) -> list[str]:
    with Ledger(out, songs) as ledger:
        return ledger.damage


def test_a_line_that_is_lost_or_torn_costs_one_song(songs, out, undisturbed):
    go(songs, out)
    whole = lines_in(out)
    at = next(n for n, (name, _) in enumerate(whole) if name == "0/s03.pdf")
    name, line = whole[at]
    for torn in (line[:-1], line[:-40], line.replace(b"s03", b"s04"), b"", None):
        put_lines(out, [*whole[:at], *([] if torn is None else [(name, torn)]), *whole[at + 1 :]])
        left_out = [] if torn is None else [f"{out / FOLDER / STORE}: one line is damaged, and left out"]
        with Ledger(out, songs) as ledger:
            assert ledger.damage == left_out
        assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
        assert left_in(out) == undisturbed


@pytest.mark.slow
def test_whatever_happens_to_the_store_what_is_made_is_the_same(tmp_path):
    check(range(ALL // 10), tmp_path / "library")


def test_what_is_damaged_in_the_store_is_told(songs, out, store, undisturbed):
    go(songs, out)
    whole = lines_in(out)
    put_lines(out, [(name, line.replace(b"s03", b"s04")) for name, line in whole])
    assert told(out, songs) == [f"{store}: one line is damaged, and left out"]
    assert told(out, songs) == []
    for damaged in (store.read_bytes()[1:], b""):
        store.write_bytes(damaged)
        anew = f"{store} cannot be read, and is now {ASIDE}: what is there is looked at anew"
        assert told(out, songs) == [anew]
        assert (out / FOLDER / ASIDE).read_bytes() == damaged
        assert counts(go(songs, out)[0]) == (5, 0, 0, 0)
        (out / FOLDER / ASIDE).unlink()
        assert left_in(out) == undisturbed


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_what_is_no_ordinary_file_is_moved_aside_as_a_store(songs, out, store):
    go(songs, out)
    store.unlink()
    os.mkfifo(store)
    assert counts(go(songs, out)[0]) == (5, 0, 0, 0)
    (out / FOLDER / "lock").unlink()
    os.mkfifo(out / FOLDER / "lock")
    with pytest.raises(OSError, match="is no ordinary file"):
        go(songs, out)


@pytest.mark.slow
def test_a_store_that_another_program_uses_is_told_and_left_alone(songs, out, store):
    go(songs, out)
    before = left_in(out)
    with closing(sqlite3.connect(store, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StoreError, match="another program uses") as refused:
            go(songs, out)
        assert refused.value.hint
        other.execute("ROLLBACK")
    assert left_in(out) == before
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)


def test_rubbish_in_the_lock_is_no_obstacle(songs, out):
    go(songs, out)
    (out / FOLDER / "lock").write_bytes(b"this is no database" * 99)
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)
    theirs = out.with_name("notes.txt")
    theirs.write_bytes(b"this is no database" * 99)
    (out / FOLDER / "lock").unlink()
    (out / FOLDER / "lock").symlink_to(theirs)
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)
    assert theirs.read_bytes() == b"this is no database" * 99


def test_the_store_of_other_songs_is_refused(songs, out, store):
    go(songs, out)
    put(songs.with_name("others"), 2)
    go(songs.with_name("others"), out.with_name("theirs"))
    store.write_bytes((out.with_name("theirs") / FOLDER / STORE).read_bytes())
    with pytest.raises(StoreError, match="holds the parts of the songs in "):
        go(songs, out)


def test_the_store_of_a_newer_program_is_left_alone(songs, out):
    go(songs, out)
    newer = sealed_line({"format": 4, "songs": "../songs", "kinds": []})
    put_lines(out, [("", newer), *lines_in(out)[1:]])
    before = left_in(out)
    with pytest.raises(StoreError, match="is the store of a newer program"):
        go(songs, out)
    assert left_in(out) == before


def log_of(out, header: dict, sealed: bool) -> bytes:
    """Return what the log of an older program would say of what the store knows."""
    lines: list[object] = [header]
    for _, line in lines_in(out)[1:]:
        made, kind, of, made_digest, _, written, errors, warnings, path, messages, entry = json.loads(opened_line(line))
        song = made.replace(".stage.pdf", ".song.txt").replace(".pdf", ".song.txt")
        lines.append([song, kind, of, made, made_digest, written, 1, errors, warnings, path, messages, entry])
    return b"".join((sealed_line(line) if sealed else json.dumps(line).encode()) + b"\n" for line in lines)


@pytest.mark.parametrize("end", [b"", b'["torn'])
def test_the_log_of_an_older_program_is_read_once(songs, out, store, end):
    """Even PDFs that have no digest in themselves are known as the program's own, those of songs that are gone too."""
    go(songs, out, kinds=(PART, STAGE))
    log = log_of(out, {"format": 2, "songs": "../songs", "kinds": ["part", "stage"]}, sealed=True)
    unmarked, gone = b"as a program of long ago made it", b"of a song that is gone"
    log += sealed_line({"owned": "1/s01.pdf", "digests": [digest(b"?"), digest(unmarked)]}) + b"\n"
    log += sealed_line({"owned": "gone.pdf", "digests": [digest(gone)]}) + b"\n" + end
    store.unlink()
    (out / FOLDER / OLD_LOG).write_bytes(log)
    (out / "1" / "s01.pdf").write_bytes(unmarked)
    (out / "gone.pdf").write_bytes(gone)
    (out / "2" / "s02.pdf").write_bytes(b"somebody's own")
    summary, _ = go(songs, out, prune=True)
    assert (counts(summary), summary.pruned) == ((4, 0, 0, 1), [str(out / "gone.pdf")])
    assert not (out / FOLDER / OLD_LOG).exists()
    (out / "2" / "s02.pdf").unlink()
    assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
    go(songs, out.with_name("both"), kinds=(PART, STAGE))
    assert files_in(out) == files_in(out.with_name("both"))


def test_the_log_of_other_songs_is_refused(songs, out, store):
    go(songs, out)
    songs.with_name("others").mkdir()
    log = log_of(out, {"format": 2, "songs": "../others", "kinds": ["part"]}, sealed=True)
    store.unlink()
    (out / FOLDER / OLD_LOG).write_bytes(log)
    with pytest.raises(StoreError, match="holds the parts of the songs in "):
        go(songs, out)
    assert (out / FOLDER / OLD_LOG).read_bytes() == log


def test_a_log_of_the_first_format_tells_what_is_ours_and_nothing_else(songs, out):
    go(songs, out)
    ours = b"as an older version made it"
    (out / "0" / "s00.pdf").write_bytes(ours)
    (out / "0" / "s03.pdf").write_bytes(b"somebody's own")
    (out / "0" / "s00.stage.pdf").write_bytes(b"a stage copy of an older version")
    stage = ["0/s00.song.txt", "stage", "?", "0/s00.stage.pdf", digest(b"a stage copy of an older version"), True]
    stage += [1, 0, 0, "s00.song.txt", [], ""]
    record = ["0/s00.song.txt", "part", "?", "0/s00.pdf", digest(ours), True, 1, 0, 0, "s00.song.txt", [], ""]
    (out / FOLDER / STORE).unlink()
    (out / FOLDER / OLD_LOG).write_text(
        f'{{"format": 1, "songs": "../songs"}}\n{json.dumps(record)}\n{json.dumps(stage)}\n'
    )
    assert counts(go(songs, out)[0]) == (4, 0, 0, 1)
    (out / "0" / "s03.pdf").unlink()
    go(songs, out)
    go(songs, out.with_name("both"), kinds=(PART, STAGE))
    assert files_in(out) == files_in(out.with_name("both"))


def test_stage_copies_are_kept_up_to_date_where_the_store_is_damaged(songs, out):
    go(songs, out, kinds=(PART, STAGE))
    (out / FOLDER / STORE).write_bytes(b"?" + (out / FOLDER / STORE).read_bytes())
    (songs / "0" / "s00.song.txt").write_text(SMALL.format(0).replace("G7", "E7"))
    go(songs, out)
    go(songs, out.with_name("undisturbed"), kinds=(PART, STAGE))
    assert files_in(out) == files_in(out.with_name("undisturbed"))


def test_stage_copies_that_no_store_knows_are_told(songs, out):
    go(songs, out, kinds=(PART, STAGE))
    (out / FOLDER / STORE).unlink()
    with Ledger(out, songs, (PART,)) as ledger:
        assert (ledger.kinds, ledger.damage) == (
            {PART}, [f"{out} has stage copies that no store knows: --stage keeps them up to date"]
        )  # fmt: skip


ENTRY = json.dumps(
    {"title": "Gone", "key": "C", "tempo": "", "bpm": None, "beat": "1", "meter": "4/4", "first_words": "",
     "file": "gone", "output": "gone.pdf", "errors": 0}
)  # fmt: skip


@pytest.mark.parametrize("link", ["the folder", "the file", "none"])
def test_nothing_outside_the_folder_is_removed_whatever_a_store_says(songs, out, tmp_path, link):
    go(songs, out)
    data = (out / "0" / "s00.pdf").read_bytes()
    victim = tmp_path / "elsewhere" / "s00.pdf"
    victim.parent.mkdir()
    victim.write_bytes(data)
    names = ["../elsewhere/s00.pdf", str(victim), "0/../../elsewhere/s00.pdf", "link/s00.pdf", "link.pdf"]
    if link == "the folder":
        (out / "link").symlink_to(victim.parent)
    elif link == "the file":
        (out / "link.pdf").symlink_to(victim)
    forged = [
        (name, sealed_line([name, "part", "?", digest(data), "", True, 0, 0, "gone", [], ENTRY])) for name in names
    ]
    put_lines(out, [*lines_in(out), *forged])
    summary, _ = go(songs, out, prune=True)
    assert summary.pruned == []
    assert [why for _, why in summary.kept] == ([] if link == "none" else ["it stays, since a link leads there"])
    assert victim.read_bytes() == data
    assert link != "the file" or (out / "link.pdf").is_symlink()
