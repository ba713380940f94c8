"""Play studies through, one after the other: what there is to hear before they are practised."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from arranger.sounding.model import KeyChange, Marker, MeterChange, Performance, SoundingNote, SoundingPart, TempoChange
from arranger.studies.model import StudyHand, StudyRow, TimedStudy
from arranger.theory.pitch import Pitch

VELOCITY = 80  # mf: nothing of a study is louder than the rest
PARTS: tuple[SoundingPart, ...] = ("right", "left", "octaves")  # in the order of a performance's notes


def played_through(title: str, studies: Sequence[TimedStudy]) -> Performance | None:
    """Return the studies as they sound at their songs' tempi, both hands, each row once; None where none has hands.

    Each row begins with a bar, and a bar of rest follows it. Each study has a marker with its number and name; `bar` of
    a note counts the rows, and `step` of a marker the studies, from 0.
    """
    notes: list[SoundingNote] = []
    tempi: list[TempoChange] = []
    meters: list[MeterChange] = []
    keys: list[KeyChange] = []
    markers: list[Marker] = []
    at, rows = Fraction(0), 0
    for number, one in enumerate(studies):
        study, shown = one.study, one.study.rows[: one.rows]
        if not shown:
            continue
        assert study.tempo.quarters_a_minute is not None
        tempi.append(TempoChange(at, study.tempo.quarters_a_minute))
        meters.append(MeterChange(at, study.meter))
        keys.append(KeyChange(at, study.key))
        markers.append(Marker(at, f"{number + 1} {''.join(map(str, study.heading))}", number))
        bar = study.meter.length
        for row in shown:
            notes += _notes(row, at, rows)
            length = sum((hand.length for hand in row.hands), Fraction(0))
            at += bar * -(-length // bar) + bar
            rows += 1
    if not notes:
        return None
    notes.sort(key=lambda note: (note.start, PARTS.index(note.part), note.pitch.midi))
    return Performance(title, tuple(notes), at, tuple(tempi), tuple(meters), tuple(keys), tuple(markers))


def _notes(row: StudyRow, at: Fraction, number: int) -> Iterator[SoundingNote]:
    """Yield the notes of a row from a place on: both hands, struck together."""
    for hand in row.hands:
        for part, pitches in _hands(hand):
            for pitch in pitches:
                yield SoundingNote(part, pitch, at, hand.length, VELOCITY, None, number, hand.span)
        at += hand.length


def _hands(hand: StudyHand) -> Iterator[tuple[SoundingPart, tuple[Pitch, ...]]]:
    yield ("right" if hand.chord is not None else "octaves"), hand.right
    yield "left", hand.left
