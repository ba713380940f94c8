"""Remember the widths of bars, for several looks of one content ask for the same."""

from __future__ import annotations

from dataclasses import replace

from arranger.layout.content.model import BarContent, KeyRange, Words
from arranger.layout.setting.spacing import FIRST_MEASURED, Measure, MeasuredBar, fitting, measured
from arranger.layout.style import Gaps


class KnownBars:
    """Keeps the widths of bars, and bars with smaller words: several looks of one content ask for the same.

    `words` is the size at which the content has its words.
    """

    def __init__(self, words: float) -> None:
        self._words = words
        self._measured: dict[tuple[int, KeyRange, float, Gaps], MeasuredBar] = {}
        self._smaller: dict[tuple[int, float], BarContent] = {}
        self._kept: list[BarContent] = []  # bars are known by identity

    def sized(self, bar: BarContent, words: float) -> BarContent:
        """Return a bar with its words in a size."""
        if words == self._words:
            return bar
        found = self._smaller.get((id(bar), words))
        if found is None:
            found = self._smaller[id(bar), words] = _resized(bar, words / self._words)
            self._kept.append(bar)
        return found

    def fitting(self, bar: BarContent, measure: Measure) -> list[MeasuredBar]:
        """Return a bar with its widths; in parts where it is too wide for a line."""
        key = id(bar), measure.keys, measure.key_width, measure.look.gaps
        found = self._measured.get(key)
        if found is None:
            if len(bar.columns) > FIRST_MEASURED:
                return fitting(bar, measure)
            found = self._measured[key] = measured(bar, measure)
            self._kept.append(bar)
        return [found] if found.first.width <= measure.width else fitting(bar, measure)


def _resized(bar: BarContent, share: float) -> BarContent:
    """Set the words of a bar smaller."""

    def smaller(words: Words | None) -> Words | None:
        if words is None:
            return None
        return replace(
            words, runs=tuple(run._replace(size=run.size * share, width=run.width * share) for run in words.runs)
        )

    return replace(
        bar, columns=tuple(replace(column, words=tuple(map(smaller, column.words))) for column in bar.columns)
    )
