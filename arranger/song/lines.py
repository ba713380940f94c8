"""The lines of a file. Takes the source; gives the header's and the sections' lines, each with the word that begins it.

A line that no word begins is told here, with what it most likely is; where that is a section or a row, reading goes on
as if it had been written so, and one slip is one message.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from arranger.habits.signs import with_own_signs
from arranger.habits.unknown_lines import SECTION_NAMES, Notation, unknown_line
from arranger.song.cells import is_chord, is_mark
from arranger.song.facts import Line
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Source, Span

LONGEST_LINE = 4000  # characters; a longer one is no line of a song
MOST_SECTIONS = 1000

ROW = "|"  # stands for the word of a row of chords
BROKEN_ROW = "broken row"  # a row of chords that was told already: what belongs to it is passed over
NOTE_ROWS = ("octave", "hook", "tune")
SONG_WORDS = ("song", "words", "music", "rights", "feel", "capo", "band", "start", "roadmap", "language", "copyist")
SHARED_WORDS = ("key", "meter", "tempo", "sound", "play", "dynamic", "suspensions", "octaves")
SECTION_WORDS = ("like", "tacet", "pickup", "cue", "sing", *NOTE_ROWS)
WORDS = frozenset(("section", *SONG_WORDS, *SHARED_WORDS, *SECTION_WORDS))

_FIRST_WORD = re.compile(r"([^\W\d_]+)(?=[\s|:=]|$)")
_INDENTED = 20  # characters in which a remark's sign is looked for


@dataclass(slots=True)
class SectionLines:
    """A section's name with its place, and its lines. Filled while the file is read."""

    name: str
    span: Span
    lines: list[Line] = field(default_factory=list)


@dataclass(slots=True)
class FileLines:
    """The lines before the first section, and the sections. Filled while the file is read."""

    header: list[Line] = field(default_factory=list)
    sections: list[SectionLines] = field(default_factory=list)
    titled: bool = False  # a line that is likely the title was told


def split_lines(source: Source, problems: Problems) -> FileLines:
    """Sort a file's lines into the header and the sections."""
    found = FileLines()

    def unknown(body: str, span: Span) -> Line | None:
        return _unknown(body, span, found, problems)

    start = 0
    heading: Span | None = None  # of a remark just above that looks like a section's name
    for text in source.text.split("\n"):
        line = read_line(text, start, WORDS, unknown, problems) if text and not text.isspace() else None
        if line is None:
            heading = _heading(text, start) or heading
        start += len(text) + 1
        if line is None:
            continue
        if heading is not None and line.word == ROW:
            name = source[heading].lstrip("# \t").rstrip(": \t")
            problems.warning(
                "section-in-remark",
                f"expected `section` before the name of a section, found the remark {shown(source[heading])}",
                heading,
                f"write `section {name}` if a section starts here; a line that begins with `#` is only a remark",
            )
        heading = None
        if line.word != "section":
            (found.sections[-1].lines if found.sections else found.header).append(line)
            continue
        if len(found.sections) == MOST_SECTIONS:
            problems.error("too-many-sections", f"expected {MOST_SECTIONS} sections at most", line.span)
            break
        found.sections.append(SectionLines(line.text, line.span))
    return found


_HEADING = re.compile(r"\s*(#+[ \t]*([^\W\d_-]+)(?:[ \t]*[0-9]{1,2})?[ \t]*:?)\s*")


def _heading(text: str, start: int) -> Span | None:
    """Return whether a remark is no more than what sections are called."""
    match = _HEADING.fullmatch(text) if "#" in text[:_INDENTED] else None
    if match is None or match[2].casefold() not in SECTION_NAMES:
        return None
    return Span(start + match.start(1), start + match.end(1))


def read_line(
    text: str, start: int, words: frozenset[str], unknown: Callable[[str, Span], Line | None], problems: Problems
) -> Line | None:
    """Return what a line is; None for a remark and for what cannot be read.

    Args:
        text: the line, not empty and not of blanks alone.
        start: where it starts in the file.
        words: those that can begin it.
        unknown: takes a line that none of them begins, with its place.
        problems: takes what is wrong.
    """
    body = text.strip()
    if text[0] != body[0]:
        start += len(text) - len(text.lstrip())
    first = body[0]
    if first == "#":
        return None
    whole = Span(start, start + len(body))
    if len(text) > LONGEST_LINE:
        problems.error(
            "line-too-long",
            f"expected {LONGEST_LINE} characters at most in a line, found {len(text)}",
            Span(start, start + 1),
            "set the rest on a line of its own",
        )
        return None
    if first == "|" or (not first.isalpha() and with_own_signs(body[:2]).startswith(("|", ":|"))):
        return Line(ROW, body, whole)
    match = _FIRST_WORD.match(body)
    word = match[1].casefold() if match else ""
    if match is None or word not in words:
        return unknown(body, whole)
    rest = body[match.end() :]
    value = rest.lstrip()
    if value[:1] in (":", "="):
        value = value[1:].lstrip()
        problems.error(
            "colon-after-word",
            f"expected a space after {shown(word)}, found {shown(rest.lstrip()[0])}",
            Span(whole.start + len(body) - len(rest.lstrip()), whole.start + len(body) - len(rest.lstrip()) + 1),
            f"write `{word} {' '.join(value.split())[:40]}`".rstrip(),
            fix=Fix(Span(whole.start + match.end(), whole.end - len(value)), " " if value else ""),
        )
    return Line(word, value, Span(whole.end - len(value), whole.end))


def _unknown(body: str, span: Span, found: FileLines, problems: Problems) -> Line | None:
    """Report a line that no known word begins; return what it is taken for."""
    lines = found.sections[-1].lines if found.sections else found.header
    above = lines[-1].word if lines else ""
    notation = Notation(is_chord, is_mark, WORDS)
    taken = unknown_line(body, span, bool(found.sections), ROW if above == BROKEN_ROW else above, notation, problems)
    if taken is None or taken.word == "song":
        found.titled = found.titled or taken is not None
        return None
    return Line(BROKEN_ROW if taken.word == ROW else taken.word, taken.text, taken.span)
