"""Find when the words are sung: of each bar as it is heard, those of the verse that has its turn.

Takes an Arrangement; gives syllables in time. Where the tune is written, syllables fall on its notes. Elsewhere words
stand at the chords under which they are written; what follows there is spread evenly until the next, in sixteenths
where it can be. Common practice, no source.
"""

from __future__ import annotations

import re
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
_VOWELS = re.compile(r"[aeiouyà-æè-ïò-öù-ýāăąēĕėęěĩīĭįıōŏőœũūŭůűųаеёиоуыэюяіїєαεηιουωάέήίόύώ]+")
_SILENT_E = re.compile(r"(?<=[^\W\d_aeiouy])e(?=\W*$)")  # in English, after a consonant


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
            tune = row.tune.bars[heard.bar_index] if row.tune and heard.bar_index < len(row.tune.bars) else ()
            notes = [note.start for note in tune if note.pitch is not None]
            for placed in _placed(line.bars[heard.bar_index], row.bars[heard.bar_index], notes):
                yield SungSyllable(heard.at + placed.at, placed.text)


def _placed(words: BarWords, bar: Bar, notes: Sequence[Fraction]) -> Iterator[_Placed]:
    """Yield the syllables of a bar in time; `notes` are where those of its tune begin."""
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
    every = [syllable for _, syllables in found for syllable in syllables]
    if every and len(every) == len(notes):
        yield from _on_notes(every, notes, bar.length)
        return
    for (at, syllables), following in zip_longest(found, found[1:]):
        end = following[0] if following else bar.length
        here = [note for note in notes if at <= note < end]
        yield from _on_notes(syllables, here, end) if here else _spread(at, max(end - at, Fraction(0)), syllables)


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


def _on_notes(syllables: Sequence[str], notes: Sequence[Fraction], end: Fraction) -> Iterator[_Placed]:
    """Yield syllables on the notes that begin under their chord, which has its end there.

    One has one note, and a word whose syllables are not parted as many as it has vowels, where that comes out even;
    what is left over shares the last note.
    """
    if len(syllables) <= len(notes):
        ways = ([_vowels(one, silent=silent) for one in syllables] for silent in (True, False))
        counts = next((way for way in ways if sum(way) == len(notes)), [1] * len(syllables))
        place = 0
        for syllable, count in zip(syllables, counts, strict=True):
            if syllable != HELD:
                yield _Placed(notes[place], syllable)
            place += count
        return
    for syllable, note in zip(syllables, notes[:-1], strict=False):
        if syllable != HELD:
            yield _Placed(note, syllable)
    yield from _spread(notes[-1], end - notes[-1], syllables[len(notes) - 1 :])


def _vowels(text: str, *, silent: bool) -> int:
    """Return how many vowels a text has, those that touch as one, and one at least.

    >>> [_vowels(word, silent=True) for word in ("lanterns", "home,", "the", "_")], _vowels("rose", silent=False)
    ([2, 1, 1, 1], 2)
    """
    text = text.casefold()
    return max(1, len(_VOWELS.findall(_SILENT_E.sub("", text) if silent else text)))


def _spread(at: Fraction, length: Fraction, syllables: Sequence[str]) -> Iterator[_Placed]:
    """Yield syllables evenly from a place on, for so long; a held one takes its time and is not said again."""
    count = len(syllables)
    for number, syllable in enumerate(syllables):
        after = length * number / count
        if count * SIXTEENTH <= length:
            after = after // SIXTEENTH * SIXTEENTH
        if syllable != HELD:
            yield _Placed(at + after, syllable)
