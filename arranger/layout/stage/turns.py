"""When a hand is free: an arrangement -> what is played after what, and how long a hand does nothing new between.

A player turns a page in a rest, while a chord is held, or at the end of a section while its last chord sounds. In all
manners that the program knows the left hand strikes its bass once for a chord and holds it, whatever the right hand
does: it may let go, for the pedal holds on. Lines and suspensions that resolve want both eyes, so no hand counts as
free before they are done.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from arranger.harmony.model import Arrangement, ChordId, ChordPart, Heard
from arranger.harmony.timeline import seconds
from arranger.layout.division import FREE
from arranger.song.model import Bar

HOLDING = ("held", "halves", "quarters", "eighths", "broken")  # manners in which the left hand holds its bass
OWN_WORDS = Fraction(1)  # quarters: how often both hands strike, at most, in a manner in the writer's own words
SILENT = -1  # in place of a chord: a section without any, as a whole


@dataclass(frozen=True, slots=True)
class Passage:
    """From one chord to what is played next; `free` seconds pass in which no hand does anything new.

    A section in which nothing is played counts as one chord, with the number `SILENT`.
    """

    chord: ChordId
    after: ChordId
    free: float

    @property
    def turns(self) -> bool:
        """Whether there is time to turn a page."""
        return self.free >= FREE


@dataclass(frozen=True, slots=True)
class _Event:
    """A chord as it is heard, or a silent section: when it begins, and when the last thing is done in it (quarters)."""

    chord: ChordId
    at: Fraction
    done: Fraction


def passages(arrangement: Arrangement) -> tuple[Passage, ...]:
    """Return all that is played after something, each pair once with the least time that it leaves, in order."""
    found: dict[tuple[ChordId, ChordId], Fraction] = {}
    for one, two in pairwise(_events(arrangement)):
        facts = arrangement.song.sections[one.chord[0]].facts
        free = seconds(max(Fraction(0), two.at - min(one.done, two.at)), facts)
        pair = one.chord, two.chord
        found[pair] = min(free, found.get(pair, free))
    return tuple(Passage(one, two, float(free)) for (one, two), free in found.items())


def _events(arrangement: Arrangement) -> list[_Event]:
    """Return all chords as they are heard, and the silent sections between them."""
    song = arrangement.song
    by_step: dict[int, list[Heard]] = {}
    for heard in arrangement.heard:
        by_step.setdefault(heard.step, []).append(heard)
    events: list[_Event] = []
    now = Fraction(0)
    for number, step in enumerate(song.roadmap):
        if number not in by_step:
            events.append(_Event((step.section, SILENT), now, now))
            now += step.times * sum((bar.length for bar in song.sections[step.section].bars), Fraction(0))
            continue
        for heard in by_step[number]:
            events.append(_Event(heard.chord, heard.at, heard.at + _last(arrangement, heard)))
            now = heard.at + heard.length
    return events


def _last(arrangement: Arrangement, heard: Heard) -> Fraction:
    """Return when the last thing is done while a chord is heard, in quarters from its beginning."""
    return max((done for done in _done(arrangement, heard) if done < heard.length), default=Fraction(0))


def _done(arrangement: Arrangement, one: Heard) -> Iterator[Fraction]:
    """Return when something is done on a chord, in quarters from its beginning."""
    number, _ = one.chord
    section, part = arrangement.song.sections[number], arrangement.sections[number]
    chord = arrangement.chord(one.chord)
    manner = chord.written.manner if chord.written is not None else ()
    if part.play not in HOLDING and not {"hold", "stop"} & set(manner):
        # The last strike before the chord ends.
        yield max(0, -(-one.length // OWN_WORDS) - 1) * OWN_WORDS
    bars = section.bars
    settled = chord.suspension
    if settled is not None and settled.bar is not None and settled.start is not None:
        yield _since(bars, chord, _index(bars, settled.bar), settled.start)
    for line in part.octaves:
        if line.before == one.chord:
            for note in line.notes:
                yield _since(bars, chord, _flat(arrangement, number, note.row, note.bar_index), note.start)
    for row_index, row in enumerate(section.rows):
        for bar_index, notes in enumerate(row.hook.bars if row.hook is not None else ()):
            for hook in notes:
                if hook.pitch is not None:
                    yield _since(bars, chord, _flat(arrangement, number, row_index, bar_index), hook.start)


def _index(bars: tuple[Bar, ...], number: int) -> int:
    return next(index for index, bar in enumerate(bars) if bar.number == number)


def _flat(arrangement: Arrangement, section: int, row: int, bar: int) -> int:
    """Return the place of a bar among all bars of its section."""
    rows = arrangement.song.sections[section].rows
    return sum(len(rows[before].bars) for before in range(row)) + bar


def _since(bars: tuple[Bar, ...], chord: ChordPart, index: int, start: Fraction) -> Fraction:
    """Return the time from a chord to a place of its section in quarters, as written; below 0 before the chord."""
    here = _index(bars, chord.bar)
    between = sum((bar.length for bar in bars[min(here, index) : max(here, index)]), Fraction(0))
    return (between if index >= here else -between) + start - chord.start
