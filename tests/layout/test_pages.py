"""Dividing lines over pages: sections together, no line alone, fewest pages first."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from arranger.layout import style
from arranger.layout.content.model import PlannedLine, Rows
from arranger.layout.pages.part_draft import PartLine
from arranger.layout.pages.turning import PagePlan, divide, spread
from arranger.layout.setting.music import SetLine

HEIGHT = 100.0
ROWS = Rows(0, 0, 0, 0, 0, 0, 0, (), 0, HEIGHT)


def lines(counts: Sequence[int], height: float = HEIGHT) -> list[PartLine]:
    """Give sections of so many lines each, all of one height."""
    made = []
    for section, count in enumerate(counts):
        for number in range(count):
            planned = PlannedLine(section, number == 0, (), (), 0, (60, 72), 5.0)
            ready = SetLine(planned, ROWS, (), None, height)
            made.append(PartLine(ready, ready))
    return made


def paginate(lines: Sequence[PartLine], first_room: float, room: float) -> tuple[PagePlan, ...]:
    """Divide lines as the part does."""
    return divide([line.block for line in lines], first_room, room)


def apart(lines: Sequence[PartLine], plan: PagePlan, room: float) -> tuple[float, ...]:
    """Give the room above each line as on the part."""
    return spread([line.block for line in lines], plan, room, style.SPREAD)


def pages(counts: Sequence[int], first: float, room: float) -> list[int]:
    """Give how many lines each page has; rooms are in lines."""
    gap = len(counts) * style.SECTION_GAP
    plans = paginate(lines(counts), first * HEIGHT + gap, room * HEIGHT + gap)
    return [plan.end - plan.first for plan in plans]


def test_all_on_one_page() -> None:
    assert pages([3, 2], 5, 6) == [5]
    assert pages([], 5, 6) == [0]


def test_a_section_that_does_not_fit_begins_the_next_page() -> None:
    assert pages([2, 2, 2], 5, 6) == [4, 2]
    assert pages([4, 4], 6, 6) == [4, 4]


def test_a_section_longer_than_a_page_is_divided_without_a_lonely_line() -> None:
    assert pages([9], 8, 8) == [7, 2]
    assert pages([3, 7], 5, 5) == [5, 5]


def test_a_section_is_divided_where_keeping_it_whole_would_leave_more_than_a_third_of_a_page_empty() -> None:
    assert pages([1, 8], 8, 8) == [7, 2]
    assert pages([5, 5], 8, 8) == [8, 2]
    assert pages([6, 6], 8, 8) == [6, 6]


def test_a_heading_never_stands_alone_at_the_foot() -> None:
    made = lines([2, 2])
    heading = made[2].inside.line._replace(leads_on=True)
    made[2] = PartLine(made[2].inside._replace(line=heading), made[2].at_top)
    plans = paginate(made, 3.2 * HEIGHT, 3.2 * HEIGHT)
    assert [plan.end - plan.first for plan in plans] == [2, 2]


def test_of_equal_pages_the_turn_falls_where_a_hand_is_free() -> None:
    made = [line._replace(turns=number == 3) for number, line in enumerate(lines([1] * 6))]
    plans = paginate(made, 5 * HEIGHT + 50, 5 * HEIGHT + 50)
    assert plans[0].end == 4


def test_fewest_pages_come_before_whole_sections() -> None:
    assert pages([4, 4, 4], 6, 6) == [6, 6]


def test_the_pencil_room_of_the_last_line_may_hang_into_the_margin() -> None:
    plans = paginate(lines([2]), 2 * HEIGHT - style.PENCIL, 500.0)
    assert len(plans) == 1
    assert len(paginate(lines([2]), 2 * HEIGHT - style.PENCIL - 0.01, 500.0)) == 2


def test_no_gap_above_the_first_section_of_a_page() -> None:
    assert len(paginate(lines([1, 1]), HEIGHT, HEIGHT)) == 2


def test_a_head_that_leaves_no_room_stands_alone() -> None:
    assert pages([2], 0.5, 5) == [0, 2]


def test_a_line_higher_than_a_page_has_its_own() -> None:
    plans = paginate(lines([1, 1], height=900.0), 500.0, 500.0)
    assert [plan.end - plan.first for plan in plans] == [1, 1]


@pytest.mark.parametrize("counts", [[1], [2, 5, 3], [7, 7, 7, 1], [12], [1] * 15])
def test_every_line_is_on_exactly_one_page(counts: list[int]) -> None:
    plans = paginate(lines(counts), 450.0, 620.0)
    assert [index for plan in plans for index in range(plan.first, plan.end)] == list(range(sum(counts)))


def gaps(counts: Sequence[int], free: float) -> list[float]:
    """Give the room above each line of one page that leaves so much free."""
    made = lines(counts)
    plan = PagePlan(0, len(made))
    bare = sum(line.inside.height for line in made) + (len(counts) - 1) * style.SECTION_GAP
    return list(apart(made, plan, bare + free))


def test_what_a_page_leaves_free_is_shared_out_and_sections_get_more() -> None:
    assert gaps([2, 2], 0.0) == pytest.approx([0, 0, style.SECTION_GAP, 0])
    assert gaps([2, 2], 10.0) == pytest.approx([0, 2, style.SECTION_GAP + 6, 2])


def test_a_page_is_never_spread_so_far_that_lines_fall_apart() -> None:
    assert gaps([2, 2], 500.0) == pytest.approx([0, style.SPREAD, style.SECTION_GAP + 3 * style.SPREAD, style.SPREAD])
    assert gaps([1], 500.0) == [0]


def test_a_heading_stays_with_its_music_on_a_page_with_room() -> None:
    made = lines([2, 2])
    heading = made[2].inside.line._replace(leads_on=True)
    made[2] = PartLine(made[2].inside._replace(line=heading), made[2].at_top)
    assert apart(made, PagePlan(0, 4), 1000.0)[3] == 0
