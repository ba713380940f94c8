"""Move a Song, or its rows, to another key: every chord, bass, pin and note. Spans are kept."""

from __future__ import annotations

import re
from dataclasses import replace

from arranger.song.drones import moved_drone
from arranger.song.model import Bar, Mark, Note, NoteLine, Pin, Row, Section, Song, WrittenChord
from arranger.theory.key import Key, Transposition
from arranger.theory.pitch import NoteName, Pitch

_ROOT = r"[A-G](?:##?|bb?)?"


def transposed(song: Song, key: Key) -> Song:
    """Move a whole song to a key of the same mode, the nearest way (up at a tritone).

    Section keys move along. A capo is dropped: the new key is no guitarist's shape. `written_key` becomes the key of
    the text.

    Raises:
        ValueError: the key is of the other mode.
    """
    if key.minor != song.key.minor:
        raise ValueError(f"a song in {song.key.words} cannot move to {key.words}")
    whole = Transposition(song.key, key)
    return replace(
        song,
        key=key,
        sections=tuple(_moved_section(section, whole) for section in song.sections),
        capo=None,
        written_key=song.written_key or song.key,
    )


def _moved_section(section: Section, whole: Transposition) -> Section:
    old = section.facts.key
    new = whole.key(old)
    # The section's own keys give its spelling: a key of too many sharps becomes its twin, and its chords with it.
    by = Transposition(old, new)
    facts = section.facts._replace(key=new, drone=moved_drone(section.facts.drone, by))
    return replace(section, facts=facts, rows=moved_rows(section.rows, by, whole.semitones))


def moved_rows(rows: tuple[Row, ...], by: Transposition, semitones: int) -> tuple[Row, ...]:
    """Move rows: names by a transposition, notes with octaves by so many semitones."""
    if by.fifths == 0 and semitones == 0:
        return rows
    return tuple(
        replace(
            row,
            bars=tuple(_moved_bar(bar, by, semitones) for bar in row.bars),
            octave=_moved_notes(row.octave, by, semitones),
            hook=_moved_notes(row.hook, by, semitones),
            tune=_moved_notes(row.tune, by, semitones),
        )
        for row in rows
    )


def _moved_bar(bar: Bar, by: Transposition, semitones: int) -> Bar:
    marks = tuple(_moved_mark(mark, by, semitones) for mark in bar.marks)
    return replace(bar, marks=marks)


def _moved_mark(mark: Mark, by: Transposition, semitones: int) -> Mark:
    if mark.chord is None:
        return mark
    return replace(mark, chord=_moved_chord(mark.chord, by, semitones))


def _moved_chord(written: WrittenChord, by: Transposition, semitones: int) -> WrittenChord:
    chord = written.chord.moved(by)
    return replace(
        written,
        chord=chord,
        written=respelled(written.written, chord.root, chord.bass),
        pins=tuple(_moved_pin(pin, by, semitones) for pin in written.pins),
    )


def respelled(written: str, root: NoteName, bass: NoteName | None) -> str:
    """Put another root and bass into a chord as it was written; what stands between them stays to the letter.

    >>> respelled("F#mi7/C#", NoteName("G"), NoteName("D"))
    'Gmi7/D'
    """
    head = written if bass is None else written[: written.rindex("/")]
    middle = head[len(re.match(_ROOT, head)[0]) :]  # type: ignore[index]  # every written chord begins with its root
    return f"{root}{middle}{f'/{bass}' if bass else ''}"


def _moved_pin(pin: Pin, by: Transposition, semitones: int) -> Pin:
    name = by.name(pin.name)
    if pin.octave is None:
        return Pin(name)
    return Pin(name, Pitch.at(Pitch(pin.name, pin.octave).midi + semitones, name).octave)


def _moved_notes(line: NoteLine | None, by: Transposition, semitones: int) -> NoteLine | None:
    if line is None:
        return None
    bars = tuple(tuple(_moved_note(note, by, semitones) for note in bar) for bar in line.bars)
    return replace(line, bars=bars)


def _moved_note(note: Note, by: Transposition, semitones: int) -> Note:
    if note.pitch is None:
        return note
    return replace(note, pitch=Pitch.at(note.pitch.midi + semitones, by.name(note.pitch.name)))
