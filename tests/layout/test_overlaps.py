"""Whatever the song: nothing overlaps, nothing is cut off, on A4 and Letter; all words and chords are there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.collect import collect
from arranger.layout.content.on_staves import NO_BARS, staff_bars
from arranger.layout.model import Document, Text
from arranger.layout.options import HANDS, VERSES, Hands, PartOptions
from arranger.layout.pages.part_choice import PartChoice
from arranger.layout.pages.players_part import lay_out
from arranger.layout.style import looks
from arranger.pdf.fonts import metrics
from arranger.song.model import COMMON, Meter, Section, Song, Step, SungLine
from arranger.units import A4, LETTER
from tests.layout import boxes, songs

ROOTS = ("C", "F#", "Bb", "Db", "E", "G")
QUALITIES = ("", "m", "7", "maj7", "m7b5", "sus4", "add9", "13", "7alt", "m6/9", "dim7")
LETTERS = "aeiouy mnst fglr ÀÉÎõũ ấỘ Żż Яжщ -'’"

SYMBOLS = ("chord", "slash", "rest", "repeat", "resolution", "lead-in", "manner")
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
def documents(draw: st.DrawFn) -> tuple[Song, list[tuple[int, ...]], str, Document]:
    count = draw(st.integers(1, 4))
    made = [draw(sections(number)) for number in range(count)]
    for number in range(draw(st.integers(0, 4))):  # further verses of a section, and what comes again as it was
        model = made[draw(st.integers(0, count - 1))]
        rows = [replace(row, words=draw(other_words(len(row.bars))) or row.words) for row in model.rows]
        made.append(
            replace(model, name=f"Again {number + 1}", rows=tuple(rows), like=model.name, model=made.index(model))
        )
    count = len(made)
    steps = [Step(index, times=1 + index % 3) for index in range(count)] * draw(st.integers(1, 9))
    title = draw(st.one_of(st.just("Short"), st.text("Wide Title", min_size=30, max_size=120)))
    song = songs.song(title.strip() or "x", made, steps, ("bass", "drums"))
    arrangement = songs.arranged(song)
    paper = draw(st.sampled_from((A4, LETTER)))
    hands = draw(st.sampled_from(HANDS))
    pages, verses = draw(st.sampled_from((None, 1))), draw(st.sampled_from(VERSES))
    options = PartOptions(paper, "1 May", hands, verses=verses, pages=pages)
    document, problems = lay_out(arrangement, metrics(), options=options)
    assert [problem.code for problem in problems] == ["too-small-to-read"] * (
        pages is not None and len(document.pages) > 1
    )
    drawn = PartChoice(arrangement, options, metrics()).best().sections
    groups = sorted({section.indices for section in drawn.values()})
    assert sorted(index for group in groups for index in group) == list(range(len(made)))
    assert verses == "together" or all(len(group) == 1 for group in groups)
    symbols = "".join(_symbols(arrangement, [group[0] for group in groups], hands))
    return song, groups, symbols, document


@st.composite
def other_words(draw: st.DrawFn, bars: int) -> tuple[SungLine, ...]:
    texts = draw(st.lists(st.lists(words, min_size=bars, max_size=bars), max_size=2))
    return tuple(songs.sung(" | ".join(verse)) for verse in texts)


def _symbols(arrangement: Arrangement, drawn: list[int], hands: Hands) -> Iterator[str]:
    """Give what stands in the chord rows of the sections that are drawn, in the order of the song.

    On staves notes that go on stand for slashes, and for a repeated bar with another line in it.
    """
    look = looks(hands)[0]
    written = staff_bars(arrangement, look) if hands == "staff" else NO_BARS
    everything = collect(arrangement, metrics(), look, written=written)
    for section in (everything[index] for index in drawn):
        columns = [column for row in section.rows for bar in row.bars for column in bar.columns]
        for symbol in (column.symbol for column in columns if column.symbol is not None):
            yield from (run.text for run in (*symbol.runs, *symbol.manner))


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(documents())
def test_nothing_overlaps_nothing_is_cut_off_and_all_is_there(
    made: tuple[Song, list[tuple[int, ...]], str, Document],
) -> None:
    song, groups, symbols, document = made
    for page in document.pages:
        overlapping = boxes.overlaps(page, metrics())
        assert not overlapping, overlapping[0]
        outside = boxes.outside(page, metrics(), style.SIDE_FULL, style.TOP, style.BOTTOM)
        assert not outside, outside[0]
    texts = [item for page in document.pages for item in page.items if isinstance(item, Text)]
    assert "".join(item.text for item in texts if item.role in SYMBOLS) == symbols
    printed = Counter(letter for item in texts if item.role == "words" for letter in item.text if letter not in " -/_")
    sung: Counter[str] = Counter()
    later = ""  # sung before the first bar of a verse that stands as text
    for group in groups:
        members = [song.sections[index] for index in group]
        texts_of = [(one.pickup, [row.words for row in one.rows]) for one in members]
        if all(one == texts_of[0] for one in texts_of):  # the same words stand once
            members = members[:1]
        sung += sum(map(_letters, members), Counter())
        later += "".join(one.pickup.value for one in members[1:] if one.pickup)
    assert sung <= printed <= sung + Counter(later)


def _letters(section: Section) -> Counter[str]:
    bars = [bar for row in section.rows for line in row.words for bar in line.bars]
    return Counter(letter for bar in bars for piece in bar.pieces for letter in piece.text if letter not in " -/_")
