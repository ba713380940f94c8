"""Sung words and rows of notes against the chords of their row."""

from __future__ import annotations

import unicodedata
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.song.model import Piece
from arranger.song.read import read
from arranger.song.words_and_notes import nearest_pitch
from arranger.text.source import Source
from arranger.theory.pitch import LETTERS, NoteName, Pitch
from tests.song.texts import HEAD, codes, problems, row, section

F = Fraction


def sung(bar: str, words: str) -> list[tuple[str, int | None]]:
    """Lay a bar's words on its chords: text and place, glued pieces with a tilde."""
    (line,) = row(f"| F | {bar} |\nsing | | {words} |").words
    return [(("~" if p.glued else "") + p.text, p.chord) for p in line.bars[1].pieces]


@pytest.mark.parametrize(
    ("bar", "words", "expected"),
    [
        ("C", "hung the", [("hung the", 0)]),
        ("C G", "came * in to", [("came", 0), ("in to", 1)]),
        ("C G", "lan*terns", [("lan", 0), ("~terns", 1)]),
        ("C G", "lan *terns", [("lan", 0), ("terns", 1)]),
        ("C G", "lan* terns", [("lan", 0), ("terns", 1)]),
        ("C G F /", "**word", [("", 0), ("", 1), ("word", 2)]),
        ("C G F /", "one **word", [("one", 0), ("", 1), ("word", 2)]),
        ("C G F /", "lan**terns", [("lan", 0), ("", 1), ("~terns", 2)]),
        ("C G", "* the", [("", 0), ("the", 1)]),
        ("C G", "call *", [("call", 0)]),  # without a mark the chord comes after the last word too
        ("C G", "call", [("call", 0)]),
        ("/ G", "one * two", [("one", None), ("two", 0)]),
        ("rest G", "* two", [("two", 0)]),
        ("/ G F /", "one * two * three", [("one", None), ("two", 0), ("three", 1)]),
        ("rest /", "spoken", [("spoken", None)]),
        ("N.C. G", "one * two", [("one", 0), ("two", 1)]),
        ("C", "", []),
        ("C", "one _ two", [("one _ two", 0)]),
        ("C", r"\*one\| \\ \_ two\-", [(r"*one| \ _ two-", 0)]),
        ("C G", r"one\\*two", [("one\\", 0), ("~two", 1)]),
        ("C", "light -", [("light -", 0)]),  # a dash, not a hyphen: it stands apart
        ("%", "la", [("la", 0)]),
    ],
)
def test_words_stand_at_their_chords(bar: str, words: str, expected: list[tuple[str, int | None]]) -> None:
    assert sung(bar, words) == expected


def test_a_repeated_bar_takes_words_as_the_bar_it_repeats() -> None:
    (line,) = row("| C G | % |\nsing | a | one * two |").words
    assert [p.chord for p in line.bars[1].pieces] == [0, 1]


def test_words_join_across_a_barline() -> None:
    (line,) = row("| C | F | G |\nsing | one a- | - | long |").words
    assert [(b.pieces[0].text if b.pieces else "", b.joins) for b in line.bars] == [
        ("one a", True),
        ("", True),
        ("long", False),
    ]


def test_missing_bars_are_empty_and_the_last_sign_may_be_left_out() -> None:
    (line,) = row("| C | F | G | C |\nsing | one | | three").words
    assert [[p.text for p in b.pieces] for b in line.bars] == [["one"], [], ["three"], []]


def test_several_rows_of_words() -> None:
    found = row("|: C :| x3\nsing | one |\nsing | two |")
    assert [line.bars[0].pieces[0].text for line in found.words] == ["one", "two"]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("| C |\nsing | a | b |", "too-many-bars"),
        ("| C G |\nsing | a * b * c |", "too-many-marks"),
        ("| C |\nsing | a * b |", "too-many-marks"),
        ("| / G |\nsing | a * b * c |", "too-many-marks"),
        ("| C |\nsing la la", "row-start"),
        ("| C | G |\nsing | a || b |", "plain-bars-only"),
        ("| C | G |\nsing |: a | b :|", "plain-bars-only"),
        ("| C |\nsing", "empty-row"),
        ("| C |\nsing | a\\b |", "bad-escape"),
    ],
)
def test_what_is_wrong_in_words(text: str, code: str) -> None:
    first = "| F |\n" if "/ G" in text else ""
    assert set(codes(f"section One\n{first}{text}")) == {code}


def test_both_counts_are_told() -> None:
    (many,) = problems("section One\n| C | G |\nsing | a | b | c |")
    assert "2 bars" in many.message and "found 3" in many.message
    (marks,) = problems("section One\n| C G |\nsing | a * b * c |")
    assert "1 `*`" in marks.message and "found 2" in marks.message


