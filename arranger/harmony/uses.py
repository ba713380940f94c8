"""How often each chord and each change of chord is heard, and how: counted over a timeline.

What the roadmap leaves out is printed all the same: a chord that is never heard is counted as if its section were
played through once, so that the hands make sense there too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.taste import Taste
from arranger.harmony.textures import FRAME_CHANGED, FRAME_STRUCK
from arranger.harmony.timeline import Printed, Timeline, seconds
from arranger.song.model import Song
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
    frame_time, third_sounds = _all_of(timeline, partial(_frame_time, song)), _all_of(timeline, partial(_third, song))
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


def _all_of(timeline: Timeline, holds: Callable[[int, Printed], bool]) -> list[bool]:
    """Return, for each unknown, whether something holds in every place where it is printed."""
    found = [True] * timeline.unknowns
    for section, part in enumerate(timeline.printed):
        for one in part:
            if one.unknown is not None:
                found[one.unknown] = found[one.unknown] and holds(section, one)
    return found


def _frame_time(song: Song, section: int, one: Printed) -> bool:
    """Return whether a chord lasts long enough for four keys, and is struck seldom enough."""
    facts = song.sections[section].facts
    struck = min(Fraction(1), one.length) if facts.play is None or facts.play.value in OFTEN else one.length
    return seconds(one.length, facts) >= FRAME_CHANGED and seconds(struck, facts) >= FRAME_STRUCK


OFTEN = (  # manners in which a hand is struck every quarter
    "quarters",
    "quarters and eighths",
    "eighths",
    "broken",
    "rolling",
)


def _third(song: Song, section: int, one: Printed) -> bool:
    """Return whether a guitar sounds the third of a chord."""
    return plays_guitar(song.sections[section].facts.band)


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
