"""The finished tables of the parsers: those of these grammars, and another lark or grammar does without them."""

from __future__ import annotations

import pytest

from arranger.song import grammar
from tests.song import tables

TEXTS = [
    ("key", "F#m"),
    ("tempo", "dotted 60"),
    ("sound", "piano + pad / strings"),
    ("roadmap", "Verse 1 (soft), Chorus"),
]
CHORDS = ["F#mi7(b5)/C", "<(Am7)=ACE", "Gsus4(9)", "Cx", "C7alt", "Ebma9#11"]


def test_the_file_is_what_the_grammars_make() -> None:
    assert tables.FILE.read_text(encoding="utf-8") == tables.text(), "run `python -m tests.song.tables`"


@pytest.fixture
def built(monkeypatch):
    """Let parsers be built from the grammars, as another lark than that of the tables does."""

    def forget() -> None:
        for known in (grammar._song_parser, grammar._chord_parser, grammar.parse_line, grammar.parse_whole_chord):
            known.cache_clear()

    monkeypatch.setattr(grammar, "lark_release", "1.3.999")
    forget()
    yield
    forget()


def parsed() -> list[object]:
    return [grammar.parse_line(*text) for text in TEXTS] + [grammar.parse_whole_chord(text) for text in CHORDS]


finished = parsed()


def test_another_lark_builds_the_same_parsers(built) -> None:
    assert grammar._song_parser().source_path != "<deserialized>"
    assert parsed() == finished


def test_the_tables_are_used() -> None:
    assert grammar._song_parser().source_path == grammar._chord_parser().source_path == "<deserialized>"
