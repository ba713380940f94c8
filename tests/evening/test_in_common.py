"""What two keys and tempi have in common: beside music21's scales and chords, and beside all that is possible.

The counts of pivots are those of the open reference "Common chord (music)", the others those of the circle of fifths.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest

from arranger.evening.in_common import (
    common_scale_notes,
    common_triad_notes,
    pad_choices,
    pivots,
    tempo_relation,
    tonic_triad,
    triads,
    vamp,
    ways,
)
from arranger.song.model import Meter, Tempo
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

music21 = pytest.importorskip("music21")

TONICS = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
ALL = [Key(NoteName.parse(tonic)) for tonic in TONICS]
ALL += [Key(NoteName.parse({"Ab": "G#"}.get(tonic, tonic)), minor=True) for tonic in TONICS]
PAIRS = list(product(ALL, ALL))
MAJORS = [key for key in ALL if not key.minor]


def theirs(key: Key) -> object:
    """Return music21's key."""
    tonic = str(key.tonic).replace("b", "-")
    return music21.key.Key(tonic.lower() if key.minor else tonic)


SCALES = {key: frozenset(p.pitchClass for p in theirs(key).getScale().pitches) for key in ALL}


def classes(*names: NoteName) -> frozenset[int]:
    return frozenset(name.pitch_class for name in names)


def steps(one: Key, two: Key) -> int:
    """Return how far two keys' signatures lie apart on the circle of fifths, 0 to 6."""
    apart = abs(one.signature - two.signature) % 12
    return min(apart, 12 - apart)


def test_there_are_all_keys() -> None:
    assert len({(key.tonic.pitch_class, key.minor) for key in ALL}) == 24 == len(ALL)


def test_common_notes_of_scales_are_music21s() -> None:
    for one, two in PAIRS:
        assert classes(*common_scale_notes(one, two)) == SCALES[one] & SCALES[two]


def test_keys_share_fewer_notes_the_farther_apart_they_are() -> None:
    for one, two in PAIRS:
        assert len(common_scale_notes(one, two)) == (7, 6, 5, 4, 3, 2, 2)[steps(one, two)]


def test_common_notes_are_named_as_in_the_new_key() -> None:
    for one, two in PAIRS:
        assert set(common_scale_notes(one, two)) <= set(two.scale)


@pytest.mark.parametrize(
    ("one", "two", "shared"), [("C", "Eb", "G"), ("C", "Ab", "C"), ("C", "Am", "C E"), ("C", "D", "")]
)
def test_common_notes_of_tonic_triads(one: str, two: str, shared: str) -> None:
    found = common_triad_notes(Key.parse(one), Key.parse(two))
    assert sorted(map(str, found)) == sorted(shared.split())


def test_triads_of_a_key_are_music21s() -> None:
    for key in ALL:
        scale = [p.pitchClass for p in theirs(key).getScale().pitches][:7]
        found = set()
        for number in range(7):
            chord = music21.chord.Chord([scale[(number + step) % 7] for step in (0, 2, 4)])
            if chord.quality in ("major", "minor"):
                found.add(frozenset(chord.pitchClasses))
        assert {chord.pitch_classes for chord in triads(key)} == found
        assert len(triads(key)) == 6


def test_each_triad_stands_in_six_keys() -> None:
    """C in F, C, G, Dm, Am, Em; with the V of minor in Fm too."""
    held = [key for key in ALL if any(c.pitch_classes == {0, 4, 7} for c in triads(key))]
    assert sorted(map(str, held)) == sorted(["F", "C", "G", "Dm", "Am", "Em"])
    held = [key for key in ALL if any(c.pitch_classes == {0, 4, 7} for c in triads(key, with_dominant=True))]
    assert sorted(map(str, held)) == sorted(["F", "C", "G", "Dm", "Am", "Em", "Fm"])
    for root, third in product(range(12), (3, 4)):
        chord = {root, (root + third) % 12, (root + 7) % 12}
        assert sum(any(c.pitch_classes == chord for c in triads(key)) for key in ALL) == 6


def test_pivots_are_as_many_as_the_reference_has() -> None:
    assert sorted(map(str, pivots(Key.parse("G"), Key.parse("D")))) == ["Bm", "D", "Em", "G"]
    for one, two in PAIRS:
        assert len(pivots(one, two)) == (6, 4, 2, 0, 0, 0, 0)[steps(one, two)]


def test_a_pad_note_is_in_both_scales_and_rubs_on_neither_triad() -> None:
    for one, two in PAIRS:
        struck = tonic_triad(one).pitch_classes | tonic_triad(two).pitch_classes
        wanted = {n for n in SCALES[one] & SCALES[two] if not any((n - s) % 12 in (1, 11) for s in struck)}
        found = pad_choices(one, two)
        assert classes(*found) == wanted and len(found) == len(wanted)


def test_where_a_pad_has_no_note() -> None:
    for one, two in product(MAJORS, MAJORS):
        apart = (two.tonic.pitch_class - one.tonic.pitch_class) % 12
        assert (not pad_choices(one, two)) == (apart in (1, 6, 11))


def test_a_note_of_both_triads_comes_first_for_the_pad() -> None:
    for one, two in PAIRS:
        found, both = pad_choices(one, two), classes(*common_triad_notes(one, two))
        clear = both & classes(*found)
        assert classes(*found[: len(clear)]) == clear


# Ways by chords: beside all pairs of major and minor triads that there are.

TRIADS = [frozenset({r, (r + t) % 12, (r + 7) % 12}) for r, t in product(range(12), (3, 4))]


