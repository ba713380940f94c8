"""Reasons: what another hand would have cost is exact; what is hardest; the easiest key; triad shapes by name."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.arrange import work_out
from arranger.harmony.demands import demand, hardest
from arranger.harmony.easiest_key import easiest_key, for_transposing_keyboard
from arranger.harmony.sum_of_hands import build
from arranger.harmony.why import in_words, reasons, terms
from arranger.theory.key import Key
from arranger.theory.pitch import is_black
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(suspensions=Fraction(0), octaves="none")
SONG = songs.one("C", "C | Am7 | F G/B | C", "Dm7 | G7 | Em | Am")


def test_the_terms_add_up_to_the_objective() -> None:
    worked, _ = work_out(SONG, PLAIN)
    assert worked is not None
    solved = worked.solved
    one = terms(solved.hands, solved.scene, range(len(solved.hands)), solved.scene.uses.changes)
    total = 1000 * one.movement + 500 * one.moved + 250 * one.register // 8 + one.small
    assert total == solved.objective == worked.arrangement.movement.objective
    assert one.movement == worked.arrangement.movement.arranged


def test_another_hand_costs_what_is_said() -> None:
    """Pinning that hand in the song and working it out again gives the same difference."""
    worked, _ = work_out(SONG, PLAIN)
    assert worked is not None
    problem = build(worked.solved.choices, worked.solved.scene)
    places = [(0, i) for i in range(len(worked.arrangement.sections[0].chords))]
    told = list(reasons(worked, places))
    assert len(told) == len(places)
    for reason in told:
        assert reason.candidates > len(reason.others) == 2
        assert [o.thousandths for o in reason.others] == sorted(o.thousandths for o in reason.others)
        for other in reason.others:
            assert other.thousandths >= 0
            more = other.more
            assert other.thousandths == 1000 * more.movement + 500 * more.moved + 250 * more.register // 8 + more.small
    assert problem.nodes


def test_in_another_key_the_reasons_move_along() -> None:
    worked, _ = work_out(SONG, PLAIN, key=Key.parse("D"))
    assert worked is not None and worked.shift == 2
    reason = next(reasons(worked, [(0, 0)]))
    names = {str(p.name) for other in reason.others for p in other.right}
    assert names <= {"D", "F#", "A"}


def test_words() -> None:
    worked, _ = work_out(SONG, PLAIN)
    assert worked is not None
    for reason in reasons(worked, [(0, 1), (0, 2)]):
        assert all(in_words(other.more) for other in reason.others)


def test_the_hardest_changes_ask_most() -> None:
    found, _ = arranged(songs.one("C", "C F#m C F#m | C | C", tempo=120), PLAIN)
    assert found is not None
    hard = hardest(found, 10)
    assert len(hard) == 4 - 1 + 1  # each printed chord that is gone to in another hand, once
    assert [h.demand for h in hard] == sorted((h.demand for h in hard), reverse=True)
    assert all(h.time == Fraction(1, 2) for h in hard)
    assert hardest(found, 1) == hard[:1]
    for h in hard:
        assert h.semitones > 0 and 1 <= h.keys <= 3


def test_a_wide_reach_and_a_thumb_on_a_black_key_ask_more() -> None:
    second = Fraction(1)
    assert demand((60, 64, 67), (60, 65, 69), (), second) == 3 + Fraction(2, 2)
    assert demand((60, 64, 67, 70), (60, 64, 67, 72), (), second) == 2 + Fraction(1, 2) + Fraction(2, 10)
    into_d_flat = (61, 65, 68)  # the thumb on D flat, F between the black keys
    assert demand((60, 64, 67), into_d_flat, (1, 3, 5), second) == 3 + Fraction(3, 2) + Fraction(1, 2)
    assert demand((60, 64, 67), into_d_flat, (2, 3, 5), second) == 3 + Fraction(3, 2)
    assert demand((60, 65, 68), into_d_flat, (1, 3, 5), second / 2) == 2 * (1 + Fraction(1, 2) + Fraction(1, 2))
    assert demand((65, 70, 73), (66, 70, 73), (1, 3, 5), second) == 1 + Fraction(1, 2)  # black keys alone


@pytest.mark.parametrize(("key", "easiest"), [("Db", "C"), ("F#", "G"), ("C", "C"), ("B", "C")])
def test_the_easiest_key_has_the_fewest_black_keys(key: str, easiest: str) -> None:
    bars = {
        "Db": "Db | Ab | Bbm | Gb",
        "F#": "F# | C# | D#m | B",
        "C": "C | G | Am | F",
        "B": "B | F# | G#m | E",
    }[key]
    song = songs.one(key, bars)
    found = easiest_key(song, PLAIN)
    blacks = []
    for target in (key, str(found)):
        part, _ = arranged(song, PLAIN, Key.parse(target))
        assert part is not None
        blacks.append(sum(is_black(p.midi) for c in part.sections[0].chords for p in c.right + c.left))
    assert blacks[1] <= blacks[0]
    assert blacks[1] == 0 and str(found) in (easiest, "C")


@pytest.mark.parametrize(("home", "asked"), [("Db", None), ("C", "F#"), ("Bb", "Eb")])
def test_a_transposing_keyboard_sounds_as_meant(home: str, asked: str | None) -> None:
    bars = {"Db": "Db | Ab | Bbm | Gb", "C": "C | G | Am | F", "Bb": "Bb | F | Gm | Eb"}[home]
    key = Key.parse(asked) if asked else None
    worked, _ = for_transposing_keyboard(songs.one(home, bars), PLAIN, key)
    meant, _ = arranged(songs.one(home, bars), PLAIN, key)
    assert worked is not None and meant is not None
    played = worked.arrangement
    assert -5 <= played.transpose <= 6
    for one, two in zip(played.sections[0].chords, meant.sections[0].chords, strict=True):
        assert one.chord is not None and two.chord is not None
        assert (one.chord.root.pitch_class + played.transpose) % 12 == two.chord.root.pitch_class
        assert not any(is_black(p.midi) for p in one.right + one.left)


def test_easy_hands_are_triads_by_name() -> None:
    easy = PLAIN._replace(easy=True)
    found, _ = arranged(replace(songs.one("C", "C | Am7 | F/A | G9 | Cadd9 | Dsus4"), band=()), easy)
    assert found is not None
    shapes = [c.shape for c in found.sections[0].chords]
    assert shapes[:4] == ["", "C over A", "F over A", "Bdim over G"]  # a plain triad's symbol names it already
    assert all(len(c.left) == 1 for c in found.sections[0].chords)
    for chord in found.sections[0].chords[:5]:
        classes = sorted({p.midi % 12 for p in chord.right})
        steps = {tuple(sorted((c - root) % 12 for c in classes)) for root in classes}
        assert steps & {(0, 4, 7), (0, 3, 7), (0, 3, 6), (0, 4, 8)}
