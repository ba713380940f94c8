"""Stage copies as a whole: goldens, reading order, head, links, bookmarks, missing glyphs, songs that nobody writes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.model import Arrangement
from arranger.layout.model import Box, Document, Line, Text
from arranger.layout.options import StageOptions
from arranger.pdf.fonts import metrics
from arranger.song.model import Note, NoteLine, Song, Step
from arranger.song.model import SongText as Fact
from arranger.theory.pitch import Pitch
from arranger.units import SHEETS
from tests.conftest import Golden
from tests.layout import boxes, songs
from tests.layout.dump import dump
from tests.layout.square import SquareMetrics
from tests.layout.stage.drawn import lay_out

VERY_LONG = "the lamp is lit and nobody is home to see it burn " * 20


def laid(song: Song | Arrangement, options: StageOptions | None = None) -> Document:
    arrangement = song if isinstance(song, Arrangement) else songs.arranged(song)
    document, _, problems = lay_out(arrangement, metrics(), options or StageOptions())
    assert document is not None and {problem.code for problem in problems} <= {"busy-turn"}
    for page in document.pages:
        overlapping = boxes.overlaps(page, metrics())
        assert not overlapping, overlapping[0]
    return document


def texts(document: Document, *roles: str) -> list[str]:
    return [i.text for page in document.pages for i in page.items if isinstance(i, Text) and i.role in roles]


@pytest.fixture(scope="module")
def lanterns() -> Arrangement:
    song = songs.lanterns()
    again = replace(song.sections[2], like="Verse 1", model=1)
    return songs.arranged(replace(song, sections=(*song.sections[:2], again, *song.sections[3:])))


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("one-page", StageOptions(distance=0.6, pages=1, date="29 November")),
        ("any", StageOptions(distance=0.9)),
        ("tablet", StageOptions(SHEETS["tablet"], distance=0.6, words="none", dark=True)),
        ("pair", StageOptions(SHEETS["a4-pair"], distance=0.6, pages=2, words="all")),
    ],
)
def test_the_pages_of_a_song(name: str, options: StageOptions, lanterns: Arrangement, golden: Golden) -> None:
    golden(f"stage/lanterns-{name}.txt", dump(laid(lanterns, options)))


def test_repeats_endings_rests_and_meters(golden: Golden) -> None:
    verse = (
        "| : Bb Eb / / | % | 1. F N.C. : | 2. rest | Gm7 rest F7 rest |",
        "sung the | first time | through | | and",
    )
    made = songs.song("Signs", [songs.section("A", "Bb", [verse], level="f", cues=["bass alone"])], [Step(0, times=2)])
    golden("stage/signs.txt", dump(laid(made)))


def test_the_same_song_gives_the_same_pages(lanterns: Arrangement) -> None:
    assert laid(lanterns) == laid(lanterns)


def test_chords_hands_and_prompts_are_read_in_order(lanterns: Arrangement) -> None:
    document = laid(lanterns, StageOptions(distance=0.6, pages=1))
    order = texts(document, "section", "chord", "resolution", "letters", "prompt")
    start = order.index("Verse 1, 2")
    assert order[start : start + 3] == ["Verse 1, 2", "D", "D·F♯·A"]
    following = order[start + 3 :]
    assert following.index("1. We hung the lanterns…") < following.index("2. You set a candle…")
    assert following.index("2. You set a candle…") < following.index("D/F♯")


def test_the_head_says_what_to_know_before_playing(lanterns: Arrangement) -> None:
    document = laid(lanterns)
    assert texts(document, "title") == ["Lanterns on the Harbour"]
    assert "".join(texts(document, "key")) == "D major · ♩ = 72 · 4/4"
    assert texts(document, "roadmap") == ["Intro,", "Verse 1,", "Chorus,", "Verse 2,", "Chorus ×2 (build),", "Ending"]
    sizes = {i.role: i.size for page in document.pages for i in page.items if isinstance(i, Text)}
    assert sizes["roadmap"] > sizes["prompt"] == sizes["letters"] < sizes["chord"]


def test_the_roadmap_leads_to_the_sections_and_each_has_a_bookmark(lanterns: Arrangement) -> None:
    document = laid(lanterns, StageOptions(distance=1.1))
    assert [mark.title for mark in document.bookmarks] == ["Intro", "Verse 1, 2", "Chorus", "Ending"]
    assert [link.target for link in document.pages[0].links] == [0, 1, 2, 1, 2, 3]
    assert [page.label for page in document.pages] == [str(number) for number in range(1, len(document.pages) + 1)]
    pages = [mark.page for mark in document.bookmarks]
    assert pages == sorted(pages) and pages[-1] == len(document.pages) - 1


def test_the_foot_says_how_far_the_copy_is_legible(lanterns: Arrangement) -> None:
    _, reading, _ = lay_out(lanterns, metrics(), StageOptions(distance=0.6, pages=1, date="29 November"))
    document = laid(lanterns, StageOptions(distance=0.6, pages=1, date="29 November"))
    assert reading is not None
    assert texts(document, "foot") == [f"legible to {reading.legible_to:g} m · 29 November"]


def test_hooks_are_played_as_written() -> None:
    song = songs.lanterns()
    intro = song.sections[0]
    times = (("D5", 0, 2), ("A4", 2, 1), ("B4", 3, 1))
    first = tuple(Note(Pitch.parse(name), Fraction(start), Fraction(length)) for name, start, length in times)
    rows = (replace(intro.rows[0], hook=NoteLine((first, (Note(Pitch.parse("D5"), Fraction(0), Fraction(4)),)))),)
    document = laid(replace(song, sections=(replace(intro, rows=rows), *song.sections[1:])))
    assert texts(document, "hook") == ["D", "5", "A", "B", "D", "5"]
    assert "play the hook" in texts(document, "cue")


def test_a_sign_that_no_font_has_is_told_once() -> None:
    song = songs.song("海", [songs.section("A", "C", [("| C | F |", "海 | 海")])])
    document, _, problems = lay_out(songs.arranged(song), SquareMetrics(missing="海"), StageOptions(distance=0.5))
    assert document is not None
    assert [problem.code for problem in problems] == ["missing-glyph"]


@pytest.mark.slow
@pytest.mark.parametrize("name", SHEETS)
def test_a_roadmap_of_hundreds_of_steps_goes_on_over_the_next_pages(name: str) -> None:
    steps = [Step(number % 5, remark=f"time {number}") for number in range(300)]
    document = laid(replace(songs.lanterns(), roadmap=tuple(steps)), StageOptions(SHEETS[name], distance=0.6))
    assert len(texts(document, "roadmap")) >= 300
    assert sum(len(page.links) for page in document.pages) >= 300


def test_dozens_of_verses_are_divided_under_the_same_chords() -> None:
    verses = [f"verse {number} is | sung to the | end of its | line" for number in range(1, 61)]
    song = songs.song("Many", [songs.section("Verse", "C", [("| C | F | G | C |", *verses)])])
    document = laid(song, StageOptions(words="all"))
    assert texts(document, "verse") == [f"{number}." for number in range(1, 61)]
    assert texts(document, "chord")[:8] == ["C", "F", "G", "C"] * 2
    prompts = texts(laid(song), "prompt")
    assert len(prompts) == 60 and prompts[-1].startswith("60. verse 60 is")


def test_cues_names_and_titles_without_end_are_there_to_the_last_word() -> None:
    song = songs.lanterns()
    verse = song.sections[1]
    rows = (
        replace(verse.rows[0], cues=(Fact(VERY_LONG), Fact("drums in"))),
        replace(verse.rows[1], cues=(Fact(VERY_LONG),)),
    )
    verse = replace(verse, rows=rows, name=VERY_LONG.strip(), closing_cues=(Fact(VERY_LONG),) * 2)
    song = replace(song, sections=(song.sections[0], verse, *song.sections[2:]), title=Fact(VERY_LONG))
    document = laid(song)
    assert " ".join(texts(document, "title")).split() == VERY_LONG.split()
    cues = " ".join(" ".join(texts(document, "cue")).split())
    assert cues.count(VERY_LONG.strip()) == 4 and "drums in" in cues
    assert VERY_LONG.strip() in " ".join(texts(document, "section"))


def test_bars_wider_than_a_page_are_broken_and_none_is_lost() -> None:
    word = "Llanfair" * 20
    song = songs.song("Wide", [songs.section("A", "C", [("| C | F |", f"{word} | {word}")])])
    assert "".join(texts(laid(song, StageOptions(words="all")), "words")) == word * 2
    row = ("| F#m7b5 B7alt/D# Em6/9 C#7alt F#7sus4 Bmaj7/F# | C#m11 F#13 Bmaj7 G#m7 C#7 F#7 |",)
    document = laid(songs.song("Many", [songs.section("A", "E", [row])]), StageOptions(SHEETS["a5"], distance=1.3))
    assert "".join(texts(document, "chord")).count("7alt") == 2


def test_a_song_of_one_chord_has_a_page() -> None:
    document = laid(songs.song("One", [songs.section("A", "C", [("| C | rest |",)])]))
    assert len(document.pages) == 1 and texts(document, "next") == []


def test_a_section_without_rows_and_one_that_is_silent_are_there() -> None:
    made = [songs.section(name, "C", [(f"| {chord} | F | G | C |",)]) for name, chord in (("A", "C"), ("B", "Am"))]
    made.insert(1, replace(made[0], name="Talk", rows=()))
    made.insert(2, replace(made[0], name="Drums", tacet=True))
    document = laid(songs.song("Silent", made, [Step(number) for number in range(4)]))
    assert texts(document, "section") == ["A", "Talk", "Drums", "B"]
    assert texts(document, "rest") == ["4", "tacet"]


def test_the_last_chord_of_a_copy_has_its_letters_where_the_hand_is_another() -> None:
    document = laid(songs.song("Last", [songs.section("A", "G", [("| G | D | G | D |",)])]))
    hands = [text for text in texts(document, "letters") if "·" in text and "L.H." not in text]
    assert len(hands) == 4 and hands[1] == hands[3] != hands[2]


def test_names_of_sections_stand_in_outlined_boxes() -> None:
    items = laid(songs.song("Box", [songs.section("Verse", "G", [("| G | D |",)])])).pages[0].items
    (name,) = [item for item in items if isinstance(item, Text) and item.role == "section"]
    sides = [item for item in items if isinstance(item, Line) and item.role == "box"]
    assert len(sides) == 4 and name.grey == 0.0
    assert min(side.x1 for side in sides) < name.x < max(side.x2 for side in sides)
    assert min(side.y1 for side in sides) < name.y < max(side.y2 for side in sides)
    assert not any(isinstance(item, Box) and item.width > name.size for item in items)


@pytest.mark.parametrize("paper", ["a5", "tablet"])
def test_nothing_in_the_foot_is_cut_off(paper: str) -> None:
    name = "A rather long name for a section of a song that has more than one"
    rows = [[(f"| {chord} | D | Em | C |",)] * 6 for chord in "GACF"]
    made = [songs.section(f"{name} {number}", "G", row) for number, row in enumerate(rows)]
    song = songs.song("A title that is longer than a page is wide " * 3, made, [Step(n) for n in (0, 1, 0, 2, 3)])
    document = laid(song, StageOptions(SHEETS[paper], distance=1.0))
    assert len(document.pages) > 1 and texts(document, "next")
    assert not any("…" in text for text in texts(document, "foot", "next"))
    for page in document.pages:
        outside = boxes.outside(page, metrics(), SHEETS[paper].side, SHEETS[paper].end, SHEETS[paper].end)
        assert not [item for item in outside if isinstance(item, Text)]
