"""Perform a part: its notes as they sound, with pedal, tempo, sounds and words.

Takes an Arrangement, gives a Performance. Swing is two to one; a roll is one note after another; notes have loudness,
none is too short to be heard, and none is struck before its key is up. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from arranger.harmony.model import Arrangement, ChordId
from arranger.harmony.strokes import written_bar
from arranger.song.model import Meter
from arranger.sounding.loudness import with_velocities
from arranger.sounding.model import KeyChange, Marker, Performance, SoundingNote, SungSyllable
from arranger.sounding.part_sounds import is_doubled, part_sounds, sound_changes_heard
from arranger.sounding.passes import Pass, passes
from arranger.sounding.pedalling import pedal
from arranger.sounding.strikes import WrittenClock, ended, written_notes
from arranger.sounding.sung_words import sung_words
from arranger.sounding.tempo_map import GRID, TempoClock, is_free, meters, tempi

SHORTEST = Fraction(3, 100)  # seconds: a note is heard as one
ROLL = Fraction(1, 25)  # seconds from key to key of a roll
FULL_SPEED = Fraction(1)


def perform(arrangement: Arrangement, *, share: Fraction = FULL_SPEED, count_in: bool = False) -> Performance:
    """Return a song as it sounds.

    Args:
        arrangement: the song with its hands.
        share: of the tempo that is written: 4/5 is slower.
        count_in: a bar is counted before it.
    """
    song_passes = passes(arrangement)
    clock = WrittenClock(arrangement)
    tempo_map = tempi(arrangement, song_passes, share)
    speeds = TempoClock(tempo_map)
    begins = {clock.written(heard.at): heard.chord for heard in arrangement.heard}
    loud = list(with_velocities(written_notes(arrangement), arrangement, song_passes, begins))
    sounds = part_sounds(arrangement, song_passes)
    layered = [*loud, *(replace(n, part="pad") for n in loud if n.part != "pad" and is_doubled(sounds, n.start))]
    swing = _Swing(arrangement)
    swung = [swing.note(note) for note in layered]
    rolled = _rolled(swung, arrangement, {swing.at(at): chord for at, chord in begins.items()}, speeds)
    last = arrangement.bars[-1] if arrangement.bars else None
    return Performance(
        title=arrangement.song.title.value,
        notes=tuple(_heard(rolled, speeds)),
        length=last.at + last.length if last else Fraction(0),
        tempi=tempo_map,
        meters=meters(arrangement),
        keys=_keys(arrangement, song_passes),
        markers=tuple(Marker(p.start, arrangement.song.sections[p.section].name, p.step) for p in song_passes),
        pedal=pedal(arrangement, loud, clock, swing.at, speeds, sounds),
        sounds=tuple(sound_changes_heard(sounds)),
        words=tuple(SungSyllable(swing.at(word.at), word.text) for word in sung_words(arrangement)),
        free=any(is_free(one.facts) for one in song_passes),
        transpose=arrangement.transpose,
        count_in=_counted(arrangement) if count_in else (),
    )


class _Swing:
    """Moves places in writing to where they sound in swing: eighths two to one, sixteenths with them."""

    def __init__(self, arrangement: Arrangement) -> None:
        self._bars = [bar.at for bar in arrangement.bars]
        self._swung = [
            arrangement.song.sections[bar.section].facts.feel == "swing"
            and written_bar(arrangement, bar).meter.unit < 8
            for bar in arrangement.bars
        ]
        self._any = any(self._swung)

    def at(self, moment: Fraction) -> Fraction:
        """Return when a place in writing sounds; triplets are as they are written."""
        if not self._any:
            return moment
        index = max(bisect_right(self._bars, moment) - 1, 0)
        into = (moment - self._bars[index]) % 1
        if not self._swung[index] or into.denominator % 2 or into.denominator % 3 == 0:
            return moment
        half = Fraction(1, 2)
        sounds = into * Fraction(4, 3) if into <= half else Fraction(2, 3) + (into - half) * Fraction(2, 3)
        return moment - into + sounds

    def note(self, note: SoundingNote) -> SoundingNote:
        """Return a note from when it sounds until when it ends."""
        if not self._any:
            return note
        start = self.at(note.start)
        return replace(note, start=start, length=self.at(note.end) - start)


# --- notes -----------------------------------------------------------------------------------------------------------


def _rolled(
    notes: Sequence[SoundingNote], arrangement: Arrangement, begins: Mapping[Fraction, ChordId], speeds: TempoClock
) -> list[SoundingNote]:
    """Return notes with the chords that are rolled played from the lowest key up, within half of their time."""
    strokes: dict[Fraction, list[SoundingNote]] = defaultdict(list)
    kept: list[SoundingNote] = []
    for note in notes:
        written = arrangement.chord(note.chord).written if note.chord else None
        first = written is not None and "roll" in written.manner and begins.get(note.start) == note.chord
        (strokes[note.start] if first else kept).append(note)
    for start, stroke in strokes.items():
        keys = sorted({note.pitch.midi for note in stroke})
        shortest = min(note.length for note in stroke)
        apart = min(ROLL * speeds.speed(start) / 60, shortest / 2 / len(keys))
        for note in stroke:
            late = Fraction(round(keys.index(note.pitch.midi) * apart * GRID), GRID)
            kept.append(replace(note, start=start + late, length=note.length - late))
    return kept


def _heard(notes: Iterable[SoundingNote], speeds: TempoClock) -> Iterator[SoundingNote]:
    """Yield notes in order, those too short made long enough; where their key is wanted again at once they are left."""
    safe = SHORTEST * speeds.fastest / 60  # quarters that are long enough at any tempo of the song
    long = ended(n if n.length >= safe else _lasting(n, speeds) for n in notes if n.length >= 0)
    for note in long:
        if note.length >= safe or speeds.seconds(note.end) - speeds.seconds(note.start) >= SHORTEST:
            yield note


def _lasting(note: SoundingNote, speeds: TempoClock) -> SoundingNote:
    speed = max(speeds.speed(note.start), speeds.speed(note.end))
    least = Fraction(ceil(SHORTEST * speed / 60 * GRID), GRID)
    return note if note.length >= least else replace(note, length=least)


# --- maps ------------------------------------------------------------------------------------------------------------


def _keys(arrangement: Arrangement, song_passes: Sequence[Pass]) -> tuple[KeyChange, ...]:
    found: list[KeyChange] = []
    for one in song_passes:
        if not found or found[-1].key != one.facts.key:
            found.append(KeyChange(one.start, one.facts.key))
    return tuple(found) or (KeyChange(Fraction(0), arrangement.key),)


def _counted(arrangement: Arrangement) -> tuple[Fraction, ...]:
    """Return the beats of a bar that is counted before the song, and of what its first bar is short of."""
    if not arrangement.bars:
        return ()
    first = arrangement.bars[0]
    meter: Meter = written_bar(arrangement, first).meter
    counted = meter.length + max(meter.length - first.length, Fraction(0))
    beats = ceil(counted / meter.felt_beat)
    return tuple(-counted + number * meter.felt_beat for number in range(beats))
