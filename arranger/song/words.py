"""Rows of sung words. Takes the bars of a `sing` row; gives pieces of words, each at its chord.

A bar's text is understood without its bar (equal texts once a process), then laid against the chords of the bar.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from arranger.song.cells import Places
from arranger.song.grammar import REMEMBERED, Piece
from arranger.song.model import BarWords, SungLine
from arranger.song.model import Piece as SungPiece
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.text.source import Span

ESCAPED = "|*-_\\"  # what a backslash makes plain
_NUMBERED = re.compile(r"[0-9]{1,2}[.):]?(?=\s|$)")
BLANKS = " \t\u00a0\u3000"


@dataclass(frozen=True, slots=True)
class Segment:
    """Text between two chord marks: plain text, its place in the bar's text, and whether it goes on inside a word.

    `plain` are the places in the plain text of underscores that hold no syllable.
    """

    text: str
    glued: bool
    start: int
    end: int
    plain: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class WordsCell:
    """A bar's text taken apart. `bad_escapes` are places of backslashes before characters that need none."""

    segments: tuple[Segment, ...]
    joins: bool
    start: int
    end: int
    bad_escapes: tuple[int, ...] = ()


@lru_cache(maxsize=REMEMBERED)
def read_words(text: str) -> WordsCell:
    """Take the text of one bar apart: `came * in to`, `lan*terns`, `one a-`."""
    start, end = len(text) - len(text.lstrip(BLANKS)), len(text.rstrip(BLANKS))
    if start >= end:
        return WordsCell((), False, len(text), len(text))
    stop, joins = end, False
    if text[end - 1] == "-" and _is_plain(text, end - 1) and (end - 1 == start or text[end - 2] not in BLANKS):
        joins, stop = True, end - 1
    cuts = [start, *_marks(text, start, stop), stop]
    segments = []
    bad: list[int] = []
    for index, (here, there) in enumerate(pairwise(cuts)):
        first = here + 1 if index else here
        glued = bool(index) and first < there and text[first] not in BLANKS and _in_word(text, here, start)
        segments.append(_segment(text, first, there, glued, bad))
    while len(segments) > 1 and not segments[-1].text:  # a chord after the last word has its place there anyway
        segments.pop()
    if len(segments) == 1 and not segments[0].text:
        segments = []
    return WordsCell(tuple(segments), joins, start, end, tuple(bad))


def _is_plain(text: str, at: int) -> bool:
    """Return whether no backslash takes away the meaning of the character at a place."""
    before = 0
    while at - before > 0 and text[at - before - 1] == "\\":
        before += 1
    return before % 2 == 0


def _marks(text: str, start: int, stop: int) -> list[int]:
    if "*" not in text:
        return []
    found = []
    at = start
    while at < stop:
        if text[at] == "\\":
            at += 1
        elif text[at] == "*":
            found.append(at)
        at += 1
    return found


def _in_word(text: str, mark: int, start: int) -> bool:
    """Return whether a chord mark (the last of a run) stands right behind a letter."""
    while mark > start and text[mark - 1] == "*":
        mark -= 1
    return mark > start and text[mark - 1] not in BLANKS


def _segment(text: str, start: int, end: int, glued: bool, bad: list[int]) -> Segment:
    while start < end and text[start] in BLANKS:
        start += 1
    while end > start and text[end - 1] in BLANKS:
        end -= 1
    if "\\" not in text[start:end]:
        return Segment(text[start:end], glued, start, end)
    underscores: list[int] = []
    plain = _unescaped(text[start:end], start, bad, underscores)
    return Segment(plain, glued, start, end, tuple(underscores))


def _unescaped(text: str, start: int, bad: list[int], underscores: list[int]) -> str:
    """Take the backslashes away; note places of those before what needs none, and of underscores made plain."""
    out: list[str] = []
    at = 0
    while at < len(text):
        if text[at] == "\\":
            if at + 1 < len(text) and text[at + 1] in ESCAPED:
                at += 1
                if text[at] == "_":
                    underscores.append(len(out))
            else:
                bad.append(start + at)
        out.append(text[at])
        at += 1
    return "".join(out)


def read_sung(pieces: tuple[Piece, ...], at: int, end: int, places: list[Places], problems: Problems) -> SungLine:
    """Read a `sing` row.

    Args:
        pieces: its bar signs and texts.
        at: where the row's text starts in the file.
        end: where it ends.
        places: for each bar of the chord row, where words can stand.
        problems: takes what is wrong.
    """
    cells = split_bars(pieces, at, "sing", problems)
    if len(cells) > len(places):
        first = cells[len(places)]
        problems.error(
            "too-many-bars",
            f"expected {count(len(places), 'bar')} of words as in the chord row above, found {len(cells)}",
            Span(at + first.start, at + cells[-1].end),
            "a remark has a line of its own, and `#` is its first mark"
            if first.text.lstrip().startswith("#")
            else "a `|` stands between bars only; `\\|` is a plain one",
        )
    bars = [_bar(cell, at, room, problems) for cell, room in zip(cells, places, strict=False)]
    bars += [BarWords((), False, Span(end, end))] * (len(places) - len(bars))
    return SungLine(tuple(bars), Span(at, end))


