"""The table of `show`, from a small arrangement made by hand so that no change of taste moves it."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.exchange.table import table
from arranger.harmony.model import (
    Arrangement,
    ChordPart,
    FillNote,
    Hand,
    Movement,
    OctaveLine,
    SectionPart,
    Suspension,
)
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.pitch import Pitch

TEXT = """song Low Tide
key Bb
tempo 72
section Verse
sound piano
dynamic mp
| Bb <Eb | (F) | N.C. | Bb hold |
section Rest
tacet
| Bb |
"""


def song() -> Song:
    read_song, problems = read(Source.of("tide.song.txt", TEXT))
    assert problems == ()
    return read_song


def pitches(text: str) -> tuple[Pitch, ...]:
    return tuple(map(Pitch.parse, text.split()))


def arrangement() -> Arrangement:
    made = song()
    bars = made.sections[0].rows[0].bars

    def part(bar: int, mark: int, right: str, left: str, **more) -> ChordPart:
        written = bars[bar].marks[mark]
        return ChordPart(
            kind=written.kind,
            row=0,
            bar_index=bar,
            mark=mark,
            place=mark,
            bar=bar + 1,
            start=written.start,
            length=written.length,
            chord=written.chord.chord if written.chord else None,
            written=written.chord,
            right=pitches(right),
            plain=pitches(right),
            left=pitches(left),
            **more,
        )

    four = Suspension("sus4", Pitch.parse("Bb4"), True, "resolves", Pitch.parse("A4"), 2, Fraction(2), False, "it may")
    chords = (
        part(0, 0, "D4 F4 Bb4", "Bb2"),
        part(0, 1, "Eb4 G4 Bb4", "Eb3", came_from=(0, 0), movement=3, moved=2, common=1, shape="Eb"),
        part(1, 0, "C4 F4 Bb4", "F2", came_from=(0, 1), movement=4, moved=2, common=1, suspension=four),
        part(2, 0, "", ""),
        part(3, 0, "D4 F4 Bb4", "Bb2", came_from=(0, 0), repeats=True),
    )
    notes = (FillNote(Pitch.parse("F4"), 0, 1, 2, Fraction(3), Fraction(1, 2)),)
    notes += (FillNote(Pitch.parse("D4"), 0, 1, 2, Fraction(7, 2), Fraction(1, 2)),)
    fill = OctaveLine((0, 4), (0, 2), "enclosure", notes)
    return Arrangement(
        song=made,
        key=made.key,
        meter=made.meter,
        hand=Hand(53, 79, 12, 3),
        sections=(SectionPart(chords, (fill,)), SectionPart(())),
        heard=(),
        movement=Movement(103, 100, 250, 4, 200, 200, 200, True),
    )


SHOWN = """\
Low Tide · Bb major · 72 · 4/4
right hand from F3 to G5, 3 notes, 12 semitones at most

Verse · piano · mp · held
  bar  beat  chord      right hand  keys  way  left hand
    1     1  Bb         D4 F4 Bb4              Bb2
    1     3  Eb         Eb4 G4 Bb4     2    3  Eb3        Eb; early
    2     1  (Fsus4 F)  C4 F4 Bb4      2    4  F2         suggested: it may
    2     4             F4 D4                             octaves: enclosure, leads to Bb
    3     1  N.C.
    4     1  Bb         D4 F4 Bb4      -    -  Bb2        hold

Rest · tacet

The right hand moves 103 semitones over 4 changes of chord as heard, repeats counted.
The least possible for these chords in this window is 100 (this is 3.0 % more, to keep the hand in place).
With every chord in root position it would be 250.
No other choice of hands is better by the measures in use: proven."""


def test_the_table():
    assert "\n".join(table(arrangement())) == SHOWN


def test_what_is_not_proven_is_said():
    made = arrangement()
    movement = made.movement._replace(whole=20_000, bound=18_950, proven=False)
    assert table(made._replace(movement=movement))[-1] == (
        "Not proven: other hands or suspensions may be better, by what weighs 1.1 semitones at most."
    )


def test_a_song_in_another_key_says_where_it_comes_from():
    made = arrangement()
    moved = made._replace(song=replace(made.song, written_key=made.key.relative))
    assert table(moved)[0] == "Low Tide · Bb major (written in G minor) · 72 · 4/4"


@pytest.mark.parametrize(
    ("start", "beat"), [(Fraction(3, 2), "2 1/2"), (Fraction(0), "1"), (Fraction(1, 3), "1 1/3"), (Fraction(3), "4")]
)
def test_beats_as_musicians_count_them(start, beat):
    made = arrangement()
    section = made.sections[0]
    first = replace(section.chords[0], start=start)
    lines = table(made._replace(sections=(section._replace(chords=(first,), octaves=()), made.sections[1])))
    assert re.match(rf" +1 +{beat}  Bb ", lines[5])
