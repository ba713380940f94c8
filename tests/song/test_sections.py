"""Sections, their likeness, the roadmap, and what only the whole song shows."""

from __future__ import annotations

import pytest

from arranger.song.dump import dump
from arranger.song.model import Song, Step
from arranger.text.diagnostics import Diagnostic
from tests.song.texts import codes, names, problems, song

VERSE = "section Verse 1\n| C | G |\nsing | one | two |\n| F | C |\n| Am | F |\nsing | three | four |\n"


def words(found: Song, index: int) -> list[list[str]]:
    return [[p.text for w in line.bars for p in w.pieces] for r in found.sections[index].rows for line in r.words]


def test_a_copy_has_its_models_rows_and_its_own_words() -> None:
    found = song(VERSE + "section Verse 2\nlike verse 1\nsing | uno | due |\nsing | tre | quattro |")
    model, copy = found.sections
    assert (copy.model, copy.like) == (0, "Verse 1")
    assert [row.bars for row in copy.rows] == [row.bars for row in model.rows]
    assert [len(row.words) for row in copy.rows] == [1, 0, 1]  # rows without words in the model have none here
    assert words(found, 1) == [["uno", "due"], ["tre", "quattro"]]
    assert copy.rows[0].bars[0].span == model.rows[0].bars[0].span


def test_a_copy_without_words_of_its_own_has_its_models() -> None:
    found = song(VERSE.replace("| C | G |", "pickup Oh\n| C | G |") + "section Again\nkey D\nlike Verse 1")
    model, copy = found.sections
    assert words(found, 1) == words(found, 0) == [["one", "two"], ["three", "four"]]
    assert [r.words for r in copy.rows] == [r.words for r in model.rows]
    assert copy.pickup == model.pickup and not copy.without_words
    assert copy.pickup and found.source[copy.pickup.span] == "Oh"
    assert [found.source[p.span] for p in copy.rows[0].words[0].bars[1].pieces] == ["two"]
    assert names(copy.bars[0]) == ["D"]


@pytest.mark.parametrize("without", ["without words", "WITHOUT  Words"])
def test_a_copy_can_be_without_words(without: str) -> None:
    found = song(VERSE.replace("| C | G |", "pickup Oh\n| C | G |") + f"section Solo\nlike verse 1 {without}")
    copy = found.sections[1]
    assert (words(found, 1), copy.pickup, copy.without_words, copy.like) == ([], None, True, "Verse 1")
    assert len(copy.rows) == 3
    assert "like 'Verse 1' = section 0 without words" in dump(found)


def test_a_section_may_be_called_without_words() -> None:
    found = song("section A\n| C |\nsection A without words\n| G |\nsection B\nlike A without words")
    assert (found.sections[2].model, found.sections[2].without_words) == (1, False)


@pytest.mark.parametrize(
    ("typed", "hint", "fixed"),
    [
        ("Verse 1 without word", "`like Verse 1 without words`", True),
        ("Verse 1 no words", "`like Verse 1 without words`", True),
        ("Verse 1, without words", "`like Verse 1 without words`", True),
        ("Verse 1 (without lyrics)", "`like Verse 1 without words`", True),
        ("Verse 1 instrumental", "`like Verse 1 without words`", False),
        ("Vers 1 without words", "`Verse 1`", False),
        ("Verse 1 without words in D", "`like Verse 1 without words`, and `key D`", False),
    ],
)
def test_other_ways_to_leave_words_out_are_told(typed: str, hint: str, fixed: bool) -> None:
    (said,) = problems(VERSE + f"section Solo\nlike {typed}")
    assert said.code == "unknown-section" and hint in said.hints[0]
    assert (said.fix and said.fix.text) == ("Verse 1 without words" if fixed else None)


def test_a_model_may_stand_below() -> None:
    found = song("section Verse 2\nlike Verse 1\nsing | uno | due |\n" + VERSE)
    assert found.sections[0].model == 1
    assert words(found, 0) == [["uno", "due"]]


def test_a_copy_in_another_key_is_moved() -> None:
    found = song("section A\n| C G/B | Am=ACE4 |\nhook | E5 | C |\nsection B\nkey D\nlike A")
    assert [names(b) for b in found.sections[1].bars] == [["D", "A/C#"], ["Bm"]]
    hook = found.sections[1].rows[0].hook
    assert hook is not None and [str(n.pitch) for bar in hook.bars for n in bar] == ["F#5", "D5"]
    (am,) = found.sections[1].bars[1].marks
    assert am.chord is not None and [f"{p.name}{p.octave or ''}" for p in am.chord.pins] == ["B", "D", "F#4"]


