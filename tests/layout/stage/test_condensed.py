"""What stands in a stage copy: hands, left hands, prompts, facts, what is drawn once, where the roadmap leads."""

from __future__ import annotations

from dataclasses import replace

import pytest

from arranger.harmony.model import Arrangement
from arranger.layout.content.condensed import condensed
from arranger.layout.content.model import Column, SectionContent
from arranger.layout.options import Prompts
from arranger.pdf.fonts import metrics
from arranger.song.model import Song, Step
from arranger.song.model import SongText as Fact
from tests.layout import songs

VERSE = [("| D | D/F# | A | D |", "hung the | lanterns one by | one a- | long the wall")]
OTHER = [("| D | D/F# | A | D |", "set a | candle in the | win- | dow, on the hill")]


def gathered(song: Song, words: Prompts = "first") -> tuple[SectionContent, ...]:
    return condensed(songs.arranged(song), words, {}, metrics())


def columns(section: SectionContent) -> list[Column]:
    return [column for row in section.rows for bar in row.bars for column in bar.columns]


def hands(section: SectionContent) -> list[str]:
    return [
        "".join(run.text for run in column.picture.letters) for column in columns(section) if column.picture is not None
    ]


def told(section: SectionContent) -> list[str]:
    return [entry.text for entry in section.rows[0].margin]


def test_the_right_hand_is_one_light_text_and_the_left_stands_where_it_is_not_the_root() -> None:
    song = songs.song("A", [songs.section("Verse", "D", VERSE)], band=("bass",))
    (section,) = gathered(song)
    arrangement: Arrangement = songs.arranged(song)
    expected = ["·".join(str(p.name).replace("#", "♯") for p in c.right) for c in arrangement.sections[0].chords]
    expected[1] += "L.H. F♯"
    assert hands(section) == expected
    faces = {run.face for column in columns(section) if column.picture for run in column.picture.letters}
    assert faces == {"regular"}


def test_a_left_hand_under_the_right_one_is_as_complete() -> None:
    (section,) = gathered(songs.song("A", [songs.section("Verse", "D", VERSE)], band=("bass",)))
    (row,) = section.rows
    lefts = [column.picture.left for bar in row.stacked for column in bar.columns if column.picture]
    assert ["".join(run.text for run in left) for left in lefts] == ["", "L.H. F♯", "", ""]


def test_a_left_hand_in_octaves_is_told_once_and_where_it_is_another() -> None:
    (section,) = gathered(songs.song("A", [songs.section("Verse", "D", VERSE)]))
    assert [hand.partition("L.H. ")[2] for hand in hands(section)] == ["D oct", "F♯ oct", "", ""]


def test_prompts_are_the_first_words_of_each_row_with_the_pickup_before_them() -> None:
    (section,) = gathered(songs.song("A", [songs.section("Verse", "D", VERSE, pickup="We")]))
    assert [prompt.text for row in section.rows for prompt in row.prompts] == ["We hung the lanterns…"]
    assert not any(column.words for column in columns(section))


def test_words_joined_over_barlines_and_chords_are_whole_in_prompts() -> None:
    rows = [("| D | G A | D |", "a- | long * the | wall"), ("| D G | A | D |", "lan*terns | _ | a-")]
    (section,) = gathered(songs.song("A", [songs.section("Verse", "D", rows)]))
    assert [prompt.text for row in section.rows for prompt in row.prompts] == ["along the wall", "lanterns a"]
    rows = [("| D G A D |", "oars a- * long * the * quay"), ("| D G |", "lay- * ing")]
    (section,) = gathered(songs.song("A", [songs.section("Verse", "D", rows)]))
    assert [prompt.text for row in section.rows for prompt in row.prompts] == ["oars along the…", "laying"]


def test_no_words_and_all_words() -> None:
    song = songs.song("A", [songs.section("Verse", "D", VERSE, pickup="We")])
    (bare,) = gathered(song, "none")
    assert not any(row.prompts for row in bare.rows) and not any(column.words for column in columns(bare))
    (full,) = gathered(song, "all")
    sung = [words for column in columns(full) for words in column.words if words is not None]
    assert ["".join(run.text for run in words.runs) for words in sung] == [
        "hung the", "lanterns one by", "one a-", "long the wall",
    ]  # fmt: skip
    assert "We" in told(full)


def verses() -> Song:
    made = [
        songs.section("Verse 1", "D", VERSE, level="mp"),
        songs.section("Chorus", "D", [("| G | A | D | D |",)], level="f"),
        songs.section("Verse 2", "D", OTHER, level="mf", pickup="You"),
    ]
    made[2] = replace(made[2], like="Verse 1", model=0)
    return songs.song("A", made, [Step(0), Step(1), Step(2), Step(1, times=2, remark="build")])


