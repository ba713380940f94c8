"""Rows under a row of chords. Takes the text of a row; gives pieces of words at their chords, or notes in time.

`sing` rows hold words; `octave`, `hook` and `tune` rows hold single notes. A row is taken apart without the row of
chords above (equal rows once a process), then its bars are laid against the bars there.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, Generic, NamedTuple, TypeVar

from lark import Token, Tree

from arranger.habits.signs import REST_WORDS
from arranger.song.cells import Places
from arranger.song.chord_rows import allowed_counts, felt_beats, shares
from arranger.song.grammar import REMEMBERED, Lexeme, lexemes, parse_row
from arranger.song.model import Bar, BarWords, Note, NoteLine, Piece, SungLine
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.text.source import Span
from arranger.theory.pitch import NoteName, Pitch

ESCAPED = "|*-_\\"  # what a backslash makes plain
BLANKS = " \t\u00a0\u3000"
_ESCAPE = re.compile(rf"\\([{re.escape(ESCAPED)}]?)")
_NUMBERED = r"[0-9]{1,2}[.):]?(?=\s|$)"


class WordSegment(NamedTuple):
    """Text between two chord marks: plain text, its place in the line, and whether it goes on inside a word.

    `plain` are the places in the plain text of underscores that hold no syllable.
    """

    text: str
    glued: bool
    start: int
    end: int
    plain: tuple[int, ...] = ()


class WordsCell(NamedTuple):
    """A bar's words. `bad_escapes` are places of backslashes before characters that need none."""

    segments: tuple[WordSegment, ...]
    joins: bool
    start: int
    end: int
    bad_escapes: tuple[int, ...] = ()


class Tones(NamedTuple):
    """What shares a bar of notes as one mark: a note, a rest or `/` alone, or a group in parentheses (`grouped`)."""

    notes: tuple[Lexeme, ...]
    start: int
    end: int
    grouped: bool


Content = TypeVar("Content")


class BarUnder(NamedTuple, Generic[Content]):
    """A bar of a row below the chords, with the place of its text.

    `sign` is its barline, None before the first one; `content` is what it holds, None for a bar of blanks.
    """

    sign: Lexeme | None
    start: int
    end: int
    content: Content | None


@lru_cache(maxsize=REMEMBERED)
def sung_row(text: str) -> tuple[BarUnder[WordsCell], ...]:
    """Take a row of words apart: its bars."""
    return tuple(_bars(parse_row("sing", text), len(text), _words))


@lru_cache(maxsize=REMEMBERED)
def note_row(text: str) -> tuple[BarUnder[tuple[Tones, ...]], ...]:
    """Take a row of notes apart: its bars (look-alikes replaced before)."""
    return tuple(_bars(parse_row("notes", text), len(text), _tones))


def _bars(
    parts: Iterator[Token | Tree[Token]], length: int, understood: Callable[[Sequence[Any]], Content]
) -> Iterator[BarUnder[Content]]:
    sign, start, content = None, 0, None
    for part in parts:
        if isinstance(part, Tree):
            content = understood(part.children)
            continue
        (here,) = lexemes((part,))
        if here.start:
            yield BarUnder(sign, start, here.start, content)
        sign, start, content = here, here.end, None
    yield BarUnder(sign, start, length, content)


def _words(tokens: Sequence[Any]) -> WordsCell:
    """Take the words of a bar apart: `came * in to`, `lan*terns`, `one a-`."""
    last = tokens[-1]
    joins = last.type.startswith("JOIN")
    end = last.start_pos + len(last.rstrip(BLANKS))
    stop = end - joins
    segments: list[WordSegment] = []
    bad: list[int] = []
    star: Token | None = None  # before the segment
    words: Token | None = None  # of the segment
    inside = False  # a word stands right before the stars
    for token in (*tokens[: len(tokens) - joins], None):
        if token is not None and token.type == "WORDS":
            words = token
            continue
        there = stop if token is None else token.start_pos
        if words is not None:
            glued = inside and star is not None and words.start_pos == star.end_pos
            segments.append(_segment(words, glued, bad))
            inside = words[-1] not in BLANKS
        else:
            segments.append(WordSegment("", False, there, there))
            inside = inside and star is not None and star.end_pos == there
        star, words = token, None
    while segments and not segments[-1].text:  # a chord after the last word has its place there anyway
        segments.pop()
    return WordsCell(tuple(segments), joins, tokens[0].start_pos, end, tuple(bad))


def _segment(words: Token, glued: bool, bad: list[int]) -> WordSegment:
    """Take the backslashes away; note places of those before what needs none, and of underscores made plain."""
    text, start = words.rstrip(BLANKS), words.start_pos or 0
    plain, at = "", 0
    underscores: list[int] = []
    for escape in _ESCAPE.finditer(text):
        plain += text[at : escape.start()]
        at = escape.end()
        if not escape[1]:
            bad.append(start + escape.start())
        elif escape[1] == "_":
            underscores.append(len(plain))
        plain += escape[1] or "\\"
    return WordSegment(plain + text[at:], glued, start, start + len(text), tuple(underscores))


