"""What is made beside a PDF: MIDI, with the same care; and `show --notes`."""

from __future__ import annotations

import io
import os
from pathlib import Path

import mido
import pytest

from arranger import files
from arranger.digests import as_made, sealed

SONG = """song Low Tide
key D
tempo 72

section Verse
| D | G | A | D |
sing | Sand and | shells and | ropes and | rain |
"""


@pytest.fixture
def folder(folder):
    (folder / "tide.song.txt").write_text(SONG, encoding="utf-8")
    return folder


def left_in(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def midi(path: Path) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(path.read_bytes()))


def test_midi_stands_beside_the_pdf_with_the_same_bytes_each_time(run, folder):
    status, said, wrong = run("part", "tide.song.txt", "--also", "midi")
    assert (status, wrong) == (0, "") and said.startswith("tide.pdf: 1 page\ntide.mid: ") and "0:13" in said
    assert left_in(folder) == ["tide.mid", "tide.pdf", "tide.song.txt"]
    data = (folder / "tide.mid").read_bytes()
    assert as_made(data) and round(midi(folder / "tide.mid").length) == 13  # 16 beats at 72: 13.3 s
    assert run("part", "tide.song.txt", "--also", " MIDI ")[0] == 0
    assert (folder / "tide.mid").read_bytes() == data


def test_without_also_nothing_else_is_made(run, folder):
    assert run("part", "tide.song.txt")[0] == 0
    assert left_in(folder) == ["tide.pdf", "tide.song.txt"]


def test_midi_goes_where_the_pdf_goes(run, folder):
    assert run("part", "tide.song.txt", "--also", "midi", "-o", "made/", "--key", "E")[0] == 0
    assert left_in(folder / "made") == ["tide in E.mid", "tide in E.pdf"]
    assert run("part", "tide.song.txt", "--also", "midi", "-o", "mine.pdf")[0] == 0
    assert {"mine.pdf", "mine.mid"} <= set(left_in(folder))


@pytest.mark.parametrize("word", ["mod", "", "midi,wav", "midi musicxml"])
def test_an_unknown_word_is_refused_and_nothing_is_made(run, folder, word):
    status, said, wrong = run("part", "tide.song.txt", "--also", word)
    assert (status, said) == (2, "")
    assert "expected midi, musicxml, or both with a comma after --also" in wrong
    assert left_in(folder) == ["tide.song.txt"]


def test_slower_and_the_count_in(run, folder):
    assert run("part", "tide.song.txt", "--also", "midi", "--slower", "50%", "--count-in")[0] == 0
    assert round(midi(folder / "tide.mid").length) == 33  # 20 beats at 36: 33.3 s
    for words in (("--slower", "80%"), ("--count-in",), ("--also", "musicxml", "--count-in")):
        status, _, wrong = run("part", "tide.song.txt", *words)
        assert status == 2 and "is for MIDI files, and none is asked for" in wrong
    for share in ("20%", "120%", "fast", "1e2", ""):
        status, _, wrong = run("part", "tide.song.txt", "--also", "midi", "--slower", share)
        assert status == 2 and "a share of the tempo from 40% to 100%" in wrong, share


def test_what_the_player_has_changed_is_kept_and_nothing_else_is_written(run, folder):
    assert run("part", "tide.song.txt", "--also", "midi")[0] == 0
    changed = (folder / "tide.mid").read_bytes() + b"\0"
    (folder / "tide.mid").write_bytes(changed)
    pdf = (folder / "tide.pdf").read_bytes()
    (folder / "tide.song.txt").write_text(SONG.replace("Low", "High"), encoding="utf-8")
    status, said, wrong = run("part", "tide.song.txt", "--also", "midi")
    assert (status, said) == (2, "") and "tide.mid: there already" in wrong and "--force" in wrong
    assert (folder / "tide.mid").read_bytes() == changed and (folder / "tide.pdf").read_bytes() == pdf
    assert run("part", "tide.song.txt", "--also", "midi", "--force")[0] == 0
    assert as_made((folder / "tide.mid").read_bytes()) and (folder / "tide.pdf").read_bytes() != pdf


