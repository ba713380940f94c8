"""Read the lines of a section: facts, rows, words and cues; the header and the section it copies are added later."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from arranger.habits.signs import with_own_signs
from arranger.late import load
from arranger.song.cells import Barline, Cell, Places, chord_row
from arranger.song.chord_rows import NO_PUSH, PUSHES, SectionReader
from arranger.song.model import Bar, Feel, Meter, NoteLine, Row, SongText, SungLine
from arranger.song.players import last_change
from arranger.song.song_line import SongLine
from arranger.song.song_lines import (
    BROKEN_ROW,
    NOTE_ROWS,
    READERS,
    ROW,
    SHARED_WORDS,
    SONG_WORDS,
    SectionLines,
)
from arranger.song.words_and_notes import read_notes, read_sung
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Span


class _RepeatWalk:
    """Goes through a section's bars once. Mutable; lives in `with_endings` only."""

    def __init__(self, bars: list[Bar], problems: Problems) -> None:
        self.bars = bars
        self._problems = problems
        self._open: Bar | None = None  # where an explicit repeat starts
        self._ending: int | None = None  # the first bar of the ending we are in
        self._group: list[int] = []  # first bars of the endings of this repeat

    def run(self) -> None:
        for index, bar in enumerate(self.bars):
            if bar.repeat_start:
                self._start(index, bar)
            if bar.ending:
                self._begin_ending(index, bar)
            if bar.repeat_times:
                self._repeat(index, bar)
            elif bar.double and self._ending is not None:
                self._close(index)
        if self._ending is not None:
            self._close(len(self.bars) - 1)
        self._end_group()
        self._check_open()

    def _start(self, index: int, bar: Bar) -> None:
        if self._ending is not None:
            self._close(index - 1)
        self._end_group()
        self._check_open()
        self._open = bar

    def _check_open(self) -> None:
        if self._open is not None:
            message = "expected `:|` after `|:` in the same section"
            hint = "write `:|` after the last bar that is repeated; a repeat stays inside its section"
            self._problems.error("repeat-open", message, self._open.span, hint)
        self._open = None

    def _begin_ending(self, index: int, bar: Bar) -> None:
        if self._ending is not None:
            message = "expected `:|` before the next ending"
            hint = "every ending but the last goes back: `|1. A :|2. D ||`"
            self._problems.error("ending-without-repeat", message, bar.span, hint)
        first = max((n for i in self._group for n in self.bars[i].ending), default=0) + 1
        if list(bar.ending) != list(range(first, first + len(bar.ending))):
            message = f"expected an ending that begins with {first}, found {', '.join(map(str, bar.ending))}"
            hint = "endings are numbered in order, each time through once: `|1.2. A :|3. D ||`"
            self._problems.error("ending-order", message, bar.span, hint)
        self._group.append(index)
        self._ending = index

    def _repeat(self, index: int, bar: Bar) -> None:
        if self._ending is None:
            self._end_group()
            self._open = None
            return
        if bar.repeat_times != 2:
            message = "expected the numbers of the endings to say how often, found `x` in an ending"
            self._problems.error("ending-times", message, bar.span, "write `|1.2. A :|3. D ||` for three times")
        self.bars[index] = replace(bar, repeat_times=len(self.bars[self._ending].ending))
        self._ending = None

    def _close(self, index: int) -> None:
        """Let the ending we are in, the last of its group, stop after a bar."""
        self.bars[index] = replace(self.bars[index], ending_close=True)
        self._ending = None
        self._end_group(closed=True)
        self._open = None

    def _end_group(self, closed: bool = False) -> None:
        if self._group and not closed:
            last = self.bars[self._group[-1]]
            message = "expected another ending after this one, which goes back"
            hint = "the last ending is closed by `||`: `|1. A :|2. D ||`"
            self._problems.error("ending-last", message, Span(last.span.start, last.span.end), hint)
            self._open = None  # told with that
        elif len(self._group) == 1:
            message = "expected a second ending, found one alone"
            hint = "write `|1. A :|2. D ||`, or leave the number out"
            self._problems.error("ending-alone", message, self.bars[self._group[0]].span, hint)
        self._group = []


def with_endings(bars: list[Bar], problems: Problems) -> list[Bar]:
    """Return a section's bars with each ending's end and passes filled in; report repeats that do not fit."""
    if any(b.repeat_start or b.repeat_times or b.ending for b in bars):
        walk = _RepeatWalk(list(bars), problems)
        walk.run()
        return walk.bars
    return bars


def times_played(bars: tuple[Bar, ...]) -> list[int]:
    """Count how often each bar is played when its section is played once through."""
    played = [1] * len(bars)
    start = 0
    body_end: int | None = None
    total = 0
    for index, bar in enumerate(bars):
        if bar.repeat_start:
            start = index
        if bar.ending:
            body_end = index if body_end is None else body_end
            total += len(bar.ending)
            number = len(bar.ending)
        if body_end is not None:
            played[index] = number
        last = index + 1 == len(bars) or bar.ending_close
        if body_end is None and bar.repeat_times:
            played[start : index + 1] = [bar.repeat_times] * (index + 1 - start)
            start = index + 1
        elif body_end is not None and last:
            played[start:body_end] = [total] * (body_end - start)
            start, body_end, total = index + 1, None, 0
    return played


