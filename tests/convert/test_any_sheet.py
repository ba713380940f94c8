"""What holds of every sheet: a song that reads, once and the same, with every word of the sheet in it."""

import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.convert.conversion import convert
from arranger.song.model import Meter
from arranger.song.read import read
from arranger.song.tidy import tidied
from arranger.text.diagnostics import has_errors
from arranger.text.source import Source

FOLDER = Path(__file__).parent / "sheets"
CHORDS = (
    "G",
    "D/F#",
    "Em7",
    "C",
    "Am",
    "A",
    "F#m7b5",
    "Bb",
    "H7",
    "N.C.",
    "NC",
    "(C)",
    "/B",
    "%",
    "Dm7/C",
    "Cmaj7",
    "e",
    "C-G",
)
SIGNS = ("|", "||", "|:", ":|", "/", "-", "x2", "(2x)", "|1.", "|2.", "...", ".", "Gx7", "riff", "(hold)")
WORDS = (
    "lanterns",
    "over",
    "the",
    "water",
    "a",
    "Am",
    "I",
    "sea,",
    "won't",
    "a-way",
    "home____",
    "Größe",
    "海",
    "12",
    "｜",
    "*",
    "|",
    "Go",
    "Verse",
)
LINES = (
    "", "", "", "Verse 1", "[Chorus]", "CHORUS:", "Verse 2:", "Bridge (softly)", "Chorus x2", "Repeat Chorus", "(x2)",
    "1.", "2. Out on the water", "Key: G", "Capo 2", "Capo 2nd fret, key of A", "Tempo: 96 bpm", "3/4", "(drums out)",
    "e|---0---2---3--|", "# a remark", "Slow Boats", "by Nell Tarrant", "Intro: G  D  Em  C", "Solo: over Verse 1",
    "Order: Verse 1, Chorus", "> quoted", "\tG\tD", "Coda", "D.S. al Coda", "\u00a0 \u2003G", "C C:", "[A]", "A",
    "Am I", "Verse 1, 2", "Tag until the end", "key of H", "(", "--", "\x0c", "Part x3 x4", "*softly*",
    "Ending  G  D  (x3)", "Key change: A", "(modulate to Fm)", "KERTO:", "[Chorus] [Verse 1]",
)  # fmt: skip


def spaced(pool):
    gaps = st.sampled_from((" ", "  ", "     ", "           ", "\t"))
    pieces = st.tuples(gaps, st.sampled_from(pool))
    return st.lists(pieces, min_size=1, max_size=8).map(lambda ps: "".join(g + p for g, p in ps))


LINE = st.one_of(spaced(CHORDS), spaced(CHORDS + SIGNS), spaced(WORDS), st.sampled_from(LINES), st.text(max_size=30))
PLAIN_LINE = st.one_of(spaced(CHORDS), spaced(WORDS[:9]), st.sampled_from(LINES[:8]))
SHEET = st.lists(LINE, min_size=1, max_size=25).map("\n".join)
OPTIONS = st.builds(
    dict,
    title=st.just("A Sheet"),
    meter=st.sampled_from((None, Meter(3, 4), Meter(6, 8), Meter(2, 2))),
    bars=st.sampled_from((1, 2)),
)


@pytest.mark.slow
@settings(max_examples=400, deadline=None)
@given(SHEET, OPTIONS)
def test_a_song_that_reads_or_a_reason(text, options):
    source = Source.of("a.txt", text)
    made, problems = convert(source, **options)
    if made is None:
        assert has_errors(problems)
        return
    song = Source.of("a.song.txt", made.text)
    assert not has_errors(read(song)[1])
    assert tidied(song) == made.text, "it is in the house style"
    assert convert(source, **options)[0] == made


SHEETS = [p.read_text("utf-8", "replace") for p in sorted(FOLDER.glob("*.txt")) if not p.name.endswith(".song.txt")]
PUT_IN = (
    "NC",
    "i",
    "｜",
    "|:",
    ":|",
    "x2",
    "\t",
    "Verse",
    "2",
    "/",
    "%",
    "rest",
    "_",
    "\\",
    "until",
    "as verse 1",
    "Key: E",
)


