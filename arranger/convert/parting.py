"""Settle what dashes and slashes between the chords of a line part: chords, bars, or phrases."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from arranger.convert.model import TypedMark

_DASHES = frozenset("-–—_~'")
_BETWEEN_PACKED = re.compile(r" {1,3}| ?[-–—/|,] ?")
FEWEST_PACKED = 3  # chords side by side that show that they stand over no syllables
MOST_IN_BAR = 2  # chords between two signs that may share a bar; more are a phrase


def is_packed(text: str, places: Sequence[tuple[int, int]]) -> bool:
    """Return whether chords stand side by side, with the same few blanks or a sign between all of them."""
    gaps = [text[a:b] for (_, a), (b, _) in pairwise(places)]
    blanks = {gap for gap in gaps if not gap.strip()}
    return len(places) >= FEWEST_PACKED and len(blanks) <= 1 and all(map(_BETWEEN_PACKED.fullmatch, gaps))


def is_signed(text: str, places: Sequence[tuple[int, int]]) -> bool:
    """Return whether a dash, a slash or a comma stands between all chords of a line, right beside them."""
    gaps = [text[a:b] for (_, a), (b, _) in pairwise(places)]
    return bool(gaps) and all(gap.strip() and _BETWEEN_PACKED.fullmatch(gap) for gap in gaps)


def parted(marks: Sequence[TypedMark], text: str, *, packed: bool) -> tuple[list[TypedMark], str]:
    """Return the marks of a line without barlines as its dashes and slashes part them, and what was guessed.

    Slashes that stand between all chords, or dashes, part chords; between pairs of chords, bars; beside dashes, or
    between longer groups, phrases. Slashes at the end, or several in a row, are beats, and stay.
    """
    dashed = [m for m in marks if m.text == "/" and text[m.column] in _DASHES]
    rest = [m for m in marks if m not in dashed]
    groups = _groups(rest)
    if groups is not None:
        if not packed and max(map(len, groups)) > 1 and not dashed:
            return rest, ""
        if max(map(len, groups)) == 1:
            return [m for m in rest if m.kind != "slash"], ""
        if dashed or max(map(len, groups)) > MOST_IN_BAR:
            return [TypedMark("phrase", "/", m.column) if m.kind == "slash" else m for m in rest], ""
        return _as_bars(rest), "the slashes are taken for barlines"
    groups = _groups(marks) if dashed and len(rest) + len(dashed) == len(marks) else None
    if groups is not None and packed and max(map(len, groups)) == MOST_IN_BAR:
        return _as_bars(marks), "the dashes are taken for barlines"
    return rest, ""  # without barlines a dash only parts two chords


def _groups(marks: Sequence[TypedMark]) -> list[list[TypedMark]] | None:
    """Part marks at single slashes; None where there is none, or where one of them counts a beat."""
    groups: list[list[TypedMark]] = [[]]
    for mark in marks:
        if mark.kind == "slash":
            groups.append([])
        else:
            groups[-1].append(mark)
    return groups if len(groups) > 1 and all(groups) else None


def _as_bars(marks: Sequence[TypedMark]) -> list[TypedMark]:
    return [TypedMark("bar", "|", m.column) if m.kind == "slash" else m for m in marks]


def sharing_bars(marks: Sequence[TypedMark], groups: Sequence[tuple[int, int]]) -> tuple[list[TypedMark], str] | None:
    """Return the marks of a line in bars, one for each chord and one for each group, and what was guessed.

    None where no group has two chords or more: `G (C D) Em`.

    Args:
        marks: of the line, without barlines.
        groups: columns where groups in parentheses start and end.
    """
    inside = [[m for m in marks if m.kind == "chord" and start <= m.column < end] for start, end in groups]
    if not any(len(group) > 1 for group in inside) or any(len(group) == 1 for group in inside):
        return None  # a chord alone in parentheses may be left out, and so may two
    if any(m.kind not in ("chord", "none") for m in marks):
        return None
    followers = {id(m) for group in inside for m in group[1:]}
    leaders = {id(group[0]): start for group, (start, _) in zip(inside, groups, strict=True) if group}
    found: list[TypedMark] = []
    for mark in marks:
        at = leaders.get(id(mark), mark.column)  # the first stands where its parenthesis does
        own = replace(mark, column=at)
        found += [own] if id(mark) in followers or not found else [TypedMark("bar", "|", at - 1), own]
    return found, "the chords in one pair of parentheses share a bar"
