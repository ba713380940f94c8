"""Songs in other keys."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.song.model import Song
from arranger.song.transpose import respelled, transposed
from arranger.theory.key import Key, all_keys
from arranger.theory.pitch import NoteName, Pitch
from arranger.theory.qualities import QUALITIES
from tests.song.texts import song

MAJORS = [k for k in all_keys() if not k.minor]
SUFFIXES = [q.name for q in QUALITIES]


def diatonic(key: Key) -> Song:
    """Make a song of the key's own chords, with basses, pins and notes from its scale."""
    names = [str(n) for n in key.scale]
    chords = [f"{n}{s}" for n, s in zip(names, ("", "m", "mi7", "maj7", "7sus4", "m", "ø"), strict=True)]
    chords += [f"{names[0]}/{names[2]}", f"{names[4]}7={names[4]}3{names[6]}4{names[1]}", f"({names[3]})="]
    rows = "".join(f"| {a} {b} |\n" for a, b in zip(chords[::2], chords[1::2], strict=True))
    return song(f"section A\n{rows}hook | {names[0]}4 {names[4]} |\n", f"song T\nkey {key}\n")


def written(found: Song) -> list[str]:
    return [m.chord.written for s in found.sections for b in s.bars for m in b.marks if m.chord]


@pytest.mark.parametrize("home", MAJORS, ids=str)
@pytest.mark.parametrize("target", MAJORS, ids=str)
def test_a_diatonic_song_is_the_song_of_the_other_key(home: Key, target: Key) -> None:
    """Every degree, written as its own key writes it, whatever the pair of keys; spellings stay as typed."""
    here, there = transposed(diatonic(home), target), diatonic(target)
    assert written(here) == written(there)
    chords = [[m.chord and m.chord.chord for b in s.bars for m in b.marks] for f in (here, there) for s in f.sections]
    assert chords[0] == chords[1]
    assert (here.key, here.written_key) == (target, home)


@settings(max_examples=60)
@given(
    st.sampled_from(MAJORS),
    st.sampled_from(MAJORS),
    st.lists(
        st.tuples(st.sampled_from("CDEFGAB"), st.sampled_from(SUFFIXES), st.sampled_from(["", "/C", "/E", "/F#"])),
        min_size=1,
        max_size=8,
    ),
)
def test_there_and_back(home: Key, target: Key, chords: list[tuple[str, str, str]]) -> None:
    """What sounds comes back; and so does its name unless it went through a name that was simplified."""
    row = "| " + " | ".join("".join(c) for c in chords) + " |"
    found = song(f"section A\n{row}\nhook | C4 E G / |\n", f"song T\nkey {home}\n")
    back = transposed(transposed(found, target), home)
    for before, after in zip(found.sections[0].bars, back.sections[0].bars, strict=True):
        (one,), (two,) = before.marks, after.marks
        assert one.chord is not None and two.chord is not None
        assert one.chord.chord.pitch_classes == two.chord.chord.pitch_classes
        assert one.chord.chord.bass_name.pitch_class == two.chord.chord.bass_name.pitch_class
        assert one.span == two.span
    assert replace(back, written_key=None).key == found.key
    (hook,), (again,) = ([r.hook for r in s.sections[0].rows] for s in (found, back))
    assert hook is not None and again is not None
    assert [n.pitch and n.pitch.midi % 12 for n in hook.bars[0]] == [
        n.pitch and n.pitch.midi % 12 for n in again.bars[0]
    ]


def test_notes_move_the_nearest_way() -> None:
    found = song("section A\n| C=CEG4 |\nhook | C5 |")
    for key, pitch, pin in (
        ("D", "D5", "A4"),
        ("Bb", "Bb4", "F4"),
        ("F#", "F#5", "C#5"),
        ("Gb", "Gb5", "Db5"),
        ("G", "G4", "D4"),
    ):
        moved = transposed(found, Key.parse(key)).sections[0]
        hook = moved.rows[0].hook
        assert hook is not None and hook.bars[0][0].pitch == Pitch.parse(pitch)
        chord = moved.bars[0].marks[0].chord
        assert chord is not None and f"{chord.pins[2].name}{chord.pins[2].octave}" == pin


def test_section_keys_move_along_and_keep_to_keys_that_exist() -> None:
    found = song("section A\n| C |\nsection B\nkey E\n| E A |\n")
    moved = transposed(found, Key.parse("B"))  # E is four sharps more than C: D sharp major becomes E flat major
    assert [str(s.facts.key) for s in moved.sections] == ["B", "Eb"]
    assert written(moved) == ["B", "Eb", "Ab"]


def test_a_capo_is_dropped() -> None:
    found = song("section A\n| C |", "song T\nkey D\ncapo 2 in C\n")
    moved = transposed(found, Key.parse("E"))
    assert moved.capo is None and written(moved) == ["E"]


def test_the_first_text_stays_the_written_one() -> None:
    found = transposed(transposed(song("section A\n| C |"), Key.parse("D")), Key.parse("E"))
    assert found.written_key == Key.parse("C")


def test_a_song_keeps_its_mode() -> None:
    with pytest.raises(ValueError, match="A minor"):
        transposed(song("section A\n| C |"), Key.parse("Am"))


@pytest.mark.parametrize(
    ("text", "root", "bass", "expected"),
    [
        ("C6/9", "D", None, "D6/9"),
        ("C6/9/E", "D", "F#", "D6/9/F#"),
        ("Cm/maj7", "Bb", None, "Bbm/maj7"),
        ("F##mi7(b9 #5)/A#", "G", "B", "Gmi7(b9 #5)/B"),
    ],
)
def test_only_root_and_bass_are_respelled(text: str, root: str, bass: str | None, expected: str) -> None:
    assert respelled(text, NoteName.parse(root), NoteName.parse(bass) if bass else None) == expected
