"""`arranger evening` from outside: the book of a running order, read back, and what is said where none can be made."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pypdf
import pytest

from arranger.digests import as_made

SAMPLES = Path(__file__).parents[2] / "samples"
ORDER = SAMPLES / "harvest supper.set.txt"
Run = Callable[..., tuple[int, str, str]]
TITLES = [
    "First Snow on the Slip", "Lanterns on the Harbour", "The Harbour Wall", "Night Ferry", "The Evening Bell",
    "La lampe de Rosalie", "The Tide Clock", "Slow Boats", "Bread and Salt",
]  # fmt: skip


def small(number: int, key: str = "C") -> str:
    """Write a song of a few bars with a title of its own."""
    return f"song Small Song {number}\nkey {key}\ntempo {60 + number}\nsection Verse\n| C | F | G | C |\n"


@pytest.fixture
def songs(folder: Path) -> Path:
    """Return the folder with three small songs."""
    for number in (1, 2, 3):
        (folder / f"{number}.song.txt").write_text(small(number), encoding="utf-8")
    return folder


def order(folder: Path, text: str, name: str = "a.set.txt") -> str:
    (folder / name).write_text(text, encoding="utf-8")
    return name


def texts(pdf: Path) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(pdf).pages]


def targets(reader: pypdf.PdfReader, page: int) -> list[int]:
    """Return the pages, from 0, to which the links of a page lead."""
    found = []
    ids = [each.indirect_reference.idnum for each in reader.pages]
    for annotation in reader.pages[page].get("/Annots", []):
        found.append(ids.index(annotation.get_object()["/Dest"][0].idnum))
    return found


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the book of the sample evening."""
    from arranger.cli import main

    target = tmp_path_factory.mktemp("book") / "supper.pdf"
    assert main(["evening", str(ORDER), "-o", str(target)]) == 0
    return target


def first_pages(reader: pypdf.PdfReader) -> dict[str, int]:
    """Return the pages of the bookmarks of the first level."""
    top = [one for one in reader.outline if not isinstance(one, list)]
    return {one.title: reader.get_destination_page_number(one) for one in top}


def test_the_first_page_has_the_songs_in_order(book: Path) -> None:
    text = texts(book)[0]
    places = [text.index(title) for title in TITLES]
    assert places == sorted(places)
    assert "Harvest Supper" in text and "29 November · the net loft, Pellow Quay · 9 songs" in text
    assert "2 min 30 s of talk · 1 break" in text and "break: soup, and the raffle" in text


def test_bookmarks_and_links_lead_to_the_songs_and_back(book: Path) -> None:
    reader = pypdf.PdfReader(book)
    pages = first_pages(reader)
    assert list(pages) == ["Harvest Supper", *(f"{number} {title}" for number, title in enumerate(TITLES, 1))]
    starts = list(pages.values())
    assert starts == sorted(starts) and starts[0] == 0
    for title, page in list(pages.items())[1:]:
        assert title.split(" ", 1)[1] in reader.pages[page].extract_text()
    assert targets(reader, 0) == starts[1:]
    for page in range(1, len(reader.pages)):
        assert 0 in targets(reader, page)


def test_the_end_of_each_song_leads_to_the_next(book: Path) -> None:
    reader = pypdf.PdfReader(book)
    starts = [*first_pages(reader).values(), len(reader.pages)]
    for here, following in pairwise(starts[1:]):
        last = following - 1
        if following < len(reader.pages):
            assert following in targets(reader, last), here
        else:
            assert max(targets(reader, last)) < following


def test_sections_are_under_their_songs_and_the_roadmap_still_leads_to_them(book: Path) -> None:
    reader = pypdf.PdfReader(book)
    under = [one for one in reader.outline if isinstance(one, list)]
    assert len(under) == len(TITLES)
    assert [one.title for one in under[1]] == ["Intro", "Verse 1, 2", "Chorus", "Ending"]
    start = first_pages(reader)["2 Lanterns on the Harbour"]
    assert {start, start + 1} & set(targets(reader, start))


