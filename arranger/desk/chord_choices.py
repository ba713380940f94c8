"""Find for a chord of the song why its hand is as it is, what other hands cost, and lines of octaves over it.

Each other hand and line comes with the change of the text that writes it into the song. A change is offered only where
the changed text reads as a song that has just that hand, or that line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from arranger.exchange.reasons import FILLS_SHOWN, octave_row, why
from arranger.exchange.table import notes_text
from arranger.harmony.arrange import WorkedOut
from arranger.harmony.model import ChordId, OctaveLine
from arranger.harmony.octaves import choices
from arranger.harmony.taste import Taste
from arranger.harmony.why import in_words, reasons
from arranger.song.model import Pin, Section, Song
from arranger.song.read import read
from arranger.text.diagnostics import Fix
from arranger.text.source import Source, Span
from arranger.theory.key import Transposition
from arranger.theory.pitch import Pitch

_PINNED = re.compile(r"=[A-G#b0-9]*")


class ChordOffer(NamedTuple):
    """Something else to play: what, in words what it costs or is, and the change that writes it into the text."""

    what: str
    says: str
    fix: Fix | None


class ChordTold(NamedTuple):
    """What there is to say about a chord: in lines, other hands, and lines of octaves over it."""

    chord: str
    lines: tuple[str, ...]
    hands: tuple[ChordOffer, ...]
    octaves: tuple[ChordOffer, ...]


def chord_at(worked: WorkedOut, offset: int) -> ChordId | None:
    """Return the chord at a place of the text, or the nearest in the bar around it; None where no chord is near."""
    found: tuple[int, ChordId] | None = None
    song = worked.arrangement.song
    for index, part in enumerate(worked.arrangement.sections):
        if part.of is not None or song.sections[index].model is not None:
            continue
        for number, chord in enumerate(part.chords):
            bar = song.sections[index].rows[chord.row].bars[chord.bar_index]
            inside = bar.span.start <= offset <= bar.span.end or chord.span.start <= offset <= chord.span.end
            if chord.chord is None or not inside:
                continue
            away = 0 if chord.span.start <= offset <= chord.span.end else abs(offset - chord.span.start)
            if found is None or away < found[0]:
                found = away, (index, number)
    return found[1] if found else None


def chord_told(worked: WorkedOut, where: ChordId, taste: Taste) -> ChordTold:
    """Return what there is to say about a chord, with what can be written into the song instead."""
    arrangement = worked.arrangement
    chord = arrangement.chord(where)
    section = arrangement.song.sections[where[0]]
    hands = [
        ChordOffer(
            notes_text(other.right), in_words(other.more), hand_fix(arrangement.song, where, chord.span, other.right)
        )
        for reason in reasons(worked, (where,))
        for other in reason.others
    ]
    if chord.right and not (chord.written and chord.written.pins):
        keep = hand_fix(arrangement.song, where, chord.span, chord.right)
        hands.insert(0, ChordOffer(notes_text(chord.right), "as it is", keep))
    lines = [
        ChordOffer(octave_row(section, line), line.figure, octave_fix(arrangement.song, where[0], line))
        for line in choices(arrangement, where, taste, FILLS_SHOWN)
    ]
    told = tuple(line.strip() for line in why(worked, (where,)) if not line.lstrip().startswith("not "))
    return ChordTold(str(chord.chord), told, tuple(hands), tuple(lines))


def hand_fix(song: Song, where: ChordId, span: Span, hand: Sequence[Pitch]) -> Fix | None:
    """Return the change that pins a hand to a chord; None where none is sure to."""
    text = song.source[span]
    bare = _PINNED.sub("", text, count=1)
    if not bare or song.written_key is not None:
        return None
    for pitches in _as_written(song, song.sections[where[0]], hand):
        pinned = "=" + "".join(map(str, pitches))
        inside = f"{bare[:-1]}{pinned})" if bare.endswith(")") else f"{bare}{pinned}"
        for one in (Fix(span, inside), Fix(span, f"{bare}{pinned}")):
            if _pins(_changed(song, one), where, span) == tuple(Pin(p.name, p.octave) for p in hand):
                return one
    return None


def octave_fix(song: Song, section: int, line: OctaveLine) -> Fix | None:
    """Return the change that writes a line of octaves under its row of chords; None where none is sure to."""
    if song.written_key is not None:
        return None
    row = song.sections[section].rows[line.notes[0].row]
    wanted = [(n.pitch, n.bar_index, n.start, n.length) for n in line.notes]
    pitches = [note.pitch for note in line.notes]
    for written in _as_written(song, song.sections[section], pitches):
        notes = tuple(note._replace(pitch=pitch) for note, pitch in zip(line.notes, written, strict=True))
        text = octave_row(song.sections[section], line._replace(notes=notes))
        if row.octave is not None:
            fixes = [Fix(_line_of(song.source, row.octave.span.start), text)]
        else:
            end = _line_of(song.source, row.bars[-1].span.start).end
            fixes = [Fix(Span(end, end), f"\n{text}")]
        for one in fixes:
            changed = _changed(song, one)
            if changed is None:
                continue
            found = changed.sections[section].rows[line.notes[0].row].octave
            got = [] if found is None else [
                (note.pitch, bar, note.start, note.length)
                for bar, notes_ in enumerate(found.bars) for note in notes_ if note.pitch is not None
            ]  # fmt: skip
            if got == wanted:
                return one
    return None


def _line_of(source: Source, offset: int) -> Span:
    return source.line_span(source.line_column(offset)[0])


def _as_written(song: Song, section: Section, pitches: Sequence[Pitch]) -> Iterator[tuple[Pitch, ...]]:
    """Yield how sounding notes may be written: as they sound, and as shapes under a capo."""
    yield tuple(pitches)
    if song.capo is not None:
        shapes = Transposition(song.key, song.capo.shapes).key(section.facts.key)
        names = Transposition(section.facts.key, shapes)
        yield tuple(Pitch.at(p.midi - song.capo.fret, names.name(p.name)) for p in pitches)


def _changed(song: Song, fix: Fix) -> Song | None:
    text = song.source.text
    return read(Source(song.source.name, text[: fix.span.start] + fix.text + text[fix.span.end :]))[0]


def _pins(song: Song | None, where: ChordId, span: Span) -> tuple[Pin, ...] | None:
    """Return the notes that are pinned to the chord that begins at a place."""
    if song is None:
        return None
    for bar in song.sections[where[0]].bars:
        for mark in bar.marks:
            if mark.chord is not None and mark.chord.span.start == span.start:
                return mark.chord.pins
    return None