def torn(sheet, chance):
    """Damage a sheet as hasty typing and copying do: lines torn, doubled, put elsewhere; signs put in."""
    for _ in range(chance.randint(1, 6)):
        lines = sheet.split("\n")
        one, two = sorted(chance.randrange(len(lines)) for _ in range(2))
        place = chance.randrange(len(sheet) + 1)
        sheet = chance.choice(
            (
                sheet[:place] + sheet[place + chance.randint(1, 30) :],
                sheet[:place] + chance.choice(PUT_IN) + sheet[place:],
                sheet[:place] + "\n" + sheet[place:],
                "\n".join(lines[:two] + lines[one:]),
                "\n".join((*lines[:one], chance.choice(PUT_IN), *lines[one:])),
            )
        )
    return sheet


@pytest.mark.slow
def test_torn_sheets_become_songs_that_read():
    made = 0
    for number in range(300):
        chance = random.Random(number)
        converted, problems = convert(Source.of("a.txt", torn(chance.choice(SHEETS), chance)), title="A Sheet")
        assert (converted is None) == has_errors(problems)
        made += converted is not None
    assert made > 200


TWICE = """Two Again
Verse 1
G  C  D  G
Sand in the pockets
Verse 2
G  C  D  C
Salt on the line
Verse 2
G  C  D  G
Tar on the timber
Verse 2
Rain on the road
"""


def test_headings_that_are_equal_by_a_slip():
    made, _ = convert(Source.of("a.txt", TWICE))
    assert [line for line in made.text.split("\n") if line.startswith("like")] == ["like      Verse 1"] * 2


@pytest.mark.parametrize("text", ["NC", "[Intro]\nN.C.  NC\nla la\n"])
def test_bars_without_a_chord_are_no_sheet(text):
    made, (problem,) = convert(Source.of("a.txt", text))
    assert made is None and problem.code == "sheet-without-chords"


def test_a_wide_barline_among_words_is_a_plain_sign():
    made, _ = convert(Source.of("a.txt", "D\ni｜"), title="A")
    song, _ = read(Source.of("a.song.txt", made.text))
    assert [p.text for p in song.sections[0].rows[0].words[0].bars[0].pieces] == ["i|"]


@pytest.mark.parametrize(
    ("heading", "like"),
    [
        ("Verse 3 (same as Verse 1)", "Verse 1"),
        ("Solo (same as Verse 1)", "Verse 1 without words"),
        ("Solo\nG  C  D  G", "Verse 1 without words"),
    ],
)
def test_who_sings_over_the_same_chords(heading, like):
    sheet = f"Low Tide\n\nVerse 1\nG       C      D     G\nSand in the pockets and salt\n\n{heading}\n"
    made, _ = convert(Source.of("a.txt", sheet))
    assert f"like      {like}\n" in made.text


def letters(text):
    """Give the letters alone: words are parted at chords."""
    return re.sub(r"[\W_]+", "", text.casefold())


def sung(song):
    """Give the words of a song without its other lines."""
    lines = [line.split(maxsplit=1) for line in song.split("\n") if line.startswith(("sing", "pickup"))]
    return letters("".join(rest for _, rest in lines))


def remarks(song):
    return letters("".join(line for line in song.split("\n") if line.startswith(("#", "cue", "song", "words"))))


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@given(st.lists(PLAIN_LINE, min_size=1, max_size=25))
def test_no_word_is_lost(lines):
    made, _ = convert(Source.of("a.txt", "\n".join(lines)), title="A Sheet")
    if made is None:
        return
    for word in ("lanterns", "water", "won't", "over"):
        typed = sum(word in line for line in lines)
        assert not typed or letters(word) in sung(made.text) + "." + remarks(made.text), made.text
