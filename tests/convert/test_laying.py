"""Words under chords, bars, sections that come again, keys and capos: what the song says for what the sheet shows."""

from itertools import pairwise

import pytest

from arranger.convert.columns import lines_of
from arranger.convert.conversion import convert
from arranger.convert.model import Converted
from arranger.convert.syllables import place_of, starts_in
from arranger.song.model import Meter, Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.key import Key


def made(sheet: str, **options: object) -> Converted:
    converted, problems = convert(Source.of("a.txt", sheet), **options)
    assert converted is not None, problems
    return converted


def song(sheet: str, **options: object) -> Song:
    read_back, problems = read(Source.of("a.song.txt", made(sheet, **options).text))
    assert read_back is not None, problems
    return read_back


def rows(sheet: str, **options: object) -> list[str]:
    """Give the rows of chords and words, pickups and names of the song, one blank between words."""
    lines = [" ".join(line.split()) for line in made(sheet, **options).text.split("\n")]
    return [line for line in lines if line.startswith(("|", ":|", "sing", "pickup", "section", "like", "cue"))]


# Syllables.


@pytest.mark.parametrize(
    ("word", "parts"),
    [
        ("lanterns", "lan terns"), ("over", "o ver"), ("home", "home"), ("water", "wa ter"), ("gentle", "gen tle"),
        ("something", "some thing"), ("loved", "loved"), ("wanted", "wan ted"), ("houses", "hou ses"),
        ("create", "create"), ("going", "go ing"), ("yellow", "yel low"), ("queen", "queen"), ("a-gain", "a- gain"),
        ("strength", "strength"), ("Größe", "Grö ße"), ("παράθυρο", "πα ρά θυ ρο"), ("rhythm", "rhythm"), ("12", "12"),
    ],
)  # fmt: skip
def test_syllables_by_spelling(word, parts):
    starts = [*starts_in(tuple(word)), len(word)]
    assert " ".join(word[a:b] for a, b in pairwise(starts)) == parts


@pytest.mark.parametrize(
    ("words", "column", "at"),
    [
        ("over the water", 0, 0),
        ("over the water", 4, 5),  # the blank before a word is the word
        ("over the water", 5, 5),
        ("over the water", 6, 5),  # a column off
        ("over the water", 9, 9),
        ("over the water", 10, 9),
        ("over the water", 11, 11),  # wa-ter
        ("over the water", 12, 12),
        ("over the water", 14, 14),  # beyond the words
        ("over the water", 40, 14),
        ("  over", 0, 2),
        ("gently", 3, 3),  # gen-tly and gent-ly are the same two syllables
        ("gently", 4, 4),
        ("“over”", 1, 0),
        ("bo - dy", 3, 5),  # a dash between syllables stands for nothing
        ("", 0, 0),
        ("海と空", 2, 2),
        ("海と空", 3, 2),
    ],
)
def test_the_syllable_that_a_chord_stands_over(words, column, at):
    (line,) = lines_of(Source("", words))
    assert place_of(line, column) == at


# Chords over words.


def test_words_before_the_first_chord():
    sheet = "Verse\n    G       D\nAnd sand in pockets\n   Em\nso home"
    assert rows(sheet) == [
        "section Verse", "pickup And", "| G | D |", "sing | sand in | pockets so |", "| Em |", "sing | home |",
    ]  # fmt: skip


def test_a_chord_in_the_middle_of_a_word_and_beyond_the_words():
    assert rows("G  D\nlanterns\n\nG       D     C\nhome")[1:3] == ["| G | D |", "sing | lan- | terns |"]
    assert rows("G   D   A   D\nhome and")[2] == "sing | home | and | | |"


def test_chords_that_share_a_bar_have_stars():
    assert rows("| G     D    | Em G/D  |\n  over  the  lanterns")[1:] == [
        "| G D | Em G/D |",
        "sing | over * the | lan*terns |",
    ]
    assert rows("| G  D  |\n  la ")[2] == "sing | la |"


def test_two_chords_over_one_syllable():
    assert rows("G  D     A\nhome     again")[2] == "sing | home | | again |"


def test_signs_that_mean_something_in_words_are_escaped():
    assert rows("G        D\n5 * 3 \\o the --")[2] == "sing | 5 \\* 3 \\\\o | the- |"


def test_a_line_that_slipped_is_set_right():
    words = "lanterns over the water tonight"
    typed = "  G        D    Em  C     G"
    assert rows(f"{typed}\n{words}")[2] == "sing | lanterns | over | the | water | tonight |"


def test_words_without_chords_go_on_with_the_last_one():
    sheet = "G       D\nlanterns over\nand out again"
    assert rows(sheet)[1:] == ["| G | D |", "sing | lanterns | over |", "| / |", "sing | and out again |"]
    assert [n.kind for n in made(sheet).notes if n.line == 3] == ["check"]


# Bars.


def test_one_chord_is_one_bar_or_two():
    assert rows("G   D   Em  C")[1] == "| G | D | Em | C |"
    assert rows("G   D", bars=2)[1] == "| G | % | D | % |"
    assert rows("G                 D\nout on the water to home", bars=2)[2] == "sing | out on | the water | to | home |"