def test_a_copy_takes_cues_and_adds_its_own() -> None:
    found = song(
        "section A\ncue one\n| C |\nsing | la |\ncue two\n| G |\nsing | la |\ncue end\n"
        "section B\nlike A\ncue first\nsing | x |\ncue second\nsing | y |\ncue last\n"
        "section C\nlike A\ncue only"
    )
    assert [[c.value for c in r.cues] for r in found.sections[1].rows] == [["one", "first"], ["two", "second"]]
    assert [c.value for c in found.sections[1].closing_cues] == ["end", "last"]
    assert [[c.value for c in r.cues] for r in found.sections[2].rows] == [["one", "only"], ["two"]]


def test_tacet_is_the_sections_own() -> None:
    found = song("section A\ntacet\n| C |\nsection B\nlike A\nsection C\ntacet")
    assert [s.tacet for s in found.sections] == [True, False, True]


def test_a_pickup_goes_with_the_words() -> None:
    found = song(
        "section A\npickup Oh\n| C |\nsing | a |\nsection B\nlike A\nsection C\nlike A\nsing | b |\n"
        "section D\nlike A\npickup Ah"
    )
    assert [s.pickup and s.pickup.value for s in found.sections] == ["Oh", "Oh", None, "Ah"]
    assert words(found, 3) == [["a"]]


def test_verses_of_a_model_are_laid_anew_where_all_are_given() -> None:
    found = song("section A\n|: C :|\nsing | a |\nsing | b |\nsection B\nlike A\nsing | x |\nsing | y |")
    assert words(found, 1) == [["x"], ["y"]]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("section A\n| C |\nsection B\nlike Z", "unknown-section"),
        ("section A\nlike A", "like-itself"),
        ("section A\n| C |\nsection B\nlike A\nsection C\nlike B", "like-of-like"),
        ("section A\n| C |\nsection B\nlike A\n| G |", "row-in-like"),
        ("section A\n| C |\nsection B\nlike A\nkey Am", "like-other-mode"),
        ("section A\n| C |\nsection B\nlike A\nmeter 3/4", "like-other-meter"),
        (VERSE + "section B\nlike Verse 1\n" + "sing | x |\n" * 3, "too-many-sing-rows"),
        ("section A\n| C |\nsection B\nlike A\nsing | x |", "too-many-sing-rows"),
        (VERSE + "section B\nlike Verse 1\nsing | a | b | c |", "too-many-bars"),
        ("section A\n| C |\nsection a\n| G |", "section-twice"),
        ("section\n| C |", "section-name"),
        ("section A, B\n| C |", "section-name"),
        ("section A (x)\n| C |", "section-name"),
        ("section Chorus x2\n| C |", "section-name"),
        ("section Chorus bars 1-2\n| C |", "section-name"),
        ("section wait until\n| C |", "section-name"),
        ("section A", "empty-section"),
        ("section A\nsing | la |\n| C |", "no-row-above"),
        ("section A\nlike B\nhook | C4 |\nsection B\n| C |", "no-row-above"),
        ("section A\n| C |\ndynamic f", "fact-after-row"),
        ("section A\n| C |\npickup Oh", "fact-after-row"),
        ("Verse 1\n| C |", "section-missing"),
        ("[Chorus]\n| C |", "section-missing"),
        ("Pre-Chorus:\n| C |", "section-missing"),
        ("section A\nC | G | F", "row-start"),
        ("section A\nC G Am F", "row-start"),
        ("section A\nI C I G I", "bar-letter"),
        ("section A\nl C l G l", "bar-letter"),
        ("section A\n| C |\nsign | la |", "unknown-word"),
        ("section A\n| C |\nhung the lanterns", "unknown-word"),
        ("section A\n| C |\n123", "unknown-word"),
    ],
)
def test_what_is_wrong_in_sections(text: str, code: str) -> None:
    assert codes(text) == [code]


def test_a_song_without_sections() -> None:
    assert codes("") == ["no-sections"]
    assert codes("", head="") == ["missing-song", "missing-key", "no-sections"]


def test_names_that_only_look_like_steps() -> None:
    assert codes("section Box2\n| C |\nsection Handlebars 12\n| C |\nsection x2y\n| C |") == []


# The roadmap.

SECTIONS = "section Intro\n| C | G | F | C |\nsection Verse 1\n| C |\nsection Chorus\n| short 1/4 G | C |\n"


def steps(roadmap: str) -> tuple[Step, ...]:
    return song(SECTIONS, f"song T\nkey C\nroadmap {roadmap}\n").roadmap


def test_steps() -> None:
    found = steps(
        "intro bars 2-3 x2 (soft, then loud), VERSE  1 until the bell rings, Chorus bars 0-1, Chorus x99 (last)"
    )
    assert [(s.section, s.times, s.until, s.from_bar, s.to_bar, s.remark) for s in found] == [
        (0, 2, None, 2, 3, "soft, then loud"),
        (1, 1, "the bell rings", None, None, None),
        (2, 1, None, 0, 1, None),
        (2, 99, None, None, None, "last"),
    ]


