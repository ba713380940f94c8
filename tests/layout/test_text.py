"""Setting text: faces by coverage, breaking in whole numbers of square characters."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from arranger.layout.text import MUSIC_SCALE, Run, place, runs, width_of, wrap
from tests.layout.square import SQUARE, SquareMetrics


def test_a_text_that_its_face_covers_is_one_run() -> None:
    assert runs("hear us", "regular", 10.0, SQUARE) == (Run("hear us", "regular", 10.0, 0.0, 70.0),)
    assert runs("", "regular", 10.0, SQUARE) == ()


def test_signs_that_a_face_lacks_come_from_the_music_face() -> None:
    metrics = SquareMetrics(music="♮𝄪")
    parts = runs("F♮ A", "bold", 10.0, metrics)
    assert [(run.text, run.face, run.size) for run in parts] == [
        ("F", "bold", 10.0),
        ("♮", "music", 10.0 * MUSIC_SCALE),
        (" A", "bold", 10.0),
    ]
    assert width_of(parts) == 10 + 13 + 20


def test_what_no_face_has_stays_in_the_face_asked_for() -> None:
    assert [run.face for run in runs("a漢b", "regular", 10.0, SquareMetrics(missing="漢"))] == ["regular"]


def test_runs_are_placed_side_by_side() -> None:
    parts = (Run("G", "bold", 16.0, 0.0, 16.0), Run("7", "bold", 11.0, 4.0, 11.0))
    items = place(parts, 100.0, 50.0, "chord")
    assert [(item.x, item.y, item.text) for item in items] == [(100.0, 50.0, "G"), (116.0, 46.0, "7")]


def test_lines_break_at_blanks() -> None:
    assert wrap("one two three", "regular", 1.0, 7.0, SQUARE) == ("one two", "three")
    assert wrap("one two three", "regular", 1.0, 6.0, SQUARE) == ("one", "two", "three")
    assert wrap("", "regular", 1.0, 6.0, SQUARE) == ()


def test_a_word_that_is_too_wide_breaks_inside() -> None:
    assert wrap("a harbourmaster b", "regular", 1.0, 6.0, SQUARE) == ("a", "harbou", "rmaste", "r b")
    assert wrap("abc", "regular", 1.0, 0.5, SQUARE) == ("a", "b", "c")


@given(st.text("ab c", max_size=60), st.integers(1, 12))
def test_breaking_keeps_every_letter_and_fits(text: str, width: int) -> None:
    lines = wrap(text, "regular", 1.0, float(width), SQUARE)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(len(line) <= width for line in lines)
