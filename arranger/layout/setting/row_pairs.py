"""Join two rows of a section in one line of eight bars where both fit it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from arranger.layout import style
from arranger.layout.content.model import BarContent, RowContent, SectionContent


def pairs_of(section: SectionContent) -> tuple[tuple[int, ...], ...]:
    """Return the rows of a section, those together that may stand in one line, as far as widths allow.

    Both have four bars or fewer and as many verses, and nothing is said beside the second.
    """
    rows, found = section.rows, list[tuple[int, ...]]()
    place = 0
    while place < len(rows):
        size = 2 if place + 1 < len(rows) and _may_join(rows[place], rows[place + 1]) else 1
        found.append(tuple(range(place, place + size)))
        place += size
    return tuple(found)


def _may_join(one: RowContent, two: RowContent) -> bool:
    most = style.BARS_IN_FULL
    same = (one.verses, one.labels) == (two.verses, two.labels)
    return same and not two.margin and 0 < len(one.bars) <= most and 0 < len(two.bars) <= most


def joined(
    section: SectionContent, fits: Callable[[RowContent], bool], closed: Callable[[BarContent], BarContent]
) -> tuple[SectionContent, tuple[int, ...]]:
    """Return a section with those rows joined that fit a line together, and the first row that each row has now.

    A double bar stands where the second row begins (`closed` returns a bar with it): there a singer breathes. Common
    practice in hymn books, no source.
    """
    rows: list[RowContent] = []
    places: list[int] = []
    hands: list[tuple[int | None, ...]] = []
    for pair in pairs_of(section):
        both = [section.rows[place] for place in pair]
        *ends, last = both
        closing = [bar for row in ends for bar in (*row.bars[:-1], closed(row.bars[-1]))]
        one = both[0]._replace(bars=(*closing, *last.bars))
        whole = [(one, pair)] if len(pair) == 1 or fits(one) else [(section.rows[place], (place,)) for place in pair]
        for row, of in whole:
            rows.append(row)
            places.append(of[0])
            hands.append(tuple(section.rows[place].hands_of for place in of))
    first = {of: hands.index(of) for of in hands if None not in of and hands.count(of) > 1}
    rows = [row._replace(hands_of=first.get(of)) for row, of in zip(rows, hands, strict=True)]
    return replace(section, rows=tuple(rows)), tuple(places)
