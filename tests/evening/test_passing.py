"""Hands of chords between two songs: the least of all choices, by going through them all."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import pytest

from arranger.evening.model import SongEnd
from arranger.evening.passing import basses_between, hands_of, passing
from arranger.harmony.taste import DEFAULT
from arranger.harmony.voicings import bass_way, change_cost, sound_cost
from arranger.song.cells import ChordWord, read_mark
from arranger.song.model import COMMON
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch


def chord(text: str) -> Chord:
    mark = read_mark(text)
    assert isinstance(mark, ChordWord)
    return mark.chord


def end(right: str, left: str) -> SongEnd:
    hands = [tuple(map(Pitch.parse, text.split())) for text in (right, left)]
    return SongEnd(hands[0], hands[1], Key.parse("C"), None, COMMON, None, "C", Fraction(1))


ENDS = [end("C4 E4 G4", "C3"), end("B3 D4 G4", "G2"), end("A3 C#4 E4 A4", "A2 A3"), end("F4 Bb4 D5", "Bb2")]
CHAINS = ["Em A7", "Gm", "Dm7 G7", "F#m7b5 B7 Em", "Bb/D Eb"]


@pytest.mark.parametrize("chain", CHAINS)
@pytest.mark.parametrize(("one", "two"), [pair for pair in product(ENDS, ENDS) if pair[0] is not pair[1]])
def test_no_other_hands_cost_less(chain: str, one: SongEnd, two: SongEnd) -> None:
    chords = [chord(text) for text in chain.split()]
    found = passing(chords, one, two, DEFAULT)
    basses = basses_between(chords, one.left[0].midi, DEFAULT)
    choices = [hands_of(c, b or 0, len(one.right), DEFAULT) for c, b in zip(chords, basses, strict=True)]
    ends = [tuple(p.midi for p in side.right) for side in (one, two)]
    notes = [one.left[0].midi, *(b or 0 for b in basses), two.left[0].midi]

    def cost(hands: tuple[tuple[int, ...], ...]) -> int:
        whole = [ends[0], *hands, ends[1]]
        ways = [bass_way(b - a) for a, b in pairwise(notes)]
        changes = sum(change_cost(a, b, way, DEFAULT) for (a, b), way in zip(pairwise(whole), ways, strict=True))
        return changes + sum(sound_cost(h, b, DEFAULT) for h, b in zip(hands, notes[1:], strict=False))

    least = min(cost(hands) for hands in product(*choices))
    assert cost(tuple(tuple(p.midi for p in each.right) for each in found)) == least
    assert [each.chord for each in found] == chords


@pytest.mark.parametrize("chain", CHAINS)
def test_hands_have_the_notes_of_their_chords_and_lie_apart(chain: str) -> None:
    for each in passing([chord(text) for text in chain.split()], ENDS[0], ENDS[1], DEFAULT):
        assert {p.name for p in each.right} <= set(each.chord.names)
        assert [p.name for p in each.left] == [each.chord.bass_name]
        assert each.right[0].midi - each.left[-1].midi >= DEFAULT.clear_of_left
        assert each.right[-1].midi - each.right[0].midi <= DEFAULT.span


def test_no_chords_and_no_hands() -> None:
    silent = end("", "")
    assert passing([], ENDS[0], ENDS[1], DEFAULT) == ()
    assert [each.right for each in passing([chord("Em")], silent, ENDS[1], DEFAULT)] == [()]
