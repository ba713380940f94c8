"""Settle the keys of sections that a sheet says to play higher or lower: `Last chorus - up a tone`.

Sheets that say so may have the section's chords in the old key, in the new one, or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from arranger.convert.compare import Body, BodyItem
from arranger.convert.model import DraftBar, DraftSection, Remark
from arranger.convert.sheet_head import moved
from arranger.habits.headings import base_of
from arranger.habits.raised import only_raises
from arranger.song.cells import ChordWord, read_mark
from arranger.song.transpose import respelled
from arranger.theory.chord import Chord
from arranger.theory.key import Key

FEWEST = 4  # chords of a section that show it to be another in a higher key
MOST_STEPS = 4  # semitones by which songs go up in one step


def is_raised(items: Body) -> bool:
    """Return whether any section is to be played in another key that is told by how far it is away."""
    return any(isinstance(item, DraftSection) and item.raised for item in items)


def with_shifts_heard(items: Body) -> Body:
    """Mark sections whose chords are those of an earlier one of their kind, all of them as much higher.

    A last chorus is often typed out a tone higher, and nothing said of it.
    """
    found: list[BodyItem] = []
    for item in items:
        if isinstance(item, DraftSection) and item.key is None and not item.raised and len(item.rows) > 0:
            alike = (
                s for s in found if isinstance(s, DraftSection) and s.key is None and not s.raised and _alike(s, item)
            )
            steps = next((step for s in alike if (step := _shift(s, item))), 0)
            if steps:
                said = f"its chords are those of the one before, {steps} semitones higher: taken for a change of key"
                notes = (*item.notes, Remark("check", item.line, said))
                item = replace(item, raised=steps, raised_here=True, notes=notes)
        found.append(item)
    return found


def _alike(one: DraftSection, other: DraftSection) -> bool:
    return base_of(one.name) == base_of(other.name) and len(one.rows) == len(other.rows)


def _shift(one: DraftSection, other: DraftSection) -> int:
    """Return by how many semitones all chords of a section are higher than another's; 0 where they are not."""
    pairs = list(zip(_chords(one), _chords(other), strict=False))
    same = len(list(_chords(one))) == len(list(_chords(other))) >= FEWEST
    steps = {(b.root.pitch_class - a.root.pitch_class) % 12 for a, b in pairs}
    kinds = all(a.quality == b.quality for a, b in pairs)
    return steps.pop() if same and kinds and len(steps) == 1 and max(steps) <= MOST_STEPS else 0


def at_home(items: Body) -> Iterator[DraftSection]:
    """Yield the sections in the song's own key."""
    return (item for item in items if isinstance(item, DraftSection) and not item.raised and item.key is None)


def with_raised_keys(items: Body, home: Key) -> Body:
    """Return a body whose raised sections have their keys, and chords in them.

    Chords that fit the old key better are moved; those of a section that was typed before are taken from there.
    """
    found: list[BodyItem] = []
    for item in items:
        if not isinstance(item, DraftSection) or not item.raised:
            found.append(item)
            continue
        key = moved(home, item.raised)
        before = [s for s in found if isinstance(s, DraftSection)]
        found.append(_raised(item, home, key, before))
    return found


def _raised(section: DraftSection, home: Key, key: Key, before: Sequence[DraftSection]) -> DraftSection:
    """Return one section in its key."""
    if not section.rows:
        said = "" if section.raised_here else f"taken to stay in {key.words}, to which the song has gone before"
        return _in_key(section, key, said)
    chords = list(_chords(section))
    as_before = any(
        base_of(s.name) == base_of(section.name) and [r.chords for r in s.rows] == [r.chords for r in section.rows]
        for s in before
        if s.rows and s.key is None and not s.raised
    )
    if not as_before and _fit(chords, key) > _fit(chords, home):
        return _in_key(section, key, "")
    if not section.raised_here:
        said = f"the chords are read in {home.words}: is the song still in {key.words}?"
        return replace(section, raised=0, notes=(*section.notes, Remark("check", section.line, said)))
    rows = tuple(replace(row, bars=tuple(_moved_bar(bar, home, key) for bar in row.bars)) for row in section.rows)
    said = f"typed in {home.words}; moved to {key.words}, as its heading says"
    return _in_key(replace(section, rows=rows), key, said)


def _in_key(section: DraftSection, key: Key, said: str) -> DraftSection:
    notes = (*section.notes, Remark("check", section.line, said)) if said else section.notes
    told = section.raised_here and only_raises(section.remark)
    return replace(section, key=key, notes=notes, remark="" if told else section.remark)


def _chords(section: DraftSection) -> Iterator[Chord]:
    words = (read_mark(mark) for row in section.rows for bar in row.bars for mark in bar.marks)
    return (word.chord for word in words if isinstance(word, ChordWord))


def _fit(chords: Sequence[Chord], key: Key) -> int:
    """Return how many notes of some chords are in a key."""
    scale = {name.pitch_class for name in key.scale}
    return sum(pitch in scale for chord in chords for pitch in chord.pitch_classes)


def _moved_bar(bar: DraftBar, home: Key, key: Key) -> DraftBar:
    return replace(bar, marks=tuple(_moved_mark(mark, home, key) for mark in bar.marks))


def _moved_mark(mark: str, home: Key, key: Key) -> str:
    """Move a chord from one key to another."""
    word = read_mark(mark)
    if not isinstance(word, ChordWord):
        return mark
    step = key.tonic.pitch_class - home.tonic.pitch_class
    root = key.spelled((word.chord.root.pitch_class + step) % 12)
    bass = key.spelled((word.chord.bass.pitch_class + step) % 12) if word.chord.bass is not None else None
    new = respelled(word.written, root, bass)
    return f"({new})" if word.optional else new
