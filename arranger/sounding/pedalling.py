"""Find when the sustain pedal goes up and down.

It is changed with each chord: up as the chord is struck, and down just after, so that what sounded before is gone. It
is changed again where a suspension resolves, on the first note of a line in octaves that the chord does not have, and
where the chord before another key takes its place; under a layer only where the chord is another one. In a silence it
is up. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.model import Arrangement, Heard
from arranger.harmony.strokes import STOPPED
from arranger.sounding.model import Pedal, SoundingNote
from arranger.sounding.part_sounds import PartSounds, is_doubled
from arranger.sounding.strikes import WrittenClock, lead_ins_heard
from arranger.sounding.tempo_map import TempoClock, on_grid

LATER = Fraction(8, 100)  # seconds from up to down, as a foot needs
MOST = Fraction(1, 4)  # of the time until the next change


class _Change(NamedTuple):
    at: Fraction
    down: bool  # it goes down again just after


def pedal(
    arrangement: Arrangement,
    notes: Sequence[SoundingNote],
    clock: WrittenClock,
    sounds_at: Callable[[Fraction], Fraction],
    speeds: TempoClock,
    sounds: Sequence[PartSounds],
) -> tuple[Pedal, ...]:
    """Return the pedal's ways in order of time, up and down in turn; it is up at the end.

    Args:
        arrangement: the song.
        notes: of both hands, as written, in order.
        clock: of the arrangement.
        sounds_at: when a place in writing sounds.
        speeds: of the song.
        sounds: of the song.
    """
    by_time: dict[Fraction, bool] = {}
    for change in _changes(arrangement, notes, clock, sounds):
        at = sounds_at(change.at)
        by_time[at] = by_time.get(at, False) or change.down
    end = arrangement.bars[-1].at + arrangement.bars[-1].length if arrangement.bars else Fraction(0)
    found: list[Pedal] = []
    for at, following in pairwise([*sorted(by_time), max(end, *by_time, Fraction(0)) if by_time else end]):
        if found and found[-1].down:
            found.append(Pedal(at, down=False))
        if by_time[at] and following > at:
            late = min(LATER * speeds.speed(at) / 60, (following - at) * MOST)
            found.append(Pedal(at + on_grid(late), down=True))
    if found and found[-1].down:
        found.append(Pedal(max(end, found[-1].at), down=False))
    return tuple(found)


def _changes(
    arrangement: Arrangement, notes: Sequence[SoundingNote], clock: WrittenClock, sounds: Sequence[PartSounds]
) -> Iterator[_Change]:
    """Yield the places in writing where the pedal is changed, or goes up."""
    starts = [note.start for note in notes]
    last: Heard | None = None
    over = Fraction(0)  # when the chord before ends
    for heard in arrangement.heard:
        part = arrangement.chord(heard.chord)
        signs = part.written.manner if part.written else ()
        start, end = clock.written(heard.at), clock.written(heard.at + heard.length)
        layer = is_doubled(sounds, heard.at)
        before = arrangement.chord(last.chord) if last is not None else None
        together = last is not None and last.at + last.length == heard.at
        goes_on = layer and together and before is not None and before.chord == part.chord
        if last is not None and not goes_on:
            yield _Change(over, down=False)  # unless another chord begins there
        last, over = heard, end
        if "stop" in signs:
            yield _Change(start, down=False)
            over = start + STOPPED
            continue
        if not goes_on:
            yield _Change(start, down=True)
        if layer:
            continue
        own = [
            note for note in notes[bisect_left(starts, start) : bisect_left(starts, end)] if note.chord == heard.chord
        ]
        yield from _within(own, start, heard, arrangement)
    if last is not None:
        yield _Change(over, down=False)
    for lead_in, bar in lead_ins_heard(arrangement):
        yield _Change(bar.at + lead_in.start, down=True)
        if lead_in.resolves is not None:
            yield _Change(bar.at + lead_in.resolves, down=True)


def _within(
    notes: Sequence[SoundingNote], start: Fraction, heard: Heard, arrangement: Arrangement
) -> Iterator[_Change]:
    """Yield the changes while a chord sounds: at its resolution, and at the first foreign note of a line."""
    part = arrangement.chord(heard.chord)
    if part.chord is None:
        return
    new = {*part.plain} - {*part.right} if part.suspension and part.suspension.resolves_to else set()
    resolved = (note.start for note in notes if note.part == "right" and note.pitch in new and note.start > start)
    tones = part.chord.pitch_classes | {part.chord.bass_name.pitch_class}
    lines = (note.start for note in notes if note.part == "octaves" and note.pitch.name.pitch_class not in tones)
    for found in (next(resolved, None), next(lines, None)):
        if found is not None:
            yield _Change(found, down=True)
