"""Running orders: `NAME.set.txt`. Takes a source; gives the facts of the set and its songs and breaks in order.

Lines are read as those of songs are, and the facts under a song by the same readers. The songs' own files are not
looked at here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from arranger.song.facts import Line, read_text
from arranger.song.lines import ROW, SHARED_WORDS, SONG_WORDS, read_line
from arranger.song.model import Text
from arranger.song.read import controls
from arranger.song.sections import Draft
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.problems import MOST_ERRORS, EnoughError, Problems, shown
from arranger.text.source import Source, Span

SET_WORDS = ("set", "date", "song", "break")
FACTS = frozenset((*SONG_WORDS, *SHARED_WORDS)) - {"song"}  # what can be said of one song for one evening
WORDS = FACTS | {*SET_WORDS}
SONG_ENDING = ".song.txt"


@dataclass(frozen=True, slots=True)
class SetSong:
    """A song of a set: its file as named, what is different on this occasion, and its `roadmap` lines as they stand."""

    file: Text
    facts: Mapping[str, Any]
    roadmap: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class SetBreak:
    """Something between songs, in plain words."""

    text: Text


@dataclass(frozen=True, slots=True)
class SetLines:
    """A running order as written."""

    title: Text
    date: Text | None
    entries: tuple[SetSong | SetBreak, ...]


@dataclass(slots=True)
class _Entry:
    """A song with the lines under it. Mutable; lives in `read_set` only."""

    file: Text
    draft: Draft
    roadmap: list[Line] = field(default_factory=list)

    def done(self) -> SetSong:
        return SetSong(self.file, self.draft.facts, tuple(self.roadmap))


def read_set(source: Source) -> tuple[SetLines | None, tuple[Diagnostic, ...]]:
    """Read a running order.

    Gives it, or None if any diagnostic is an error; and all diagnostics in the order of their places.
    """
    refused = controls(source)
    if refused:
        return None, refused
    problems = Problems()
    try:
        found = _read(source, problems)
    except EnoughError:
        message = f"expected a running order, found {MOST_ERRORS} errors; the rest of the file was not read"
        return None, (*problems.all(), error("too-many-errors", message, None, "mend the first ones and try again"))
    return (None if problems.errors else found), problems.all()


def _read(source: Source, problems: Problems) -> SetLines:
    head = Draft("", Span(0, 0))
    entries: list[_Entry | SetBreak] = []

    def unknown(body: str, span: Span) -> Line | None:
        near = problems.nearest(body.split()[0], sorted(WORDS))
        problems.error(
            "unknown-word",
            f"expected a word that says what the line is, found {shown(body.split()[0])}",
            Span(span.start, span.start + len(body.split()[0])),
            f"did you mean `{near[0]}`?" if near else "",
            "a running order has lines that begin with `set`, `date`, `song`, `break`, and facts under a song",
        )
        return None

    start = 0
    for text in source.text.split("\n"):
        line = read_line(text, start, WORDS, unknown, problems) if text.strip() else None
        start += len(text) + 1
        if line is not None:
            _take(line, head, entries, problems)
    if "set" not in head.spans:
        end = Span(0, min(1, len(source.text)))
        problems.error("missing-set", "expected the name of the set, found none", end, "begin the file with `set`")
    title = head.facts.get("set", Text(""))
    done = tuple(entry.done() if isinstance(entry, _Entry) else entry for entry in entries)
    return SetLines(title, head.facts.get("date"), done)


def _take(line: Line, head: Draft, entries: list[_Entry | SetBreak], problems: Problems) -> None:
    """Put a line where it belongs."""
    last = entries[-1] if entries else None
    if line.word in ("set", "date"):
        head.take_fact(line, problems)
    elif line.word == "break":
        words = read_text(line, problems)
        if words is not None:
            entries.append(SetBreak(words))
    elif line.word == "song":
        entries.append(_Entry(Text(line.text, line.span), Draft(line.text, line.span)))
        if not line.text.lower().endswith(SONG_ENDING):
            problems.error(
                "set-song",
                f"expected the file of a song, found {shown(line.text) if line.text else 'nothing'}",
                line.span,
                f"write the name of its file: `song {line.text.lower() or 'small boats'}{SONG_ENDING}`",
            )
    elif line.word == ROW:
        problems.error(
            "set-line",
            f"expected a fact of a song, found the row {shown(line.text)}",
            line.span,
            "rows of chords stand in the song's own file",
        )
    elif not isinstance(last, _Entry):
        problems.error(
            "set-line",
            f"expected `song` and a file above `{line.word}`",
            line.span,
            "facts of a song stand under its line",
        )
    elif line.word == "roadmap":
        last.roadmap.append(line)
    else:
        last.draft.take_fact(line, problems)
