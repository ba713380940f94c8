"""Sources and how a diagnostic is printed: the place, the line, the mark under it, the hints."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.text.diagnostics import EXCERPT, error, has_errors, in_order, render, warning
from arranger.text.source import Source, Span
from arranger.text.terminal import printable, steers


def shown(text: str, start: int, end: int, *hints: str) -> list[str]:
    return render(error("wrong", "it is wrong", Span(start, end), *hints), Source("a.song.txt", text)).split("\n")


def test_place_line_mark_and_hints():
    assert shown("key D\n| D | H |\n", 12, 13, "`B` is meant") == [
        "a.song.txt:2:7: error wrong: it is wrong",
        "  | D | H |",
        "        ^",
        "  hint: `B` is meant",
    ]


def test_a_diagnostic_without_a_place():
    told = render(warning("odd", "it is odd", None, "one", "two"), Source("a", "text"))
    assert told == "a: warning odd: it is odd\n  hint: one\n  hint: two"


@pytest.mark.parametrize(
    ("text", "start", "end", "line", "mark"),
    [
        ("\t| H |", 3, 4, "    | H |", "      ^"),  # a tab
        ("sing | 海 x", 9, 10, "sing | 海 x", "          ^"),  # wide characters take two columns
        ("sing | e\u0301 x", 10, 11, "sing | e\u0301 x", "         ^"),  # a combining mark takes none
        ("| abc\n| d |", 2, 8, "| abc", "  ^^^"),  # no further than the line
        ("| D |", 5, 5, "| D |", "     ^"),  # the end of the line
        ("a\x1b[2Jb H", 7, 8, "a\ufffd[2Jb H", "       ^"),
        ("", 0, 0, "", "^"),
    ],
)
def test_the_mark_stands_under_the_place(text, start, end, line, mark):
    _, excerpt, under = shown(text, start, end)
    assert (excerpt, under) == ("  " + line, "  " + mark)


def test_a_long_line_is_cut_around_the_place():
    text = "x" * 500 + "H" + "y" * 500
    _, excerpt, under = shown(text, 500, 501)
    assert len(excerpt) == EXCERPT + 2
    assert excerpt[under.index("^")] == "H"


def test_in_order_of_place():
    late, early, nowhere = error("c", "", Span(9, 10)), warning("b", "", Span(1, 2)), error("a", "")
    assert in_order([late, early, nowhere]) == (nowhere, early, late)
    assert has_errors([early, late])
    assert not has_errors([early])


def test_raw_text_is_made_plain():
    source = Source.of("a", "\ufeffsong e\u0301\r\nkey D\rmeter 3/4\n")
    assert source.text == "song \u00e9\nkey D\nmeter 3/4\n"
    assert source.line_count == 4
    assert [source[source.line_span(n)] for n in range(1, 5)] == ["song \u00e9", "key D", "meter 3/4", ""]


@given(st.text(alphabet="ab\n", max_size=60))
def test_lines_and_columns_count_as_editors_do(text):
    source = Source("a", text)
    lines = text.split("\n")
    assert source.line_count == len(lines)
    for offset in range(len(text) + 1):
        before = text[:offset].split("\n")
        assert source.line_column(offset) == (len(before), len(before[-1]) + 1)
    assert [source[source.line_span(n)] for n in range(1, len(lines) + 1)] == lines


@given(st.text(max_size=80), st.integers(0, 80), st.integers(0, 80))
def test_anything_can_be_shown_and_steers_nothing(text, start, length):
    source = Source("a", text)
    start = min(start, len(text))
    told = render(error("wrong", text, Span(start, min(start + length, len(text))), text), source)
    assert not any(steers(c) for c in told if c != "\n")
    assert printable(told.replace("\n", "")) == told.replace("\n", "")
