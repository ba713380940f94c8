"""Where there is time to change the sound (common practice, no source), and the manner of playing by default."""

from __future__ import annotations

from dataclasses import replace

import pytest

from arranger.harmony.arc import plan_arc
from arranger.harmony.manners import manner
from arranger.song.model import Meter, Section, SongText, Sound, Step
from tests.harmony import songs
from tests.harmony.songs import arranged


def sounding(section: Section, text: str) -> Section:
    return replace(section, facts=section.facts._replace(sound=Sound(text, "single", (text,))))


def test_the_last_long_chord_before_the_section() -> None:
    verse = sounding(songs.section("Verse", "C", ["C | F | G | C G"]), "piano")
    chorus = sounding(songs.section("Chorus", "C", ["F | C"]), "organ")
    found, _ = arranged(songs.song([verse, chorus], [Step(0), Step(1), Step(0)]))
    assert found is not None
    change = found.sections[1].sound_change
    # At 72 a chord of two beats lasts 1.7 s: time enough, and the last place before the chorus.
    assert change is not None and (change.sound, change.bar, change.start, change.enough) == ("organ", 4, 2, True)
    back = found.sections[0].sound_change
    assert back is not None and (back.sound, back.over) == ("piano", (1, 1))


def test_no_time_is_said() -> None:
    verse = sounding(songs.section("Verse", "C", ["C G C G | C G C G"], tempo=120), "piano")
    chorus = sounding(songs.section("Chorus", "C", ["F | C"], tempo=120), "organ")
    found, _ = arranged(songs.song([verse, chorus]))
    assert found is not None
    change = found.sections[1].sound_change
    assert change is not None and not change.enough


def test_silence_gives_time() -> None:
    verse = sounding(songs.section("Verse", "C", ["C G C G | C rest"], tempo=120), "piano")
    chorus = sounding(songs.section("Chorus", "C", ["F | C"], tempo=120), "organ")
    found, _ = arranged(songs.song([verse, chorus]))
    assert found is not None
    change = found.sections[1].sound_change
    assert change is not None and change.enough and change.bar == 2


def test_the_same_sound_needs_no_change() -> None:
    verse = sounding(songs.section("Verse", "C", ["C | F"]), "piano")
    chorus = sounding(songs.section("Chorus", "C", ["F | C"]), "piano")
    found, _ = arranged(songs.song([verse, chorus]))
    assert found is not None and all(part.sound_change is None for part in found.sections)


@pytest.mark.parametrize(
    ("meter", "tempo", "level", "band", "expected"),
    [
        (Meter(4, 4), 66, "p", ("bass", "drums"), "held"),  # a ballad
        (Meter(4, 4), 120, "f", ("bass", "drums"), "quarters"),
        (Meter(6, 8), 60, "mp", ("bass",), "broken"),
        (Meter(4, 4), 110, "mp", ("bass",), "quarters"),  # nobody else keeps the beat
        (Meter(4, 4), 110, "mp", ("bass", "drums"), "held"),
    ],
)
def test_manner_by_default(meter: Meter, tempo: int, level: str, band: tuple[str, ...], expected: str) -> None:
    song = songs.song([songs.section("A", "C", ["C | F"], meter, level, tempo)], band=band)
    assert manner(song, song.sections[0], plan_arc(song, songs.TODAY).plans[0]) == expected


def test_the_writer_s_manner_wins() -> None:
    song = songs.one("C", "C | F")
    section = replace(song.sections[0], facts=song.sections[0].facts._replace(play=SongText("rolled, very free")))
    assert manner(song, section, plan_arc(song, songs.TODAY).plans[0]) == "rolled, very free"