def test_where_one_cannot_be_written_none_is(run, folder):
    (folder / "tide.mid").mkdir()
    status, said, wrong = run("part", "tide.song.txt", "--also", "midi")
    assert (status, said) == (2, "") and "tide.mid" in wrong
    assert left_in(folder) == ["tide.mid", "tide.song.txt"] and not left_in(folder / "tide.mid")


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_into_stays_as_it_was(run, folder):
    folder.chmod(0o555)
    try:
        status, said, wrong = run("part", "tide.song.txt", "--also", "midi")
        assert (status, said) == (2, "") and "you may not write into the folder" in wrong
        assert left_in(folder) == ["tide.song.txt"]
    finally:
        folder.chmod(0o755)


@pytest.mark.parametrize("there", [True, False])
def test_a_fault_at_the_last_file_puts_the_first_ones_back(folder, monkeypatch, there):
    one, two = folder / "one.pdf", folder / "two.mid"
    if there:
        one.write_bytes(b"before")
    replace, seen = Path.replace, []

    def second_fails(self, target):
        seen.append(target)
        if len(seen) == 2:
            raise OSError(28, "no space left on device")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", second_fails)
    with pytest.raises(OSError, match="no space left"):
        files.write_together(((one, b"new"), (two, b"new")), lambda _: True)
    assert len(seen) == 2 and not two.exists()
    assert one.read_bytes() == b"before" if there else not one.exists()
    assert len([name for name in left_in(folder) if name.startswith(".")]) == 0


def test_a_free_tempo_is_said(run, folder):
    (folder / "tide.song.txt").write_text(SONG.replace("tempo 72", "tempo free"), encoding="utf-8")
    assert "at 80 where no tempo is written" in run("part", "tide.song.txt", "--also", "midi")[1]


def test_a_song_of_hours_is_refused_and_nothing_is_made(run, folder):
    text = SONG.replace("tempo 72", "tempo 20").replace("| D | G | A | D |", "|: " + "D | " * 15 + "D :| x99")
    (folder / "tide.song.txt").write_text(text[: text.index("sing")], encoding="utf-8")
    status, said, wrong = run("part", "tide.song.txt", "--also", "midi")
    assert (status, said) == (2, "") and "expected a song of 4 hours at most" in wrong
    assert left_in(folder) == ["tide.song.txt"]


def test_a_pdf_cannot_have_the_name_of_what_stands_beside_it(run, folder):
    status, _, wrong = run("part", "tide.song.txt", "--also", "midi", "-o", "tide.mid")
    assert status == 2 and "the name of a MIDI file" in wrong


def test_notes_are_shown_as_a_table(run, folder):
    status, said, wrong = run("show", "tide.song.txt", "--notes")
    lines = said.splitlines()
    assert (status, wrong) == (0, "") and lines[0].startswith("Low Tide: ") and lines[0].endswith("notes, 0:13")
    assert lines[2] == "Verse" and lines[3].split()[:2] == ["bar", "beat"]
    first = lines[4].split()
    assert first[:4] == ["1", "1", "0.00", "right"] and first[-1] == "D"
    assert len(lines) - 4 == int(lines[0].split()[2])
    assert run("show", "tide.song.txt", "--notes", "--json")[0] == 2


def test_a_file_of_musicxml_is_sealed_like_the_others():
    xml = b'<?xml version="1.0"?><identification><miscellaneous-field name="digest">' + b"0" * 64 + b"<"
    assert as_made(sealed(xml)) and not as_made(xml)


def test_midi_and_musicxml_stand_beside_the_pdf_together(run, folder):
    pytest.importorskip("arranger.exchange.musicxml")
    status, said, wrong = run("part", "tide.song.txt", "--also", "musicxml,midi")
    assert (status, wrong) == (0, "")
    assert [line.partition(":")[0] for line in said.splitlines()] == ["tide.pdf", "tide.mid", "tide.musicxml"]
    made = {name: (folder / name).read_bytes() for name in ("tide.pdf", "tide.mid", "tide.musicxml")}
    assert all(map(as_made, made.values()))
    assert run("part", "tide.song.txt", "--also", "midi,musicxml")[0] == 0
    assert made == {name: (folder / name).read_bytes() for name in made}
    (folder / "tide.musicxml").write_bytes(made["tide.musicxml"].replace(b"Low Tide", b"My Tide!"))
    (folder / "tide.song.txt").write_text(SONG.replace("72", "80"), encoding="utf-8")
    status, said, wrong = run("part", "tide.song.txt", "--also", "midi,musicxml")
    assert (status, said) == (2, "") and "tide.musicxml: there already" in wrong
    assert (folder / "tide.mid").read_bytes() == made["tide.mid"]
