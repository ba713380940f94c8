"""The index as files: CSV and JSON read back by others' readers, the PDF's links; and what comes first in its lists."""

from __future__ import annotations

import csv
import io
import json
import random
from urllib.parse import unquote

import pypdf
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from arranger.library.catalogue import Play, SongFacts, from_data, in_time
from arranger.library.listing import FORMULA, HEADS, as_written, in_order, index_files, lists, to_csv, to_json
from arranger.library.scan import INDEX_NAMES
from arranger.theory.key import all_keys
from arranger.units import A4, LETTER


def entry(
    title: str, key: str = "D", tempo: str = "72", bpm: int | None = 72, beat: str = "1", **more: object
) -> SongFacts:
    file = f"deep/{title}.song.txt"
    return SongFacts(title, key, tempo, bpm, beat, "6/8", f"words of {title}", file, f"deep/{title}.pdf", **more)  # type: ignore[arg-type]


SOME = (
    entry("The Kettle", "F#m", "dotted 56", 56, "3/2"),
    entry("Été, “twice”", "Bb", "free", None),
    entry("A Slow Boat", "D", "half 60", 60, "2"),
    entry("Broken", "", "", None)._replace(output="", errors=2),
    entry('Quotes " and, commas', "Bm", "138", 138),
)


def rows(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


def test_csv_is_read_back_by_others() -> None:
    head, *body = rows(to_csv(SOME))
    assert tuple(head) == HEADS
    assert [row[0] for row in body] == [one.title for one in SOME]
    assert body[0] == [
        "The Kettle",
        "F#m",
        "dotted 56",
        "6/8 time",
        "words of The Kettle",
        "deep/The Kettle.song.txt",
        "deep/The Kettle.pdf",
        "0",
        "",
        "",
    ]
    assert body[3][6:8] == ["", "2"]


def test_csv_is_what_the_standard_and_spreadsheets_want() -> None:
    data = to_csv(SOME)
    assert data.startswith(b"\xef\xbb\xbftitle,")
    assert data.endswith(b"\r\n") and data.count(b"\r\n") == data.count(b"\n") == len(SOME) + 1
    assert b'"Quotes "" and, commas"' in data


texts = st.text(st.characters(codec="utf-8"), max_size=30)


@given(texts, texts, st.sampled_from([*FORMULA, ""]))
def test_no_cell_is_run_and_none_is_lost(title: str, words: str, sign: str) -> None:
    (_, row) = rows(to_csv([entry("x")._replace(title=sign + title, first_words=words)]))
    assert not any(cell.startswith(FORMULA) for cell in row)
    assert row[0].removeprefix("'") == (sign + title).removeprefix("'")
    assert row[4].removeprefix("'") == words.removeprefix("'")


@given(texts)
def test_json_is_read_back_to_the_letter(title: str) -> None:
    made = [one._replace(title=title) for one in SOME]
    data = to_json(made)
    assert not data.startswith(b"\xef\xbb\xbf")  # RFC 8259, 8.1
    found = json.loads(data.decode("utf-8"))["songs"]
    assert all(one.pop("sets") == [] for one in found)
    assert [from_data(one) for one in found] == made


SUPPER = Play("Supper", "2026-11-29", "the loft", 2, 9, "E", "supper.set.txt")
FAIR = Play("=Fair", "2026-06-01", "", 1, 2, "", "a fair.set.txt")
LATE = Play("Late", "29 November", "", 1, 1, "", "z.set.txt")  # of which year?
PLAYS = {SOME[0].file: (SUPPER, FAIR, LATE), SOME[2].file: (LATE,)}


def test_sets_are_in_time_and_all_files_of_the_index_have_them() -> None:
    assert in_time((SUPPER, FAIR, LATE)) == (LATE, FAIR, SUPPER)
    files = index_files(SOME, A4, "Pellow Quay", plays=PLAYS)
    sets = {one["file"]: one["sets"] for one in json.loads(files["index.json"])["songs"]}
    assert sets[SOME[0].file] == [LATE._asdict(), FAIR._asdict(), SUPPER._asdict()] and sets[SOME[1].file] == []
    head, *body = rows(files["index.csv"])
    cells = {row[5]: dict(zip(head, row, strict=True)) for row in body}
    assert cells[SOME[0].file]["last set"] == "2026-11-29, the loft: Supper, 2 of 9, in E (supper.set.txt)"
    assert cells[SOME[0].file]["all sets"].split("; ") == [LATE.words, FAIR.words, SUPPER.words]
    assert cells[SOME[1].file]["last set"] == cells[SOME[1].file]["all sets"] == ""
    read = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(files["index.pdf"])).pages)
    assert read.count("2026-11-29, ") == read.count("29 November, ") == 3  # in each list
    assert as_written(files["index.csv"], files["index.json"])
    assert not as_written(files["index.csv"], files["index.json"].replace(b"the loft", b"the barn"))
    assert not as_written(files["index.csv"], files["index.json"].replace(b'"number": 2', b'"number": "2"'))


def labels(number: int, entries: tuple[SongFacts, ...]) -> list[str]:
    return [group.label for group in lists(in_order(entries))[number].groups]


