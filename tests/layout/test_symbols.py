"""Chord symbols: what is raised, real accidentals, what is light because it is only suggested."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.model import ChordPart, Suspension
from arranger.layout.content.symbols import chord_runs, rest_runs, symbol
from arranger.layout.style import CHORD, CHORD_RAISED, CHORD_RISE
from arranger.theory.chord import Change, Chord
from arranger.theory.interval import Interval
from arranger.theory.pitch import Pitch
from tests.harmony.songs import chord, written
from tests.layout.square import SQUARE


def shown(made: Chord) -> str:
    """Give a symbol as text, raised parts after a caret."""
    return "".join(f"^{run.text}" if run.rise else run.text for run in chord_runs(made, SQUARE))


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("D", "D"),
        ("F#m", "F♯m"),
        ("Bb7", "B♭^7"),
        ("Bm7b5", "Bm^7♭5"),
        ("Ebmaj7", "E♭^maj7"),
        ("Asus4", "Asus4"),
        ("C6/9", "C^6/9"),
        ("C#dim7", "C♯dim^7"),
        ("D/F#", "D/F♯"),
        ("Gm7/F", "Gm^7/F"),
        ("E##m", "E𝄪m"),
    ],
)
def test_symbols_are_printed_as_musicians_write_them(text: str, printed: str) -> None:
    assert shown(chord(text)) == printed


def test_changes_are_raised_in_parentheses() -> None:
    changes = (Change("alter", Interval.parse("b9")), Change("alter", Interval.parse("#11")))
    assert shown(chord("G7")._replace(changes=changes)) == "G^7(♭9 ♯11)"


def test_raised_figures_are_smaller_and_higher() -> None:
    root, figure = chord_runs(chord("G7"), SQUARE)
    assert (root.size, root.rise) == (CHORD, 0.0)
    assert (figure.size, figure.rise) == (CHORD_RAISED, CHORD_RISE)


def part(text: str, kind: str | None = None, for_all: bool = False) -> ChordPart:
    one = written(text)
    made = ChordPart("chord", 0, 0, 0, 0, 1, Fraction(0), Fraction(4), one.chord, one)
    if kind is None:
        return made
    note = Pitch.parse("C4")
    suspension = Suspension(kind, note, True, "held over", None, None, None, for_all, "")  # type: ignore[arg-type]
    return replace(made, suspension=suspension)


@pytest.mark.parametrize(
    ("text", "kind", "suspended"),
    [
        ("G", "sus4", "Gsus4"),
        ("G", "sus2", "Gsus2"),
        ("G7", "sus4", "G7sus4"),
        ("Em", "sus4", "Em(sus4)"),
        ("G/D", "sus4", "G/D(sus4)"),
        ("G/B", "sus2", "G/B(add9)"),
        ("Am/C", "sus2", "Am/C(add9)"),
    ],
)
def test_the_song_s_own_chord_is_whole_and_bold_and_what_is_suggested_is_light(
    text: str, kind: str, suspended: str
) -> None:
    made = symbol(part(text, kind), SQUARE)
    assert "".join(run.text for run in made) == suspended
    assert "".join(run.text for run in made if run.face == "bold") == text
    assert "".join(run.text for run in made if run.face == "regular") == suspended.removeprefix(text)


def test_a_written_suffix_is_bold() -> None:
    assert [(run.text, run.face) for run in symbol(part("Gsus4"), SQUARE)] == [("Gsus4", "bold")]


def test_a_suggestion_is_as_large_as_the_chord_on_a_triad_and_raised_elsewhere() -> None:
    sizes = {text: symbol(part(text, "sus4"), SQUARE)[-1] for text in ("G", "G7", "Em")}
    assert [(sizes[text].size, sizes[text].rise) for text in ("G", "G7", "Em")] == [
        (CHORD, 0.0),
        (CHORD_RAISED, CHORD_RISE),
        (CHORD_RAISED, CHORD_RISE),
    ]


def test_a_suspension_for_all_says_so() -> None:
    assert "".join(run.text for run in symbol(part("G", "sus4", for_all=True), SQUARE)) == "all:\u00a0Gsus4"


def test_optional_chords_stand_in_parentheses() -> None:
    one = part("G7")
    assert one.written is not None
    optional = replace(one, written=replace(one.written, optional=True))
    assert "".join(run.text for run in symbol(optional, SQUARE)) == "(G7)"


@pytest.mark.parametrize(
    ("quarters", "signs"),
    [("4", "𝄻"), ("2", "𝄼"), ("3", "𝄼𝄽"), ("1", "𝄽"), ("1/2", "𝄾"), ("3/2", "𝄽𝄾"), ("6", "𝄻𝄼")],
)
def test_rests_add_up_to_the_silence(quarters: str, signs: str) -> None:
    assert "".join(run.text for run in rest_runs(Fraction(quarters), SQUARE)) == signs


def test_an_optional_chord_closes_where_its_suspension_has_resolved() -> None:
    whole = symbol(part("A", "sus4"), SQUARE)
    assert "".join(run.text for run in whole) == "Asus4"
    optional = replace(part("A", "sus4"), written=replace(written("A"), optional=True))
    assert "".join(run.text for run in symbol(optional, SQUARE)) == "(Asus4)"
    assert "".join(run.text for run in symbol(optional, SQUARE, goes_on=True)) == "(Asus4"
