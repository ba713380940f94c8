"""Whatever the song, sheet and distance: nothing overlaps, is cut off or too small; all chords are there, and words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from arranger.harmony.model import Arrangement
from arranger.layout.content.condensed import condensed
from arranger.layout.model import Document, Text
from arranger.layout.options import PROMPTS, StageOptions
from arranger.layout.pages.fitting import MINIMUM, capital, height, margins_of
from arranger.pdf.fonts import metrics
from arranger.song.model import Song, Step
from arranger.units import SHEETS, mm
from tests.conftest import in_parts
from tests.layout import boxes, songs
from tests.layout.stage.drawn import lay_out
from tests.layout.test_overlaps import SYMBOLS, sections

IN_THE_MARGIN = ("turn", "paper")  # the mark of a turn, the ground of dark pages
NEVER = 1e-6


@st.composite
def options(draw: st.DrawFn) -> StageOptions:
    return StageOptions(
        sheet=draw(st.sampled_from(tuple(SHEETS.values()))),
        margin=draw(st.sampled_from((None, None, mm(6), mm(25)))),
        distance=draw(st.sampled_from((0.5, 0.7, 0.9, 1.3))),
        pages=draw(st.sampled_from((None, None, 1, 2))),
        words=draw(st.sampled_from(PROMPTS)),
        dark=draw(st.booleans()),
        date=draw(st.sampled_from((None, "29 November"))),
    )


@st.composite
def made_songs(draw: st.DrawFn) -> Song:
    count = draw(st.integers(1, 4))
    made = [draw(sections(number)) for number in range(count)]
    if draw(st.booleans()):
        made.append(replace(made[0], name="Again"))
    steps = [
        Step(index, times=1 + index % 3, until=draw(st.sampled_from((None, None, "the lights go"))))
        for index in range(len(made))
    ] * draw(st.integers(0, 5))
    if steps and draw(st.booleans()):
        steps.append(Step(0, from_bar=1, to_bar=1))
    title = draw(st.one_of(st.just("Short"), st.text("Wide Title", min_size=30, max_size=120)))
    return songs.song(title.strip() or "x", made, steps or [Step(index) for index in range(count)], ("bass", "drums"))


def symbols(arrangement: Arrangement, chosen: StageOptions) -> Iterator[str]:
    """Give what stands in the chord rows, in the order drawn."""
    for section in condensed(arrangement, chosen.words, {}, metrics()):
        columns = [column for row in section.rows for bar in row.bars for column in bar.columns]
        for symbol in (column.symbol for column in columns if column.symbol is not None):
            yield from (run.text for run in (*symbol.runs, *symbol.manner))


def texts(document: Document) -> list[Text]:
    return [item for page in document.pages for item in page.items if isinstance(item, Text)]


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:Generating overly large repr")  # of a song that fails: the failure is the news
@in_parts(6)
@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(made_songs(), options())
def test_nothing_overlaps_or_is_cut_off_or_too_small_and_all_is_there(song: Song, chosen: StageOptions) -> None:
    arrangement = songs.arranged(song)
    document, reading, problems = lay_out(arrangement, metrics(), chosen)
    if document is None or reading is None:
        assert [problem.code for problem in problems] == ["too-small-to-read"]
        return
    assert {problem.code for problem in problems} <= {"busy-turn"}
    assert reading.minutes >= MINIMUM - NEVER and reading.legible_to >= chosen.distance - 0.05
    assert chosen.pages is None or reading.pages <= chosen.pages
    side, _, end = margins_of(chosen)
    for page in document.pages:
        overlapping = boxes.overlaps(page, metrics())
        assert not overlapping, overlapping[0]
        inside = page._replace(items=tuple(item for item in page.items if item.role not in IN_THE_MARGIN))
        outside = boxes.outside(inside, metrics(), side, end, end)
        assert not outside, outside[0]
    least = height(MINIMUM, chosen.distance)
    for text in texts(document):
        assert text.size * capital(metrics()) >= least - NEVER, text
    drawn = [c for text in texts(document) if text.role in SYMBOLS for c in text.text]
    expected = [c for text in symbols(arrangement, chosen) for c in text]
    if chosen.words == "all":  # verses that would be higher than a page are divided, each group under the chords
        rest = iter(drawn)
        assert all(c in rest for c in expected)
    else:
        assert drawn == expected
    if chosen.words == "all":
        printed = Counter(c for text in texts(document) if text.role == "words" for c in text.text if c not in " -")
        bars = [bar for section in song.sections for row in section.rows for line in row.words for bar in line.bars]
        assert printed == Counter(c for bar in bars for piece in bar.pieces for c in piece.text if c not in " -")