def test_pages_are_numbered_and_feet_name_evening_and_song(book: Path) -> None:
    reader = pypdf.PdfReader(book)
    assert reader.page_labels == [str(number + 1) for number in range(len(reader.pages))]
    starts = [*list(first_pages(reader).values())[1:], len(reader.pages)]
    for number, (start, end) in enumerate(pairwise(starts), 1):
        for page in range(start, end):
            text = reader.pages[page].extract_text()
            assert f"{number} of 9" in text and "29 November" in text
            assert (f"page {page - start + 1} of {end - start}" in text) == (end - start > 1)


def test_a_song_is_in_its_key_of_the_evening_with_its_facts(book: Path) -> None:
    reader = pypdf.PdfReader(book)
    pages = first_pages(reader)
    lanterns = reader.pages[pages["2 Lanterns on the Harbour"]].extract_text()
    assert "E major · ♩ = 72" in lanterns
    assert "♩ = 132" in reader.pages[pages["6 La lampe de Rosalie"]].extract_text()
    assert "Waltz, Verse 3, Chorus, Ending" in reader.pages[pages["8 Slow Boats"]].extract_text()
    assert "capo 3, shapes in G" in reader.pages[pages["7 The Tide Clock"]].extract_text()


def test_what_lies_between_songs_stands_at_the_end_of_the_first(book: Path) -> None:
    reader = pypdf.PdfReader(book)
    starts = list(first_pages(reader).values())
    ends = [reader.pages[start - 1].extract_text() for start in starts[2:]]
    assert "attacca → 2 Lanterns on the Harbour" in ends[0]
    assert "pad holds → 3 The Harbour Wall" in ends[1] and "by C♯m D7" in ends[1] and "pad: B" in ends[1]
    assert "talk 30 s → 4 Night Ferry" in ends[2]
    assert "stop · soup, and the raffle · talk 120 s → 5 The Evening Bell" in ends[3]


def test_the_same_order_gives_the_same_bytes(run: Run, book: Path, folder: Path) -> None:
    assert run("evening", ORDER, "-o", "again.pdf")[0] == 0
    data = (folder / "again.pdf").read_bytes()
    assert data == book.read_bytes() and as_made(data)


def test_a_book_of_stage_copies(run: Run, folder: Path) -> None:
    status, out, _ = run("evening", ORDER, "--stage", "--distance", "0.6m", "-o", "s.pdf")
    assert status == 0 and out.startswith("s.pdf: 9 songs, ")
    reader = pypdf.PdfReader(folder / "s.pdf")
    pages = first_pages(reader)
    assert len(pages) == 10 and targets(reader, 0) == list(pages.values())[1:]
    assert "attacca → 2 Lanterns on the Harbour" in reader.pages[pages["2 Lanterns on the Harbour"] - 1].extract_text()
    assert all("29 November" in page.extract_text() for page in reader.pages)


@pytest.mark.parametrize("words", [("--paper", "a4-pair"), ("--paper", "tablet", "--dark"), ("--paper", "letter")])
def test_stage_copies_on_other_sheets(run: Run, songs: Path, words: tuple[str, ...]) -> None:
    name = order(songs, "set A\nsong 1.song.txt\nthen pad\nsong 2.song.txt\n")
    assert run("evening", name, "--stage", *words)[:2] == (0, "a.evening.stage.pdf: 2 songs, 3 pages\n")


def test_songs_of_two_pages_face_each_other(run: Run, folder: Path) -> None:
    assert run("evening", ORDER, "--facing", "-o", "f.pdf")[0] == 0
    reader = pypdf.PdfReader(folder / "f.pdf")
    starts = [*list(first_pages(reader).values())[1:], len(reader.pages)]
    texts_of = [page.extract_text() for page in reader.pages]
    pairs = 0
    for number, start in enumerate(starts[:-1], 1):
        count = sum(f"{number} of 9" in text for text in texts_of)
        if count == 2:
            pairs += 1
            assert start % 2 == 1  # from 0: the page with an even number lies at the left
    assert pairs >= 5


def test_a_page_is_left_blank_before_a_song_that_is_to_face(run: Run, songs: Path) -> None:
    shutil.copy(SAMPLES / "slow boats.song.txt", songs)
    name = order(songs, "set A\nsong 1.song.txt\nsong slow boats.song.txt\nsong 2.song.txt\n")
    assert run("evening", name, "--facing")[1] == "a.evening.pdf: 3 songs, 6 pages\n"
    reader = pypdf.PdfReader(songs / "a.evening.pdf")
    assert [bool(page.extract_text().strip()) for page in reader.pages] == [True, True, False, True, True, True]
    assert list(first_pages(reader).values()) == [0, 1, 3, 5]
    assert targets(reader, 1)[-1] == 3


