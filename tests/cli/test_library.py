"""`arranger library` as it is called: what it makes, says, and ends with."""

import json
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from arranger.cli import main
from arranger.library import run as run_module
from arranger.library.catalogue import SongFacts
from arranger.library.ledger import ASIDE, FOLDER, STORE
from arranger.library.listing import index_files
from arranger.library.store import opened_line, sealed_line
from tests.library.helpers import lines_in, nobody_at_work_on_the_program, put_lines  # noqa: F401 (a fixture)

SAMPLES = Path(__file__).parents[2] / "samples"
LANTERNS = SAMPLES / "lanterns.song.txt"
PRINTED = {".pdf", ".csv", ".json"}
SMALL = "song {}\nkey C\nsection Verse\n| C F | G7 | C |\n"


@pytest.fixture
def songs(tmp_path, monkeypatch):
    """Give a folder with two songs, as `songs` of the folder where the command runs."""
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "songs"
    (folder / "old").mkdir(parents=True)
    for name in ("boats", "old/anchor"):
        (folder / f"{name}.song.txt").write_text(SMALL.format(name), encoding="utf-8")
    return folder


def library(capsys, *words) -> tuple[int, str, str]:
    """Run the command; give its status, output and messages."""
    status = main(["library", *map(str, words)])
    return status, *capsys.readouterr()


def counted(out: str) -> str:
    """Give what the last line counts."""
    return out.splitlines()[-1].removeprefix(f"{Path('songs/parts')}: ").removeprefix("parts: ")


def pdfs(folder: Path) -> list[str]:
    """Give the PDFs of songs."""
    names = (path.relative_to(folder).as_posix() for path in folder.rglob("*.pdf"))
    return sorted(name for name in names if name != "index.pdf")


def test_all_songs_of_a_folder_then_only_what_has_changed(songs, capsys):
    made = "".join(f"{Path('songs/parts', name)}: 1 page\n" for name in ("boats.pdf", "old/anchor.pdf"))
    summary = f"{Path('songs/parts')}: " + "{} made, {} unchanged\n"
    assert library(capsys, "songs") == (0, made + summary.format(2, 0), "")
    assert library(capsys, "songs") == (0, summary.format(0, 2), "")
    with (songs / "boats.song.txt").open("a") as song:
        song.write("| F |\n")
    status, out, _ = library(capsys, "songs")
    assert (status, out) == (0, made.splitlines(keepends=True)[0] + summary.format(1, 1))


def test_the_same_bytes_as_part(songs, capsys):
    shutil.copy(LANTERNS, songs)
    options = ("--hands", "staff", "--paper", "letter", "--without", "octaves", "--date", "2026-11-29")
    library(capsys, "songs", *options)
    main(["part", str(LANTERNS), "-o", "alone.pdf", *options])
    assert Path("songs/parts/lanterns.pdf").read_bytes() == Path("alone.pdf").read_bytes()


def test_a_song_with_errors_is_told_each_time_and_the_others_are_made(songs, capsys):
    bad = songs / "bad.song.txt"
    bad.write_text("song Bad\nkey C\nsection Verse\n| C | H |\n", encoding="utf-8")
    assert main(["part", str(Path("songs/bad.song.txt"))]) == 1
    as_part_says = capsys.readouterr().err
    status, out, err = library(capsys, "songs")
    assert (status, err) == (1, as_part_says)
    assert out.splitlines()[-1] == f"{Path('songs/parts')}: 2 made, 0 unchanged, 1 with errors"
    status, out, err = library(capsys, "songs")
    assert (status, err) == (1, as_part_says)
    assert out == f"{Path('songs/parts')}: 0 made, 2 unchanged, 1 with errors\n"
    assert pdfs(songs / "parts") == ["boats.pdf", "old/anchor.pdf"]


def test_another_folder_for_the_pdfs(songs, capsys):
    assert library(capsys, "songs", "--out", "for/sunday")[0] == 0
    assert pdfs(Path("for/sunday")) == ["boats.pdf", "old/anchor.pdf"]
    assert not (songs / "parts").exists()


def test_the_folder_of_other_songs(songs, capsys):
    Path("others").mkdir()
    library(capsys, "songs", "--out", "parts")
    status, _, err = library(capsys, "others", "--out", "parts", "--prune")
    assert status == 2
    assert err.startswith("arranger: parts holds the parts of the songs in ")
    assert len(pdfs(Path("parts"))) == 2


def test_songs_that_moved_as_a_whole(songs, capsys):
    library(capsys, "songs", "--out", "parts")
    songs.rename("moved")
    status, out, _ = library(capsys, "moved", "--out", "parts")
    assert (status, counted(out)) == (0, "0 made, 2 unchanged")
    assert library(capsys, "moved", "--out", "parts")[0] == 0


