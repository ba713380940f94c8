"""Warn of chords that are spelled against the key of their section."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from arranger.song.model import Row, WrittenChord
from arranger.song.transpose import respelled
from arranger.text.problems import Problems
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

_PASSING = ("dim", "dim7")  # named by where they lead (C#dim to Dm), whatever the key


def check_spelling(rows: Iterable[Row], key: Key, problems: Problems) -> None:
    """Warn of roots and basses that sound as a note of the scale but have its other name.

    Only a sharp in a key of flats, a flat in a key of sharps, or either in a key without signs: chords borrowed from
    other keys (Bb, F or Eb in D) are no scale notes, and a plain F in F sharp major is what players write.
    """
    told: set[NoteName] = set()
    scale = {name.pitch_class: name for name in key.scale}
    for written in _chords(rows):
        for name in _names(written.chord, key.signature):
            better = scale.get(name.pitch_class)
            if better is None or better == name or name in told:
                continue
            told.add(name)
            message = f"expected `{better}` in {key.words}, found `{name}`"
            other = f"write `{_better(written, name, better)}`, which sounds the same"
            hint = "if the music is in another key here, say so with `key` under the section's name"
            problems.warning("against-the-key", message, written.span, other, hint)


def _chords(rows: Iterable[Row]) -> Iterator[WrittenChord]:
    return (mark.chord for row in rows for bar in row.bars for mark in bar.marks if mark.chord is not None)


def _names(chord: Chord, signature: int) -> Iterator[NoteName]:
    """Return the names to be looked at: the root, and a bass that is not spelled as the chord's own note."""
    if _has_other_sign(chord.root, signature) and chord.quality.name not in _PASSING:
        yield chord.root
    if chord.bass is not None and _has_other_sign(chord.bass, signature) and chord.bass not in chord.names:
        yield chord.bass


def _has_other_sign(name: NoteName, signature: int) -> bool:
    """Return whether a name has a sharp where the key has flats (or none), or the reverse."""
    return name.alter != 0 and name.alter * signature <= 0


def _better(written: WrittenChord, name: NoteName, better: NoteName) -> str:
    chord = written.chord
    root = better if chord.root == name else chord.root
    bass = better if chord.bass == name else chord.bass
    if chord.bass is not None and chord.root == name and chord.bass in chord.names:
        member = chord.interval_of(chord.bass)
        bass = member.above(root) if member else bass
    return respelled(written.written, root, bass)
