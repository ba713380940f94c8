"""Rows of chords: marks in time, meters, short bars, pushes, repeats, endings."""

from __future__ import annotations

from fractions import Fraction

import pytest

from arranger.song.chord_rows import allowed_counts, felt_beats
from arranger.song.model import Meter
from arranger.song.sections import times_played
from tests.song.texts import bars, codes, names, row, section

F = Fraction


def starts(text: str, meter: str = "4/4") -> list[F]:
    return [m.start for m in bars(f"meter {meter}\n{text}")[-1].marks]


@pytest.mark.parametrize(
    ("meter", "bar", "expected"),
    [
        ("4/4", "| C |", [0]),
        ("4/4", "| C F |", [0, 2]),
        ("4/4", "| C / / F |", [0, 1, 2, 3]),
        ("4/4", "| C / / F / / / G |", [F(n, 2) for n in range(8)]),
        ("3/4", "| C / F |", [0, 1, 2]),
        ("2/2", "| C F |", [0, 2]),
        ("6/8", "| C F |", [0, F(3, 2)]),
        ("6/8", "| C / / F / / |", [F(n, 2) for n in range(6)]),
        ("12/8", "| C F G C |", [0, F(3, 2), 3, F(9, 2)]),
        ("5/8", "| C / / F / |", [F(n, 2) for n in range(5)]),
        ("5/4", "| C / / F / |", [0, 1, 2, 3, 4]),
    ],
)
def test_marks_share_the_bar_equally(meter: str, bar: str, expected: list[F]) -> None:
    assert starts(bar, meter) == expected
    marks = bars(f"meter {meter}\n{bar}")[-1].marks
    assert sum(m.length for m in marks) == Meter(*map(int, meter.split("/"))).length


@pytest.mark.parametrize(
    ("meter", "counts"),
    [
        ("4/4", [1, 2, 4, 8]),
        ("3/4", [1, 3, 6]),
        ("2/4", [1, 2, 4]),
        ("5/4", [1, 5, 10]),
        ("2/2", [1, 2, 4, 8]),
        ("3/2", [1, 3, 6, 12]),
        ("6/8", [1, 2, 6]),
        ("9/8", [1, 3, 9]),
        ("12/8", [1, 2, 4, 12]),
        ("3/8", [1, 3]),
        ("7/8", [1, 7]),
    ],
)
def test_how_many_marks_a_bar_takes(meter: str, counts: list[int]) -> None:
    one = Meter(*map(int, meter.split("/")))
    assert allowed_counts(one.length, felt_beats(one, one.length)) == counts
    for number in range(1, 14):
        said = codes(f"section One\nmeter {meter}\n| C{' /' * (number - 1)} |")
        assert said == ([] if number in counts else ["wrong-count"])


def test_kinds_of_marks() -> None:
    bar, silent, same, none = bars("| C rest / / | / G | % | NC / n.c. C |")
    assert names(bar) == ["C", "rest", "slash", "slash"]
    assert names(silent) == ["slash", "G"]
    assert same.repeats_last and same.marks == ()
    assert names(none) == ["none", "slash", "none", "C"]


def test_manner_takes_no_share() -> None:
    (bar,) = bars("| C hold G7 stop accent |")
    assert [(m.start, m.chord and m.chord.manner) for m in bar.marks] == [(0, ("hold",)), (2, ("stop", "accent"))]


def test_words_of_a_row_are_read_without_case() -> None:
    (bar,) = bars("| Rest N.C. C Hold / |")
    assert names(bar) == ["rest", "none", "C", "slash"]


@pytest.mark.parametrize(
    ("feel", "meter", "push"),
    [("straight", "4/4", F(1, 2)), ("swing", "4/4", F(1, 3)), ("half-time", "4/4", F(1, 2)), ("swing", "6/8", F(1, 2))],
)
def test_a_push_is_an_eighth_or_the_swung_one(feel: str, meter: str, push: F) -> None:
    marks = bars(f"meter {meter}\n| C <G |", f"song T\nkey C\nfeel {feel}\n")[0].marks
    assert [m.chord and m.chord.push for m in marks] == [0, push]
    assert marks[1].start == Meter(*map(int, meter.split("/"))).length / 2  # its place in the bar stays


def test_meters_stand_where_they_change() -> None:
    one, two, three, four = bars("| C | 2/4 G | 4/4 Am | F |")
    assert [(str(b.meter), b.length, b.meter_shown) for b in (one, two, three, four)] == [
        ("4/4", 4, False),
        ("2/4", 2, True),
        ("4/4", 4, True),
        ("4/4", 4, False),
    ]


def test_a_meter_holds_to_the_end_of_its_section() -> None:
    first, second = section("| C | 3/4 G |\n| F |").rows
    assert str(second.bars[0].meter) == "3/4"
    assert first.bars[1].number == 2 and second.bars[0].number == 3


@pytest.mark.parametrize(("meter", "short", "length"), [("4/4", "1/4", 1), ("6/8", "1/8", F(1, 2)), ("3/4", "2/4", 2)])
def test_a_short_bar_is_bar_nought(meter: str, short: str, length: F) -> None:
    first, second = bars(f"meter {meter}\n| short {short} C | G |")
    assert (first.number, first.length, first.short, second.number) == (0, length, True, 1)
    assert first.marks[0].length == length


def test_a_short_bar_counts_its_own_beats() -> None:
    assert [m.start for m in bars("| short 2/4 C G | F |")[0].marks] == [0, 1]
    assert codes("section One\n| short 3/4 C G | F |") == ["wrong-count"]


