"""What the pad holds (common practice, no source for the rules; the smoothest by a published model of roughness)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.manners import may_hold
from arranger.song.model import Sound
from arranger.theory.pitch import Pitch
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(suspensions=Fraction(0), octaves="none")
SPLIT = Sound("pad / piano split C4", "split", ("pad", "piano"), Pitch.parse("C4"))


def pads(bars: str, sound: Sound | None = SPLIT, split: int | None = None) -> list[tuple[str, int]]:
    song = songs.one("C", bars)
    section = song.sections[0]
    song = replace(song, sections=(replace(section, facts=section.facts._replace(sound=sound)),))
    found, _ = arranged(song, PLAIN._replace(split=split))
    assert found is not None
    return [(str(n.pitch.name), n.bar) for n in found.sections[0].pad]


def test_one_note_through_all_chords() -> None:
    assert ("G", 1) in pads("C | G | Am | F")
    assert all(bar == 1 for _, bar in pads("C | G | Am | F"))


def test_not_a_semitone_from_a_third() -> None:
    held = pads("C | E7 | Am | F")
    assert "G" not in {name for name, bar in held if bar <= 2}  # G sharp is the third of E7
    names = {name for name, _ in pads("C | Fm | C | G7")}
    assert "G" not in {n for n, b in pads("C | Fm") if b == 1}  # A flat is the third of Fm
    assert "C" in {n for n, _ in pads("C | Fm")} and names


@pytest.mark.parametrize(
    ("note", "chord", "allowed"),
    [
        ("G", "C", True),
        ("G", "E7", False),
        ("G", "Fm", False),
        ("C", "Fm", True),
        ("B", "C", True),  # a major seventh above the root
        ("C", "G", False),  # a semitone from the third
        ("F", "E", False),  # a minor ninth
        ("C", "E7#5", True),
        ("C#", "E7#5", False),  # beside the altered fifth
    ],
)
def test_what_may_lie_over_a_chord(note: str, chord: str, allowed: bool) -> None:
    assert may_hold(songs.chord(note).root.pitch_class, songs.chord(chord)) is allowed


def test_the_pad_lies_in_its_own_part_of_the_keyboard() -> None:
    song = songs.one("C", "C | G | Am | F")
    section = song.sections[0]
    song = replace(song, sections=(replace(section, facts=section.facts._replace(sound=SPLIT)),))
    found, _ = arranged(song, PLAIN)
    assert found is not None
    assert all(48 <= n.pitch.midi < 60 for n in found.sections[0].pad)


def test_a_layer_holds_nothing_unless_the_player_has_a_split() -> None:
    layer = Sound("piano + pad", "layer", ("piano", "pad"))
    assert pads("C | G | Am | F", layer) == []
    assert pads("C | G | Am | F", layer, split=60)
    assert pads("C | G | Am | F", Sound("piano", "single", ("piano",)), split=60) == []
    assert pads("C | G | Am | F", None, split=60) == []


def test_every_held_note_may_be_held_until_it_changes() -> None:
    bars = "C | G | Am | F | E7 | Am | Fm | C | D7 | G7"
    song = songs.one("C", bars)
    section = song.sections[0]
    song = replace(song, sections=(replace(section, facts=section.facts._replace(sound=SPLIT)),))
    found, _ = arranged(song, PLAIN)
    assert found is not None
    changes = sorted({n.bar for n in found.sections[0].pad})
    for chord in found.sections[0].chords:
        since = max(bar for bar in changes if bar <= chord.bar)
        assert chord.chord is not None
        for note in found.sections[0].pad:
            if note.bar == since:
                assert may_hold(note.pitch.midi % 12, chord.chord)
