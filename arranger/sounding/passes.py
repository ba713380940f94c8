"""List the passes of the roadmap in time, each from its first bar to its last.

Takes an Arrangement; gives, for each pass, when it begins and ends, whether the keys play or not.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from arranger.harmony.model import Arrangement, HeardBar
from arranger.song.model import Facts


class Pass(NamedTuple):
    """One pass of a step of the roadmap.

    Attributes:
        step: the index of the roadmap's step.
        section: what is played, an index into `Arrangement.sections`.
        bars: from its first bar to behind its last, indices into `Arrangement.bars`.
        start, end: quarters from the start of the song.
        facts: what holds in its section.
    """

    step: int
    section: int
    bars: tuple[int, int]
    start: Fraction
    end: Fraction
    facts: Facts

    @property
    def length(self) -> Fraction:
        """How long it is, in quarters."""
        return self.end - self.start


def passes(arrangement: Arrangement) -> tuple[Pass, ...]:
    """Return the passes of the roadmap in order of time."""
    found, first = [], 0
    for (step, _), group in groupby(arrangement.bars, key=lambda bar: (bar.step, bar.time)):
        bars: Sequence[HeardBar] = list(group)
        facts = arrangement.song.sections[bars[0].section].facts
        span = first, first + len(bars)
        found.append(Pass(step, bars[0].section, span, bars[0].at, bars[-1].at + bars[-1].length, facts))
        first += len(bars)
    return tuple(found)
