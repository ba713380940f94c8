"""Remember the widths of bars, for several looks of one content ask for the same."""

from __future__ import annotations

from dataclasses import replace

from arranger.layout.content.model import BarContent, KeyRange, Words
from arranger.layout.setting.spacing import FIRST_MEASURED, Measure, MeasuredBar, fitting, measured
from arranger.layout.style import Gaps
from arranger.layout.text import Metrics, runs, width_of


class KnownBars:
    """Keeps the widths of bars, and bars with smaller words: several looks of one content ask for the same.

    `words` is the size at which the content has its words.
    """

    def __init__(self, words: float) -> None:
        self._words = words
        self._measured: dict[tuple[int, KeyRange, float, Gaps, bool], MeasuredBar] = {}
        self._smaller: dict[tuple[int, float], BarContent] = {}
        self._halved: dict[tuple[int, float], BarContent] = {}
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

    def halved(self, bar: BarContent, width: float, metrics: Metrics) -> BarContent:
        """Return a bar with the words that are wider than that on two lines."""
        found = self._halved.get((id(bar), width))
        if found is None:
            found = self._halved[id(bar), width] = _halved(bar, width, metrics)
            self._kept.append(bar)
        return found

    def fitting(self, bar: BarContent, measure: Measure) -> list[MeasuredBar]:
        """Return a bar with its widths; in parts where it is too wide for a line."""
        key = id(bar), measure.keys, measure.key_width, measure.look.gaps, measure.look.beside
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


def _halved(bar: BarContent, width: float, metrics: Metrics) -> BarContent:
    """Set words that are wider than that on two lines, if a bar sings at one place alone."""
    sung = [number for number, column in enumerate(bar.columns) if any(column.words)]
    if len(sung) != 1 or not bar.whole_start or not bar.whole_end:
        return bar
    column = bar.columns[sung[0]]
    words = tuple(
        _in_two(part, width, metrics) if part and width_of(part.runs) > width else part for part in column.words
    )
    return replace(bar, columns=(*bar.columns[: sung[0]], replace(column, words=words), *bar.columns[sung[0] + 1 :]))


def _in_two(words: Words, width: float, metrics: Metrics) -> Words:
    """Break words where the wider of both lines is narrowest.

    One word, and words of which half is wider than that, stay as they are: they are broken with their bar.
    """
    size = words.runs[0].size
    parts = "".join(run.text for run in words.runs).split(" ")
    if words.glued or len(parts) == 1:
        return words

    def lines(place: int) -> tuple[str, str]:
        return " ".join(parts[:place]), " ".join(parts[place:])

    def widest(place: int) -> float:
        return max(metrics.width(line, "regular", size) for line in lines(place))

    place = min(range(1, len(parts)), key=widest)
    if widest(place) > width:
        return words
    first, second = (runs(line, "regular", size, metrics) for line in lines(place))
    return replace(words, runs=first, under=second)
