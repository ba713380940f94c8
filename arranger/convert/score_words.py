"""Lay words under bars for each time that they are played. Takes bars and their order; gives a line of words a time.

A score sets the lines of its verses under each other; the first is for the first time that the notes are played, the
second for the second. Lines of another kind (`chorus`) stand beside them.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from arranger.convert.score_lead import LeadBar, LeadSyllable
from arranger.convert.score_roadmap import RepeatedBars

_NUMBER = re.compile(r"(.*?)(\d{1,3})\D*")
COMMON_BARS = 2  # bars with words in the first line alone are common to all; a single one may be a held syllable


@dataclass(frozen=True, slots=True)
class SungBar:
    """What is sung in a bar one time; `joins` where its last word goes on in the next bar."""

    syllables: tuple[LeadSyllable, ...] = ()
    joins: bool = False


def _kind(verse: str) -> tuple[str, int]:
    """Return the kind of a line of words, and its number in it.

    >>> _kind("2"), _kind("part1verse2"), _kind("chorus")
    (('', 2), ('part1verse', 2), ('chorus', 1))
    """
    match = _NUMBER.fullmatch(verse)
    return (match[1].strip().casefold(), int(match[2])) if match else (verse.casefold(), 1)


def lanes_of(bars: Sequence[LeadBar]) -> tuple[tuple[str, ...], ...]:
    """Return the lines of words under bars that are played through: for each kind, the lines in order.

    Lines of two kinds that stand in the same bar follow each other, as if they were of one kind.
    """
    places: dict[str, set[int]] = {}
    for index, bar in enumerate(bars):
        for syllable in bar.syllables:
            places.setdefault(syllable.sung.verse, set()).add(index)
    kinds: list[tuple[set[int], list[str]]] = []
    for verse in sorted(places, key=lambda one: (_kind(one)[0] != "", _kind(one))):
        own = next((k for k in kinds if _kind(k[1][0])[0] == _kind(verse)[0] or k[0] & places[verse]), None)
        if own is None:
            kinds.append((set(places[verse]), [verse]))
        else:
            own[0].update(places[verse])
            own[1].append(verse)
    return tuple(tuple(verses) for _, verses in kinds)


def verse_count(bars: Sequence[LeadBar]) -> int:
    """Return how many lines of words stand under each other in bars.

    Those that say themselves when they are sung do not count.
    """
    own = [bar for bar in bars if not any(s.sung.times for s in bar.syllables)]
    return max((len(lanes) for lanes in lanes_of(own)), default=0)


@dataclass(frozen=True, slots=True)
class Unsung:
    """Lines of words under bars from `first` to `last` that no time is left for, beside the times they are played."""

    first: int
    last: int
    times: int
    verses: tuple[str, ...]


def sung_bars(
    bars: Sequence[LeadBar], order: Sequence[int], pieces: Sequence[tuple[int, int]], repeats: Sequence[RepeatedBars]
) -> tuple[tuple[SungBar, ...], tuple[Unsung, ...]]:
    """Return what is sung in each bar as it is played, and what is not sung at all."""
    endings = {e.first: e.numbers for repeat in repeats for e in repeat.endings}
    chosen: list[tuple[LeadSyllable, ...]] = []
    times: Counter[int] = Counter()
    first_of = {i: piece for piece in pieces for i in range(piece[0], piece[1] + 1)}
    lanes = {piece: lanes_of(bars[piece[0] : piece[1] + 1]) for piece in pieces}
    sung: dict[tuple[int, int], set[str]] = {piece: set() for piece in pieces}
    for index in order:
        times[index] += 1
        piece = first_of[index]
        numbers = endings.get(piece[0], ())
        chosen.append(tuple(_sung(bars, index, piece, lanes[piece], times[index], numbers)))
        sung[piece] |= {syllable.sung.verse for syllable in chosen[-1]}
    left = []
    for piece, kinds in lanes.items():
        verses = tuple(verse for verses in kinds for verse in verses if verse not in sung[piece])
        left += [Unsung(*piece, times[piece[0]], verses)] if verses else []
    return tuple(linked(chosen)), tuple(left)


def _sung(
    bars: Sequence[LeadBar],
    index: int,
    piece: tuple[int, int],
    kinds: Sequence[Sequence[str]],
    time: int,
    numbers: Sequence[int],
) -> Iterator[LeadSyllable]:
    wanted: set[str] = set()
    for verses in kinds:
        place = min(time, len(verses)) - 1
        if numbers:  # an ending: the line of its own number, where there is one
            now = str(numbers[min(time, len(numbers)) - 1])
            place = verses.index(now) if now in verses else place
        wanted.add(verses[place])
        if place and _common(bars, index, piece, verses[0], verses[place]):
            wanted.add(verses[0])
    for syllable in bars[index].syllables:
        said = syllable.sung.times
        if (time in said) if said else (syllable.sung.verse in wanted):
            yield syllable


def _common(bars: Sequence[LeadBar], index: int, piece: tuple[int, int], first: str, other: str) -> bool:
    """Return whether a bar stands before or after all words of another line, with common words in the first line."""
    inside = range(piece[0], piece[1] + 1)
    own = [i for i in inside if any(s.sung.verse == other for s in bars[i].syllables)]
    if not own or own[0] <= index <= own[-1]:
        return False
    region = range(own[-1] + 1, piece[1] + 1) if index > own[-1] else range(piece[0], own[0])
    common = [i for i in region if any(s.sung.verse == first for s in bars[i].syllables)]
    if len(common) < COMMON_BARS:
        return False
    begins = next(s for s in bars[common[0]].syllables if s.sung.verse == first)
    return not begins.sung.continues


def linked(chosen: Sequence[tuple[LeadSyllable, ...]]) -> Iterator[SungBar]:
    """Return for each bar its words, and whether the last one goes on, through bars without any too."""
    last = max((i for i, syllables in enumerate(chosen) if syllables), default=-1)
    open_word = False
    for index, syllables in enumerate(chosen):
        if syllables:
            open_word = syllables[-1].sung.goes_on
        yield SungBar(syllables, open_word and index < last)
