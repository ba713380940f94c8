"""Write a Performance as a Standard MIDI File 1.0, type 1. The only home of mido.

Track 0 has title, tempo, meter, key, names of sections and words; then each part that plays has a track, a channel and
a program of General MIDI 1 by the words of its sound.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from mido import Message, MetaMessage, MidiFile, MidiTrack

from arranger.digests import sealed
from arranger.sounding.model import Performance, SoundingPart
from arranger.theory.key import Key

TICKS = 480  # a quarter
LONGEST = 4 * 60 * 60  # seconds of a song: longer ones are a slip of the roadmap
CHANNELS: dict[SoundingPart, tuple[int, str]] = {
    "right": (0, "right hand"),
    "left": (1, "left hand"),
    "octaves": (2, "octaves"),
    "pad": (3, "pad"),
}
SUSTAIN = 64  # the controller; MIDI 1.0 Detailed Specification, table of controllers
PEDAL_DOWN = 127
PIANO = 1
# Programs of General MIDI 1 (MIDI Association, GM Level 1 Sound Set), counted from 1, by words of a sound: the first
# that is in it.
PROGRAMS = (
    (r"electric piano|e[ -]?piano|\bep\b", 5),
    (r"harpsichord", 7),
    (r"clavinet|\bclav\b", 8),
    (r"celesta", 9),
    (r"vibraphone|\bvibes\b", 12),
    (r"piano", PIANO),
    (r"(?:church|pipe) organ", 20),
    (r"harmonium|reed organ", 21),
    (r"organ", 17),
    (r"accordion", 22),
    (r"bass", 33),
    (r"strings?", 49),
    (r"choir|voices", 53),
    (r"brass", 62),
    (r"pad", 90),
    (r"bells?", 15),
    (r"harp", 47),
)
PERCUSSION, CLICK, CLICK_LOUDNESS = 9, 76, 90  # channel 10 and the high wood block of General MIDI 1's key map
# Of what stands at one tick: what ends first, then how the part sounds, then what begins.
OFF, CHANGE, PEDAL_UP, PEDAL_ON, ON = range(5)
Event = tuple[int, int, int, Message | MetaMessage]  # tick, order at the tick, key or place, message


class TooLongError(ValueError):
    """A song would sound for longer than any song does."""


def to_midi(performance: Performance) -> bytes:
    """Return a performance as the bytes of a MIDI file, with a digest of itself (`digests`).

    Raises:
        TooLongError: it takes more than four hours.
    """
    seconds = performance.seconds(performance.length)
    if seconds > LONGEST:
        hours = f"{float(seconds / 3600):.1f}"
        raise TooLongError(f"expected a song of {LONGEST // 3600} hours at most, found one that sounds for {hours}")
    file = MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    early = -min(performance.count_in, default=Fraction(0))
    file.tracks.append(_conductor(performance, early))
    if performance.count_in:
        file.tracks.append(_track("count-in", _clicks(performance, early)))
    for part, (channel, name) in CHANNELS.items():
        if any(note.part == part for note in performance.notes):
            file.tracks.append(_track(name, _part(performance, part, channel, early)))
    made = io.BytesIO()
    file.save(file=made)
    return sealed(made.getvalue())


def program_of(sound: str) -> int:
    """Return the program for a sound in words, counted from 1; a piano where no word is known.

    >>> program_of("warm pad"), program_of("Hammered organ"), program_of("church organ"), program_of("")
    (90, 17, 20, 1)
    """
    found = (number for words, number in PROGRAMS if re.search(words, sound.lower()))
    return next(found, PIANO)


def _tick(at: Fraction) -> int:
    return round(at * TICKS)


def _track(name: str, events: Iterable[Event]) -> MidiTrack:
    track = MidiTrack([MetaMessage("track_name", name=name, time=0)])
    return _timed(track, events)


def _timed(track: MidiTrack, events: Iterable[Event]) -> MidiTrack:
    """Add events in order of time, each with the ticks since the one before it."""
    last = 0
    for tick, _, _, message in sorted(events, key=lambda event: event[:3]):
        message.time = tick - last
        track.append(message)
        last = tick
    track.append(MetaMessage("end_of_track", time=0))
    return track


# --- track 0 ---------------------------------------------------------------------------------------------------------


def _conductor(performance: Performance, early: Fraction) -> MidiTrack:
    track = MidiTrack(
        [
            MetaMessage("text", text=f"digest {'0' * 64}", time=0),  # before all that a song can say
            MetaMessage("track_name", name=_one_line(performance.title), time=0),
        ]
    )
    return _timed(track, _maps(performance, early))


def _maps(performance: Performance, early: Fraction) -> Iterator[Event]:
    for tempo in performance.tempi:
        message = MetaMessage("set_tempo", tempo=round(60_000_000 / tempo.quarters_a_minute))
        yield _from_start(tempo.at, early), 0, 0, message
    meters = list(performance.meters)
    if early and len(meters) > 1 and meters[0].meter.length < early and meters[1].at == meters[0].meter.length:
        meters = [meters[1], *meters[2:]]  # what the first bar is short of is counted: it is a whole one
        meters[0] = type(meters[0])(Fraction(0), meters[0].meter)
    for change in meters:
        meter = change.meter
        clicks = int(meter.felt_beat * 24)  # MIDI clocks, 24 a quarter, from click to click
        message = MetaMessage(
            "time_signature",
            numerator=meter.beats,
            denominator=meter.unit,
            clocks_per_click=clicks,
            notated_32nd_notes_per_beat=8,
        )
        yield _from_start(change.at, early), 1, 0, message
    for key in performance.keys:
        yield _from_start(key.at, early), 2, 0, MetaMessage("key_signature", key=_signature(key.key, performance))
    for marker in performance.markers:
        yield _tick(marker.at + early), 3, 0, MetaMessage("marker", text=_one_line(marker.text))
    for number, word in enumerate(performance.words):
        yield _tick(word.at + early), 4, number, MetaMessage("lyrics", text=_one_line(word.text))


def _from_start(at: Fraction, early: Fraction) -> int:
    """Return the tick of a change: those at the start hold from the count-in on."""
    return _tick(at + early) if at else 0


def _signature(key: Key, performance: Performance) -> str:
    """Return the key that sounds, by a name that has a signature of seven signs at most."""
    if performance.transpose:
        sounding = key.spelled((key.tonic.pitch_class + performance.transpose) % 12)
        key = Key(sounding, key.minor)
    if not key.exists:
        key = key.enharmonic() or key
    return str(key)


def _one_line(text: str) -> str:
    return " ".join(text.split())


# --- a track for each part -------------------------------------------------------------------------------------------


def _part(performance: Performance, part: SoundingPart, channel: int, early: Fraction) -> Iterator[Event]:
    """Yield what one part plays: notes, sounds, and the pedal where it is a hand's."""
    first = next((s.sound for s in performance.sounds if s.part == part and s.at == 0), "")
    yield 0, CHANGE, 0, _program(channel, first)
    for sound in performance.sounds:
        if sound.part == part and sound.at:
            yield _tick(sound.at + early), CHANGE, 0, _program(channel, sound.sound)
    if part != "pad":
        for way in performance.pedal:
            message = Message("control_change", channel=channel, control=SUSTAIN, value=PEDAL_DOWN if way.down else 0)
            yield _tick(way.at + early), PEDAL_ON if way.down else PEDAL_UP, 0, message
    for note in performance.notes:
        if note.part != part:
            continue
        key = note.pitch.midi + performance.transpose
        on = Message("note_on", channel=channel, note=key, velocity=note.velocity)
        yield _tick(note.start + early), ON, key, on
        yield _tick(note.end + early), OFF, key, Message("note_off", channel=channel, note=key, velocity=0)


def _program(channel: int, sound: str) -> Message:
    return Message("program_change", channel=channel, program=program_of(sound) - 1)  # on the wire from 0


def _clicks(performance: Performance, early: Fraction) -> Iterator[Event]:
    ends: Sequence[Fraction] = [*performance.count_in[1:], Fraction(0)]
    for start, end in zip(performance.count_in, ends, strict=True):
        how = {"channel": PERCUSSION, "note": CLICK}
        yield _tick(start + early), ON, CLICK, Message("note_on", velocity=CLICK_LOUDNESS, **how)
        yield _tick((start + end) / 2 + early), OFF, CLICK, Message("note_off", velocity=0, **how)
