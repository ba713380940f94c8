"""What holds of every sheet: a song that reads, once and the same, with every word of the sheet in it."""

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.convert.convert import convert
from arranger.convert.model import Options
from arranger.diagnostics import has_errors
from arranger.song.model import Meter
from arranger.song.read import read
from arranger.song.tidy import tidied
from arranger.source import Source

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
    Options,
    title=st.just("A Sheet"),
    meter=st.sampled_from((None, Meter(3, 4), Meter(6, 8), Meter(2, 2))),
    bars=st.sampled_from((1, 2)),
)


@settings(max_examples=400, deadline=None)
@given(SHEET, OPTIONS)
def test_a_song_that_reads_or_a_reason(text, options):
    source = Source.of("a.txt", text)
    made, problems = convert(source, options)
    if made is None:
        assert has_errors(problems)
        return
    song = Source.of("a.song.txt", made.text)
    assert not has_errors(read(song)[1])
    assert tidied(song) == made.text, "it is in the house style"
    assert convert(source, options)[0] == made


def letters(text):
    """Give the letters alone: words are parted at chords."""
    return re.sub(r"[\W_]+", "", text.casefold())


def sung(song):
    """Give the words of a song without its other lines."""
    lines = [line.split(maxsplit=1) for line in song.split("\n") if line.startswith(("sing", "pickup"))]
    return letters("".join(rest for _, rest in lines))


def remarks(song):
    return letters("".join(line for line in song.split("\n") if line.startswith(("#", "cue", "song", "words"))))


@settings(max_examples=300, deadline=None)
@given(st.lists(PLAIN_LINE, min_size=1, max_size=25))
def test_no_word_is_lost(lines):
    made, _ = convert(Source.of("a.txt", "\n".join(lines)), Options("A Sheet"))
    if made is None:
        return
    for word in ("lanterns", "water", "won't", "over"):
        typed = sum(word in line for line in lines)
        assert not typed or letters(word) in sung(made.text) + "." + remarks(made.text), made.text
