"""Keyboards that are split: each hand and the pad have their own side."""

from fractions import Fraction

import pytest

from arranger.harmony.arrange import work_out
from arranger.harmony.model import Arrangement
from arranger.harmony.taste import DEFAULT
from arranger.song.read import read
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import Source

QUIET = DEFAULT._replace(suspensions=Fraction(0), octaves="none")
HEAD = "song Test\nkey C\ntempo 72\nband {band}\n"
TEXT = HEAD + "section A\nsound {sound}\n{facts}\n| C | G/B | Am7 | F | E7 | Dm | G | C |\n"


def arranged(
    sound: str, *, band: str = "drums", facts: str = "texture full"
) -> tuple[Arrangement, tuple[Diagnostic, ...]]:
    song, _ = read(Source("test", TEXT.format(sound=sound, band=band, facts=facts)))
    assert song is not None
    worked, problems = work_out(song, QUIET)
    assert worked is not None, problems
    return worked.arrangement, problems


@pytest.mark.parametrize("split", [("C4", 60), ("A3", 57), ("E4", 64), ("G3", 55)])
@pytest.mark.parametrize("sounds", ["pad / piano", "piano / pad", "bass / piano"])
@pytest.mark.parametrize("texture", ["light", "full", "wide"])
def test_each_on_its_side_and_no_key_twice(split: tuple[str, int], sounds: str, texture: str) -> None:
    found, problems = arranged(f"{sounds} split {split[0]}", facts=f"texture {texture}")
    assert not [p for p in problems if p.code == "under-split"]
    part, at = found.sections[0], split[1]
    assert part.chords
    for chord in part.chords:
        left, right = [p.midi for p in chord.left], [p.midi for p in chord.right]
        assert left and max(left) < at <= min(right)
        since = max((n.bar for n in part.pad if n.bar <= chord.bar), default=0)
        held = [n.pitch.midi for n in part.pad if n.bar == since]
        assert all((note < at) is sounds.startswith("pad") for note in held)
        assert not {*held} & {*left, *right}
    assert bool(part.pad) is ("pad" in sounds)


def test_the_hand_that_holds_the_pad_plays_the_root_alone() -> None:
    found, _ = arranged("pad / piano split C4")
    assert {len(chord.left) for chord in found.sections[0].chords} == {1}
    other, _ = arranged("bass / piano split C4")
    assert {len(chord.left) for chord in other.sections[0].chords} == {2}


def test_frames_that_do_not_fit_above_the_split_have_three_keys() -> None:
    found, _ = arranged("bass / piano split A4", facts="texture full")
    triads = [chord for chord in found.sections[0].chords if chord.chord and len(chord.chord.members) == 3]
    assert triads and {len(chord.right) for chord in triads} == {3}
    low, _ = arranged("bass / piano split C4", facts="texture full")
    assert 4 in {len(chord.right) for chord in low.sections[0].chords}


def test_what_cannot_be_kept_is_told_with_its_place() -> None:
    text = TEXT.format(sound="pad / piano split C5", band="bass", facts="texture light").replace("Am7", "Am=A3C4E4")
    song, _ = read(Source("test", text))
    assert song is not None
    _, problems = work_out(song, QUIET)
    (told,) = [p for p in problems if p.code == "under-split"]
    assert told.message == "the right hand of Am lies under the split at C5"
    assert text[told.span.start : told.span.end].startswith("Am")


def test_a_split_that_leaves_no_room_is_told() -> None:
    _, problems = arranged("bass / piano split D5", facts="texture light")
    assert any(p.code == "hand-thin" and p.hints for p in problems)
