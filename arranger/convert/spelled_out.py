"""Join chords that are typed with blanks or in words: `G maj7`, `B flat`, `D/F sharp`, `E minor`. Columns stay."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from arranger.convert.marks import chord_of
from arranger.convert.model import Remark, SheetLine
from arranger.habits.signs import sign_of, with_own_signs
from arranger.song.cells import ChordWord, read_mark
from arranger.theory.pitch import NoteName

FEWEST = 3  # chords typed so that show a habit; one may be a title
_SIGNED = re.compile(r"(?<![^\s/|(])([A-G])[ -](sharp|flat)\b", re.I)
_KIND = re.compile(
    r"(?<![^\s|(])([A-G](?:#|b)?) ((?:maj|min|m|sus|add|dim|aug)[0-9]{0,2}|"
    r"(?:major|minor)(?: ?[679])?|7sus4|6/9|[679]|11|13)"
    r"(?=[\s|)/]|$)",
    re.I,
)
_BASS_APART = re.compile(r"(?<![^\s|(])(?P<chord>[A-G][^\s/|]{0,8})(?: / ?| ?/ )(?P<bass>[A-G](?:#|b)?)(?=[\s|)]|$)")
FEWEST_BASSES = 2  # that show the habit
_SIGNS = {"sharp": "#", "flat": "b"}
_KINDS = {"major": "", "minor": "m"}


class ChordsJoined(NamedTuple):
    """A sheet's lines with such chords in one piece, and what was guessed."""

    lines: tuple[SheetLine, ...]
    notes: tuple[Remark, ...] = ()


def with_joined_chords(lines: Sequence[SheetLine]) -> ChordsJoined:
    """Return the lines with such chords in one piece, if a sheet has that habit."""
    found: list[SheetLine] = []
    count = 0
    for line in lines:
        text, joined = _joined(with_own_signs(line.padded))
        whole = all(len(cell) == 1 for cell in line.cells)
        if joined and whole and all(_is_mark(piece) for piece in text.split()):
            count += joined
            line = SheetLine(line.number, tuple(text.rstrip()))
        found.append(line)
    lines = tuple(found) if count >= FEWEST else tuple(lines)
    basses = [match for line in lines if _has_only_marks(line) for match in _BASS_APART.finditer(line.padded)]
    if not _are_basses([(match["chord"], match["bass"]) for match in basses]):
        return ChordsJoined(lines)
    said = "a note behind a slash with blanks around it is taken for a bass: `G / B` is G/B"
    mended = (_with_basses_joined(line) if _has_only_marks(line) else line for line in lines)
    return ChordsJoined(tuple(mended), (Remark("check", 0, said),))


def _has_only_marks(line: SheetLine) -> bool:
    pieces = line.padded.split()
    return len(pieces) > 1 and all(map(_is_mark, pieces))


def _are_basses(pairs: Sequence[tuple[str, str]]) -> bool:
    """Return whether notes behind slashes are basses: each is in its chord, and one is no root of a chord beside it.

    From C to G a song may go, and `C / G` may be two chords; but hardly from G to B.
    """
    thirds = 0
    for chord, bass in pairs:
        word = read_mark(chord_of(chord) or "")
        if not isinstance(word, ChordWord):
            return False
        names = [name.pitch_class for name in word.chord.names]
        at = NoteName.parse(bass).pitch_class
        if at not in names[1:]:
            return False
        thirds += at == names[1]
    return len(pairs) >= FEWEST_BASSES and thirds > 0


def _with_basses_joined(line: SheetLine) -> SheetLine:
    text = _BASS_APART.sub(lambda match: f"{match['chord']}/{match['bass']}".ljust(len(match[0])), line.padded)
    return replace(line, cells=tuple(text.rstrip()))


def _joined(text: str) -> tuple[str, int]:
    """Return a text with its chords in one piece, and how many were joined; what became shorter is filled up."""
    count = 0

    def mended(match: re.Match[str], name: str) -> str:
        nonlocal count
        count += 1
        return name.ljust(len(match[0]), "\0")

    text = _SIGNED.sub(lambda m: mended(m, m[1] + _SIGNS[m[2].lower()]), text)
    text = _filled_behind(text)
    text = _KIND.sub(lambda m: mended(m, m[1] + _kind(m[2])), text)
    return _filled_behind(text).replace("\0", " "), count


def _kind(text: str) -> str:
    word = re.match("[a-z]*", text, re.I)
    assert word is not None
    return _KINDS.get(word[0].lower(), word[0]) + text[word.end() :].strip()


def _filled_behind(text: str) -> str:
    """Move what fills up behind the chord that it stands in, so that a bass or a kind follows its chord."""
    return re.sub(
        r"(\0+)((?: ?(?:major|minor|maj|min|m|sus|dim|[679])[0-9]*(?![^\s/|)]))?(?:/[A-G](?:#|b)?)?)", r"\2\1", text
    )


def _is_mark(piece: str) -> bool:
    return chord_of(piece) is not None or "|" in piece or bool(sign_of(piece))
