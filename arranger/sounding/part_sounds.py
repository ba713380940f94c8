"""Find what each part sounds with, pass by pass, from the sounds that the song names.

A section that names none goes on with what was called up before it. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.song.model import Sound
from arranger.sounding.model import SoundFrom, SoundingPart
from arranger.sounding.passes import Pass
from arranger.sounding.strikes import ORDER


class PartSounds(NamedTuple):
    """What each part sounds with from a pass on; `doubled`: the pad's sound is a layer of all that the hands play."""

    start: Fraction
    by_part: Mapping[SoundingPart, str]
    doubled: bool


def part_sounds(arrangement: Arrangement, song_passes: Sequence[Pass]) -> tuple[PartSounds, ...]:
    """Return the sounds of each pass, in order of time."""
    found, sound = [], None
    for one in song_passes:
        sound = one.facts.sound or sound
        found.append(_sounds(sound, one.start, has_pad=bool(arrangement.sections[one.section].pad)))
    return tuple(found)


def is_doubled(sounds: Sequence[PartSounds], at: Fraction) -> bool:
    """Return whether another sound is layered with the hands at a moment."""
    index = bisect_right(sounds, at, key=lambda one: one.start) - 1
    return index >= 0 and sounds[index].doubled


def sound_changes_heard(sounds: Sequence[PartSounds]) -> Iterator[SoundFrom]:
    """Yield where a part's sound changes; before the first of them a part has none of its own."""
    last: dict[SoundingPart, str] = dict.fromkeys(ORDER, "")
    for one in sounds:
        for part in ORDER:
            if one.by_part[part] != last[part]:
                last[part] = one.by_part[part]
                yield SoundFrom(one.start, part, one.by_part[part])


def _sounds(sound: Sound | None, start: Fraction, *, has_pad: bool) -> PartSounds:
    """Return what each part sounds with; of a layer the hands have the first sound that is no pad."""
    if sound is None or not sound.parts:
        return PartSounds(start, dict.fromkeys(ORDER, ""), doubled=False)
    pads = [part for part in sound.parts if "pad" in part.lower()]
    if sound.kind == "split" and len(sound.parts) > 1:
        low, high = sound.parts[:2]
        pad = (pads or [high])[0]
        return PartSounds(start, {"right": high, "left": low, "octaves": high, "pad": pad}, doubled=False)
    main = next((part for part in sound.parts if part not in pads), sound.parts[0])
    others = [part for part in sound.parts if part != main]
    pad = ((pads if has_pad else others) or [main])[0]
    return PartSounds(
        start, {"right": main, "left": main, "octaves": main, "pad": pad}, doubled=bool(others) and not has_pad
    )
