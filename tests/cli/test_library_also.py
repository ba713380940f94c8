"""MIDI files of a library: kept up to date like its PDFs, and as careful with what somebody has changed."""

from __future__ import annotations

import shutil

import pytest

from arranger.digests import as_made

SONG = "song {}\nkey D\ntempo 72\nsection Verse\n| D | G | A | D |\n"


@pytest.fixture
def folder(folder):
    (folder / "songs").mkdir()
    for name in ("One", "Two"):
        (folder / "songs" / f"{name.lower()}.song.txt").write_text(SONG.format(name), encoding="utf-8")
    return folder


def named(folder, ending):
    return sorted(path.name for path in (folder / "songs" / "parts").glob(f"*{ending}"))


def test_what_was_asked_for_once_is_kept_up_to_date(run, folder):
    status, said, wrong = run("library", "songs", "--also", "midi,musicxml", "--stage", "--jobs", "1")
    assert (status, wrong) == (0, "") and "one.mid: " in said and "2 made" in said
    assert named(folder, ".mid") == ["one.mid", "two.mid"] and named(folder, ".stage.pdf") == [
        "one.stage.pdf", "two.stage.pdf",
    ]  # fmt: skip
    parts = folder / "songs" / "parts"
    before = {path.name: path.read_bytes() for path in parts.iterdir() if path.is_file()}
    assert "2 unchanged" in run("library", "songs", "--jobs", "1")[1]
    song = folder / "songs" / "one.song.txt"
    song.write_text(song.read_text().replace("| A |", "| E |"), encoding="utf-8")
    assert "1 made, 1 unchanged" in run("library", "songs", "--jobs", "1")[1]
    after = {path.name: path.read_bytes() for path in parts.iterdir() if path.is_file()}
    changed = {name for name in after if after[name] != before[name]}
    assert changed == {"one.pdf", "one.stage.pdf", "one.mid", "one.musicxml"} and all(
        as_made(after[name]) for name in changed
    )


def test_what_somebody_has_changed_stays_and_the_rest_is_made(run, folder):
    assert run("library", "songs", "--also", "midi", "--jobs", "1")[0] == 0
    mine = folder / "songs" / "parts" / "one.mid"
    mine.write_bytes(mine.read_bytes() + b"\0")
    song = folder / "songs" / "one.song.txt"
    song.write_text(song.read_text().replace("| A |", "| E |"), encoding="utf-8")
    status, _, wrong = run("library", "songs", "--jobs", "1")
    assert status == 1 and "one.mid was changed" in wrong and mine.read_bytes().endswith(b"\0")
    status, said, wrong = run("library", "songs", "--jobs", "1")
    assert status == 1 and "0 made" in said and "one.mid was changed" in wrong
    mine.unlink()
    assert run("library", "songs", "--jobs", "1")[0] == 0 and as_made(mine.read_bytes())


def test_one_that_is_lost_is_made_again_and_all_that_are_removed_are_not_wanted(run, folder):
    assert run("library", "songs", "--also", "midi", "--jobs", "1")[0] == 0
    parts = folder / "songs" / "parts"
    (parts / "one.mid").unlink()
    assert run("library", "songs", "--jobs", "1")[0] == 0 and named(folder, ".mid") == ["one.mid", "two.mid"]
    for name in ("one.mid", "two.mid"):
        (parts / name).unlink()
    assert run("library", "songs", "--jobs", "1")[0] == 0 and named(folder, ".mid") == []


def test_where_the_store_is_lost_they_are_known_by_themselves(run, folder):
    assert run("library", "songs", "--also", "midi", "--jobs", "1")[0] == 0
    parts = folder / "songs" / "parts"
    (store,) = (path for path in parts.iterdir() if path.is_dir())
    shutil.rmtree(store)
    _, _, wrong = run("library", "songs", "--jobs", "1")
    assert "has MIDI files that no store knows: --also midi keeps them up to date" in wrong
    song = folder / "songs" / "one.song.txt"
    song.write_text(song.read_text().replace("| A |", "| E |"), encoding="utf-8")
    before = (parts / "one.mid").read_bytes()
    assert run("library", "songs", "--also", "midi", "--jobs", "1")[0] == 0
    assert (parts / "one.mid").read_bytes() != before


def test_a_file_of_a_song_that_is_gone_is_pruned(run, folder):
    assert run("library", "songs", "--also", "midi", "--jobs", "1")[0] == 0
    (folder / "songs" / "one.song.txt").unlink()
    assert "one.mid: there is no song for it any more" in run("library", "songs", "--jobs", "1")[2]
    assert "one.mid: removed" in run("library", "songs", "--jobs", "1", "--prune")[1]
    assert named(folder, ".mid") == ["two.mid"]


def test_an_unknown_word_is_refused(run, folder):
    status, _, wrong = run("library", "songs", "--also", "wav")
    assert status == 2 and "expected midi, musicxml, or both with a comma after --also, found `wav`" in wrong
    assert not (folder / "songs" / "parts").exists()


def test_a_song_of_hours_has_its_part_and_a_message(run, folder):
    row = "|: " + "D | " * 15 + "D :| x99"
    text = SONG.format("One").replace("tempo 72", "tempo 20").replace("| D | G | A | D |", row)
    (folder / "songs" / "one.song.txt").write_text(text, encoding="utf-8")
    status, said, wrong = run("library", "songs", "--also", "midi", "--jobs", "1")
    assert status == 1 and "1 with errors" in said and "midi: expected a song of 4 hours at most" in wrong
    assert named(folder, ".mid") == ["two.mid"] and "one.pdf" in named(folder, ".pdf")