def diatonic(key: Key) -> set[frozenset[int]]:
    return {triad for triad in TRIADS if triad <= SCALES[key]}


def test_ways_are_all_that_there_are() -> None:
    for one, two in PAIRS:
        found = ways(one, two)
        tonic = two.tonic.pitch_class
        dominant = frozenset({(tonic + 7) % 12, (tonic + 11) % 12, (tonic + 2) % 12})
        over = {triad for triad in TRIADS if (tonic + 7) % 12 in triad and root_of(triad) == (tonic + 7) % 12}
        if one == two:
            assert found == ()
            continue
        both = (diatonic(one) & diatonic(two)) - over
        by_pivot = {tuple(c.pitch_classes for c in way.chords) for way in found if way.pivot}
        assert by_pivot == {(pivot, dominant) for pivot in both}
        assert all(way.pivot for way in found) == bool(both)
        if not both:
            assert [c.pitch_classes for c in found[-1].chords] == [dominant]
        assert len(found) == len(set(found)) and all(len(way.chords) <= 2 for way in found)


def root_of(triad: frozenset[int]) -> int:
    return next(r for r in triad if (r + 7) % 12 in triad)


def test_what_is_held_through_a_way_sounds_in_all_of_it() -> None:
    """The V counts with its 4, which is the new tonic."""
    some = 0
    for one, two in PAIRS:
        for way in ways(one, two):
            if way.held is None:
                continue
            some += 1
            held, tonic = way.held.pitch_class, two.tonic.pitch_class
            assert held in tonic_triad(one).pitch_classes
            if way.chords:
                assert held in way.chords[-1].pitch_classes | {tonic}
            else:
                assert held in tonic_triad(two).pitch_classes
    assert some > 100


def test_the_best_way_is_what_musicians_take() -> None:
    """ii and V, where ii is a pivot."""
    for one, two, best in (
        ("G", "D", "Em A"),
        ("F", "C", "Dm G"),
        ("C", "G", "Am D"),
        ("C", "Bb", "Dm F"),
        ("C", "Am", "Dm E"),
    ):
        assert " ".join(map(str, ways(Key.parse(one), Key.parse(two))[0].chords)) == best


def test_a_vamp_holds_its_tonic() -> None:
    for key in ALL:
        for chord in vamp(key):
            assert key.tonic.pitch_class in chord.pitch_classes
            assert chord.pitch_classes <= SCALES[key]


# Tempi: what is said must hold, in seconds.

VALUES = {
    "sixteenth": Fraction(1, 4),
    "eighth": Fraction(1, 2),
    "dotted eighth": Fraction(3, 4),
    "quarter": Fraction(1),
    "dotted quarter": Fraction(3, 2),
    "half": Fraction(2),
    "dotted half": Fraction(3),
    "whole": Fraction(4),
}
METERS = [Meter(4, 4), Meter(3, 4), Meter(2, 2), Meter(6, 8), Meter(12, 8), Meter(7, 8)]


def holds(said: str, old: Tempo, old_meter: Meter, new: Tempo, new_meter: Meter) -> bool:
    """Return whether what is said of two tempi is so, but for 3 %."""
    before, after = (60 / t.quarters_a_minute for t in (old, new))  # seconds a quarter
    if said.startswith("the old "):
        one, two = said.removeprefix("the old ").split(" is the new ")
        lengths = before * VALUES[one], after * VALUES[two]
    elif said == "the tempo stays":
        lengths = before * old_meter.felt_beat, after * new_meter.felt_beat
    elif said.endswith(" stays"):
        value = VALUES[said.removeprefix("the ").removesuffix(" stays")]
        lengths = before * value, after * value
    else:
        count = {"two": 2, "three": 3}
        first, rest = said.split(" new beats in the time of ")
        other = rest.removesuffix(" old ones")
        lengths = count[other] * before * old_meter.felt_beat, count[first] * after * new_meter.felt_beat
    return abs(float(lengths[0] / lengths[1]) - 1) <= 0.031


def test_what_is_said_of_tempi_holds() -> None:
    found = set()
    for old_meter, new_meter in product(METERS, METERS):
        for one, two in product(range(40, 180, 7), range(40, 180, 5)):
            old, new = Tempo("", one, old_meter.felt_beat), Tempo("", two, new_meter.felt_beat)
            said = tempo_relation(old, old_meter, new, new_meter)
            if said:
                found.add(said)
                assert holds(said, old, old_meter, new, new_meter), (said, one, two, old_meter, new_meter)
    assert {"the tempo stays", "the eighth stays", "the old quarter is the new dotted quarter"} <= found
    assert "three new beats in the time of two old ones" in found


def test_nothing_is_said_of_tempi_that_have_nothing_to_do_with_each_other() -> None:
    common, six = Meter(4, 4), Meter(6, 8)
    assert tempo_relation(Tempo("", 72), common, Tempo("", 96), common) == ""
    assert tempo_relation(Tempo("", 72), common, Tempo("", 108), common) == ""  # 3 to 2, both simple
    assert tempo_relation(Tempo("free", None), common, Tempo("", 72), common) == ""
    assert tempo_relation(None, common, Tempo("", 72), six) == ""
    assert tempo_relation(Tempo("", 100), common, Tempo("", 104), common) == ""  # 4 %
    assert tempo_relation(Tempo("", 100), common, Tempo("", 103), common) == "the tempo stays"


def test_chords_are_spelled_in_the_new_key() -> None:
    for one, two in PAIRS:
        for way in ways(one, two):
            for chord in way.chords:
                assert isinstance(chord, Chord)
                assert all(abs(name.alter) <= 2 for name in chord.names)
                assert chord.root in two.scale
