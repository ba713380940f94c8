"""Read MIDI files back with two readers, mido and pretty_midi, and compare them with the performance note for note.

`python -m tests.exchange.read_back [SONGS]` does so with all samples and so many songs made by chance (500); some of
them are in the tests.
"""

from __future__ import annotations

import io
import sys

import mido
import pretty_midi

from arranger.exchange.midi import CHANNELS, TICKS, to_midi
from arranger.sounding.model import Performance
from arranger.sounding.perform import perform
from arranger.sounding.tempo_map import TempoClock
from tests.sounding.songs import all_songs

CLOSE = 0.004  # seconds: half a tick at the slowest tempo that songs here have, and tempi in whole microseconds


def read(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(data), charset="utf-8")


def expected(performance: Performance) -> list[tuple[int, int, int, int, int]]:
    """Return channel, key, first tick, last tick and velocity of each note."""
    return sorted(
        (
            CHANNELS[n.part][0],
            n.pitch.midi + performance.transpose,
            round(n.start * TICKS),
            round(n.end * TICKS),
            n.velocity,
        )
        for n in performance.notes
    )


def by_mido(data: bytes) -> list[tuple[int, int, int, int, int]]:
    """Return the same of a file; a key that is struck while it is down, or let go while it is up, is a fault."""
    found = []
    for track in read(data).tracks:
        down: dict[tuple[int, int], tuple[int, int]] = {}
        tick = 0
        for message in track:
            tick += message.time
            if message.type in ("note_on", "note_off"):
                key = message.channel, message.note
                if message.type == "note_on":
                    assert key not in down, f"{message} at {tick}: it is down"
                    down[key] = tick, message.velocity
                else:
                    start, velocity = down.pop(key)
                    found.append((*key, start, tick, velocity))
        assert not down
    return sorted(found)


def by_pretty_midi(data: bytes, performance: Performance) -> list[str]:
    """Return what pretty_midi hears otherwise: keys, velocities, and times in seconds."""
    clock = TempoClock(performance.tempi)
    heard = pretty_midi.PrettyMIDI(io.BytesIO(data))
    read = sorted((n.pitch, n.velocity, n.start, n.end) for i in heard.instruments if not i.is_drum for n in i.notes)
    wanted = sorted(
        (
            n.pitch.midi + performance.transpose,
            n.velocity,
            float(clock.seconds(n.start)),
            float(clock.seconds(n.end)),
        )
        for n in performance.notes
    )
    if len(read) != len(wanted):
        return [f"{len(read)} notes for {len(wanted)}"]
    return [
        f"{one} for {two}"
        for one, two in zip(read, wanted, strict=True)
        if one[:2] != two[:2] or abs(one[2] - two[2]) > CLOSE + two[2] * 1e-5 or abs(one[3] - two[3]) > 2 * CLOSE
    ]


def main(words: list[str]) -> int:
    """Print which songs are read back otherwise than they are performed; return 1 where one is."""
    songs = notes = wrong = 0
    for name, arrangement in all_songs(int(words[0]) if words else 500):
        performance = perform(arrangement)
        data = to_midi(performance)
        faults = [] if by_mido(data) == expected(performance) else ["mido reads other notes"]
        faults += by_pretty_midi(data, performance)
        songs, notes, wrong = songs + 1, notes + len(performance.notes), wrong + bool(faults)
        if faults:
            print(name, *faults[:3], sep="\n  ")
    print(f"{songs} songs, {notes} notes: {wrong} songs are read back otherwise")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
