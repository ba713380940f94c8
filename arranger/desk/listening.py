"""Write a performance as the page plays it: notes in seconds, and the bars in which they sound.

Octaves, hands and pad stay apart, so that each can be left out. Places are those of the browser's text.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from arranger.desk.places import TextPlaces
from arranger.harmony.model import Arrangement
from arranger.sounding.model import Performance
from arranger.sounding.perform import perform

DECIMALS = 4  # of a second: a tenth of a millisecond


def to_listen(arrangement: Arrangement, where: TextPlaces) -> dict[str, Any]:
    """Return a song as it sounds.

    Returns:
        `notes`: part, key (MIDI), start and length in seconds, velocity (1 to 127), the bar as heard; `bars`: start in
        seconds, beats, seconds of a beat, and where it stands in the text; `seconds`: of the whole; `free`: the song
        has no tempo of its own.
    """
    performance = perform(arrangement)
    seconds = _Clock(performance)
    notes = [
        [
            note.part,
            note.pitch.midi,
            seconds(note.start),
            round(seconds(note.end) - seconds(note.start), DECIMALS),
            note.velocity,
            note.bar,
        ]
        for note in performance.notes
    ]
    bars = []
    for bar in arrangement.bars:
        written = arrangement.song.sections[bar.section].rows[bar.row].bars[bar.bar_index]
        beat = written.meter.felt_beat
        start, after = seconds(bar.at), seconds(bar.at + beat)
        bars.append(
            [start, int(written.meter.length / beat), round(after - start, DECIMALS), *where.ends(written.span)]
        )
    return {"notes": notes, "bars": bars, "seconds": seconds(performance.length), "free": performance.free}


class _Clock:
    """Turns places of a performance into seconds, in any order, remembering those that were asked for."""

    def __init__(self, performance: Performance) -> None:
        self._performance = performance
        self._known: dict[Fraction, float] = {}

    def __call__(self, at: Fraction) -> float:
        if at not in self._known:
            self._known[at] = round(float(self._performance.seconds(at)), DECIMALS)
        return self._known[at]
