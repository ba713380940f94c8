"""Notes in note values: each voice fills its bar, and beats can be seen. What is expected is common practice."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import music21.duration
import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.harmony.model import Arrangement
from arranger.harmony.patterns import JOINED, PATTERNS
from arranger.song.model import COMMON, Meter
from arranger.sounding.notation import NotatedBar, WrittenNote, printed_bars, written_bars
from arranger.sounding.note_values import beamed, grid_of, single_value, values
from arranger.sounding.strikes import written_notes
from tests.harmony.songs import arranged as arranged_song
from tests.harmony.songs import section, song
from tests.sounding.songs import all_songs, arranged

METERS = [Meter(*map(int, name.split("/"))) for name in (*PATTERNS, *JOINED)] + [Meter(7, 16), Meter(11, 8)]
HALF, QUARTER, EIGHTH = Fraction(2), Fraction(1), Fraction(1, 2)


def lengths(start: str, end: str, meter: str, *, rest: bool = False) -> list[str]:
    beats, unit = map(int, meter.split("/"))
    grid = grid_of(Meter(beats, unit), Meter(beats, unit).length)
    return [str(value.length) for value in values(Fraction(start), Fraction(end), grid, rest=rest)]


@pytest.mark.parametrize(
    ("start", "end", "meter", "expected"),
    [
        ("0", "4", "4/4", "4"),
        ("0", "3", "4/4", "3"),
        ("1", "3", "4/4", "1 1"),  # the middle of the bar is shown
        ("1", "4", "4/4", "1 2"),
        ("5/2", "4", "4/4", "1/2 1"),
        ("1/2", "3/2", "4/4", "1"),  # the syncope inside a half
        ("3/2", "4", "4/4", "1/2 2"),
        ("0", "5/2", "4/4", "2 1/2"),
        ("0", "3", "3/4", "3"),
        ("1", "3", "3/4", "2"),
        ("0", "5/2", "3/4", "2 1/2"),
        ("0", "3", "6/8", "3"),
        ("0", "2", "6/8", "3/2 1/2"),
        ("1/2", "3", "6/8", "1 3/2"),
        ("0", "5", "5/4", "3 2"),
        ("0", "7/2", "7/8", "2 3/2"),
        ("0", "9/2", "9/8", "3 3/2"),
        ("0", "6", "12/8", "6"),
        ("3/2", "9/2", "12/8", "3/2 3/2"),
    ],
)
def test_values_show_the_beats(start, end, meter, expected):
    assert lengths(start, end, meter) == expected.split()


@pytest.mark.parametrize(
    ("start", "end", "meter", "expected"),
    [
        ("1", "4", "4/4", "1 2"),
        ("0", "3", "4/4", "2 1"),
        ("1", "3", "3/4", "1 1"),
        ("1/2", "4", "4/4", "1/2 1 2"),
        ("3/2", "3", "6/8", "3/2"),
        ("1/2", "3", "6/8", "1/2 1/2 3/2"),
    ],
)
def test_rests_stand_on_their_beats(start, end, meter, expected):
    assert lengths(start, end, meter, rest=True) == expected.split()


@given(st.sampled_from(METERS), st.booleans(), st.data())
def test_every_length_is_written_in_values_that_exist(meter, rest, data):
    """The values are those of music21's table of note types."""
    steps = int(meter.length * 8)
    start = data.draw(st.integers(0, steps - 1))
    end = data.draw(st.integers(start + 1, steps))
    grid = grid_of(meter, meter.length)
    found = values(Fraction(start, 8), Fraction(end, 8), grid, rest=rest)
    assert found[0].start == Fraction(start, 8) and sum(v.length for v in found) == Fraction(end - start, 8)
    assert all(one.start + one.length == two.start for one, two in pairwise(found))
    for value in found:
        one = music21.duration.Duration(value.length)
        assert one.dots == value.dotted and one.type in music21.duration.typeToDuration
        crossed = [place for place in grid.groups if value.start < place < value.start + value.length]
        whole = value.start in grid.groups and value.start + value.length in grid.groups
        assert not crossed or whole or (value.start == 0 and value.dotted)


