"""Make studies of the octave lines of some songs, with the chord before and after, and of their changes of sound."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from arranger.harmony.model import Arrangement, OctaveLine
from arranger.studies.model import SoundRow, Study, StudyHand, StudyRow, Words
from arranger.studies.study_hands import (
    ArrangedSong,
    gone_to,
    left_behind,
    place_in_bar,
    tempo_of,
    times_words,
)
from arranger.theory.pitch import Pitch

OCTAVES_WEIGHT = Fraction(1)
SOUNDS_WEIGHT = Fraction(1)


def octave_study(songs: Sequence[ArrangedSong]) -> Study | None:
    """Return the study of all octave lines, the most often heard first; None where there are none.

    Lines with the same notes between the same hands are one.
    """
    found: dict[object, tuple[StudyRow, str, int, int, int]] = {}
    for song_index, song in enumerate(songs):
        for section, part in enumerate(song.arrangement.sections):
            visits = sum(visit.section == section for visit in song.arrangement.visits)
            for line in part.octaves:
                row = _row(song.arrangement, line)
                place = song.place(line.before, alone=len(songs) == 1)
                times = 1 if line.last_time else visits
                alike = tuple((hand.right, hand.left) for hand in row.hands)
                first, where, at, of, before = found.get(alike, (row, place, section, song_index, 0))
                found[alike] = first, where, at, of, before + times
    if not found:
        return None
    lines = sorted(found.values(), key=lambda one: -one[4])
    facts = songs[lines[0][3]].facts(lines[0][2])
    return Study(
        kind="octaves",
        heading=("Octave lines",),
        rows=tuple(
            StudyRow((f"{where}; heard {times_words(times)}" if times else where,), row.hands)
            for row, where, _, _, times in lines
        ),
        key=facts.key,
        meter=facts.meter,
        tempo=tempo_of(facts),
        weight=OCTAVES_WEIGHT,
        remark="Each hand alone first, then both, from the chord before to the chord after.",
    )


def _row(arrangement: Arrangement, line: OctaveLine) -> StudyRow:
    section = arrangement.song.sections[line.before[0]]
    before, after = arrangement.chord(line.before), arrangement.chord(line.to)
    notes = []
    for note in line.notes:
        beat = section.rows[note.row].bars[note.bar_index].meter.beat
        keys = (note.pitch, Pitch(note.pitch.name, note.pitch.octave + 1)) if line.doubled else (note.pitch,)
        notes.append(
            StudyHand(
                None, keys, (1, 5) if line.doubled else (), length=note.length, remark=place_in_bar(note.start, beat)
            )
        )
    hands = (left_behind(before), *notes, gone_to(after))
    return StudyRow((), tuple(hand for hand in hands if hand.right))  # a line written by hand may stand beside a rest


def sound_study(songs: Sequence[ArrangedSong], patches: Sequence[tuple[str, str]] = ()) -> Study | None:
    """Return the study of all changes of sound, the shortest time first; None where there are none.

    `patches` are the numbers of sounds on the player's instrument, by their names in small letters.
    """
    rows: list[SoundRow] = []
    first: ArrangedSong | None = None
    numbers = dict(patches)
    for song in songs:
        for section, part in zip(song.arrangement.song.sections, song.arrangement.sections, strict=True):
            change = part.sound_change
            if change is None:
                continue
            first = first or song
            chord = song.arrangement.chord(change.over).chord
            number = numbers.get(change.sound.lower())
            sound = f"{change.sound} ({number})" if number else change.sound
            where = f" in {song.place(change.over, alone=len(songs) == 1)}, for {section.name}"
            place: Words = ("after ", chord, where) if chord is not None else (where.lstrip(),)
            rows.append(SoundRow(place, sound, change.seconds, change.enough))
    if first is None:
        return None
    facts = first.facts(0)
    return Study(
        kind="sounds",
        heading=("Changes of sound",),
        rows=(),
        key=facts.key,
        meter=facts.meter,
        tempo=tempo_of(facts),
        weight=SOUNDS_WEIGHT,
        sounds=tuple(sorted(rows, key=lambda row: row.seconds)),
    )
