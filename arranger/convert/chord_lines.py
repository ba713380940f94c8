"""Split a line of chords into its marks, with what is said beside them. Takes a line; gives marks and what is none."""

from __future__ import annotations

import re
from collections.abc import Sequence

from arranger.convert.marks import (
    WORDY,
    Habits,
    chord_of,
    is_bass,
    marks_in,
    over_bass,
)
from arranger.convert.model import ChordLine, MarkKind, SheetLine, TypedMark
from arranger.convert.parting import is_packed, is_signed, parted, sharing_bars
from arranger.habits.headings import said_behind
from arranger.habits.signs import bar_sign, sign_of, times_of, with_own_signs

_GROUP = re.compile(r"(?<!\S)[(\[]([^()\[\]]*)[)\]](?!\S)")
_BEATS_BEHIND = re.compile(r"([^()]+)\(([1-8])\)")  # G(2)
_EARLY = re.compile(r"(?:>|<|\^)+(?=[A-H])")  # a chord that comes before its beat, or is accented
_ALL_SLASHED = re.compile(r"\s*/(?=[A-H])\S+(?:\s+/(?=[A-H])\S+)+(?:\s+/+)?\s*")  # /A /D /A /E /
_SLASHED = re.compile(r"(?<!\S)/+")
_TIMES_APART = re.compile(r"(?<!\S)[xX×] ([0-9]{1,2})(?!\S)")
_SAID_BEHIND = re.compile(r"(?<=\S)\s{2,}(?:<[-=]+|←|⇐|//|#)\s*([^\W\d_].*?)\s*$")  # G  D   <-- drums only
_SENTENCE_BEHIND = re.compile(r"(?<=\S)\s{2,}[-–—]?\s*([^\W\d_]{2,}(?: [\w'’\-]+){1,6}[.!]?)\s*$")
_PIECE = re.compile(r":?\|+:?(?:\s?[1-9]\.(?=\s|$))?|(?:[^|\s:]|:(?!\|))+")
_SAID = frozenset(
    (
        "riff", "fill", "solo", "hold", "stop", "let", "ring", "tacet", "break", "pause", "fermata", "build", "fade",
        "slow", "slowly", "softly", "muted", "strum", "only", "out", "in", "drums", "bass", "guitar", "piano", "keys",
        "until", "till", "times", "everybody", "everyone", "band", "all", "once",
        "last", "time", "end", "fine", "coda", "rit.", "rit", "etc.", "etc", "repeat", "twice",
    )
)  # fmt: skip
_SIGNS: dict[str, tuple[MarkKind, str]] = {
    "none": ("none", "N.C."), "rest": ("rest", "rest"), "slash": ("slash", "/"), "simile": ("simile", "%"),
}  # fmt: skip
_TWICE = frozenset(("repeat", "twice"))


def read_chords(line: SheetLine, habits: Habits) -> ChordLine:
    """Read a line as one of chords, whatever it is."""
    typed, counts = _without_counts(with_own_signs(line.padded), habits)
    tail = _SAID_BEHIND.search(typed)
    said_behind_it = (" ".join(tail[1].split()),) if tail is not None else ()
    typed = typed[: tail.start()] if tail is not None else typed
    sentence = _SENTENCE_BEHIND.search(typed) if not said_behind_it else None
    if sentence is not None and _are_chords(typed[: sentence.start()], habits) and _says_how(sentence[1], habits):
        said_behind_it, typed = (" ".join(sentence[1].split()),), typed[: sentence.start()]
    typed = _SLASHED.sub("|", typed) if _ALL_SLASHED.fullmatch(typed) else typed
    text, cues, times = _without_groups(typed, habits)
    cues += said_behind_it
    reading = _Reading(text, habits, times)
    for match in _PIECE.finditer(text):
        reading.take(match)
    marks, strays, guess = reading.marks, reading.strays, ""
    packed = is_packed(text, reading.ends)
    if not any(mark.kind == "bar" for mark in marks):
        groups = [m.span() for m in _GROUP.finditer(with_own_signs(line.padded))]
        shared = sharing_bars(marks, groups)
        marks, guess = shared if shared is not None else parted(marks, text, packed=packed)
    if counts:
        marks, packed, guess = _with_counts(marks, counts), False, guess or ""
    said = [s for s in strays if not s.endswith(":") and s.lower().strip("()*.,!-:") in _SAID]
    if said and len(said) == len(strays) and reading.sure:
        cues, strays = (*cues, " ".join(said).strip("()* ")), []
    return ChordLine(
        line.number,
        tuple(marks),
        max(reading.times, 1),
        cues,
        tuple(strays),
        reading.sure,
        reading.loose,
        packed,
        guess="; ".join(said for said in (reading.guess, guess) if said),
        signed=is_signed(text, reading.ends),
    )


