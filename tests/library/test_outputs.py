"""Where the PDFs of a library go."""

import pytest

from arranger.library.make import InOrder, Outcome
from arranger.library.scan import FoundSong, planned, wanted


def plan(*names: str, kinds: tuple[str, ...] = ("part",)) -> tuple[dict[str, tuple[str, ...]], dict[str, str]]:
    songs, problems = planned([FoundSong(name, f"songs/{name}", 0, 0) for name in names], kinds)
    assert all(problem.missed and problem.hint for problem in problems)
    return {song.name: song.outputs for song in songs}, {problem.name: problem.message for problem in problems}


def test_pdfs_lie_as_the_songs_lie():
    songs, problems = plan("a.song.txt", "b/v1.2 a.song.txt", kinds=("part", "stage"))
    assert songs == {
        "a.song.txt": ("a.pdf", "a.stage.pdf"),
        "b/v1.2 a.song.txt": ("b/v1.2 a.pdf", "b/v1.2 a.stage.pdf"),
    }
    assert problems == {}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("a.song.txt", "a.SONG.TXT"),
        ("boats.song.txt", "Boats.song.txt"),
        ("A/b.song.txt", "a/b.song.txt"),
        ("\u00e9t\u00e9.song.txt", "e\u0301te\u0301.song.txt"),  # the same name, its accents stored in two ways
        ("strasse.song.txt", "straße.song.txt"),
    ],
)
def test_two_songs_with_one_output(one, other):
    songs, problems = plan(one, other, "third.song.txt")
    assert list(songs) == ["third.song.txt"]
    assert set(problems) == {one, other}
    assert f"as songs/{other} would" in problems[one]


def test_a_stage_copy_and_a_part_with_one_name():
    names = ("a.song.txt", "a.stage.song.txt")
    assert plan(*names)[1] == {}
    assert set(plan(*names, kinds=("part", "stage"))[1]) == set(names)


def test_the_index_is_no_song_s():
    songs, problems = plan("Index.song.txt", "b/index.song.txt")
    assert list(songs) == ["b/index.song.txt"]
    assert problems == {"Index.song.txt": "would lie where the index of the library is: it is not made"}


def test_all_kinds_of_a_song_are_wanted():
    assert wanted(["b/a.song.txt"]) == {"b/a.pdf", "b/a.stage.pdf", "b/a.mid", "b/a.musicxml"}


def test_outcomes_come_in_order_and_as_early_as_can_be():
    order = InOrder(["c", "a", "b"])
    told = []
    for name in ("b", "a", "c"):
        order.add(Outcome(name, name, "made"))
        told.append([outcome.name for outcome in order.ready()])
    assert told == [[], ["a", "b"], ["c"]]


def test_at_the_end_all_that_is_there_is_told():
    order = InOrder("abc")
    order.add(Outcome("c", "c", "made"))
    assert [outcome.name for outcome in order.ready(end=True)] == ["c"]
