"""Find what is what in the text of a song, for the page to colour. Places are the song's own.

What stands where follows from the first word of a line, by THE table of line words (`song.song_lines`). A line that is
not understood has no colours: what is wrong with it is told beside the text.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterator
from typing import Literal

from arranger.song.song_lines import NOTE_ROWS, WORDS
from arranger.text.source import Source, Span

Colour = Literal["remark", "word", "name", "bar", "chord", "note"]

_REMARK = re.compile(r"\s*#.*")
_FIRST = re.compile(r"\s*([^\W\d_]+)(?=[\s|]|$)")
_BAR = re.compile(r":?\|+:?|%")
_CHORD = re.compile(r"(?<![^\s|:(<])[A-G][^\s|]*")
_NOTE = re.compile(r"(?<![^\s|])[A-G](?:##?|bb?)?[0-9]\b")
NAMED = ("song", "section", "like", "set", "break")


def colours(source: Source, words: Container[str] = WORDS) -> Iterator[tuple[Span, Colour]]:
    """Yield the stretches of a text that have a colour, in order; `words` are those that begin its lines."""
    for line in range(1, source.line_count + 1):
        whole = source.line_span(line)
        for start, end, colour in _of_line(source[whole], words):
            yield Span(whole.start + start, whole.start + end), colour


def _of_line(text: str, words: Container[str]) -> Iterator[tuple[int, int, Colour]]:
    if _REMARK.fullmatch(text):
        yield 0, len(text), "remark"
        return
    if text.lstrip().startswith(("|", ":|")):
        yield from sorted((*_found(_BAR, text, 0, "bar"), *_found(_CHORD, text, 0, "chord")))
        return
    first = _FIRST.match(text)
    if first is None or first[1].lower() not in words:
        return
    word = first[1].lower()
    yield *first.span(1), "word"
    if word in NAMED:
        start = len(text) - len(text[first.end() :].lstrip())
        yield start, len(text.rstrip()), "name"
    elif word == "sing" or word in NOTE_ROWS:
        notes = () if word == "sing" else _found(_NOTE, text, first.end(), "note")
        yield from sorted((*_found(_BAR, text, first.end(), "bar"), *notes))


def _found(what: re.Pattern[str], text: str, since: int, colour: Colour) -> tuple[tuple[int, int, Colour], ...]:
    return tuple((*match.span(), colour) for match in what.finditer(text, since))
