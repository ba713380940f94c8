"""Studies as they sound: what is on the page, in order, each row from the start of a bar."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from arranger.harmony.taste import DEFAULT
from arranger.studies.model import TimedStudy
from arranger.studies.octave_lines import sound_study
from arranger.studies.offer import studies_of
from arranger.studies.played_through import played_through
from tests.studies.practised import one, practised

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))


def test_every_hand_sounds_once_in_order() -> None:
    for path in SAMPLES[:4]:
        studies = studies_of([practised(path.read_text(encoding="utf-8"))], DEFAULT, 15).studies
        timed = [TimedStudy(study, 1, 2) for study in studies]
        performance = played_through("Studies", timed)
        assert performance is not None
        hands = [hand for each in timed for row in each.study.rows[:2] for hand in row.hands]
        assert len(performance.notes) == sum(len(hand.right) + len(hand.left) for hand in hands)
        starts = sorted({note.start for note in performance.notes})
        assert len(starts) == len(hands)
        for start, hand in zip(starts, hands, strict=True):
            here = [note for note in performance.notes if note.start == start]
            assert {n.pitch for n in here if n.part in ("right", "octaves")} == set(hand.right)
            assert {n.pitch for n in here if n.part == "left"} == set(hand.left)
            assert all(note.length == hand.length > 0 for note in here)
        assert performance.length >= max(note.end for note in performance.notes)
        assert list(performance.notes) == sorted(
            performance.notes,
            key=lambda n: (n.start, ["right", "left", "octaves"].index(n.part), n.pitch.midi),
        )


def test_each_study_begins_with_a_bar_at_its_tempo() -> None:
    songs = [one("| C | F | G | C |", "key C\ntempo dotted 60\nmeter 6/8\n"), one("| D | A |", "key D\ntempo 100\n")]
    timed = [TimedStudy(study, 1, 1) for study in studies_of(songs, DEFAULT, 15).studies]
    performance = played_through("Studies", timed)
    assert performance is not None
    assert [marker.step for marker in performance.markers] == list(range(len(timed)))
    assert performance.markers[0].text.startswith("1 ")
    assert performance.tempi[0].at == performance.meters[0].at == performance.keys[0].at == 0
    for marker, tempo, meter, each in zip(
        performance.markers, performance.tempi, performance.meters, timed, strict=True
    ):
        assert marker.at == tempo.at == meter.at
        assert tempo.quarters_a_minute == each.study.tempo.bpm * each.study.tempo.unit  # type: ignore[operator]
    bars = [
        (b.at - a.at) / Fraction(a.meter.length)
        for a, b in zip(performance.meters, performance.meters[1:], strict=False)
    ]
    assert all(count.denominator == 1 for count in bars)


def test_nothing_to_hear() -> None:
    song = one("| C | F |")
    assert sound_study([song]) is None
    assert played_through("Studies", []) is None
