"""Find the order in which the bars of a section are played: repeats, endings, and a range that the roadmap names."""

from collections.abc import Iterator
from typing import NamedTuple

from arranger.song.model import Bar, Section


def played_bars(section: Section, from_bar: int | None = None, to_bar: int | None = None) -> list[tuple[int, int]]:
    """List (row, bar index) of a section's bars in the order they are played once through.

    With a range of written bars, repeats wholly inside are played, and of endings only the last; other repeat signs
    do not count.
    """
    flat = [(r, b) for r, row in enumerate(section.rows) for b in range(len(row.bars))]
    bars = [section.rows[r].bars[b] for r, b in flat]
    if from_bar is None and to_bar is None:
        return [flat[i] for i in _with_repeats(bars, 0, len(bars))]
    first = next((i for i, b in enumerate(bars) if b.number >= (from_bar or 0)), len(bars))
    last = max((i for i, b in enumerate(bars) if to_bar is None or b.number <= to_bar), default=-1)
    return [flat[i] for i in _with_repeats(bars, first, last + 1)]


class RepeatedStretch(NamedTuple):
    """A repeated stretch of bars: the body, then its endings as (numbers, start, end); all ends are past the last."""

    start: int
    body_end: int
    endings: tuple[tuple[tuple[int, ...], int, int], ...]
    times: int

    @property
    def end(self) -> int:
        """The index after the last of all its bars."""
        return self.endings[-1][2] if self.endings else self.body_end


def repeats_of(bars: list[Bar]) -> Iterator[RepeatedStretch]:
    """Yield the repeated stretches, which do not nest: repeats stay inside their section."""
    start = index = 0
    while index < len(bars):
        if bars[index].repeat_start:
            start = index
        if bars[index].ending:
            endings = []
            body_end = index
            while index < len(bars) and bars[index].ending:
                end = index + 1
                while not (bars[end - 1].repeat_times or bars[end - 1].ending_close or end == len(bars)):
                    if bars[end].ending:
                        break
                    end += 1
                endings.append((bars[index].ending, index, end))
                index = end
            times = max(number for numbers, _, _ in endings for number in numbers)
            yield RepeatedStretch(start, body_end, tuple(endings), times)
            start = index
            continue
        if bars[index].repeat_times:
            yield RepeatedStretch(start, index + 1, (), bars[index].repeat_times)
            start = index + 1
        index += 1


def _with_repeats(bars: list[Bar], first: int, end: int) -> list[int]:
    order: list[int] = []
    done = first
    for repeat in repeats_of(bars):
        if repeat.end <= done or repeat.start >= end:
            continue
        if (
            repeat.start < first or repeat.end > end
        ):  # not wholly inside: read through, of endings the last one asked for
            inside = range(max(first, repeat.start), min(end, repeat.end))
            order += range(done, inside.start)
            order += _through(repeat, inside)
            done = inside.stop
            continue
        order += range(done, repeat.start)
        for number in range(1, repeat.times + 1):
            order += range(repeat.start, repeat.body_end)
            order += [i for numbers, a, b in repeat.endings if number in numbers for i in range(a, b)]
        done = repeat.end
    return order + list(range(done, end))


def _through(repeat: RepeatedStretch, inside: range) -> list[int]:
    """Read a stretch once: the body and, of the endings that are inside, the last."""
    endings = [(a, b) for _, a, b in repeat.endings if a < inside.stop and b > inside.start]
    body = [i for i in inside if i < repeat.body_end]
    return body + ([i for i in range(*endings[-1]) if i in inside] if endings else [])
