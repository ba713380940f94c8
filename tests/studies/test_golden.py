"""The studies of two samples as text: what is practised, hand by hand. And generated songs for other hands."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from arranger.harmony.taste import DEFAULT
from arranger.studies.model import Studies
from arranger.studies.offer import studies_of
from tests.conftest import Golden
from tests.studies.generated import faults, practised
from tests.studies.practised import practised as song
from tests.studies.practised import told

SAMPLES = Path(__file__).parents[2] / "samples"
SHEETS = 16  # in the tests; the program makes 500


def dump(studies: Studies) -> Iterator[str]:
    """Yield the studies as lines."""
    for study in studies.studies:
        tempi = " ".join(map(str, study.tempi))
        yield f"{study.kind} {''.join(map(str, study.heading))} | tempi {tempi} | {study.remark}"
        for row in study.rows:
            yield f"  {told(row)} | {' '.join(map(str, row.movement))}"
            for hand in row.hands:
                keys, left = " ".join(map(str, hand.right)), " ".join(map(str, hand.left))
                fingers = "".join(map(str, hand.fingers))
                yield f"    {hand.chord or ''}{hand.added} | {keys} | {fingers} | {left} | {hand.length} {hand.remark}"
        for change in study.sounds:
            yield f"  {change.sound} | {''.join(map(str, change.place))} | {change.seconds} s | enough {change.enough}"


@pytest.mark.parametrize("name", ["lanterns", "rosalie"])
def test_studies_of_samples(name: str, golden: Golden) -> None:
    text = (SAMPLES / f"{name}.song.txt").read_text(encoding="utf-8")
    golden(f"studies/{name}.txt", "\n".join(dump(studies_of([song(text)], DEFAULT, 15))) + "\n")


def test_generated_songs_for_other_hands() -> None:
    """The player's limits hold in every picture, minutes add up, and nothing is on the page that is not told."""
    cases = list(practised(SHEETS))
    assert len(cases) > SHEETS * 3 / 4
    assert [fault for case in cases for fault in faults(case)] == []
    assert {one.study.kind for case in cases for one in case.laid.timed} >= {"change", "loop", "triad", "octaves"}
