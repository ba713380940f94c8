"""How often each chord and each change of chord is heard, and how: counted over a timeline.

What the roadmap leaves out is printed all the same: a chord that is never heard is counted as if its section were
played through once, so that the hands make sense there too.
"""

from collections import Counter
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.taste import Taste
from arranger.harmony.textures import FRAME_CHANGED, FRAME_STRUCK
from arranger.harmony.timeline import Printed, Timeline, quarters_a_minute
from arranger.song.model import Facts, Song
from arranger.song.players import plays_guitar

HandChange = tuple[int, int, int]  # (unknown, unknown, shift of the second against the first)


class Unknown(NamedTuple):
    """One unknown: the first printed chord that has it, unmoved, and where it stands in the song.

    Attributes:
        printed: the chord by which it is known.
        section: the section of that chord.
        shifts: every move (semitones) with which it is printed.
        targets: for each target of the hand's middle, less the move: how often it is heard so.
        times: how often it is heard.
        by_shift: how often with each move.
        frame_time: there is time to take and to strike four keys, wherever it is printed.
        third_sounds: a guitar sounds its third, wherever it is printed.
    """

    printed: Printed
    section: int
    shifts: tuple[int, ...]
    targets: tuple[tuple[int, int], ...]
    times: int
    by_shift: tuple[tuple[int, int], ...]
    frame_time: bool = True
    third_sounds: bool = False


class Uses(NamedTuple):
    """All unknowns, and how often each change from one to another is heard (cuts excluded)."""

    unknowns: tuple[Unknown, ...]
    changes: tuple[tuple[HandChange, int], ...]


def count_uses(song: Song, timeline: Timeline, taste: Taste) -> Uses:
    """Count what is heard."""
    shifts: list[set[int]] = [set() for _ in range(timeline.unknowns)]
    known: dict[int, tuple[Printed, int]] = {}
    for section, part in enumerate(timeline.printed):
        for one in part:
            if one.unknown is not None:
                shifts[one.unknown].add(one.shift)
                if one.unknown not in known or (known[one.unknown][0].shift and not one.shift):
                    known[one.unknown] = (one, section)
    targets: list[Counter[int]] = [Counter() for _ in range(timeline.unknowns)]
    by_shift: list[Counter[int]] = [Counter() for _ in range(timeline.unknowns)]
    for heard in timeline.heard:
        one = timeline.at(heard.chord)
        assert one.unknown is not None
        targets[one.unknown][one.plan.goal - one.shift] += 1
        by_shift[one.unknown][one.shift] += 1
    changes: Counter[HandChange] = Counter()  # a chord that goes on in the same hand too: the same unknown twice
    for before, after in pairwise(timeline.heard):
        first, second = timeline.at(before.chord), timeline.at(after.chord)
        if not after.cut and first.unknown is not None and second.unknown is not None:
            changes[first.unknown, second.unknown, second.shift - first.shift] += 1
    unheard = {u for u in range(timeline.unknowns) if not targets[u]}
    if unheard:
        _as_if_heard(timeline, unheard, targets, changes)
    least = [_frame_least(section.facts) for section in song.sections]
    guitars = [plays_guitar(section.facts.band) for section in song.sections]
    frame_time, third_sounds = [True] * timeline.unknowns, [True] * timeline.unknowns
    for part, enough, guitar in zip(timeline.printed, least, guitars, strict=True):
        for one in part:
            if one.unknown is not None:
                frame_time[one.unknown] &= enough is not None and one.length >= enough
                third_sounds[one.unknown] &= guitar
    unknowns = tuple(
        Unknown(
            *known[u],
            shifts=tuple(sorted(shifts[u])),
            targets=tuple(sorted(targets[u].items())),
            times=targets[u].total(),
            by_shift=tuple(sorted(by_shift[u].items())) or tuple((shift, 1) for shift in sorted(shifts[u])),
            frame_time=frame_time[u],
            third_sounds=third_sounds[u],
        )
        for u in range(timeline.unknowns)
    )
    return Uses(unknowns, tuple(sorted(changes.items())))


def _frame_least(facts: Facts) -> Fraction | None:
    """Return the length of a chord, in quarters, from which on there is time for four keys and they are struck seldom.

    None where they are struck too often on any chord.
    """
    a_second = quarters_a_minute(facts) / 60
    struck = FRAME_STRUCK * a_second
    if (facts.play is None or facts.play.value in OFTEN) and struck > 1:
        return None
    return max(FRAME_CHANGED * a_second, struck)


OFTEN = (  # manners in which a hand is struck every quarter
    "quarters",
    "quarters and eighths",
    "eighths",
    "broken",
    "rolling",
)


def _as_if_heard(
    timeline: Timeline, unheard: set[int], targets: list[Counter[int]], changes: Counter[HandChange]
) -> None:
    for part in timeline.printed:
        last: Printed | None = None
        for one in part:
            if one.unknown is None:
                continue
            if one.unknown in unheard:
                targets[one.unknown][one.plan.goal - one.shift] += 1
            if last is not None and last.unknown is not None and unheard & {one.unknown, last.unknown}:
                changes[last.unknown, one.unknown, one.shift - last.shift] += 1
            last = one
