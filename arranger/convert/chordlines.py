"""A line of chords taken apart. Takes a line in columns; gives its marks, and how sure it is that these are chords."""

from __future__ import annotations

import re
from dataclasses import dataclass

from arranger.convert.marks import (
    WORDY,
    Habits,
    bar_sign,
    chord_of,
    is_bass,
    marks_in,
    over_bass,
    sign_of,
    times_of,
)
from arranger.convert.model import BarSign, ChordLine, Mark, SheetLine
from arranger.song.grammar import with_own_signs

_GROUP = re.compile(r"(?<!\S)[(\[]([^()\[\]]*)[)\]](?!\S)")
_TIMES_APART = re.compile(r"(?<!\S)[xX×] ([0-9]{1,2})(?!\S)")
_PIECE = re.compile(r":?\|+:?(?:\s?[1-9]\.(?=\s|$))?|(?:[^|\s:]|:(?!\|))+")
_SAID = frozenset(
    (
        "riff", "fill", "solo", "hold", "stop", "let", "ring", "tacet", "break", "pause", "fermata", "build", "fade",
        "slow", "slowly", "softly", "muted", "strum", "only", "out", "in", "drums", "bass", "guitar", "piano", "keys",
        "once", "last", "time", "end", "fine", "rit.", "rit", "etc.", "etc", "repeat", "twice",
    )
)  # fmt: skip
_DASHES = frozenset("-–—_~'")
_TWICE = frozenset(("repeat", "twice"))
MIXED_CHORDS = 3  # chords beside which one word that is none may be a slip


@dataclass(frozen=True, slots=True)
class Reading:
    """A line read as chords.

    Attributes:
        line: what it would be.
        sure: chords that are no words.
        loose: chords that may be words (`Am`, `A`), or are written with a small letter.
        others: what is no chord.
    """

    line: ChordLine
    sure: int
    loose: int
    others: int

    @property
    def certain(self) -> bool:
        """Whether the line is of chords, whatever stands around it."""
        barred = any(isinstance(m, BarSign) for m in self.line.marks)
        if self.loose and barred and not self.others:
            return True
        if not self.sure:
            return not self.others and not self.loose and any(m.text in ("N.C.", "%") for m in self.line.marks)
        chords = self.sure + self.loose
        return not self.others or (chords >= MIXED_CHORDS and chords >= 3 * self.others)

    @property
    def possible(self) -> bool:
        """Whether it may be of chords: its neighbours decide."""
        return bool(self.loose) and not self.sure and not self.others


def padded(line: SheetLine) -> str:
    """Return a text with exactly one character for each column, to look for patterns in."""
    return "".join(cell[:1] or "\u200b" for cell in line.cells)


def read_chords(line: SheetLine, habits: Habits) -> Reading:
    """Read a line as one of chords."""
    text, cues, times = _without_groups(with_own_signs(padded(line)), habits)
    marks: list[Mark | BarSign] = []
    strays: list[str] = []
    sure = loose = 0
    for match in _PIECE.finditer(text):
        piece, column = match[0], match.start()
        sign = bar_sign(piece.replace(" ", "")) if "|" in piece else None
        if sign is None and habits.bar_letters and piece in ("I", "l"):
            sign = "|"
        if sign is not None:
            marks.append(BarSign(sign, column))
            continue
        if times_of(piece):
            times = times_of(piece)
            continue
        if re.fullmatch(r"[1-9]\.", piece) and marks and isinstance(marks[-1], BarSign) and marks[-1].text == "|":
            marks[-1] = BarSign("|" + piece, marks[-1].column)
            continue
        found = _chords_at(piece, column, marks, text, habits)
        if found is not None:
            marks[len(marks) - found.replaces :] = found.marks
            if piece.strip("().,") in WORDY or piece[:1].islower():
                loose += 1
            else:
                sure += 1
            continue
        other = sign_of(piece)
        if other == "slashes":
            marks += [Mark("slash", "/", column + i) for i in range(len(piece))]
        elif other in ("none", "rest", "slash", "simile"):
            marks.append(Mark(other, {"none": "N.C.", "rest": "rest", "slash": "/", "simile": "%"}[other], column))  # type: ignore[arg-type]
        elif piece.lower().strip("()*.,!-") in _TWICE:
            times = 2
        elif other != "glue":
            strays.append(piece)
    if not any(isinstance(mark, BarSign) for mark in marks):  # without barlines a dash only parts two chords
        marks = [m for m in marks if m.text != "/" or text[m.column] not in _DASHES]
    said = [s for s in strays if not s.endswith(":") and s.lower().strip("()*.,!-:") in _SAID]
    if said and len(said) == len(strays) and sure:
        cues, strays = (*cues, " ".join(said).strip("()* ")), []
    return Reading(ChordLine(line.number, tuple(marks), max(times, 1), cues, tuple(strays)), sure, loose, len(strays))