def _tones(children: Sequence[Any]) -> tuple[Tones, ...]:
    """Take the notes of a bar apart."""
    found = []
    for child in children:
        if isinstance(child, Token):
            (one,) = lexemes((child,))
            found.append(Tones((one,), one.start, one.end, grouped=False))
        else:
            opening, *notes, closing = lexemes(child.children)
            found.append(Tones(tuple(notes), opening.start, closing.end, grouped=True))
    return tuple(found)


def read_sung(text: str, span: Span, places: list[Places], problems: Problems) -> SungLine:
    """Read a `sing` row.

    Args:
        text: the row's text.
        span: its place.
        places: for each bar of the chord row, where words can stand.
        problems: takes what is wrong.
    """
    at = span.start
    cells = split_bars(sung_row(text), text, at, "sing", problems)
    if len(cells) > len(places):
        first = cells[len(places)]
        message = f"expected {count(len(places), 'bar')} of words as in the chord row above, found {len(cells)}"
        hint = "a `|` stands between bars only; `\\|` is a plain one"
        if text[first.start : first.end].lstrip().startswith("#"):
            hint = "a remark has a line of its own, and `#` is its first mark"
        problems.error("too-many-bars", message, Span(at + first.start, at + cells[-1].end), hint)
    bars = [_bar(cell, at, room, problems) for cell, room in zip(cells, places, strict=False)]
    bars += [BarWords((), False, Span(span.end, span.end))] * (len(places) - len(bars))
    return SungLine(tuple(bars), span)


def split_bars(
    row: tuple[BarUnder[Content], ...], text: str, at: int, what: str, problems: Problems
) -> list[BarUnder[Content]]:
    """Return the bars of a row whose barlines are all plain, the last of which may be left out; report others."""
    texts = [text[bar.start : bar.end] for bar in row]
    if row[0].sign is None:
        first = texts[0]
        numbered = re.match(_NUMBERED, first)
        message = f"expected `|` after `{what}`, found {shown(first)}"
        hints = [f"begin the row with its barline: `{what} | {' '.join(first.split()[:3])} …`"]
        if numbered:
            hints.append("several `sing` rows under a row of chords are for its times, in order; leave the number out")
        # Without any barline the words of a whole row would fall into its first bar.
        fix = Fix(Span(at, at), "| ") if len(row) > 1 and not numbered else None
        problems.error("row-start", message, Span(at, at + row[0].end), *hints, fix=fix)
    for bar, before, after in zip(row, ("", *texts), texts, strict=False):
        sign = bar.sign
        if sign is None:
            continue
        colon_after, colon_before = after.startswith(":"), before.endswith((" :", "\t:"))
        if len(sign.text) == 1 and not colon_after and not colon_before:
            continue
        message = f"expected a plain `|` in a `{what}` row"
        hint = "signs of repeats and double bars stand in the chord row; an empty bar is `| |`"
        place = Span(at + sign.start, at + sign.end)
        colon = Span(place.end, place.end + 1) if colon_after else Span(place.start - 1, place.start)
        problems.error("plain-bars-only", message, place, hint, fix=Fix(colon, "") if len(sign.text) == 1 else None)
    return [bar for bar in row if bar.start < bar.end]


_NO_WORDS = WordsCell((), False, 0, 0)


def _bar(cell: BarUnder[WordsCell], at: int, room: Places, problems: Problems) -> BarWords:
    words = cell.content or _NO_WORDS._replace(start=cell.end, end=cell.end)
    for escape in words.bad_escapes:
        message = "expected `|`, `*`, `-`, `_` or `\\` after a backslash"
        hint = "a plain backslash is `\\\\`"
        problems.error("bad-escape", message, Span(at + escape, at + min(escape + 2, cell.end)), hint)
    pieces = _pieces(words.segments, at, room, problems) if words.segments else ()
    return BarWords(pieces, words.joins, Span(at + words.start, at + words.end))


def _pieces(segments: tuple[WordSegment, ...], start: int, room: Places, problems: Problems) -> tuple[Piece, ...]:
    """Lay a bar's segments against its chords. `start` is where the row's text starts in the file."""
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

_NOTE = r"([A-G])(##?|bb?)?([0-9])?"
_OCTAVE_FIRST = r"([A-Ga-g])([0-9])([#b])"


