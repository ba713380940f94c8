"""Gather what a bar shows on staves: its notes and rests in note values, at the columns where they begin.

What stands there in notes (fills, hooks, rests, a chord that goes on) stands nowhere else.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from fractions import Fraction

from arranger.harmony.model import Arrangement, ChordId
from arranger.layout.content.model import Column, FillMark
from arranger.layout.style import Look
from arranger.sounding.notation import BarKey, NotatedBar, WrittenNote, printed_bars

NO_BARS: Mapping[BarKey, NotatedBar] = {}
Marks = Mapping[tuple[int, int], Mapping[Fraction, FillMark]]  # the notes of fills, by bar and time


def staff_bars(arrangement: Arrangement, look: Look) -> Mapping[BarKey, NotatedBar]:
    """Return the printed bars in note values where hands are shown on staves; else none."""
    return printed_bars(arrangement) if look.hands == "staff" else NO_BARS


def labelled_lines(fills: Marks) -> frozenset[int]:
    """Return the fills that are for some of the verses alone: they stay in letters, which say for which."""
    marks = (mark for bar in fills.values() for mark in bar.values())
    return frozenset(mark.line for mark in marks if any(":" in run.text for run in mark.label))


def is_repeated(written: NotatedBar, before: NotatedBar | None) -> bool:
    """Return whether a bar is played as the one before it, to the last note: the sign of a repeated bar says so."""
    return before is not None and _music(written) == _music(before)


def _music(bar: NotatedBar) -> object:
    return [[(note.value, note.heads, note.signs) for note in voice] for voice in bar.voices]


def signs_in(bars: Iterable[NotatedBar]) -> frozenset[tuple[ChordId, str]]:
    """Return the signs of playing that bars have at their notes, each with its chord."""
    notes = (note for bar in bars for voice in bar.voices for note in voice)
    return frozenset((note.chord, sign) for note in notes if note.chord is not None for sign in note.signs)


def with_notes(columns: tuple[Column, ...], written: NotatedBar, labelled: Collection[int]) -> tuple[Column, ...]:
    """Return the columns of a bar with its notes; `labelled` are fills that stay in letters too."""
    by_time: dict[Fraction, list[WrittenNote | None]] = {}
    for staff, voice in enumerate(written.voices):
        for note in voice:
            # Which chord it is of stands in the column, where it stands.
            by_time.setdefault(note.start, [None, None])[staff] = replace(note, chord=None)
    found = {column.time: column for column in columns}
    for time in by_time:
        found.setdefault(time, Column(time))
    return tuple(_with_notes(found[time], by_time.get(time, [None, None]), labelled) for time in sorted(found))


def _with_notes(column: Column, notes: list[WrittenNote | None], labelled: Collection[int]) -> Column:
    right, left = notes
    symbol, fill, hook = column.symbol, column.fill, column.hook
    if symbol is not None and symbol.role in ("slash", "repeat"):
        symbol = None
    in_notes = right is not None and right.struck
    if fill is not None and in_notes and right is not None and right.small and fill.line not in labelled:
        column = column._replace(fill_in_notes=fill)
        fill = None
    if hook is not None and in_notes:
        column = column._replace(hook_in_notes=hook)
        hook = None
    picture = column.picture
    if picture is not None and right is not None and right.struck and len(right.heads) != len(picture.marks):
        picture = replace(picture, fingers=(), shape=())  # another line takes the hand
    return column._replace(symbol=symbol, picture=picture, fill=fill, hook=hook, written=(right, left))


def without_notes(column: Column) -> Column:
    """Return a column as it stands without hands: fills and hooks in letters, how to play in words again."""
    symbol = column.symbol
    if symbol is not None and symbol.signed:
        symbol = replace(symbol, manner=symbol.signed, signed=())
    return column._replace(
        symbol=symbol,
        picture=None,
        written=(None, None),
        fill=column.fill or column.fill_in_notes,
        hook=column.hook or column.hook_in_notes,
    )