# Songs again, many songs, other folders.


def test_a_song_twice_and_in_two_keys(run: Run, songs: Path) -> None:
    name = order(songs, "set A\nsong 1.song.txt\nsong 2.song.txt\nsong 1.song.txt\nkey E\nsong 1.song.txt\n")
    assert run("evening", name) == (0, "a.evening.pdf: 4 songs, 5 pages\n", "")
    feet = [text.splitlines()[-1] for text in texts(songs / "a.evening.pdf")]
    assert feet[1:] == [
        "Small Song 1 · C major 1 of 4", "Small Song 2 · C major 2 of 4", "Small Song 1 · E major 3 of 4",
        "Small Song 1 · C major 4 of 4",
    ]  # fmt: skip


def test_sixty_songs(run: Run, songs: Path) -> None:
    for number in range(60):
        (songs / f"s{number}.song.txt").write_text(small(number), encoding="utf-8")
    name = order(songs, "set A\n" + "".join(f"song s{number}.song.txt\nthen pad\n" for number in range(60)))
    status, out, err = run("evening", name)
    assert (status, err) == (0, "") and out.startswith("a.evening.pdf: 60 songs, ")
    reader = pypdf.PdfReader(songs / "a.evening.pdf")
    starts = list(first_pages(reader).values())[1:]
    assert len(starts) == 60 and starts[1:] == [start + 1 for start in starts[:-1]]
    assert [target for page in range(starts[0]) for target in targets(reader, page)] == starts
    assert "60 of 60" in reader.pages[-1].extract_text()


def test_files_are_found_from_the_folder_of_the_order(run: Run, songs: Path) -> None:
    (songs / "sets").mkdir()
    order(songs, "set A\nsong ../1.song.txt\n", "sets/b.set.txt")
    assert run("evening", "sets/b.set.txt")[0] == 0
    assert (songs / "sets" / "b.evening.pdf").exists()


# What cannot be made: all of it told at once, and nothing written.


def test_all_that_is_wrong_is_told_at_once(run: Run, songs: Path) -> None:
    (songs / "bad.song.txt").write_text(small(9).replace("| F |", "| H |"), encoding="utf-8")
    name = order(
        songs,
        "set A\nsong 1.song.tx\nsong bad.song.txt\nsong 2.song.txt\nkey Em\ntempo fast\nthen whatever\nmeter 3/4\n"
        "song .\nsong bad.song.txt\n",
    )
    status, out, err = run("evening", name)
    assert (status, out) == (1, "")
    codes = [line.split(": error ")[1].split(":")[0] for line in err.splitlines() if ": error " in line]
    assert codes == [
        "german-h", "song-missing", "song-with-errors", "unfit-fact", "bad-tempo", "bad-then", "not-for-an-evening",
        "song-missing", "song-with-errors",
    ]  # fmt: skip
    assert "bad.song.txt:5:" in err and 'is "1.song.txt" meant' not in err and "is 1.song.txt meant?" in err
    assert not list(songs.glob("*.pdf"))


def test_a_song_with_mistakes_is_named_on_each_of_its_lines(run: Run, songs: Path) -> None:
    (songs / "bad.song.txt").write_text(small(9).replace("| F |", "| H |"), encoding="utf-8")
    _, _, err = run("evening", order(songs, "set A\nsong bad.song.txt\nsong 1.song.txt\nsong bad.song.txt\n"))
    assert err.count("german-h") == 1
    assert err.count("song-with-errors") == 2


def test_songs_that_cannot_be_played_or_printed(run: Run, songs: Path) -> None:
    (songs / "silent.song.txt").write_text("song A\nkey C\nsection B\n| rest |\n", encoding="utf-8")
    (songs / "sign.song.txt").write_text(small(4) + "sing | \u65e5 | \u672c |\n", encoding="utf-8")
    name = order(songs, "set A\nsong silent.song.txt\nsong 1.song.txt\nsong sign.song.txt\n")
    status, out, err = run("evening", name)
    assert (status, out) == (1, "")
    assert "no-chords" in err and "missing-glyph" in err and err.count("song-with-errors") == 2
    assert not list(songs.glob("*.pdf"))


