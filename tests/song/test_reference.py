"""The reference for musicians, grammar/README.md: every example is read, every word of the notation is told."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from arranger.habits.signs import with_own_signs
from arranger.pipeline import Wishes, to_arrangement
from arranger.song.cells import ChordWord, read_mark
from arranger.song.read import read
from arranger.song.running_order import ORDER_WORDS, read_onward, read_order
from arranger.song.song_line import SongLine
from arranger.song.song_lines import SONG_WORDS, WORDS
from arranger.song.tonight import song_tonight
from arranger.text.problems import Problems
from arranger.text.source import Source, Span
from tests.song.pages import GRAMMAR, blocks

PAGE = (GRAMMAR / "README.md").read_text(encoding="utf-8")
SECTIONS = "section Intro\n| D |\nsection Verse\n{}\nsection Chorus\n| G |\nsection Vamp\n| A |\n"
EIGHT = "| D | G | A | D |\n| D | G | A | D |"


def said(text: str) -> list[str]:
    return [f"{one.code}: {one.message}" for one in read(Source.of("a.song.txt", text))[1]]


def tables() -> Iterator[tuple[str, list[str]]]:
    """Give the rows of all tables, each with the first heading of its table."""
    heading = ""
    for line in PAGE.splitlines():
        if not line.startswith("|"):
            heading = ""
            continue
        cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        if not heading:
            heading = cells[0]
        elif not set(line) <= set("|- "):
            yield heading, cells


def spans(cell: str) -> list[str]:
    return [span.replace("\\|", "|") for span in re.findall(r"`([^`]+)`", cell)]


FACTS = [(cells[0].strip("`"), span) for heading, cells in tables() if heading == "line" for span in spans(cells[-1])]
CHORDS = [span for heading, cells in tables() if heading == "kind" for span in spans(cells[1])]
WRITTEN = [span for heading, cells in tables() if heading == "you write" for span in spans(cells[0])]


@pytest.mark.parametrize(("language", "text"), [one for one in blocks(PAGE) if one[0] == "set"])
def test_running_orders(language: str, text: str) -> None:
    order, problems = read_order(Source.of("a.set.txt", text))
    assert problems == ()
    for one in order.songs:
        path = GRAMMAR.parent / "samples" / one.file
        song, _ = read(Source.of(one.file, path.read_text(encoding="utf-8")))
        assert song is not None
        tonight, wrong = song_tonight(song, one.facts)
        assert tonight is not None and wrong == ()


def test_every_word_of_running_orders_is_told() -> None:
    part = PAGE.split("## Running orders")[1].split("\n## ")[0]
    assert {word for word in ORDER_WORDS if f"`{word}`" in part} == set(ORDER_WORDS)
    for way in ("attacca", "pad", "talk 30 s", "stop", "chords Em A7"):
        assert f"`then {way}`" in part
        line = SongLine("then", way, Span(0, len(way)))
        assert read_onward(line, Problems()) is not None


@pytest.mark.parametrize(("language", "text"), [one for one in blocks(PAGE) if one[0] != "set"])
def test_blocks(language: str, text: str) -> None:
    assert language == "song"
    song, problems = read(Source.of("a.song.txt", text))
    assert song is not None and problems == ()
    arrangement, problems = to_arrangement(song, Wishes(figures=False))
    assert arrangement is not None
    assert [one for one in problems if one.severity == "error"] == []


@pytest.mark.parametrize(("word", "line"), [f for f in FACTS if " " in f[1]])
def test_facts_of_the_tables(word: str, line: str) -> None:
    first = line.split()[0]
    key = "" if word == "key" else "key D\n"
    head = "" if first == "song" else "song Small Boats\n"
    if first == "roadmap":
        text = f"{head}{key}{line}\n{SECTIONS.format(EIGHT)}".replace("section Intro\n| D |\n", "").replace(
            "section Vamp\n| A |\n", ""
        )
    elif first == "capo":
        text = f"{head}key D\n{line}\nsection Verse\n| C |\n"
    elif first in SONG_WORDS or not key:
        text = f"{head}{key}{line}\nsection Verse\n| D |\n"
    elif first == "like":
        text = f"{head}{key}section Verse 1\n| D |\nsection Verse 2\n{line}\n"
    else:
        text = f"{head}{key}section Verse\n{line}\n| D |\n"
    assert [one for one in said(text) if not one.startswith("against-the-key")] == []


@pytest.mark.parametrize("spelling", CHORDS)
def test_chords_of_the_table(spelling: str) -> None:
    assert isinstance(read_mark(with_own_signs(spelling)), ChordWord)


@pytest.mark.parametrize("written", WRITTEN)
def test_what_the_tables_say_you_write(written: str) -> None:
    head = "song Small Boats\nkey D\n"
    if written.split()[0] in ("Chorus", "Verse", "Vamp"):
        text = f"{head}roadmap Intro, Verse, Chorus, Vamp, {written}\n{SECTIONS.format(EIGHT)}"
    elif written.startswith("|"):
        text = f"{head}section Verse\n| D |\n{written if written != '||' else '| D || G |'}\n"
    elif written.startswith("short"):
        text = f"{head}section Verse\n| {written} | D |\n"
    else:
        text = f"{head}section Verse\n| D | {written} |\n"
    assert said(text) == []


def test_the_tables_are_found() -> None:
    assert len(FACTS) > 25 and len(CHORDS) > 60 and len(WRITTEN) > 25


@pytest.mark.parametrize("word", sorted(WORDS))
def test_every_word_of_the_notation_is_told(word: str) -> None:
    assert f"`{word}`" in PAGE
    assert word == "cue" or re.search(rf"^{word}\b", "\n".join(text for _, text in blocks(PAGE)), re.MULTILINE)