def test_barlines_and_rhythm_slashes():
    assert rows("| G D | Em / / C | % | |")[1] == "| G D | Em / / C | % |"
    assert rows("G / / / D / Em /")[1] == "| G / / / | D / Em / |"
    assert rows("| G D C | G |", meter=Meter(3, 4))[1] == "| G D C | G |"
    assert rows("| G D C |")[1] == "| G | D | C |"  # a frame around a line, no bar
    assert rows("| G D | C |", meter=Meter(3, 4))[1] == "| G / D | C |"
    assert rows("| G D C | G |")[1] == "| G / D C | G |"
    assert rows("| G | | D |")[1] == "| G | % | D |"


def test_spacing_of_chords_alone_shows_bars():
    assert rows("G       D       Em  D   C       G")[1] == "| G | D | Em D | C | G |"
    assert rows("G   D   Em  C")[1] == "| G | D | Em | C |"
    assert rows("G D Em C   G")[1] == "| G | D | Em | C | G |"


def test_spacing_over_words_shows_bars_where_all_lines_have_one_grid():
    lines = ["G       D       Em  D   C", "G       D       Em      C", "G       D       Em  D   C"]
    sheet = "\n".join(f"{line}\nla      lo      li  lu  le" for line in lines)
    assert rows(sheet)[1::2] == ["| G | D | Em D | C |", "| G | D | Em | C |", "| G | D | Em D | C |"]
    assert rows(sheet)[2] == "sing | la | lo | li * lu | le |"
    assert rows(sheet.replace("G       D", "G      D"))[1] == "| G | D | Em | D | C |"


def test_repeats():
    assert rows("|: G | D :|")[1] == "|: G | D :|"
    assert rows("G  D  (x3)")[1] == "|: G | D :| x3"
    assert rows("| G | D :|")[1] == "|: G | D :|"
    assert rows("|: G | D |")[1] == "| G | D |"
    assert rows("G     D\nla la lo  (2x)")[1:] == ["|: G | D :|", "sing | la la | lo |"]
    assert rows("|: G | D |1. C :|2. G ||")[1] == "|: G | D |1. C :|2. G ||"
    assert rows("|1. G | D :| C |2. A")[1] == "| G | D | C | A |"  # endings that lead nowhere


# Sections that come again.

VERSE = "Verse 1\nG        D\nSand and shells\nChorus\nC     G\nLow tide\n"


@pytest.mark.parametrize(
    ("more", "roadmap"),
    [
        ("", "Verse 1, Chorus"),
        ("Chorus", "Verse 1, Chorus x2"),
        ("Chorus x3", "Verse 1, Chorus x4"),
        ("Repeat Chorus x2", "Verse 1, Chorus x3"),
        ("(Chorus again)", "Verse 1, Chorus x2"),
        ("Chorus\nC     G\nLow tide", "Verse 1, Chorus x2"),
        ("Chorus\nC     G", "Verse 1, Chorus x2"),
        ("Chorus\nLow...", "Verse 1, Chorus x2"),
        ("Chorus (softly)", "Verse 1, Chorus, Chorus"),
        ("Last chorus", "Verse 1, Chorus x2"),
        ("x2", "Verse 1, Chorus x2"),
        ("Verse 2\nG         D\nRope and  rain\nChorus", "Verse 1, Chorus, Verse 2, Chorus"),
        ("Solo (over Verse 1)", "Verse 1, Chorus, Solo"),
        ("Form: V1, C, V1, C x2", "Verse 1, Chorus, Verse 1, Chorus x2"),
    ],
)
def test_the_roadmap(more, roadmap):
    heard = song(VERSE + "\n" + more)
    steps = [heard.sections[s.section].name + (f" x{s.times}" if s.times > 1 else "") for s in heard.roadmap]
    assert ", ".join(steps) == roadmap


def test_what_a_heading_says_is_of_its_section_alone():
    two = "Verse 1 (softly)\nG     D\nla la lo\n\nVerse 2\nG     D\nfa fa so\n"
    assert "cue softly" not in rows(two)
    assert "roadmap   Verse 1 (softly), Verse 2\n" in made(two).text
    assert "cue softly" in rows("Verse 1 (softly)\nG     D\nla la lo\n\nBridge\nC     D\nfa fa so\n")


def test_verses_with_numbers_beside_their_chords_and_words():
    sheet = (
        "1. G     D\n   la la lo\nRef: C   G\n     li  lu\n\n2. fa fa so\n\nRef.\n\n3. G     D\n   do re mi\nRef. 2x"
    )
    assert rows(sheet) == [
        "section Verse 1", "| G | D |", "sing | la la | lo |",
        "section Refrain", "| C | G |", "sing | li | lu |",
        "section Verse 2", "like Verse 1", "sing | fa fa | so |",
        "section Verse 3", "like Verse 1", "sing | do re | mi |",
    ]  # fmt: skip
    assert "roadmap   Verse 1, Refrain, Verse 2, Refrain, Verse 3, Refrain x2\n" in made(sheet).text


