"""The player's part as a whole: goldens, reading order, links, the foot, missing glyphs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.taste import DEFAULT
from arranger.layout.model import Document, Keyboard, Line, Text
from arranger.layout.options import HANDS, Hands, PartOptions
from arranger.layout.pages.head_and_foot import set_foot
from arranger.layout.pages.players_part import lay_out
from arranger.layout.style import LINE_GREY, QUIET_GREY, SECTION, SMALL
from arranger.pdf.fonts import metrics
from arranger.song.model import SongText as Fact
from arranger.song.model import Step
from arranger.text.source import Source, Span
from arranger.units import A4, LETTER
from tests.conftest import Golden
from tests.harmony.songs import TODAY
from tests.layout import songs
from tests.layout.dump import dump
from tests.layout.square import SquareMetrics


def contrast(grey: float) -> float:
    """Return the contrast of a grey on white paper, 1 to 21 (WCAG 2.2)."""
    luminance = grey / 12.92 if grey <= 0.04045 else ((grey + 0.055) / 1.055) ** 2.4
    return 1.05 / (luminance + 0.05)


@pytest.fixture(scope="module")
def document() -> Document:
    """Give a part on two pages, with its margin."""
    made, problems = lay_out(songs.arranged(songs.lanterns()), metrics(), PartOptions(A4, "29 November", pages=2))
    assert problems == ()
    return made


def texts(document: Document, *roles: str) -> list[str]:
    return [
        item.text for page in document.pages for item in page.items if isinstance(item, Text) and item.role in roles
    ]


def test_the_pages_of_a_song(golden: Golden, document: Document) -> None:
    golden("pages/lanterns-a4.txt", dump(document))
    one, _ = lay_out(songs.arranged(songs.lanterns()), metrics(), PartOptions(A4, "29 November"))
    assert len(one.pages) == 1
    golden("pages/lanterns-one-page.txt", dump(one))


def test_the_pages_with_fills_everywhere_on_letter(golden: Golden) -> None:
    taste = TODAY._replace(octaves="every", suspensions=Fraction(1, 3))
    made, _ = lay_out(songs.arranged(songs.lanterns(), taste), metrics(), PartOptions(LETTER))
    golden("pages/lanterns-letter-every.txt", dump(made))


def test_repeats_endings_rests_and_meters(golden: Golden) -> None:
    verse = (
        "| : Bb Eb / / | % | 1. F N.C. : | 2. rest | Gm7 rest F7 rest |",
        "sung the | first time | through | | and",
        "sung an- | other * way | round",
    )
    made = songs.song("Signs", [songs.section("A", "Bb", [verse], level="f", cues=["bass alone"])], [Step(0, times=2)])
    laid, _ = lay_out(songs.arranged(made), metrics(), PartOptions(A4))
    golden("pages/signs.txt", dump(laid))


def test_each_line_of_chords_is_followed_by_its_words_as_they_are_sung(document: Document) -> None:
    text = " ".join(texts(document, "chord", "resolution", "words"))
    assert "D G Bm A hung the lanterns one by one a- long the wall and D/F♯" in text
    assert "Burn lan terns burn un- til the G" in text


def test_a_word_that_is_split_over_two_chords_has_a_hyphen_between_its_parts(document: Document) -> None:
    items = [item for page in document.pages for item in page.items if item.role in ("words", "hyphen")]
    place = next(number for number, item in enumerate(items) if isinstance(item, Text) and item.text == "lan")
    lan, hyphen, terns = items[place : place + 3]
    assert isinstance(lan, Text) and isinstance(hyphen, Line) and isinstance(terns, Text) and terns.text == "terns"
    end = lan.x + metrics().width(lan.text, lan.face, lan.size)
    assert end < hyphen.x1 < hyphen.x2 < terns.x and lan.y - lan.size / 2 < hyphen.y1 < lan.y
    assert lan.gap == pytest.approx(terns.x - end)


@pytest.mark.parametrize(
    ("sung", "language", "shown"),
    [
        ("say good- | by- | e now | then", None, ["say good-", "bye", "now", "then"]),
        ("say good-by*e, | my | own | one", "en", ["say good-bye,", "my", "own", "one"]),
        ("Mari- | e, | ma belle | là", None, ["Mari-", "e,", "ma belle", "là"]),  # after a vowel it may be sung
        ("vers | la roug- | e mer | là", "fr", ["vers", "la roug-", "e mer", "là"]),  # French sings it
    ],
)
def test_a_silent_e_stays_with_its_word(sung: str, language: str | None, shown: list[str]) -> None:
    song = songs.song("A", [songs.section("V", "C", [("C F | C | G | C", sung)])])
    song = replace(song, language=Fact(language) if language else None)
    document, _ = lay_out(songs.arranged(song), metrics())
    assert texts(document, "words") == shown


def test_the_head_says_what_to_know_before_playing(document: Document) -> None:
    assert texts(document, "title") == ["Lanterns on the Harbour"]
    assert "".join(texts(document, "key")) == "D major · ♩ = 72 · 4/4"
    assert texts(document, "roadmap") == ["Intro,", "Verse 1,", "Chorus,", "Verse 2,", "Chorus ×2 (build),", "Ending"]
    assert "with bass, drums, guitar" in texts(document, "header")


def test_the_margin_tells_how_a_section_is_played(document: Document) -> None:
    assert texts(document, "section") == ["Intro", "Verse 1", "Verse 2", "Chorus", "Ending"]
    assert "drums in" in texts(document, "cue")
    assert " ".join(texts(document, "onward")) == "→ Chorus 1st → Verse 2 2nd ×2 (build) → Ending"


def test_the_pickup_stands_before_the_first_bar(document: Document) -> None:
    items = [item for page in document.pages for item in page.items if isinstance(item, Text)]
    pickup = next(item for item in items if item.role == "pickup")
    first = next(item for item in items if item.text == "hung the")
    assert pickup.text == "We" and pickup.y == first.y and pickup.x < first.x


def test_every_page_says_what_it_is_and_what_comes_next(document: Document) -> None:
    count = len(document.pages)
    assert texts(document, "page") == [f"page {number} of {count}" for number in range(1, count + 1)]
    assert "".join(texts(document, "foot")) == "Lanterns on the Harbour · D major · 29 November" * count
    following = texts(document, "next")
    assert following == ["next: Chorus, G", "next: Verse 2, page 1"]


def test_the_roadmap_leads_to_the_sections(document: Document) -> None:
    links = document.pages[0].links
    titles = [document.bookmarks[link.target].title for link in links]
    assert titles == ["Intro", "Verse 1", "Chorus", "Verse 2", "Chorus", "Ending"]
    words = [item for item in document.pages[0].items if isinstance(item, Text) and item.role == "roadmap"]
    assert [link.rect.x for link in links] == [word.x for word in words]


def test_bookmarks_are_where_the_sections_begin(document: Document) -> None:
    for mark in document.bookmarks:
        names = [item for item in document.pages[mark.page].items if isinstance(item, Text) and item.role == "section"]
        (name,) = [item for item in names if item.text == mark.title]
        assert mark.y <= name.y <= mark.y + 30


def test_a_long_name_in_the_foot_is_cut_short_but_key_and_page_stay() -> None:
    made = replace(songs.lanterns(), title=Fact("Lanterns " * 20))
    laid, _ = lay_out(songs.arranged(made), metrics(), PartOptions(A4, "1 May"))
    foot = "".join(texts(laid, "foot"))
    assert "… · D major · 1 May" in foot


def test_only_signs_that_occur_are_explained() -> None:
    made = songs.song("One", [songs.section("A", "C", [("| C | C |",)])])
    laid, _ = lay_out(songs.arranged(made, DEFAULT), metrics(), PartOptions(A4))
    assert texts(laid, "legend") == [
        *("middle C", "L.H.", "left hand", "oct", "with its octave", "full", "suggested too"),
        *("♩", "how to strike, right hand over left"),
    ]
    held, _ = lay_out(songs.arranged(made), metrics(), PartOptions(A4))
    assert texts(held, "legend") == ["middle C", "L.H.", "left hand", "oct", "with its octave"]


def test_nothing_is_smaller_than_the_least_size_or_too_pale(document: Document) -> None:
    for page in document.pages:
        for item in page.items:
            if isinstance(item, Text):
                assert item.size >= SMALL
                assert contrast(item.grey) >= 7.0
    assert round(contrast(0.0), 1) == 21.0 and contrast(QUIET_GREY) >= 7.0 and contrast(LINE_GREY) >= 4.5


def test_a_character_without_glyph_is_an_error_once_with_its_place() -> None:
    lanterns = songs.lanterns()
    source = Source("x", "song 漢字漢")
    made = replace(lanterns, source=source, title=Fact("漢字漢", Span(5, 8)))
    _, problems = lay_out(songs.arranged(made), metrics(), PartOptions(A4))
    assert [(p.code, p.severity) for p in problems] == [("missing-glyph", "error")] * 2
    assert "'漢' (U+6F22)" in problems[0].message
    assert source[problems[0].span or Span(0, 0)] == "漢字漢"


def test_joiners_and_direction_marks_need_no_glyph() -> None:
    made = replace(songs.lanterns(), title=Fact("a\u200db\u200ec"))
    _, problems = lay_out(songs.arranged(made), metrics(), PartOptions(A4))
    assert problems == ()


def test_the_layout_asks_only_the_metrics_it_is_given() -> None:
    made, problems = lay_out(songs.arranged(songs.lanterns()), SquareMetrics(), PartOptions(A4))
    assert problems == () and len(made.pages) >= 2


def test_the_same_arrangement_gives_the_same_pages(document: Document) -> None:
    again, _ = lay_out(songs.arranged(songs.lanterns()), metrics(), PartOptions(A4, "29 November", pages=2))
    assert again == document


def test_every_changed_hand_is_shown_where_a_line_begins(document: Document) -> None:
    for page in document.pages:
        bars = sorted({item.y for item in page.items if isinstance(item, Text) and item.role == "bar number"})
        pictures = [item for item in page.items if isinstance(item, Keyboard)]
        for y in bars:
            left = min(item.x for item in pictures if item.y < y < item.y + 60)
            assert left < 140


# What to have ready at the turn of a page.

FOURS = ("D | G | A | D", "D | Bm | G | A", "D | A | Bm | G", "D | Em | A | D", "D | G | Bm | A", "D | Em | G | A")
MORE = ("Bm | G | D | A", "G | D | A | Bm", "Em | G | D | A", "A | Bm | G | D")
SUNG = "one of the long days | two by the old road | three in a low boat | four at the far end"
ROWS = [(f"| {four} |", SUNG) for four in (*FOURS, *MORE)]
APART = PartOptions(verses="apart")


def feet(roadmap: Sequence[Step], *names: str) -> list[str]:
    """Give what each page says of the next one, for a song of sections that fill a page each."""
    sections = [songs.section(name, "D", ROWS) for name in names]
    laid_out, _ = lay_out(songs.arranged(songs.song("Long", sections, roadmap)), metrics(), APART)
    assert [mark.page for mark in laid_out.bookmarks] == list(range(len(names)))
    return texts(laid_out, "next")


def test_the_foot_names_what_is_played_next() -> None:
    there = [Step(0), Step(1), Step(2)]
    assert feet(there, "One", "Two", "Three") == ["next: Two, D", "next: Three, D"]


def test_a_section_elsewhere_is_told_with_its_page() -> None:
    back = [Step(0), Step(2), Step(1)]  # from One over to Three, and back to Two
    assert feet(back, "One", "Two", "Three") == ["next: Three, page 3", "next page: Three, D", "next: Two, page 2"]


def test_all_ways_on_are_told_three_by_their_pages() -> None:
    two = [Step(0), Step(1), Step(0), Step(2)]
    assert feet(two, "One", "Two", "Three") == ["next: Two, D or Three, page 3", "next: One, page 1"]
    three = [Step(0), Step(1), Step(0), Step(2), Step(0), Step(3)]
    assert feet(three, "One", "Two", "Three", "Four")[0] == "next: Two, page 2 or Three, page 3 or Four, page 4"


def test_the_foot_says_what_comes_next_in_as_many_words_as_have_room() -> None:
    many = tuple(f"next: {' or '.join(['Chorus, page 2'] * count)}" for count in (9, 4, 2))

    def said(title: str) -> str:
        foot = set_foot(title, "D major", many, "page 1 of 2", metrics(), (A4.width, A4.height))
        return "".join(item.text for item in foot if isinstance(item, Text) and item.role == "next")

    assert said("Tide") == many[1]
    assert said("Tide " * 30) == many[2]


def test_a_page_that_is_never_played_on_from_only_announces_the_next() -> None:
    assert feet([Step(0), Step(1)], "One", "Two", "Three") == ["next: Two, D", "next page: Three, D"]


def test_a_part_of_a_section_is_announced_with_its_own_first_chord() -> None:
    assert feet([Step(0), Step(1, from_bar=3, to_bar=4)], "One", "Two") == ["next: Two, A"]


def test_a_section_that_goes_on_is_announced() -> None:
    laid_out, _ = lay_out(
        songs.arranged(songs.song("Long", [songs.section("One", "D", ROWS[:6] * 3)])), metrics(), APART
    )
    assert len(texts(laid_out, "next")) == 1 and texts(laid_out, "next")[0].startswith("next: One, D")


def test_a_second_chord_stands_by_its_time_over_ticks_and_no_slashes_are_printed() -> None:
    bars = " | ".join(["G / / / / / / D"] * 4)
    song = songs.song("Slash", [songs.section("A", "G", [(f"| {bars} |",)])])
    laid, _ = lay_out(songs.arranged(song, TODAY._replace(suspensions=Fraction(0), octaves="none")), metrics())
    assert not texts(laid, "slash")
    chords = [item for item in laid.pages[0].items if isinstance(item, Text) and item.role == "chord"]
    assert [chord.text for chord in chords] == ["G", "D"] * 4
    assert len({chord.y for chord in chords}) == 1  # four bars on a line
    ticks = sorted(item.x1 for item in laid.pages[0].items if isinstance(item, Line) and item.role == "beat")
    assert len(ticks) == 16
    for bar in range(4):
        start, second = chords[2 * bar].x, chords[2 * bar + 1].x
        assert ticks[4 * bar : 4 * bar + 4] == pytest.approx(
            [start + beat / 3.5 * (second - start) for beat in range(4)]
        )
    assert "beats" in texts(laid, "legend")


def test_chords_that_are_equally_long_need_no_ticks() -> None:
    even = songs.song("Even", [songs.section("A", "G", [("| G D | G | % | / |",)])])
    laid, _ = lay_out(songs.arranged(even, TODAY._replace(suspensions=Fraction(0), octaves="none")), metrics())
    assert texts(laid, "slash") == ["/"]
    assert not [item for item in laid.pages[0].items if item.role == "beat"]


@pytest.mark.parametrize(
    ("name", "lines", "smaller"),
    [
        ("Chorus", ["Chorus"], False),
        ("Instrumental", ["Instrumental"], True),
        ("Instrumental Break", ["Instrumental", "Break"], True),
        ("Antidisestablishmentarianism", None, True),
    ],
)
def test_a_name_in_the_margin_is_set_smaller_then_in_two_lines_and_no_word_is_broken(
    name: str, lines: list[str] | None, smaller: bool
) -> None:
    laid, _ = lay_out(songs.arranged(songs.song("Name", [songs.section(name, "G", [("| G | D |",)])])), metrics())
    shown = [item for item in laid.pages[0].items if isinstance(item, Text) and item.role == "section"]
    assert "".join(item.text for item in shown).replace(" ", "") == name.replace(" ", "")
    assert (shown[0].size < SECTION) == smaller
    assert lines is None or [item.text for item in shown] == lines


@pytest.mark.parametrize("hands", HANDS)
def test_no_words_stand_between_two_lines_of_the_margin(hands: Hands) -> None:
    made = songs.section("Verse", "G", [("| G | D |", "little | by")], level="mp", pickup="We")
    song = songs.song("Pickup", [made], [Step(0, remark="keys out"), Step(0)])
    laid, _ = lay_out(songs.arranged(song), metrics(), options=PartOptions(hands=hands))
    items = [item for item in laid.pages[0].items if isinstance(item, Text)]
    margin = [item.y for item in items if item.role in ("section", "fact")]
    (pickup,) = [item for item in items if item.role == "pickup"]
    assert pickup.text.endswith("We") and pickup.y > max(margin)
