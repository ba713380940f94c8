"""The roadmap unrolled. Takes a Song; gives printed chords, the order in which they are heard, who shares a hand.

A printed chord may be heard many times with different neighbours, but the page shows one voicing for it. Printed
chords that must look alike (equal rows, copies by `like`, a chord that only goes on) share one *unknown*; a copy in
another key is its model's unknown moved by `shift` semitones. Without a tempo, or in free time, a song is reckoned as
at 80 felt quarters a minute.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import lcm
from typing import Literal, NamedTuple

from arranger.harmony.arc import Arc, BarPlan, SectionPlan
from arranger.harmony.model import ChordId, Heard, HeardBar, Visit
from arranger.harmony.repeats import played_bars
from arranger.song.model import Bar, Facts, Mark, Section, Song, WrittenChord
from arranger.text.source import NOWHERE, Span
from arranger.theory.chord import Chord
from arranger.theory.key import Transposition


@dataclass(frozen=True, slots=True)
class Printed:
    """One chord, N.C. or rest as printed.

    Fields are those of `ChordPart`, and `plan`: how its bar is played. `unknown` is None unless it is a chord.
    """

    kind: Literal["chord", "none", "rest"]
    row: int
    bar_index: int
    mark: int
    place: int | None
    bar: int
    start: Fraction
    length: Fraction
    written: WrittenChord | None
    repeats: bool
    plan: BarPlan
    unknown: int | None = None
    shift: int = 0
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def chord(self) -> Chord:
        """The chord; only where `kind` is `chord`."""
        assert self.written is not None
        return self.written.chord


class Timeline(NamedTuple):
    """The unrolled song.

    Attributes:
        printed: for each section, its printed chords in order.
        heard: in order of time.
        bars: all bars, in order of time.
        unknowns: how many there are.
        alone: sections that are solved by themselves though they are `like` another.
        rising: sections in which the top note climbs from bar to bar.
        order: the sections that are played, in order; None where the keys are out.
    """

    printed: tuple[tuple[Printed, ...], ...]
    heard: tuple[Heard, ...]
    bars: tuple[HeardBar, ...]
    unknowns: int
    alone: frozenset[int]
    rising: frozenset[int]
    order: tuple[int | None, ...]

    def at(self, where: ChordId) -> Printed:
        """Return a printed chord by its place."""
        return self.printed[where[0]][where[1]]

    def unknowns_heard(self) -> list[int]:
        """List the unknowns in the order in which they are heard."""
        return [unknown for heard in self.heard if (unknown := self.at(heard.chord).unknown) is not None]


def bars_heard(song: Song, heard: Sequence[Heard]) -> tuple[Fraction, ...]:
    """Return, for each heard chord, how many bars have been played when it comes, in each section's own meter."""
    counts, unit = bars_counted(song, heard)
    return tuple([Fraction(count, unit) for count in counts])


