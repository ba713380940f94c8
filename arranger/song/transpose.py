"""Another key for a song. Takes a Song and a Key; gives the Song that sounds in that key."""

from __future__ import annotations

from dataclasses import replace

from arranger.song.model import Bar, Mark, Note, NoteLine, Pin, Row, Section, Song, WrittenChord
from arranger.theory.key import Key, Transposition
from arranger.theory.pitch import Pitch


def transposed(song: Song, key: Key) -> Song:
    """Move a whole song to another key of the same mode, by the nearest way; octaves of written notes move along.

    Section keys, chords, basses, pins and rows of notes move; the capo is dropped, since shapes no longer fit it.
    """
    move = Transposition(song.key, key)
    sections = tuple(_section(section, move) for section in song.sections)
    return replace(song, key=key, sections=sections, capo=None, written_key=song.written_key or song.key)


def _section(section: Section, move: Transposition) -> Section:
    key = move.key(section.facts.key)
    # A section's own key may have to turn into its enharmonic twin (D# into Eb); its chords then turn with it.
    here = Transposition(section.facts.key, key)
    return replace(
        section,
        facts=replace(section.facts, key=key),
        rows=tuple(moved_row(row, here) for row in section.rows),
    )


def moved_row(row: Row, move: Transposition) -> Row:
    """Move a row of chords with its rows of notes."""
    return replace(
        row,
        bars=tuple(_bar(bar, move) for bar in row.bars),
        octave=_line(row.octave, move),
        hook=_line(row.hook, move),
        tune=_line(row.tune, move),
    )


def _bar(bar: Bar, move: Transposition) -> Bar:
    return replace(bar, marks=tuple(_mark(mark, move) for mark in bar.marks))


def _mark(mark: Mark, move: Transposition) -> Mark:
    return mark if mark.chord is None else replace(mark, chord=_chord(mark.chord, move))


def _chord(written: WrittenChord, move: Transposition) -> WrittenChord:
    pins = tuple(_pin(pin, move) for pin in written.pins)
    return replace(written, chord=written.chord.moved(move), pins=pins)


def _pin(pin: Pin, move: Transposition) -> Pin:
    if pin.octave is None:
        return Pin(move.name(pin.name))
    pitch = moved_pitch(Pitch(pin.name, pin.octave), move)
    return Pin(pitch.name, pitch.octave)


def moved_pitch(pitch: Pitch, move: Transposition) -> Pitch:
    """Move a pitch by the nearest way."""
    return Pitch.at(pitch.midi + move.semitones, move.name(pitch.name))


def _line(line: NoteLine | None, move: Transposition) -> NoteLine | None:
    if line is None:
        return None
    return replace(line, bars=tuple(tuple(_note(note, move) for note in bar) for bar in line.bars))


def _note(note: Note, move: Transposition) -> Note:
    return note if note.pitch is None else replace(note, pitch=moved_pitch(note.pitch, move))
