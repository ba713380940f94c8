"""The steps of converting, each by itself: columns, marks, headings, facts, kinds of lines."""

import pytest

from arranger.convert.chord_lines import read_chords
from arranger.convert.columns import lines_of
from arranger.convert.marks import PLAIN, Habits, chord_of, habits_of, marks_in
from arranger.convert.model import SheetFacts, SheetLine
from arranger.convert.sheet_head import eat, head_of
from arranger.convert.tablature import is_tablature
from arranger.convert.typed_lines import meanings_of
from arranger.habits.calls import again_of, order_of, reference_of
from arranger.habits.free_form import facts_in, is_fact, meter
from arranger.habits.headings import Heading, base_of, heading_of, number_of
from arranger.habits.key_names import key as free_key
from arranger.habits.signs import BETWEEN, DASHES, DOTS, NO_CHORD, RESTS, SIMILE, bar_sign, sign_of, times_of
from arranger.habits.slips import slip_of
from arranger.song.cells import is_chord
from arranger.text.problems import Problems
from arranger.text.source import Source

GERMAN = Habits(german=True, flat_b=True)


def line(text: str, number: int = 1) -> SheetLine:
    return SheetLine(number, lines_of(Source("", text))[0].cells)


def texts(text: str) -> list[str]:
    return [each.text for each in lines_of(Source.of("", text))]


# Columns.


@pytest.mark.parametrize(
    ("typed", "columns"),
    [
        ("G\tD", [0, 8]),
        ("Bright\u00a0 sea", [0, 8]),
        ("海 x", [0, 3]),  # wide characters take two columns
        ("e\u0323\u0301x y", [0, 3]),  # combining marks take none
        ("a\u200bb c", [0, 3]),  # nothing at all
        ("\u3000x", [2]),
    ],
)
def test_columns(typed, columns):
    cells = (" ", *line(typed).cells)
    assert [i for i in range(len(cells) - 1) if cells[i] == " " and cells[i + 1] != " "] == columns


def test_line_ends_of_all_kinds_keep_the_line_numbers_of_the_sheet():
    lines = lines_of(Source.of("", "G\r\nla\x0bla\n\x0cD\u2028lo"))
    assert [(each.number, each.text) for each in lines] == [
        (1, "G"),
        (2, "la"),
        (2, "la"),
        (3, ""),
        (3, "D"),
        (3, "lo"),
    ]


def test_quoted_mail_and_blank_lines_between_all_lines():
    assert texts("> G  D\n> la la") == ["G  D", "la la"]
    assert texts("G  D\n\nla la\n\n\nEm\n\nlo") == ["G  D", "la la", "", "", "Em", "lo"]
    assert texts("G  D\nla la\n\nEm\nlo") == ["G  D", "la la", "", "Em", "lo"]


def test_two_columns():
    left = [
        "Verse",
        "G           D",
        "Sand in the pockets",
        "Em       C",
        "Salt on the line",
        "C D G",
        "Ropes in the rafters",
    ]
    right = [
        "Chorus",
        "C         G",
        "Low tide, low tide",
        "D        G",
        "low tide again",
        "C  D  G",
        "low tide for ever",
    ]
    sheet = "\n".join(["Low Tide", "", *(f"{a:<30}{b}".rstrip() for a, b in zip(left, right, strict=True))])
    assert texts(sheet) == ["Low Tide", "", *left, "", *right]


def test_wide_gaps_of_chords_and_words_are_no_second_column():
    sheet = "G                       D\nOut on the water        the lanterns\nEm                      C\nburn"
    assert texts(sheet) == sheet.split("\n")


# Marks.


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("F♯m7", "F#m7"),
        ("[G]", "G"),
        ("G*", "G"),
        ("D/F#,", "D/F#"),
        ("am", "Am"),
        ("g", "G"),
        ("d/f#", "D/F#"),
        ("(C)", "(C)"),
        ("C7(b9)", "C7(b9)"),
        ("Cmj7", "Cmaj7"),
        ("Hello", None),
        ("H", None),
        ("<G", None),
        ("G=BDG", None),
        ("", None),
        ("x" * 80, None),
    ],
)
def test_chords(typed, meant):
    assert chord_of(typed) == meant


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("H7", "B7"), ("Hm", "Bm"), ("B", "Bb"), ("Bm7", "Bbm7"), ("Fis", "F#"), ("Es", "Eb"), ("As7", "Ab7"),
     ("Cism", "C#m"), ("G/H", "G/B"), ("G/B", "G/Bb"), ("E/Gis", "E/G#"), ("Esus4", "Esus4"), ("Asus2", "Asus2")],
)  # fmt: skip
def test_german_chords(typed, meant):
    assert chord_of(typed, GERMAN) == meant


