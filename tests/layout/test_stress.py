"""Songs that nobody should write: nothing runs past a page, nothing is cut off, nothing covers anything."""

from __future__ import annotations

from dataclasses import replace

import pytest

from arranger.layout import style
from arranger.layout.model import Document, Text
from arranger.layout.options import HANDS, Hands, PartOptions, Verses
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import metrics
from arranger.song.model import Song, Step
from arranger.song.model import SongText as Fact
from arranger.units import A4, LETTER, Paper
from tests.layout import boxes, songs

VERY_LONG = "the lamp is lit and nobody is home to see it burn " * 80  # 4,000 characters, as long as a line can be


def laid(song: Song, paper: Paper = A4, hands: Hands = "keyboard", verses: Verses = "together") -> Document:
    options = PartOptions(paper, hands=hands, verses=verses)
    document, problems = lay_out(songs.arranged(song), metrics(), options=options)
    assert problems == ()
    for page in document.pages:
        overlapping = boxes.overlaps(page, metrics())
        assert not overlapping, overlapping[0]
        outside = boxes.outside(page, metrics(), style.SIDE_FULL, style.TOP, style.BOTTOM)
        assert not outside, outside[0]
    return document


def texts(document: Document, role: str) -> list[str]:
    return [item.text for page in document.pages for item in page.items if isinstance(item, Text) and item.role == role]


def words(document: Document, role: str) -> list[str]:
    return " ".join(texts(document, role)).split()


@pytest.mark.slow
@pytest.mark.parametrize("paper", [A4, LETTER])
def test_a_roadmap_of_hundreds_of_steps_goes_on_over_the_next_pages(paper: Paper) -> None:
    lanterns = songs.lanterns()
    steps = [Step(number % 5, remark=f"time {number}") for number in range(600)]
    document = laid(replace(lanterns, roadmap=tuple(steps)), paper)
    assert len(texts(document, "roadmap")) == 600
    assert sum(len(page.links) for page in document.pages) == 600
    assert document.pages[1].links and texts(document, "next")


@pytest.mark.parametrize("hands", HANDS)
def test_dozens_of_verses_are_divided_under_the_same_chords(hands: Hands) -> None:
    verses = [f"verse {number} is | sung to the | end of its | line" for number in range(1, 91)]
    song = songs.song("Many", [songs.section("Verse", "C", [("| C | F | G | C |", *verses)])])
    document = laid(song, hands=hands)
    assert texts(document, "verse") == [f"{number}." for number in range(1, 91)]
    chords = texts(document, "chord")
    assert len(chords) % 4 == 0 and len(chords) > 4
    lines = {
        (number, item.y)
        for number, page in enumerate(document.pages)
        for item in page.items
        if isinstance(item, Text) and item.role == "bar number"
    }
    assert len(lines) == len(chords) // 4


@pytest.mark.slow
def test_cues_names_and_rights_without_end_stand_across_the_page() -> None:
    lanterns = songs.lanterns()
    verse = lanterns.sections[1]
    rows = (replace(verse.rows[0], cues=(Fact(VERY_LONG), Fact("drums in"))), *verse.rows[1:])
    verse = replace(
        verse, rows=rows, name=VERY_LONG.strip(), pickup=Fact(VERY_LONG), closing_cues=(Fact(VERY_LONG),) * 3
    )
    sections = (lanterns.sections[0], verse, *lanterns.sections[2:])
    document = laid(replace(lanterns, sections=sections, rights=Fact(VERY_LONG), title=Fact(VERY_LONG)))
    assert words(document, "rights") == VERY_LONG.split()
    assert words(document, "title") == VERY_LONG.split()
    cues = " ".join(words(document, "cue"))
    assert cues.count(VERY_LONG.strip()) == 4 and "drums in" in cues
    assert VERY_LONG.strip() in " ".join(words(document, "section"))


def test_words_wider_than_a_line_are_broken_and_none_is_lost() -> None:
    word = "Llanfair" * 40
    song = songs.song("Wide", [songs.section("A", "C", [("| C | F |", f"{word} | {word}")])])
    assert "".join(texts(laid(song), "words")) == word * 2


@pytest.mark.slow
def test_six_chords_in_a_bar_and_forty_sections() -> None:
    row = ("| F#m7b5 B7alt/D# Em6/9 C#7alt F#7sus4 Bmaj7/F# | C#m11 F#13 Bmaj7 G#m7 C#7 F#7 |",)
    made = [songs.section(f"Part {number}", "E", [row]) for number in range(40)]
    document = laid(songs.song("Long", made), verses="apart")
    assert len(document.bookmarks) == 40
    assert [mark.title for mark in laid(songs.song("Long", made)).bookmarks] == ["Part 0", "Part 1–39"]


def test_a_song_of_one_chord_has_a_page() -> None:
    document = laid(songs.song("One", [songs.section("A", "C", [("| C | rest |",)])]))
    assert len(document.pages) == 1