@pytest.mark.parametrize(
    "roadmap", ["Intro, Verse 1, Chorus", "Intro,\nroadmap Verse 1,\nroadmap Chorus", "Intro\nroadmap Verse 1, Chorus,"]
)
def test_several_lines_are_joined(roadmap: str) -> None:
    assert [s.section for s in steps(roadmap)] == [0, 1, 2]


def test_without_a_roadmap_sections_are_played_as_written() -> None:
    found = song(SECTIONS)
    assert [s.section for s in found.roadmap] == [0, 1, 2]
    assert not found.roadmap_written


def test_spans_of_steps() -> None:
    found = song(SECTIONS, "song T\nkey C\nroadmap Intro , Verse 1 x2 (a) ,Chorus\n")
    assert [found.source[s.span] for s in found.roadmap] == ["Intro", "Verse 1 x2 (a)", "Chorus"]


def said(roadmap: str) -> tuple[Diagnostic, ...]:
    return problems(SECTIONS, f"song T\nkey C\nroadmap {roadmap}\n")


@pytest.mark.parametrize(
    ("roadmap", "code"),
    [
        ("Intro, Verse 1, Korus", "unknown-section"),
        ("Intro, Verse 1, Chorus 2x", "unknown-section"),
        ("Intro, Verse 1, Chorus x2 bars 1-2", "unknown-section"),
        ("Intro, Verse 1, Chorus x0", "bad-times"),
        ("Intro, Verse 1, Chorus x100", "bad-times"),
        ("Intro bars 3-9, Verse 1, Chorus", "no-such-bars"),
        ("Intro bars 3-2, Verse 1, Chorus", "no-such-bars"),
        ("Intro, Verse 1, Chorus (a", "bad-roadmap"),
        ("Intro, , Verse 1, Chorus", "bad-roadmap"),
        ("Intro, (a), Verse 1, Chorus", "bad-roadmap"),
        ("", "bad-roadmap"),
    ],
)
def test_what_is_wrong_in_a_roadmap(roadmap: str, code: str) -> None:
    assert code in [d.code for d in said(roadmap) if d.severity == "error"]


def test_nearest_names_are_offered() -> None:
    assert "`Chorus`" in said("Korus")[0].hints[0]
    assert "`Verse 1`" in said("Verse")[0].hints[0]
    assert "`Chorus x2`" in said("Chorus 2x")[0].hints[0]


def test_a_section_left_out_is_a_warning() -> None:
    assert [(d.severity, d.code) for d in said("Intro, Verse 1")] == [("warning", "section-not-played")]


def test_a_song_of_more_chords_than_a_book_has_is_refused() -> None:
    row = "| " + " | ".join(["C F G C"] * 25) + " |\n"
    assert codes("section A\n" + row * 30) == []
    longer = "section A\n" + row * 16 + "section B\nlike A\n"
    (found,) = problems(longer)
    assert (found.code, found.message.split(" chords")[0]) == ("song-too-long", "expected 3,000")


def test_a_song_is_not_endless() -> None:
    text = "section A\n" + "|: C G F C :| x99\n" * 30
    assert codes(text) == ["song-too-long"]
    assert codes("section A\n| " + "C | " * 200, "song T\nkey C\nroadmap A x50\n") == []
    assert codes("section A\n| " + "C | " * 200, "song T\nkey C\nroadmap A x51\n") == ["song-too-long"]


# Spelling.


@pytest.mark.parametrize(
    ("key", "row", "found"),
    [
        ("Ab", "| Ab | G#m | Db |", "`Ab`"),
        ("F", "| F | A# |", "`Bb`"),
        ("D", "| D | Gb |", "`F#`"),
        ("D", "| D/Gb |", "`F#`"),
        ("Eb", "| D#m7/A# |", "`Eb`"),
        ("D", "| D Bb | F Eb | C/Bb |", ""),
        ("Bb", "| F#dim Gm |", ""),
        ("Bb", "| D#dim7 |", ""),
        ("C", "| Eb F# | Ab C# |", ""),
        ("Ab", "| E/G# |", ""),
        ("F#", "| F# F |", ""),
        ("Am", "| E/G# Abdim |", ""),
    ],
)
def test_chords_spelled_against_their_key(key: str, row: str, found: str) -> None:
    said = problems(f"section A\n{row}", f"song T\nkey {key}\n")
    if not found:
        assert said == ()
        return
    assert {d.code for d in said} == {"against-the-key"}
    assert {d.severity for d in said} == {"warning"}
    assert found in said[0].message


def test_a_name_is_told_once() -> None:
    assert codes("section A\n| G# G# | G#m |", "song T\nkey Ab\n") == ["against-the-key"]
