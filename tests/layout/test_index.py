"""The index: nothing overlaps, nothing is lost; groups, titles and pages break where they should, in whole numbers."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from arranger.layout import style
from arranger.layout.index import TABS_FROM, lay_out_index
from arranger.layout.index_rows import TITLE, IndexColumns, IndexGroup, IndexLine, IndexList, columns_of, row_of
from arranger.layout.model import Box, Document, FileLink, Link, Page, Text
from arranger.layout.text import Metrics, cut
from arranger.pdf.fonts import metrics
from arranger.units import A4, LETTER, Paper
from tests.layout import boxes
from tests.layout.square import SQUARE, SquareMetrics

IN_THE_MARGIN = ("tab",)


def line(title: str, part: str = "x.pdf", words: str = "out on the water", tempo: str = "♩ = 72") -> IndexLine:
    article = "The " if title.startswith("The ") else ""
    return IndexLine(title, article, "D", tempo, "4/4", words, part)


def index(name: str, groups: Sequence[tuple[str, int]]) -> IndexList:
    made = [
        IndexGroup(label, label[:4], tuple(line(f"{label} song {number}") for number in range(count)))
        for label, count in groups
    ]
    return IndexList(name, tuple(made))


def laid_out(*lists: IndexList, paper: Paper = A4, with_metrics: Metrics | None = None) -> Document:
    document, problems = lay_out_index("Songs", "many songs", lists, with_metrics or metrics(), paper)
    assert problems == ()
    return document


def texts(page: Page, role: str) -> list[str]:
    return [item.text for item in page.items if isinstance(item, Text) and item.role == role]


def joined(page: Page, role: str) -> str:
    return "".join(texts(page, role))


# IndexColumns and cuts, in whole numbers: every character is a square.


def columns(title_width: float = 40 * TITLE, words_width: float = 200.0) -> IndexColumns:
    return IndexColumns(20.0, title_width, 300.0, 340.0, 330.0, 420.0, 430.0, words_width)


def test_a_title_that_fits_stands_on_one_line() -> None:
    row = row_of(line("Ten signs!"), columns(10 * TITLE), SQUARE)
    assert row.titles == ("Ten signs!",)


def test_a_long_title_takes_two_lines_and_is_cut_at_a_blank() -> None:
    title = "one two three four five six seven"
    assert row_of(line(title), columns(17 * TITLE), SQUARE).titles == ("one two three", "four five six…")
    assert row_of(line(title), columns(18 * TITLE), SQUARE).titles == ("one two three four", "five six seven")
    row = row_of(line("o" * 50), columns(10 * TITLE), SQUARE)
    assert row.titles == ("o" * 10, "o" * 9 + "…")
    assert row.height > row_of(line("one"), columns(), SQUARE).height


@pytest.mark.parametrize(
    ("text", "room", "expected"),
    [
        ("out on the water", 16, "out on the water"),
        ("out on the water", 15, "out on the…"),
        ("out on the water", 11, "out on the…"),
        ("out on, the water", 11, "out on…"),
        ("unthinkably long", 8, "unthink…"),
        ("a unthinkably long", 9, "a unthin…"),  # at the blank, too little would be left
    ],
)
def test_a_text_is_cut_at_a_blank_if_that_leaves_most_of_it(text: str, room: int, expected: str) -> None:
    assert cut(text, "regular", 10.0, 10.0 * room, SQUARE) == expected
    assert len(expected) <= room


def test_tempi_line_up_at_their_numbers() -> None:
    lines = tuple(line("a", tempo=tempo) for tempo in ("♩ = 72", "♩. = 104", "half = 60", "free"))
    document = laid_out(IndexList("By title", (IndexGroup("A", "A", lines),)))
    placed = [item for item in document.pages[0].items if isinstance(item, Text) and item.role == "tempo"]
    numbers = {item.x for item in placed if item.text.startswith("=")}
    assert len(numbers) == 1
    assert "".join(item.text for item in placed) == "♩ = 72♩. = 104half = 60free"
    left = {item.text: item.x for item in placed}
    assert left["half = 60"] == left["free"] == min(left.values()) < placed[0].x


def test_an_article_is_printed_light() -> None:
    document = laid_out(IndexList("By title", (IndexGroup("K", "K", (line("The Kettle"), line("Theatre"))),)))
    faces = [(i.text, i.face) for i in document.pages[0].items if isinstance(i, Text) and i.role == "title"]
    assert faces == [("The ", "regular"), ("Kettle", "bold"), ("Theatre", "bold")]


# Pages.


def test_lists_that_fit_stand_below_each_other() -> None:
    document = laid_out(index("By title", [("A", 3), ("B", 2)]), index("By key", [("D major", 5)]))
    assert len(document.pages) == 1
    assert joined(document.pages[0], "list") == "By titleBy key"
    assert texts(document.pages[0], "label") == ["A", "B", "D major"]
    assert texts(document.pages[0], "tab") == []


def test_a_list_that_does_not_fit_begins_on_a_page_of_its_own() -> None:
    document = laid_out(index("By title", [("A", 20)]), index("By key", [("D major", 40)]))
    assert [joined(page, "list") for page in document.pages] == ["By title", "By key"]


def test_heads_and_groups_are_named_again_where_a_page_begins() -> None:
    document = laid_out(index("By title", [("A", 60), ("B", 60)]))
    heads = [joined(page, "list") for page in document.pages]
    assert heads == ["By title", *["By title, continued"] * (len(document.pages) - 1)]
    for page in document.pages:
        assert "".join(texts(page, "column")) == "titlekeytempometerfirst words"
        labels = [item for item in page.items if isinstance(item, Text) and item.role == "label"]
        rows = [item for item in page.items if isinstance(item, Text) and item.role == "title"]
        assert labels[0].y == rows[0].y  # the first line of a page says what it belongs to
    greys = [item.grey for item in document.pages[1].items if isinstance(item, Text) and item.role == "label"]
    assert greys == [style.LINE_GREY, 0.0]


def test_the_last_set_of_each_song_has_a_column_where_there_are_sets() -> None:
    played = line("Kettle")._replace(last_set="29 November, Supper")
    (page,) = laid_out(IndexList("By title", (IndexGroup("K", "K", (played, line("Kite"))),))).pages
    assert "".join(texts(page, "column")) == "titlekeytempometerfirst wordslast set"
    assert texts(page, "set") == ["29 November, Supper"]
    (head,) = (item for item in page.items if isinstance(item, Text) and item.text == "last set")
    (cell,) = (item for item in page.items if isinstance(item, Text) and item.role == "set")
    (words, _) = (item for item in page.items if isinstance(item, Text) and item.role == "words")
    assert head.x == cell.x > words.x and cell.y == words.y


def test_no_line_of_a_group_stands_alone() -> None:
    for count in range(30, 60):
        document = laid_out(index("By title", [("A", count), ("B", 5), ("C", 2), ("D", 40)]))
        for page in document.pages:
            found = [title[0] for title in texts(page, "title")]
            assert all(found.count(label) > 1 for label in set(found)), (count, found)


def test_all_songs_are_there_once_in_each_list_and_in_order() -> None:
    lists = [index("By title", [("A", 70), ("B", 1), ("C", 90)]), index("By key", [("D major", 161)])]
    document = laid_out(*lists)
    printed = [title for page in document.pages for title in texts(page, "title")]
    assert printed == [line.title for made in lists for group in made.groups for line in group.lines]


def test_groups_in_the_margin_lead_to_their_places() -> None:
    document = laid_out(index("By title", [("A", 60), ("B", 60), ("C", 60)]))
    assert len(document.pages) >= TABS_FROM
    assert [(mark.title, mark.level) for mark in document.bookmarks] == [("By title", 0), ("A", 1), ("B", 1), ("C", 1)]
    starts = {mark.title: mark.page for mark in document.bookmarks}
    for number, page in enumerate(document.pages):
        assert texts(page, "tab") == ["A", "B", "C"]
        led = [document.bookmarks[link.target].title for link in page.links if isinstance(link, Link)]
        assert led[-3:] == ["A", "B", "C"]
        white = {item.text for item in page.items if isinstance(item, Text) and item.role == "tab" and item.grey == 1}
        black = [item for item in page.items if isinstance(item, Box) and item.role == "tab"]
        assert len(white) == len(black)
        assert white == {title[0] for title in texts(page, "title")}
        for label in ("A", "B", "C"):
            assert (starts[label] == number) == (f"{label} song 0" in texts(page, "title"))


def test_the_head_leads_to_the_lists() -> None:
    document = laid_out(index("By title", [("A", 40)]), index("By key", [("D major", 40)]))
    ways = [link for link in document.pages[0].links if isinstance(link, Link)]
    assert [document.bookmarks[way.target].title for way in ways] == ["By title", "By key"]


def test_every_line_leads_to_its_part_in_both_ways() -> None:
    lines = (line("Kettle", "kettle.pdf"), line("Lamp", ""))
    (page,) = laid_out(IndexList("By title", (IndexGroup("K", "K", lines),))).pages
    links = [link for link in page.links if isinstance(link, FileLink)]
    assert [(link.file, link.title, link.by_address) for link in links] == [
        ("kettle.pdf", "Kettle", False),
        ("kettle.pdf", "Kettle", True),
    ]
    title = next(item for item in page.items if isinstance(item, Text) and item.text == "Kettle")
    words = next(item for item in page.items if isinstance(item, Text) and item.role == "words")
    for link, item in zip(links, (title, words), strict=True):
        assert link.rect.x <= item.x <= link.rect.right and link.rect.y < item.y < link.rect.bottom
    assert not links[0].rect.overlaps(links[1].rect)


def test_pages_are_labelled_and_their_foot_says_what_is_on_them() -> None:
    document = laid_out(index("By title", [("A", 60), ("B", 60)]))
    assert [page.label for page in document.pages] == [str(n + 1) for n in range(len(document.pages))]
    assert (
        joined(document.pages[0], "next")
        == "A: A song 0 to A song " + texts(document.pages[0], "title")[-1].split()[-1]
    )
    assert joined(document.pages[1], "next") == "A to B"
    assert joined(document.pages[1], "page") == f"page 2 of {len(document.pages)}"


def test_a_sign_that_no_font_has_is_told() -> None:
    document, problems = lay_out_index(
        "Songs", "1 song", [index("By title", [("☃", 1)])], SquareMetrics(missing="☃"), A4
    )
    assert [problem.code for problem in problems] == ["missing-glyph"]
    assert len(document.pages) == 1


# Whatever the songs.

LETTERS = "aeiouy mnst fglr ÀÉÎõũ ấỘ Żż Яжщ αβγ 0123 -'’"
words = st.text(LETTERS, max_size=90).map(lambda text: " ".join(text.split()))
titles = st.one_of(words, st.text("Wo", min_size=30, max_size=140)).map(lambda text: text or "x")
lines = st.builds(
    IndexLine,
    title=titles,
    article=st.just(""),
    key=st.sampled_from(("", "D", "B♭m", "F♯", "C♭")),
    tempo=st.sampled_from(("", "♩ = 72", "♩. = 104", "half notes = 60", "free", "rit to 60", "slow " * 20)),
    meter=st.sampled_from(("4/4", "12/8", "3/2")),
    words=words,
    part=st.sampled_from(("", "a.pdf", "deep/b c.pdf")),
    last_set=st.sampled_from(("", "", "2026-11-29", "29 November, Harvest Supper", "long " * 30)),
)
groups = st.builds(
    IndexGroup,
    label=st.sampled_from(("A", "0–9", "G♭ major", "F♯ minor", "100–109", "no tempo")),
    short=st.sampled_from(("A", "0–9", "F♯m", "100")),
    lines=st.lists(lines, min_size=1, max_size=70).map(tuple),
    note=st.sampled_from(("", "6♭")),
)
lists = st.builds(
    IndexList, st.sampled_from(("By title", "By key")), st.lists(groups, min_size=1, max_size=4).map(tuple)
)


@pytest.mark.slow
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.lists(lists, min_size=1, max_size=3), titles, st.sampled_from((A4, LETTER)))
def test_nothing_overlaps_and_nothing_is_cut_off(made: list[IndexList], title: str, paper: Paper) -> None:
    document, problems = lay_out_index(title, "some songs", made, metrics(), paper)
    assert problems == ()
    for page in document.pages:
        body = Page(page.width, page.height, tuple(i for i in page.items if i.role not in IN_THE_MARGIN))
        assert not boxes.overlaps(body, metrics())
        assert not boxes.outside(body, metrics(), style.SIDE, style.TOP, style.BOTTOM)
        margin = Page(page.width, page.height, tuple(i for i in page.items if i.role in IN_THE_MARGIN))
        assert not boxes.overlaps(margin, metrics())
        for item in margin.items:
            here = boxes.rect(item, metrics())
            assert here.x >= page.width - style.SIDE and here.right <= page.width - 17
    printed = sum(len(texts(page, "meter")) for page in document.pages)
    assert printed == sum(len(group.lines) for one in made for group in one.groups)


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(lists)
def test_columns_never_meet(made: IndexList) -> None:
    width = A4.width - 2 * style.SIDE
    found = columns_of(made, width, metrics())
    edges = [0.0, found.title, found.title + found.title_width, found.key, found.tempo, found.meter_right, found.words]
    assert edges == sorted(edges)
    assert found.title_width > 89  # 89.3 with the widest of all that stands beside titles
    if found.last_set_width:
        assert found.words_width > 40 and found.last_set_width > 30  # `first words`, and `last set`
        assert found.words + found.words_width < found.last_set
        assert found.last_set + found.last_set_width == pytest.approx(width)
    else:
        assert found.words_width > 60
        assert found.words + found.words_width == pytest.approx(width)
