"""`arranger study` from outside: what it writes, what it says, what status it ends with."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import mido
import pypdf
import pytest

from arranger.cli import main

SONG = """song Low Tide
key D
tempo 72

section Verse
| D | G | A | D |
| Bm | G | Asus4 A | D |
"""
ONE_CHORD = "song Hum\nkey C\n\nsection Hum\n| C | C |\n"
WRONG = "song Wrong\nkey C\n\nsection A\n| Cxx | C |\n"

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def folder(folder: Path) -> Path:
    """Give a folder with a song, one that never changes, and one with a mistake."""
    for name, text in (("tide", SONG), ("hum", ONE_CHORD), ("wrong", WRONG)):
        (folder / f"{name}.song.txt").write_text(text, encoding="utf-8")
    (folder / "ebb.song.txt").write_text(SONG.replace("Low Tide", "Ebb").replace("72", "100"), encoding="utf-8")
    return folder


@pytest.fixture
def run(folder: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run `arranger study` in the folder; give its status, output and messages."""

    def run(*words: object) -> tuple[int, str, str]:
        status = main(["study", *map(str, words)])
        out, err = capsys.readouterr()
        return status, out, err

    return run


def text_of(pdf: Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(pdf).pages)


def test_studies_of_one_song_lie_beside_it(run: Run, folder: Path) -> None:
    status, out, err = run("tide.song.txt")
    assert (status, err) == (0, "")
    assert out.startswith("tide.study.pdf: 1 page, ") and "15 minutes" in out
    text = text_of(folder / "tide.study.pdf")
    assert "Studies: Low Tide" in text and "= 72" in text and "The loop" in text
    first = (folder / "tide.study.pdf").read_bytes()
    assert run("tide.song.txt", "--force")[0] == 0
    assert (folder / "tide.study.pdf").read_bytes() == first, "the same songs, the same bytes"


def test_studies_of_several_songs_are_one_pdf(run: Run, folder: Path) -> None:
    status, out, err = run("tide.song.txt", "ebb.song.txt", "tide.song.txt", "--pages", "2", "--minutes", "20")
    assert (status, err) == (0, "") and out.startswith("studies.pdf: ")
    text = text_of(folder / "studies.pdf")
    assert "Studies from 2 songs" in text and "Ebb: Verse" in text, "a song that is named twice is practised once"
    assert run("tide.song.txt", "ebb.song.txt", "-o", "practice/")[1].startswith("practice/studies.pdf: ")
    assert run("tide.song.txt", "ebb.song.txt", "-o", "sunday.pdf")[1].startswith("sunday.pdf: ")


def test_what_the_command_says_is_on_the_page(run: Run, folder: Path) -> None:
    for minutes in (3, 7, 15, 60):
        out = run("tide.song.txt", "--minutes", minutes, "--force")[1]
        outline = pypdf.PdfReader(folder / "tide.study.pdf").outline
        assert f"{len(outline)} stud" in out and f"{minutes} minutes" in out
        told = [
            int(word)
            for word in text_of(folder / "tide.study.pdf").replace("\n", " ").split(" min")[:-1]
            for word in [word.split()[-1]]
            if word.isdigit()
        ]
        assert sum(told) in (minutes, 2 * minutes, 3 * minutes), "heading, foot and each study say the minutes"


def test_studies_to_hear(run: Run, folder: Path) -> None:
    status, out, err = run("tide.song.txt", "ebb.song.txt", "--also", "midi")
    assert (status, err) == (0, "")
    assert [line.partition(":")[0] for line in out.splitlines()] == ["studies.pdf", "studies.mid"]
    heard = mido.MidiFile(folder / "studies.mid")
    marks = [message.text for track in heard.tracks for message in track if message.type == "marker"]
    outline = [entry.title for entry in pypdf.PdfReader(folder / "studies.pdf").outline]
    assert [mark for mark in marks if mark in outline] == [entry for entry in outline if "of sound" not in entry]
    assert sum(message.type == "note_on" and message.velocity > 0 for track in heard.tracks for message in track) > 50
    assert run("tide.song.txt", "--also", "musicxml")[0] == 2
    (folder / "tide.study.mid").write_bytes(b"MThd mine")
    assert run("tide.song.txt", "--also", "midi")[0] == 2, "what somebody else has made is kept"
    assert not (folder / "tide.study.pdf").exists()


def test_a_song_with_a_mistake(run: Run, folder: Path) -> None:
    status, out, err = run("wrong.song.txt", "tide.song.txt")
    assert (status, out) == (1, "") and not list(folder.glob("*.pdf"))
    assert "wrong.song.txt:5:4: error bad-chord" in err
    assert err.endswith(
        "arranger: no studies were made: wrong.song.txt cannot be used\n"
        "  hint: --skip-broken makes studies of the other songs\n"
    )
    status, out, err = run("wrong.song.txt", "tide.song.txt", "--skip-broken")
    assert status == 1 and out.startswith("studies.pdf: ") and "bad-chord" in err
    assert "Studies: Low Tide" in text_of(folder / "studies.pdf")
    status, out, err = run("wrong.song.txt", "--skip-broken")
    assert (status, out) == (1, "") and "bad-chord" in err


