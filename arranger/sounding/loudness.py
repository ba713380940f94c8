"""Find how loud each note sounds: the dynamics of the sections, with their hairpins, as velocities.

Takes the passes of a song and its notes; gives notes with velocities. pp 40 to ff 104 are a judgement, near the medians
of professional pianists in open data: a verse at 77, a refrain at 85 (POP909, Wang et al., ISMIR 2020); ppp and fff go
on as the others do. The rest is common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from arranger.harmony.model import Arrangement, ChordId
from arranger.song.model import Dynamic
from arranger.sounding.model import SoundingNote
from arranger.sounding.passes import Pass

VELOCITIES = {"ppp": 28, "pp": 40, "p": 52, "mp": 64, "mf": 76, "f": 90, "ff": 104, "fff": 118}
LEVELS = tuple(VELOCITIES)
UNSAID = "mf"  # before the first dynamic
SWELL = 2  # levels that `cresc` and `dim` go, where no level is written
TOP_NOTE = 4  # louder: it is what is heard as the line
UNDER_BASS_PLAYER = -4  # the left hand leaves room
ACCENT = 16  # for `accent`, and the first chord of `sfz`: about a level, and heard as one chord
LOUDEST = 127  # the MIDI standard's; 1 is the softest, for 0 ends a note


class Hairpin(NamedTuple):
    """Velocities from the start of a pass to its end. `struck`: its first chord is accented."""

    start: Fraction
    end: Fraction
    before: int
    after: int
    struck: bool

    def at(self, moment: Fraction) -> Fraction:
        """Return the velocity at a moment in quarters from the start of the song: linear from start to end."""
        if self.before == self.after:
            return Fraction(self.before)
        into = min(max(moment - self.start, Fraction(0)) / (self.end - self.start), Fraction(1))
        return self.before + (self.after - self.before) * into


def hairpins(song_passes: Sequence[Pass]) -> tuple[Hairpin, ...]:
    """Return how loud each pass is. Without a dynamic of its own it is as loud as what came before has left it."""
    found, last = [], UNSAID
    for one in song_passes:
        first, then, struck = _levels(one.facts.dynamic, last)
        found.append(Hairpin(one.start, one.end, VELOCITIES[first], VELOCITIES[then], struck))
        last = then
    return tuple(found)


def _levels(dynamic: Dynamic | None, last: str) -> tuple[str, str, bool]:
    """Return the levels at the start and the end of a pass, and whether its first chord is accented."""
    if dynamic is None:
        return last, last, False
    text = dynamic.text.casefold()
    if dynamic.level is None:
        way = -SWELL if text.startswith(("dim", "decresc")) else SWELL
        return last, LEVELS[min(max(LEVELS.index(last) + way, 0), len(LEVELS) - 1)], False
    start, _, end = (word.strip() for word in text.partition(" to "))
    first = start if start in LEVELS else last  # `sfz` is loud for one chord, and then as it was
    return first, end if end in LEVELS else first, start == "sfz"


def with_velocities(
    notes: Sequence[SoundingNote],
    arrangement: Arrangement,
    song_passes: Sequence[Pass],
    begins: Mapping[Fraction, ChordId],
) -> Iterator[SoundingNote]:
    """Yield notes with their velocities, 1 to 127.

    Args:
        notes: as written, in order.
        arrangement: has their chords and bars.
        song_passes: of the arrangement.
        begins: when each chord is struck, as written.
    """
    pins = hairpins(song_passes)
    starts = [pin.start for pin in pins]
    tops: dict[Fraction, tuple[int, int]] = {}  # for each stroke of the right hand: its highest key, how many keys
    for note in notes:
        if note.part in ("right", "octaves"):
            highest, count = tops.get(note.start, (0, 0))
            tops[note.start] = max(highest, note.pitch.midi), count + 1
    accented = {pin.start for pin in pins if pin.struck}
    for note in notes:
        pin = pins[max(bisect_right(starts, note.start) - 1, 0)]
        velocity = pin.at(note.start)
        if tops.get(note.start, (0, 0))[1] > 1 and note.part in ("right", "octaves"):
            velocity += TOP_NOTE * (note.pitch.midi == tops[note.start][0])
        if note.part == "left" and arrangement.bars[note.bar].how.bass_player:
            velocity += UNDER_BASS_PLAYER
        written = arrangement.chord(note.chord).written if note.chord else None
        by_sign = written is not None and "accent" in written.manner and begins.get(note.start) == note.chord
        if by_sign or note.start in accented:
            velocity += ACCENT
        yield replace(note, velocity=min(max(round(velocity), 1), LOUDEST))
