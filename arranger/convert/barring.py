"""Divide lines of chords into bars, as the song's format has them, and complete repeats.

Sheets seldom have bars: one chord is taken for one bar, unless barlines are typed, rhythm slashes count the beats, or a
line of chords alone shows by its spacing that some stand closer (half the way from one to the next: half a bar).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from arranger.convert.model import ChordLine, DraftBar, DraftRow, DraftSection, Remark, TypedMark
from arranger.habits.endings import LAST
from arranger.song.chord_rows import allowed_counts, felt_beats
from arranger.song.model import Meter

NARROWEST_BAR = 2  # columns from one barline to the next, if an empty bar is between them
NARROWEST_STEP = 6  # columns from bar to bar: narrower ones are only blanks between names
GRID_LINES, GRID_CHORDS = 3, 3  # lines, and chords in each, that show a grid
SPACING_ERROR = 0.2  # of a bar's columns: how far from even a line may be typed and still show its bars


def bars_of(line: ChordLine, meter: Meter, bars_a_chord: int, *, spaced: bool) -> tuple[tuple[DraftBar, ...], str, str]:
    """Divide a line of chords into bars; return them, the last barline, and what was guessed (empty: nothing).

    Args:
        line: with at least one mark that is no barline.
        meter: of the song.
        bars_a_chord: how many bars a chord lasts where nothing shows the bars.
        spaced: the line's spacing means something: no words stand under it, or all lines have the same grid.
    """
    marks = [m for m in line.marks if m.kind != "bar"]
    groups, end = _groups(line)
    slashed = any(m.kind == "slash" for m in marks)
    framed = len(groups) == 1 and len(line.chords) > 2 and not slashed
    if line.barred and not framed:
        lefts = [m.column for m in line.marks if m.kind == "bar"]
        found = [bar for sign, group in groups for bar in _shared(sign, group, meter)]
        found = [replace(b, left=max((c for c in lefts if c < b.columns[0]), default=-1)) for b in found]
        return tuple(found), end, _squeezed(groups, meter)
    guess = ""
    chords = [m for m in marks if m.kind != "slash"] or marks[:1]
    grid = _counted(marks, meter) if slashed else None
    if grid is None and spaced and bars_a_chord == 1:
        grid = _spaced(chords)
        guess = "chords typed closer together share a bar"
    if grid is not None:
        bars = [bar for group in grid for bar in _shared("|", group, meter)]
    else:
        guess = "only the outer barlines are typed: each chord is taken for a bar" if framed and line.barred else ""
        held = [DraftBar("|", ("%",), (-1,))] * (bars_a_chord - 1)
        bars = [bar for mark in chords for bar in (DraftBar("|", (mark.text,), (mark.column,)), *held)]
    return (replace(bars[0], sign=groups[0][0]), *bars[1:]), end, guess


def _groups(line: ChordLine) -> tuple[list[tuple[str, list[TypedMark]]], str]:
    """Part a line at its barlines, and return the last one. An empty bar between others goes on with the bar before."""
    groups: list[tuple[str, list[TypedMark]]] = []
    sign, begun, last = "|", False, 0
    group: list[TypedMark] = []
    empty: list[tuple[str, list[TypedMark]]] = []
    for mark in line.marks:
        if mark.kind != "bar":
            group.append(mark)
            continue
        if group:
            groups += [*empty, (sign, group)]
            sign, empty = mark.text, []
        elif groups and {sign, mark.text} <= {"|", "||"} and mark.column - last >= NARROWEST_BAR:
            empty.append((sign, [TypedMark("simile", "%", last)]))
            sign = mark.text
        else:
            sign = _joined(sign, mark.text) if begun else mark.text
        group, begun, last = [], True, mark.column
    if group:
        groups += [*empty, (sign, group)]
        sign = "|"
    if sign.startswith("|") and (":" in sign or "." in sign):
        sign = "|"  # a repeat that begins at the end of a line has nothing to repeat in it
    return groups, sign


def _joined(left: str, right: str) -> str:
    """Make one barline of two that have nothing between them: `:|` and `|:` are `:|:`."""
    closes = ":" if left.startswith(":") or right.startswith(":") else ""
    opens = ":" if right.rstrip("123456789.").endswith("|:") or left.endswith(":") else ""
    ending = right.lstrip(":|") or left.lstrip(":|")
    if closes or opens or ending:
        return f"{closes}|{opens or ending}"
    return "||" if "||" in (left, right) else "|"


def _counted(marks: Sequence[TypedMark], meter: Meter) -> list[list[TypedMark]] | None:
    """Group marks to bars where slashes count the beats: `G / / / D / A /`. None where they do not come out even."""
    beats = int(felt_beats(meter, meter.length))
    if len(marks) % beats or marks[0].kind == "slash":
        return None
    return [list(marks[i : i + beats]) for i in range(0, len(marks), beats)]


def _spaced(chords: Sequence[TypedMark]) -> list[list[TypedMark]] | None:
    """Group chords to bars by even spacing: the most common step is a bar, and some chords stand half a step apart."""
    steps = [b.column - a.column for a, b in pairwise(chords)]
    if len(steps) < 3:
        return None
    ranked = Counter(steps).most_common()
    bar = max(step for step, count in ranked if count == ranked[0][1])
    if ranked[0][1] < 2 or bar < NARROWEST_STEP:
        return None
    starts = [(c.column - chords[0].column) / bar for c in chords]
    groups: list[list[TypedMark]] = []
    for chord, start in zip(chords, starts, strict=True):
        whole = abs(start - round(start)) <= SPACING_ERROR
        half = abs(start * 2 - round(start * 2)) <= 2 * SPACING_ERROR
        if whole and round(start) == len(groups):
            groups.append([chord])
        elif half and groups and round(start * 2) == 2 * len(groups) - 1 and len(groups[-1]) == 1:
            groups[-1].append(chord)
        else:
            return None
    return groups if any(len(group) > 1 for group in groups) else None


def evenly_typed(lines: Sequence[ChordLine]) -> bool:
    """Return whether lines of chords stand on one even grid, whatever words are under them.

    At least three lines of three chords begin in one column, and all chords stand whole or half steps from it, the
    step being the most common one: words alone hardly bring that about.
    """
    columns = [[m.column for m in line.chords] for line in lines if not line.barred and len(line.chords) >= GRID_CHORDS]
    if len(columns) < GRID_LINES or len({each[0] for each in columns}) != 1:
        return False
    step = Counter(b - a for each in columns for a, b in pairwise(each)).most_common(1)[0][0]
    return step >= NARROWEST_STEP and all(2 * (c - each[0]) % step == 0 for each in columns for c in each)


def _shared(sign: str, marks: Sequence[TypedMark], meter: Meter) -> list[DraftBar]:
    """Return a bar that some marks share, with slashes where the format needs them; two bars for too many marks."""
    if any(m.kind == "simile" for m in marks):
        if not any(m.kind in ("chord", "none", "rest") for m in marks):
            return [DraftBar(sign, ("%",), (marks[0].column,))]
        marks = [m for m in marks if m.kind != "simile"]
    allowed = allowed_counts(meter.length, felt_beats(meter, meter.length))
    if len(marks) not in allowed:
        marks = [m for i, m in enumerate(marks) if m.kind != "slash" or i == 0]
    if len(marks) in allowed:
        return [DraftBar(sign, tuple(m.text for m in marks), _columns(marks))]
    room = next((n for n in allowed if n >= len(marks)), 0)
    if not room:
        half = (len(marks) + 1) // 2
        return [*_shared(sign, marks[:half], meter), *_shared("|", marks[half:], meter)]
    texts = [m.text for m in marks]  # the first lasts longest, as it mostly does
    return [DraftBar(sign, (texts[0], *["/"] * (room - len(marks)), *texts[1:]), _columns(marks))]


def _columns(marks: Sequence[TypedMark]) -> tuple[int, ...]:
    return tuple(m.column for i, m in enumerate(marks) if i == 0 or m.kind in ("chord", "none"))


def _squeezed(groups: Sequence[tuple[str, Sequence[TypedMark]]], meter: Meter) -> str:
    """Return what to say of a bar whose chords do not share it evenly; empty where all do."""
    allowed = allowed_counts(meter.length, felt_beats(meter, meter.length))
    for _, group in groups:
        chords = sum(m.kind != "slash" for m in group)
        if len(group) not in allowed and chords > 1 and not any(m.kind == "simile" for m in group):
            return f"{chords} chords in a bar of {meter} are laid out by guess"
    return ""


def with_endings(rows: Sequence[DraftRow], endings: Sequence[int]) -> list[DraftRow]:
    """Write the endings that lines are labelled with: what stands before the first one is repeated.

    Args:
        rows: of a section.
        endings: the number of the ending that each is in; 0 for none.
    """
    found = list(rows)
    numbers = list(dict.fromkeys(number for number in endings if number))
    if not numbers:
        return found
    signed = any(":" in sign for row in rows for sign in (row.end, *(bar.sign for bar in row.bars)))
    counted = [1 + i for i in range(len(numbers))]
    first = next(i for i, number in enumerate(endings) if number)
    if signed or not first or numbers not in (counted, [*counted[:-1], LAST]) or len(numbers) < 2:
        said = "endings are named here, but no repeat that they end"
        found[first] = replace(found[first], notes=(*found[first].notes, Remark("check", rows[first].line, said)))
        return found
    found[0] = _beginning(found[0], "|:")
    for place, number in enumerate(numbers):
        begins = endings.index(number)
        last = max(i for i, other in enumerate(endings) if other == number)
        found[begins] = _beginning(found[begins], f"|{place + 1}.")
        found[last] = replace(found[last], end="||" if place + 1 == len(numbers) else ":|")
    return found


def _beginning(row: DraftRow, sign: str) -> DraftRow:
    return replace(row, bars=(replace(row.bars[0], sign=sign), *row.bars[1:]))


def with_whole_repeats(rows: Sequence[DraftRow]) -> list[DraftRow]:
    """Make repeats whole: one that is only closed begins with the section, one that is only opened is none."""
    found = list(rows)
    opened: tuple[int, int] | None = None
    start = (0, 0)
    for r, row in enumerate(rows):
        for b, sign in enumerate([*(bar.sign for bar in row.bars), row.end]):
            if sign.startswith(":"):
                if opened is None:
                    _resign(found, *start, opens=True)
                opened = None
                start = (r, b) if b < len(row.bars) else (r + 1, 0)
            if sign.endswith(":") and b < len(row.bars):
                if opened is not None:
                    _resign(found, *opened, opens=False)
                opened = (r, b)
    if opened is not None:
        _resign(found, *opened, opens=False)
        note = Remark("check", rows[opened[0]].line, "a repeat begins here, but no sign ends it")
        found[opened[0]] = replace(found[opened[0]], notes=(*found[opened[0]].notes, note))
    return found


def _resign(rows: list[DraftRow], index: int, bar: int, *, opens: bool) -> None:
    """Put a sign that opens a repeat before a bar of a row, or take it away."""
    bars = list(rows[index].bars)
    sign = bars[bar].sign
    sign = (":|:" if sign.startswith(":") else "|:") if opens else sign.removesuffix(":")
    bars[bar] = replace(bars[bar], sign=sign)
    rows[index] = replace(rows[index], bars=tuple(bars))


def without_repeats(section: DraftSection) -> DraftSection:
    """Take all signs of repetition out of a section whose signs do not make sense."""
    note = Remark("check", section.line, "signs of repeats and endings here made no sense, and were left out")
    rows = [replace(row, bars=tuple(replace(bar, sign="|") for bar in row.bars), end="|") for row in section.rows]
    return replace(section, rows=tuple(rows), notes=(*section.notes, note))