def split_bars(pieces: tuple[Piece, ...], at: int, what: str, problems: Problems) -> list[Piece]:
    """Return the texts between plain bar signs, the last of which may be left out."""
    cells: list[Piece] = []
    if pieces and pieces[0].kind != "BAR":
        numbered = _NUMBERED.match(pieces[0].text)
        problems.error(
            "row-start",
            f"expected `|` after `{what}`, found {shown(pieces[0].text)}",
            Span(at + pieces[0].start, at + pieces[0].end),
            f"begin the row with its barline: `{what} | {' '.join(pieces[0].text.split()[:3])} …`",
            "several `sing` rows under a row of chords are for its times, in order; leave the number out"
            if numbered
            else "",
            # Without any barline the words of a whole row would fall into its first bar.
            fix=Fix(Span(at + pieces[0].start, at + pieces[0].start), "| ")
            if len(pieces) > 1 and not numbered
            else None,
        )
        cells.append(pieces[0])
    for index, piece in enumerate(pieces):
        if piece.kind != "BAR":
            continue
        if len(piece.text) > 1 or _repeat_sign(pieces, index):
            problems.error(
                "plain-bars-only",
                f"expected a plain `|` in a `{what}` row",
                Span(at + piece.start, at + piece.end),
                "signs of repeats and double bars stand in the chord row; an empty bar is `| |`",
                fix=_without_colon(pieces, index, at) if len(piece.text) == 1 else None,
            )
        if index + 1 < len(pieces):
            cells.append(pieces[index + 1])
    return cells


def _repeat_sign(pieces: tuple[Piece, ...], index: int) -> bool:
    """Return whether a colon makes a bar sign look like that of a repeat."""
    after = pieces[index + 1].text if index + 1 < len(pieces) else ""
    before = pieces[index - 1].text if index else ""
    return after.startswith(":") or before.endswith((" :", "\t:"))


def _without_colon(pieces: tuple[Piece, ...], index: int, at: int) -> Fix:
    """Take the colon of a repeat's sign away."""
    sign = pieces[index]
    if index + 1 < len(pieces) and pieces[index + 1].text.startswith(":"):
        return Fix(Span(at + sign.end, at + sign.end + 1), "")
    return Fix(Span(at + sign.start - 1, at + sign.start), "")


def _bar(cell: Piece, at: int, room: Places, problems: Problems) -> BarWords:
    words = read_words(cell.text)
    start = at + cell.start
    for escape in words.bad_escapes:
        problems.error(
            "bad-escape",
            "expected `|`, `*`, `-`, `_` or `\\` after a backslash",
            Span(start + escape, start + min(escape + 2, len(cell.text))),
            "a plain backslash is `\\\\`",
        )
    segments = words.segments
    span = Span(start + words.start, start + words.end)
    if not segments:
        return BarWords((), words.joins, span)
    if len(segments) == 1 and room.begins:
        only = segments[0]
        place = 0 if room.chords else None
        return BarWords(
            (SungPiece(only.text, place, False, only.plain, Span(start + only.start, start + only.end)),),
            words.joins,
            span,
        )
    return BarWords(_pieces(segments, start, room, problems), words.joins, span)


def _at_most(left: int) -> str:
    """Return how many marks a bar has room for."""
    return f"{count(left, '`*`')} at most" if left > 0 else "no `*`"


def _pieces(segments: tuple[Segment, ...], start: int, room: Places, problems: Problems) -> tuple[SungPiece, ...]:
    """Lay a bar's segments against its chords. `start` is where the bar's text starts in the file."""
    first = 0 if room.begins else 1  # where no chord begins the bar, the first mark is its first chord
    marks = len(segments) - 1
    left = room.chords - (1 - first)
    if marks > max(left, 0):
        extra = segments[max(left, 0) + 1]
        problems.error(
            "too-many-marks",
            f"expected {_at_most(left)} in this bar, found {marks}",
            Span(start + extra.start - 1, start + max(extra.end, extra.start)),
            f"the bar has {count(room.chords, 'chord')}"
            + (", and the first stands at the first word by itself, without a mark" if room.begins else ""),
            "a plain star is `\\*`",
        )
    pieces: list[SungPiece] = []
    for index, segment in enumerate(segments):
        chord = index - first
        place = chord if 0 <= chord < room.chords else None
        if index == 0 and place is None and not segment.text:
            continue
        span = Span(start + segment.start, start + segment.end)
        pieces.append(SungPiece(segment.text, place, segment.glued and bool(pieces), segment.plain, span))
    return tuple(pieces)
