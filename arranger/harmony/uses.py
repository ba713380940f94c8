"""How often each unknown and each change is heard. Takes a timeline; gives the counts that the sums are made of.

What the roadmap leaves out is printed all the same: an unknown that is never heard is counted as if its section were
played through once, so that the hands make sense there too.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Printed, Timeline
from arranger.song.model import Song

Change = tuple[int, int, int]  # (unknown, unknown, shift of the second against the first)


@dataclass(frozen=True, slots=True)
class Unknown:
    """One unknown: the first printed chord that has it, unmoved, and where it stands in the song.

    Attributes:
        printed: the chord by which it is known.
        section: the section of that chord.
        shifts: every move (semitones) with which it is printed.
        targets: for each target of the hand's middle, less the move: how often it is heard so.
        times: how often it is heard.
        by_shift: how often with each move.
    """

    printed: Printed
    section: int
    shifts: tuple[int, ...]
    targets: tuple[tuple[int, int], ...]
    times: int
    by_shift: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Uses:
    """All unknowns, and how often each change from one to another is heard (cuts excluded)."""

    unknowns: tuple[Unknown, ...]
    changes: tuple[tuple[Change, int], ...]


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
    goals = [_target(song, section, taste) for section in range(len(song.sections))]
    targets: list[Counter[int]] = [Counter() for _ in range(timeline.unknowns)]
    by_shift: list[Counter[int]] = [Counter() for _ in range(timeline.unknowns)]
    for heard in timeline.heard:
        one = timeline.at(heard.chord)
        assert one.unknown is not None
        targets[one.unknown][goals[heard.chord[0]] - one.shift] += 1
        by_shift[one.unknown][one.shift] += 1
    changes = timeline.transitions()
    unheard = {u for u in range(timeline.unknowns) if not targets[u]}
    if unheard:
        _as_if_heard(timeline, goals, unheard, targets, changes)
    unknowns = tuple(
        Unknown(
            *known[u],
            shifts=tuple(sorted(shifts[u])),
            targets=tuple(sorted(targets[u].items())),
            times=targets[u].total(),
            by_shift=tuple(sorted(by_shift[u].items())) or tuple((shift, 1) for shift in sorted(shifts[u])),
        )
        for u in range(timeline.unknowns)
    )
    return Uses(unknowns, tuple(sorted(changes.items())))


def _target(song: Song, section: int, taste: Taste) -> int:
    dynamic = song.sections[section].facts.dynamic
    return taste.target_for(dynamic.level if dynamic else None)


def _as_if_heard(
    timeline: Timeline, goals: list[int], unheard: set[int], targets: list[Counter[int]], changes: Counter[Change]
) -> None:
    for section, part in enumerate(timeline.printed):
        last: Printed | None = None
        for one in part:
            if one.unknown is None:
                continue
            if one.unknown in unheard:
                targets[one.unknown][goals[section] - one.shift] += 1
            if last is not None and last.unknown is not None and unheard & {one.unknown, last.unknown}:
                changes[last.unknown, one.unknown, one.shift - last.shift] += 1
            last = one
