"""What was found for a section that prints the same is kept, and pages are those that are made from nothing."""

from __future__ import annotations

from typing import Any

import pytest

from arranger.layout import style
from arranger.layout.content.collect import collect
from arranger.layout.content.model import SectionContent
from arranger.layout.content.pictures import shown_range
from arranger.layout.options import HANDS, Hands, PartOptions
from arranger.layout.pages import part_draft
from arranger.layout.pages.players_part import lay_out
from arranger.layout.setting.known_bars import KEPT
from arranger.layout.setting.line_plan import plan
from arranger.layout.setting.spacing import Measure, measured, remeasured
from arranger.pdf.fonts import metrics
from arranger.pipeline import Wishes, to_arrangement
from tests.harmony.edits import edited
from tests.layout import songs


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Note each section whose lines are planned."""
    found: list[int] = []

    def noted(section: SectionContent, *more: Any) -> Any:
        found.append(section.index)
        return plan(section, *more)

    monkeypatch.setattr(part_draft, "plan", noted)
    return found


@pytest.mark.parametrize("hands", HANDS)
def test_pages_of_edits_are_those_from_nothing(hands: Hands, planned: list[int]) -> None:
    KEPT.forget()
    options, fewer = PartOptions(hands=hands), 0
    for song, _ in edited(5, 10):
        arrangement, _ = to_arrangement(song, Wishes(figures=False))
        if arrangement is None:
            continue
        planned.clear()
        following = lay_out(arrangement, metrics(), options)
        after_others = len(planned)
        KEPT.forget()
        planned.clear()
        assert repr(following) == repr(lay_out(arrangement, metrics(), options))  # places in the song too
        fewer += after_others < len(planned)
    assert fewer >= 5


@pytest.mark.parametrize("beside", [False, True])
def test_a_bar_with_other_keyboards_is_as_if_measured_with_them(beside: bool) -> None:
    looks = style.looks("keyboard")
    look = next(one for one in looks if one.beside == beside)
    sections = collect(songs.arranged(songs.lanterns()), metrics(), look)
    bars = [bar for section in sections for row in section.rows for bar in row.bars]
    keys = shown_range([60])
    wide, narrow = (Measure(keys, width, 400.0, 0.0, look, metrics()) for width in (7.0, 4.8))
    changed = 0
    for bar in bars:
        other, anew = remeasured(measured(bar, wide), narrow.picture), measured(bar, narrow)
        assert (other.first, other.later) == (anew.first, anew.later)
        changed += other.first != measured(bar, wide).first
    assert changed > len(bars) / 2
