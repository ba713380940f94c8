"""What no list knows is understood by where it stands, or told: names, jumps, stray lines, carets, pages' sources."""

from __future__ import annotations

from arranger.convert.conversion import convert
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source


def made_of(*lines: str) -> tuple[str, Song]:
    """Return the text of the song that a sheet becomes, and the song."""
    made, problems = convert(Source.of("sheet.txt", "\n".join(lines)))
    assert made is not None, problems
    song, _ = read(Source.of("made", made.text))
    assert song is not None
    return made.text, song


def names(song: Song) -> list[str]:
    return [section.name for section in song.sections]


VERSE = ("G             D", "Sand in the   pockets", "C             G", "salt upon the line")
OTHER = ("G             D", "Rain in the   gutters", "C             G", "wind along the line")
CHORUS = ("C       G", "Low tide, high tide", "D       G", "never  mine")


def test_names_in_a_language_that_no_list_knows_are_known_by_their_place():
    sheet = ("Low Tide", "", "Umu Ubik 1", *VERSE, "", "Ulyr", *CHORUS, "", "Umu Ubik 2", *OTHER, "", "Ulyr")
    _, song = made_of(*sheet)
    assert names(song) == ["Umu Ubik 1", "Ulyr", "Umu Ubik 2"]
    assert [song.sections[step.section].name for step in song.roadmap] == ["Umu Ubik 1", "Ulyr", "Umu Ubik 2", "Ulyr"]


def test_words_over_chords_that_stand_below_them_are_no_names():
    sheet = (
        "Low Tide",
        "",
        "Sand in it",
        "G   D",
        "Salt in it",
        "C   G",
        "",
        "Rain in it",
        "G   D",
        "Wind in it",
        "C   G",
    )
    text, _ = made_of(*sheet)
    assert "Sand in it" not in [line.removeprefix("section").strip() for line in text.split("\n")]


def test_a_line_that_stands_alone_is_told_and_not_sung():
    text, song = made_of(
        "Low Tide", "", "Verse 1", *VERSE, "", "capodaster off here", "", "Chorus", *CHORUS, "", *CHORUS
    )
    assert "# sheet, line 9: capodaster off here" in text
    assert "N.C." not in text and "| /" not in text
    assert names(song)[0] == "Verse 1"


def test_a_line_that_names_a_section_calls_it():
    _, song = made_of("Low Tide", "", "Verse 1", *VERSE, "", "Chorus", *CHORUS, "", "and the chorus, very softly")
    assert [song.sections[step.section].name for step in song.roadmap] == ["Verse 1", "Chorus", "Chorus"]
    assert song.roadmap[-1].remark is not None


def test_a_jump_without_its_place_is_told_and_not_followed():
    text, song = made_of("Low Tide", "", "Verse", *VERSE, "", "Chorus", *CHORUS, "", "D.S. al Fine")
    assert "`D.S. al Fine` is not in the roadmap: no sign is marked at any section" in text
    assert [song.sections[step.section].name for step in song.roadmap] == ["Verse", "Chorus"]


def test_a_jump_to_the_sign():
    sheet = (
        "Low Tide",
        "",
        "Intro",
        "G  D",
        "",
        "§",
        "Verse",
        *VERSE,
        "(Fine)",
        "",
        "Chorus",
        *CHORUS,
        "",
        "Vom Zeichen bis Fine",
    )
    _, song = made_of(*sheet)
    assert [song.sections[step.section].name for step in song.roadmap] == ["Intro", "Verse", "Chorus", "Verse"]


def test_carets_stand_before_chords_and_doubts_are_told():
    text, _ = made_of("Low Tide", "", "^GSand in the ^Dpockets", "^Amoon on the ^C line", "^Emlet it ^Dover")
    assert "| G                | D       |" in text and "sing | Sand in the | pockets |" in text
    assert "`^` stands before Am, or is it A?" in text
    assert "| Em          | D    |" in text and "sing | let it | over |" in text


def test_the_source_of_a_page_is_read_as_it_is_shown():
    text, song = made_of(
        "<b>Low Tide</b><br>",
        "<pre>",
        "<b>Verse 1</b>",
        "G             D",
        "Sand &amp; all the  pockets",
        "</pre>",
        "<i>x</i>",
    )
    assert song.title.value == "Low Tide" and names(song) == ["Verse 1"]
    assert "Sand & all the | pockets" in text


def test_endings_without_a_repeat_are_told():
    text, _ = made_of("Low Tide", "", "Verse", "2nd time:", *VERSE)
    assert "endings are named here, but no repeat that they end" in text


def test_a_brace_without_a_count_is_told():
    text, _ = made_of(
        "Low Tide", "", "G             D        }", "Sand in the   pockets  }", "C        G", "nobody   home"
    )
    assert "a brace stands at these lines: they are taken to be played twice" in text
    assert "|: G" in text


def test_rising_figures_and_shifts_below_the_fewest_chords():
    _, song = made_of("Low Tide", "", "Verse", "G      D", "Sand,  salt", "", "Verse", "A      E", "Rain,  wind")
    assert all(section.facts.key == song.key for section in song.sections)
