"""Rows of chords. Takes a row's barlines and cells; gives the bars with their marks in time.

A row is read inside its section: the meter in force, the bar before (for `%`), and what still sounds (for `/`) come
from the rows above it; `SectionReader` carries them.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from arranger.habits.bounds import MOST_BEATS
from arranger.late import load
from arranger.song.cells import Barline, Cell, CellMark, ChordWord, Places
from arranger.song.model import Bar, Feel, Mark, Meter, WrittenChord
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.text.source import Span

METER_UNITS = (2, 4, 8)  # marks fall on eighths at the finest
MOST_TIMES = 99  # of a repeat or a roadmap step; `x99` is the limit of the format
GRID = Fraction(1, 2)  # every mark falls on an eighth
NO_PUSH = Fraction(0)
PUSHES = {"straight": Fraction(1, 2), "half-time": Fraction(1, 2), "swing": Fraction(1, 3)}
# how early a push comes, in quarters: an eighth, or the short note of a swung beat (the last of three in a quarter)


Shares = tuple[tuple[Fraction, ...], Fraction]


@lru_cache(maxsize=1024)
def shares(length: Fraction, beats: Fraction, number: int) -> Shares | None:
    """Return the starts and the length of a bar's equal marks, in quarters; None where so many do not go.

    The count of marks divides the bar's felt beats or is a multiple of them, and every mark falls on an eighth.
    """
    fits = (beats / number).denominator == 1 or (number / beats).denominator == 1
    each = length / number
    if not fits or (number > 1 and (each / GRID).denominator != 1):
        return None
    return tuple(each * i for i in range(number)), each


def allowed_counts(length: Fraction, beats: Fraction) -> list[int]:
    """List how many marks a bar can have."""
    return [n for n in range(1, int(length / GRID) + 1) if shares(length, beats, n)] or [1]


def felt_beats(meter: Meter, length: Fraction) -> Fraction:
    """Return the felt beats of a bar; a short bar that is no whole number of them counts the meter's units."""
    felt = length / meter.felt_beat
    return felt if felt.denominator == 1 else length / meter.beat


def meter_of(beats: int, unit: int, span: Span, problems: Problems) -> Meter | None:
    """Make a meter, or report why it is none."""
    if unit not in METER_UNITS:
        message = f"expected 2, 4 or 8 as a meter's lower number, found {shown(f'{beats}/{unit}')}"
        problems.error("bad-meter", message, span, "write it in larger notes: `6/8` for 6/16" if unit == 16 else "")
        return None
    if not 1 <= beats <= MOST_BEATS:
        problems.error("bad-meter", f"expected 1 to {MOST_BEATS} beats in a bar, found {beats}", span)
        return None
    return Meter(beats, unit, span)