def test_titles_are_in_order_without_their_articles() -> None:
    by_title = lists(in_order(SOME))[0]
    assert [(group.label, [line.title for line in group.lines]) for group in by_title.groups] == [
        ("B", ["Broken"]),
        ("E", ["Été, “twice”"]),
        ("K", ["The Kettle"]),
        ("Q", ['Quotes " and, commas']),
        ("S", ["A Slow Boat"]),
    ]
    assert [line.article for group in by_title.groups for line in group.lines] == ["", "", "The ", "", "A "]


def test_keys_go_round_the_circle_of_fifths() -> None:
    entries = tuple(entry(str(key), str(key)) for key in all_keys())
    assert labels(1, entries)[:4] == ["C♭ major", "A♭ minor", "G♭ major", "E♭ minor"]
    assert labels(1, entries)[14:18] == ["C major", "A minor", "G major", "E minor"]
    groups = lists(in_order(entries))[1].groups
    assert len(groups) == 30
    assert [group.note for group in groups[::2]] == [
        "7♭", "6♭", "5♭", "4♭", "3♭", "2♭", "1♭", "", "1♯", "2♯", "3♯", "4♯", "5♯", "6♯", "7♯",
    ]  # fmt: skip
    assert labels(1, SOME) == ["B♭ major", "D major", "B minor", "F♯ minor", "no key"]


def test_tempi_go_from_slow_to_fast() -> None:
    assert labels(2, (*SOME, entry("x", "D", "59", 59))) == ["50–59", "60–69", "130–139", "free", "no tempo"]
    groups = lists(in_order((*SOME, entry("A", "D", "59", 59))))[2].groups
    assert [line.tempo for line in groups[0].lines] == ["♩. = 56", "♩ = 59"]
    assert [line.tempo for group in groups[1:] for line in group.lines] == ["half = 60", "♩ = 138", "free", ""]


def test_a_song_with_errors_says_so_and_leads_nowhere() -> None:
    (line,) = lists(in_order(SOME))[0].groups[0].lines
    assert (line.words, line.part) == ("no part: 2 errors in the song", "")


@settings(max_examples=10, deadline=None)
@given(st.randoms(use_true_random=False))
def test_the_order_of_the_songs_does_not_matter(chance: random.Random) -> None:
    shuffled = [*SOME, SOME[0]._replace(file="other.song.txt")]
    expected = index_files(shuffled, A4, "Pellow Quay")
    chance.shuffle(shuffled)
    assert index_files(shuffled, A4, "Pellow Quay") == expected


@pytest.mark.parametrize("paper", [A4, LETTER])
def test_the_pdf_leads_to_the_parts(paper: object) -> None:
    files = index_files(SOME, paper, "Pellow Quay")  # type: ignore[arg-type]
    assert tuple(files) == INDEX_NAMES
    reader = pypdf.PdfReader(io.BytesIO(files["index.pdf"]), strict=True)
    annotations = [one.get_object() for page in reader.pages for one in page["/Annots"]]
    actions = [one["/A"].get_object() for one in annotations if "/A" in one]
    opened = [action["/F"]["/UF"] for action in actions if action["/S"] == "/GoToR"]
    assert sorted(opened) == sorted([one.output for one in SOME if one.output] * 3)
    addresses = [unquote(action["/URI"]) for action in actions if action["/S"] == "/URI"]
    assert addresses == [f"./{file}" for file in opened]
    assert reader.metadata is not None and reader.metadata.title == "Songs: Pellow Quay"
    assert [entry.title for entry in reader.outline if not isinstance(entry, list)] == [
        "By title",
        "By key",
        "By tempo",
    ]
    assert reader.page_labels == [str(number + 1) for number in range(len(reader.pages))]


def test_the_words_can_be_searched() -> None:
    reader = pypdf.PdfReader(io.BytesIO(index_files(SOME, A4, "Pellow Quay")["index.pdf"]))
    read = " ".join("".join(page.extract_text() for page in reader.pages).split())
    for wanted in ("Slow Boat", "♩. = 56", "F♯m", "words of The Kettle", "5 songs"):
        assert wanted in read


any_text = st.text(st.characters(codec="utf-8", exclude_categories=("Cc",)), min_size=1, max_size=120)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@example(["\u00a0"], " ")
@example(["0", "\u00ad"], "0")
@given(st.lists(any_text, min_size=1, max_size=30), any_text)
def test_any_titles_and_words_can_be_indexed(titles: list[str], words: str) -> None:
    entries = [
        entry("x")._replace(title=title, file=f"{number}", output=f"{title}.pdf", first_words=words)
        for number, title in enumerate(titles)
    ]
    reader = pypdf.PdfReader(io.BytesIO(index_files(entries, A4, words)["index.pdf"]), strict=True)
    annotations = [one.get_object() for page in reader.pages for one in page["/Annots"]]
    opened = [one["/A"]["/F"]["/UF"] for one in annotations if "/A" in one and one["/A"]["/S"] == "/GoToR"]
    assert sorted(opened) == sorted(3 * [f"{title}.pdf" for title in titles])