_COUNTED_GROUP = re.compile(
    r"[(\[](?P<chords>[^()\[\]]+)[)\]]\s?(?:[xX×]\s?(?P<times>[2-9])|(?P<before>[2-9])\s?[xX×])(?![\w])"
)


def _without_counts(text: str, habits: Habits) -> tuple[str, list[tuple[int, int, int]]]:
    """Take off what says how often a part of a line is played: `(D  G) x2  A`; return where and how often too."""
    groups = [m for m in _COUNTED_GROUP.finditer(text) if all(marks_in(piece, habits) for piece in m["chords"].split())]
    rest = _COUNTED_GROUP.sub(" ", text).split()
    if "|" in text or not groups or not any(marks_in(piece, habits) for piece in rest):
        return text, []
    counts = []
    for match in groups:
        counts.append((*match.span(), int(match["times"] or match["before"])))
        inner = f" {match['chords']}".ljust(len(match[0]))
        text = text[: match.start()] + inner + text[match.end() :]
    return text, counts


def _with_counts(marks: Sequence[TypedMark], counts: Sequence[tuple[int, int, int]]) -> list[TypedMark]:
    """Return the marks of a line in bars, one a chord, with the signs of repetition that its counts mean."""
    found: list[TypedMark] = []
    closing = ""
    for mark in marks:
        inside = next((count for count in counts if count[0] <= mark.column < count[1]), None)
        first = inside is not None and not any(inside[0] <= m.column < mark.column for m in marks)
        if mark.kind != "slash":
            opening = ":" if first else ""
            found.append(TypedMark("bar", closing or f"|{opening}", mark.column))
            if closing and opening:
                found.append(TypedMark("bar", "|:", mark.column))
            closing = ""
        found.append(mark)
        last = inside is not None and not any(mark.column < m.column < inside[1] for m in marks)
        if inside is not None and last:
            closing = ":|" if inside[2] == 2 else f":| x{inside[2]}"
    return [*found, TypedMark("bar", closing, marks[-1].column + 1)] if closing else found


def _are_chords(text: str, habits: Habits) -> bool:
    pieces = text.split()
    chords = [piece for piece in pieces if marks_in(piece, habits)]
    return len(chords) > 1 and all(marks_in(p, habits) or sign_of(p) or times_of(p) or "|" in p for p in pieces)


def _says_how(text: str, habits: Habits) -> bool:
    """Return whether words behind chords are for the player: one of them is known to be, and none is a chord."""
    words = [word.strip(".,!") for word in text.lower().split()]
    return any(word in _SAID for word in words) and not any(chord_of(word, habits) for word in text.split())


