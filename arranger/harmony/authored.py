"""Octave lines written by hand (`octave` rows). Takes a section; gives them as the suggested ones are given."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from arranger.harmony.model import Arrangement, ChordId, ChordPart, FillNote, OctaveLine


def written_lines(
    arrangement: Arrangement, index: int, following: Mapping[ChordId, ChordId], *, doubled: bool
) -> tuple[OctaveLine, ...]:
    """Return one line for each chord that notes of an `octave` row are played over; `doubled` where the hand can."""
    section = arrangement.song.sections[index]
    chords = arrangement.sections[index].chords
    lines: dict[int, list[FillNote]] = {}
    for row_index, row in enumerate(section.rows):
        for bar_index, notes in enumerate(row.octave.bars if row.octave else ()):
            number = row.bars[bar_index].number
            for note in notes:
                if note.pitch is None:
                    continue
                over = _sounding(chords, row_index, bar_index, note.start)
                if over is not None:
                    fill = FillNote(note.pitch, row_index, bar_index, number, note.start, note.length)
                    lines.setdefault(over, []).append(fill)
    made = []
    for over, fills in sorted(lines.items()):
        here = (index, over)
        made.append(OctaveLine(following.get(here, here), here, "written", tuple(fills), doubled, written=True))
    return tuple(made)


def _sounding(chords: tuple[ChordPart, ...], row: int, bar_index: int, start: Fraction) -> int | None:
    """Return the index of the chord that sounds at a place, or None before the first."""
    found = None
    for place, one in enumerate(chords):
        if (one.row, one.bar_index, one.start) <= (row, bar_index, start):
            found = place
    return found
