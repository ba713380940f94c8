"""`arranger stage` from outside: what it writes, what it says, what status it ends with."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest

from arranger.cli import main
from arranger.units import MM, SHEETS, mm

SAMPLES = Path(__file__).parents[2] / "samples"
SONG = """song Low Tide
key D
tempo 72

section Verse
| D | G | A | D |
sing | Sand and | shells and | ropes and | rain |
"""

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def folder(folder: Path) -> Path:
    """Give the folder with one song."""
    (folder / "tide.song.txt").write_text(SONG, encoding="utf-8")
    return folder


@pytest.fixture
def run(folder: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run `arranger stage` in a folder with one song; give its status, output and messages."""

    def run(*words: object) -> tuple[int, str, str]:
        status = main(["stage", *map(str, words)])
        out, err = capsys.readouterr()
        return status, out, err

    return run


def page(pdf: Path) -> pypdf.PageObject:
    return pypdf.PdfReader(pdf).pages[0]


def test_a_copy_lies_beside_the_song_and_says_how_far_it_is_legible(run: Run, folder: Path) -> None:
    assert run("tide.song.txt") == (0, "tide.stage.pdf: 1 page, legible to 1 m\n", "")
    text = page(folder / "tide.stage.pdf").extract_text()
    assert "Low Tide" in text and "legible to 1 m" in text and "Sand and shells…" in text
    assert sorted(path.name for path in folder.iterdir()) == ["tide.song.txt", "tide.stage.pdf"]


def test_the_type_is_larger_for_a_page_that_is_farther_off(run: Run) -> None:
    _, near, _ = run("tide.song.txt", "--distance", "60cm")
    _, far, _ = run("tide.song.txt", "--distance", "1.2m")
    assert near == "tide.stage.pdf: 1 page, legible to 0.85 m\n"
    assert far == "tide.stage.pdf: 1 page, legible to 1.75 m\n"


@pytest.mark.parametrize("name", SHEETS)
def test_every_paper_has_its_size(run: Run, folder: Path, name: str) -> None:
    assert run("tide.song.txt", "--paper", name, "--dark", "-o", "a.pdf")[0] == 0
    box = page(folder / "a.pdf").mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((SHEETS[name].width, SHEETS[name].height), abs=0.01)


def test_a_screen_has_the_size_that_is_given(run: Run, folder: Path) -> None:
    assert run("tide.song.txt", "--paper", "tablet", "--screen", "12.5")[0] == 0
    box = page(folder / "tide.stage.pdf").mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((12.5 * 0.6 * 72, 12.5 * 0.8 * 72), abs=0.01)


@pytest.mark.parametrize(("words", "shown"), [("first", "Sand and shells…"), ("all", "ropes and"), ("none", "")])
def test_words(run: Run, folder: Path, words: str, shown: str) -> None:
    assert run("tide.song.txt", "--words", words)[0] == 0
    text = page(folder / "tide.stage.pdf").extract_text()
    assert shown in text
    assert ("rain" in text) == (words == "all") and ("Sand" in text) == (words != "none")


def test_a_margin_leaves_the_page_white_so_far(run: Run, folder: Path) -> None:
    found: list[float] = []

    def visit(text: str, _cm: object, matrix: list[float], _font: object, _size: object) -> None:
        if text.strip():
            found.append(matrix[4])

    assert run("tide.song.txt", "--margin", "20mm")[0] == 0
    page(folder / "tide.stage.pdf").extract_text(visitor_text=visit)
    assert min(found) == pytest.approx(mm(20), abs=mm(3))
    assert min(found) >= mm(20) - 0.01


@pytest.mark.parametrize(
    ("words", "told", "hint"),
    [
        (("--distance", "far"), "expected a distance from 0.3 m to 2 m after --distance, found `far`", "0.9m"),
        (("--distance", "9m"), "expected a distance from 0.3 m to 2 m", "90cm"),
        (("--distance", "0.1"), "expected a distance from 0.3 m to 2 m", ""),
        (("--pages", "3"), "expected 1 or 2 or any after --pages, found `3`", ""),
        (("--words", "some"), "expected first or all or none after --words, found `some`", ""),
        (("--paper", "a3"), "expected a4 or letter or a5", ""),
        (("--margin", "3mm"), "expected a margin from 6 to 25.4 mm after --margin, found `3mm`", "printers"),
        (("--margin", "2in"), "expected a margin from 6 to 25.4 mm", ""),
        (("--margin", "thin"), "expected a margin", ""),
        (("--paper", "tablet", "--margin", "1mm"), "expected a margin from 2 to 25.4 mm", ""),
        (("--screen", "10"), "--screen is for tablets, and the paper is a4", "--paper tablet"),
        (("--paper", "tablet", "--screen", "40"), "expected a diagonal from 6 to 18 inches after --screen", "12.9"),
        (("--colour", "red"), "there is no option `--colour` here", ""),
    ],
)  # fmt: skip
def test_what_cannot_be_taken_is_refused(run: Run, folder: Path, words: tuple[str, ...], told: str, hint: str) -> None:
    status, out, err = run("tide.song.txt", *words)
    assert (status, out) == (2, "")
    assert told in err and hint in err
    assert not list(folder.glob("*.pdf"))