@dataclass(frozen=True, slots=True)
class _Found:
    marks: list[Mark | BarSign]
    replaces: int = 0


def _chords_at(piece: str, column: int, marks: list[Mark | BarSign], text: str, habits: Habits) -> _Found | None:
    """Read one run of characters as chords; a bass alone belongs to the chord before it."""
    if is_bass(piece):
        last = next((i for i in reversed(range(len(marks))) if isinstance(marks[i], Mark)), None)
        if last is None or marks[last].text == "%":
            return None
        mark = marks[last]
        chord = over_bass(mark.text, piece, habits)
        if chord is None:
            return None
        near = last == len(marks) - 1 and column - mark.column - len(mark.text) <= 1
        return _Found([Mark("chord", chord, mark.column if near else column)], 1 if near else 0)
    found = marks_in(piece, habits)
    if found is None:
        return None
    at = column
    placed: list[Mark | BarSign] = []
    for name in found:
        if placed:  # the first stands where its parentheses or brackets do
            at = max(at, text.find(name, at, column + len(piece)))
        placed.append(Mark("slash" if name == "/" else "chord", name, at))
        at += 1
    return _Found(placed)


def _without_groups(text: str, habits: Habits) -> tuple[str, tuple[str, ...], int]:
    """Take remarks and counts in parentheses out of a line, columns kept. Chords in parentheses stay."""
    cues: list[str] = []
    times = 0

    def blank(match: re.Match[str]) -> str:
        nonlocal times
        inner = match[1].strip()
        if times_of(inner):
            times = times_of(inner)
        elif not inner or all(marks_in(p, habits) or sign_of(p) or "|" in p for p in inner.split()):
            opening = match[0][0] if " " not in inner else " "
            closing = match[0][-1] if " " not in inner else " "
            return f"{opening}{match[1]}{closing}" if opening == "(" else f" {match[1]} "
        else:
            cues.append(" ".join(inner.split()))
        return " " * len(match[0])

    text = _GROUP.sub(blank, text)
    apart = _TIMES_APART.search(text)
    if apart is not None:
        times = int(apart[1])
        text = text[: apart.start()] + " " * len(apart[0]) + text[apart.end() :]
    return text, tuple(cues), times


def chord_candidates(lines: tuple[SheetLine, ...]) -> list[str]:
    """Return the marks of all lines that look like chords in some habit: what a sheet's habits are told from."""
    wide = Habits(german=True, bar_letters=True)
    marks: list[str] = []
    for line in lines:
        pieces = with_own_signs(line.text).replace("|", " ").split()
        chords = sum(chord_of(p, wide) is not None for p in pieces)
        words = sum(p in ("I", "l") or bool(sign_of(p)) or bool(times_of(p)) for p in pieces)
        if (chords >= 2 and chords + words == len(pieces)) or (chords == len(pieces) == 1 and pieces[0] not in WORDY):
            marks += pieces
    return marks