class SectionReader:
    """Reads the chord rows of one section, top to bottom. Mutable; lives while its section is read."""

    def __init__(self, meter: Meter, feel: Feel, problems: Problems) -> None:
        self.meter = meter
        self.places: list[list[Places]] = []  # for each row, for each bar
        self._whole = meter.length
        self._feel = feel
        self._problems = problems
        self._number = 0
        self._last: Bar | None = None  # the bar that a % repeats
        self._last_places = Places(0, False)
        self._sounding = Fraction(0)  # how long the last mark has lasted, its push included; 0 at the start
        self._started = False

    def row(self, parts: tuple[Barline | Cell, ...], text: str, at: int) -> tuple[Bar, ...]:
        """Read one row.

        Args:
            parts: its barlines, and what stands between them.
            text: the row's text.
            at: where it starts in the file.
        """
        bars: list[Bar] = []
        places: list[Places] = []
        left: Barline | None = None  # the last one
        for before, part, after in zip((None, *parts), parts, (*parts[1:], None), strict=False):
            if isinstance(part, Cell):
                assert left is not None
                within = text[left.end : after.start if isinstance(after, Barline) else len(text)]
                bar, room = self._bar(part, within, left, at)
                bars.append(bar)
                places.append(room)
                continue
            self._barline(part, before if isinstance(before, Barline) else None, at)
            left = part
            if bars:
                bars[-1] = _closed(bars[-1], left)
            elif left.closes:
                message = "expected the end of a repeat after a bar of its own row, found it at the start of a row"
                hint = "put `:|` at the end of the row above"
                self._problems.error("repeat-at-row-start", message, Span(at + left.start, at + left.end), hint)
        self.places.append(places)
        return tuple(bars)

    def _barline(self, line: Barline, before: Barline | None, at: int) -> None:
        """Check a barline; `before` is another one with no chord between."""
        span = Span(at + line.start, at + line.end)
        if before is not None and before.end < line.start and not (_joins(before) and line.opens):
            self._empty(Span(at + before.end - 1, span.start + 1))
        if line.strokes > 2:
            message = f"expected `|` or `||`, found {shown('|' * min(line.strokes, 9))}"
            fix = Fix(span, "||") if line.end - line.start == 3 else None
            self._problems.error("bad-barline", message, span, "write `||`", fix=fix)
        if before is not None and before.end == line.start:
            self._empty(Span(span.start - 1, span.end))
        if line.times >= 0:
            if not line.closes:
                message = f"expected a repeat before {shown(f'x{line.times}')}"
                hint = f"put `|:` where the repeat starts and `:| x{line.times}` here"
                self._problems.error("loose-times", message, span, hint)
            elif not 2 <= line.times <= MOST_TIMES:
                message = f"expected x2 to x{MOST_TIMES} after `:|`, found {shown(f'x{line.times}')}"
                self._problems.error("bad-times", message, span, "the number says how often in all the bars are played")

    def _empty(self, span: Span) -> None:
        self._problems.error(
            "empty-bar", "expected a chord in this bar, found nothing", span, "`%` repeats the bar before: `| % |`",
            "`/` goes on with the chord that sounds, `rest` is a silence, `N.C.` no chord",
        )  # fmt: skip

    def _bar(self, cell: Cell, within: str, left: Barline, at: int) -> tuple[Bar, Places]:
        """Read a bar; `within` is all that stands between its barlines."""
        span = Span(at + cell.pieces[0][0], at + cell.pieces[-1][1])
        for where, bad in cell.bad:
            load("arranger.song.mistakes").report_mark(bad, within, where - left.end, at + left.end, self._problems)
        length = self._length(cell, at, span)
        self._number += not (cell.short is not None and self._number == 0 and self._last is None)
        bar = Bar(
            number=self._number,
            meter=self.meter,
            length=length,
            marks=() if cell.repeats else self._marks(cell, length, at, span),
            repeats_last=cell.repeats,
            meter_shown=cell.meter is not None,
            short=cell.short is not None,
            repeat_start=left.opens,
            ending=left.ending,
            span=span,
        )
        if cell.repeats:
            self._check_repeat(bar)
            return bar, self._last_places
        self._last = bar
        self._last_places = cell.places
        return bar, cell.places

    def _length(self, cell: Cell, start: int, span: Span) -> Fraction:
        """Return a bar's length in quarters, with a meter or a short bar that stands in it."""
        if cell.meter is not None:
            numerator, unit, first, last = cell.meter
            self.meter = meter_of(numerator, unit, Span(start + first, start + last), self._problems) or self.meter
            self._whole = self.meter.length
        if cell.short is None:
            return self._whole
        beats, unit, *_ = cell.short
        length = Fraction(4 * beats, unit) if unit in METER_UNITS else Fraction(0)
        if self._last is not None or self._number:
            message = "expected `short` only in a section's first bar"
            hint = f"write the meter of this bar: `| {beats}/{unit} … | {self.meter} … |`"
            self._problems.error("short-not-first", message, span, hint)
        elif not 0 < length < self._whole:
            message = f"expected a length under {self.meter} after `short`, found `{beats}/{unit}`"
            self._problems.error("bad-short", message, span, "`short 1/4` is a bar of one quarter")
        else:
            return length
        return self._whole

    def _check_repeat(self, bar: Bar) -> None:
        if self._last is None:
            message = "expected a chord in a section's first bar, found `%`"
            hint = "`%` repeats the bar before it; write the chords of this one"
            self._problems.error("nothing-to-repeat", message, bar.span, hint)
        elif self._last.length != bar.length:
            message = f"expected the bar before to be as long as this one, found {self._last.meter} and {bar.meter}"
            self._problems.error("repeat-other-length", message, bar.span, "write the chords of this bar")
        self._sounding = bar.length

    def _marks(self, cell: Cell, length: Fraction, start: int, span: Span) -> tuple[Mark, ...]:
        if not cell.marks:
            if not cell.bad:
                self._empty(span)
            return ()
        shared = shares(length, felt_beats(self.meter, length), len(cell.marks))
        if shared is None:
            if not cell.bad:  # else what was told may well be no mark
                self._wrong_count(cell, length, span)
            shared = tuple(length * i / len(cell.marks) for i in range(len(cell.marks))), length / len(cell.marks)
        starts, each = shared
        marks: list[Mark] = []
        for mark, begins in zip(cell.marks, starts, strict=True):
            made = self._mark(mark, begins, each, start)
            if made is not None:
                marks.append(made)
        return tuple(marks)

    def _mark(self, mark: CellMark, begins: Fraction, each: Fraction, start: int) -> Mark | None:
        span = Span(start + mark.start, start + mark.end)
        if mark.kind == "slash":
            if not self._started:
                message = "expected a chord at the start of a section, found `/`"
                hint = "`/` goes on with what sounds; write the chord, or `rest`"
                self._problems.error("nothing-sounds", message, span, hint)
            self._sounding += each
            return Mark("slash", begins, each, None, span)
        self._started = True
        if mark.word is None:
            self._sounding = each
            return None if mark.kind == "bad" else Mark(mark.kind, begins, each, None, span)
        return Mark("chord", begins, each, self._chord(mark.word, mark.manner, each, span), span)

    def _chord(self, word: ChordWord, manner: tuple[str, ...], each: Fraction, span: Span) -> WrittenChord:
        # The eighths of 6/8 and its like are never swung.
        push = PUSHES["straight" if self.meter.unit == 8 else self._feel] if word.push else NO_PUSH
        if word.push and 0 < self._sounding <= push:
            message = "expected more than an eighth before a push: this one takes all of the mark before it"
            hint = "leave the `<` out, or give the mark before it more time with `/`"
            self._problems.error("push-too-long", message, span, hint)
        self._sounding = each + push if word.push else each
        return WrittenChord(word.chord, word.written, word.optional, word.as_written, word.pins, push, manner, span)

    def _wrong_count(self, cell: Cell, length: Fraction, span: Span) -> None:
        number = len(cell.marks)
        counts = allowed_counts(length, felt_beats(self.meter, length))
        texts = [_text(m) for m in cell.marks]
        larger = next((c for c in counts if c > number), None)
        better: list[str] = []
        if larger == number + 1 and number <= 4:
            better = [" ".join((*texts[: i + 1], "/", *texts[i + 1 :])) for i in range(number)]
        elif larger is not None and larger <= 8:
            better = [" ".join((*texts, *("/" * (larger - number))))]
        hints = [] if larger else ["set a barline between the bars"]
        if better:
            ways = " or ".join(f"`{one}`" for one in dict.fromkeys(better))
            hints.append(f"write {ways}: each `/` goes on for one mark more")
        if len(texts) == 3 and texts[1] == "/" and texts[2][1:] in ("", "#", "b"):
            hints.append(f"for {texts[0]} with {texts[2]} in the bass write `{texts[0]}/{texts[2]}` without spaces")
        bar = f"a bar of {_bar_name(self.meter, length)}"
        message = f"expected {_listed(counts)} in {bar}, found {count(number, 'mark')}"
        self._problems.error("wrong-count", message, span, *hints)


def _joins(line: Barline) -> bool:
    """Return whether a barline may be followed by another without a bar between (`:| |:`, `|| |:`)."""
    return line.closes or line.double


def _text(mark: CellMark) -> str:
    names = {"rest": "rest", "none": "N.C.", "slash": "/", "bad": "?"}
    return mark.word.written if mark.word else names.get(mark.kind, "?")


def _listed(counts: list[int]) -> str:
    if counts == [1]:
        return "1 mark"
    return f"{', '.join(map(str, counts[:-1]))} or {counts[-1]} marks"


def _bar_name(meter: Meter, length: Fraction) -> str:
    return str(meter) if length == meter.length else f"{count(int(length / GRID), 'eighth')}"


def _closed(bar: Bar, right: Barline) -> Bar:
    """Return a bar the signs of the barline after it."""
    if right.closes:
        return replace(bar, repeat_times=right.times if right.times > 0 else 2)
    return replace(bar, double=True) if right.double else bar
