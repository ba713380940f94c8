"""Repeats and endings of a section. Takes its bars; gives them with the ends of endings marked, and what is wrong."""

from __future__ import annotations

from dataclasses import replace

from arranger.song.model import Bar
from arranger.text.problems import Problems
from arranger.text.source import Span


class _Walk:
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
            self._problems.error(
                "repeat-open",
                "expected `:|` after `|:` in the same section",
                self._open.span,
                "write `:|` after the last bar that is repeated; a repeat stays inside its section",
            )
        self._open = None

    def _begin_ending(self, index: int, bar: Bar) -> None:
        if self._ending is not None:
            self._problems.error(
                "ending-without-repeat",
                "expected `:|` before the next ending",
                bar.span,
                "every ending but the last goes back: `|1. A :|2. D ||`",
            )
        first = max((n for i in self._group for n in self.bars[i].ending), default=0) + 1
        if list(bar.ending) != list(range(first, first + len(bar.ending))):
            self._problems.error(
                "ending-order",
                f"expected an ending that begins with {first}, found {', '.join(map(str, bar.ending))}",
                bar.span,
                "endings are numbered in order, each time through once: `|1.2. A :|3. D ||`",
            )
        self._group.append(index)
        self._ending = index

    def _repeat(self, index: int, bar: Bar) -> None:
        if self._ending is None:
            self._end_group()
            self._open = None
            return
        if bar.repeat_times != 2:
            self._problems.error(
                "ending-times",
                "expected the numbers of the endings to say how often, found `x` in an ending",
                bar.span,
                "write `|1.2. A :|3. D ||` for three times",
            )
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
            self._problems.error(
                "ending-last",
                "expected another ending after this one, which goes back",
                Span(last.span.start, last.span.end),
                "the last ending is closed by `||`: `|1. A :|2. D ||`",
            )
            self._open = None  # told with that
        elif len(self._group) == 1:
            self._problems.error(
                "ending-alone",
                "expected a second ending, found one alone",
                self.bars[self._group[0]].span,
                "write `|1. A :|2. D ||`, or leave the number out",
            )
        self._group = []


def with_endings(bars: list[Bar], problems: Problems) -> list[Bar]:
    """Return a section's bars with `ending_close` set and the times of endings; report what does not fit."""
    if any(b.repeat_start or b.repeat_times or b.ending for b in bars):
        walk = _Walk(list(bars), problems)
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
