"""Find how fast a song goes, and in which meter: its maps in time.

Takes an Arrangement and its passes; gives changes in order of time. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from arranger.harmony.model import Arrangement
from arranger.harmony.strokes import written_bar
from arranger.harmony.timeline import ASSUMED_QUARTERS, quarters_a_minute
from arranger.song.model import Facts, Meter
from arranger.sounding.model import MeterChange, TempoChange
from arranger.sounding.passes import Pass

GRID = 480  # of a quarter, to which what is reckoned in seconds is rounded: as fine as MIDI files commonly are
FERMATA = Fraction(1, 2)  # of the speed: a chord that is held lasts as long again, by a bar at most


def is_free(facts: Facts) -> bool:
    """Return whether there is no tempo to go by."""
    return facts.tempo is None or facts.tempo.bpm is None


def tempi(arrangement: Arrangement, song_passes: Sequence[Pass], share: Fraction) -> tuple[TempoChange, ...]:
    """Return the tempi of a song from 0 on, each other than the one before.

    `rit to` changes from felt beat to felt beat through its pass. A fermata halves the speed while its chord sounds,
    for the last bar of it where it is longer.

    Args:
        arrangement: the song.
        song_passes: of the arrangement.
        share: of the tempo that is written: 4/5 is slower.
    """
    speeds = list(_speeds(song_passes))
    starts = [speed.at for speed in speeds]
    held = sorted(_held(arrangement))
    moments = {*starts, *(start for start, _ in held), *(end for _, end in held)}
    end = song_passes[-1].end if song_passes else Fraction(0)
    found: list[TempoChange] = []
    for at in sorted(moments):
        speed = speeds[max(bisect_right(starts, at) - 1, 0)].quarters_a_minute * share
        if any(start <= at < until for start, until in held):
            speed *= FERMATA
        if (at < end or not found) and (not found or found[-1].quarters_a_minute != speed):
            found.append(TempoChange(at, speed))
    return tuple(found) or (TempoChange(Fraction(0), ASSUMED_QUARTERS * share),)


def _speeds(song_passes: Iterable[Pass]) -> Iterator[TempoChange]:
    last = ASSUMED_QUARTERS
    for one in song_passes:
        tempo, speed = one.facts.tempo, quarters_a_minute(one.facts)
        if tempo is None or not tempo.gradual:
            yield TempoChange(one.start, speed)
            last = speed
            continue
        beat = one.facts.meter.felt_beat
        count = max(int(one.length / beat), 1)
        for number in range(count):
            yield TempoChange(one.start + number * beat, last + (speed - last) * Fraction(number + 1, count))
        last = speed


def _held(arrangement: Arrangement) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield from when to when each fermata holds."""
    bars = [bar.at for bar in arrangement.bars]
    for heard in arrangement.heard:
        written = arrangement.chord(heard.chord).written
        if written is not None and "hold" in written.manner:
            end = heard.at + heard.length
            last = arrangement.bars[max(bisect_right(bars, heard.at) - 1, 0)]
            yield max(heard.at, end - last.length), end


def meters(arrangement: Arrangement) -> tuple[MeterChange, ...]:
    """Return the meters of a song from 0 on; a bar that is shorter than its meter has one of its own."""
    found: list[MeterChange] = []
    for bar in arrangement.bars:
        meter = fitting(written_bar(arrangement, bar).meter, bar.length)
        if not found or (found[-1].meter.beats, found[-1].meter.unit) != (meter.beats, meter.unit):
            found.append(MeterChange(bar.at, meter))
    return tuple(found) or (MeterChange(Fraction(0), arrangement.meter),)


def fitting(meter: Meter, length: Fraction) -> Meter:
    """Return a meter for a bar that lasts so many quarters: its own, or one of as many beats as there are.

    >>> str(fitting(Meter(4, 4), Fraction(1))), str(fitting(Meter(4, 4), Fraction(1, 2)))
    ('1/4', '1/8')
    """
    unit = meter.unit
    while length * unit % 4 and unit < 64:
        unit *= 2
    beats = length * unit / 4
    return meter if meter.length == length or beats.denominator != 1 else replace(meter, beats=int(beats), unit=unit)


def on_grid(length: Fraction) -> Fraction:
    """Return a length in quarters, rounded to the grid, and one place of it at least."""
    return Fraction(max(round(length * GRID), 1), GRID)


class TempoClock:
    """Finds when a moment sounds, by a tempo map."""

    def __init__(self, changes: Sequence[TempoChange]) -> None:
        self._starts = [change.at for change in changes]
        self._speeds = [change.quarters_a_minute for change in changes]
        self._passed = [Fraction(0)]
        for one, two in pairwise(changes):
            self._passed.append(self._passed[-1] + (two.at - one.at) * 60 / one.quarters_a_minute)

    @property
    def fastest(self) -> Fraction:
        """The most quarters a minute anywhere."""
        return max(self._speeds)

    def speed(self, at: Fraction) -> Fraction:
        """Return the quarters a minute at a moment."""
        return self._speeds[max(bisect_right(self._starts, at) - 1, 0)]

    def seconds(self, at: Fraction) -> Fraction:
        """Return when a moment sounds, in seconds from the start of the song."""
        index = max(bisect_right(self._starts, at) - 1, 0)
        return self._passed[index] + (at - self._starts[index]) * 60 / self._speeds[index]
