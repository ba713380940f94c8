"""Mend chords that were misread from a printed page, `Arn` for `Am`, or typed with Cyrillic letters. Columns stay."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from arranger.convert.marks import chord_of
from arranger.convert.model import Remark, SheetLine
from arranger.habits.signs import sign_of

_MINOR = re.compile(r"(?<![^\s|(\[])([A-G](?:#|b)?)rn(?=[0-9]*(?:sus|add|maj)?[0-9]*(?:/[A-G](?:#|b)?)?(?:[\s|)\]]|$))")
# Cyrillic letters that look like those of chords.
_LATIN = str.maketrans("АВСЕНаесм", "ABCEHaecm")


def _behind_name(text: str) -> list[str]:
    """Return what stands behind a name with a colon, or all of a text; at least one piece."""
    return text[text.rfind(":") + 1 :].split() or [text]


def with_chords_mended(lines: Sequence[SheetLine]) -> tuple[tuple[SheetLine, ...], tuple[Remark, ...]]:
    """Return the lines with an m where `rn` stands for it in a line of chords, and what to say of each."""
    found: list[SheetLine] = []
    notes: list[Remark] = []
    for line in lines:
        text = _MINOR.sub(r"\1m ", line.padded)
        text = re.sub(r"m ([0-9a-z/A-G#]+)", lambda m: f"m{m[1]} ", text) if text != line.padded else text
        if text != line.padded and all(chord_of(p) or sign_of(p) or "|" in p for p in text.split()):
            line = replace(line, cells=tuple(text.rstrip()))
            notes.append(Remark("check", line.number, "`rn` is taken for an m that was misread: `Arn` is Am"))
        latin = line.padded.translate(_LATIN)
        if latin != line.padded and all(chord_of(p.strip(":")) or sign_of(p) or "|" in p for p in _behind_name(latin)):
            name = line.padded.rfind(":") + 1
            line = replace(line, cells=(*line.cells[:name], *latin[name:]))
        found.append(line)
    return tuple(found), tuple(notes)
