"""The largest type that fits: exact on its grid, against trying every size; what is said where none fits."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from arranger.harmony.model import Arrangement
from arranger.layout.options import StageOptions
from arranger.layout.pages.fitting import AIM, MINIMUM, Fitting, StageDraft, sizes
from arranger.layout.pages.turning import divide
from arranger.pdf.fonts import metrics
from arranger.song.model import Song
from arranger.units import SHEETS
from tests.conftest import in_parts
from tests.layout import songs
from tests.layout.stage.drawn import lay_out
from tests.layout.stage.test_overlaps import made_songs
from tests.sounding.songs import SAMPLES, arranged


def fitting(arrangement: Arrangement, options: StageOptions) -> Fitting:
    return Fitting(arrangement, options, metrics())


def every(arrangement: Arrangement, options: StageOptions, least: float = MINIMUM) -> list[StageDraft]:
    """Give the drafts of all sizes, each from scratch: nothing is remembered from another size."""
    return [fitting(arrangement, options).at(size) for size in sizes(options.distance, metrics(), least)]


@pytest.mark.slow
@in_parts(3)
@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(made_songs(), st.sampled_from(("a4", "a5", "tablet-flat", "a4-pair")), st.sampled_from((1, 2, None)))
def test_the_size_is_the_largest_that_fits_found_by_trying_all(song: Song, name: str, pages: int | None) -> None:
    arrangement = songs.arranged(song)
    options = StageOptions(SHEETS[name], distance=0.5, pages=pages)
    _, reading, _ = lay_out(arrangement, metrics(), options)
    drafts = [draft for draft in every(arrangement, options) if draft.whole]
    if pages is not None:
        fits = [draft.size for draft in drafts if len(draft.plans) <= pages]
        assert (reading.size if reading else None) == max(fits, default=None)
        return
    assert reading is not None
    aim = sizes(options.distance, metrics(), AIM)[-1]
    needed = next((len(draft.plans) for draft in drafts if draft.size == aim), None)
    if needed is not None:
        may = [draft for draft in drafts if draft.size >= aim and len(draft.plans) <= needed]
        best = min(may, key=lambda draft: (draft.busy, -draft.size))
        fewer = [draft for draft in drafts if len(draft.plans) < needed and draft.size < aim]
        if best.wasteful and fewer and fewer[0].busy <= best.busy:
            best = fewer[0]
        assert reading.size == best.size


def test_a_page_that_would_be_left_half_empty_is_saved_by_smaller_type() -> None:
    sample = next(path for path in SAMPLES if path.name.startswith("bread"))
    options = StageOptions(distance=0.7)
    tries = fitting(arranged(sample.read_text(encoding="utf-8")), options)
    comfortable = [tries.at(size) for size in sizes(options.distance, metrics(), AIM)]
    few = [draft for draft in comfortable if draft.pages <= comfortable[-1].pages]
    best, found = min(few, key=lambda draft: (draft.busy, -draft.size)), tries.largest()
    assert best.wasteful and found is not None and not found.wasteful
    assert found.pages < best.pages and found.busy <= best.busy and found.size < best.size
    first = found.plans[0]
    assert len({found.lines[index].section for index in range(first.first, first.end)}) > 1


def test_fewer_pages_have_smaller_type_and_a_nearer_page_larger_for_the_eye() -> None:
    arrangement = songs.arranged(songs.lanterns())
    readings = [lay_out(arrangement, metrics(), StageOptions(distance=0.6, pages=pages))[1] for pages in (1, 2)]
    assert readings[0] is not None and readings[1] is not None
    assert readings[0].size < readings[1].size
    assert readings[0].pages == 1


@pytest.mark.parametrize("distance", [0.6, 0.9, 1.3])
def test_any_number_of_pages_reaches_the_aim(distance: float) -> None:
    _, reading, _ = lay_out(songs.arranged(songs.lanterns()), metrics(), StageOptions(distance=distance))
    assert reading is not None and AIM <= reading.minutes <= 24
    assert reading.legible_to > distance


def test_pages_are_divided_by_the_division_of_the_part() -> None:
    draft = fitting(songs.arranged(songs.lanterns()), StageOptions(distance=1.1)).largest()
    assert draft is not None and len(draft.plans) > 1
    assert len(divide(draft.blocks, draft.first_room, draft.frame.height)) == len(draft.plans)


def refused(options: StageOptions, arrangement: Arrangement) -> tuple[str, list[str]]:
    document, reading, (problem,) = lay_out(arrangement, metrics(), options)
    assert document is None and reading is None
    assert (problem.severity, problem.code) == ("error", "too-small-to-read")
    return problem.message, list(problem.hints)


def test_what_would_help_is_told_and_does() -> None:
    arrangement = songs.arranged(songs.lanterns())
    options = StageOptions(SHEETS["a5"], distance=0.6, pages=1)
    message, hints = refused(options, arrangement)
    assert message == ("at 0.6 m the song does not fit 1 page: capitals would be under 16 minutes of arc")
    changes: dict[str, object] = {}
    for hint in hints:
        option, value, *_ = hint.split()
        match option:
            case "--pages":
                changes = {"pages": None if value == "any" else int(value)}
            case "--words":
                changes = {"words": value}
            case "--paper":
                changes = {"sheet": SHEETS[value]}
            case "--distance":
                changes = {"distance": float(value.removesuffix("m"))}
        assert lay_out(arrangement, metrics(), options._replace(**changes))[0] is not None, hint
    assert {hint.split()[0] for hint in hints} >= {"--pages", "--paper", "--distance"}


def test_pages_that_are_needed_are_counted() -> None:
    arrangement = songs.arranged(songs.lanterns())
    options = StageOptions(SHEETS["a5"], distance=1.3, pages=2)
    _, hints = refused(options, arrangement)
    needed = fitting(arrangement, options._replace(pages=None)).least()
    assert f"--pages any needs {len(needed.plans)} pages" in hints and len(needed.plans) > 2


@pytest.mark.slow
def test_words_are_left_out_only_where_that_helps() -> None:
    arrangement = songs.arranged(songs.lanterns())
    for distance in (0.7, 0.8, 0.9, 1.0, 1.1):
        options = StageOptions(distance=distance, pages=1, words="all")
        document, _, problems = lay_out(arrangement, metrics(), options)
        if document is None:
            bare = lay_out(arrangement, metrics(), options._replace(words="none"))[0]
            assert ("--words none fits" in problems[0].hints) == (bare is not None)
