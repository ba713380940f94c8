"""The left hand: bass notes settled first, from the chords alone, by the same exact search as the right hand's.

Takes the counted uses; gives a MIDI number for each unknown (at shift 0) and the notes that are played with it.
"""

from __future__ import annotations

from collections.abc import Sequence

from arranger.harmony.answer import best
from arranger.harmony.candidates import OCTAVE
from arranger.harmony.search import Problem
from arranger.harmony.taste import Taste
from arranger.harmony.uses import Unknown, Uses
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval

WHOLE_TONE = 2


def settle(uses: Uses, heard: Sequence[int], taste: Taste) -> tuple[tuple[int, ...], bool]:
    """Choose the bass note of each unknown: near the target, steps in the bass played as steps.

    Returns:
        The notes, and whether no others are better, by these measures; not so where there are too many ways to tell.
    """
    choices = [
        _octaves(unknown.printed.chord.bass_name.pitch_class, unknown.shifts, taste) for unknown in uses.unknowns
    ]
    nodes = [
        [
            sum(n * taste.left_register * abs(note + shift - taste.left_target) for shift, n in unknown.by_shift)
            for note in notes
        ]
        for notes, unknown in zip(choices, uses.unknowns, strict=True)
    ]
    pairs: dict[tuple[int, int], list[list[int]]] = {}
    for (one, two, shift), count in uses.changes:
        if one == two:
            continue
        low, high = min(one, two), max(one, two)
        table = pairs.setdefault((low, high), [[0] * len(choices[high]) for _ in choices[low]])
        for i, a in enumerate(choices[low]):
            for j, b in enumerate(choices[high]):
                way = (b + shift - a) if one == low else (a + shift - b)
                table[i][j] += count * _step(way, taste)
    problem = Problem(tuple(nodes), {key: tuple(rows) for key, rows in pairs.items()})
    answer = best(problem, heard)
    return tuple(notes[c] for notes, c in zip(choices, answer.choice, strict=True)), answer.proven


def fits(unknown: Unknown, taste: Taste) -> bool:
    """Return whether some octave of a chord's bass keeps every copy inside the left hand's range."""
    return bool(_inside(unknown.printed.chord.bass_name.pitch_class, unknown.shifts, taste))


def _octaves(pitch_class: int, shifts: tuple[int, ...], taste: Taste) -> tuple[int, ...]:
    """Return the octaves that keep every copy in range; those that keep the chord itself there, where none does."""
    return _inside(pitch_class, shifts, taste) or _inside(pitch_class, (0,), taste)


def _inside(pitch_class: int, shifts: tuple[int, ...], taste: Taste) -> tuple[int, ...]:
    low, high = taste.left_low - min(shifts), taste.left_high - max(shifts)
    return tuple(range(low + (pitch_class - low) % OCTAVE, high + 1, OCTAVE))


def _step(way: int, taste: Taste) -> int:
    size = way % OCTAVE
    is_step = 0 < min(size, OCTAVE - size) <= WHOLE_TONE
    return taste.left_step_broken if is_step and abs(way) > WHOLE_TONE else 0


SOFT = ("ppp", "pp", "p", "mp")
FIFTH = 7


def played(bass: int, chord: Chord, level: str | None, *, with_bass_player: bool, taste: Taste) -> tuple[int, ...]:
    """Return the left hand's notes for a bass note (MIDI), lowest first.

    Beside a bass player, and in a hand that reaches no octave: the note alone. Else, where it is soft, root and fifth
    on a chord in root position with a perfect fifth, from D2 up to B2 (the published tables of low-interval limits all
    accept a fifth there, and it leaves the right hand its room); and everywhere else the note and its octave: below,
    or above where below would be under the lowest octave that sounds clear.
    """
    if with_bass_player or taste.span < OCTAVE:
        return (bass,)
    perfect = chord.member_on(5) is not None and Interval(5, FIFTH) in chord.members
    rooted = chord.bass_name.pitch_class == chord.root.pitch_class
    if level in SOFT and rooted and perfect and taste.left_low <= bass <= taste.left_target:
        return (bass, bass + FIFTH)
    below = bass - OCTAVE
    return (below, bass) if below >= taste.left_octave_low else (bass, bass + OCTAVE)
