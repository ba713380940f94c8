"""The arrangement as data: its golden dump, the promised shape, and figures recomputed from it."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from arranger.harmony.arrange import work_out
from arranger.harmony.dump import dump, to_json
from arranger.harmony.voicings import hand_movement
from arranger.song.read import read
from arranger.text.source import Source
from tests.harmony.songs import arranged

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))


def data_of(path: Path) -> dict[str, Any]:
    song, _ = read(Source.of(path.name, path.read_text(encoding="utf-8")))
    assert song is not None
    found, _ = arranged(song)
    assert found is not None
    return to_json(found)


def line_steps_heard(path: Path) -> int:
    song, _ = read(Source.of(path.name, path.read_text(encoding="utf-8")))
    assert song is not None
    worked, _ = work_out(song)
    assert worked is not None
    scene = worked.solved.scene
    times = dict(scene.uses.changes)
    return sum(times[step.change] for step in scene.lines)


def test_golden(golden: Any) -> None:
    path = next(p for p in SAMPLES if p.name.startswith("lanterns"))
    song, _ = read(Source.of(path.name, path.read_text(encoding="utf-8")))
    assert song is not None
    found, _ = arranged(song)
    assert found is not None
    golden("harmony/lanterns.json", dump(found))


def test_the_names_that_are_part_of_the_interface() -> None:
    data = data_of(next(p for p in SAMPLES if p.name.startswith("lanterns")))
    assert list(data) == [
        *("version", "title", "key", "transpose", "capo", "shapes_key", "tempo", "meter", "hand"),
        *("sections", "roadmap", "heard", "movement", "figures"),
    ]
    names = ["notes_a_bar", "attacks_a_bar", "notes_an_attack", "right_hand_keys", "mean_pitch"]
    assert list(data["figures"]) == list(data["sections"][1]["figures"]) == names
    assert data["version"] == 1
    section = data["sections"][1]
    assert set(section) >= {"name", "like", "tacet", "key", "meter", "feel", "tempo", "sound", "dynamic", "play", "pad"}
    assert set(section["chords"][0]) >= {
        *("kind", "bar", "beat", "beats", "push", "written", "symbol", "optional", "pinned", "suggest", "line"),
        *("column", "right", "right_midi", "plain", "plain_midi", "shape", "fingers", "left", "left_midi"),
        *("inversion", "from", "movement", "moved", "common", "suspension"),
    }
    assert set(data["heard"][0]) == {"step", "section", "chord", "at", "beats", "cut"}
    assert json.loads(json.dumps(data)) == data


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.name.removesuffix(".song.txt"))
def test_the_figures_come_out_of_the_printed_voicings(path: Path) -> None:
    """Movement added up anew from `heard` and the printed hands alone; at most 3 % over the least possible.

    Where the song has inner lines that are kept in one finger, a semitone more for each of their steps as heard.
    """
    data = data_of(path)
    sections = data["sections"]

    def chord(heard: dict[str, Any]) -> dict[str, Any]:
        return sections[heard["section"]]["chords"][heard["chord"]]

    def last(one: dict[str, Any]) -> tuple[int, ...]:
        resolved = one["suspension"] is None or one["suspension"]["resolves_to"] is not None
        return tuple(one["plain_midi"] if resolved else one["right_midi"])

    total = sum(hand_movement(tuple(chord(h)["right_midi"]), last(chord(h))) for h in data["heard"])
    for before, after in pairwise(data["heard"]):
        if not after["cut"]:
            total += hand_movement(last(chord(before)), tuple(chord(after)["right_midi"]))
    movement = data["movement"]
    assert movement["proven"] is True
    assert total == movement["arranged"]
    assert movement["minimum"] <= movement["arranged"] <= 1.03 * movement["minimum"] + line_steps_heard(path)
    assert movement["arranged"] < movement["root_position"] / 2


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.name.removesuffix(".song.txt"))
def test_what_is_heard_fills_the_time(path: Path) -> None:
    """`beats` counts the meter's unit, `at` quarters."""
    data = data_of(path)
    heard = data["heard"]
    for one, two in pairwise(heard):
        section = data["sections"][one["section"]]
        chord = section["chords"][one["chord"]]
        meter = next(bar["meter"] for bar in section["bars"] if bar["bar"] == chord["bar"])
        unit = Fraction(4, int(meter.partition("/")[2]))
        assert Fraction(one["at"]) + Fraction(one["beats"]) * unit <= Fraction(two["at"])
    assert heard[0]["cut"] is True