class _NoteReader:
    """Reads one row of notes. Mutable; lives while its row is read."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._last: Pitch | None = None
        self.bars: list[list[Note]] = []

    def bar(self, marks: tuple[Tones, ...], at: int, bar: Bar) -> None:
        """Read a bar; `at` is where the row's text starts in the file."""
        self.bars.append([])
        if not marks:
            return
        beats = felt_beats(bar.meter, bar.length)
        shared = shares(bar.length, beats, len(marks))
        if shared is None:
            allowed = ", ".join(map(str, allowed_counts(bar.length, beats)))
            message = f"expected {allowed} marks in a bar of {bar.meter}, found {count(len(marks), 'mark')}"
            hint = "each `/` goes on for one mark more; notes in parentheses share one mark: `(D4 E4)`"
            self._problems.error("wrong-count", message, Span(at + marks[0].start, at + marks[-1].end), hint)
            self._follow(marks)
            return
        for mark, begins in zip(marks, shared[0], strict=True):
            self._mark(mark, at, begins, shared[1])

    def _follow(self, marks: tuple[Tones, ...]) -> None:
        """Take over the last octave of a bar that was reported: the notes after it do not lack theirs."""
        for note in (note for mark in marks for note in mark.notes):
            if note.kind == "PITCH" and note.text[-1].isdigit():
                self._last = Pitch.parse(note.text)

    def _mark(self, mark: Tones, at: int, start: Fraction, length: Fraction) -> None:
        if mark.grouped and not 1 <= len(mark.notes) <= MOST_IN_GROUP:
            message = f"expected 1 to {MOST_IN_GROUP} notes in parentheses, found {len(mark.notes)}"
            self._problems.error("bad-group", message, Span(at + mark.start, at + mark.end))
            return
        each = length / len(mark.notes)
        for index, note in enumerate(mark.notes):
            self._note(note, Span(at + note.start, at + note.end), start + each * index, each)

    def _note(self, note: Lexeme, span: Span, start: Fraction, length: Fraction) -> None:
        if note.kind == "GO_ON":
            self._go_on(span, length)
        elif note.kind == "SILENCE":
            self.bars[-1].append(Note(None, start, length, span))
        else:
            pitch = self._pitch(note, span)
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

    def _pitch(self, note: Lexeme, span: Span) -> Pitch | None:
        word = note.text
        if note.kind in ("OPEN", "CLOSE"):
            message = f"expected parentheses in pairs, found {shown(word)}"
            self._problems.error("open-parenthesis", message, span, "a group stands in one bar: `(D4 E4)`")
            return None
        if note.kind != "PITCH":
            self._no_note(word, span)
            return None
        name = NoteName.parse(word.rstrip("0123456789"))
        if word[-1].isdigit():
            pitch = Pitch.parse(word)
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

    def _no_note(self, word: str, span: Span) -> None:
        better = _better(word)
        hint = f"write `{better}`" if better else "a note is `D4`, or `D` alone"
        if word[:1] in "Hh" and re.fullmatch(_NOTE, "B" + word[1:]):
            hint = f"the note H is called B here: write `B{word[1:]}`"
        elif not better and "/" in word:
            hint = "set spaces round `/`; notes that share one mark stand in parentheses: `(D4 E4)`"
        message = f"expected a note, `/` or `rest`, found {shown(word)}"
        self._problems.error("bad-note", message, span, hint, fix=Fix(span, better) if better else None)


def _better(word: str) -> str:
    """Return the note, or the rest, that a word means for certain; an empty text where there is none."""
    if word.lower() in REST_WORDS and word != "R":
        return "rest"
    bare = word.rstrip(",;.-:")
    turned = re.fullmatch(_OCTAVE_FIRST, bare)
    better = f"{turned[1].upper()}{turned[3]}{turned[2]}" if turned else bare[:1].upper() + bare[1:]
    return better if re.fullmatch(_NOTE, better) else ""


def nearest_pitch(name: NoteName, last: Pitch) -> Pitch:
    """Return the pitch of a name nearest to another; of two as near the lower.

    >>> str(nearest_pitch(NoteName("B", -1), Pitch.parse("E4")))
    'Bb3'
    """
    up = (name.pitch_class - last.midi) % 12
    return Pitch.at(last.midi + (up if up < 6 else up - 12), name)


def read_notes(what: str, text: str, span: Span, bars: tuple[Bar, ...], problems: Problems) -> NoteLine:
    """Read a row of notes.

    Args:
        what: the word that begins the row.
        text: the row's text.
        span: its place.
        bars: those of the chord row above.
        problems: takes what is wrong.
    """
    at = span.start
    cells = split_bars(note_row(text), text, at, what, problems)
    if len(cells) > len(bars):
        message = f"expected {count(len(bars), 'bar')} at most as in the chord row above, found {len(cells)}"
        problems.error("too-many-bars", message, Span(at + cells[len(bars)].start, at + cells[-1].end))
    reader = _NoteReader(problems)
    for cell, bar in zip(cells, bars, strict=False):
        reader.bar(cell.content or (), at, bar)
    return NoteLine(tuple(map(tuple, reader.bars)), span)
