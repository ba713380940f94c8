"""grammar/song.lark as something to learn from: the examples in its comments are the notation, and none is missing."""

from __future__ import annotations

import re

import pytest

from arranger.resources import grammar_text
from arranger.song import grammar
from arranger.song.cells import Cell, chord_row
from arranger.song.read import read
from arranger.song.song_lines import NOTE_ROWS, READERS, WORDS
from arranger.text.source import Source

LINES = grammar_text("song.lark").splitlines()
WHOLE = "\n".join(line[7:] for line in LINES if line.startswith("//     ") or line == "//")
SECTIONS = ("Intro", "Verse 1", "Chorus", "Vamp")
# An example begins with a word of the notation, or as a row of chords does; three blanks or more stand after it.
EXAMPLE = re.compile(rf"(?:\||(?:{'|'.join(WORDS)}) ).+")
FIRST_RULE = next(number for number, line in enumerate(LINES) if line.startswith("// ----"))
COMMENTS = [line.removeprefix("// ") for line in LINES[FIRST_RULE:] if line.startswith("// ")]
EXAMPLES = [part.strip() for line in COMMENTS for part in line.split("   ") if EXAMPLE.fullmatch(part.strip())]


def said(text: str) -> list[str]:
    return [one.message for one in read(Source.of("a.song.txt", text))[1]]


def test_the_song_at_the_head_is_read() -> None:
    assert len(WHOLE.splitlines()) > 12
    assert said(WHOLE) == []


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_is_read(example: str) -> None:
    word = example.split()[0]
    head = "song A\nkey D\n" if word != "key" else "song A\n"
    others = "\n".join(f"section {name}\n{'| D ' * 4}" for name in SECTIONS)
    if word.startswith("|"):
        text = f"{head}section A\n{'' if 'short' in example else '| D | G |'}\n{example}"
    elif word == "sing" or word in NOTE_ROWS:
        text = f"{head}section A\n{'| D G A D ' * 4}|\n{example}"
    elif word == "drone":
        text = f"{head}section A\n{example}\n| D | G |"
    elif word == "capo":
        text = f"song A\nkey D\n{example}\nsection A\n| C |"
    else:
        assert word == "roadmap" or word in READERS
        text = f"{head}{example}\n{others}"
    assert said(text) == [], text


def test_there_is_an_example_of_every_rule_and_every_fact() -> None:
    facts = set(WORDS) - {"song", "section"}
    told = {example.split()[0] for example in EXAMPLES} | {
        word for word in facts if f"`{word}`" in grammar_text("song.lark")
    }
    assert facts <= told
    rules = [n for n, line in enumerate(LINES) if re.match(r"[a-z]+:", line)]
    assert len(rules) >= len(grammar.STARTS["song.lark"])
    uncommented = {"unknown", "group", "tones", "words"}
    for number in rules:
        name = LINES[number].partition(":")[0]
        assert name in uncommented or LINES[number - 1].startswith("// "), name


@pytest.mark.parametrize(
    "word", ["restless", "holding", "NCX", "N.C.s", "shorter", "//", "%%", "3/4x", "rest)", "short", "D)", "(D E)"]
)
def test_a_word_ends_where_its_mark_ends(word: str) -> None:
    """The lexer goes by priority and not by the longest match: `rest` is not found in `restless`."""
    (_, cell, _) = chord_row(f"| {word} |")
    assert isinstance(cell, Cell)
    assert [bad.text for _, bad in cell.bad] == [word]


def test_blanks_never_join_marks() -> None:
    for row, marks in (("| C /E |", ["C"]), ("| G= BDG |", ["G"]), ("| < G |", ["G"]), ("| C maj7 |", ["C"])):
        (_, cell, _) = chord_row(row)
        assert isinstance(cell, Cell)
        assert [mark.word.written for mark in cell.marks if mark.word] == marks, row
        assert len(cell.marks) == 2 and len(cell.bad) == 1, row


def test_a_row_of_mistakes_is_still_a_row_and_all_of_them_are_told() -> None:
    (_, first, _, last, _) = chord_row("| D x (E F) | hold G=H short |")
    assert isinstance(first, Cell) and isinstance(last, Cell)
    assert [bad.text for _, bad in first.bad] == ["x", "(E F)"]
    assert [bad.trouble for _, bad in last.bad] == ["manner-without-chord", "bad-chord", "bad-short"]
