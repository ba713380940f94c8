"""Share words out to chords that are typed side by side, where no column tells what is sung to each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from arranger.convert.model import DraftBar, SheetLine
from arranger.convert.syllables import place_of, words_and_syllables

_ROOM = re.compile(r" {2,}|\w-+(?:\s|\w)|__")
# Words that are hardly ever stressed (common practice, no source).
SMALL_WORDS = frozenset("a an and das de den der die ein el i il in la le les los of on the to un und une y".split())  # noqa: SIM905
REACH = 0.7  # of the words' columns: chords that go further are spread over them


def stand_nowhere(bars: Sequence[DraftBar], words: SheetLine) -> bool:
    """Return whether chords side by side cannot stand over their syllables: they end early, and some hit none.

    Words that were set apart to make room for chords were set under them.
    """
    if words.exact or "|" in words.padded or _ROOM.search(words.padded.strip()):
        return False
    columns = [c for bar in bars for c in bar.columns if c >= 0]
    if columns and columns[0] >= len(words.cells):
        return True  # the second of two phrases in a line
    starts, _ = words_and_syllables(words)
    inside = [s for s in starts if columns and s >= columns[0]]
    return (
        len(columns) > 1
        and columns[-1] - columns[0] < REACH * (len(words.cells) - columns[0])
        and len(inside) >= len(columns)
        and not all(place_of(words, c) == c for c in columns)
    )


def _is_small(words: SheetLine, start: int) -> bool:
    return words.part(start).split(maxsplit=1)[0].strip(".,;:!?").lower() in SMALL_WORDS


def _beat(number: int, count: int, beats: int) -> int:
    """Return the syllable for one of some chords: every other syllable is strong, in most songs the first one is."""
    if beats < 2 * count - 1:
        return number * beats // count
    return 2 * round(number * beats / (2 * count))


def shared_out(bars: Sequence[DraftBar], words: SheetLine, *, from_first: bool) -> tuple[DraftBar, ...]:
    """Put chords at words, so that each has about as many syllables.

    The first stands at the first word, or where columns may tell it, at the first word under or behind it.
    """
    starts, syllables = words_and_syllables(words)
    first = next((c for bar in bars for c in bar.columns if c >= 0), 0)
    # A first chord that stands in the first word begins with it.
    lead = max((s for s in starts if s <= first), default=starts[0])
    lead = lead if lead == starts[0] else next((s for s in starts if s >= first), lead)
    lead = starts[0] if from_first else lead
    beats = [s for s in syllables if s >= lead]
    count = sum(len(bar.columns) for bar in bars)
    places: list[int] = []
    for number in range(count):
        near = beats[_beat(number, count, len(beats))] if beats else lead
        free = [s for s in starts if s >= lead and s > max(places, default=-1)]
        place = min(free, key=lambda s: (abs(s - near), s), default=len(words.cells))
        # A chord seldom changes on a small word: it waits for the next one.
        later = [s for s in free if s > place]
        if number and len(later) >= count - number and _is_small(words, place):
            place = later[0]
        places.append(place)
    left = iter(places)
    return tuple(replace(bar, columns=tuple(next(left) for _ in bar.columns), left=-1) for bar in bars)