def bars_counted(song: Song, heard: Sequence[Heard]) -> tuple[list[int], int]:
    """Return the same in whole numbers, which are quick to reckon with: so many parts of a bar, and how many it has."""
    meters = {one.chord[0]: song.sections[one.chord[0]].facts.meter.length for one in heard}
    unit = lcm(4, *{one.at.denominator for one in heard}, *(length.denominator for length in meters.values()))
    lengths = {section: int(length * unit) for section, length in meters.items()}  # of a quarter, as all that follows
    parts = lcm(4 * unit, *lengths.values())
    found: list[int] = []
    now, at, length = 0, 0, 4 * unit
    for one in heard:
        here = one.at.numerator * (unit // one.at.denominator)
        now += (here - at) * (parts // length)
        found.append(now)
        at, length = here, lengths[one.chord[0]]
    return found, parts


def unroll(arc: Arc, alone: frozenset[int] = frozenset()) -> Timeline:
    """Unroll the song of an arc.

    Sections in `alone` get unknowns of their own though they are `like` another; so do those that are played at
    another texture or with another band than their model.
    """
    song = arc.song
    printed = [_printed(section, plan) for section, plan in zip(song.sections, arc.plans, strict=True)]
    count = 0
    order = sorted(range(len(printed)), key=lambda s: song.sections[s].model is not None)  # models before their copies
    numbered: dict[int, tuple[Printed, ...]] = {}
    for index in order:
        section = song.sections[index]
        model = section.model
        playing = model is not None and not section.tacet and not song.sections[model].tacet
        if model is not None and playing and index not in alone and _played_alike(arc, index, model):
            shift = Transposition(song.sections[model].facts.key, section.facts.key).semitones
            pairs = zip(printed[index], numbered[model], strict=True)
            numbered[index] = tuple(replace(p, unknown=m.unknown, shift=shift + m.shift) for p, m in pairs)
        else:
            numbered[index] = _numbered(printed[index], section, count, arc.plans[index].climbs)
            count = max((p.unknown + 1 for p in numbered[index] if p.unknown is not None), default=count)
    parts = tuple(numbered[i] for i in range(len(printed)))
    rising = frozenset(i for i, plan in enumerate(arc.plans) if plan.climbs)
    clock = _hear(arc, parts)
    played = tuple(visit.section for visit in arc.visits)
    return Timeline(parts, tuple(clock.heard), tuple(clock.bars), count, alone, rising, played)


def _played_alike(arc: Arc, index: int, model: int) -> bool:
    """Return whether two sections with the same chords are played at the same textures with one band and drone."""
    one, two = arc.plans[index], arc.plans[model]
    sections = arc.song.sections[index], arc.song.sections[model]
    by = Transposition(sections[1].facts.key, sections[0].facts.key)
    drones = [section.facts.drone.notes if section.facts.drone else () for section in sections]
    return (
        not (one.climbs or two.climbs)
        and drones[0] == tuple(map(by.name, drones[1]))
        and all(
            a.hands == b.hands
            for row, other in zip(one.rows, two.rows, strict=True)
            for a, b in zip(row, other, strict=True)
        )
    )


def _printed(section: Section, plan: SectionPlan) -> tuple[Printed, ...]:
    if section.tacet:
        return ()
    found: list[Printed] = []
    after_repeat = False
    for row_index, row in enumerate(section.rows):
        for bar_index, bar in enumerate(row.bars):
            after_repeat = after_repeat or bar.repeats_last
            place = -1
            for mark_index, mark in enumerate(bar.marks):
                if mark.kind == "slash":
                    if found and not after_repeat:  # over a `%` it is the repeated bar that goes on
                        found[-1] = replace(found[-1], length=found[-1].length + mark.length)
                    continue
                place += mark.kind != "rest"
                after_repeat = False
                where = row_index, bar_index, mark_index, place
                here = plan.rows[row_index][bar_index]
                found.append(_new(mark, where, bar, here, found[-1] if found else None))
    return tuple(found)


def _new(mark: Mark, where: tuple[int, int, int, int], bar: Bar, plan: BarPlan, last: Printed | None) -> Printed:
    row, bar_index, index, place = where
    kind: Literal["chord", "none", "rest"] = mark.kind  # type: ignore[assignment]  # slashes do not come here
    repeats = (
        mark.chord is not None
        and not mark.chord.pins
        and last is not None
        and last.written is not None
        and last.chord == mark.chord.chord
        and last.plan.hands == plan.hands
    )
    return Printed(
        kind=kind,
        row=row,
        bar_index=bar_index,
        mark=index,
        place=None if kind == "rest" else place,
        bar=bar.number,
        start=mark.start,
        length=mark.length,
        written=mark.chord,
        repeats=repeats,
        plan=plan,
        span=mark.span,
    )


def _numbered(printed: tuple[Printed, ...], section: Section, count: int, rising: bool) -> tuple[Printed, ...]:
    """Number the unknowns of a section from `count` on.

    A chord that goes on and equal rows of a section share theirs; both may join more. Where it is `rising` every bar
    has its own.
    """
    same = list(range(len(printed)))  # each chord's stand-in: the first that it shares an unknown with

    def first(index: int) -> int:
        while same[index] != index:
            index = same[index]
        return index

    def join(one: int, two: int) -> None:
        one, two = sorted((first(one), first(two)))
        same[two] = one

    rows: dict[object, list[int]] = {}
    for row_index, row in enumerate(() if rising else section.rows):
        here = [i for i, p in enumerate(printed) if p.row == row_index]
        known = rows.setdefault((_shape(printed, here), tuple(bar.meter for bar in row.bars)), here)
        for one, two in zip(known, here, strict=True):
            join(one, two)
    for index, chord in enumerate(printed):
        if chord.repeats and not (rising and chord.start == 0):
            join(index - 1, index)
    numbers: dict[int, int] = {}
    numbered = []
    for index, chord in enumerate(printed):
        unknown = numbers.setdefault(first(index), count + len(numbers)) if chord.kind == "chord" else None
        numbered.append(replace(chord, unknown=unknown))
    return tuple(numbered)


def _shape(printed: tuple[Printed, ...], row: list[int]) -> tuple[object, ...]:
    """Return what must be alike in equal rows: chords, their times, and pinned hands."""
    return tuple(
        (p.kind, p.bar_index, p.start, p.length, p.written and (p.written.chord, p.written.pins), p.plan.hands)
        for p in (printed[i] for i in row)
    )


@dataclass(slots=True)
class _Clock:
    """Walks through the song's bars and notes what is heard. Mutable, lives in `_hear` only."""

    heard: list[Heard] = field(default_factory=list)
    bars: list[HeardBar] = field(default_factory=list)
    now: Fraction = Fraction(0)
    silence: Fraction | None = None  # how long it has been silent, in bars; None before the first chord
    bar_length: Fraction = Fraction(4)
    sounding: bool = False

    def sound(
        self, visit: Visit, where: ChordId, number: int, start: Fraction, length: Fraction, push: Fraction
    ) -> None:
        cut = self.silence is None or self.silence >= 1
        if not self.heard:
            push = Fraction(0)  # nothing can come before the start
        if push and self.sounding:
            self.lengthen(-push)
        at = self.now + start if start else self.now
        if push:
            at, length = at - push, length + push
        self.heard.append(Heard(visit.step, where, number, at, length, cut, visit.time))
        self.silence, self.sounding = Fraction(0), True

    def lengthen(self, length: Fraction) -> None:
        self.heard[-1] = self.heard[-1]._replace(length=self.heard[-1].length + length)

    def hush(self, length: Fraction) -> None:
        if self.silence is not None:
            self.silence += length / self.bar_length
        self.sounding = False

    def go_on(self, length: Fraction) -> None:
        if not self.sounding:
            self.hush(length)
        elif self.heard:
            self.lengthen(length)


def _hear(arc: Arc, printed: tuple[tuple[Printed, ...], ...]) -> _Clock:
    clock = _Clock()
    begun: Counter[tuple[int, int]] = Counter()  # how often each row has been begun, by step and row
    for visit in arc.visits:
        _hear_visit(arc.song, visit, printed, clock, begun)
    return clock


def _hear_visit(
    song: Song,
    visit: Visit,
    printed: tuple[tuple[Printed, ...], ...],
    clock: _Clock,
    begun: Counter[tuple[int, int]],
) -> None:
    step = song.roadmap[visit.step]
    section = song.sections[step.section]
    silent = section.tacet or visit.section is None
    here = visit.section if visit.section is not None else step.section
    places = {(p.row, p.bar_index, p.mark): i for i, p in enumerate(printed[here])}
    meant = _meant(section)
    last_row = -1
    for row, bar_index in played_bars(section, step.from_bar, step.to_bar):
        bar = section.rows[row].bars[bar_index]
        if row != last_row or bar_index == 0:
            begun[visit.step, row] += 1
            last_row = row
        clock.bar_length = bar.meter.length
        place = visit.step, visit.time, here, row, bar_index
        clock.bars.append(HeardBar(*place, clock.now, bar.length, silent))
        if silent:
            clock.hush(bar.length)
        source_row, source_bar = meant[row, bar_index]
        for index, mark in enumerate(() if silent else section.rows[source_row].bars[source_bar].marks):
            chord = places.get((source_row, source_bar, index))
            if mark.kind == "slash":
                clock.go_on(mark.length)
            elif mark.chord is not None and chord is not None:
                clock.sound(visit, (here, chord), begun[visit.step, row], mark.start, mark.length, mark.chord.push)
            else:
                clock.hush(mark.length)
        clock.now += bar.length


def repeated_in(section: Section, row: int, bar_index: int) -> tuple[tuple[int, int], ...]:
    """Return the row and the bar in it of each `%` that repeats a bar."""
    if not any(bar.repeats_last for each in section.rows for bar in each.bars):
        return ()
    here = (row, bar_index)
    return tuple(place for place, meant in _meant(section).items() if meant == here and place != here)


def _meant(section: Section) -> dict[tuple[int, int], tuple[int, int]]:
    """Return for each bar the bar that it means: itself, or for `%` the last written bar with marks of its own."""
    meant: dict[tuple[int, int], tuple[int, int]] = {}
    last: tuple[int, int] | None = None
    for row_index, row in enumerate(section.rows):
        for bar_index, bar in enumerate(row.bars):
            here = (row_index, bar_index)
            if last is None or not bar.repeats_last:
                last = here
            meant[here] = last
    return meant


ASSUMED_QUARTERS = Fraction(80)


def quarters_a_minute(facts: Facts) -> Fraction:
    """Return the speed that is reckoned with, in quarters a minute."""
    speed = facts.tempo.quarters_a_minute if facts.tempo else None
    return speed or ASSUMED_QUARTERS


def seconds(quarters: Fraction, facts: Facts) -> Fraction:
    """Return the time that so many quarters take, in seconds."""
    return quarters * 60 / quarters_a_minute(facts)


def felt_beats_a_minute(facts: Facts, felt_beat: Fraction) -> Fraction:
    """Return the felt beats (each of so many quarters) in a minute."""
    return quarters_a_minute(facts) / felt_beat