def test_songs_without_a_change(run: Run, folder: Path) -> None:
    assert run("hum.song.txt") == (
        2, "", "arranger: hum.song.txt: expected a change of chord to practise, found none\n",
    )  # fmt: skip
    status, out, err = run("hum.song.txt", "tide.song.txt")
    assert status == 0 and out.startswith("studies.pdf: ")
    assert err == "arranger: hum.song.txt has no change of chord; no study is from it\n"
    (folder / "drum.song.txt").write_text(ONE_CHORD, encoding="utf-8")
    status, out, err = run("hum.song.txt", "drum.song.txt", "-o", "none.pdf")
    assert (status, out) == (2, "") and "in one of 2 songs at least, found none" in err
    assert not (folder / "none.pdf").exists()


@pytest.mark.parametrize("minutes", ["2", "0", "-5", "61", "1.5", "ten", "", "99999999999999999999", "٣"])
def test_minutes_that_cannot_be(run: Run, folder: Path, minutes: str) -> None:
    status, out, err = run("tide.song.txt", f"--minutes={minutes}")
    assert (status, out) == (2, "") and not list(folder.glob("*.pdf"))
    assert f"expected whole minutes from 3 to 60 after --minutes, found `{minutes}`" in err


@pytest.mark.parametrize("pages", ["0", "3", "any", "x"])
def test_pages_that_cannot_be(run: Run, pages: str) -> None:
    status, out, err = run("tide.song.txt", "--pages", pages)
    assert (status, out) == (2, "") and f"expected 1 or 2 after --pages, found `{pages}`" in err


def test_a_pdf_of_somebody_s_is_kept(run: Run, folder: Path) -> None:
    (folder / "tide.study.pdf").write_bytes(b"%PDF-1.4 mine")
    status, out, _ = run("tide.song.txt")
    assert (status, out) == (2, "") and (folder / "tide.study.pdf").read_bytes() == b"%PDF-1.4 mine"
    assert run("tide.song.txt", "--force")[0] == 0


def test_the_player_s_hand_and_another_key(run: Run, folder: Path) -> None:
    (folder / "small.toml").write_text('[hand]\nspan = "seventh"\nmost = 3\n', encoding="utf-8")
    assert run("tide.song.txt", "--player", "small.toml", "--key", "Eb")[0] == 0
    assert "E♭" in text_of(folder / "tide.study.pdf")
    status, _, err = run("tide.song.txt", "--key", "H")
    assert status == 2 and "expected a key such as" in err


def test_a_character_that_no_font_has(run: Run, folder: Path) -> None:
    (folder / "tide.song.txt").write_text(SONG.replace("Verse", "詩"), encoding="utf-8")
    status, out, err = run("tide.song.txt")
    assert (status, out) == (1, "") and "missing-glyph" in err and not list(folder.glob("*.pdf"))


ORDER = """set Sunday
song tide.song.txt
key E
song ebb.song.txt
tempo 120
song tide.song.txt
key E
"""


def test_a_running_order_is_practised_as_it_is_played(run: Run, folder: Path) -> None:
    (folder / "sunday.set.txt").write_text(ORDER, encoding="utf-8")
    status, out, err = run("sunday.set.txt", "--pages", "2")
    assert (status, err) == (0, "") and out.startswith("sunday.study.pdf: ")
    text = text_of(folder / "sunday.study.pdf")
    assert "Studies: Sunday" in text and "Low Tide · Ebb" in text, "a song that comes twice alike is one"
    assert "in E" in text and "= 120" in text
    assert run("sunday.set.txt", "--key", "D")[0] == 2
    assert run("sunday.set.txt", "tide.song.txt")[0] == 2
    assert run("monday.set.txt")[0] == 2


def test_a_running_order_with_a_broken_song(run: Run, folder: Path) -> None:
    (folder / "sunday.set.txt").write_text(ORDER + "song wrong.song.txt\nsong none.song.txt\n", encoding="utf-8")
    status, out, err = run("sunday.set.txt")
    assert (status, out) == (1, "") and not list(folder.glob("*.pdf"))
    assert "bad-chord" in err and "song-missing" in err and "song-with-errors" in err
    assert "--skip-broken makes studies of the songs that can be used" in err
    status, out, err = run("sunday.set.txt", "--skip-broken")
    assert status == 1 and out.startswith("sunday.study.pdf: ") and "song-missing" in err
    assert "Low Tide · Ebb" in text_of(folder / "sunday.study.pdf")
