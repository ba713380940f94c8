"""Short songs for the tests of reading."""

from __future__ import annotations

from arranger.song.model import Bar, Row, Section, Song
from arranger.song.read import read
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import Source

HEAD = "song Test\nkey C\n"


def problems(text: str, head: str = HEAD) -> tuple[Diagnostic, ...]:
    """Read a text under a plain header; give what was said."""
    return read(Source.of("test.song.txt", head + text))[1]


def codes(text: str, head: str = HEAD) -> list[str]:
    """Give the codes of what was said."""
    return [d.code for d in problems(text, head)]


def song(text: str, head: str = HEAD) -> Song:
    """Read a text that has no error."""
    found, said = read(Source.of("test.song.txt", head + text))
    assert found is not None, said
    return found


def section(text: str, head: str = HEAD) -> Section:
    """Read the lines of one section."""
    return song("section One\n" + text, head).sections[0]


def row(text: str, head: str = HEAD) -> Row:
    """Read one row and what belongs to it."""
    (found,) = section(text, head).rows
    return found


def bars(text: str, head: str = HEAD) -> tuple[Bar, ...]:
    """Read the bars of one section's rows."""
    return section(text, head).bars


def names(bar: Bar) -> list[str]:
    """Give the marks of a bar as words."""
    return [str(mark.chord.chord) if mark.chord else mark.kind for mark in bar.marks]