class SectionDraft:
    """A section while it is put together. Mutable.

    Attributes:
        name: with `span`.
        facts: the facts it states itself, in the order written.
        rows: its own rows, or its model's once they are copied.
        places: for each row, for each bar, where words can stand.
        sung: for a section that is `like` another: its `sing` lines with the cues before each.
        without_words: it is `like` another without that one's words.
        closing: cues after the last row.
    """

    def __init__(self, name: str, span: Span) -> None:
        self.name, self.span = name, span
        self.facts: dict[str, Any] = {}
        self.spans: dict[str, Span] = {}
        self.rows: list[Row] = []
        self.places: list[list[Places]] = []
        self.sung: list[tuple[SongLine, tuple[SongText, ...]]] = []
        self.without_words = False
        self.closing: tuple[SongText, ...] = ()
        self.broken = False

    def take_fact(self, line: SongLine, problems: Problems) -> None:
        """Read one fact; a second of its name is an error."""
        if line.word in self.spans:
            message = f"expected one `{line.word}` here, found a second"
            hint = "keep one of the two; what changes later stands in a section of its own"
            problems.error("fact-twice", message, line.span, hint)
            return
        self.spans[line.word] = line.span
        value = READERS[line.word](line, problems)
        if value is not None:
            self.facts[line.word] = value


class _RowDraft:
    """A row of chords while what is written below it is read. Mutable."""

    def __init__(self, bars: tuple[Bar, ...], cues: tuple[SongText, ...], span: Span) -> None:
        self.bars, self.cues, self.span = bars, cues, span
        self.words: list[SungLine] = []
        self.notes: dict[str, NoteLine] = {}

    def row(self, bars: tuple[Bar, ...]) -> Row:
        change = last_change(self.cues)
        return Row(bars, tuple(self.words), self.cues, **self.notes, band_change=change, span=self.span)


class _SectionBuilder:
    """Reads the lines of one section. Mutable; lives in `read_section` only."""

    def __init__(self, lines: SectionLines, problems: Problems) -> None:
        self.draft = SectionDraft(lines.name, lines.span)
        self._lines = lines.lines
        self._problems = problems
        self._rows: list[_RowDraft] = []
        self._cues: list[SongText] = []
        self._broken = False  # the row above was told already; what belongs to it is passed over

    def facts(self) -> None:
        """Read the facts first: the meter must be known before the first row."""
        begun = False
        for line in self._lines:
            begun = begun or line.word in (ROW, BROKEN_ROW)
            if line.word in SONG_WORDS:
                sung = "; sung words begin with `sing`" if line.word == "words" else ""
                message = f"expected `{line.word}` before the first section, found it in {shown(self.draft.name)}"
                hint = f"move the line to the top, under `song`{sung}"
                self._problems.error("header-word-late", message, line.span, hint)
            elif line.word in SHARED_WORDS or line.word in ("like", "tacet", "pickup", "drone"):
                if begun and not (line.word == "octaves" and "|" in line.text):  # that is a row with a slip in its word
                    self._late(line)
                self.draft.take_fact(line, self._problems)

    def _late(self, line: SongLine) -> None:
        message = f"expected `{line.word}` before the section's first row of chords"
        hint = "a fact holds for its whole section: move it up, or start a new `section` here"
        other = "what is to be done at one place can be said with `cue`"
        self._problems.error("fact-after-row", message, line.span, hint, other)

    def rows(self, reader: SectionReader) -> None:
        """Read the rows and what belongs to them."""
        like = "like" in self.draft.spans
        for line in self._lines:
            if line.word == "cue":
                text = READERS[line.word](line, self._problems)
                if text is not None:
                    self._cues.append(text)
            elif line.word == ROW:
                self._row(line, reader, like)
            elif line.word == BROKEN_ROW:
                self._broken = self.draft.broken = True
            elif line.word == "sing" and like:
                self.draft.sung.append((line, self._taken_cues()))
            elif line.word == "sing" or line.word in NOTE_ROWS:
                self._under_row(line, reader, like)
        bars = with_endings([b for r in self._rows for b in r.bars], self._problems)
        at = 0
        for row in self._rows:
            self.draft.rows.append(row.row(tuple(bars[at : at + len(row.bars)])))
            at += len(row.bars)
        self.draft.places = reader.places
        self.draft.closing = self._taken_cues()

    def _taken_cues(self) -> tuple[SongText, ...]:
        cues, self._cues = tuple(self._cues), []
        return cues

    def _row(self, line: SongLine, reader: SectionReader, like: bool) -> None:
        self._broken = False
        if like:
            if not self.draft.broken:
                message = "expected no chords in a section that is `like` another"
                hint = "its chords are those of its model: leave these out, or leave out the `like` line"
                self._problems.error("row-in-like", message, line.span, hint)
            self._broken = self.draft.broken = True
            return
        text = with_own_signs(line.text)
        parsed = chord_row(text)
        if _is_sung(parsed):
            self._broken = self.draft.broken = True
            message = f"expected chords, found a row of words {shown(line.text)}"
            fix = Fix(Span(line.span.start, line.span.start), "sing ") if line.text[1:2] not in "|:" else None
            hint = "a row of words begins with `sing`: `sing | …`"
            self._problems.error("words-in-chords", message, line.span, hint, fix=fix)
            return
        bars = reader.row(parsed, text, line.span.start)
        if not bars:
            self._broken = self.draft.broken = True
            reader.places.pop()
            if len(parsed) < 2:
                message = "expected chords after the barline, found none"
                self._problems.error("empty-row", message, line.span, "`| D | G |`")
            return
        self._rows.append(_RowDraft(bars, self._taken_cues(), line.span))

    def _under_row(self, line: SongLine, reader: SectionReader, like: bool) -> None:
        """Read a row that belongs to the chord row above."""
        if self._broken:
            return
        if not self._rows:
            why = "in a section that is `like` another there is none" if like else "found none in this section"
            message = f"expected a row of chords above `{line.word}`: {why}"
            hint = "write the chords first: `| D | G |`, and below them what belongs to them"
            self._problems.error("no-row-above", message, line.span, hint)
            self.draft.broken = True  # words above their chords may all be a row too high
            return
        row = self._rows[-1]
        if line.word == "sing":
            sung = read_sing_line(line, reader.places[-1], self._problems)
            if sung is not None:
                row.words.append(sung)
            return
        if line.word in row.notes:
            message = f"expected one `{line.word}` under a row of chords, found a second"
            self._problems.error("fact-twice", message, line.span)
            return
        if not _is_empty(line, self._problems):
            text = with_own_signs(line.text)
            row.notes[line.word] = read_notes(line.word, text, line.span, row.bars, self._problems)


