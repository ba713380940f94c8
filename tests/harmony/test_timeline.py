"""The roadmap unrolled: what is heard when, who shares a voicing, where the chain is cut."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.repeats import played_bars
from arranger.song.model import Song, Step
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(suspensions=Fraction(0), octaves="none")


def heard(song: Song) -> list[str]:
    timeline = songs.unrolled(song)
    return [str(timeline.at(h.chord).chord) for h in timeline.heard]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (["C | F | G"], "C F G"),
        (["C | % | G"], "C C G"),
        (["C | % | % | G"], "C C C G"),
        ([": C | F :", "G"], "C F C F G"),
        ([": C | 1. F : | 2. G", "Am"], "C F C G Am"),
        (["C", ": F | G :", "Am"], "C F G F G Am"),
        ([": C | F", "G | 1. Am : | 2. Em"], "C F G Am C F G Em"),
        (["C | / | G"], "C G"),
        (["C | N.C. | G"], "C G"),
    ],
)
def test_repeats_and_endings(rows: list[str], expected: str) -> None:
    assert " ".join(heard(songs.one("C", *rows))) == expected


def test_more_than_two_times() -> None:
    song = songs.one("C", "C | F :")
    bars = song.sections[0].rows[0].bars
    three = replace(song.sections[0].rows[0], bars=(bars[0], replace(bars[1], repeat_times=3)))
    assert " ".join(heard(replace(song, sections=(replace(song.sections[0], rows=(three,)),)))) == "C F C F C F"


def test_a_part_of_a_section_plays_the_repeats_wholly_inside_and_of_endings_the_last() -> None:
    part = songs.section("A", "C", ["C | : F | G : | Am", ": Dm | 1. Em : | 2. E | C"])
    flat = {(r, b): part.rows[r].bars[b].number for r in range(2) for b in range(len(part.rows[r].bars))}
    assert [flat[x] for x in played_bars(part, 2, 4)] == [2, 3, 2, 3, 4]
    assert [flat[x] for x in played_bars(part, 3, 4)] == [3, 4]
    assert [flat[x] for x in played_bars(part, 5, 6)] == [5, 6]
    assert [flat[x] for x in played_bars(part, 5, 8)] == [5, 6, 5, 7, 8]


def test_a_vamp_and_times() -> None:
    section = songs.section("A", "C", ["C | G"])
    assert heard(songs.song([section], [Step(0, times=3)])) == ["C", "G"] * 3
    assert heard(songs.song([section], [Step(0, until="the bride is in")])) == ["C", "G"] * 2


def test_times_in_quarters() -> None:
    timeline = songs.unrolled(songs.one("C", "C / / F | G"))
    assert [(h.at, h.length) for h in timeline.heard] == [(0, 3), (3, 1), (4, 4)]


def test_a_push_comes_early_and_shortens_the_chord_before() -> None:
    song = songs.one("C", "C | F")
    row = song.sections[0].rows[0]
    bar = row.bars[1]
    assert bar.marks[0].chord is not None
    pushed = replace(bar, marks=(replace(bar.marks[0], chord=replace(bar.marks[0].chord, push=Fraction(1, 2))),))
    song = replace(song, sections=(replace(song.sections[0], rows=(replace(row, bars=(row.bars[0], pushed)),)),))
    found = [(h.at, h.length) for h in songs.unrolled(song).heard]
    assert found == [(0, Fraction(7, 2)), (Fraction(7, 2), Fraction(9, 2))]


def test_equal_rows_share_their_voicings() -> None:
    timeline = songs.unrolled(songs.one("C", "C | F | G", "C | F | G", "C= | F | G", "C | F | Am", "C | F=F4A4C5 | G"))
    numbers = [p.unknown for p in timeline.printed[0]]
    assert numbers[:3] == numbers[3:6] == numbers[6:9]
    assert len({*numbers[:3], *numbers[9:]}) == 9


def test_a_chord_that_goes_on_over_equal_rows_joins_them() -> None:
    timeline = songs.unrolled(songs.one("C", "C | F | G | C", "C | F | G | C"))
    assert [p.unknown for p in timeline.printed[0]] == [0, 1, 2, 0, 0, 1, 2, 0]


def test_a_chord_that_goes_on_is_one_unknown() -> None:
    timeline = songs.unrolled(songs.one("C", "C C | C | F"))
    assert [p.unknown for p in timeline.printed[0]] == [0, 0, 0, 1]
    assert [p.repeats for p in timeline.printed[0]] == [False, True, True, False]


def test_copies_are_moved_by_the_nearest_way() -> None:
    model = songs.section("A", "C", ["C | F"])
    for key, shift in (("D", 2), ("B", -1), ("F#", 6), ("G", -5), ("C", 0)):
        timeline = songs.unrolled(songs.song([model, songs.copy_of(model, 0, key, None)]))
        assert [p.shift for p in timeline.printed[1]] == [shift, shift]
        assert [p.unknown for p in timeline.printed[1]] == [0, 1]


@pytest.mark.parametrize(
    ("bars", "cuts"),
    [
        ("C | F | G", [True, False, False]),
        ("C | rest | G", [True, True]),
        ("C | N.C. | G", [True, True]),
        ("C rest | G", [True, False]),
        ("C rest | rest G", [True, True]),  # together a whole bar
        ("rest | C | G", [True, False]),
    ],
)
def test_cuts(bars: str, cuts: list[bool]) -> None:
    assert [h.cut for h in songs.unrolled(songs.one("C", bars)).heard] == cuts


def test_tacet_cuts() -> None:
    first, second = songs.section("A", "C", ["C | F"]), songs.section("B", "C", ["C | F"])
    song = songs.song([first, replace(second, tacet=True)], [Step(0), Step(1), Step(0)])
    assert [h.cut for h in songs.unrolled(song).heard] == [True, False, True, False]


def test_what_the_roadmap_leaves_out_has_hands_too() -> None:
    song = songs.song([songs.section("A", "C", ["C | F"]), songs.section("B", "C", ["Am | G"])], [Step(0)])
    found, _ = arranged(song, PLAIN)
    assert found is not None
    assert all(c.right for c in found.sections[1].chords)
    assert 60 <= found.sections[1].chords[0].right[1].midi <= 68  # near the target, not at the window's edge


def test_copies_in_other_keys_keep_the_shapes() -> None:
    model = songs.section("A", "C", ["C | Am7 | F | G7"])
    found, problems = arranged(songs.song([model, songs.copy_of(model, 0, "D", "f")]), PLAIN)
    assert found is not None and not problems
    for one, two in zip(found.sections[0].chords, found.sections[1].chords, strict=True):
        assert [p.midi + 2 for p in one.right] == [p.midi for p in two.right]


def test_a_copy_that_fits_no_window_is_solved_alone_and_said() -> None:
    model = songs.section("A", "C", ["C=C4E4G4C5 | G=B3D4G4 | C=G3C4E4"])
    narrow = PLAIN._replace(low=55, high=72)
    first = songs.section("A", "C", ["C | F"])
    found, problems = arranged(songs.song([first, songs.copy_of(first, 0, "F#", None)]), narrow)
    assert found is not None
    told = [p.code for p in problems]
    fits = all(p.midi <= 72 for s in found.sections for c in s.chords for p in c.right)
    assert fits and (told == ["copy-has-own-hands"]) == found.sections[1].solved_alone
    assert model.rows


def test_the_last_row_of_figures_adds_up() -> None:
    """`movement`, `moved` and `common` are recomputed here from the printed voicings."""
    found, _ = arranged(songs.one("C", "C | Am7 | F G/B | C"), PLAIN)
    assert found is not None
    for chord in found.sections[0].chords:
        if chord.came_from is None:
            continue
        before = [p.midi for p in found.chord(chord.came_from).right]
        now = [p.midi for p in chord.right]
        assert chord.common == len(set(before) & set(now))
        assert chord.moved == len(set(now) - set(before))
        if len(before) == len(now):
            assert chord.movement == sum(abs(a - b) for a, b in zip(before, now, strict=True))
    total = sum(c.movement for c in found.sections[0].chords)
    assert found.movement.arranged == total
