"""Rows of single notes (`octave`, `hook`, `tune`). Takes the bars of a row; gives its notes in time."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from arranger.song.bars import allowed_counts, felt_beats, shares
from arranger.song.grammar import Piece
from arranger.song.model import Bar, Note, NoteLine
from arranger.song.words import split_bars
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.text.source import Span
from arranger.theory.pitch import NoteName, Pitch

LOWEST, HIGHEST = 21, 108  # A0 to C8: the keys of a piano of 88
MOST_IN_GROUP = 8  # notes that share one mark

_MARK = re.compile(r"\([^()]*\)|[^\s()]+|[()]")
_NOTE = re.compile(r"([A-G])(##?|bb?)?([0-9])?")
_OCTAVE_FIRST = re.compile(r"([A-Ga-g])([0-9])([#b])")
_WORD = re.compile(r"\S+")


class _RowReader:
    """Reads one row of notes. Mutable; lives while its row is read."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._last: Pitch | None = None
        self.bars: list[list[Note]] = []

    def bar(self, cell: Piece, at: int, bar: Bar) -> None:
        text = cell.text
        start = at + cell.start
        self.bars.append([])
        marks = [(m[0], start + m.start(), start + m.end()) for m in _MARK.finditer(text)]
        if not marks:
            return
        beats = felt_beats(bar.meter, bar.length)
        shared = shares(bar.length, beats, len(marks))
        if shared is None:
            allowed = ", ".join(map(str, allowed_counts(bar.length, beats)))
            self._problems.error(
                "wrong-count",
                f"expected {allowed} marks in a bar of {bar.meter}, found {count(len(marks), 'mark')}",
                Span(marks[0][1], marks[-1][2]),
                "each `/` goes on for one mark more; notes in parentheses share one mark: `(D4 E4)`",
            )
            self._follow(text)
            return
        for (mark, first, last), begins in zip(marks, shared[0], strict=True):
            self._mark(mark, Span(first, last), begins, shared[1])

    def _follow(self, text: str) -> None:
        """Take the last octave of a bar that was told, so that the notes after it are not told for lacking theirs."""
        for word in re.findall(r"[^\s()]+", text):
            match = _NOTE.fullmatch(word)
            if match is not None and match[3]:
                self._last = Pitch(NoteName.parse(match[1] + (match[2] or "")), int(match[3]))

    def _mark(self, mark: str, span: Span, start: Fraction, length: Fraction) -> None:
        if mark[0] != "(" or len(mark) == 1:
            self._note(mark, span, start, length)
            return
        words = [(m[0], span.start + m.start(), span.start + m.end()) for m in _WORD.finditer(mark[1:-1])]
        if not 1 <= len(words) <= MOST_IN_GROUP:
            self._problems.error(
                "bad-group", f"expected 1 to {MOST_IN_GROUP} notes in parentheses, found {len(words)}", span
            )
            return
        each = length / len(words)
        for index, (word, first, last) in enumerate(words):
            self._note(word, Span(first + 1, last + 1), start + each * index, each)

    def _note(self, word: str, span: Span, start: Fraction, length: Fraction) -> None:
        if word == "/":
            self._go_on(span, length)
        elif word.lower() == "rest":
            self.bars[-1].append(Note(None, start, length, span))
        else:
            pitch = self._pitch(word, span)
            if pitch is not None:
                self._last = pitch
                self.bars[-1].append(Note(pitch, start, length, span))

    def _go_on(self, span: Span, length: Fraction) -> None:
        for notes in reversed(self.bars):
            if notes:
                notes[-1] = replace(notes[-1], length=notes[-1].length + length)
                return
        self._problems.error(
            "nothing-sounds",
            "expected a note or `rest` at the start of the row, found `/`",
            span,
            "`/` goes on with the note before it",
        )

    def _pitch(self, word: str, span: Span) -> Pitch | None:
        match = _NOTE.fullmatch(word)
        if match is None and word in "()":
            self._problems.error(
                "open-parenthesis",
                f"expected parentheses in pairs, found {shown(word)}",
                span,
                "a group stands in one bar: `(D4 E4)`",
            )
            return None
        if match is None:
            better = _better(word)
            hint = f"write `{better}`" if better else "a note is `D4`, or `D` alone"
            if word[:1] in "Hh" and _NOTE.fullmatch("B" + word[1:]):
                hint = f"the note H is called B here: write `B{word[1:]}`"
            elif not better and "/" in word:
                hint = "set spaces round `/`; notes that share one mark stand in parentheses: `(D4 E4)`"
            self._problems.error(
                "bad-note",
                f"expected a note, `/` or `rest`, found {shown(word)}",
                span,
                hint,
                fix=Fix(span, better) if better else None,
            )
            return None
        name = NoteName.parse(match[1] + (match[2] or ""))
        if match[3]:
            pitch = Pitch(name, int(match[3]))
        elif self._last is None:
            self._problems.error(
                "octave-missing",
                f"expected an octave with the first note of the row, found {shown(word)}",
                span,
                f"write `{name}4` for the one by middle C; the notes after it follow the nearest way",
            )
            pitch = Pitch(name, 4)
        else:
            pitch = nearest_pitch(name, self._last)
        if not LOWEST <= pitch.midi <= HIGHEST:
            self._problems.error("bad-note", f"expected a note of the piano, A0 to C8, found `{pitch}`", span)
        return pitch


def _better(word: str) -> str:
    """Return the note, or the rest, that a word means for certain; an empty text where there is none."""
    if word.lower() in ("r", "rests", "pause") and word != "R":
        return "rest"
    bare = word.rstrip(",;.-:")
    turned = _OCTAVE_FIRST.fullmatch(bare)
    better = f"{turned[1].upper()}{turned[3]}{turned[2]}" if turned else bare[:1].upper() + bare[1:]
    return better if _NOTE.fullmatch(better) else ""


def nearest_pitch(name: NoteName, last: Pitch) -> Pitch:
    """Return the pitch of a name nearest to another; of two as near the lower.

    >>> str(nearest_pitch(NoteName("B", -1), Pitch.parse("E4")))
    'Bb3'
    """
    up = (name.pitch_class - last.midi) % 12
    return Pitch.at(last.midi + (up if up < 6 else up - 12), name)


def read_notes(
    what: str, pieces: tuple[Piece, ...], at: int, end: int, bars: tuple[Bar, ...], problems: Problems
) -> NoteLine:
    """Read a row of notes.

    Args:
        what: the word that begins the row.
        pieces: its bar signs and texts.
        at: where the row's text starts in the file.
        end: where it ends.
        bars: those of the chord row above.
        problems: takes what is wrong.
    """
    cells = split_bars(pieces, at, what, problems)
    if len(cells) > len(bars):
        problems.error(
            "too-many-bars",
            f"expected {count(len(bars), 'bar')} at most as in the chord row above, found {len(cells)}",
            Span(at + cells[len(bars)].start, at + cells[-1].end),
        )
    reader = _RowReader(problems)
    for cell, bar in zip(cells, bars, strict=False):
        reader.bar(cell, at, bar)
    return NoteLine(tuple(map(tuple, reader.bars)), Span(at, end))
