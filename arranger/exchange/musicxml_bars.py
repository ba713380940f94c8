"""Find the bars of a score: the song in the order of its roadmap, with the repeats and endings of its sections.

A section is written as often as the roadmap has it. Its own repeats have their signs, unless something is played in
another way when a bar comes again: then it is written out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from arranger.harmony.model import Arrangement
from arranger.harmony.repeats import repeats_of
from arranger.sounding.notation import NotatedBar


@dataclass(frozen=True, slots=True)
class ScoreBar:
    """A bar of the score.

    Attributes:
        heard: an index into `Arrangement.bars`: when it is played first.
        passes: which times of its row these are in its step of the roadmap, from 1.
        begins, ends: it is the first, the last of a pass through its section.
        repeat_start: a repeat begins with it.
        repeat_times: 0, or how often what ends with it is played.
        ending: the numbers of the ending that begins with it.
        ending_stops: the numbers of the ending that ends with it.
        double: a double bar after it.
        folded: it is of a section with signs of repeats: verses have their numbers.
    """

    heard: int
    passes: tuple[int, ...]
    begins: bool = False
    ends: bool = False
    repeat_start: bool = False
    repeat_times: int = 0
    ending: tuple[int, ...] = ()
    ending_stops: tuple[int, ...] = ()
    double: bool = False
    folded: bool = False


def score_bars(arrangement: Arrangement, written: Sequence[NotatedBar]) -> tuple[ScoreBar, ...]:
    """Return the bars of a song's score; `written` has each of `Arrangement.bars` in note values."""
    found: list[ScoreBar] = []
    bars = arrangement.bars
    begun: dict[tuple[int, int], int] = {}
    for (step, _), group in groupby(range(len(bars)), lambda index: (bars[index].step, bars[index].time)):
        heard = list(group)
        passes = dict(zip(heard, _passes(arrangement, heard, step, begun), strict=True))
        folded = _folded(arrangement, heard, passes, written)
        found += folded if folded is not None else _written_out(arrangement, heard, passes)
    return tuple(found)


def _passes(
    arrangement: Arrangement, heard: Sequence[int], step: int, begun: dict[tuple[int, int], int]
) -> Iterator[int]:
    """Yield for each bar how often its row has been begun in its step of the roadmap, itself included."""
    last = -1
    for index in heard:
        bar = arrangement.bars[index]
        if bar.row != last or bar.bar_index == 0:
            begun[step, bar.row] = begun.get((step, bar.row), 0) + 1
            last = bar.row
        yield begun[step, bar.row]


def _written_out(arrangement: Arrangement, heard: Sequence[int], passes: dict[int, int]) -> list[ScoreBar]:
    section = arrangement.song.sections[arrangement.bars[heard[0]].section]
    return [
        ScoreBar(
            index,
            (passes[index],),
            begins=index == heard[0],
            ends=index == heard[-1],
            double=section.rows[arrangement.bars[index].row].bars[arrangement.bars[index].bar_index].double,
        )
        for index in heard
    ]


def _folded(
    arrangement: Arrangement, heard: Sequence[int], passes: dict[int, int], written: Sequence[NotatedBar]
) -> list[ScoreBar] | None:
    """Return the bars of a section as it is printed, with its signs; None where that would not be what is played."""
    section = arrangement.song.sections[arrangement.bars[heard[0]].section]
    places = [(row, bar) for row, each in enumerate(section.rows) for bar in range(len(each.bars))]
    by_place: dict[tuple[int, int], list[int]] = {place: [] for place in places}
    for index in heard:
        by_place[arrangement.bars[index].row, arrangement.bars[index].bar_index].append(index)
    if len(heard) == len(places) or not all(by_place.values()):
        return None
    if any(written[index] != written[found[0]] for found in by_place.values() for index in found):
        return None
    bars = list(section.bars)
    starts, times, endings, stops = set(), {}, {}, {}
    for repeat in repeats_of(bars):
        starts.add(repeat.start)
        for number, (numbers, start, end) in enumerate(repeat.endings):
            endings[start], stops[end - 1] = numbers, numbers
            if number < len(repeat.endings) - 1 or len(numbers) > 1:
                times[end - 1] = 2
        if not repeat.endings:
            times[repeat.body_end - 1] = repeat.times
    return [
        ScoreBar(
            by_place[place][0],
            tuple(passes[index] for index in by_place[place]),
            begins=number == 0,
            ends=number == len(places) - 1,
            repeat_start=number in starts,
            repeat_times=times.get(number, 0),
            ending=endings.get(number, ()),
            ending_stops=stops.get(number, ()),
            double=bars[number].double,
            folded=True,
        )
        for number, place in enumerate(places)
    ]
