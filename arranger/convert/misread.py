"""Mend chords that a reader of printed pages has misread: `Arn` for `Am`. Columns stay."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from arranger.convert.marks import chord_of
from arranger.convert.model import Remark, SheetLine
from arranger.habits.signs import sign_of

_MINOR = re.compile(r"(?<![^\s|(\[])([A-G](?:#|b)?)rn(?=[0-9]*(?:sus|add|maj)?[0-9]*(?:/[A-G](?:#|b)?)?(?:[\s|)\]]|$))")


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
        found.append(line)
    return tuple(found), tuple(notes)
