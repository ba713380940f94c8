"""Gaps, where nobody sings: pickups that end them, copies without words, what is played in them and when.

Common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from arranger.harmony.figures import ranked_fills
from arranger.harmony.model import Arrangement, OctaveLine
from arranger.harmony.octaves import change_at
from arranger.harmony.singer import BarStretch, next_phrase_begins, pickups_after, rests_in
from arranger.harmony.taste import DEFAULT
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(suspensions=Fraction(0))
HALF = BarStretch(0, 1, Fraction(2), Fraction(4))  # the second half of bar 2


def song_of(text: str, facts: str = "key C\ntempo 100\n") -> Song:
    song, problems = read(Source.of("gaps", f"song Gaps\n{facts}band bass\n{text}"))
    assert song is not None, [p.message for p in problems]
    return song


def part(text: str, facts: str = "key C\ntempo 100\n") -> Arrangement:
    found, _ = arranged(song_of(text, facts), PLAIN)
    assert found is not None
    return found


# Words that belong to the next phrase


@pytest.mark.parametrize(
    ("words", "late"),
    [
        ("home", False),
        ("home.", False),
        ("home,", False),
        ("“home.”", False),
        ("home, and", True),
        ("home. “And", True),
        ("home; so", True),
        ("doux : la", True),  # a blank before the stop, as in French
        ("家、と", True),
        ("come home", False),
        ("o'er", False),
    ],
)
def test_words_after_a_comma_or_stop_stand_late(words: str, late: bool) -> None:
    section = song_of(f"section A\n| C | F | G | C |\nsing | la la | {words} | la | la |\n").sections[0]
    assert next_phrase_begins(section, 0, 1) is late
    assert rests_in(section, HALF) is not late


@pytest.mark.parametrize(
    ("words", "below", "rests"),
    [
        ("and", "la | la", False),
        ("home and", "la | la", False),
        ("home.", "la | la", True),  # the line is closed: nothing is before its time
        ("home.", "| la", True),
        ("and", "| la", True),  # no words begin with the next bar
    ],
)
def test_words_before_a_new_sung_line_stand_late(words: str, below: str, rests: bool) -> None:
    text = f"section A\n| C | F |\nsing | la la | {words} |\n| G | C |\nsing | {below} |\n"
    assert rests_in(song_of(text).sections[0], HALF) is rests


@pytest.mark.parametrize(("words", "rests"), [("and", False), ("home.", True)])
def test_a_repeat_begins_a_new_line_too(words: str, rests: bool) -> None:
    text = f"section A\n|: C | F :|\nsing | la la | {words} |\nsing | la la | home. |\n"
    assert rests_in(song_of(text).sections[0], HALF) is rests


def test_words_at_a_chord_of_the_second_half_are_sung_there() -> None:
    section = song_of("section A\n| C | F G | C | C |\nsing | la | oh * home | la | la |\n").sections[0]
    assert not rests_in(section, BarStretch(0, 1, Fraction(3), Fraction(4)))


def fills_of(text: str, section: int) -> tuple[OctaveLine, ...]:
    return part(text).sections[section].octaves


VERSE = "section V\n| C | F |\nsing | la la la | la la la |\n"


@pytest.mark.parametrize(("words", "fills"), [("home", 1), ("home. And", 0), ("home, and", 0)])
def test_no_fill_under_words_of_the_next_phrase(words: str, fills: int) -> None:
    text = f"roadmap V, A, V\n{VERSE}section A\n| C | G |\nsing | la la la | {words} |\n"
    assert len(fills_of(text, 1)) == fills


# Copies


@pytest.mark.parametrize(("without", "fills"), [("", 0), (" without words", 1)])
def test_a_copy_is_sung_unless_it_is_without_words(without: str, fills: int) -> None:
    """Also a copy of what is sung first, and where the tune is written."""
    text = f"roadmap V, B, V\nsection V\n| C | G |\nsing | la la la | la la la |\n{{}}section B\nlike V{without}\n"
    assert len(fills_of(text.format(""), 1)) == fills
    assert len(fills_of(text.format("tune | C5 | D5 |\n"), 1)) == fills


def test_none_in_what_is_sung_first_nor_in_the_verses_that_are_sung_to_it() -> None:
    """They are played alike, and shown once on a stage copy."""
    words = "sing | la la la | la la la | la la la | |\n"
    text = f"section V\n| C | F | Am | G |\n{words}section W\nlike V\n{words}section X\noctaves off\n| F | C |\n"
    for roadmap in ("V, W, X", "V, X, W, X, V, X"):
        found = part(f"roadmap {roadmap}\n{text}")
        assert found.sections[0].octaves == () == found.sections[1].octaves


@pytest.mark.parametrize(("remark", "fills"), [("", 1), (" (build)", 1), (" (guitar alone)", 0), (" (keys out)", 0)])
def test_what_is_sung_first_may_have_one_the_last_time(remark: str, fills: int) -> None:
    words = "sing | la la la | la la la | la la la | |\n"
    text = f"section V\n| C | F | Am | G |\n{words}section X\noctaves off\n| F | C |\n"
    found = part(f"roadmap V, X, V{remark}, X\n{text}")
    assert [line.last_time for line in found.sections[0].octaves] == [True] * fills


# Ballads


def by_step(line: OctaveLine) -> bool:
    return all(abs(b.pitch.midi - a.pitch.midi) <= 2 for a, b in pairwise(line.notes))


CHORDS = "roadmap A\nsection A\n| Bb | Eb | Bb | F | Bb | Gm | Cm | F | Bb |\n"


def test_a_ballad_prefers_lines_by_step() -> None:
    facts = "key Bb\ntempo {}\n"
    every = PLAIN._replace(octaves="every")
    figures = {}
    for tempo in (72, 89, 90, 100):
        found, _ = arranged(song_of(CHORDS, facts.format(tempo)), every)
        assert found is not None
        figures[tempo] = [line.figure for line in found.sections[0].octaves]
    assert figures[72].count("enclosure") < figures[100].count("enclosure")
    assert figures[89] == figures[72] and figures[90] == figures[100]


def test_in_a_ballad_an_enclosure_comes_after_every_line_by_step() -> None:
    found = part(CHORDS, "key Bb\ntempo 72\n")
    seen = 0
    for index in range(8):
        change = change_at(found, (0, index), (0, index + 1))
        assert change is not None
        left = found.sections[0].chords[index].left
        plain = [f.figure for f in ranked_fills(change, left, DEFAULT)]
        slow = [f.figure for f in ranked_fills(change, left, DEFAULT, stepwise=True)]
        assert sorted(map(repr, plain)) == sorted(map(repr, slow))
        steps = [abs(f.notes[1].midi - f.notes[0].midi) <= 2 and f.name != "enclosure" for f in slow]
        first = next((i for i, f in enumerate(slow) if f.name == "enclosure"), None)
        assert first is None or not any(steps[first:])
        seen += first is not None
    assert seen


# Visits

CHORUS = "section C\n| F | G | Am | G |\nsing | la la la | la la la | la la la | |\n"
TAIL = "section E\n| F | C |\n"


def test_the_last_visit_has_a_fill_where_the_first_is_not_free() -> None:
    """A pickup follows the chorus the first time."""
    verse = "section W\npickup And so\n| C | F | C | F |\nsing | la la la | la la la | la la la | la la la |\n"
    text = f"roadmap V, C, W, C, E\n{VERSE}{CHORUS}{verse}{TAIL}"
    song = song_of(text)
    order = [step.section for step in song.roadmap for _ in range(step.times)]
    assert pickups_after(song, order) == {1} and pickups_after(song, order, last_time=True) == frozenset()
    lines = fills_of(text, 1)
    assert [(line.notes[0].bar, line.last_time) for line in lines] == [(4, True)]
    free = f"roadmap V, C, E, C, E\n{VERSE}{CHORUS}{TAIL}"
    assert [(line.notes[0].bar, line.last_time) for line in fills_of(free, 1)] == [(4, False)]


def test_no_fill_for_the_last_visit_of_what_is_played_on_until_a_sign() -> None:
    verse = "section W\npickup And so\n| C | F | C | F |\nsing | la la la | la la la | la la la | la la la |\n"
    text = f"roadmap V, C, W, C until a sign, E\n{VERSE}{CHORUS}{verse}{TAIL}"
    assert fills_of(text, 1) == ()


def test_the_last_refrain_may_have_one_more() -> None:
    refrain = "section C\n| F | G | Am | G |\nsing | la la la | | la la la | |\n"
    text = f"roadmap V, C, W, C\n{VERSE}{refrain}section W\nlike V\nsing | lo lo lo | lo lo lo |\n"
    lines = fills_of(text, 1)
    assert [(line.notes[0].bar, line.last_time) for line in lines] == [(2, True), (4, False)]


def test_a_last_refrain_of_its_own_needs_no_word_for_it() -> None:
    refrain = "section C\n| F | G | Am | G |\nsing | la la la | | la la la | |\n"
    last = "section Last\nlike C\nkey D\n"
    text = f"roadmap V, C, W, C, Last, E\n{VERSE}{refrain}section W\nlike V\nsing | lo lo lo | lo lo lo |\n{last}{TAIL}"
    lines = fills_of(text, 3)
    assert [(line.notes[0].bar, line.last_time) for line in lines] == [(2, False), (4, False)]
    assert len(fills_of(text, 1)) == 1


def test_verses_are_no_refrain() -> None:
    verse = "section A\n| F | G | Am | G |\nsing | la la la | | la la la | |\nsing | lo lo lo | | lo lo lo | |\n"
    lines = fills_of(f"roadmap V, A, V, A\n{VERSE}{verse}", 1)
    assert len(lines) == 1
