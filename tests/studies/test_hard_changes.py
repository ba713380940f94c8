"""Hard changes: ranked as `show --hardest` does, and equal ones up to transposition together."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from arranger.harmony.arrange import work_out
from arranger.harmony.demands import changes_heard, hardest
from arranger.harmony.taste import DEFAULT
from arranger.song.transpose import transposed
from arranger.studies.hard_changes import hard_changes, kind_of_change
from arranger.studies.offer import studies_of
from arranger.studies.study_hands import ArrangedSong
from arranger.theory.key import Key
from tests.studies.practised import one, practised, told

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
TWELVE = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SONG = "| G | D/F# | Em7 | C D |\n| Am7 | D7 | G | G |"


def name(path: Path) -> str:
    return path.name.removesuffix(".song.txt")


@pytest.mark.parametrize("path", SAMPLES, ids=name)
def test_the_ranking_is_that_of_show_hardest(path: Path) -> None:
    """The changes that `show --hardest` lists are studies in that order, by the same measure.

    Of several changes into one chord `show` lists the hardest alone, so of a study whose own hardest change goes where
    a harder one goes too it has no line, or one that asks less.
    """
    arrangement = practised(path.read_text(encoding="utf-8")).arrangement
    demands: dict[object, Fraction] = {}
    for hard in changes_heard(arrangement):
        kind = kind_of_change(arrangement.chord(hard.before), arrangement.chord(hard.where))
        demands[kind] = max(demands.get(kind, hard.demand), hard.demand)
    kinds = [kind for kind, _ in hard_changes([ArrangedSong("One", arrangement)])]
    assert set(kinds) == set(demands)
    assert all(demands[a] >= demands[b] for a, b in pairwise(kinds))
    listed = {}
    for hard in hardest(arrangement, 1000):
        kind = kind_of_change(arrangement.chord(hard.before), arrangement.chord(hard.where))
        if hard.demand == demands[kind]:
            listed.setdefault(kind, hard.demand)
    assert demands[kinds[0]] == hardest(arrangement, 1)[0].demand
    assert len(listed) >= len(kinds) / 2
    assert [demands[kind] for kind in kinds if kind in listed] == list(listed.values())


def test_a_song_copied_into_twelve_keys_has_the_studies_of_one() -> None:
    """Each change is one study with a pair of hands for each key."""
    alone = one(SONG, "key G\ntempo 72\n")
    copies = []
    for key in TWELVE:
        moved = transposed(alone.arrangement.song, Key.parse(key))
        worked, _ = work_out(moved, figures=False)
        assert worked is not None
        copies.append(ArrangedSong(f"In {key}", worked.arrangement))
    single, all_keys = dict(hard_changes([alone])), dict(hard_changes(copies))
    chords = {kind for kind in all_keys if kind[2] == kind[6] == ""}  # suspensions may differ from key to key
    assert chords >= {kind for kind in single if kind[2] == kind[6] == ""}
    for kind in single:
        if kind not in chords:
            continue
        study = all_keys[kind]
        roots = {row.hands[0].chord.root.pitch_class for row in study.rows if row.hands[0].chord}
        assert roots == set(range(12)), study.heading
        ways = {
            (row.hands[1].chord.root.pitch_class - row.hands[0].chord.root.pitch_class) % 12
            for row in study.rows
            if row.hands[0].chord and row.hands[1].chord
        }
        assert len(ways) == 1


def test_equal_changes_in_two_keys_are_one_study() -> None:
    plain = DEFAULT._replace(arc=False, suspensions=DEFAULT.suspensions * 0)
    songs = [one("| C | D | C | D |", "key G\n", "One", plain), one("| F | G | F | G |", "key C\n", "Two", plain)]
    studies = [study for _, study in hard_changes(songs)]
    headings = ["".join(map(str, study.heading)) for study in studies]
    assert {frozenset(heading.split(", ")) for heading in headings} == {
        frozenset({"C to D in G", "F to G in C"}),
        frozenset({"D to C in G", "G to F in C"}),
    }
    for study in studies:
        assert [len(row.hands) for row in study.rows] == [2, 2]
        assert {told(row).partition(":")[0] for row in study.rows} == {"One", "Two"}
        assert all(row.movement == (6,) for row in study.rows)  # Table B3: C4F4A4 to B3D4G4 or D4G4B4


def test_how_often_and_where() -> None:
    song = one("| C | F | C | F |\n| C | F | C | F |", "key C\nroadmap Verse x2\n")
    (first, second) = (study for _, study in hard_changes([song]))
    heard = {"".join(map(str, study.heading)): told(study.rows[0]) for study in (first, second)}
    assert heard["C to F"].endswith("heard 8 times")
    assert heard["F to C"].endswith("heard 7 times")  # the last F has nothing after it
    assert "Verse, bar" in heard["C to F"] and "more" in heard["C to F"]


def test_minutes_limit_how_many() -> None:
    songs = [practised(path.read_text(encoding="utf-8")) for path in SAMPLES[:2]]
    for minutes, most in ((3, 1), (15, 5), (30, 10)):
        kinds = [study.kind for study in studies_of(songs, DEFAULT, minutes).studies]
        assert kinds.count("change") == most and len(kinds) <= minutes
        assert kinds == sorted(kinds, key=["change", "loop", "triad", "octaves", "sounds"].index)