def test_songs_that_are_gone(songs, capsys):
    library(capsys, "songs")
    (songs / "old" / "anchor.song.txt").rename(songs / "anchor.song.txt")
    status, _, err = library(capsys, "songs")
    gone = Path("songs/parts/old/anchor.pdf")
    assert (status, err) == (
        0,
        f"arranger: {gone}: there is no song for it any more\n  hint: --prune removes what is as it was made\n",
    )
    assert gone.exists()
    status, out, err = library(capsys, "songs", "--prune")
    assert (status, err) == (0, "")
    assert out.splitlines()[0] == f"{gone}: removed, there is no song for it any more"
    assert not gone.parent.exists()
    assert pdfs(songs / "parts") == ["anchor.pdf", "boats.pdf"]
    assert library(capsys, "songs", "--prune")[2] == ""


def test_what_somebody_else_has_put_there_is_never_touched(songs, capsys):
    library(capsys, "songs")
    own, theirs = songs / "parts" / "boats.pdf", songs / "parts" / "note.pdf"
    own.write_bytes(b"with my own fingering")
    theirs.write_bytes(b"mine")
    for _ in range(2):
        status, out, err = library(capsys, "songs", "--prune")
        assert status == 1
        assert err.startswith(
            f"arranger: {Path('songs/parts/boats.pdf')} was changed, or put there, by somebody: it stays"
        )
        assert "0 made, 1 unchanged, 1 passed over" in out
    (songs / "boats.song.txt").unlink()
    status, _, err = library(capsys, "songs", "--prune")
    assert "boats.pdf: there is no song for it any more; it stays, since somebody has changed it" in err
    assert (own.read_bytes(), theirs.read_bytes()) == (b"with my own fingering", b"mine")


def test_two_songs_that_would_be_one_pdf(songs, capsys):
    for name in ("Boats.song.txt", "boats.SONG.TXT"):
        (songs / name).write_text(SMALL.format("other"), encoding="utf-8")
    if len(list(songs.iterdir())) < 4:
        pytest.skip("this disk takes the names for one")
    status, out, err = library(capsys, "songs")
    assert status == 1
    assert "boats.song.txt would become boats.pdf, as" in err
    assert "1 made, 0 unchanged, 3 passed over" in out
    assert pdfs(songs / "parts") == ["old/anchor.pdf"]


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may read everything")
def test_a_song_that_may_not_be_read(songs, capsys):
    (songs / "boats.song.txt").chmod(0)
    status, _, err = library(capsys, "songs")
    assert (status, err) == (1, f"arranger: {Path('songs/boats.song.txt')} cannot be read: permission denied\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere"], "expected a folder of songs, found no such folder: nowhere"),
        (["songs/boats.song.txt"], "expected a folder of songs, found the file: "),
        (["songs", "--jobs", "0"], "expected a number of processes from 1 to 64 after --jobs, found `0`"),
        (["songs", "--jobs", "two"], "expected a number of processes from 1 to 64 after --jobs, found `two`"),
        (["songs", "--out", "songs/boats.song.txt"], "cannot be used: "),
        (["songs", "--key", "D"], "`arranger part --key D SONG` makes one part in another key"),
        (["--key=D", "songs"], "`arranger part --key D SONG` makes one part in another key"),
        (["songs", "-o", "my parts"], 'hint: --out "my parts" names the folder for all PDFs'),
        (["-o", "parts", "songs"], "hint: --out parts names the folder for all PDFs"),
        ([""], "expected a folder after library, found nothing"),
        (["songs", "--out", ""], "expected a folder after --out, found nothing"),
        (["songs", "--out", "circle"], "circle/.arranger cannot be used: too many levels of symbolic links"),
        (["songs", "--out", "songs/boats.song.txt/x"], "cannot be used: not a directory"),
    ],
)
def test_refusals(songs, capsys, words, said):
    Path("circle").symlink_to("circle")
    status, out, err = library(capsys, *words)
    assert (status, out) == (2, "")
    assert said in err


def test_no_songs(songs, capsys):
    shutil.rmtree(songs)
    songs.mkdir()
    assert library(capsys, "songs") == (0, f"{Path('songs/parts')}: 0 made, 0 unchanged\n", "")


