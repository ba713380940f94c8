"""When hands are free, what is played after what, and where pages are turned."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.layout.model import Document, Shape, Text
from arranger.layout.options import StageOptions
from arranger.layout.pages.stage_copy import Legibility
from arranger.layout.pages.turning import SILENT, Passage, passages
from arranger.pdf.fonts import metrics
from arranger.song.model import Bar, Section, Step
from arranger.song.model import SongText as Fact
from arranger.units import SHEETS
from tests.harmony.songs import TODAY
from tests.layout import songs
from tests.layout.stage.drawn import lay_out

PLAIN = TODAY._replace(suspensions=Fraction(0), octaves="none")


def section(name: str, row: str, play: str = "held", tempo: int = 60) -> Section:
    made = songs.section(name, "D", [(re.sub(" hold| stop", "", row),)], tempo=tempo)
    bars = tuple(
        _with_manner(bar, text) for bar, text in zip(made.rows[0].bars, row.strip("|").split("|"), strict=True)
    )
    rows = (replace(made.rows[0], bars=bars),)
    return replace(made, rows=rows, facts=made.facts._replace(play=Fact(play)))


def _with_manner(bar: Bar, text: str) -> Bar:
    """Give the last chord of a bar the manner that is written after it."""
    word = re.search("hold|stop", text)
    if word is None:
        return bar
    last = bar.marks[-1]
    assert last.chord is not None
    return replace(bar, marks=(*bar.marks[:-1], replace(last, chord=replace(last.chord, manner=(word[0],)))))


def found(*sections: Section, steps: tuple[Step, ...] = ()) -> tuple[Passage, ...]:
    return passages(songs.arranged(songs.song("A", sections, steps), PLAIN))


@pytest.mark.parametrize(
    ("row", "play", "tempo", "free"),
    [
        ("| D | G |", "held", 60, 4.0),  # a held bar of 4/4
        ("| D | G |", "held", 120, 2.0),
        ("| D / / G | A |", "held", 60, 3.0),
        ("| D | G |", "quarters", 60, 4.0),  # the left hand holds its bass
        ("| D | G |", "broken", 60, 4.0),
        ("| D A | G |", "eighths", 60, 2.0),
        ("| D | G |", "as a music box", 60, 1.0),  # who knows; a beat at most
        ("| D hold | G |", "as a music box", 60, 4.0),  # a fermata
        ("| D stop | G |", "as a music box", 60, 4.0),
        ("| D rest | G |", "as a music box", 60, 3.0),  # struck on two beats, then silent for two
        ("| D N.C. | G |", "held", 60, 4.0),
    ],
)
def test_how_long_a_hand_does_nothing_new(row: str, play: str, tempo: int, free: float) -> None:
    assert found(section("A", row, play, tempo))[0].free == pytest.approx(free)


def test_a_hand_is_free_to_turn_from_two_seconds_on() -> None:
    assert Passage((0, 0), (0, 1), 2.0).turns
    assert not Passage((0, 0), (0, 1), 1.99).turns


def test_a_suspension_that_resolves_and_a_fill_take_the_hand() -> None:
    row = songs.section("A", "D", [("| D | G | D | G |",)], tempo=60)
    arrangement = songs.arranged(songs.song("A", [row]), TODAY._replace(octaves="every", suspensions=Fraction(1)))
    part = arrangement.sections[0]
    free = {passage.chord: passage.free for passage in passages(arrangement)}
    looked = 0
    for line in part.octaves:
        last = line.notes[-1]
        if last.bar == part.chords[line.before[1]].bar:
            assert free[line.before] == pytest.approx(float(4 - last.start))
            looked += 1
    for number, chord in enumerate(part.chords):
        settled = chord.suspension
        alone = all(line.before != (0, number) for line in part.octaves)
        if settled is not None and settled.start is not None and settled.bar == chord.bar and alone:
            assert free[0, number] == pytest.approx(float(4 - settled.start))
            looked += 1
    assert looked >= 2


def test_what_is_played_after_what_follows_the_roadmap_with_the_least_time() -> None:
    one, two = section("A", "| D | G |"), section("B", "| A | Bm |", tempo=240)
    chords = {(p.chord, p.after): p.free for p in found(one, two, steps=(Step(0), Step(1, times=2), Step(0)))}
    assert chords == {
        ((0, 0), (0, 1)): 4.0,
        ((0, 1), (1, 0)): 4.0,
        ((1, 0), (1, 1)): 1.0,
        ((1, 1), (1, 0)): 1.0,
        ((1, 1), (0, 0)): 1.0,
    }


def test_a_silent_section_is_come_to_and_left() -> None:
    drums = replace(section("Drums", "| D | D |"), tacet=True)
    made = found(section("A", "| D | G |"), drums, section("B", "| A | D |"))
    assert [(p.chord, p.after, p.free) for p in made[1:3]] == [
        ((0, 1), (1, SILENT), 4.0),
        ((1, SILENT), (2, 0), 8.0),
    ]


def laid(sections: list[Section], steps: list[Step], **chosen: object) -> tuple[Document, Legibility, list[str]]:
    song = songs.song("A", sections, steps)
    document, reading, problems = lay_out(songs.arranged(song, PLAIN), metrics(), StageOptions(**chosen))  # type: ignore[arg-type]
    assert document is not None and reading is not None
    return document, reading, [problem.message for problem in problems]


def texts(document: Document, role: str) -> list[str]:
    return [i.text for page in document.pages for i in page.items if isinstance(i, Text) and i.role == role]


def many(tempo: int, play: str = "held", names: str = "ABCDEFGHIJ") -> list[Section]:
    """Give sections that take some pages, all with other chords."""
    chords = ("D", "G", "A", "Bm", "Em", "D/F#", "F#m", "A/C#", "C#m", "E")
    return [section(name, f"| {chord} | G | A | D |", play, tempo) for name, chord in zip(names, chords, strict=False)]


def test_every_turn_of_a_slow_song_finds_a_hand_free() -> None:
    document, reading, told = laid(many(60), [Step(n) for n in range(10)], distance=1.2)
    assert reading.pages > 2 and len(reading.turns) == reading.pages - 1
    assert all(free >= 2 for free in reading.turns) and told == []
    assert not any(isinstance(item, Shape) and item.role == "turn" for page in document.pages for item in page.items)
    assert all(text.startswith("next: ") for text in texts(document, "next"))


def test_a_turn_without_a_free_hand_is_marked_in_the_margin_told_in_the_foot_and_on_the_terminal() -> None:
    document, reading, told = laid(many(132, "quarters"), [Step(n) for n in range(10)], distance=1.2)
    turns = reading.pages - 1
    marks = [item for page in document.pages for item in page.items if isinstance(item, Shape) and item.role == "turn"]
    assert len(marks) == len(told) == turns > 1
    right = SHEETS["a4"].width - SHEETS["a4"].side
    assert all(point.x > right for mark in marks for point in mark.points)
    assert all(text.startswith("quick turn: ") for text in texts(document, "next"))
    assert "1.8 s, expected 2 s" in told[0]


def test_a_page_ends_where_a_hand_is_free_if_there_is_such_a_place() -> None:
    sections = many(132, "quarters")
    sections[2] = section("Long", "| A | G | A | D hold |", "quarters", 60)
    for factor in (0.9, 1.0, 1.1):
        _, reading, told = laid(sections[:6], [Step(n) for n in range(6)], distance=factor, sheet=SHEETS["tablet"])
        if reading.pages == 2:
            assert reading.turns == (4.0,) and told == []
            return
    raise AssertionError("no distance gave two pages")


def test_the_foot_names_what_is_played_next_and_its_first_chord() -> None:
    steps = [Step(n) for n in range(10)]
    document, reading, _ = laid(many(60), steps, distance=1.2)
    firsts = [
        next(i.text for i in page.items if isinstance(i, Text) and i.role == "section") for page in document.pages
    ]
    chords = [
        "".join(i.text for i in page.items if isinstance(i, Text) and i.role == "chord" and i.y == first.y)
        for page in document.pages
        for first in [next(i for i in page.items if isinstance(i, Text) and i.role == "chord")]
    ]
    assert reading.pages > 2
    for number, text in enumerate(texts(document, "next")):
        name, chord = text.removeprefix("next: ").split(", ")
        assert name == firsts[number + 1] and chords[number + 1].startswith(chord)


def test_the_foot_follows_the_roadmap_back() -> None:
    sections = many(60)
    document, reading, _ = laid(sections, [*(Step(n) for n in range(10)), Step(0)], distance=1.2)
    assert texts(document, "next")[-1] == "next: A, page 1"
    assert len(reading.turns) == reading.pages


def test_two_pages_of_paper_lie_side_by_side_and_two_of_a_screen_do_not() -> None:
    sections, steps = many(132, "quarters")[:6], [Step(n) for n in range(6)]
    for name, turned in (("a4", 0), ("tablet", 1)):
        document, reading, told = laid(sections, steps, sheet=SHEETS[name], distance=0.9, pages=2)
        if reading.pages == 2:
            assert len(reading.turns) == len(told) == len(texts(document, "next")) == turned


def test_the_first_page_of_a_pair_is_not_turned() -> None:
    document, reading, told = laid(
        many(132, "quarters")[:8], [Step(n) for n in range(8)], sheet=SHEETS["a4-pair"], distance=1.0
    )
    assert reading.pages in (3, 4) and len(document.pages) == 2
    assert len(reading.turns) == len(told) == 1


def test_what_would_help_was_tried() -> None:
    song = songs.song("A", many(132, "quarters")[:6], [Step(n) for n in range(6)])
    arrangement = songs.arranged(song, PLAIN)
    chosen = StageOptions(SHEETS["tablet"], distance=0.7)
    _, _, problems = lay_out(arrangement, metrics(), chosen)
    hints = {hint for problem in problems for hint in problem.hints}
    _, one, _ = lay_out(arrangement, metrics(), chosen._replace(pages=1))
    assert any(hint.startswith("--pages 1 fits") for hint in hints) == (one is not None)


@pytest.mark.slow
def test_a_silent_section_that_is_too_short_to_turn_in_is_told_by_its_name() -> None:
    sections = many(60)
    for number in range(1, 10, 2):
        sections[number] = replace(section(f"Break {number}", "| D |", tempo=240), tacet=True)
    song = songs.song("A", sections, [Step(n) for n in range(10)])
    arrangement = songs.arranged(song, PLAIN)
    told = []
    for step in range(8):
        chosen = StageOptions(SHEETS["tablet-flat"], distance=0.8 + step / 10)
        _, _, problems = lay_out(arrangement, metrics(), chosen)
        told += [problem.message for problem in problems]
    assert told
    assert all("after Break" in message and "there are 1.0 s" in message for message in told)
