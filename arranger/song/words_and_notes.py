"""Rows under a row of chords. Takes the bars of a row; gives pieces of words at their chords, or notes in time.

`sing` rows hold words; `octave`, `hook` and `tune` rows hold single notes. The words of a bar are understood without
their bar (equal texts once a process), then laid against its chords.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from arranger.habits.signs import REST_WORDS
from arranger.song.cells import Places
from arranger.song.chord_rows import allowed_counts, felt_beats, shares
from arranger.song.grammar import REMEMBERED, Lexeme
from arranger.song.model import Bar, BarWords, Note, NoteLine, Piece, SungLine
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.text.source import Span
from arranger.theory.pitch import NoteName, Pitch

ESCAPED = "|*-_\\"  # what a backslash makes plain
_NUMBERED = re.compile(r"[0-9]{1,2}[.):]?(?=\s|$)")
BLANKS = " \t\u00a0\u3000"


class WordSegment(NamedTuple):
    """Text between two chord marks: plain text, its place in the bar's text, and whether it goes on inside a word.

    `plain` are the places in the plain text of underscores that hold no syllable.
    """

    text: str
    glued: bool
    start: int
    end: int
    plain: tuple[int, ...] = ()


class WordsCell(NamedTuple):
    """A bar's text taken apart. `bad_escapes` are places of backslashes before characters that need none."""

    segments: tuple[WordSegment, ...]
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


def _segment(text: str, start: int, end: int, glued: bool, bad: list[int]) -> WordSegment:
    while start < end and text[start] in BLANKS:
        start += 1
    while end > start and text[end - 1] in BLANKS:
        end -= 1
    if "\\" not in text[start:end]:
        return WordSegment(text[start:end], glued, start, end)
    underscores: list[int] = []
    plain = _unescaped(text[start:end], start, bad, underscores)
    return WordSegment(plain, glued, start, end, tuple(underscores))


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


def read_sung(pieces: tuple[Lexeme, ...], span: Span, places: list[Places], problems: Problems) -> SungLine:
    """Read a `sing` row.

    Args:
        pieces: its bar signs and texts.
        span: the place of the row's text.
        places: for each bar of the chord row, where words can stand.
        problems: takes what is wrong.
    """
    at = span.start
    cells = split_bars(pieces, at, "sing", problems)
    if len(cells) > len(places):
        first = cells[len(places)]
        message = f"expected {count(len(places), 'bar')} of words as in the chord row above, found {len(cells)}"
        hint = "a `|` stands between bars only; `\\|` is a plain one"
        if first.text.lstrip().startswith("#"):
            hint = "a remark has a line of its own, and `#` is its first mark"
        problems.error("too-many-bars", message, Span(at + first.start, at + cells[-1].end), hint)
    bars = [_bar(cell, at, room, problems) for cell, room in zip(cells, places, strict=False)]
    bars += [BarWords((), False, Span(span.end, span.end))] * (len(places) - len(bars))
    return SungLine(tuple(bars), span)


def split_bars(pieces: tuple[Lexeme, ...], at: int, what: str, problems: Problems) -> list[Lexeme]:
    """Return the texts between plain bar signs, the last of which may be left out."""
    cells: list[Lexeme] = []
    if pieces and pieces[0].kind != "BAR":
        first = pieces[0]
        numbered = _NUMBERED.match(first.text)
        message = f"expected `|` after `{what}`, found {shown(first.text)}"
        hints = [f"begin the row with its barline: `{what} | {' '.join(first.text.split()[:3])} …`"]
        if numbered:
            hints.append("several `sing` rows under a row of chords are for its times, in order; leave the number out")
        # Without any barline the words of a whole row would fall into its first bar.
        fix = Fix(Span(at + first.start, at + first.start), "| ") if len(pieces) > 1 and not numbered else None
        problems.error("row-start", message, Span(at + first.start, at + first.end), *hints, fix=fix)
        cells.append(first)
    for index, piece in enumerate(pieces):
        if piece.kind != "BAR":
            continue
        if len(piece.text) > 1 or _repeat_sign(pieces, index):
            message = f"expected a plain `|` in a `{what}` row"
            hint = "signs of repeats and double bars stand in the chord row; an empty bar is `| |`"
            fix = _without_colon(pieces, index, at) if len(piece.text) == 1 else None
            problems.error("plain-bars-only", message, Span(at + piece.start, at + piece.end), hint, fix=fix)
        if index + 1 < len(pieces):
            cells.append(pieces[index + 1])
    return cells


def _repeat_sign(pieces: tuple[Lexeme, ...], index: int) -> bool:
    """Return whether a colon makes a bar sign look like that of a repeat."""
    after = pieces[index + 1].text if index + 1 < len(pieces) else ""
    before = pieces[index - 1].text if index else ""
    return after.startswith(":") or before.endswith((" :", "\t:"))


def _without_colon(pieces: tuple[Lexeme, ...], index: int, at: int) -> Fix:
    """Take the colon of a repeat's sign away."""
    sign = pieces[index]
    if index + 1 < len(pieces) and pieces[index + 1].text.startswith(":"):
        return Fix(Span(at + sign.end, at + sign.end + 1), "")
    return Fix(Span(at + sign.start - 1, at + sign.start), "")


def _bar(cell: Lexeme, at: int, room: Places, problems: Problems) -> BarWords:
    words = read_words(cell.text)
    start = at + cell.start
    for escape in words.bad_escapes:
        message = "expected `|`, `*`, `-`, `_` or `\\` after a backslash"
        hint = "a plain backslash is `\\\\`"
        problems.error("bad-escape", message, Span(start + escape, start + min(escape + 2, len(cell.text))), hint)
    pieces = _pieces(words.segments, start, room, problems) if words.segments else ()
    return BarWords(pieces, words.joins, Span(start + words.start, start + words.end))


