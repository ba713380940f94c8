"""The manner of playing: what the song says, else a default by meter, loudness, tempo (common practice, no source)."""

from __future__ import annotations

from arranger.harmony.clock import felt_beats_a_minute
from arranger.song.model import Section, Song

BALLAD = 76  # felt beats a minute up to which held chords carry a song
LOUD = ("f", "ff", "fff", "sfz")


def manner(song: Song, section: Section) -> str:
    """Return how a section is played: `held`, `halves`, `quarters`, `eighths`, `broken`, or the writer's own words."""
    facts = section.facts
    if facts.play is not None:
        return facts.play.value
    if facts.meter.unit == 8 and facts.meter.beats in (6, 9, 12):
        return "broken"
    level = facts.dynamic.level if facts.dynamic else None
    if level in LOUD:
        return "quarters"
    if felt_beats_a_minute(facts, facts.meter.felt_beat) <= BALLAD:
        return "held"
    return "held" if any("drum" in player.lower() for player in song.band) else "quarters"
