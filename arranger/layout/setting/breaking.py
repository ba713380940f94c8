"""Break rows of bars into lines.

Lines are as few as can be, then as even; a bar that is too wide for a line is broken between its columns, and a column
that is, between its words, or in its symbol.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace

from arranger.layout import style
from arranger.layout.content.model import BarContent, Column, Words
from arranger.layout.content.symbols import narrowed
from arranger.layout.setting.spacing import Group, Measure, MeasuredBar, least_width, measured
from arranger.layout.text import runs, width_of, wrap

FIRST_MEASURED = 16  # columns: of a long bar no more are measured than are needed to see what fits


def broken_row(bars: Sequence[MeasuredBar], width: float) -> list[Group]:
    """Break a row into as few lines as can be, with bars as evenly spread as fits, then with widths as even.

    The best division of the first bars is found for 1, 2, 3... bars in turn.
    """
    count = len(bars)
    # For the first n bars: (lines, bars squared, widths squared) and where the last line begins.
    best: list[tuple[tuple[int, int, float], int]] = [((0, 0, 0.0), 0)] + [((count + 1, 0, 0.0), 0)] * count
    for start in range(count):
        (lines, squares, uneven), _ = best[start]
        natural = 0.0
        for end in range(start + 1, count + 1):
            natural += (bars[end - 1].later if natural else bars[end - 1].first).width
            if natural > width and end > start + 1:
                break
            cost = (lines + 1, squares + (end - start) ** 2, round(uneven + natural**2, 3))
            best[end] = min(best[end], (cost, start))
        if best[count][0][0] == 1:
            break
    groups: list[Group] = []
    end = count
    while end:
        start = best[end][1]
        groups.insert(0, tuple(bars[start:end]))
        end = start
    return groups or [()]


def fitting(bar: BarContent, measure: Measure) -> list[MeasuredBar]:
    """Break a bar that is too wide for a line: between columns, and where one column is too wide, between its words."""
    some = FIRST_MEASURED
    while True:
        start = measured(bar if some >= len(bar.columns) else replace(bar, columns=bar.columns[:some]), measure)
        if start.first.width > measure.width:
            break
        if start.content is bar:
            return [start]
        some *= 2
    boxes = start.first.boxes

    def width(count: int) -> float:
        """Return the least width of the first columns alone; more columns are never narrower."""
        return least_width(boxes, count)

    count = max(1, bisect_right(range(1, len(boxes.steps) + 1), measure.width, key=width))
    head, columns = bar.columns[count - 1], bar.columns[count:]
    if count == 1 and width(1) > measure.width:
        head, rests = _split_column(head, measure)
        columns = (*rests, *columns)
    kept = (*bar.columns[: count - 1], head)
    if not columns:
        return [measured(replace(bar, columns=kept), measure)]
    time = columns[0].time
    kept, columns = _hyphened(kept, columns, measure)
    first = replace(
        bar, columns=kept, length=time, whole_end=False, repeat_times=0, double=False, final=False, ending_stops=False
    )
    second = replace(
        bar, columns=columns, start=time, whole_start=False, repeat_start=False, ending="", meter_shown=False
    )
    return [measured(first, measure), *fitting(second, measure)]


def _hyphened(
    kept: tuple[Column, ...], after: tuple[Column, ...], measure: Measure
) -> tuple[tuple[Column, ...], tuple[Column, ...]]:
    """Put the hyphen of words that go on after a break before it: it stands at the end of the line that is left."""
    head, *rest = after
    columns = list(kept)
    for verse, words in enumerate(head.words):
        if words is None or not words.glued:
            continue
        for number in reversed(range(len(columns))):
            sung = columns[number].words
            last = sung[verse] if verse < len(sung) else None
            if last is not None:
                hyphen = runs("-", "regular", measure.look.words, measure.metrics)
                whole = replace(last, runs=(*last.runs, *hyphen))
                columns[number] = columns[number]._replace(words=(*sung[:verse], whole, *sung[verse + 1 :]))
                head = head._replace(words=(*head.words[:verse], replace(words, glued=False), *head.words[verse + 1 :]))
                break
    return tuple(columns), (head, *rest)


def _split_column(column: Column, measure: Measure) -> tuple[Column, tuple[Column, ...]]:
    """Narrow a column that alone fills a line: its symbol is set smaller, then broken; its words are broken.

    What does not fit goes to columns of their own at the same time.
    """
    # Room for what a bar has at its sides at most: pads, repeat signs, a meter, the clefs of staves.
    room = measure.width - 2 * (style.BAR_PAD + style.REPEAT_PAD) - 40
    rests: list[Column] = []
    symbol = column.symbol
    if symbol is not None:
        first, *others = narrowed(symbol, room, measure.metrics, measure.look.sizes.small)
        rests += [Column(column.time, symbol=other) for other in others]
        symbol = first
    heads: list[Words | None] = []
    left: list[Words | None] = []
    for words in column.words:
        if words is None or width_of(words.runs) <= room:
            heads.append(words)
            left.append(None)
            continue
        size = words.runs[0].size
        line, *more = wrap("".join(run.text for run in words.runs), "regular", size, room, measure.metrics)
        heads.append(replace(words, runs=runs(line, "regular", size, measure.metrics)))
        left.append(replace(words, runs=runs(" ".join(more), "regular", size, measure.metrics), glued=False))
    if any(left):
        rests.append(Column(column.time, words=tuple(left)))
    return column._replace(symbol=symbol, words=tuple(heads)), tuple(rests)
