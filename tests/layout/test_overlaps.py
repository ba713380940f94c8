"""Whatever the song: nothing overlaps, nothing is cut off, on A4 and Letter; all words and chords are there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.collect import collect
from arranger.layout.model import Document, Text
from arranger.layout.options import HANDS, PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import metrics
from arranger.song.model import COMMON, Meter, Section, Song, Step
from arranger.units import A4, LETTER
from tests.layout import boxes, songs

ROOTS = ("C", "F#", "Bb", "Db", "E", "G")
QUALITIES = ("", "m", "7", "maj7", "m7b5", "sus4", "add9", "13", "7alt", "m6/9", "dim7")
LETTERS = "aeiouy mnst fglr ÀÉÎõũ ấỘ Żż Яжщ -'’"

SYMBOLS = ("chord", "slash", "rest", "repeat", "resolution", "manner")
chords = st.builds(
    lambda root, quality, bass: root + quality + bass,
    st.sampled_from(ROOTS),
    st.sampled_from(QUALITIES),
    st.sampled_from(("", "", "", "/C", "/Bb")),
)
words = st.text(LETTERS, max_size=24).map(lambda text: " ".join(text.split()))
long_words = st.text("abcdefgŵ ", min_size=60, max_size=200).map(lambda text: " ".join(text.split()))
bars = st.one_of(
    chords,
    st.sampled_from(("%", "rest", "N.C.", "/")),
    st.builds(lambda a, b: f"{a} {b}", chords, chords),
    st.builds(lambda a, b: f"{a} / / {b}", chords, chords),
    st.builds(lambda a, b, c, d: f"{a} {b} {c} {d}", chords, chords, chords, chords),
)


@st.composite
def rows(draw: st.DrawFn) -> tuple[str, ...]:
    marks = draw(st.lists(bars, min_size=1, max_size=5))
    marks[0] = draw(chords)
    if draw(st.booleans()) and len(marks) > 1:
        marks[0], marks[-1] = f": {marks[0]}", f"{marks[-1]} :"
    sung = st.one_of(words, words, long_words)
    verses = draw(st.lists(st.lists(sung, min_size=len(marks), max_size=len(marks)), max_size=3))
    return ("| " + " | ".join(marks) + " |", *(" | ".join(verse) for verse in verses))


@st.composite
def sections(draw: st.DrawFn, number: int) -> Section:
    name = (
        f"{draw(st.sampled_from(('Verse', 'Quite a long name for a bridge', 'Antidisestablishmentarianism')))} {number}"
    )
    return songs.section(
        f"{name} {number}",
        "C",
        draw(st.lists(rows(), min_size=1, max_size=4)),
        meter=draw(st.sampled_from((COMMON, Meter(12, 8)))) if number else COMMON,
        level=draw(st.sampled_from((None, "p", "ff"))),
        pickup=draw(st.sampled_from(("", "Oh", "And if I should ever"))),
        cues=draw(st.lists(words.filter(bool), max_size=2)),
    )


@st.composite
def documents(draw: st.DrawFn) -> tuple[Song, str, Document]:
    count = draw(st.integers(1, 4))
    made = [draw(sections(number)) for number in range(count)]
    steps = [Step(index, times=1 + index % 3) for index in range(count)] * draw(st.integers(1, 9))
    title = draw(st.one_of(st.just("Short"), st.text("Wide Title", min_size=30, max_size=120)))
    song = songs.song(title.strip() or "x", made, steps, ("bass", "drums"))
    arrangement = songs.arranged(song)
    paper = draw(st.sampled_from((A4, LETTER)))
    hands = draw(st.sampled_from(HANDS))
    document, problems = lay_out(arrangement, metrics(), options=PartOptions(paper, "1 May", hands))
    assert problems == ()
    return song, "".join(_symbols(arrangement)), document


def _symbols(arrangement: Arrangement) -> Iterator[str]:
    """Give what stands in the chord rows, in the order of the song."""
    for section in collect(arrangement, metrics()):
        columns = [column for row in section.rows for bar in row.bars for column in bar.columns]
        for symbol in (column.symbol for column in columns if column.symbol is not None):
            yield from (run.text for run in (*symbol.runs, *symbol.manner))


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(documents())
def test_nothing_overlaps_nothing_is_cut_off_and_all_is_there(made: tuple[Song, str, Document]) -> None:
    song, symbols, document = made
    for page in document.pages:
        overlapping = boxes.overlaps(page, metrics())
        assert not overlapping, overlapping[0]
        outside = boxes.outside(page, metrics(), style.SIDE, style.TOP, style.BOTTOM)
        assert not outside, outside[0]
    texts = [item for page in document.pages for item in page.items if isinstance(item, Text)]
    assert "".join(item.text for item in texts if item.role in SYMBOLS) == symbols
    printed = Counter(letter for item in texts if item.role == "words" for letter in item.text if letter not in " -")
    bars = [bar for section in song.sections for row in section.rows for line in row.words for bar in line.bars]
    sung = Counter(letter for bar in bars for piece in bar.pieces for letter in piece.text if letter not in " -")
    assert printed == sung
