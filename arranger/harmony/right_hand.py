"""The right hand: candidates for every unknown, the whole sum as a search problem, and its exact solution.

Takes counted uses and settled bass notes; gives one `Candidate` for each unknown.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from arranger.harmony import cost
from arranger.harmony.candidates import (
    OCTAVE,
    Voicing,
    close_voicings,
    importance,
    pinned,
    third_in_bass,
    voicings,
)
from arranger.harmony.search import Problem
from arranger.harmony.taste import Taste
from arranger.harmony.uses import Change, Unknown, Uses
from arranger.song.model import WrittenChord
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch

LOWEST_KEY, HIGHEST_KEY = 21, 108  # of a piano's 88 keys (A0, C8)

Table = Sequence[Sequence[int]]


@dataclass(frozen=True, slots=True, order=True)
class Candidate:
    """What the hand does on a chord: its notes on the beat, and what they have become when the next chord comes."""

    first: Voicing
    last: Voicing

    @property
    def within(self) -> int:
        """Semitones moved inside the chord's own time (a suspension that resolves)."""
        return cost.movement(self.first, self.last) if self.first != self.last else 0


@dataclass(frozen=True, slots=True)
class Scene:
    """All that the right hand has to go by.

    Attributes:
        uses: how often each unknown and change is heard.
        basses: the bass note (MIDI, at shift 0) of each unknown.
        left_tops: the highest note of the left hand on it.
        keys: the key in force at each unknown.
        taste: ranges and weights.
        basses_proven: no other bass notes are better.
    """

    uses: Uses
    basses: tuple[int, ...]
    left_tops: tuple[int, ...]
    keys: tuple[Key, ...]
    taste: Taste
    basses_proven: bool


def window(unknown: Unknown, taste: Taste) -> tuple[int, int]:
    """Return the lowest and highest key in which every copy of an unknown stays inside the hand's window."""
    return taste.low - min(unknown.shifts), taste.high - max(unknown.shifts)


def candidates(unknown: Unknown, left_top: int, taste: Taste, *, root_lowest: bool = False) -> tuple[Voicing, ...]:
    """Return an unknown's voicings: inside the window in every copy, clear of the left hand. Pins are taken as written.

    Empty where no place fits.
    """
    low, high = window(unknown, taste)
    written = unknown.printed.written
    assert written is not None
    if written.pins:
        found = pinned(_pin_keys(written), low, high)
    else:
        found = voicings(written.chord, taste, low, high, root_lowest=root_lowest)
    return tuple(v for v in found if v[0] >= left_top + taste.clear_of_left)


def nearest(unknown: Unknown, left_top: int, taste: Taste) -> tuple[Voicing, ...]:
    """Return the nearest playable voicings of a chord that has none within the limits: as many of its notes as can be.

    The least important notes go first; last of all the distance to the left hand. Pins may leave the window.
    """
    written = unknown.printed.written
    assert written is not None
    if written.pins:
        return pinned(_pin_keys(written), LOWEST_KEY, HIGHEST_KEY)
    low, high = window(unknown, taste)
    kept, rest = importance(written.chord)
    order = (*kept, *rest)
    classes = tuple(dict.fromkeys((written.chord.root.pitch_class + i.semitones) % OCTAVE for i in order))
    for floor in (max(low, left_top + taste.clear_of_left), low):
        there = [c for c in classes if floor + (c - floor) % OCTAVE <= high]
        for size in range(min(len(there), taste.notes), 0, -1):
            found = close_voicings(tuple(sorted(there[:size])), floor, high, taste.span)
            if found:
                return found
    return ()


def _pin_keys(written: WrittenChord) -> list[tuple[int, int | None]]:
    """Return the pitch class of each pinned note, and its MIDI number where the octave is written."""
    return [(p.name.pitch_class, None if p.octave is None else Pitch(p.name, p.octave).midi) for p in written.pins]


def moved(voicing: Voicing, shift: int) -> Voicing:
    """Move a voicing by semitones."""
    return tuple(n + shift for n in voicing) if shift else voicing


def node_cost(candidate: Candidate, index: int, scene: Scene) -> int:
    """Return what one candidate costs by itself over all the times that it is heard."""
    unknown, taste = scene.uses.unknowns[index], scene.taste
    first = candidate.first
    each = cost.sound(first, scene.left_tops[index], taste) + _leading_note(first, index, scene)
    if first != candidate.last:
        each += cost.change(first, candidate.last, 0, taste)
    total, middle = each * unknown.times, first[0] + first[-1]
    for target, times in unknown.targets:
        total += times * (taste.register * abs(middle - 2 * target) // 2)  # as `cost.place`, written out for speed
    return total


def _leading_note(voicing: Voicing, index: int, scene: Scene) -> int:
    """Return the cost of sounding the key's leading note twice: in the bass, as the chord's third, and in the hand."""
    chord = scene.uses.unknowns[index].printed.chord
    leading = (scene.keys[index].tonic.pitch_class - 1) % OCTAVE
    if chord.bass_name.pitch_class != leading or not third_in_bass(chord):
        return 0
    return scene.taste.doubled_leading_note if any(n % OCTAVE == leading for n in voicing) else 0


def build(choices: Sequence[Sequence[Candidate]], scene: Scene) -> Problem:
    """State the whole sum as a search problem."""
    taste, basses = scene.taste, scene.basses
    nodes = [[node_cost(c, i, scene) for c in some] for i, some in enumerate(choices)]
    starts, ends = _ends(choices)

    def table(one: int, two: int, shift: int) -> Table:
        way = cost.bass_way(basses[two] + shift - basses[one])
        return cost.changes(starts[one], _all_moved(ends[two], shift), way, taste)

    return _joined(nodes, scene.uses.changes, table)


def build_movement(choices: Sequence[Sequence[Candidate]], uses: Uses) -> Problem:
    """State hand movement alone, in semitones, as a search problem."""
    nodes = [[c.within * uses.unknowns[i].times for c in some] for i, some in enumerate(choices)]
    starts, ends = _ends(choices)

    def table(one: int, two: int, shift: int) -> Table:
        return cost.movements(starts[one], _all_moved(ends[two], shift))

    return _joined(nodes, uses.changes, table)


def _ends(choices: Sequence[Sequence[Candidate]]) -> tuple[list[tuple[Voicing, ...]], list[tuple[Voicing, ...]]]:
    """Return for each unknown what its candidates go from, and what they are come to."""
    return [tuple(c.last for c in some) for some in choices], [tuple(c.first for c in some) for some in choices]


def _all_moved(voicings: tuple[Voicing, ...], shift: int) -> tuple[Voicing, ...]:
    return tuple(moved(v, shift) for v in voicings) if shift else voicings


def _joined(
    nodes: list[list[int]], changes: Sequence[tuple[Change, int]], table: Callable[[int, int, int], Table]
) -> Problem:
    pairs: dict[tuple[int, int], list[list[int]]] = {}
    for (one, two, shift), count in changes:
        costs = table(one, two, shift)
        if one == two:
            nodes[one] = [n + count * costs[i][i] for i, n in enumerate(nodes[one])]
            continue
        rows = costs if one < two else tuple(zip(*costs, strict=True))
        key = (min(one, two), max(one, two))
        old = pairs.get(key)
        if old is None:
            pairs[key] = [[count * c for c in row] for row in rows]
        else:
            pairs[key] = [[o + count * c for o, c in zip(a, b, strict=True)] for a, b in zip(old, rows, strict=True)]
    return Problem(tuple(nodes), {key: tuple(rows) for key, rows in pairs.items()})