@pytest.mark.parametrize(
    "words", ["שלום עולם", "ありがとう", "Dès que l’été", "ใจ", "न\u200dम\u200cस्ते", "\u200fאבג\u200e abc", "e\u0301"]
)
def test_words_of_any_script_pass_through(words: str) -> None:
    (line,) = row(f"| C |\nsing | {words} |").words
    assert line.bars[0].pieces[0].text == unicodedata.normalize("NFC", words)


PLAIN = st.text(
    st.characters(exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp"), exclude_characters="|｜*_\\-"), min_size=1
)


@given(
    st.lists(PLAIN, min_size=1, max_size=4), st.lists(st.sampled_from(["*", " * ", " *", "**"]), min_size=3, max_size=3)
)
def test_words_are_kept_to_the_letter(words: list[str], marks: list[str]) -> None:
    """All that is not a mark comes out again, and each piece is the text at its span."""
    written = "".join(w + m for w, m in zip(words, [*marks, ""], strict=False))
    source = Source.of("t", f"{HEAD}section One\n| {'C ' * 8}|\nsing | {written} |")
    song, said = read(source)
    if any(d.code == "plain-bars-only" for d in said):  # text that begins or ends with a colon
        return
    assert song is not None, said
    pieces = song.sections[0].rows[0].words[0].bars[0].pieces
    kept = unicodedata.normalize("NFC", written)
    assert "".join(p.text for p in pieces) == kept.replace("*", "").replace(" ", "")
    for piece in pieces:
        assert source.text[piece.span.start : piece.span.end] == piece.text
    assert all(isinstance(p, Piece) and p.chord is not None for p in pieces)


# Rows of notes.


def notes(text: str, chords: str = "| C | G |") -> list[list[tuple[str, F, F]]]:
    line = row(f"{chords}\nhook {text}").hook
    assert line is not None
    return [[(str(n.pitch or "rest"), n.start, n.length) for n in bar] for bar in line.bars]


def test_notes_share_the_bar_and_go_on() -> None:
    assert notes("| F#5 E5 D5 / | / rest (C5 D5) / |") == [
        [("F#5", 0, 1), ("E5", 1, 1), ("D5", 2, 3)],
        [("rest", 1, 1), ("C5", 2, F(1, 2)), ("D5", F(5, 2), F(3, 2))],
    ]


def test_a_row_of_notes_may_have_fewer_bars() -> None:
    assert notes("| C5 |") == [[("C5", 0, 4)]]


def test_notes_follow_the_nearest_way() -> None:
    assert [n for n, _, _ in notes("| C4 G F# C |")[0]] == [
        "C4",
        "G3",
        "F#3",
        "C3",
    ]  # F# to C: six both ways, the lower


@given(st.sampled_from(LETTERS), st.integers(-1, 1), st.integers(30, 90))
def test_the_nearest_pitch_is_the_nearest(letter: str, alter: int, midi: int) -> None:
    name = NoteName(letter, alter)
    last = next(
        Pitch(NoteName(n, a), o)
        for o in range(9)
        for n in LETTERS
        for a in (0, 1)
        if Pitch(NoteName(n, a), o).midi == midi
    )
    found = nearest_pitch(name, last)
    assert found.name == name
    assert -6 <= found.midi - midi <= 5


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("hook | C |", "octave-missing"),
        ("hook | C4 x |", "bad-note"),
        ("hook | c4 |", "bad-note"),
        ("hook | C9 |", "bad-note"),
        ("hook | / C4 |", "nothing-sounds"),
        ("hook | C4 D E |", "wrong-count"),
        ("hook | () |", "bad-group"),
        ("hook | C4 | D | E |", "too-many-bars"),
        ("hook C4", "row-start"),
        ("octave | C4 |\noctave | C4 |", "fact-twice"),
    ],
)
def test_what_is_wrong_in_notes(line: str, code: str) -> None:
    assert codes(f"section One\n| C | G |\n{line}") == [code]


def test_each_kind_of_row_has_its_place() -> None:
    found = section("| C |\noctave | C3 |\nhook | C5 |\ntune | C4 |\nsing | la |").rows[0]
    assert [str(line and line.bars[0][0].pitch) for line in (found.octave, found.hook, found.tune)] == [
        "C3",
        "C5",
        "C4",
    ]
    assert len(found.words) == 1


def test_an_escaped_underscore_is_told_from_a_held_syllable() -> None:
    (line,) = row("| C G |\nsing | snake\\_case _ * a\\\\b\\_ |\n").words
    first, second = line.bars[0].pieces
    assert (first.text, first.plain) == ("snake_case _", (5,))
    assert (second.text, second.plain) == ("a\\b_", (3,))