def _pieces(segments: tuple[WordSegment, ...], start: int, room: Places, problems: Problems) -> tuple[Piece, ...]:
    """Lay a bar's segments against its chords. `start` is where the bar's text starts in the file."""
    first = 0 if room.begins else 1  # where no chord begins the bar, the first mark is its first chord
    marks = len(segments) - 1
    left = room.chords - (1 - first)
    if marks > max(left, 0):
        extra = segments[max(left, 0) + 1]
        most = f"{count(left, '`*`')} at most" if left > 0 else "no `*`"
        place = Span(start + extra.start - 1, start + max(extra.end, extra.start))
        first_word = ", and the first stands at the first word by itself, without a mark" if room.begins else ""
        hint = f"the bar has {count(room.chords, 'chord')}{first_word}"
        message = f"expected {most} in this bar, found {marks}"
        problems.error("too-many-marks", message, place, hint, "a plain star is `\\*`")
    pieces: list[Piece] = []
    for index, segment in enumerate(segments):
        chord = index - first
        among = chord if 0 <= chord < room.chords else None
        if index == 0 and among is None and not segment.text:
            continue
        span = Span(start + segment.start, start + segment.end)
        pieces.append(Piece(segment.text, among, segment.glued and bool(pieces), segment.plain, span))
    return tuple(pieces)


LOWEST, HIGHEST = 21, 108  # A0 to C8: the keys of a piano of 88
MOST_IN_GROUP = 8  # notes that share one mark

_MARK = re.compile(r"\([^()]*\)|[^\s()]+|[()]")
_NOTE = re.compile(r"([A-G])(##?|bb?)?([0-9])?")
_OCTAVE_FIRST = re.compile(r"([A-Ga-g])([0-9])([#b])")
_WORD = re.compile(r"\S+")


class _NoteReader:
    """Reads one row of notes. Mutable; lives while its row is read."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._last: Pitch | None = None
        self.bars: list[list[Note]] = []

    def bar(self, cell: Lexeme, at: int, bar: Bar) -> None:
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
            message = f"expected {allowed} marks in a bar of {bar.meter}, found {count(len(marks), 'mark')}"
            hint = "each `/` goes on for one mark more; notes in parentheses share one mark: `(D4 E4)`"
            self._problems.error("wrong-count", message, Span(marks[0][1], marks[-1][2]), hint)
            self._follow(text)
            return
        for (mark, first, last), begins in zip(marks, shared[0], strict=True):
            self._mark(mark, Span(first, last), begins, shared[1])

    def _follow(self, text: str) -> None:
        """Take over the last octave of a bar that was reported: the notes after it do not lack theirs."""
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
        message = "expected a note or `rest` at the start of the row, found `/`"
        self._problems.error("nothing-sounds", message, span, "`/` goes on with the note before it")

    def _pitch(self, word: str, span: Span) -> Pitch | None:
        match = _NOTE.fullmatch(word)
        if match is None and word in "()":
            message = f"expected parentheses in pairs, found {shown(word)}"
            self._problems.error("open-parenthesis", message, span, "a group stands in one bar: `(D4 E4)`")
            return None
        if match is None:
            better = _better(word)
            hint = f"write `{better}`" if better else "a note is `D4`, or `D` alone"
            if word[:1] in "Hh" and _NOTE.fullmatch("B" + word[1:]):
                hint = f"the note H is called B here: write `B{word[1:]}`"
            elif not better and "/" in word:
                hint = "set spaces round `/`; notes that share one mark stand in parentheses: `(D4 E4)`"
            message = f"expected a note, `/` or `rest`, found {shown(word)}"
            self._problems.error("bad-note", message, span, hint, fix=Fix(span, better) if better else None)
            return None
        name = NoteName.parse(match[1] + (match[2] or ""))
        if match[3]:
            pitch = Pitch(name, int(match[3]))
        elif self._last is None:
            message = f"expected an octave with the first note of the row, found {shown(word)}"
            other = f"write `{name}4` for the one by middle C; the notes after it follow the nearest way"
            self._problems.error("octave-missing", message, span, other)
            pitch = Pitch(name, 4)
        else:
            pitch = nearest_pitch(name, self._last)
        if not LOWEST <= pitch.midi <= HIGHEST:
            self._problems.error("bad-note", f"expected a note of the piano, A0 to C8, found `{pitch}`", span)
        return pitch


def _better(word: str) -> str:
    """Return the note, or the rest, that a word means for certain; an empty text where there is none."""
    if word.lower() in REST_WORDS and word != "R":
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
    what: str, pieces: tuple[Lexeme, ...], span: Span, bars: tuple[Bar, ...], problems: Problems
) -> NoteLine:
    """Read a row of notes.

    Args:
        what: the word that begins the row.
        pieces: its bar signs and texts.
        span: the place of the row's text.
        bars: those of the chord row above.
        problems: takes what is wrong.
    """
    at = span.start
    cells = split_bars(pieces, at, what, problems)
    if len(cells) > len(bars):
        message = f"expected {count(len(bars), 'bar')} at most as in the chord row above, found {len(cells)}"
        problems.error("too-many-bars", message, Span(at + cells[len(bars)].start, at + cells[-1].end))
    reader = _NoteReader(problems)
    for cell, bar in zip(cells, bars, strict=False):
        reader.bar(cell, at, bar)
    return NoteLine(tuple(map(tuple, reader.bars)), span)
