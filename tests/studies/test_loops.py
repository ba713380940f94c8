"""The loop: the most frequent one is found, its ways round are the least, from each inversion, in each key."""

from __future__ import annotations

from itertools import pairwise, product

import pytest

from arranger.harmony.fingers import inversion
from arranger.harmony.taste import DEFAULT
from arranger.harmony.voicings import close_voicings, frames, hand_movement
from arranger.studies.loops import loop_study, most_frequent_loop
from arranger.studies.study_hands import close_hands, fingers_along, least_path
from tests.harmony import songs
from tests.studies.practised import one, told

PLAIN = DEFAULT._replace(arc=False, suspensions=DEFAULT.suspensions * 0)

# Table B3 (close-position paths by exhaustive search, G3 to G5; the loops are those of Open Music Theory 1st ed.,
# "Harmony in pop/rock music"): the hand that begins, and the least movement.
STOCK = [
    ("C G Am F", (60, 64, 67), True, 12),
    ("C Am F G", (60, 64, 67), True, 12),
    ("Am F C G", (60, 64, 69), True, 12),
    ("C F G", (60, 64, 67), True, 12),
    ("Dm G C", (62, 65, 69), False, 7),
    ("C G Am Em F C F G", (60, 64, 67), True, 30),
]


@pytest.mark.parametrize(("names", "start", "closed", "semitones"), STOCK)
def test_stock_loops(names: str, start: tuple[int, ...], closed: bool, semitones: int) -> None:
    chords = [songs.chord(name) for name in names.split()]
    choices = [close_voicings(tuple(sorted(chord.pitch_classes)), 55, 79, 12) for chord in chords]
    path = least_path(choices[1:], start, [48] * len(chords), DEFAULT, closed=closed)
    assert sum(map(hand_movement, path, (*path[1:], *path[: int(closed)]))) == semitones


# Closed loops of frames between A3 and G5, by exhaustive search: the least, and the one path that has it; then the
# same in close position.
FRAMES = [
    ("Bb Eb Gm F", 14, 12, (58, 62, 65, 70)),
    ("G D Em C", 14, 12, (67, 71, 74, 79)),
    ("A F#m D E", 16, 12, (64, 69, 73, 76)),
]


@pytest.mark.parametrize(("names", "framed", "close", "start"), FRAMES)
def test_least_paths_in_frames_and_close(names: str, framed: int, close: int, start: tuple[int, ...]) -> None:
    chords = [songs.chord(name) for name in names.split()]
    for choices, least in (
        ([frames(chord, 57, 79) for chord in chords], framed),
        ([close_voicings(tuple(sorted(chord.pitch_classes)), 57, 79, 12) for chord in chords], close),
    ):
        paths = [least_path(choices[1:], first, [48] * 4, DEFAULT, closed=True) for first in choices[0]]
        sums = [sum(map(hand_movement, path, (*path[1:], path[0]))) for path in paths]
        assert min(sums) == least
        if least == framed:
            assert [path[0] for path, total in zip(paths, sums, strict=True) if total == least] == [start]


def test_the_least_path_is_that_of_brute_force() -> None:
    for names in ("C F G Em", "D A Bm G", "Eb Cm7 Fm7 Bb7", "C E Am"):
        chords = [songs.chord(name) for name in names.split()]
        choices = [close_hands(chord, DEFAULT) for chord in chords]
        for start in choices[0]:
            path = least_path(choices[1:], start, [45] * len(chords), DEFAULT, closed=True)
            found = sum(map(hand_movement, path, (*path[1:], start)))
            ways = product(*choices[1:])
            assert found == min(sum(map(hand_movement, (start, *way), (*way, start))) for way in ways)


def test_the_most_frequent_loop_in_its_keys() -> None:
    many = one("| C | G | Am | F |\n| C | G | Am | F |\n| C | G | Am | F |\n| C | G | Am | F |", taste=PLAIN)
    moved = one("| D | A | Bm | G |\n| D | A | Bm | G | D |", "key D\n", "Two", PLAIN)
    other = one("| F | C | Bb | F | C | Bb | F |", "key F\n", "Three", PLAIN)
    loop = most_frequent_loop([other, many, moved])
    assert [" ".join(map(str, where.chords)) for where in loop] == ["C G Am F", "D A Bm G"]
    assert [where.times for where in loop] == [12, 5]  # 16 chords have 12 rounds that are over by the end; 9 have 5
    study = loop_study([other, many, moved], PLAIN)
    assert study is not None
    assert "".join(map(str, study.heading)) == "The loop C G Am F by inversions in C, D"


def test_a_loop_begun_elsewhere_is_the_same_loop() -> None:
    song = one("| Am | F | C | G |\n| Am | F | C | G |", taste=PLAIN)
    begun = one("| D | A | Bm | G | D |", "key D\n", "Two", PLAIN)
    loop = most_frequent_loop([song, begun])
    assert [" ".join(map(str, where.chords)) for where in loop] == ["Am F C G", "Bm G D A"]


def test_a_chord_that_the_song_suspends_first_counts_once() -> None:
    song = one("| C | F | Gsus4 G | C | F | Gsus4 G | C |", taste=PLAIN)
    assert [" ".join(map(str, where.chords)) for where in most_frequent_loop([song])] == ["C F G"]


def test_rows_go_round_from_each_inversion_and_once_in_root_position() -> None:
    study = loop_study([one("| C | G | Am | F |\n| C | G | Am | F | C |", taste=PLAIN)], PLAIN)
    assert study is not None
    rows = {told(row): row for row in study.rows}
    assert list(rows) == [
        "C, from root position",
        "C, all in root position, to hear the difference",
        "C, from first inversion",
        "C, from second inversion",
    ]
    for label, row in rows.items():
        assert row.hands[0].right == row.hands[-1].right and row.hands[0].fingers == row.hands[-1].fingers
        # In root position a fifth down is 15 and the fourth back up 21 (3 for each semitone of the roots), G to Am and
        # Am to F 1 less than 6 and 12 for the minor third.
        assert row.movement == (15, 5, 11, 21) if "all" in label else sum(row.movement) == 12, label
        if "from" in label:
            assert label.endswith(f"from {['root position', 'first inversion', 'second inversion'][_lowest(row)]}")
    root = rows["C, all in root position, to hear the difference"]
    assert all(inversion(hand.chord, tuple(p.midi for p in hand.right)) == "root" for hand in root.hands if hand.chord)
    assert all(hand.fingers == (1, 3, 5) for hand in root.hands)


def _lowest(row: object) -> int:
    hand = row.hands[0]  # type: ignore[attr-defined]
    return ("C", "E", "G").index(str(hand.right[0].name))


def test_no_loop_and_no_room() -> None:
    assert loop_study([one("| C | F | G | Am |", taste=PLAIN)], PLAIN) is None
    assert most_frequent_loop([one("| C | F | C | F |", taste=PLAIN)])[0].times == 2  # to and fro
    narrow = PLAIN._replace(low=60, high=64)
    assert loop_study([one("| C | G | Am | F | C |", taste=PLAIN)], narrow) is None


def test_fingers_that_stay() -> None:
    path = ((60, 64, 67), (60, 65, 69), (59, 62, 67), (60, 64, 67))
    fingers = fingers_along(path)
    assert fingers[0] == fingers[-1] == (1, 3, 5)
    for (one_hand, before), (two, after) in pairwise(zip(path, fingers, strict=True)):
        held = dict(zip(one_hand, before, strict=True))
        assert sum(held.get(key, finger) != finger for key, finger in zip(two, after, strict=True)) <= 1
