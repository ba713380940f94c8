"""Spellings of chords: grammar/chord.lark, the table in grammar.py and the table of qualities, held together."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from music21 import harmony

from arranger.habits.signs import LOOKALIKES
from arranger.song import grammar
from arranger.song.cells import BadMark, ChordWord, read_mark
from arranger.song.grammar import Failure, SpelledChord, parse_chord
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import BY_NAME, QUALITIES

ROOTS = [NoteName(letter, alter) for letter in "CDEFGAB" for alter in (-1, 0, 1)]
SPELLINGS = {
    "": "'' M maj ma Maj MA",
    "m": "m min mi - Min MIN",
    "aug": "aug + +5 #5=('(#5)') Aug",
    "dim": "dim ° o Dim DIM mb5 m(b5)",
    "sus2": "sus2 Sus2",
    "sus4": "sus sus4 4 SUS Sus4",
    "5": "5",
    "7": "7",
    "maj7": "maj7 Maj7 MAJ7 ma7 M7 Δ Δ7 (maj7)",
    "m7": "m7 min7 mi7 -7",
    "mMaj7": "mMaj7 mM7 mmaj7 minMaj7 m(maj7) -Δ7 mΔ m/maj7 m(M7)",
    "m7b5": "m7b5 ø ø7 -7b5 m7(b5) min7-5",
    "dim7": "dim7 °7 o7",
    "7#5": "7#5 7+ +7 aug7 7(#5) 7+5",
    "6": "6 maj6 M6 add6",
    "m6": "m6 min6 -6",
    "7sus4": "7sus 7sus4 sus7 7(sus4) 7SUS4",
    "9": "9",
    "maj9": "maj9 M9 Δ9 ma9",
    "m9": "m9 -9 mi9",
    "11": "11",
    "13": "13",
    "add9": "add9 add2 (add9) (9) Add9",
    "madd9": "madd9 m(add9) madd2 minadd9",
    "6/9": "6/9 69 6add9 maj6/9",
    "m6/9": "m6/9 m69",
    "9sus4": "9sus 9sus4 11sus",
    "13sus4": "13sus 13sus4",
    "7alt": "7alt alt",
    "2": "2",
    "maj11": "maj11",
    "m11": "m11 -11",
    "maj13": "maj13 M13",
    "m13": "m13",
    "mMaj9": "mMaj9 -M9",
    "7sus2": "7sus2",
    "6sus4": "6sus4 6sus",
    "maj7sus4": "maj7sus4 M7sus",
}


def meant(text: str) -> Chord:
    word = read_mark(text)
    assert isinstance(word, ChordWord), f"{text}: {word}"
    return word.chord


@pytest.mark.parametrize(("quality", "spellings"), SPELLINGS.items(), ids=lambda v: v.split()[0] if v else "major")
def test_spellings_lead_to_their_row(quality: str, spellings: str) -> None:
    for spelled in spellings.split():
        suffix = "(#5)" if "=" in spelled else spelled.strip("'")
        assert meant("C" + suffix) == Chord(NoteName("C"), BY_NAME[quality]), suffix


def test_every_row_has_spellings_here() -> None:
    assert SPELLINGS.keys() == BY_NAME.keys()


def test_every_row_is_read_as_it_is_printed_with_every_root_and_bass() -> None:
    for root, quality in itertools.product(ROOTS, QUALITIES):
        chord = Chord(root, quality)
        assert meant(str(chord)) == chord
        for bass in ROOTS:
            slashed = Chord(root, quality, (), bass)
            assert meant(str(slashed)) == slashed


CHANGED = {
    "C7b9": "1 3 5 b7 b9",
    "C7(b9)": "1 3 5 b7 b9",
    "C7(b9,#11)": "1 3 5 b7 b9 #11",
    "C7(b9 #9)": "1 3 5 b7 b9 #9",
    "C7b9#9b13": "1 3 5 b7 b9 #9 b13",
    "C7-9": "1 3 5 b7 b9",
    "C7+9": "1 3 5 b7 #9",
    "C7b5": "1 3 b5 b7",
    "C7-5": "1 3 b5 b7",
    "C7-": "1 3 b5 b7",
    "C9+": "1 3 #5 b7 9",
    "Caug9": "1 3 #5 b7 9",
    "C9#11": "1 3 5 b7 9 #11",
    "C9+11": "1 3 5 b7 9 #11",
    "C13#11": "1 3 5 b7 9 #11 13",
    "C13b9": "1 3 5 b7 b9 11 13",
    "Cmaj7#11": "1 3 5 7 #11",
    "Cmaj7+": "1 3 #5 7",
    "C+maj7": "1 3 #5 7",
    "CaugM7": "1 3 #5 7",
    "Cmaj7b5": "1 3 b5 7",
    "Cm9b5": "1 b3 b5 b7 9",
    "Cø9": "1 b3 b5 b7 9",
    "C(b5)": "1 3 b5",
    "C(no3)": "1 5",
    "Cno3": "1 5",
    "C7no5": "1 3 b7",
    "Cadd4": "1 3 4 5",
    "Cadd11": "1 3 5 11",
    "Cm7add11": "1 b3 5 b7 11",
    "C7(13)": "1 3 5 b7 13",
    "C7add13": "1 3 5 b7 13",
    "C7susb9": "1 4 5 b7 b9",
    "C7b9sus4": "1 4 5 b7 b9",
    "Cmaj9sus4": "1 4 5 7 9",
    "C2no5": "1 2",
    "C7altno5": "1 3 b7 #9",
}


@pytest.mark.parametrize("text", CHANGED)
def test_changes(text: str) -> None:
    assert meant(text).members == tuple(sorted(map(Interval.parse, CHANGED[text].split())))


@pytest.mark.parametrize(
    ("text", "root", "suffix"),
    [
        ("Bb5", "Bb", "5"),  # accidentals after the root belong to the root
        ("B(b5)", "B", "(b5)"),
        ("A#9", "A#", "9"),
        ("Ebb", "Ebb", ""),
        ("F##m", "F##", "m"),
        ("C-5b", "", ""),
    ],
)
def test_accidentals_belong_to_the_root(text: str, root: str, suffix: str) -> None:
    if not root:
        assert isinstance(read_mark(text), BadMark)
        return
    chord = meant(text)
    assert (str(chord.root), chord.suffix) == (root, suffix)


@pytest.mark.parametrize("text", ["C-5", "C+9", "C+11", "C+13", "C-5/E"])
def test_what_may_mean_two_things_is_refused(text: str) -> None:
    assert isinstance(read_mark(text), BadMark)


@pytest.mark.parametrize(
    "text",
    ["H", "am", "C8", "C#b", "Cmm", "Csus5", "C7sus2sus4", "C/", "C/f", "C/E/G", "C(", "C)", "(C", "C++", "Cm5", "C66",
     "Cdim9", "C7/6", "C=H", "C=b", "<", "<<C", "()", "C(7)7", "C5sus4", "", "CmM", "C°9"],
)  # fmt: skip
def test_what_is_no_chord(text: str) -> None:
    assert isinstance(read_mark(text), BadMark)


@pytest.mark.parametrize(
    ("text", "like"),
    [("F♯m", "F#m"), ("B♭7", "Bb7"), ("C∆7", "CΔ7"), ("C△", "CΔ"), ("Cº7", "C°7"), ("CØ", "Cø"), ("C–7", "C-7"),
     ("C−7", "C-7"), ("D／F＃", "D/F#"), ("（G）", "(G)")],
)  # fmt: skip
def test_look_alikes(text: str, like: str) -> None:
    replaced = text.translate(LOOKALIKES)
    assert replaced == like
    assert len(replaced) == len(text)  # places stay
    assert isinstance(read_mark(replaced), ChordWord)


def test_look_alikes_are_not_marks_of_ours() -> None:
    assert not any(chr(c).isascii() for c in LOOKALIKES)


KINDS = ["", "m", "min", "mi", "-", "maj", "M", "Δ", "mMaj", "mΔ", "dim", "°", "o", "ø", "aug", "+", "augMaj"]
NUMBERS = ["", "2", "4", "5", "6", "69", "6/9", "7", "9", "11", "13", "alt"]


def test_grammar_and_table_agree() -> None:
    """What the grammar tells apart is all that the table knows, and the table knows nothing more."""
    reached = set()
    for kind, number in itertools.product(KINDS, NUMBERS):
        spelled = parse_chord("C" + kind + number)
        if isinstance(spelled, Failure):
            # Two meanings; and "alt" on what is not a plain root reads as "ma" and more.
            assert (kind, number) in {("-", "5"), ("+", "9"), ("+", "11"), ("+", "13")} or number == "alt"
            continue
        reached.add((spelled.kind, spelled.number))
    assert reached >= grammar._SPELLINGS.keys()
    assert {k for k, _ in grammar._SPELLINGS} == {k for k, _ in reached}


def test_the_tables_name_rows_that_exist() -> None:
    for entry in (*grammar._SPELLINGS.values(), *grammar._SUSPENDED.values(), *grammar._FUSED.values()):
        assert entry.split(" ")[0] in BY_NAME
    for name, _ in (*grammar._SUSPENDED, *grammar._FUSED):
        assert name in BY_NAME


# Spellings that music21 reads too (harmony.ChordSymbol; flats are - there), compared note by note.
SHARED = [
    "m",
    "min",
    "+",
    "aug",
    "dim",
    "o",
    "sus2",
    "sus4",
    "sus",
    "7",
    "maj7",
    "M7",
    "m7",
    "min7",
    "mM7",
    "m7b5",
    "ø7",
    "dim7",
    "o7",
    "7+",
    "6",
    "m6",
    "min6",
    "7sus4",
    "7sus",
    "9",
    "M9",
    "m9",
    "11",
    "M11",
    "m11",
    "13",
    "M13",
    "m13",
]


@pytest.mark.parametrize("suffix", SHARED)
def test_spellings_mean_what_music21_reads(suffix: str) -> None:
    for root in ("C", "F#", "Bb"):
        theirs = harmony.ChordSymbol(root.replace("b", "-") + suffix)
        assert meant(root + suffix).pitch_classes == set(theirs.pitchClasses)


@pytest.mark.parametrize(
    ("text", "push", "optional", "as_written", "pins", "written"),
    [
        ("<G", True, False, False, "", "G"),
        ("(G)", False, True, False, "", "G"),
        ("(G7)=BDF", False, True, True, "B D F", "G7"),
        ("G=", False, False, True, "", "G"),
        ("<G7(b9)=B3DG", True, False, True, "B3 D G", "G7(b9)"),
        ("D/F#=ADF#", False, False, True, "A D F#", "D/F#"),
        ("<(Bb/D)=D4FBb", True, True, True, "D4 F Bb", "Bb/D"),
    ],
)
def test_pushes_parentheses_and_pins(
    text: str, push: bool, optional: bool, as_written: bool, pins: str, written: str
) -> None:
    word = read_mark(text)
    assert isinstance(word, ChordWord)
    found = " ".join(f"{p.name}{'' if p.octave is None else p.octave}" for p in word.pins)
    assert (word.push, word.optional, word.as_written, found, word.written) == (
        push, optional, as_written, pins, written,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "trouble"), [("G=B4D4", "pins-not-rising"), ("G=G4GB4", "pins-not-rising"), ("C=CDEFGA", "too-many-pins")]
)
def test_pins_that_no_hand_plays(text: str, trouble: str) -> None:
    word = read_mark(text)
    assert isinstance(word, BadMark)
    assert word.trouble == trouble


@given(st.text(alphabet="ABCDEFGHabdijmnostu#b♯Δ°ø+-/()0123456789=<x ,", max_size=14))
def test_any_text_is_a_chord_or_not(text: str) -> None:
    word = read_mark(text.translate(LOOKALIKES))
    if isinstance(word, ChordWord):
        assert word.written
        assert word.written in text.translate(LOOKALIKES)
        again = read_mark(str(word.chord))
        assert isinstance(again, ChordWord)
        assert again.chord.pitch_classes == word.chord.pitch_classes
    else:
        assert 0 <= word.at <= len(text)


# The signs round a chord are read by song.lark, the chord itself by chord.lark: the two agree on what a chord is.


@pytest.mark.parametrize("root", ["C", "Db", "F#", "Bbb", "G##", "A"])
@pytest.mark.parametrize(
    ("bass", "pins"), [("", ""), ("/E", ""), ("/Bb", ""), ("", "="), ("", "=BDG"), ("/F#", "=A3DF#")]
)
def test_a_chord_is_the_same_with_signs_round_it(root: str, bass: str, pins: str) -> None:
    suffixes = [s.strip("'") for spellings in SPELLINGS.values() for s in spellings.split() if "=" not in s]
    odd = ["b5", "#5", "-5", "+9", "bb", "#", "##", "/9", "7/Bb", "m7(b9 #5)", "x", "(", "mja7", "sus5", "7b5b9", "/"]
    for suffix in [*suffixes, *odd]:
        chord = f"{root}{suffix}{bass}"
        alone = read_mark(chord)
        for push in ("", "<"):
            marked = read_mark(f"{push}{chord}{pins}")
            if isinstance(alone, ChordWord):
                assert isinstance(marked, ChordWord), chord
                assert (marked.chord, marked.written) == (alone.chord, chord)
                assert (marked.push, marked.as_written) == (bool(push), bool(pins))
            else:
                assert isinstance(marked, BadMark), chord
                assert marked.at == alone.at + len(push), chord
        spelled = parse_chord(chord)
        assert isinstance(alone, ChordWord) or not isinstance(spelled, SpelledChord) or alone.at == len(spelled.root)


@pytest.mark.parametrize(
    ("text", "at"),
    [("<", 1), ("<am", 1), ("(soft)", 1), ("(D", 2), ("D)", 1), ("(D)x", 3), ("(D G)", 3), ("G=H", 2), ("G=B3x", 4),
     ("(D=B)", 2), ("D7(b9", 5), ("(D())", 3), ("G#+11)", 2), ("(C-5x", 4), ("(C-5", 2), ("C7(7)=x", 3),
     ("<(D)=BDH", 7)],
)  # fmt: skip
def test_where_a_mark_stops_making_sense(text: str, at: int) -> None:
    assert read_mark(text) == BadMark("bad-chord", text, at)


@given(st.text(alphabet="ABCGbm#7/9+-()=<sud °Δ", max_size=9))
def test_the_two_grammars_agree_on_any_text(text: str) -> None:
    assume(not set(text) & set(" <=") and not text.startswith("("))
    mark, spelled = read_mark(text), parse_chord(text)
    if isinstance(spelled, Failure):
        assert mark == BadMark("bad-chord", text, spelled.at)
    elif isinstance(mark, ChordWord):
        assert str(mark.chord.root) == spelled.root
        assert str(mark.chord.bass) == str(spelled.bass and NoteName.parse(spelled.bass))
    else:
        assert mark == BadMark("bad-chord", text, len(spelled.root))  # well spelled, and no chord
