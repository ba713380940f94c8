"""Find the syllables of a score: which words stand at which place of a bar, and how they hang together.

A song says at which chord words are sung, and rarely at which note: the words up to the next chord stand together.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from arranger.song.model import Piece, Row

HELD = "_"  # a syllable that is held


class Lyric(NamedTuple):
    """Words at a place of a bar: in quarters from its start; whether the first and the last go on over the edge."""

    time: Fraction
    text: str
    from_before: bool
    goes_on: bool
    held: bool = False

    @property
    def syllabic(self) -> str:
        """MusicXML's word for it."""
        if self.from_before:
            return "middle" if self.goes_on else "end"
        return "begin" if self.goes_on else "single"


def lyrics_of(row: Row, bar_index: int, verse: int) -> tuple[Lyric, ...]:
    """Return the words of one verse in a bar of a row, in order of time; those at one place are one."""
    if not row.words:
        return ()
    bars = row.words[verse].bars
    if bar_index >= len(bars):
        return ()
    words = bars[bar_index]
    carried = bar_index > 0 and bars[bar_index - 1].joins
    starts = [mark.start for mark in row.bars[bar_index].marks if mark.kind in ("chord", "none")]
    found: list[Lyric] = []
    for number, piece in enumerate(words.pieces):
        last = number == len(words.pieces) - 1
        goes_on = words.joins if last else words.pieces[number + 1].glued
        time = starts[piece.chord] if piece.chord is not None and piece.chord < len(starts) else Fraction(0)
        text, held = _unheld(piece)
        one = Lyric(time, text, piece.glued if number else carried, goes_on, held)
        if found and found[-1].time == time:
            before = found.pop()
            gap = "" if piece.glued or not before.text else " "
            one = Lyric(time, f"{before.text}{gap}{text}", before.from_before, goes_on, held)
        found.append(one)
    return tuple(lyric for lyric in found if lyric.text or lyric.held)


def _unheld(piece: Piece) -> tuple[str, bool]:
    """Return a piece's text without the sign of a held syllable at its end, and whether it had one."""
    text = piece.text
    if text.endswith(HELD) and len(text) - 1 not in piece.plain:
        return text[:-1].rstrip(), True
    return text, False


def on_notes(lyrics: Sequence[Lyric], notes: Sequence[tuple[Fraction, bool]], *, sung: bool) -> dict[int, Lyric]:
    """Return which of a bar's notes has which words.

    Words stand at the note or rest at their place, where that is a rest at the next note before the next words. Where
    there are as many words as struck notes, each has its own.

    Args:
        lyrics: of one verse, in order of time.
        notes: each note and rest of the bar in order: its place, and whether a note is struck there.
        sung: they are those of the melody.
    """
    found: dict[int, Lyric] = {}
    for number, lyric in enumerate(lyrics):
        until = lyrics[number + 1].time if number + 1 < len(lyrics) else None
        here = [i for i, (at, _) in enumerate(notes) if at >= lyric.time and (until is None or at < until)]
        struck = [i for i in here if notes[i][1]]
        before = [i for i, (at, _) in enumerate(notes) if at <= lyric.time]
        words = lyric.text.split(" ")
        if sung and len(words) == len(struck) > 1:
            for place, (index, word) in enumerate(zip(struck, words, strict=True)):
                first, last = place == 0, place == len(words) - 1
                _put(
                    found,
                    index,
                    Lyric(lyric.time, word, lyric.from_before and first, lyric.goes_on and last, lyric.held and last),
                )
            continue
        at_place = [i for i in before if notes[i][0] == lyric.time and notes[i][1]]
        target = (at_place or struck or before or [0])[0 if at_place or struck else -1]
        _put(found, target, lyric)
    return found


def _put(found: dict[int, Lyric], index: int, lyric: Lyric) -> None:
    before = found.get(index)
    if before is not None:
        gap = "" if lyric.from_before and before.goes_on else " "
        text = f"{before.text}{gap}{lyric.text}".strip()
        lyric = Lyric(before.time, text, before.from_before, lyric.goes_on, lyric.held)
    found[index] = lyric
