"""Changes of sound: where a hand has time to call up the next one.

Takes the heard song; gives, for each section that begins with another sound, the place before it where there is time.
Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from arranger.harmony.clock import seconds
from arranger.harmony.model import Heard, SectionPart, SoundChange
from arranger.song.model import Section, Song

TIME_NEEDED = Fraction(3, 2)  # seconds to let go, press, and be back
LOOK_BACK = 4  # chords before the section in which a place is looked for: earlier ones want the old sound


def sound_changes(song: Song, parts: Sequence[SectionPart], heard: Sequence[Heard]) -> dict[int, SoundChange]:
    """Return, by section, where to change to its sound the first time that it comes after another sound.

    The place is the last chord before it, of the last few, that is long enough to leave it; else the longest of them.
    """
    found: dict[int, SoundChange] = {}
    for index, here in enumerate(heard):
        before = heard[index - 1] if index else None
        if before is None or before.step == here.step or here.chord[0] in found:
            continue
        section = song.sections[here.chord[0]]
        if _text(section) == _text(song.sections[before.chord[0]]) or not _text(section):
            continue
        options = [h for h in heard[max(0, index - LOOK_BACK) : index] if h.step == before.step]
        timed = [(_time(song, h, _end(heard, h, index)), h) for h in options]
        enough = [(time, h) for time, h in timed if time >= TIME_NEEDED]
        time, at = enough[-1] if enough else max(timed, key=lambda pair: pair[0])
        part = parts[at.chord[0]].chords[at.chord[1]]
        found[here.chord[0]] = SoundChange(_text(section), at.chord, part.bar, part.start, time, bool(enough))
    return found


def _text(section: Section) -> str:
    return section.facts.sound.text if section.facts.sound else ""


def _end(heard: Sequence[Heard], one: Heard, until: int) -> Fraction:
    """Return when the next chord is struck, in quarters from the start."""
    return next((h.at for h in heard[: until + 1] if h.at > one.at), one.at + one.length)


def _time(song: Song, one: Heard, end: Fraction) -> Fraction:
    return seconds(end - one.at, song.sections[one.chord[0]].facts)