class _Reading:
    """What has been read of a line so far: its marks, where each run of chords stands, and what is none."""

    def __init__(self, text: str, habits: Habits, times: int) -> None:
        self._text, self._habits = text, habits
        self.times = times
        self.marks: list[TypedMark] = []
        self.strays: list[str] = []
        self.ends: list[tuple[int, int]] = []
        self.sure = self.loose = 0
        self.guess = ""

    def take(self, match: re.Match[str]) -> None:
        """Read the next run of characters."""
        if not (self._barline(match) or self._with_beats(match) or self._chords(match)):
            self._sign(match[0], match.start())

    def _barline(self, match: re.Match[str]) -> bool:
        """Read a barline, how often the line is played, or the number of an ending."""
        piece, marks = match[0], self.marks
        sign = bar_sign(piece.replace(" ", "")) if "|" in piece else None
        if sign is None and self._habits.bar_letters and piece in ("I", "l"):
            sign = "|"
        if sign is not None:
            marks.append(TypedMark("bar", sign, match.start()))
        elif times := times_of(piece):
            self.times = times
        elif re.fullmatch(r"[1-9]\.", piece) and marks and marks[-1].text == "|":
            marks[-1] = TypedMark("bar", "|" + piece, marks[-1].column)
        else:
            return False
        return True

    def _with_beats(self, match: re.Match[str]) -> bool:
        """Read a chord with its beats behind it: `G(2)`."""
        beats = _BEATS_BEHIND.fullmatch(match[0]) if self._habits.beats_behind else None
        chord = chord_of(beats[1], self._habits) if beats is not None else None
        if beats is None or chord is None:
            return False
        self.marks.append(TypedMark("chord", chord, match.start()))
        self.marks += [TypedMark("slash", "/", match.start() + len(beats[1]))] * (int(beats[2]) - 1)
        self.ends.append(match.span())
        self.sure += 1
        return True

    def _chords(self, match: re.Match[str]) -> bool:
        """Read one chord or several without a blank between them; some may be words."""
        piece = match[0]
        signed = _EARLY.match(piece)
        piece = piece[signed.end() :] if signed is not None else piece
        found, replaced = _chords_at(piece, match.end() - len(piece), self.marks, self._text, self._habits)
        if not found:
            return False
        self.marks[len(self.marks) - replaced :] = found
        self.ends.append(match.span())
        if signed is not None:
            self.guess = f"`{signed[0]}` before a chord is left out: does it come early, as `<{piece}`?"
        sung = self._habits.sung_names and piece == self._text.strip()
        if piece.strip("().,") in WORDY or piece[:1].islower() or sung:
            self.loose += 1
        else:
            self.sure += 1
        return True

    def _sign(self, piece: str, column: int) -> None:
        """Read what stands for a chord, or what is none."""
        kind = sign_of(piece)
        if kind == "slashes":
            self.marks += [TypedMark("slash", "/", column + i) for i in range(len(piece))]
        elif kind in _SIGNS:
            self.marks.append(TypedMark(*_SIGNS[kind], column))
        elif piece.lower().strip("()*.,!-") in _TWICE:
            self.times = 2
        elif kind != "glue":
            self.strays.append(piece)


def _chords_at(
    piece: str, column: int, marks: list[TypedMark], text: str, habits: Habits
) -> tuple[list[TypedMark], int]:
    """Read one run of characters as chords, and how many of the last marks they replace; none where it has none.

    A bass alone belongs to the chord before it.
    """
    if is_bass(piece):
        last = next((i for i in reversed(range(len(marks))) if marks[i].kind != "bar"), None)
        if last is None or marks[last].text == "%":
            return [], 0
        mark = marks[last]
        chord = over_bass(mark.text, piece, habits)
        if chord is None:
            return [], 0
        near = last == len(marks) - 1 and column - mark.column - len(mark.text) <= 1
        return [TypedMark("chord", chord, mark.column if near else column)], int(near)
    at = column
    placed: list[TypedMark] = []
    for name in marks_in(piece, habits) or ():
        if placed:  # the first stands where its parentheses or brackets do
            at = max(at, text.find(name, at, column + len(piece)))
        placed.append(TypedMark("slash" if name == "/" else "chord", name, at))
        at += 1
    return placed, 0


def _without_groups(text: str, habits: Habits) -> tuple[str, tuple[str, ...], int]:
    """Take remarks and counts in parentheses out of a line, columns kept. Chords in parentheses stay."""
    cues: list[str] = []
    times = 0

    def blank(match: re.Match[str]) -> str:
        nonlocal times
        inner = match[1].strip()
        often, said = said_behind(inner)
        if often and not said:
            times = often
        elif not inner or all(marks_in(p, habits) or sign_of(p) or "|" in p for p in inner.split()):
            return match[0] if match[0][0] == "(" and " " not in inner else f" {match[1]} "
        else:
            cues.append(" ".join(inner.split()))
        return " " * len(match[0])

    text = _GROUP.sub(blank, text)
    apart = _TIMES_APART.search(text)
    if apart is not None:
        times = int(apart[1])
        text = text[: apart.start()] + " " * len(apart[0]) + text[apart.end() :]
    return text, tuple(cues), times