@pytest.mark.parametrize(("played", "time"), [(3, 1), (3, 2), (5, 1), (5, 4), (6, 1), (7, 2), (9, 1)])
def test_notes_of_tuplets_last_as_long_as_they_should(played, time):
    """So many in the time of the next lower power of two, as music21 counts tuplets."""
    grid = grid_of(Meter(4, 4), Fraction(4))
    for place in range(played):
        start, end = Fraction(place * time, played), Fraction((place + 1) * time, played)
        found = values(start, end, grid)
        assert sum(value.length for value in found) == end - start
        for value in found:
            one = music21.duration.Duration(value.plain * Fraction(3 if value.dotted else 2, 2))
            if value.tuplet is not None:
                one.appendTuplet(music21.duration.Tuplet(*value.tuplet))
            assert one.quarterLength == value.length


def test_lengths_with_no_value_have_none():
    assert single_value(Fraction(5, 2)) is None and single_value(Fraction(1, 3)) is None


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        ("4/4", "4 4"),
        ("3/4", "6"),
        ("6/8", "3 3"),
        ("7/8", "2 2 3"),
        ("5/4", "6 4"),
        ("9/8", "3 3 3"),
        ("12/8", "3 3 3 3"),
        ("2/4", "4"),
    ],
)
def test_eighths_are_beamed_by_the_groups_of_the_meter(meter, expected):
    beats, unit = map(int, meter.split("/"))
    grid = grid_of(Meter(beats, unit), Meter(beats, unit).length)
    notes = [(EIGHTH * place, EIGHTH) for place in range(int(grid.length * 2))]
    assert [len(group) for group in beamed(notes, grid)] == [int(n) for n in expected.split()]


def test_sixteenths_are_beamed_by_the_beat_and_rests_end_a_beam():
    grid = grid_of(Meter(4, 4), Fraction(4))
    sixteenths = [(Fraction(place, 4), Fraction(1, 4)) for place in range(8)]
    assert beamed(sixteenths, grid) == [[0, 1, 2, 3], [4, 5, 6, 7]]
    assert beamed([(Fraction(0), EIGHTH), None, (QUARTER, EIGHTH), (QUARTER + EIGHTH, EIGHTH)], grid) == [[2, 3]]


def shown(notes: tuple[WrittenNote, ...]) -> str:
    def one(note: WrittenNote) -> str:
        heads = "+".join(
            f"{'~' if head.tied_back else ''}{head.pitch}{'~' if head.tied_on else ''}" for head in note.heads
        )
        return f"{heads or 'r'}:{note.value.length}"

    return " ".join(map(one, notes))


def bars_of(*rows: str, meter: Meter = COMMON) -> tuple[Arrangement, tuple[NotatedBar, ...]]:
    plain = section("Verse", "C", rows, meter)
    made = arranged_song(song([replace(plain, facts=plain.facts._replace(octaves=False))]))[0]
    assert made is not None
    return made, written_bars(made)


def test_a_held_chord_lasts_as_long_as_it_sounds_and_is_tied_over_the_barline():
    _, bars = bars_of("| C=CEG | / / F=CFA / |")
    assert shown(bars[0].right) == "C4~+E4~+G4~:4"
    assert shown(bars[1].right) == "~C4+~E4+~G4:2 C4+F4+A4:2"


def test_silences_are_rests_and_a_silent_bar_has_one():
    _, bars = bars_of("| C=CEG rest | N.C. |")
    assert shown(bars[0].right) == "C4+E4+G4:2 r:2"
    assert bars[1].right[0].whole_bar and shown(bars[1].left) == "r:4"


@pytest.mark.parametrize("meter", [Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 4), Meter(7, 8)])
def test_written_bars_have_the_notes_that_sound(meter):
    """Ties joined again, the notes are those of `written_notes`, to the last."""
    made, bars = bars_of("| C | F / G |" if meter.length % 3 == 0 else "| C | F |", "| G | C |", meter=meter)
    found: list[tuple[str, str, Fraction, Fraction]] = []
    for bar, written in zip(made.bars, bars, strict=True):
        for voice in written.voices:
            assert sum(note.value.length for note in voice) == bar.length
    for index in (0, 1):
        open_notes: dict[int, tuple[str, Fraction, Fraction]] = {}
        for bar, written in zip(made.bars, bars, strict=True):
            for note in written.voices[index]:
                for head in note.heads:
                    start, end = bar.at + note.start, bar.at + note.end
                    if head.tied_back:
                        start = open_notes.pop(head.pitch.midi)[1]
                    if head.tied_on:
                        open_notes[head.pitch.midi] = (str(head.pitch), start, end)
                    else:
                        found.append(("left" if index else "right", str(head.pitch), start, end))
        assert not open_notes
    sounding = [("left" if n.part == "left" else "right", str(n.pitch), n.start, n.end) for n in written_notes(made)]
    assert sorted(found) == sorted(sounding)


