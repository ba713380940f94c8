"""Breaking rows into lines, with square characters: everything comes out in whole numbers."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from arranger.layout import style
from arranger.layout.content.collect import collect
from arranger.layout.content.model import BarContent, PlannedLine, SectionContent
from arranger.layout.content.pictures import white_count
from arranger.layout.model import Line
from arranger.layout.pages.players_part import lay_out
from arranger.layout.setting import spacing
from arranger.layout.setting.line_plan import Room, plan
from arranger.layout.setting.spacing import BarBoxes, bar_boxes, space, with_keyboards
from arranger.pdf.fonts import metrics
from arranger.song.model import Section, Step
from arranger.song.read import read
from arranger.text.source import Source
from tests.harmony.songs import TODAY
from tests.layout import songs
from tests.layout.square import SQUARE

PLAIN = TODAY._replace(suspensions=Fraction(0), octaves="none")
# A bar with a word of n square letters is as wide as this, if the word is wider than the picture.
SIDES = style.BAR_PAD + style.BAR_END


def endless(width: float) -> Room:
    """Return the room of pages without end around music of a width."""
    return Room(width, style.COLUMN + style.GUTTER + width, float("inf"))


def content(section: Section) -> SectionContent:
    return collect(songs.arranged(songs.song("T", [section]), PLAIN), SQUARE)[0]


def lines(width: float, *rows: tuple[str, ...]) -> tuple[PlannedLine, ...]:
    return plan(content(songs.section("A", "C", rows)), endless(width), SQUARE)


def numbers(planned: tuple[PlannedLine, ...]) -> list[list[int]]:
    return [[bar.content.number for bar in line.bars] for line in planned]


def word(letters: int) -> str:
    return "m" * letters


def bar_width(letters: int) -> float:
    return letters * style.WORDS + SIDES


FOUR = ("| C | F | G | C |", " | ".join([word(15)] * 4))


def test_a_row_is_one_line_where_it_just_fits() -> None:
    assert numbers(lines(4 * bar_width(15) + style.FINAL_PAD, FOUR)) == [[1, 2, 3, 4]]


def test_a_row_that_does_not_fit_breaks_evenly() -> None:
    assert numbers(lines(4 * bar_width(15) + style.FINAL_PAD - 1, FOUR)) == [[1, 2], [3, 4]]
    assert numbers(lines(2 * bar_width(15) - 1, FOUR)) == [[1], [2], [3], [4]]


def test_six_bars_break_in_three_and_three_though_four_would_fit() -> None:
    six = ("| C | F | G | C | F | C |", " | ".join([word(15)] * 6))
    assert numbers(lines(4.5 * bar_width(15), six)) == [[1, 2, 3], [4, 5, 6]]


def test_a_long_bar_gets_the_room_of_two() -> None:
    row = ("| C | F | G |", f"{word(32)} | {word(15)} | {word(15)}")
    assert numbers(lines(bar_width(32) + bar_width(15), row)) == [[1], [2, 3]]


def test_each_row_begins_a_line() -> None:
    assert numbers(lines(4000.0, ("| C | F |",), ("| G | C |",))) == [[1, 2], [3, 4]]


def test_broken_lines_fill_the_width_and_short_rows_do_not() -> None:
    width = 4 * bar_width(15) - 1
    assert [line.bars[-1].right for line in lines(width, FOUR)] == pytest.approx([width] * 2)
    (short,) = lines(4000.0, ("| C | F |",))
    assert short.bars[-1].right == pytest.approx(2000.0)


def test_a_bar_that_is_wider_than_the_line_breaks_between_its_chords() -> None:
    planned = lines(bar_width(20), ("| C G |", f"{word(15)} * {word(15)}"))
    assert [[c.column.time for c in line.bars[0].columns] for line in planned] == [[0], [2]]
    first, second = (line.bars[0].content for line in planned)
    assert (first.whole_start, first.whole_end) == (True, False)
    assert (second.whole_start, second.whole_end) == (False, True)


def test_words_that_are_wider_than_the_line_go_on_below() -> None:
    planned = lines(40 * style.WORDS, ("| C |", f"{word(20)} {word(20)}"))
    texts = ["".join(r.text for r in line.bars[0].columns[0].column.words[0].runs) for line in planned]  # type: ignore[union-attr]
    assert texts == [word(20), word(20)]


def test_pictures_are_as_large_as_costs_no_line() -> None:
    wide = lines(4000.0, ("| C | F | G | C |",))
    assert wide[0].key_width == style.KEY_WIDTHS[0]
    row = ("| C F | G C | F G | C F |",)
    wide = lines(4000.0, row)
    shown = [[column.picture for column in bar.columns] for bar in wide[0].bars]
    natural = {}
    for key_width in style.KEY_WIDTHS:
        picture = white_count(*wide[0].keys) * key_width
        bare = [bar_boxes(b.content, p, SQUARE) for b, p in zip(wide[0].bars, shown, strict=True)]
        boxes = [with_keyboards(bar, picture) for bar in bare]
        natural[key_width] = space(boxes, 0.0).end
    for width in natural.values():
        (line,) = lines(width, row)
        assert line.key_width == next(size for size, least in natural.items() if least <= width)
    broken = lines(min(natural.values()) - 1, row)
    assert len(broken) == 2 and broken[0].key_width == style.KEY_WIDTHS[0]


def test_a_hand_is_drawn_wherever_it_is_not_the_one_before_it() -> None:
    (line,) = lines(4000.0, ("| C | F | C | F | F | C |",))
    drawn = [column.picture is not None for bar in line.bars for column in bar.columns]
    assert drawn == [True, True, True, True, False, True]


def test_a_hand_that_goes_on_is_drawn_where_a_line_begins() -> None:
    first, second = lines(4000.0, ("| C | C |",), ("| C | F |",))
    assert [bar.columns[0].picture is not None for bar in first.bars] == [True, False]
    held = second.bars[0].columns[0].picture
    assert held is not None and {mark.kind for mark in held.marks} == {"held"}


def test_all_pictures_of_a_section_show_the_same_keys() -> None:
    planned = lines(4000.0, ("| C | F | Am |",), ("| G | Dm | C |",))
    assert planned[0].keys == planned[1].keys


def test_cues_stand_at_their_row_and_the_name_at_the_first() -> None:
    section = songs.section("Bridge", "C", [("| C |",), ("| F |",)], cues=["wait"])
    section = replace(section, rows=(section.rows[0], replace(section.rows[1], cues=section.rows[0].cues)))
    planned = plan(content(section), endless(4000.0), SQUARE)
    assert [entry.text for entry in planned[0].margin][:2] == ["Bridge", "wait"]
    assert [entry.text for entry in planned[1].margin] == ["wait"]


def test_shapes_that_only_spell_notes_yield_where_they_cost_a_line() -> None:
    row = ("| Gm7 C7 | F6 Dm7 | Gm7 C7 | F6 Dm7 |",)
    section = content(songs.section("A", "F", [row]))

    def shapes(width: float) -> list[str]:
        planned = plan(section, endless(width), SQUARE)
        columns = [placed for line in planned for bar in line.bars for placed in bar.columns]
        return ["".join(run.text for run in placed.picture.shape) for placed in columns if placed.picture]

    wide = shapes(4000.0)
    assert any("-" in shape for shape in wide)
    narrow = next(width for width in range(4000, 100, -10) if not any("-" in shape for shape in shapes(width)))
    assert numbers(plan(section, endless(narrow), SQUARE)) == [[1, 2, 3, 4]]


def test_the_ticks_of_a_fill_stand_where_its_beats_are() -> None:
    """Between the chords of a bar, time goes in proportion to place."""
    made = songs.song("Ticks", [songs.section("A", "C", [("| C | F | G C | F |",)])], band=["bass"])
    document, _ = lay_out(songs.arranged(made, TODAY._replace(octaves="every")), metrics())
    line = [item for item in document.pages[0].items if isinstance(item, Line)]
    bars = sorted({item.x1 for item in line if item.role == "barline"})
    ticks = sorted(item.x1 for item in line if item.role == "octave tick")
    first = [x for x in ticks if x < bars[1]]
    start = bars[0] + style.BAR_PAD
    beats = [4 * (x - start) / (bars[1] - start) for x in first]
    assert beats == pytest.approx([3.0, 3.5])


def sung_words(made: Section, width: float) -> list[list[str]]:
    """Give the words of each line, in order."""
    return [
        [
            "".join(run.text for run in words.runs)
            for bar in line.bars
            for c in bar.columns
            for words in c.column.words
            if words
        ]
        for line in plan(content(made), endless(width), SQUARE)
    ]


def test_a_word_that_goes_on_keeps_its_hyphen_whatever_its_bar_begins_with() -> None:
    section = songs.section("A", "C", [("| C | F |", "* words un- | der")])
    assert sung_words(section, 2000.0) == [["words un-", "der"]]


def test_a_word_inside_a_bar_that_is_broken_keeps_its_hyphen() -> None:
    section = songs.section("A", "C", [("| C F G Am |", "mmmmmmmm*mmmmmmmm * nnnnnnnn * nnnnnnnn")])
    words = sung_words(section, 130.0)
    assert words[0] == ["mmmmmmmm-"] and words[1][0] == "mmmmmmmm"


def test_a_short_first_bar_shows_how_short_it_is_and_the_next_its_own_meter() -> None:
    source = "song Short\nkey C\nsection A\n| short 1/4 G | C | F |\n"
    song, problems = read(Source.of("short", source))
    assert song is not None, problems
    (line,) = plan(collect(songs.arranged(song, PLAIN), SQUARE)[0], endless(2000.0), SQUARE)
    assert [(str(bar.content.meter), bar.content.meter_shown) for bar in line.bars] == [
        ("1/4", True), ("4/4", True), ("4/4", False),
    ]  # fmt: skip


def test_the_last_section_played_ends_with_a_heavy_line_and_no_other() -> None:
    made = [songs.section(name, "C", [("| C | F |",), ("| G | C |",)]) for name in ("A", "B")]
    song = songs.song("Last", made, [Step(1), Step(0)])
    sections = [collect(songs.arranged(song, PLAIN), SQUARE)[index] for index in (0, 1)]
    finals = [[bar.final for row in section.rows for bar in row.bars] for section in sections]
    assert finals == [[False, False, False, True], [False] * 4]
    cut = replace(song, roadmap=(Step(1), Step(0, from_bar=1, to_bar=2)))
    assert not any(bar.final for row in collect(songs.arranged(cut, PLAIN), SQUARE)[0].rows for bar in row.bars)


def test_a_long_bar_is_measured_in_proportion_to_its_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice the columns, about twice the work: no column is measured again for every count of columns."""
    measured = 0

    def counted(bar: BarContent, *more: Any) -> BarBoxes:
        nonlocal measured
        measured += len(bar.columns)
        return bar_boxes(bar, *more)

    monkeypatch.setattr(spacing, "bar_boxes", counted)
    counts = []
    for chords in (48, 96):
        row = f"| {' '.join(['C', 'F', 'G', 'Am'] * (chords // 4))} |"
        song, _ = read(Source.of("long.song.txt", f"song Long\nkey C\nmeter 24/2\n\nsection A\n{row}\n"))
        assert song is not None
        measured = 0
        planned = plan(collect(songs.arranged(song, PLAIN), metrics())[0], endless(300.0), metrics())
        assert sum(len(bar.content.columns) for line in planned for bar in line.bars) == chords
        counts.append(measured)
    assert counts[1] < 3 * counts[0]
