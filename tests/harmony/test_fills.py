"""Octave fills: the ranking of figures, the way in and out of each note, and when they are played."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.harmony.figures import ChordChange, Figure, line_scale, ranked, ranked_fills
from arranger.harmony.model import Arrangement
from arranger.harmony.octaves import change_at
from arranger.harmony.taste import DEFAULT, Taste
from arranger.song.model import Meter, Song, Tempo
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch
from tests.harmony import songs
from tests.harmony.songs import arranged

EVERY = songs.TODAY._replace(octaves="every", suspensions=Fraction(0))


def hand(text: str) -> tuple[Pitch, ...]:
    return tuple(map(Pitch.parse, text.split()))


def part(song: Song, taste: Taste) -> Arrangement:
    found, _ = arranged(song, taste)
    assert found is not None
    return found


# Common practice, no source; the figures by Open Music Theory, "Embellishing tones".
@pytest.mark.parametrize(
    ("before", "after", "held", "coming", "owed", "notes", "figure"),
    [
        ("Bb", "Eb", "D4 F4 Bb4", "Eb4 F4 Bb4", None, ("F", "D"), "enclosure"),
        ("Eb", "Bb", "Eb4 F4 Bb4", "D4 F4 Bb4", None, ("Eb", "D"), "anticipation"),
        ("Bb", "F", "D4 F4 Bb4", "C4 F4 Bb4", None, ("Eb", "D"), "neighbour"),
        ("F", "Bb", "C4 F4 Bb4", "D4 F4 Bb4", "A", ("A", "F"), "resolution"),
    ],
)
def test_check_values(
    before: str, after: str, held: str, coming: str, owed: str | None, notes: tuple[str, str], figure: str
) -> None:
    from_owed = songs.chord(owed).root if owed else None
    change = ChordChange(Key.parse("Bb"), songs.chord(before), songs.chord(after), hand(held), hand(coming), from_owed)
    best = list(ranked_fills(change, hand("Bb2"), DEFAULT))[:3]
    found = [(f.figure.name, tuple(str(n.name) for n in f.figure.notes)) for f in best]
    assert (figure, notes) in found


def test_check_values_in_the_arrangement() -> None:
    """The same changes as they come out of the suspended progression itself."""
    taste = songs.TODAY._replace(target=64, suspensions=Fraction(2, 5), suspensions_open_bars=0)
    found = part(songs.one("Bb", "Bb=D4F4Bb4 | Eb | Bb | F | Bb"), taste)
    expected = [("F", "D"), ("Eb", "D"), ("Eb", "D")]
    for index, notes in enumerate(expected):
        change = change_at(found, (0, index), (0, index + 1))
        assert change is not None
        best = list(ranked_fills(change, found.sections[0].chords[index].left, taste))[:3]
        assert notes in [tuple(str(n.name) for n in f.figure.notes) for f in best]


# Where either chord alters a degree, only the altered form (common practice, no source).
@pytest.mark.parametrize(
    ("before", "after", "letter", "note"), [("Fm", "C", "A", "Ab"), ("D", "G", "F", "F#"), ("G", "C", "F", "F")]
)
def test_altered_degrees(before: str, after: str, letter: str, note: str) -> None:
    change = ChordChange(Key.parse("C"), songs.chord(before), songs.chord(after), hand("C4 F4 A4"), hand("C4 E4 G4"))
    assert str(line_scale(change)[letter]) == note


SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
SONGS = (
    ("C", "C | Am7 | F | G7 | C | Fm | C"),
    ("D", "D | A/C# | Bm | G | Em | A7 | D"),
    ("Bb", "Bb | Gm | Eb | F | Dm | Cm7 | F7 | Bb"),
    ("Am", "Am | F | Dm | E7 | Am | G | C | E | Am"),
)


@pytest.mark.parametrize(("key", "bars"), SONGS)
def test_every_note_is_reached_and_left_as_its_figure_says(key: str, bars: str) -> None:
    """Open Music Theory, "Embellishing tones": steps, neighbours back to the note, anticipations on it."""
    assert obeyed(part(songs.one(key, bars), EVERY)) > 20


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.name)
def test_so_is_every_note_over_every_change_of_the_samples(path: Path) -> None:
    song, _ = read(Source.of(path.name, path.read_text("utf-8")))
    assert song is not None
    assert obeyed(part(song, songs.TODAY._replace(octaves="every"))) > 100


CHORDS = [root + suffix for root in ("C", "D", "Eb", "F", "G", "A", "Bb") for suffix in ("", "m", "7", "m7", "maj7")]
CHORDS += ["D/F#", "C/E", "G/B", "Am/C", "Bm7b5", "F#dim", "Gsus4", "A7sus4", "E", "Cm", "B7", "Dadd9"]


@pytest.mark.slow
@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    key=st.sampled_from(["C", "G", "F", "Bb", "D", "Am", "Dm", "Em"]),
    chords=st.lists(st.sampled_from(CHORDS), min_size=3, max_size=8),
)
def test_and_over_every_change_of_songs_made_by_chance(key: str, chords: list[str]) -> None:
    found = part(songs.one(key, " | ".join(chords)), songs.TODAY._replace(octaves="every"))
    obeyed(found)
    for line in found.sections[0].octaves:  # and those that are taken, of any length, end as they should
        change = change_at(found, line.before, line.to)
        assert change is not None
        last = line.notes[-1].pitch
        ends = {abs(_way(last, target)) for target in (change.coming[0], change.coming[-1])}
        held = last.name.pitch_class in {p.name.pitch_class for p in change.coming}
        assert held or ends & {1, 2}


def obeyed(found: Arrangement) -> int:
    """Assert the way in and out of each note of each two-note figure over each heard change; gives how many."""
    seen = 0
    for before, after in sorted({(one.chord, two.chord) for one, two in pairwise(found.heard)}):
        change = change_at(found, before, after)
        if change is None:
            continue
        allowed = {n.pitch_class for n in line_scale(change).values()}
        for figure in ranked(change):
            seen += 1
            obeys(change, figure, allowed)
    return seen


def obeys(change: ChordChange, figure: Figure, allowed: set[int]) -> None:
    one, two = figure.notes
    assert {one.name.pitch_class, two.name.pitch_class} <= allowed
    steps = (_way(one, two), _way(two, figure.target))
    if figure.name == "enclosure":
        assert {abs(steps[1])} <= {1, 2}
        assert {_way(one, figure.target) > 0, steps[1] > 0} == {True, False}
    elif figure.name == "passing":
        assert steps[0] * steps[1] > 0 and max(map(abs, steps)) <= 2
    elif figure.name == "neighbour":
        assert max(map(abs, steps)) <= 2 and two.name in change.before.names + tuple(p.name for p in change.held)
    elif figure.name == "anticipation":
        assert steps[1] == 0 and abs(steps[0]) <= 2 and two.name in {p.name for p in change.coming}
    else:
        held = two.name in {p.name for p in change.coming}
        assert {one.name, two.name} <= set(change.before.names) and (held or abs(steps[1]) in (1, 2))


@pytest.mark.parametrize("count", [1, 3, 4])
@pytest.mark.parametrize(("key", "bars"), SONGS)
def test_shorter_and_longer_figures(key: str, bars: str, count: int) -> None:
    """Notes outside the chord come and go by step (Open Music Theory), but for the enclosure, whose neighbours leap."""
    found = part(songs.one(key, bars), EVERY)
    seen = 0
    for index in range(len(found.sections[0].chords) - 1):
        change = change_at(found, (0, index), (0, index + 1))
        if change is None:
            continue
        allowed = {n.pitch_class for n in line_scale(change).values()}
        inside = {n.pitch_class for n in change.before.names} | {p.name.pitch_class for p in change.held}
        for figure in ranked(change, count):
            seen += 1
            notes = (*figure.notes, figure.target)
            assert len(figure.notes) == count
            assert {n.name.pitch_class for n in figure.notes} <= allowed
            for one, two in pairwise(notes[:-1]):
                assert one.name != two.name  # nothing is struck twice
            if figure.name == "enclosure":
                continue
            for before, note, after in zip(notes, notes[1:], notes[2:], strict=False):
                if note.name.pitch_class not in inside and note.name != figure.target.name:
                    assert abs(_way(before, note)) <= 2 and abs(_way(note, after)) <= 2
    assert seen >= 5


@pytest.mark.parametrize(
    ("bars", "count", "starts"),
    [
        ("C F | G | C", 1, ["1"]),  # a chord of two beats takes one note, on its last beat
        ("C | / | G | C", 4, ["2", "5/2", "3", "7/2"]),  # two bars take four, on 3 3& 4 4&
    ],
)
def test_how_many(bars: str, count: int, starts: list[str]) -> None:
    line = part(songs.one("C", bars), EVERY).sections[0].octaves[0]
    assert [str(n.start) for n in line.notes] == starts and len(line.notes) == count


def test_keys_alone_play_only_notes_of_the_chord() -> None:
    found = part(songs.song([songs.section("A", "C", ["C | F | G | Am | C"])], band=()), EVERY)
    assert found.sections[0].octaves
    for line in found.sections[0].octaves:
        chord = found.chord(line.before).chord
        assert chord is not None and {n.pitch.name for n in line.notes} <= set(chord.names)


def _way(one: Pitch, two: Pitch) -> int:
    """The nearest way from one note to another, octaves aside."""
    return (two.midi - one.midi + 6) % 12 - 6


@pytest.mark.parametrize(("key", "bars"), SONGS)
def test_fills_lie_in_the_window_clear_of_the_left_hand_and_inside_their_chord(key: str, bars: str) -> None:
    found = part(songs.one(key, bars), EVERY)
    lines = found.sections[0].octaves
    assert len(lines) >= len(found.sections[0].chords) - 3
    for line in lines:
        chord = found.chord(line.before)
        for note in line.notes:
            assert note.pitch.midi >= max(chord.left[-1].midi + 3, DEFAULT.low)
            assert note.pitch.midi + 12 <= DEFAULT.high
            assert chord.start + 1 <= note.start < chord.start + chord.length  # a felt beat of the chord first


@pytest.mark.parametrize(
    ("tempo", "meter", "starts"),
    [
        (72, Meter(4, 4), ["3", "7/2"]),  # 4 and 4&
        (120, Meter(4, 4), ["2", "3"]),  # 3 and 4
        (72, Meter(3, 4), ["2", "5/2"]),
    ],
)
def test_when(tempo: int, meter: Meter, starts: list[str]) -> None:
    found = part(songs.one("C", "C | F | G | C", tempo=tempo, meter=meter), EVERY)
    assert [str(n.start) for n in found.sections[0].octaves[0].notes] == starts


def test_six_eight_ends_on_five_and_six() -> None:
    song = songs.one("C", "C | F | G | C", meter=Meter(6, 8))
    facts = song.sections[0].facts._replace(tempo=Tempo("dotted 50", 50, Fraction(3, 2)))
    found = part(replace(song, sections=(replace(song.sections[0], facts=facts),)), EVERY)
    assert [str(n.start) for n in found.sections[0].octaves[0].notes] == ["2", "5/2"]


def test_too_fast_for_two_notes() -> None:
    """Between attacks a hand needs a quarter of a second at least."""
    found = part(songs.one("C", "C | F | G | C", tempo=200), EVERY)
    assert {len(line.notes) for line in found.sections[0].octaves} == {1}  # over 180 felt beats a minute
    fast = part(songs.one("C", "C | F | G | C", tempo=280), EVERY)
    assert fast.sections[0].octaves == ()


def test_a_phrase_takes_one_in_four_bars() -> None:
    rows = ("C | F | G | C", "Am | F | G | C", "C | F | Am | G")
    found = part(songs.one("C", *rows), EVERY._replace(octaves="phrase"))
    bars = [line.notes[0].bar for line in found.sections[0].octaves]
    assert bars and all(abs(a - b) >= 4 for i, a in enumerate(bars) for b in bars[:i])


def test_none_is_none() -> None:
    found = part(songs.one("C", "C | F | G | C"), EVERY._replace(octaves="none"))
    assert found.sections[0].octaves == ()


def test_free_time_has_no_fills() -> None:
    song = songs.one("C", "C | F | G | C", tempo=None)
    facts = song.sections[0].facts._replace(tempo=Tempo("free", None))
    found = part(replace(song, sections=(replace(song.sections[0], facts=facts),)), EVERY)
    assert found.sections[0].octaves == ()
