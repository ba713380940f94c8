"""Part the bars of a score into sections, and say in which order these are played.

Names of sections are those in the score; without any, double bars and repeats part it. What is not always played
through is parted too. A repeat with its endings stays inside a section where it is always played whole.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from arranger.convert.score_harmony import NO_CHORD
from arranger.convert.score_lead import LeadBar
from arranger.convert.score_roadmap import PlayedOrder, RepeatedBars
from arranger.song.roadmap import folded, name_fault

_UNNAMED = "Part"


@dataclass(frozen=True, slots=True)
class ScoreSection:
    """A section: its name, its first and last bar, and the repeats that it is written with."""

    name: str
    first: int
    last: int
    repeats: tuple[RepeatedBars, ...]


@dataclass(frozen=True, slots=True)
class ScoreOrder:
    """Sections as they are written, and indexes of them as they are played.

    `pieces` are the runs of bars that are always played through, first and last; `unplayed` first bars of those that
    no jump reaches.
    """

    sections: tuple[ScoreSection, ...]
    steps: tuple[int, ...]
    pieces: tuple[tuple[int, int], ...]
    unplayed: tuple[int, ...]


_Unit = tuple[int, int, RepeatedBars | None]  # first bar, last bar, the repeat that it is


def sections_of(bars: Sequence[LeadBar], order: PlayedOrder, *, fold: bool) -> ScoreOrder:
    """Return sections and the order of them.

    Args:
        bars: of the score.
        order: of these.
        fold: repeats stay inside sections where they can.
    """
    marks = _marks(bars, order)
    cuts = {0, *marks}
    for here, after in pairwise((*order.bars, len(bars))):
        if after != here + 1:
            cuts |= {here + 1, after}
    for repeat in order.repeats:
        cuts |= {repeat.first, repeat.last + 1, *(ending.first for ending in repeat.endings)}
    starts = sorted(cut for cut in cuts if cut < len(bars))
    pieces = tuple((first, after - 1) for first, after in pairwise((*starts, len(bars))))
    played = list(_piece_order(order.bars, pieces))
    unplayed = [i for i in range(len(pieces)) if i not in played]
    played += unplayed
    units: list[_Unit] = [(first, last, None) for first, last in pieces]
    order_of_units = played
    if fold:
        units, order_of_units = _folded(units, played, order.repeats, marks)
    groups = _joined(units, order_of_units, marks)
    named = _named(bars, [(units[group[0]][0], units[group[-1]][1]) for group in groups], order)
    sections = tuple(
        ScoreSection(
            name, units[group[0]][0], units[group[-1]][1], tuple(r for u in group if (r := units[u][2]) is not None)
        )
        for name, group in zip(named, groups, strict=True)
    )
    firsts = {group[0]: place for place, group in enumerate(groups)}
    steps = tuple(firsts[unit] for unit in order_of_units if unit in firsts)
    return ScoreOrder(sections, steps, pieces, tuple(pieces[i][0] for i in unplayed))


def _marks(bars: Sequence[LeadBar], order: PlayedOrder) -> set[int]:
    """Return the bars where sections begin by what is printed."""
    marks = {i for i, bar in enumerate(bars) if bar.heading or bar.key is not None}
    if not any(bar.heading for bar in bars):
        marks |= {i + 1 for i, bar in enumerate(bars) if bar.jumps.double and not bar.jumps.times}
        marks |= {place for repeat in order.repeats for place in (repeat.first, repeat.last + 1)}
        marks -= {ending.first for repeat in order.repeats for ending in repeat.endings}
        if all(chord.text == NO_CHORD for chord in bars[0].chords):  # a pickup stays with what it leads to
            marks.discard(1)
    marks |= {after for here, after in pairwise(order.bars) if after > here + 1 and bars[after].jumps.coda}
    return {mark for mark in marks if mark < len(bars)}


def _piece_order(bars: Sequence[int], pieces: Sequence[tuple[int, int]]) -> Iterator[int]:
    index = {first: place for place, (first, _) in enumerate(pieces)}
    at = 0
    while at < len(bars):
        place = index[bars[at]]
        yield place
        first, last = pieces[place]
        at += last - first + 1


def _folded(
    units: list[_Unit], played: list[int], repeats: Sequence[RepeatedBars], marks: set[int]
) -> tuple[list[_Unit], list[int]]:
    """Return the pieces with repeats that are always played whole as one, and their order."""
    whole: dict[int, tuple[RepeatedBars, list[int], list[int]]] = {}  # by the first piece of each
    for repeat in repeats:
        inside = [i for i, (first, last, _) in enumerate(units) if repeat.first <= first and last <= repeat.last]
        if _writable(repeat) and not any(repeat.first < mark <= repeat.last for mark in marks):
            expected = list(_expected(repeat, units, inside))
            if _always(played, inside, expected):
                whole[inside[0]] = repeat, inside, expected
    new: list[_Unit] = []
    places: dict[int, int] = {}
    covered = {i for _, inside, _ in whole.values() for i in inside[1:]}
    for i, unit in enumerate(units):
        if i in whole:
            repeat, inside, _ = whole[i]
            new.append((repeat.first, units[inside[-1]][1], repeat))
        elif i not in covered:
            new.append(unit)
        else:
            continue
        places[i] = len(new) - 1
    order: list[int] = []
    at = 0
    while at < len(played):
        order.append(places[played[at]])
        at += len(whole[played[at]][2]) if played[at] in whole else 1
    return new, order


def _writable(repeat: RepeatedBars) -> bool:
    """Return whether the notation has such a repeat: endings for all times, in order."""
    numbers = [number for ending in repeat.endings for number in ending.numbers]
    return not numbers or (len(repeat.endings) > 1 and numbers == list(range(1, repeat.times + 1)))


def _expected(repeat: RepeatedBars, units: Sequence[_Unit], inside: Sequence[int]) -> Iterator[int]:
    """Return the pieces of a repeat as they are played."""
    for time in range(1, repeat.times + 1):
        yield from (i for i in inside if units[i][0] <= repeat.body_last)
        for ending in repeat.endings:
            if time in ending.numbers:
                yield from (i for i in inside if ending.first <= units[i][0] <= ending.last)


def _always(played: Sequence[int], inside: Sequence[int], expected: Sequence[int]) -> bool:
    """Return whether pieces are played in an order wherever any of them is."""
    at = 0
    found = False
    while at < len(played):
        if played[at] not in inside:
            at += 1
        elif list(played[at : at + len(expected)]) == list(expected):
            at += len(expected)
            found = True
        else:
            return False
    return found


def _joined(units: Sequence[_Unit], order: Sequence[int], marks: set[int]) -> list[list[int]]:
    """Join neighbours that are always played one after the other, where no section begins."""
    groups: list[list[int]] = []
    pairs = set(pairwise((-1, *order, -1)))
    for unit, (first, _, _) in enumerate(units):
        before = unit - 1
        through = (
            groups
            and first not in marks
            and (before, unit) in pairs
            and all(b == unit for a, b in pairs if a == before)
            and all(a == before for a, b in pairs if b == unit)
        )
        if through:
            groups[-1].append(unit)
        else:
            groups.append([unit])
    return groups


def _named(bars: Sequence[LeadBar], spans: Sequence[tuple[int, int]], order: PlayedOrder) -> list[str]:
    """Name sections: by the score, else by where they stand."""
    names: list[str] = []
    endings = {ending.first: ending for repeat in order.repeats for ending in repeat.endings}
    codas = {after for here, after in pairwise(order.bars) if after > here + 1 and bars[after].jumps.coda}
    any_named = any(bar.heading for bar in bars)
    any_sung = any(bar.syllables for bar in bars)
    base, parts = "", 1
    for place, (first, last) in enumerate(spans):
        sung = any(bar.syllables for bar in bars[first : last + 1])
        if bars[first].heading:
            name = base = _clean(bars[first].heading)
            parts = 1
        elif first in codas or bars[first].jumps.coda:
            name = base = "Coda"
            parts = 1
        elif first in endings and base:
            name = f"{base} ending {' '.join(map(str, endings[first].numbers))}"
        elif not any_named:
            name = base = f"{_UNNAMED} {place + 1}"
        elif not base:
            name = base = "Intro" if any_sung and not sung else f"{_UNNAMED} 1"
        else:
            parts += 1
            name = f"{base} part {parts}"
        names.append(_unused(name, names))
    return names


def _clean(name: str) -> str:
    """Return a name that a section can have."""
    bare = " ".join("".join(" " if c in ",()|" else c for c in name).split()).strip(" :.-")
    if not bare or bare.isdigit():
        bare = f"{_UNNAMED} {bare}".strip()
    if name_fault(bare):
        bare = f"{_UNNAMED} {' '.join(c for c in bare.split() if c.isalnum() and folded(c) != 'until')}".strip()
    return bare if not name_fault(bare) else f"{_UNNAMED} {'-'.join(bare.split())}"


def _unused(name: str, names: Sequence[str]) -> str:
    taken = {folded(one) for one in names}
    number, found = 2, name
    while folded(found) in taken:
        found = f"{name} ({number})" if name[-1:].isdigit() else f"{name} {number}"
        found = found.replace("(", "no. ").replace(")", "")
        number += 1
    return found
