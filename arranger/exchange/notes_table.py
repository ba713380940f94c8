"""Print how a part sounds as a table: one note a line, in order of time, under the sections as they come.

Takes an Arrangement; gives lines.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from arranger.harmony.model import Arrangement
from arranger.sounding.model import SoundingNote
from arranger.sounding.perform import perform
from arranger.sounding.tempo_map import TempoClock
from arranger.units import in_minutes

HEADS = ("bar", "beat", "at", "part", "note", "quarters", "velocity", "over")
_ROW = "{:>4}  {:<7}{:>8}  {:<8}{:<6}{:<10}{:<10}{}"


def notes_table(arrangement: Arrangement) -> Iterator[str]:
    """Yield the lines of the table. Bars are counted as they are heard, beats in quarters of the bar from 1."""
    performance = perform(arrangement)
    clock = TempoClock(performance.tempi)
    length = in_minutes(performance.seconds(performance.length))
    how = " at 80, for there is no tempo" if performance.free else ""
    yield f"{performance.title}: {len(performance.notes)} notes, {length}{how}"
    markers = list(performance.markers)
    for note in performance.notes:
        while markers and markers[0].at <= note.start:
            yield ""
            yield markers.pop(0).text
            yield _ROW.format(*HEADS).rstrip()
        yield _line(arrangement, note, clock)


def _line(arrangement: Arrangement, note: SoundingNote, clock: TempoClock) -> str:
    bar = arrangement.bars[note.bar]
    part = arrangement.chord(note.chord) if note.chord is not None else None
    over = part.written.written if part is not None and part.written is not None else ""
    seconds = f"{float(clock.seconds(note.start)):.2f}"
    beat = in_quarters(note.start - bar.at + 1)
    fields = (note.bar + 1, beat, seconds, note.part, str(note.pitch), in_quarters(note.length), note.velocity, over)
    return _ROW.format(*fields).rstrip()


def in_quarters(length: Fraction) -> str:
    """Return a length as a number with a fraction behind it, or with a point where that is fine.

    >>> in_quarters(Fraction(5, 2)), in_quarters(Fraction(3)), in_quarters(Fraction(1, 480))
    ('2 1/2', '3', '0.002')
    """
    whole, rest = divmod(length, 1)
    if not rest:
        return str(whole)
    if rest.denominator > 16:
        return f"{float(length):.3f}"
    return f"{whole} {rest}" if whole else str(rest)
