"""Settle what B means in a sheet that has no H: the note below C, or B flat, as German names it.

Where H stands in a sheet, or names such as Fis and Es, the habit is sure (`marks.habits_of`). Without them the key and
the other chords must tell, and each place is to be checked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from arranger.convert.compare import Body
from arranger.convert.marks import Habits
from arranger.convert.model import DraftRow, DraftSection, Remark
from arranger.convert.sheet_head import in_mode
from arranger.convert.typed_lines import LineMeaning
from arranger.song.cells import ChordWord, read_mark
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.keyfinding import key_of_chords

FEWEST_OTHERS = 2  # different chords beside B that can tell a key
_B, _B_FLAT = 11, 10  # pitch classes


def flat_b_is_likely(lines: Sequence[LineMeaning], stated: Key | None, habits: Habits) -> bool:
    """Return whether the key and the other chords speak for B flat where a sheet has B, and no H and no Bb."""
    if habits.german or habits.sung_names:
        return False
    chords = [
        chord for line in lines if line.chords is not None for chord in _chords(m.text for m in line.chords.marks)
    ]
    of_b = [c for c in chords if c.root.pitch_class == _B]
    others = [c for c in chords if c.root.pitch_class != _B]
    if (
        not of_b
        or any((_B + 3) % 12 in c.pitch_classes for c in of_b)
        or any(c.root.pitch_class == _B_FLAT for c in others)
    ):
        return False
    if len({str(c) for c in others}) < FEWEST_OTHERS:
        return False
    guess = key_of_chords([(chord, Fraction(1)) for chord in others])
    if guess is None:
        return False
    key = in_mode(stated, guess) if stated is not None else guess
    return key.signature < 0


def with_doubts(items: Body, habits: Habits) -> Body:
    """Mark the rows whose B was read as B flat by the key alone, or as B though small letters look German."""
    if not habits.flat_b_guessed and (habits.german or not habits.small_minor):
        return items
    wanted = _B_FLAT if habits.flat_b_guessed else _B
    said = (
        "B is read as B flat, as the key has it"
        if habits.flat_b_guessed
        else "B is read as the note below C; in German it is B flat"
    )

    def doubted(row: DraftRow) -> DraftRow:
        chords = _chords(mark for bar in row.bars for mark in bar.marks)
        if not any(wanted in (c.root.pitch_class, c.bass_name.pitch_class) for c in chords):
            return row
        return replace(row, notes=(*row.notes, Remark("check", row.line, said)))

    return [
        replace(item, rows=tuple(map(doubted, item.rows))) if isinstance(item, DraftSection) else item for item in items
    ]


def _chords(marks: Iterator[str]) -> Iterator[Chord]:
    words = map(read_mark, marks)
    return (word.chord for word in words if isinstance(word, ChordWord))
