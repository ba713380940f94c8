"""Logs of a library that are damaged, of another version, or made to do harm: no run fails, and nothing is lost."""

import json
import os

import pytest

from arranger.library.scan import PART, STAGE
from arranger.library.state import FOLDER, State, StateError, digest, sealed_line
from tests.library.damage import ALL, LOG, check
from tests.library.helpers import SMALL, counts, files_in, go, left_in, nobody_at_work_on_the_program, put  # noqa: F401 (a fixture)


def test_a_torn_line_of_the_log(songs, out, undisturbed):
    go(songs, out)
    log = out / LOG
    whole = log.read_bytes()
    log.write_bytes(whole[:-1])  # the line is whole, and only its end is missing
    assert counts(go(songs, out)[0]) == (0, 5, 0, 0)
    for cut in (2, 40, len(whole.splitlines()[-1])):
        log.write_bytes(whole[:-cut])
        with State(out, songs) as state:  # as a run that was killed leaves it: nothing to be told
            assert state.damage == []
        log.write_bytes(whole[:-cut])
        assert counts(go(songs, out)[0]) == (1, 4, 0, 0)
        assert left_in(out) == undisturbed


def test_whatever_happens_to_the_log_what_is_made_is_the_same(tmp_path):
    check(range(ALL // 10), tmp_path / "library")


def test_what_is_damaged_in_the_log_is_told(songs, out, undisturbed):
    go(songs, out)
    whole = (out / LOG).read_bytes()
    (out / LOG).write_bytes(whole.replace(b"s03", b"s04"))
    with State(out, songs) as state:
        assert state.damage == [f"{out / LOG}: one line is damaged, and left out"]
    (out / LOG).write_bytes(whole[1:])
    with State(out, songs) as state:
        told = f"{out / LOG} cannot be read, and is now made-unreadable.jsonl: what is there is looked at anew"
        assert state.damage == [told]
    assert (out / FOLDER / "made-unreadable.jsonl").read_bytes() == whole[1:]
    assert counts(go(songs, out)[0]) == (5, 0, 0, 0)
    (out / FOLDER / "made-unreadable.jsonl").unlink()
    assert left_in(out) == undisturbed


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_what_is_no_ordinary_file_is_moved_aside_as_a_log(songs, out):
    go(songs, out)
    (out / LOG).unlink()
    os.mkfifo(out / LOG)
    assert counts(go(songs, out)[0]) == (5, 0, 0, 0)
    (out / FOLDER / "lock").unlink()
    os.mkfifo(out / FOLDER / "lock")
    with pytest.raises(OSError, match="is no ordinary file"):
        go(songs, out)


def test_the_log_of_a_newer_program_is_left_alone(songs, out):
    go(songs, out)
    lines = (out / LOG).read_bytes().splitlines(keepends=True)
    (out / LOG).write_bytes(b"".join([sealed_line({"format": 3, "songs": "../songs", "kinds": []}), *lines[1:]]))
    before = left_in(out)
    with pytest.raises(StateError, match="is the log of a newer program"):
        go(songs, out)
    assert left_in(out) == before


def test_a_log_of_the_first_format_tells_what_is_ours_and_nothing_else(songs, out):
    go(songs, out)
    ours = b"as an older version made it"
    (out / "0" / "s00.pdf").write_bytes(ours)
    (out / "0" / "s03.pdf").write_bytes(b"somebody's own")
    (out / "0" / "s00.stage.pdf").write_bytes(b"a stage copy of an older version")
    stage = ["0/s00.song.txt", "stage", "?", "0/s00.stage.pdf", digest(b"a stage copy of an older version"), True]
    stage += [1, 0, 0, "s00.song.txt", [], ""]
    record = ["0/s00.song.txt", "part", "?", "0/s00.pdf", digest(ours), True, 1, 0, 0, "s00.song.txt", [], ""]
    (out / LOG).write_text(f'{{"format": 1, "songs": "../songs"}}\n{json.dumps(record)}\n{json.dumps(stage)}\n')
    assert counts(go(songs, out)[0]) == (4, 0, 0, 1)
    (out / "0" / "s03.pdf").unlink()
    go(songs, out)
    go(songs, out.with_name("both"), kinds=(PART, STAGE))
    assert files_in(out) == files_in(out.with_name("both"))


def test_stage_copies_are_kept_up_to_date_where_the_log_is_lost(songs, out):
    go(songs, out, kinds=(PART, STAGE))
    (out / LOG).write_bytes(b"?" + (out / LOG).read_bytes())
    (songs / "0" / "s00.song.txt").write_text(SMALL.format(0).replace("G7", "E7"))
    go(songs, out)
    go(songs, out.with_name("undisturbed"), kinds=(PART, STAGE))
    assert files_in(out) == files_in(out.with_name("undisturbed"))


def test_stage_copies_that_no_log_knows_are_told(songs, out):
    go(songs, out, kinds=(PART, STAGE))
    (out / LOG).unlink()
    with State(out, songs, (PART,)) as state:
        assert (state.kinds, state.damage) == (
            {PART}, [f"{out} has stage copies that no log knows: --stage keeps them up to date"]
        )  # fmt: skip


@pytest.mark.parametrize("link", ["the folder", "the file", "none"])
def test_nothing_outside_the_folder_is_removed_whatever_a_log_says(songs, out, tmp_path, link):
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
    log = out / LOG
    told: list[object] = [{"owned": name, "digests": [digest(data)]} for name in names]
    told += [["gone", "part", "?", name, digest(data), True, 1, 0, 0, "gone", [], ""] for name in names]
    log.write_bytes(log.read_bytes() + b"".join(map(sealed_line, told)))
    summary, _ = go(songs, out, prune=True)
    assert summary.pruned == []
    assert [why for _, why in summary.kept] == ([] if link == "none" else ["it stays, since a link leads there"])
    assert victim.read_bytes() == data
    assert link != "the file" or (out / "link.pdf").is_symlink()
