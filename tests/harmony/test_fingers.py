"""Fingers: published charts and spans, and the choice over the path."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import pytest

from arranger.harmony.fingers import SPANS, charted, fingerings, strain
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(suspensions=Fraction(0), octaves="none")


# Triad fingering by inversion, right hand (musicfanfare.com "Fingerings for Triads"; the same line in a chart of
# onlinepianocoach.com and on pianoandvoicewithbrenda.com): root 1-3-5, first 1-2-5, second 1-3-5, in all keys.
@pytest.mark.parametrize("root", range(55, 67))
def test_triads_as_charted(root: int) -> None:
    for third in (3, 4):
        position = (root, root + third, root + 7)
        first = (root + third, root + 7, root + 12)
        second = (root + 7, root + 12, root + 12 + third)
        assert [charted(v) for v in (position, first, second)] == [(1, 3, 5), (1, 2, 5), (1, 3, 5)]
        assert [fingerings(v)[0] for v in (position, first, second)] == [(1, 3, 5), (1, 2, 5), (1, 3, 5)]


# Parncutt, Sloboda, Clarke, Raekallio & Desain 1997, Music Perception 14/4: right-hand span limits in semitones
# (two public copies of the table agree on all values but one; 10 is taken for 1-5 MaxRel, the other has 11).
def test_spans_are_ordered_and_symmetric_in_kind() -> None:
    assert set(SPANS) == set(combinations(range(1, 6), 2))
    for limits in SPANS.values():
        assert list(limits[:3]) == sorted(limits[:3]) and list(limits[3:]) == sorted(limits[3:])
    assert SPANS[1, 5] == (-1, 1, 7, 10, 13, 15)
    assert SPANS[3, 4] == (1, 1, 1, 2, 2, 4)


@pytest.mark.parametrize("third", [3, 4])
def test_close_triads_never_strain(third: int) -> None:
    """Close positions lie in the relaxed range of thumb and little finger: 7 to 10 semitones."""
    for voicing in ((60, 60 + third, 67), (60 + third, 67, 72), (67, 72, 72 + third)):
        assert 7 <= voicing[-1] - voicing[0] <= 10
        assert strain(voicing, fingerings(voicing)[0]) < 8


def test_a_key_that_stays_down_keeps_its_finger() -> None:
    found, _ = arranged(songs.one("C", "C | F | C | G | Am | C | Dm7 | G7 | Cmaj7"), PLAIN)
    assert found is not None
    kept = changed = 0
    for chord in found.sections[0].chords:
        if chord.came_from is None:
            continue
        before = found.chord(chord.came_from)
        held = dict(zip(before.right, before.fingers, strict=True))
        for pitch, finger in zip(chord.right, chord.fingers, strict=True):
            if pitch in held:
                kept += held[pitch] == finger
                changed += held[pitch] != finger
    assert kept > changed


def test_fingers_rise() -> None:
    found, _ = arranged(songs.one("C", "C13 | Cmaj9 | F#7alt | Bb6/9 | E5"), PLAIN)
    assert found is not None
    for chord in found.sections[0].chords:
        assert list(chord.fingers) == sorted(set(chord.fingers)) and len(chord.fingers) == len(chord.right)
