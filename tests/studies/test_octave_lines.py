"""Octave lines and changes of sound: those of the songs, with what stands before and after."""

from __future__ import annotations

from pathlib import Path

import pytest

from arranger.harmony.taste import DEFAULT
from arranger.studies.octave_lines import octave_study, sound_study
from tests.studies.practised import one, practised, told

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
EVERY = DEFAULT._replace(octaves="every")


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_every_line_of_a_song_is_there(path: Path) -> None:
    song = practised(path.read_text(encoding="utf-8"), EVERY)
    study = octave_study([song])
    assert study is not None
    lines = {
        (
            tuple(note.pitch for note in line.notes),
            song.arrangement.chord(line.to).right,
        )
        for part in song.arrangement.sections
        for line in part.octaves
    }
    found = set()
    for row in study.rows:
        notes = [hand for hand in row.hands if hand.chord is None]
        assert all(hand.right[-1].midi - hand.right[0].midi in (0, 12) for hand in notes)
        assert row.hands[0].chord is not None
        found.add((tuple(hand.right[0] for hand in notes), row.hands[-1].right))
    assert found == lines


def test_the_most_often_heard_comes_first() -> None:
    rows = "| C | F | G | C |\noctave | rest rest rest G3 | |"
    text = f"song A\nkey C\ntempo 72\nroadmap Verse, Chorus x3\nsection Verse\n{rows}\nsection Chorus\n"
    text += "| F | G | C | C |\noctave | rest rest A3 B3 | |\n"
    study = octave_study([practised(text, DEFAULT._replace(octaves="none"))])
    assert study is not None
    assert [told(row) for row in study.rows] == ["Chorus, bar 1; heard 3 times", "Verse, bar 1; heard once"]
    assert [hand.remark for hand in study.rows[0].hands] == ["", "beat 3", "beat 4", ""]


def test_a_line_written_beside_a_rest_has_no_empty_hand() -> None:
    song = one("| C | F | N.C. | G |\noctave | rest | rest rest A4 B4 | C4 / D4 / | |")
    study = octave_study([song])
    assert study is not None
    assert all(hand.right for row in study.rows for hand in row.hands)


def test_sounds_are_told_with_their_seconds_the_shortest_first() -> None:
    text = (
        "song A\nkey C\ntempo 60\nroadmap Verse, Chorus, Verse\n"
        "section Verse\nsound piano\n| C | F | G | C |\nsection Chorus\nsound organ\n| F | G | C rest rest rest |\n"
    )
    song = practised(text)
    study = sound_study([song], (("organ", "17"),))
    assert study is not None
    assert [(row.sound, row.seconds) for row in study.sounds] == [("piano", 4), ("organ (17)", 4)]
    assert all(a.seconds <= b.seconds for a, b in zip(study.sounds, study.sounds[1:], strict=False))
    changes = [part.sound_change for part in song.arrangement.sections if part.sound_change]
    assert sorted(row.seconds for row in study.sounds) == sorted(change.seconds for change in changes)
    assert sound_study([one("| C | F |")]) is None