def test_printed_bars_are_those_first_played_and_those_never_played_have_their_chords_held():
    made, bars = bars_of("| C | F |")
    assert printed_bars(made) == {(0, 0, 0): bars[0], (0, 0, 1): bars[1]}
    text = "song S\nkey C\nroadmap A\nsection A\n| C |\nsection B\nplay eighths\n| C=C4EG | / F=C4FA |\n"
    held = printed_bars(arranged(text))
    assert shown(held[1, 0, 0].right) == "C4~+E4~+G4~:4" and shown(held[1, 0, 1].right) == "~C4+~E4+~G4:2 C4+F4+A4:2"


def test_a_fill_has_beams_of_its_own():
    text = "song S\nkey C\nmeter 6/8\nplay held\nsection V\n| C | F |\noctave | rest rest rest rest E4 D |\n"
    first, _ = written_bars(arranged(text))
    assert [note.small for note in first.right] == [False, False, True, True]
    assert [note.beams for note in first.right] == [(), (), ("begin",), ("end",)]


def test_signs_stand_once_in_a_bar_and_stems_point_to_the_middle_line():
    made, bars = bars_of("| A=C#4EA A=C#4EA |", "| D=F#5AD D=F#5AD |")
    assert [[head.sign for head in note.heads] for note in bars[0].right] == [[1, None, None], [None, None, None]]
    assert bars[0].right[0].stem_up and not bars[1].right[0].stem_up
    assert all(head.sign is None for bar in written_bars(made) for note in bar.right for head in note.heads[1:])


def joined(made: Arrangement, bars: tuple[NotatedBar, ...]) -> list[tuple[bool, int, Fraction, Fraction]]:
    """Return the notes of written bars with their ties joined: whether left, key, start, end."""
    found = []
    for left in (False, True):
        open_from: dict[int, Fraction] = {}
        for bar, written in zip(made.bars, bars, strict=True):
            voice = written.voices[left]
            assert sum(note.value.length for note in voice) == bar.length
            for note in voice:
                for head in note.heads:
                    key = head.pitch.midi
                    assert head.tied_back == (key in open_from)
                    start = open_from.pop(key, bar.at + note.start)
                    if head.tied_on:
                        open_from[key] = start
                    else:
                        found.append((left, key, start, bar.at + note.end))
            assert not set(open_from) - {h.pitch.midi for h in (voice[-1].heads if voice else ()) if h.tied_on}
        assert not open_from
    return sorted(found)


def test_songs_made_by_chance_have_in_note_values_what_sounds():
    for text, made in all_songs(40):
        sounding = [
            (note.part == "left", note.pitch.midi, note.start, note.end)
            for note in written_notes(made)
            if note.part != "pad"
        ]
        assert joined(made, written_bars(made)) == sorted(sounding), text


def test_pushes_are_tied_over_the_barline_and_signs_stand_at_their_strokes():
    head = "song S\nkey C\noctaves off\nsuspensions off\nsection Verse\nplay held\n"
    made = arranged(head + "| C=C4EG stop | C=C4EG / / <F=C4FA | F=C4FA roll | C=C4EG hold |")
    first, second, third, last = written_bars(made)
    assert shown(first.right) == "C4+E4+G4:1/2 r:1/2 r:1 r:2" and first.right[0].signs == ("stop",)
    assert shown(second.right).endswith("C4~+F4~+A4~:1/2 ~C4+~F4+~A4:1")
    assert third.right[0].signs == third.left[0].signs == ("roll",)
    assert last.right[0].signs == last.left[0].signs == ("hold",)
    swung = arranged(head.replace("key C", "key C\nfeel swing") + "| C=C4EG / / <F=C4FA |")
    assert shown(written_bars(swung)[0].right) == shown(second.right)


def test_fills_are_small_and_hooks_are_not():
    text = "song S\nkey C\nplay held\nsection V\n| C | F |\noctave | rest rest rest E4 |\nhook | rest | C5 |\n"
    first, second = written_bars(arranged(text))
    assert [note.small for note in first.right] == [False, True]
    assert not any(note.small for note in second.right) and str(second.right[0].heads[0].pitch) == "C5"
