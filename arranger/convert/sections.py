"""Sections to be written. Takes what was gathered; gives sections with bars and words, each in its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from arranger.convert.bars import evenly_typed
from arranger.convert.gather import RawRow, RawSection
from arranger.convert.model import DraftBar, DraftRow, DraftSection, Note, Segment
from arranger.convert.rows import Laid, lay
from arranger.song.model import Meter


def section_of(raw: RawSection, meter: Meter, bars_a_chord: int) -> DraftSection:
    """Make a section of what was gathered."""
    chordless = all(row.chords is None for row in raw.rows)
    words = tuple(word for row in raw.rows for word in row.words) if chordless else ()
    head = DraftSection(
        raw.heading.name,
        raw.line,
        words=words,
        closing=tuple(raw.notes),
        closing_cues=tuple(raw.cues),
        key=raw.key,
        remark=raw.heading.remark,
    )
    if chordless:
        notes = tuple(note for row in raw.rows for note in row.notes)
        cues = tuple(cue for row in raw.rows for cue in row.cues)
        return replace(head, notes=notes, cues=cues)
    rows: list[DraftRow] = []
    pickup = ""
    even = evenly_typed([row.chords for row in raw.rows if row.chords is not None])
    for row in raw.rows:
        laid = lay(row, meter, bars_a_chord, goes_on=bool(rows), even=even)
        if laid.before:
            if rows:
                rows[-1] = _with_upbeat(rows[-1], laid)
            else:
                pickup = laid.before + ("-" if laid.before_joins and not laid.before.endswith("-") else "")
        rows.append(laid.row)
    return replace(head, rows=_uneven(_begun(_closed(rows))), pickup=pickup)


def words_without_chords(section: DraftSection, meter: Meter) -> DraftSection:
    """Return a section of words alone bars without chords, where no other section lends it any."""
    rows = [lay(RawRow(None, [word]), meter, 1, goes_on=False).row for word in section.words]
    return replace(section, rows=tuple(rows), words=())


def _with_upbeat(row: DraftRow, laid: Laid) -> DraftRow:
    """Return the words before a row's first chord to the last bar of the row before, after its last chord."""
    last = row.bars[-1]
    places = 1 + sum(mark not in ("/", "rest", "%") for mark in last.marks[1:])
    segments = [*last.segments, *[Segment("")] * (places - len(last.segments))]
    text = f"{segments[-1].text} {laid.before}".strip()
    segments[-1] = replace(segments[-1], text=text)
    bar = replace(last, segments=tuple(segments), joins=laid.before_joins)
    notes = row.notes
    if ":" in row.end:
        notes = (*notes, Note("check", row.line, f"`{laid.before}` is sung before the next line, not each time"))
    return replace(row, bars=(*row.bars[:-1], bar), notes=notes)


def _begun(rows: Sequence[DraftRow]) -> list[DraftRow]:
    """Let a section begin with a chord: a sign that goes on with the last one has nothing before it."""
    first = rows[0].bars[0]
    if first.marks[0] not in ("/", "%"):
        return list(rows)
    marks = ("N.C.", *first.marks[1:])
    return [replace(rows[0], bars=(replace(first, marks=marks), *rows[0].bars[1:])), *rows[1:]]


def _closed(rows: Sequence[DraftRow]) -> list[DraftRow]:
    """Make repeats whole: one that is only closed begins with the section, one that is only opened is none."""
    found = list(rows)
    opened: tuple[int, int] | None = None
    start = (0, 0)
    for r, row in enumerate(rows):
        signs = [bar.sign for bar in row.bars] + [row.end]
        for b, sign in enumerate(signs):
            if sign.startswith(":"):
                if opened is None:
                    found[start[0]] = _resigned(found[start[0]], start[1], opens=True)
                opened = None
                start = (r, b) if b < len(row.bars) else (r + 1, 0)
            if sign.endswith(":") and b < len(row.bars):
                if opened is not None:
                    found[opened[0]] = _resigned(found[opened[0]], opened[1], opens=False)
                opened = (r, b)
    if opened is not None:
        note = Note("check", rows[opened[0]].line, "a repeat begins here, but no sign ends it")
        row = _resigned(found[opened[0]], opened[1], opens=False)
        found[opened[0]] = replace(row, notes=(*row.notes, note))
    return found


def _resigned(row: DraftRow, index: int, *, opens: bool) -> DraftRow:
    """Open a repeat before a bar, or do not."""
    bar = row.bars[index]
    sign = bar.sign
    sign = (":|:" if sign.startswith(":") else "|:") if opens else sign.removesuffix(":")
    bars = list(row.bars)
    bars[index] = replace(bar, sign=sign)
    return replace(row, bars=tuple(bars))


def without_repeats(section: DraftSection) -> DraftSection:
    """Take all signs of repetition out of a section whose signs do not make sense."""

    def plain(bar: DraftBar) -> DraftBar:
        return replace(bar, sign="|")

    note = Note("check", section.line, "signs of repeats and endings here made no sense, and were left out")
    rows = tuple(replace(row, bars=tuple(map(plain, row.bars)), end="|") for row in section.rows)
    return replace(section, rows=rows, notes=(*section.notes, note))


def _uneven(rows: Sequence[DraftRow]) -> tuple[DraftRow, ...]:
    """Mark lines that have one bar more than all others: two of their chords may share one."""
    counts = [len(row.bars) for row in rows]
    found = list(rows)
    for index, row in enumerate(rows):
        others = {c for i, c in enumerate(counts) if i != index}
        if len(rows) > 2 and len(others) == 1 and row.sung and others == {counts[index] - 1}:
            said = f"{counts[index]} bars here and {counts[index] - 1} in the other lines: do two chords share a bar?"
            found[index] = replace(row, notes=(*row.notes, Note("check", row.line, said)))
    return tuple(found)