def test_stage_copies_too(songs, capsys):
    Path("player.toml").write_text('[page]\ndistance = "90 cm"\n', encoding="utf-8")
    status, out, _ = library(capsys, "songs", "--stage", "--player", "player.toml")
    assert (status, counted(out)) == (0, "2 made, 0 unchanged")
    assert pdfs(songs / "parts") == ["boats.pdf", "boats.stage.pdf", "old/anchor.pdf", "old/anchor.stage.pdf"]
    main(["stage", str(songs / "boats.song.txt"), "--player", "player.toml", "-o", "alone.pdf"])
    capsys.readouterr()
    assert (songs / "parts" / "boats.stage.pdf").read_bytes() == Path("alone.pdf").read_bytes()
    # Without them, those that are there are of songs that are there, and stay.
    status, out, err = library(capsys, "songs", "--prune", "--player", "player.toml")
    assert (status, counted(out), err) == (0, "0 made, 2 unchanged", "")
    assert len(pdfs(songs / "parts")) == 4
    (songs / "boats.song.txt").unlink()
    library(capsys, "songs", "--prune")
    assert pdfs(songs / "parts") == ["old/anchor.pdf", "old/anchor.stage.pdf"]


def test_stage_copies_stay_up_to_date_without_asking_again(songs, capsys):
    library(capsys, "songs", "--stage")
    with (songs / "boats.song.txt").open("a") as song:
        song.write("| Am |\n")
    status, out, _ = library(capsys, "songs")
    made = "".join(f"{Path('songs/parts', name)}: 1 page\n" for name in ("boats.pdf", "boats.stage.pdf"))
    assert (status, out) == (0, f"{made}{Path('songs/parts')}: 1 made, 1 unchanged\n")
    main(["stage", str(songs / "boats.song.txt"), "-o", "alone.pdf"])
    capsys.readouterr()
    assert (songs / "parts" / "boats.stage.pdf").read_bytes() == Path("alone.pdf").read_bytes()


def test_a_folder_of_typed_sheets(songs, capsys):
    sheets = Path("sheets")
    (sheets / "deep").mkdir(parents=True)
    (sheets / "a letter.txt").write_text("Dear all,\nsee you on Sunday.\n", encoding="utf-8")
    (sheets / "deep" / "low tide.txt").write_text(
        "Low Tide\n\nG   D\nSand in the pockets\nEm\nSalt\n", encoding="utf-8"
    )
    sheet = sheets / "deep" / "low tide.txt"
    assert library(capsys, "sheets") == (
        1,
        "",
        f"arranger: there is no song in sheets, but a typed sheet: {sheet}\n"
        f'  hint: `arranger convert "{sheet}"` makes a song of it\n',
    )
    assert not (sheets / "parts").exists()
    Path("others").mkdir()
    (sheets / "linked").symlink_to(Path("others").resolve())
    Path("others", "low tide.song.txt").write_text(SMALL.format("Low Tide"), encoding="utf-8")
    assert library(capsys, "sheets")[0] == 0


def test_a_damaged_store_is_told_and_nothing_is_lost(songs, capsys):
    library(capsys, "songs")
    before = {path: path.read_bytes() for path in (songs / "parts").rglob("*") if path.suffix in PRINTED}
    store = Path("songs/parts", FOLDER, STORE)
    store.write_bytes(b"\0" + store.read_bytes())
    status, out, err = library(capsys, "songs")
    assert (status, counted(out)) == (0, "2 made, 0 unchanged")
    assert err == f"arranger: {store} cannot be read, and is now {ASIDE}: what is there is looked at anew\n"
    assert {path: path.read_bytes() for path in before} == before
    lines = [(name, line.replace(b"old/anchor", b"\x1b[2Jor")) for name, line in lines_in(songs / "parts")]
    put_lines(songs / "parts", lines)
    status, out, err = library(capsys, "songs")
    assert (status, counted(out)) == (0, "1 made, 1 unchanged")
    assert err == f"arranger: {store}: one line is damaged, and left out\n"
    assert {path: path.read_bytes() for path in before} == before