def test_small_letters_are_minor_where_the_sheet_writes_them_so():
    assert chord_of("a", Habits(small_minor=True)) == "Am"
    assert chord_of("e7", Habits(small_minor=True)) == "Em7"
    assert chord_of("A", Habits(small_minor=True)) == "A"


@pytest.mark.parametrize(
    ("marks", "habits"),
    [
        ("G D Em C", PLAIN),
        ("E H7 A H", Habits(german=True, flat_b=True)),
        ("E H7 Bb A", Habits(german=True)),
        ("Gis Es B", Habits(german=True, flat_b=True)),
        ("a F C G e", Habits(small_minor=True)),
        ("am F C g em", PLAIN),
        ("(G) (D) (Em) (C)", Habits(parentheses=True)),
        ("I G I D I", Habits(bar_letters=True)),
    ],
)
def test_habits(marks, habits):
    assert habits_of(marks.split()) == habits


def test_runs_bars_and_times():
    assert marks_in("G///") == ("G", "/", "/", "/")
    assert marks_in("Bb-F") == ("Bb", "F") and marks_in("C-7") == ("C-7",) and marks_in("re-turn") is None
    assert [bar_sign(s) for s in ("|", "||", "|:", ":|", ":||:", "‖", "|2.", "G")] == [
        "|", "||", "|:", ":|", ":|:", "||", "|2.", None,
    ]  # fmt: skip
    assert [times_of(s) for s in ("x2", "(3x)", "x 4", "2", "x0", "G")] == [2, 3, 4, 0, 0, 0]


@pytest.mark.parametrize(
    ("typed", "marks", "times"),
    [
        ("G  /F#  Em", ["G", "G/F#", "Em"], 1),
        ("D /F#  G", ["D/F#", "G"], 1),
        ("G (D) (Em  C)", ["G", "(D)", "Em", "C"], 1),
        ("|G|D :|", ["|", "G", "|", "D", ":|"], 1),
        ("| G |1. D :|2. C |", ["|", "G", "|1.", "D", ":|2.", "C", "|"], 1),
        ("G D (x3)", ["G", "D"], 3),
        ("G D x 2", ["G", "D"], 2),
        ("G - D - Em", ["G", "D", "Em"], 1),
        ("| G . D . |", ["|", "G", "/", "D", "/", "|"], 1),
        ("N.C.  % ./.", ["N.C.", "%", "%"], 1),
    ],
)
def test_lines_of_chords(typed, marks, times):
    reading = read_chords(line(typed), PLAIN)
    assert reading.certain and [mark.text for mark in reading.marks] == marks
    assert reading.times == times


def test_what_is_no_chord_among_chords():
    reading = read_chords(line("G  D  Qx7  C  (let ring)"), PLAIN)
    assert reading.certain and reading.strays == ("Qx7",) and reading.cues == ("let ring",)
    assert not read_chords(line("A man in C and me"), PLAIN).certain


# Headings.


@pytest.mark.parametrize(
    ("typed", "name", "times", "remark"),
    [
        ("Verse 1", "Verse 1", 1, ""),
        ("VERSE ONE", "Verse 1", 1, ""),
        ("verse II:", "Verse 2", 1, ""),
        ("[Verse 1]", "Verse 1", 1, ""),
        ("[Verse 1 - softly]", "Verse 1", 1, "softly"),
        ("(Chorus)", "Chorus", 1, ""),
        ("*Chorus*", "Chorus", 1, ""),
        ("== Bridge ==", "Bridge", 1, ""),
        ("--- Bit with the fiddle ---", "Bit with the fiddle", 1, ""),
        ("Chorus x2", "Chorus", 2, ""),
        ("Chorus (2x):", "Chorus", 2, ""),
        ("[Chorus] (x3)", "Chorus", 3, ""),
        ("Chorus (twice)", "Chorus", 2, ""),
        ("Chorus: (quietly)", "Chorus", 1, "quietly"),
        ("Final Chorus", "Final Chorus", 1, ""),
        ("PRE-CHORUS", "Pre-chorus", 1, ""),
        ("V1", "Verse 1", 1, ""),
        ("V.2:", "Verse 2", 1, ""),
        ("Ch", "Chorus", 1, ""),
        ("Ch. 2x", "Chorus", 2, ""),
        ("C:", "Chorus", 1, ""),
        ("Strophe 3:", "Strophe 3", 1, ""),
        ("Verses 1 & 2", "Verses 1 & 2", 1, ""),
        ("#2 Verse", None, 1, ""),
        ("Middle 8", "Middle 8", 1, ""),
        ("A:", "Part A", 1, ""),
    ],
)
def test_headings(typed, name, times, remark):
    found = heading_of(typed)
    assert found == (None if name is None else (Heading(name, times, remark), ""))


