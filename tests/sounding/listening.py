"""Listen to performances by numbers: that no note hangs, is too short, or is struck on a key that is down.

`python -m tests.sounding.listening [SONGS]` performs all samples and so many songs made by chance (2,000), prints what
is wrong with any of them, and how many notes it has heard. A tenth of it is in the tests.

That a note under 30 ms is heard as a click and not as a pitch is from memory.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.sounding.model import Performance, SoundingNote
from arranger.sounding.perform import perform
from arranger.sounding.tempo_map import TempoClock
from tests.sounding.songs import all_songs

SONGS = 2000
SHORTEST = Fraction(3, 100)  # seconds
AFTER = Fraction(1)  # quarters: a note that is lengthened to be heard may end so much behind the last bar


class Listened(NamedTuple):
    """One performance: what is wrong with it, and how many notes it has."""

    name: str
    faults: tuple[str, ...]
    notes: int


def faults(performance: Performance) -> Iterator[str]:
    """Yield what is wrong with how a performance sounds."""
    clock = TempoClock(performance.tempi)
    by_key: dict[tuple[str, int], list[SoundingNote]] = defaultdict(list)
    for note in performance.notes:
        seconds = note.length * 60 / clock.fastest
        if seconds < SHORTEST:  # at the fastest tempo of the song; what it is at its own has to be looked at
            seconds = clock.seconds(note.end) - clock.seconds(note.start)
        if note.start < 0 or note.end > performance.length + AFTER:
            yield f"{note} hangs: the song is over at {performance.length}"
        if seconds < SHORTEST:
            yield f"{note} is heard for {float(seconds):.3f} s"
        if not 1 <= note.velocity <= 127:
            yield f"{note} has a velocity that no keyboard has"
        hand = "right" if note.part == "octaves" else note.part  # lines in octaves are the right hand's
        by_key[hand, note.pitch.midi].append(note)
    for notes in by_key.values():
        for one, two in pairwise(sorted(notes, key=lambda note: note.start)):
            if one.end > two.start:
                yield f"{two} is struck while {one} is down"
    yield from _pedal_faults(performance)


def _pedal_faults(performance: Performance) -> Iterator[str]:
    for one, two in pairwise(performance.pedal):
        if one.at > two.at or one.down == two.down:
            yield f"the pedal goes from {one} to {two}"
    if performance.pedal and performance.pedal[-1].down:
        yield "the pedal is down at the end"
    for moments in (performance.tempi, performance.meters, performance.keys):
        if moments[0].at != 0 or any(one.at >= two.at for one, two in pairwise(moments)):
            yield f"the map is out of order: {moments}"


def listen(songs: Iterable[tuple[str, Arrangement]]) -> Iterator[Listened]:
    """Yield what is heard of each song."""
    for name, arrangement in songs:
        performance = perform(arrangement)
        yield Listened(name, tuple(faults(performance)), len(performance.notes))


def main(words: list[str]) -> int:
    """Print what is wrong with any song; return 1 where something is."""
    songs = notes = wrong = 0
    for heard in listen(all_songs(int(words[0]) if words else SONGS)):
        songs, notes, wrong = songs + 1, notes + heard.notes, wrong + bool(heard.faults)
        if heard.faults:
            print(heard.name, *heard.faults[:3], sep="\n  ")
    print(f"{songs} songs, {notes} notes: {wrong} songs with a fault")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
