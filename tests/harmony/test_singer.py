"""The singer: where nobody sings, and that no suspension grinds against a tune that is known."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.harmony.singer import BarStretch, rests_in, syllables
from arranger.harmony.sites import SUS, kinds_for
from arranger.song.model import Note, NoteLine, Section, Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch
from tests.harmony import songs
from tests.harmony.songs import arranged

TEXT = """song Words
key D
tempo 72
roadmap Verse, End

section Verse
| D | G | Bm A | A |
sing | one two three | lan- | lan*terns | |

section End
pickup and so
| D |
"""


def section() -> Section:
    song, problems = read(Source.of("words", TEXT))
    assert song is not None and not problems
    return song.sections[0]


@pytest.mark.parametrize(
    ("bar", "start", "end", "rests"),
    [
        (0, 0, 4, False),
        (0, 2, 4, False),  # three syllables in four beats: the words may run on
        (1, 2, 4, False),  # the word goes on in the next bar
        (2, 2, 4, False),  # two syllables, but the second is sung at the second chord
        (3, 0, 4, True),  # no words
    ],
)
def test_where_the_singer_rests(bar: int, start: int, end: int, rests: bool) -> None:
    assert rests_in(section(), BarStretch(0, bar, Fraction(start), Fraction(end))) is rests


def test_two_syllables_leave_the_second_half() -> None:
    song, _ = read(Source.of("x", TEXT.replace("one two three", "one two")))
    assert song is not None
    assert rests_in(song.sections[0], BarStretch(0, 0, Fraction(2), Fraction(4)))
    assert not rests_in(song.sections[0], BarStretch(0, 0, Fraction(0), Fraction(4)))


@pytest.mark.parametrize(
    ("words", "count"),
    [("lanterns", 2), ("slow boats", 2), ("come home", 2), ("_", 0), ("été", 2), ("Straße", 1), ("", 0)],
)
def test_syllables(words: str, count: int) -> None:
    assert syllables(words) == count


TUNE = st.lists(
    st.lists(
        st.tuples(st.sampled_from("CDEFGAB"), st.sampled_from([-1, 0, 1]), st.sampled_from([1, 2, 4, 6])), min_size=1
    ),
    min_size=8,
    max_size=8,
)


def with_tune(song: Song, tune: list[list[tuple[str, int, int]]]) -> Song:
    row = song.sections[0].rows[0]
    bars = []
    for one in tune:
        notes, at = [], Fraction(0)
        for letter, alter, length in one:
            if at >= 4:
                break
            sign = "#" if alter > 0 else "b" if alter < 0 else ""
            notes.append(Note(Pitch.parse(f"{letter}{sign}4"), at, Fraction(length)))
            at += length
        bars.append(tuple(notes))
    row = replace(row, tune=NoteLine(tuple(bars)))
    return replace(song, sections=(replace(song.sections[0], rows=(row,)),))


@pytest.mark.slow
@settings(max_examples=120, deadline=None)
@given(TUNE, st.sampled_from(["C", "Am"]))
def test_never_a_semitone_against_a_sung_note_of_a_beat(tune: list[list[tuple[str, int, int]]], key: str) -> None:
    bars = {"C": "C | F | G | Am | Dm | G7 | F | C", "Am": "Am | Dm | E7 | F | G | C | Em | Am"}[key]
    song = with_tune(songs.one(key, bars), tune)
    found, _ = arranged(song, songs.TODAY._replace(suspensions=Fraction(1), suspensions_open_bars=0))
    assert found is not None
    for chord in found.sections[0].chords:
        if chord.suspension is None:
            continue
        # The suspension sounds until it resolves, in quarters from the start of the song.
        start = 4 * chord.bar_index + chord.start
        end = start + chord.length
        if chord.suspension.start is not None and chord.suspension.bar is not None:
            end = 4 * (chord.suspension.bar - 1) + chord.suspension.start
        line = song.sections[0].rows[0].tune
        assert line is not None
        for index, bar in enumerate(line.bars):
            for note in bar:
                assert note.pitch is not None
                begins = 4 * index + note.start
                if begins < end and begins + note.length > start:
                    assert (note.pitch.midi - chord.suspension.note.midi) % 12 not in (1, 11)


def test_a_known_tune_opens_what_the_minor_scale_has() -> None:
    printed = songs.unrolled(songs.one("Am", "Am")).printed[0][0]
    assert kinds_for(Key.parse("Am"), printed) == ("sus4",)
    assert kinds_for(Key.parse("Am"), printed, tune=True) == ("sus2", "sus4")
    assert SUS["sus2"].semitones == 2
