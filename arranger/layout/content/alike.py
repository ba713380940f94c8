"""Compare sections, and rows of one section, by what is played: **the** rule of what is drawn once on a part.

Chords with their times, both hands, suspensions, hooks, and the texture must be the same; fills too where they are over
the same bar. Words, names, cues, sounds, dynamics, tempi, and fills over bars where the others have none may differ:
they are said by number. Another key or texture is another drawing.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from arranger.harmony.model import Arrangement, ChordPart, OctaveLine, SectionPart
from arranger.song.model import Bar, Row, Section


def played(section: Section, part: SectionPart) -> object:
    """Return what must be equal in sections that are drawn once; None for one that is never drawn with another."""
    if section.tacet or not section.rows or part.of is not None:
        return None
    rows = tuple((row_played(section, part, number), _signs(row)) for number, row in enumerate(section.rows))
    return section.facts.key, section.bars[0].number, _texture(part), rows


def _texture(part: SectionPart) -> object:
    """Return how full a section is played, each time that it comes; the manner may differ, which is said by number."""
    return part.texture or part.play, part.visits, part.pad, part.lead_in


def row_played(section: Section, part: SectionPart, number: int) -> object:
    """Return what must be equal in rows of one section for the hands of the first to be those of the others."""
    row = section.rows[number]
    chords = tuple(_hands(chord) for chord in part.chords if chord.row == number)
    return tuple((bar.length, bar.repeats_last, len(bar.marks)) for bar in row.bars), chords, row.hook


def _hands(chord: ChordPart) -> object:
    """Return a chord as it is played, wherever in its section it stands."""
    settled = chord.suspension
    if settled is not None:  # why it is suggested, and whether it is prepared, is not printed
        later = settled.bar - chord.bar if settled.bar is not None else None
        settled = settled._replace(bar=later, prepared=False, reason="")
    place = chord.kind, chord.bar_index, chord.mark, chord.start, chord.length
    return place, chord.chord, chord.written, chord.right, chord.plain, chord.left, settled


def _signs(row: Row) -> object:
    """Return what is drawn with a row's bars beside chords: meters, repeats, endings."""
    return tuple(map(_bare, row.bars))


def _bare(bar: Bar) -> Bar:
    return replace(bar, marks=())


class SharedFill(NamedTuple):
    """A fill of sections that are drawn once: as one over the chords of the first, and the sections that have it."""

    line: OctaveLine
    sections: tuple[int, ...]


def shared_fills(arrangement: Arrangement, group: Sequence[int]) -> tuple[SharedFill, ...] | None:
    """Return the fills of sections that are played alike; None where two of them are over one bar."""
    found: dict[OctaveLine, list[int]] = {}
    for index in group:
        for line in arrangement.sections[index].octaves:
            to = (group[0], line.to[1]) if line.to[0] == index else line.to
            found.setdefault(line._replace(to=to, before=(group[0], line.before[1])), []).append(index)
    over: dict[tuple[int, int], list[int]] = {}  # by bar, the sections that have fills there
    for line, having in found.items():
        for place in dict.fromkeys((note.row, note.bar_index) for note in line.notes):
            if over.setdefault(place, having) != having:
                return None
    first = sorted(
        found.items(), key=lambda one: (one[0].notes[0].row, one[0].notes[0].bar_index, one[0].notes[0].start)
    )
    return tuple(SharedFill(line, tuple(having)) for line, having in first)