def test_lengths_are_read_in_the_units_that_people_use(run: Run) -> None:
    for distance in ("0.9", "0.9m", "90cm", "90 cm", "0,9m"):
        assert run("tide.song.txt", "--distance", distance)[1].endswith("legible to 1.3 m\n")
    sizes = {run("tide.song.txt", "--margin", margin)[1] for margin in ("12.7", "12,7mm", "1.27cm", "0,5in")}
    assert len(sizes) == 1
    screens = {run("tide.song.txt", "--paper", "tablet", "--screen", size)[1] for size in ("10.5", "10,5", "10.5in")}
    assert len(screens) == 1


@pytest.mark.slow
def test_what_does_not_fit_is_an_error_of_that_song_and_the_others_are_made(run: Run, folder: Path) -> None:
    long = SONG + "".join(
        f"\nsection Part {number}\n| {chord} | G | A | Bm |\n| Em | A | D | G |\n"
        for number, chord in enumerate(("D", "A", "Bm", "Em", "G", "F#m", "Dmaj7", "A7", "Bm7"))
    )
    (folder / "long.song.txt").write_text(long, encoding="utf-8")
    status, out, err = run("long.song.txt", "tide.song.txt", "--pages", "1", "--distance", "1.2m")
    assert status == 1
    in_all = "1 of 2 songs made, 1 page in all; 1 not: see the messages"
    assert out == f"tide.stage.pdf: 1 page, legible to 1.75 m\n{in_all}\n"
    assert "error too-small-to-read: at 1.2 m the song does not fit 1 page" in err and "--pages any needs" in err
    assert [path.name for path in folder.glob("*.pdf")] == ["tide.stage.pdf"]


def test_a_song_with_a_mistake_is_left_out(run: Run, folder: Path) -> None:
    (folder / "wrong.song.txt").write_text(SONG.replace("| D | G", "| D | H"), encoding="utf-8")
    status, out, err = run("wrong.song.txt", "tide.song.txt", "-o", "tonight/")
    assert status == 1 and out.startswith("tonight") and "error" in err
    assert [path.name for path in (folder / "tonight").iterdir()] == ["tide.stage.pdf"]


def test_a_copy_is_not_written_over_its_song(run: Run, folder: Path) -> None:
    before = (folder / "tide.song.txt").read_bytes()
    assert run("tide.song.txt", "-o", "tide.song.txt")[0] == 2
    assert (folder / "tide.song.txt").read_bytes() == before


def test_settings_of_the_player_hold_unless_the_command_line_says_more(run: Run, folder: Path) -> None:
    settings = '[page]\ndistance = "1.2 m"\n\n[stage]\npaper = "a5"\nwords = "none"\ndark = true\n'
    (folder / "me.toml").write_text(settings, encoding="utf-8")
    assert run("tide.song.txt", "--player", "me.toml")[1].endswith("legible to 1.65 m\n")
    mine = page(folder / "tide.stage.pdf")
    assert float(mine.mediabox.width) / MM == pytest.approx(148, abs=0.01)
    assert "Sand" not in mine.extract_text()
    run("tide.song.txt", "--player", "me.toml", "--paper", "a4", "--words", "all", "--distance", "0.6m")
    told = page(folder / "tide.stage.pdf")
    assert float(told.mediabox.width) / MM == pytest.approx(210, abs=0.01) and "Sand" in told.extract_text()


def test_a_short_song_keeps_one_page_at_a_stand(run: Run, folder: Path) -> None:
    status, out, err = run(SAMPLES / "lanterns.song.txt", "--distance", "0.85m", "--pages", "1", "-o", "one.pdf")
    assert (status, out, err) == (0, "one.pdf: 1 page, legible to 0.85 m\n", "")


def test_another_key_is_played_and_named(run: Run, folder: Path) -> None:
    assert run("tide.song.txt", "--key", "Eb")[0] == 0
    assert "E♭ major" in page(folder / "tide in Eb.stage.pdf").extract_text()


@pytest.mark.slow
@pytest.mark.parametrize("song", sorted(SAMPLES.glob("*.song.txt")), ids=lambda path: path.name)
def test_every_sample_has_a_copy_with_the_same_bytes_each_time(run: Run, folder: Path, song: Path) -> None:
    made = []
    for name in ("one.pdf", "two.pdf"):
        status, out, _ = run(song, "--distance", "0.9m", "-o", name)
        assert status == 0 and "legible to" in out
        made.append((folder / name).read_bytes())
    assert made[0] == made[1]