def test_a_title_that_cannot_be_printed(run: Run, songs: Path) -> None:
    status, out, err = run("evening", order(songs, "set \u65e5\nsong 1.song.txt\n"))
    assert (status, out) == (1, "") and "a.set.txt: error missing-glyph" in err
    assert not list(songs.glob("*.pdf"))


def test_a_stage_copy_that_cannot_be_read(run: Run, folder: Path) -> None:
    shutil.copy(SAMPLES / "bread and salt.song.txt", folder)
    name = order(folder, "set A\nsong bread and salt.song.txt\n")
    status, out, err = run("evening", name, "--stage", "--pages", "1", "--distance", "1.5m")
    assert (status, out) == (1, "") and "too-small-to-read" in err and "song-with-errors" in err


@pytest.mark.parametrize(
    ("text", "code"), [("", "empty-set"), ("set A\n", "empty-set"), ("set A\nbreak tea\n", "empty-set"),
                       ("song 1.song.txt\n", "missing-set"), ("set A\nset B\nsong 1.song.txt\n", "set-twice"),
                       ("set A\nsong\n", "empty-fact")],
)  # fmt: skip
def test_orders_of_nothing(run: Run, songs: Path, text: str, code: str) -> None:
    status, out, err = run("evening", order(songs, text))
    assert (status, out) == (1, "") and code in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((".",), "arranger: expected a running order, found the folder .\n  hint: it holds a.set.txt\n"),
        (("b.set.txt",), "arranger: there is no file b.set.txt\n  hint: is a.set.txt meant?\n"),
        (("1.song.txt",), "arranger: expected a running order, NAME.set.txt, found the song 1.song.txt\n"
                          "  hint: `arranger part 1.song.txt` makes its part\n"),
        (("a.set.txt", "a.set.txt"), "arranger: expected one set, found `a.set.txt` too\n"),
        (("a.set.txt", "--key", "E"), "arranger: there is no option `--key` here\n"
                                      "  hint: is `--easy` meant?\n"),
        (("a.set.txt", "--dark"), "arranger: --dark is for stage copies, and this book has parts\n"
                                  "  hint: --stage makes stage copies\n"),
        (("a.set.txt", "--stage", "--hands", "staff"), "arranger: --hands is for parts, and this book has stage "
                                                       "copies\n  hint: leave it out\n"),
        (("a.set.txt", "--stage", "--facing", "--paper", "tablet"), "arranger: --facing is for sheets with one page, "
         "and sheets of tablet show one page at a time\n"),
        (("a.set.txt", "-o", "no/such/a.pdf"), "no folder"),
        (("a.set.txt", "-o", "1.song.txt"), "the name of a song"),
    ],
)  # fmt: skip
def test_commands_that_cannot_be_done(run: Run, songs: Path, words: tuple[str, ...], said: str) -> None:
    order(songs, "set A\nsong 1.song.txt\n")
    status, out, err = run("evening", *words)
    assert (status, out) == (2, "")
    assert err == said if said.startswith("arranger") else said in err
    assert not list(songs.glob("*.pdf"))


def test_what_somebody_has_changed_is_kept(run: Run, songs: Path) -> None:
    name = order(songs, "set A\nsong 1.song.txt\n")
    (songs / "a.evening.pdf").write_bytes(b"notes")
    status, _, err = run("evening", name)
    assert status == 2 and "--force" in err and (songs / "a.evening.pdf").read_bytes() == b"notes"
    assert run("evening", name, "--force")[0] == 0


def test_the_keys_may_be_silent_all_evening(run: Run, songs: Path) -> None:
    (songs / "t.song.txt").write_text(
        "song A\nkey C\nroadmap B\nsection B\ntacet\n| C |\nsection C\n| C |\n", encoding="utf-8"
    )
    status, out, _ = run("evening", order(songs, "set A\nsong t.song.txt\nthen attacca\nsong 1.song.txt\n"))
    assert status == 0 and out == "a.evening.pdf: 2 songs, 3 pages\n"
