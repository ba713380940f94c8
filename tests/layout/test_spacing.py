"""Spacing: nothing touches, equal bars are equally wide, the line is as long as asked."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.layout.setting.spacing import BarBoxes, ColumnBoxes, RowBox, fit, space


def bar(*steps: tuple[float, tuple[RowBox, ...]], tail: float = 4.0) -> BarBoxes:
    return BarBoxes(2.0, 1.0, tuple(ColumnBoxes(quarters, boxes) for quarters, boxes in steps), tail)


def box(width: float, row: int = 0, left: float = 0.0) -> RowBox:
    return RowBox(row, left, width, 3.0)


def test_a_bar_is_as_narrow_as_its_boxes_allow() -> None:
    spaced = space([bar((0.0, (box(10.0),)), (2.0, (box(20.0),)))], 0.0)
    assert spaced.columns == ((2.0, 15.0),)
    assert spaced.end == 36.0  # 15 + 20 + 1: the gap after a box does not count before a barline


def test_rows_do_not_push_each_other() -> None:
    spaced = space([bar((0.0, (box(50.0, row=1), box(10.0))), (2.0, (box(5.0),)), (1.0, (box(5.0, row=1),)))], 0.0)
    assert spaced.columns == ((2.0, 15.0, 55.0),)


def test_what_reaches_left_keeps_clear_too() -> None:
    spaced = space([bar((0.0, (box(10.0),)), (2.0, (box(5.0, left=4.0),)), (1.0, (box(1.0, row=2, left=30.0),)))], 0.0)
    assert spaced.columns == ((2.0, 19.0, 32.0),)


def test_columns_move_apart_in_proportion_to_time() -> None:
    spaced = fit([bar((0.0, (box(5.0),)), (3.0, (box(5.0),)), tail=1.0)], 46.0)
    assert spaced.columns[0] == pytest.approx((2.0, 35.0))
    assert spaced.end == pytest.approx(46.0)


def test_equal_bars_are_equally_wide_although_their_texts_differ() -> None:
    bars = [bar((0.0, (box(width),))) for width in (5.0, 20.0, 11.0, 1.0)]
    spaced = fit(bars, 400.0)
    widths = [right - left for left, right in zip(spaced.barlines, (*spaced.barlines[1:], spaced.end), strict=True)]
    assert widths == pytest.approx([100.0] * 4)


def test_a_bar_that_needs_more_takes_it_from_all_others_alike() -> None:
    spaced = fit([bar((0.0, (box(197.0),))), bar((0.0, (box(1.0),))), bar((0.0, (box(1.0),)))], 400.0)
    assert spaced.barlines == pytest.approx((0.0, 200.0, 300.0))


boxes = st.builds(RowBox, st.integers(0, 3), st.floats(0, 20), st.floats(0, 60), st.floats(0, 6))
a_box_a_row = st.lists(boxes, max_size=4, unique_by=lambda one: one.row).map(tuple)
steps = st.builds(ColumnBoxes, st.sampled_from((0.5, 1.0, 2.0)), a_box_a_row)
bars = st.builds(
    BarBoxes, st.floats(0, 9), st.floats(0, 9), st.lists(steps, min_size=1, max_size=5).map(tuple), st.floats(0.5, 4)
)


@pytest.mark.slow
@given(st.lists(bars, min_size=1, max_size=6), st.floats(1.0, 3.0))
def test_lines_are_as_long_as_asked_and_nothing_touches(line: list[BarBoxes], more: float) -> None:
    width = space(line, 0.0).end * more + 1.0
    spaced = fit(line, width)
    assert spaced.end == pytest.approx(width, abs=1e-3)
    for number, one in enumerate(line):
        left = spaced.barlines[number]
        right = spaced.barlines[number + 1] if number + 1 < len(line) else spaced.end
        free: dict[int, float] = {}
        last = left
        for x, step in zip(spaced.columns[number], one.steps, strict=True):
            assert x >= last - 1e-6
            last = x
            seen: dict[int, float] = {}
            for one_box in step.boxes:
                assert x - one_box.left >= free.get(one_box.row, left + one.before) - 1e-6
                assert x + one_box.right + one.after <= right + 1e-3
                seen[one_box.row] = x + one_box.right + one_box.gap
            free |= seen