def test_signs_of_repeats() -> None:
    found = bars("|: C | G :| x3 |: F :|: Am || C :|")
    assert [(b.repeat_start, b.repeat_times, b.double) for b in found] == [
        (True, 0, False),
        (False, 3, False),
        (True, 2, False),
        (True, 0, True),
        (False, 2, False),
    ]


@pytest.mark.parametrize("text", ["|: C :| x3 | G |", "|: C :| x3 G |", "|: C :|x3| G |", "|: C :| X 3 | G |"])
def test_how_often_may_be_followed_by_a_barline_or_not(text: str) -> None:
    assert [b.repeat_times for b in bars(text)] == [3, 0]


@pytest.mark.parametrize("text", ["|: C | G :| |: F | C :|", "|: C | G :|: F | C :|", "|: C | G :||: F | C :|"])
def test_two_repeats_side_by_side(text: str) -> None:
    assert [(b.repeat_start, b.repeat_times) for b in bars(text)] == [(True, 0), (False, 2), (True, 0), (False, 2)]


@pytest.mark.parametrize("number", ["|1.2.", "|1,2.", "| 1.2.", "|1.,2.".replace(".,", ",")])
def test_endings(number: str) -> None:
    found = bars(
        f"|: C | {number[1:]} G :|3. F || Am |" if number.startswith("| ") else f"|: C {number} G :|3. F || Am |"
    )
    assert [b.ending for b in found] == [(), (1, 2), (3,), ()]
    assert [b.repeat_times for b in found] == [0, 2, 0, 0]
    assert [b.ending_close for b in found] == [False, False, True, False]
    assert times_played(found) == [3, 2, 1, 1]


def test_an_ending_may_have_several_bars_and_rows() -> None:
    found = bars("|: C | G |1. F |\n| G :|2. Am |\n| F |")
    assert [b.ending for b in found] == [(), (), (1,), (), (2,), ()]
    assert [b.ending_close for b in found] == [False, False, False, False, False, True]
    assert times_played(found) == [2, 2, 1, 1, 1, 1]


def test_a_repeat_without_its_start_goes_back_to_the_section_or_the_last_repeat() -> None:
    assert times_played(bars("| C | G :| F :| x3 Am |")) == [2, 2, 3, 1]


def test_the_last_barline_may_be_left_out() -> None:
    assert [names(b) for b in bars("| C | G")] == [["C"], ["G"]]


@pytest.mark.parametrize("text", ["｜ C ｜ G ｜", "│ C │ G │", "|\tC\t|\u00a0G |", "  | C|G|  "])
def test_other_bars_and_blanks(text: str) -> None:
    assert [names(b) for b in bars(text)] == [["C"], ["G"]]


def test_a_percent_sign_repeats_what_it_repeats() -> None:
    found = bars("| C G | % | % |")
    assert [b.repeats_last for b in found] == [False, True, True]
    assert [b.number for b in found] == [1, 2, 3]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("| | C |", "empty-bar"),
        ("| C |  | C |", "empty-bar"),
        ("|", "empty-row"),
        ("| C % |", "repeat-not-alone"),
        ("| % |", "nothing-to-repeat"),
        ("| C | 3/4 % |", "repeat-other-length"),
        ("| / C |", "nothing-sounds"),
        ("| C | short 1/4 G |", "short-not-first"),
        ("| short 4/4 G | C |", "bad-short"),
        ("| short G | C |", "bad-short"),
        ("| short | C |", "bad-short"),
        ("| C 3/4 |", "meter-not-first"),
        ("| 3/5 C |", "bad-meter"),
        ("| 0/4 C |", "bad-meter"),
        ("| C ||| G |", "bad-barline"),
        ("| hold C |", "manner-without-chord"),
        ("| rest hold |", "manner-without-chord"),
        ("| C / / / / / / <G |", None),
        ("| C G / / / / / <G |", None),
        ("| C / / / / / G <F |", "push-too-long"),
        ("| C / / / / / <G <F |", None),  # a pushed chord has had its eighth before
        ("| C | G :| x1 |", "bad-times"),
        ("| C | G :| x100 |", "bad-times"),
        ("| C | x3 G |", "loose-times"),
        ("| C |\n:| G |", "repeat-at-row-start"),
        ("|: C | G |", "repeat-open"),
        ("|: C |: G :|", "repeat-open"),
        ("|: C |1. G :|2. F :|", "ending-last"),
        ("|: C |1. G |2. F ||", "ending-without-repeat"),
        ("|: C |1. G :|3. F ||", "ending-order"),
        ("|: C |2. G :|3. F ||", "ending-order"),
        ("|: C |1. G || F |", "ending-alone"),
        ("|: C |1. G :| x3 |2. F ||", "ending-times"),
    ],
)
def test_what_is_wrong_in_a_row(text: str, code: str | None) -> None:
    assert codes(f"section One\n{text}") == ([code] if code else [])


def test_the_first_chord_is_not_pushed() -> None:
    assert codes("section One\n| <C | G |") == ["push-at-start"]
    assert codes("section One\n| rest <C | G |") == ["push-at-start"]
    assert codes("section One\n| C | <G |\nsection Two\n| <F |") == []


def test_spans_of_marks() -> None:
    text = "section One\n|  F#m7  | (G)=BDG hold |"
    found = section(text.split("\n")[1])
    source = "song Test\nkey C\nsection One\n|  F#m7  | (G)=BDG hold |"
    marks = [m for b in found.bars for m in b.marks]
    assert [source[m.span.start : m.span.end] for m in marks] == ["F#m7", "(G)=BDG"]
    assert [source[b.span.start : b.span.end] for b in found.bars] == ["F#m7", "(G)=BDG hold"]
    one = row("| C | G |")
    assert one.bars[0].span.start == one.span.start + 2
