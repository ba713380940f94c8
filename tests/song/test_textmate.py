"""The grammar for editors: made of the same terminals, and it colours what the reader understands."""

from __future__ import annotations

import json
import re

import pytest

from arranger.song.cells import ChordWord, read_mark
from arranger.song.song_lines import WORDS
from tests.song import textmate
from tests.song.pages import GRAMMAR, blocks
from tests.song.test_chords import SPELLINGS

MADE = json.loads(textmate.FILE.read_text(encoding="utf-8"))
RULES = MADE["repository"]
SONGS = [text for kind, text in blocks((GRAMMAR / "README.md").read_text(encoding="utf-8")) if kind == "song"]


def test_the_file_is_what_the_grammars_make() -> None:
    assert textmate.FILE.read_text(encoding="utf-8") == textmate.text(), "run `python -m tests.song.textmate`"


def test_every_word_that_begins_a_line_is_there() -> None:
    assert textmate.first_words(MADE) == set(WORDS)


@pytest.mark.parametrize("name", [n for n, r in RULES.items() if "match" in r])
def test_every_pattern_can_be_used(name: str) -> None:
    assert re.compile(RULES[name]["match"])


def test_every_rule_that_is_named_exists() -> None:
    named = set(re.findall(r'"#(\w+)"', json.dumps(MADE)))
    assert named == set(RULES)


def test_chords_are_those_of_the_notation() -> None:
    chord = re.compile(RULES["chord"]["match"])
    for spellings in SPELLINGS.values():
        for suffix in spellings.split():
            if "=" in suffix:
                continue
            for mark in (f"C{suffix}".replace("'", ""), f"<Bb{suffix}/F#=A3DF#".replace("'", "")):
                assert isinstance(read_mark(mark), ChordWord)
                found = chord.search(f"| {mark} |")
                assert found and found[0] == mark, mark
    for mark in ("am", "H", "Cx", "D,", "rest", "hold", "N.C.", "/", "%", "Dmja7", "D/f#"):
        assert not chord.search(f"| {mark} |"), mark


@pytest.mark.parametrize("text", SONGS)
def test_every_line_of_the_reference_has_a_rule(text: str) -> None:
    starts = [RULES[r["include"][1:]] for r in MADE["patterns"]]
    for line in filter(str.strip, text.splitlines()):
        assert any(re.match(r.get("begin") or r["match"], line) for r in starts), line


@pytest.mark.parametrize("text", SONGS)
def test_nothing_in_a_row_of_chords_is_left_without_colour(text: str) -> None:
    inside = [RULES[r["include"][1:]]["match"] for r in RULES["row"]["patterns"]]
    anything = re.compile("|".join(f"(?:{p})" for p in inside))
    for line in text.splitlines():
        if line.startswith("|"):
            assert not anything.sub("", line).strip(), line