def test_sections_that_differ_only_in_words_and_facts_are_drawn_once() -> None:
    verse, chorus = gathered(verses())
    assert (verse.name, verse.indices) == ("Verse 1, 2", (0, 2))
    assert [prompt.text for row in verse.rows for prompt in row.prompts] == [
        "hung the lanterns…", "You set a candle…",
    ]  # fmt: skip
    assert told(verse)[-1] == "1: mp / 2: mf"  # in one text, so that no line parts them
    assert chorus.indices == (1,)


def test_words_sung_before_several_verses_are_numbered() -> None:
    song = verses()
    first = replace(song.sections[0], pickup=Fact("We"))
    verse, _ = gathered(replace(song, sections=(first, *song.sections[1:])), "all")
    assert told(verse)[-1] == "1. We 2. You"
    assert told(gathered(song, "all")[0])[-1] == "2. You"


def test_the_words_of_sections_that_are_drawn_once_stand_under_each_other() -> None:
    verse, _ = gathered(verses(), "all")
    (row,) = verse.rows
    assert row.verses == 2
    first = ["".join(run.text for run in words.runs) for words in row.bars[0].columns[0].words if words is not None]
    assert first == ["hung the", "set a"]


def test_other_chords_hands_cues_or_closings_are_drawn_apart() -> None:
    song = verses()
    cue = replace(song.sections[2], closing_cues=(Fact("stop"),))
    assert len(gathered(replace(song, sections=(*song.sections[:2], cue)))) == 3
    other = songs.section("Verse 2", "D", [("| D | G | A | Bm |",)], level="mp")
    assert len(gathered(replace(song, sections=(*song.sections[:2], other)))) == 3


def test_where_the_roadmap_leads_is_told_where_it_is_not_what_is_drawn_next() -> None:
    verse, chorus = gathered(verses())
    assert verse.onward == ()  # both times to the chorus, which is drawn next
    assert chorus.onward == ("1st → Verse 2", "2nd ×2 (build) → end")


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        ([], ()),
        ([Step(0), Step(1)], ()),
        ([Step(1), Step(0)], ("→ end",)),
        ([Step(0, until="the lights go"), Step(1)], ("vamp until the lights go",)),
        ([Step(0, from_bar=1, to_bar=2), Step(1)], ("bars 1–2",)),
        ([Step(0, times=3), Step(1), Step(0)], ("1st ×3 → B", "2nd → end")),
        ([Step(0), Step(1)] * 2 + [Step(0)], ("1st → B", "2nd → B", "3rd → end")),
        ([Step(0), Step(1)] * 5 + [Step(0)], ("comes 6 times",)),
        ([Step(0), Step(1)] * 5 + [Step(0, remark="low")], ("comes 6 times · 6th: low",)),
        ([Step(1)], ("not in the roadmap",)),
    ],
)
def test_how_a_section_is_played_and_what_comes_then(steps: list[Step], expected: tuple[str, ...]) -> None:
    made = [songs.section(name, "D", [(f"| {chord} | A |",)]) for name, chord in (("A", "D"), ("B", "G"))]
    first = gathered(songs.song("A", made, steps))[0]
    assert first.onward == expected


def test_bars_are_numbered_where_the_roadmap_names_some() -> None:
    made = [songs.section("A", "D", VERSE)]
    assert not gathered(songs.song("A", made, [Step(0)]))[0].numbered
    assert gathered(songs.song("A", made, [Step(0), Step(0, from_bar=3, to_bar=4)]))[0].numbered


def test_the_hand_s_place_is_told_at_each_section() -> None:
    for section in gathered(songs.lanterns()):
        assert any(text.startswith("thumb: ") for text in told(section))


def test_facts_that_go_on_are_not_told_again() -> None:
    made = [songs.section(name, "D", [(f"| {chord} | A |",)]) for name, chord in (("A", "D"), ("B", "G"))]
    sections = gathered(songs.song("A", made, [Step(0), Step(1)]))
    assert "held" not in [text for section in sections for text in told(section)]
    fast = replace(made[1], facts=made[1].facts._replace(play=Fact("eighths")))
    sections = gathered(songs.song("A", [made[0], fast], [Step(0), Step(1), Step(0)]))
    assert "held" in told(sections[0]) and "eighths" in told(sections[1])


def test_a_tacet_section_is_a_rest_of_its_bars() -> None:
    made = [songs.section("A", "D", VERSE), replace(songs.section("Drums", "D", VERSE), tacet=True)]
    _, silent = gathered(songs.song("A", made, [Step(0), Step(1)]))
    assert silent.tacet_bars == 4 and not any(row.bars for row in silent.rows)
