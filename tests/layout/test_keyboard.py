"""Pictures of the keyboard: the range shown, where keys lie, what moved from where."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.layout.content.pictures import (
    disc_place,
    key_centre,
    marks,
    shown_range,
    signs,
    white_count,
    white_index,
    white_key,
)
from arranger.layout.model import Disc, Keyboard, KeyMark, Line, Shape, Tie
from arranger.layout.style import KEYS_AT_LEAST
from arranger.theory.pitch import is_black

KEYS = st.integers(40, 90)
HANDS = st.sets(st.integers(53, 79), min_size=1, max_size=4).map(sorted)


def test_white_keys_are_counted() -> None:
    assert [white_index(key) - white_index(60) for key in (59, 60, 61, 62, 64, 65, 71, 72)] == [-1, 0, 0, 1, 2, 3, 6, 7]
    assert white_count(60, 72) == 8
    assert all(white_index(white_key(index)) == index for index in range(75))


@given(st.lists(KEYS, min_size=1, max_size=6))
def test_the_range_shows_all_keys_between_white_ones(keys: list[int]) -> None:
    low, high = shown_range(keys)
    assert not is_black(low) and not is_black(high)
    assert low <= min(keys) and max(keys) <= high
    assert white_count(low, high) >= KEYS_AT_LEAST
    width = white_count(low, high)
    assert all(0 < key_centre(key, low) < width for key in keys)


def test_the_range_reaches_down_to_a_near_middle_c() -> None:
    assert shown_range([64, 67, 71])[0] == 60
    assert shown_range([65, 69, 72]) == (60, 72)
    assert shown_range([65, 69, 72, 77]) == (65, 77)
    assert shown_range([69, 72, 76]) == (67, 79)


@given(st.integers(40, 89))
def test_keys_lie_from_left_to_right(key: int) -> None:
    assert key_centre(key, 36) < key_centre(key + 1, 36)


def test_common_tones_are_held_and_the_others_come_from_the_nearest() -> None:
    # D to G: D4 F#4 A4 to D4 G4 B4.
    assert marks((62, 66, 69), (62, 67, 71)) == (
        KeyMark(62, "held"),
        KeyMark(67, "moved", 66),
        KeyMark(71, "moved", 69),
    )


def test_a_free_hand_comes_from_nowhere() -> None:
    assert marks((), (60, 64, 67)) == tuple(KeyMark(key, "fresh") for key in (60, 64, 67))


def test_an_added_finger_comes_from_nowhere_and_a_lifted_one_leaves_no_mark() -> None:
    assert marks((60, 64, 67), (60, 64, 67, 69))[-1] == KeyMark(69, "moved", None)
    assert marks((60, 64, 67, 70), (60, 65, 69)) == (
        KeyMark(60, "held"),
        KeyMark(65, "moved", 64),
        KeyMark(69, "moved", 70),
    )


@given(HANDS, HANDS)
def test_every_key_is_marked_once_and_origins_were_down(before: list[int], now: list[int]) -> None:
    found = marks(before, now)
    assert [mark.key for mark in found] == now
    assert {mark.key for mark in found if mark.kind == "held"} == set(before) & set(now)
    origins = [mark.origin for mark in found if mark.origin is not None]
    assert len(origins) == len(set(origins)) and set(origins) <= set(before) - set(now)
    assert len(origins) == min(len(set(before) - set(now)), len(set(now) - set(before)))


def picture(before: tuple[int, ...], now: tuple[int, ...], resolves: tuple[int, int] | None = None) -> Keyboard:
    low, high = shown_range([*before, *now])
    return Keyboard(100.0, 50.0, low, high, 6.0, 30.0, marks(before, now), resolves)


def test_held_notes_are_smaller_with_a_tie_and_moved_ones_have_a_stroke() -> None:
    drawn = signs(picture((62, 66, 69), (62, 67, 71)))
    discs = sorted((item.x, item.radius) for item in drawn if isinstance(item, Disc))
    assert discs[0][1] < discs[1][1] == discs[2][1]
    ties = [item for item in drawn if isinstance(item, Tie)]
    assert [(tie.x1 + tie.x2) / 2 for tie in ties] == [pytest.approx(discs[0][0])]
    assert all(tie.y < 50.0 for tie in ties)
    assert sum(isinstance(item, Shape) for item in drawn) == 2


def test_a_stroke_begins_on_the_key_that_was_left() -> None:
    shown = picture((60, 64, 67), (60, 65, 69))
    strokes = [item for item in signs(shown) if isinstance(item, Shape)]
    for item, (origin, key) in zip(strokes, ((64, 65), (67, 69)), strict=True):
        start, end = disc_place(origin, shown), disc_place(key, shown)
        assert (item.points[0].x + item.points[3].x) / 2 == pytest.approx(start.x)
        assert (item.points[1].x + item.points[2].x) / 2 == pytest.approx(end.x)


def test_a_stroke_does_not_run_through_a_played_key() -> None:
    shown = picture((60, 64, 67), (64, 67, 71))
    (stroke,) = [item for item in signs(shown) if isinstance(item, Shape)]
    assert min(point.x for point in stroke.points) > disc_place(67, shown).x


def test_a_suspension_leads_to_a_ring_where_it_goes() -> None:
    shown = picture((60, 65, 67), (60, 65, 67), (65, 64))
    (ring,) = [item for item in signs(shown) if isinstance(item, Disc) and item.ring]
    assert (ring.x, ring.y) == (disc_place(64, shown).x, disc_place(64, shown).y)
    assert sum(isinstance(item, Line) for item in signs(shown)) == 1