def _is_sung(parts: tuple[Barline | Cell, ...]) -> bool:
    """Return whether a row holds words, and hardly a chord."""
    cells = [part for part in parts if isinstance(part, Cell)]
    words: int = sum(load("arranger.song.mistakes").is_word(bad) for cell in cells for _, bad in cell.bad)
    return words > 1 and words > sum(mark.kind == "chord" for cell in cells for mark in cell.marks)


WIDE_BAR = {ord("｜"): "|"}  # in words all other characters stand for themselves


def _is_empty(line: SongLine, problems: Problems) -> bool:
    """Return whether a row below the chords has no bar, which is reported."""
    if not line.text:
        problems.error(
            "empty-row", f"expected bars after `{line.word}`, found the end of the line", line.span,
            f"`{line.word} | … | … |`",
        )  # fmt: skip
    return not line.text


def read_sing_line(line: SongLine, places: list[Places], problems: Problems) -> SungLine | None:
    """Read a `sing` line against the bars of its chord row."""
    if _is_empty(line, problems):
        return None
    return read_sung(line.text.translate(WIDE_BAR), line.span, places, problems)


def read_section(lines: SectionLines, meter: Meter, feel: Feel, problems: Problems) -> SectionDraft:
    """Read one section.

    Args:
        lines: its name and its lines.
        meter: the song's, for a section that states none.
        feel: the song's, for a section that states none.
        problems: takes what is wrong.
    """
    builder = _SectionBuilder(lines, problems)
    builder.facts()
    own = builder.draft.facts
    builder.rows(SectionReader(own.get("meter") or meter, own.get("feel") or feel, problems))
    return builder.draft


def with_words(row: Row, words: tuple[SungLine, ...], cues: tuple[SongText, ...]) -> Row:
    """Return a copied row its own words, and its own cues after the model's."""
    cues = row.cues + cues
    return replace(row, words=words, cues=cues, band_change=last_change(cues))


def with_feel(rows: Sequence[Row], feel: Feel, place: Span, problems: Problems) -> list[Row]:
    """Return a copy's rows with their pushes as long as its own feel makes them.

    Args:
        rows: the model's.
        feel: the copy's own.
        place: of its `feel`, where a push would take all of the mark before it.
        problems: takes what is wrong.
    """
    sounding = Fraction(0)  # how long the last mark has lasted, its push included
    found = []
    for row in rows:
        bars = []
        for bar in row.bars:
            push = PUSHES["straight" if bar.meter.unit == 8 else feel]
            marks = []
            for mark in bar.marks:
                early = push if mark.chord is not None and mark.chord.push else NO_PUSH
                if early and 0 < sounding <= early:
                    message = f"expected a feel in which every push has time, found {feel}"
                    hint = "a push of the model takes all of the mark before it: write this section's own rows"
                    problems.error("push-too-long", message, place, hint)
                    return list(rows)
                sounding = (sounding if mark.kind == "slash" else NO_PUSH) + mark.length + early
                pushed = mark.chord is not None and mark.chord.push not in (NO_PUSH, early)
                marks.append(replace(mark, chord=replace(mark.chord, push=early)) if pushed and mark.chord else mark)
            sounding = bar.length if bar.repeats_last else sounding
            bars.append(replace(bar, marks=tuple(marks)))
        found.append(replace(row, bars=tuple(bars)))
    return found