@pytest.mark.parametrize(
    "typed", ["Bridges are burning", "Versed in the art", "C", "B", "Am", "The end of it", "Endless", "Tagged"]
)
def test_no_headings(typed):
    assert heading_of(typed) is None


def test_what_stands_behind_a_heading_is_left_to_judge():
    assert heading_of("Intro: G  D") == (Heading("Intro"), "G  D")
    assert heading_of("Bridge over the river") == (Heading("Bridge"), "over the river")


@pytest.mark.parametrize(
    ("typed", "steps"),
    [
        ("Repeat Chorus", [("Chorus", 1)]),
        ("(repeat chorus x2)", [("Chorus", 2)]),
        ("Chorus again", [("Chorus", 1)]),
        ("back to Verse 1 and Chorus", [("Verse 1", 1), ("Chorus", 1)]),
        ("Repeat", [("", 2)]),
        ("x3", [("", 3)]),
        ("[Repeat verse 1, twice]", [("Verse 1", 1), ("", 2)]),
    ],
)
def test_calls(typed, steps):
    assert again_of(typed) == tuple(Heading(name, times) for name, times in steps)


def test_no_calls():
    assert again_of("Sing it again, my friend") is None
    assert again_of("Repeat after me") is None
    assert again_of("Play the fool") is None


def test_orders_numbers_and_references():
    assert [s.name for s in order_of("V1, C, V2, C x2, Bridge")] == ["Verse 1", "Chorus", "Verse 2", "Chorus", "Bridge"]
    assert [s.name for s in order_of("Intro - Verse 1 - Pre-Chorus")] == ["Intro", "Verse 1", "Pre-Chorus"]
    assert [s.name for s in order_of("V1-C-V2")] == ["Verse 1", "Chorus", "Verse 2"]
    assert order_of("slow, then fast") == ()
    assert number_of("2) Out") == (2, 3) and number_of("20 men") is None
    assert reference_of("(same chords as Verse 1)") == "Verse 1" and reference_of("like a bird") == ""
    assert base_of("Last Chorus 2") == "chorus"


# Facts.


@pytest.mark.parametrize(
    ("typed", "fact", "value"),
    [
        ("Key: G", "key", "G"),
        ("Key of F#m", "key", "F#m"),
        ("KEY: B FLAT MINOR", "key", "Bbm"),
        ("Tonart: H-Moll", "key", "Bm"),
        ("e-Moll", "key", "Em"),
        ("Original key = Eb major", "key", "Eb"),
        ("Key - A", "key", "A"),
        ("Capo 2", "capo", 2),
        ("Capo: 3rd fret", "capo", 3),
        ("capo on fret 5", "capo", 5),
        ("Capo II", "capo", 2),
        ("Tempo: 72", "tempo", "72"),
        ("ca. 96 bpm", "tempo", "96"),
        ("♩ = 120", "tempo", "120"),
        ("♩. = 60", "tempo", "dotted 60"),
        ("half note = 88", "tempo", "half 88"),
        ("Time: 3/4", "meter", "3/4"),
        ("6/8 time", "meter", "6/8"),
        ("Waltz time", "meter", "3/4"),
        ("Feel: shuffle", "feel", "swing"),
    ],
)
def test_facts(typed, fact, value):
    found, rest = eat(typed, SheetFacts(), 1)
    assert rest == "" and is_fact(typed)
    told = getattr(found, fact)
    assert (str(told) if fact in ("key", "meter") else told) == value


@pytest.mark.parametrize(
    "typed", ["The key of the house", "Keep in time", "A tempo of its own", "Capo by the sea", "Tempo: 900"]
)
def test_no_facts(typed):
    assert not is_fact(typed)