@pytest.mark.slow
def test_a_store_that_another_program_uses_is_told(songs, capsys):
    library(capsys, "songs")
    store = Path("songs/parts", FOLDER, STORE)
    with closing(sqlite3.connect(store, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        told = f"arranger: another program uses {store}\n  hint: end that one, and start this one again\n"
        assert library(capsys, "songs") == (2, "", told)


def test_messages_that_a_store_keeps_cannot_steer_the_terminal(songs, capsys):
    (songs / "bad.song.txt").write_text("song Bad\nkey C\nsection Verse\n| C | H |\n", encoding="utf-8")
    first = library(capsys, "songs")
    assert library(capsys, "songs")[2] == first[2]
    lines = dict(lines_in(songs / "parts"))
    data = json.loads(opened_line(lines["bad.pdf"]))
    data[-2] = ["\x1b]0;owned\x07", "two\nlines\r\u202e"]
    put_lines(songs / "parts", {**lines, "bad.pdf": sealed_line(data)}.items())
    assert library(capsys, "songs")[2] == "�]0;owned�\ntwo\nlines��\n"


def test_settings_count(songs, capsys):
    library(capsys, "songs")
    status, out, _ = library(capsys, "songs", "--easy")
    assert (status, counted(out)) == (0, "2 made, 0 unchanged")
    status, out, _ = library(capsys, "songs", "--easy")
    assert counted(out) == "0 made, 2 unchanged"


# The index.


def test_an_index_of_all_songs(songs, capsys):
    (songs / "bad.song.txt").write_text("song Bad\nkey C\nsection Verse\n| C | H |\n", encoding="utf-8")
    library(capsys, "songs")
    listed = json.loads(Path("songs/parts/index.json").read_text(encoding="utf-8"))
    assert listed == json.loads(index_files(entries(), name="songs")["index.json"])
    for name, data in index_files(entries(), name="songs").items():
        assert Path("songs/parts", name).read_bytes() == data


def entries() -> list[SongFacts]:
    """Give what the index says of the two songs and of the bad one."""
    small = {"key": "C", "tempo": "", "bpm": None, "beat": "1", "meter": "4/4", "first_words": ""}
    return [
        SongFacts(title="boats", file="boats.song.txt", output="boats.pdf", **small),
        SongFacts(title="old/anchor", file="old/anchor.song.txt", output="old/anchor.pdf", **small),
        SongFacts(title="Bad", file="bad.song.txt", errors=1, **small),
    ]


def test_the_index_has_the_sets_and_is_made_anew_where_they_change(songs, capsys, monkeypatch):
    order = songs / "old" / "supper.set.txt"
    order.write_text("set Supper\ndate 2026-11-29\nsong anchor.song.txt\nkey E\n", encoding="utf-8")
    assert library(capsys, "songs")[0] == 0

    def sets() -> list[list[str]]:
        listed = json.loads(Path("songs/parts/index.json").read_text(encoding="utf-8"))["songs"]
        return [[f"{one['evening']} {one['date']} {one['key']}".strip() for one in song["sets"]] for song in listed]

    assert sets() == [[], ["Supper 2026-11-29 E"]]
    with monkeypatch.context() as patch:
        patch.setattr(run_module, "index_files", None)  # whoever calls it fails
        assert library(capsys, "songs")[0] == 0
    order.write_text("set Supper\nsong anchor.song.txt\nsong ../boats.song.txt\nmeter 3/4\n", encoding="utf-8")
    status, out, err = library(capsys, "songs")
    assert (status, counted(out)) == (0, "0 made, 2 unchanged")
    assert f"{Path('songs/old/supper.set.txt')} has mistakes, and is read as far as it can be" in err
    assert sets() == [["Supper"], ["Supper"]]
    order.unlink()
    assert library(capsys, "songs")[0] == 0 and sets() == [[], []]


def test_the_index_is_written_only_when_it_changes(songs, capsys, monkeypatch):
    library(capsys, "songs")
    monkeypatch.setattr(run_module, "index_files", None)  # whoever calls it fails
    assert library(capsys, "songs")[0] == 0
    monkeypatch.undo()
    monkeypatch.chdir(songs.parent)
    (songs / "boats.song.txt").unlink()
    assert library(capsys, "songs", "--prune")[0] == 0
    assert Path("songs/parts/index.csv").read_bytes() == index_files(entries()[1:2], name="songs")["index.csv"]
    Path("songs/parts/index.pdf").unlink()
    assert library(capsys, "songs")[0] == 0
    assert Path("songs/parts/index.pdf").exists()


def test_an_index_that_somebody_has_changed_stays(songs, capsys):
    library(capsys, "songs")
    theirs = Path("songs/parts/index.csv")
    theirs.write_bytes(b"my own columns")
    for chord in ("F", "G"):
        with (songs / "boats.song.txt").open("a") as song:
            song.write(f"| {chord} |\nsing | la |\n")
        for _ in range(2):
            status, _, err = library(capsys, "songs")
            assert (status, err.splitlines()[0]) == (
                1, f"arranger: {theirs} was changed, or put there, by somebody: it stays as it is"
            )  # fmt: skip
    assert theirs.read_bytes() == b"my own columns"
    theirs.unlink()
    assert library(capsys, "songs")[0] == 0
    assert theirs.exists()


def test_without_songs_an_old_index_is_gone_too(songs, capsys):
    library(capsys, "songs")
    for path in songs.rglob("*.song.txt"):
        path.unlink()
    assert "index.csv: there is no song for it any more" in library(capsys, "songs")[2]
    before = sorted((songs / "parts").rglob("*"))
    parts = Path("songs/parts")
    assert library(capsys, "songs", "--prune") == (  # the disk with the songs may not be there
        2,
        "",
        f"arranger: no song is found in songs: --prune would remove all PDFs in {parts}\n"
        f"  hint: if that is meant, remove the folder {parts} by hand\n",
    )
    assert sorted((songs / "parts").rglob("*")) == before
