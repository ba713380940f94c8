"""Lay out a song's file in the house style, without changing what it says.

What a line says stays to the letter: titles, chords, words, cues, remarks, the order of all lines. What carries no
meaning is set in order: words that begin lines are small, their facts stand in one column, the barlines of a row stand
over those of the words and notes below it, and one blank line parts the sections.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from arranger.habits.signs import with_own_signs
from arranger.song.cells import Barline, chord_row
from arranger.song.sections import WIDE_BAR
from arranger.song.song_line import SongLine
from arranger.song.song_lines import NOTE_ROWS, ROW, split_lines
from arranger.song.words_and_notes import BLANKS, BarUnder, note_row, sung_row
from arranger.text.diagnostics import columns
from arranger.text.problems import Problems
from arranger.text.source import Source

FACTS_AT = 10  # the column of facts: after the longest word that is common, `section` or `roadmap`, and some air
WIDEST = 160  # columns of rows whose barlines are lined up; wider ones only look torn on any screen
LONGEST = 3000  # characters of a line that is touched: none must grow beyond what a line may have

_TIMES = re.compile(r"[ \t]*[xX×][ \t]*([0-9]+)")


@dataclass(frozen=True, slots=True)
class _Row:
    """A row taken apart: its line's place among the lines, and its barlines with what follows each."""

    index: int
    chunks: tuple[str, ...]
    end: str


def tidied(source: Source) -> str:
    """Lay a song's text out in the house style; the Song that it makes stays the same, and doing it twice is no other.

    Args:
        source: reads without errors.
    """
    raw = source.text.split("\n")
    known = _known_lines(source)
    lines = [_line(text, known.get(index)) for index, text in enumerate(raw)]
    for block in _blocks(known):
        if all(len(raw[index]) <= LONGEST for index, _ in block):
            for index, text in _aligned([_taken_apart(index, line) for index, line in block]):
                lines[index] = text
        else:
            for index, _ in block:
                lines[index] = raw[index].strip()
    starts = {index for index, line in known.items() if line.word == "section"}
    return "\n".join(_parted(lines, starts)) + "\n"


def _known_lines(source: Source) -> dict[int, SongLine]:
    """Return the lines that say something by their place, sections as lines of the word `section`."""
    found = split_lines(source, Problems())
    lines = [*found.header]
    for section in found.sections:
        lines += [SongLine("section", section.name, section.span), *section.lines]
    return {source.line_column(line.span.start)[0] - 1: line for line in lines}


def _line(text: str, line: SongLine | None) -> str:
    """Set a fact; remarks stay as they are."""
    if line is None:
        return text.rstrip() if text.strip() else ""
    gap = " " * max(1, FACTS_AT - len(line.word))
    return f"{line.word}{gap}{line.text}".rstrip()


def _blocks(known: dict[int, SongLine]) -> list[list[tuple[int, SongLine]]]:
    """Gather each row of chords with the rows below it; rows of words that follow each other without chords, too."""
    blocks: list[list[tuple[int, SongLine]]] = []
    for index, line in known.items():
        if line.word == ROW:
            blocks.append([(index, line)])
        elif line.word == "section":
            blocks.append([])
        elif line.word == "sing" or line.word in NOTE_ROWS:
            blocks[-1].append((index, line))
    return [block for block in blocks if block]


def _taken_apart(index: int, line: SongLine) -> _Row:
    if line.word == ROW:
        return _chord_row(index, line)
    if line.word == "sing":
        texts = _bar_texts(line, sung_row(line.text.translate(WIDE_BAR)))
        cells = [text.strip(BLANKS) for text in texts]
    else:
        texts = _bar_texts(line, note_row(with_own_signs(line.text)))
        cells = [" ".join(text.split()) for text in texts]
    chunks = [f"| {cell}".rstrip() for cell in cells] or ["|"]
    return _Row(index, (f"{line.word} {chunks[0]}", *chunks[1:]), "|" if cells else "")


def _bar_texts(line: SongLine, bars: Sequence[BarUnder[Any]]) -> list[str]:
    return [line.text[bar.start : bar.end] for bar in bars if bar.start < bar.end]


def _chord_row(index: int, line: SongLine) -> _Row:
    chunks: list[str] = []
    bar = ""
    text = with_own_signs(line.text)
    for part in chord_row(text):
        if isinstance(part, Barline):
            sign = _TIMES.sub(r" x\1", " ".join(text[part.start : part.end].split()))
            bar = f"{bar} {sign}".strip()
        else:
            marks = [line.text[start:end] for start, end in part.pieces]
            chunks.append(f"{bar} {' '.join(marks)}")
            bar = ""
    return _Row(index, tuple(chunks), bar or "|")


def _aligned(rows: Sequence[_Row]) -> list[tuple[int, str]]:
    """Set the barlines of rows under each other."""
    widths = [
        max(columns(row.chunks[column]) for row in rows if column < len(row.chunks))
        for column in range(max(len(row.chunks) for row in rows))
    ]
    if sum(widths) + len(widths) > WIDEST:
        return [(row.index, " ".join((*row.chunks, row.end)).rstrip()) for row in rows]
    return [
        (
            row.index,
            " ".join(
                [c + " " * (w - columns(c)) for c, w in zip(row.chunks, widths, strict=False)] + [row.end]
            ).rstrip(),
        )
        for row in rows
    ]


def _parted(lines: Sequence[str], starts: set[int]) -> list[str]:
    """Set one blank line before each section (and before remarks that stand over it), and no two anywhere."""
    found: list[str] = []
    for index, text in enumerate(lines):
        if index in starts and found:
            above = len(found)
            while above and found[above - 1].lstrip().startswith("#"):
                above -= 1
            if above and found[-1] and (above == len(found) or found[above - 1]):
                found.append("")
        if text or (found and found[-1]):
            found.append(text)
    while found and not found[-1]:
        found.pop()
    return found
