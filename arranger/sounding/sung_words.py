"""Find when the words are sung: of each bar as it is heard, those of the verse that has its turn.

Takes an Arrangement; gives syllables in time. Words stand at the chords under which they are written; what follows
there is spread evenly until the next, in sixteenths where it can be. Common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import zip_longest
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.song.model import Bar, BarWords
from arranger.sounding.model import SungSyllable

SIXTEENTH = Fraction(1, 4)  # of a quarter
HELD = "_"


class _Placed(NamedTuple):
    at: Fraction  # from the start of the bar
    text: str


def sung_words(arrangement: Arrangement) -> Iterator[SungSyllable]:
    """Yield the syllables of a song in order of time, each with a hyphen behind it where its word goes on.

    Several rows of words are for the first, second, third time; the last one stays.
    """
    begun: Counter[tuple[int, int]] = Counter()
    last: tuple[int, int, int] | None = None  # the step, its time and the row of the bar before
    for heard in arrangement.bars:
        here = heard.step, heard.time, heard.row
        if here != last or heard.bar_index == 0:
            begun[heard.step, heard.row] += 1
            last = here
        row = arrangement.song.sections[heard.section].rows[heard.row]
        if not row.words:
            continue
        line = row.words[min(begun[heard.step, heard.row], len(row.words)) - 1]
        if heard.bar_index < len(line.bars):
            for placed in _placed(line.bars[heard.bar_index], row.bars[heard.bar_index]):
                yield SungSyllable(heard.at + placed.at, placed.text)


def _placed(words: BarWords, bar: Bar) -> Iterator[_Placed]:
    """Yield the syllables of a bar in time."""
    starts = [mark.start for mark in bar.marks if mark.kind in ("chord", "none")]
    found: list[tuple[Fraction, list[str]]] = []
    for piece in words.pieces:
        syllables = _syllables(piece.text)
        if piece.glued and found and found[-1][1]:
            found[-1][1][-1] = _going_on(found[-1][1][-1])
        known = piece.chord is not None and piece.chord < len(starts)
        at = starts[piece.chord] if piece.chord is not None and known else Fraction(0)
        if found and found[-1][0] == at:
            found[-1][1].extend(syllables)
        else:
            found.append((at, syllables))
    if words.joins and found and found[-1][1]:
        found[-1][1][-1] = _going_on(found[-1][1][-1])
    for (at, syllables), following in zip_longest(found, found[1:]):
        end = following[0] if following else bar.length
        yield from _spread(at, max(end - at, Fraction(0)), syllables)


def _going_on(syllable: str) -> str:
    return syllable if syllable.endswith("-") or syllable == HELD else f"{syllable}-"


def _syllables(text: str) -> list[str]:
    """Return the syllables of a text as far as hyphens part them.

    >>> _syllables("out a-gain, hin- _")
    ['out', 'a-', 'gain,', 'hin-', '_']
    """
    found = []
    for word in text.split():
        parts = word.split("-")
        found += [f"{part}-" for part in parts[:-1] if part]
        found += parts[-1:] if parts[-1] else []
    return found


def _spread(at: Fraction, length: Fraction, syllables: Sequence[str]) -> Iterator[_Placed]:
    """Yield syllables evenly from a place on, for so long; a held one takes its time and is not said again."""
    count = len(syllables)
    for number, syllable in enumerate(syllables):
        after = length * number / count
        if count * SIXTEENTH <= length:
            after = after // SIXTEENTH * SIXTEENTH
        if syllable != HELD:
            yield _Placed(at + after, syllable)
