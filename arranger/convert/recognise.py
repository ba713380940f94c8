"""Find out whether a text is a typed sheet. A file of its own: commands about songs load nothing else for it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from arranger.habits.signs import with_own_signs
from arranger.song.cells import ChordWord, read_mark

MOST_LINES = 200  # looked at; a sheet shows what it is within its first verse
_OURS = ("section ", "sing ", "sing|", "roadmap ")  # lines that only a song in our notation has
_NEUTRAL = frozenset(("|", "||", "|:", ":|", "/", "-", "%", "N.C.", "NC", "x2", "(x2)", "2x"))


def looks_like_a_sheet(text: str) -> bool:
    r"""Return whether lines of chords stand above lines of words, and nothing is in the song's own notation.

    >>> looks_like_a_sheet("Low Tide\n\nG      D\nSand in the pockets\nEm\nSalt\n")
    True
    >>> looks_like_a_sheet("song Low Tide\nkey D\nsection Verse\nG  D\nSand in the pockets\n")
    False
    """
    lines = [line.strip() for line in text.split("\n")[:MOST_LINES]]
    if any(line.lower().startswith(_OURS) for line in lines):
        return False
    kinds = list(_kinds(line for line in lines if line))
    pairs = sum(a == "chords" and b == "words" for a, b in pairwise(kinds))
    return pairs >= 1 and kinds.count("chords") >= 2


def _kinds(lines: Iterator[str]) -> Iterator[str]:
    for line in lines:
        marks = [mark for mark in with_own_signs(line).replace("|", " | ").split() if mark not in _NEUTRAL]
        chords = [mark.strip("[]*,.") for mark in marks]
        yield "chords" if marks and all(isinstance(read_mark(mark), ChordWord) for mark in chords) else "words"


def is_song(text: str) -> bool:
    """Return whether a text is (or tries to be) a song in the project's own notation."""
    lines = [line.strip() for line in text.split("\n") if line.strip()]
    return (
        any(re.match(r"section\s+\S", line, re.I) for line in lines)
        and any(re.match(r"(?:song|key)\s+[^\s:=]", line, re.I) for line in lines)
    ) or any(re.match(r"sing\s*\|", line, re.I) for line in lines)