def test_the_same_chords_under_other_words():
    found = rows(VERSE + "\nVerse 2\nG         D\nRope and  rain\n")
    assert found[-3:] == ["section Verse 2", "like Verse 1", "sing | Rope and | rain |"]


def test_words_alone_are_laid_over_the_chords_of_their_kind():
    found = rows(VERSE + "\nVerse 2\nRope and rain\n")
    assert found[-3:] == ["section Verse 2", "like Verse 1", "sing | Rope and | rain |"]


def test_a_chorus_whose_chords_come_later():
    found = rows("Verse 1\nG   D\nla la\nChorus\n\nVerse 2\nG   D\nlo lo\nChorus\nC   G\nli li\n")
    assert "section Chorus" in found


def test_sections_without_names_and_numbers():
    verse, chorus = "G  D\n{}\nEm  C\nla la\n\n", "C  G\nli lu\nD  G\nli li\n\n"
    blocks = "G  D\n\n" + verse.format("la lo") + chorus + verse.format("fa so") + chorus + "C  D  G"
    assert [r for r in rows(blocks) if r.startswith("section")] == [
        f"section {name}" for name in ("Intro", "Verse 1", "Chorus", "Verse 2", "Ending")
    ]
    named = rows("Verse\nG  D\nla lo\n\nVerse\nC  G\nli lu")
    assert [r for r in named if r.startswith("section")] == ["section Verse 1", "section Verse 2"]


def test_verses_stacked_under_one_line_of_chords():
    found = rows("G          D\n1. Sand and shells\n2. Rope and rain\n")
    assert found == [
        "section Verse 1", "| G | D |", "sing | Sand and | shells |",
        "section Verse 2", "like Verse 1", "sing | Rope and | rain |",
    ]  # fmt: skip


# Keys and capos.


def test_the_key_of_the_sheet_of_the_player_and_of_the_chords():
    assert song("Low Tide\nKey: Em\n\nG  D\nla lo").key == Key.parse("Em")
    assert song("Low Tide\nKey: Em\n\nG  D\nla lo", key=Key.parse("D")).key == Key.parse("D")
    guessed = made("G  C  D  G\nla lo li lu")
    assert "key       G\n" in guessed.text
    assert any(n.kind == "assumed" and "G major" in n.text and "a guess" in n.text for n in guessed.notes)


def test_a_letter_alone_is_minor_where_the_chords_are():
    assert song("Low Tide\nKey: A\n\nAm  Dm  E7  Am\nla  lo  li  lu").key == Key.parse("Am")


@pytest.mark.parametrize(
    ("head", "key", "shapes"),
    [
        ("Capo 2", "A", "G"),
        ("Capo 2\nKey: G", "A", "G"),  # the key of the shapes
        ("Capo 2\nKey: A", "A", "G"),  # the key that sounds
        ("Capo 4", "B", "G"),
        ("Capo 1", "Ab", "G"),
        ("Capo 2, play in G", "A", "G"),
        ("Capo 3 (C shapes)", "Eb", "C"),
    ],
)
def test_capos(head, key, shapes):
    heard = song(f"Low Tide\n{head}\n\nG   C   D   G\nla  lo  li  lu")
    assert heard.key == Key.parse(key)
    assert heard.capo is not None and heard.capo.shapes == Key.parse(shapes)


def test_chords_are_spelled_in_the_key():
    text = made("Low Tide\nKey: F\n\nF   A#   C   F\nla  lo   li  lu").text
    assert "| F " in text and "| Bb " in text and "A#" not in text.replace("A# is Bb", "")


def test_german_names():
    assert rows("E   H7  A   H\nla  lo  li  lu")[1] == "| E | B7 | A | B |"
    assert "H is B" in made("E   H7  A   H\nla  lo  li  lu").text


def test_a_change_of_key():
    sheet = "Low Tide\nKey: D\n\nChorus\nD    G    A\nlow  tide now\n\nKey change: E\nBridge\nE   A\nla  lo\n\nChorus\n"
    heard = song(sheet)
    assert [(s.name, str(s.facts.key), s.like) for s in heard.sections] == [
        ("Chorus", "D", None), ("Bridge", "E", None), ("Chorus in E", "E", "Chorus"),
    ]  # fmt: skip
    assert [m.chord.written for m in heard.sections[2].bars[0].marks if m.chord] == ["E"]


def test_a_change_of_key_under_a_capo_is_told():
    verse = "Verse\nC    F    G    C\nlow  tide now  la\n\n"
    sheet = f"Low Tide\nKey: D\nCapo 2\n\n{verse}(key change to E)\nBridge\nD   G\nla  lo\n"
    assert any("the key changes to E major here" in n.text for n in made(sheet).notes)


def test_a_solo_over_other_chords_and_one_with_its_own():
    heard = song("Verse 1\nG   D\nla  lo\n\nSolo: over Verse 1\n\nSolo: over Verse 1\nC   D\n")
    assert [(s.name, s.like) for s in heard.sections] == [("Verse 1", None), ("Solo", "Verse 1"), ("Solo 2", None)]