@pytest.mark.parametrize(
    ("typed", "title", "words", "music"),
    [
        ("Low Tide\nby Nell Tarrant", "Low Tide", "Nell Tarrant", "Nell Tarrant"),
        ("Low Tide - Nell Tarrant", "Low Tide", "Nell Tarrant", "Nell Tarrant"),
        ("Low Tide (Nell Tarrant & Ivo Quill)", "Low Tide", "Nell Tarrant & Ivo Quill", "Nell Tarrant & Ivo Quill"),
        ("LOW TIDE AT THE QUAY\n(NELL TARRANT)", "Low Tide at the Quay", "Nell Tarrant", "Nell Tarrant"),
        ("Title: Low Tide\nWords: Ivo Quill   Music: Nell Tarrant", "Low Tide", "Ivo Quill", "Nell Tarrant"),
        ("Low Tide\nWords and music by Nell Tarrant", "Low Tide", "Nell Tarrant", "Nell Tarrant"),
        ("Low Tide\nNell Tarrant", "Low Tide", "Nell Tarrant", "Nell Tarrant"),
        ("Low Tide - slowly, with feeling", "Low Tide - slowly, with feeling", "", ""),
        ("“Low Tide”", "Low Tide", "", ""),
    ],
)  # fmt: skip
def test_titles_and_people(typed, title, words, music):
    facts, _ = head_of(lines_of(Source.of("", typed)))
    assert (facts.title, facts.words, facts.music) == (title, words, music)


def test_several_facts_on_a_line_and_what_is_left():
    facts, notes = head_of(
        lines_of(Source.of("", "Low Tide\nKey: G | Capo 2 | 72 bpm | 6/8\nStrum lightly\n© 2020 us"))
    )
    assert (str(facts.key), facts.capo, facts.tempo, str(facts.meter)) == ("G", 2, "72", "6/8")
    assert facts.rights == "© 2020 us"
    assert [(n.kind, n.line, n.text) for n in notes] == [("left", 3, "Strum lightly")]


# Kinds of lines, and those that their neighbours decide.


def kinds(text: str) -> list[str]:
    return [told.kind for told in meanings_of(lines_of(Source.of("", text)))[0]]


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("Am\nAm I the one", ["chords", "words"]),
        ("G  D\nAm I", ["chords", "words"]),
        ("G  D\nla la\nAm I\nEm\nthe one", ["chords", "words", "words", "chords", "words"]),
        ("G  D\nla la\nA\nAll of it", ["chords", "words", "chords", "words"]),
        ("G  D\nA\nAll of it", ["chords", "chords", "words"]),
        ("G\nA\n\nD\nB", ["chords", "words", "blank", "chords", "chords"]),
        ("la la la\nA\n\nD", ["words", "words", "blank", "chords"]),
        ("A     A     Am", ["chords"]),
        ("Verse 1: G D\nla la", ["heading", "chords", "words"]),
        ("Chorus: la la\nG", ["heading", "words", "chords"]),
        ("G D\nBridge over the water", ["chords", "words"]),
        ("e|--0--2--|\nG D", ["tablature", "chords"]),
        ("(drums out)\nG D\n(ooh ooh)", ["cue", "chords", "words"]),
        ("[Bit with fiddle]\nG D\nla", ["heading", "chords", "words"]),
        ("[G]     [D]\nla     la", ["chords", "words"]),
        ("[A]\nG D\nla", ["heading", "chords", "words"]),
        ("1.\nG D\nla", ["heading", "chords", "words"]),
        ("// remark\nG", ["remark", "chords"]),
    ],
)
def test_kinds(typed, found):
    assert kinds(typed) == found


def test_tablature():
    assert is_tablature("E|-0-2-3h5---|") and is_tablature("------3---2---")
    assert not is_tablature("----------") and not is_tablature("- - - G - - -")


@pytest.mark.parametrize(
    ("signs", "kind", "code"),
    [
        (SIMILE, "simile", "repeat-sign"),
        (NO_CHORD - {"n.c.", "nc", "n.c"}, "none", "no-chord-sign"),
        (RESTS - {"rest"}, "rest", "silence-word"),
        (DOTS | DASHES, "slash", "slash-sign"),
        (BETWEEN - {"to"}, "glue", "stray-punctuation"),
    ],
)
def test_a_sign_is_the_same_to_the_converting_and_the_checking(signs, kind, code):
    for sign in sorted(signs):
        slip = slip_of(sign, "D", "G", is_chord)
        assert (sign_of(sign), slip and slip.code) == (kind, code), sign


@pytest.mark.parametrize(
    ("text", "beats"), [("waltz", (3, 4)), ("Walzer", (3, 4)), ("alla breve", (2, 2)), ("Common time", (4, 4))]
)
def test_a_meter_in_words_is_the_same_to_the_converting_and_the_checking(text, beats):
    assert facts_in(text) == ({"meter": beats}, "")
    assert meter(text, Problems())[1] == "{}/{}".format(*beats)


@pytest.mark.parametrize(("text", "key"), [("E-Dur", "E"), ("Fis-Moll", "F#m"), ("As dur", "Ab"), ("c moll", "Cm")])
def test_a_german_key_is_the_same_to_the_converting_and_the_checking(text, key):
    assert str(facts_in(text)[0]["key"]) == free_key(text, Problems())[1] == key
