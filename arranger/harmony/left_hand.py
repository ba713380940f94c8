"""The left hand: the bass note of each chord, and what is played on it.

Takes counted uses; gives bass notes found from the chords alone, by the same exact search as the right hand's, and the
notes that the left hand plays on each, by texture and band. Common practice, no source, where none is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from arranger.harmony.choices import problem_over
from arranger.harmony.optimum import best
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Printed
from arranger.harmony.uses import HandChange, Unknown, Uses
from arranger.harmony.voicings import OCTAVE
from arranger.theory.interval import Interval

WHOLE_TONE = 2


def bass_notes(uses: Uses, heard: Sequence[int], taste: Taste) -> tuple[tuple[int, ...], bool]:
    """Choose the bass note of each unknown: near the target, steps in the bass played as steps.

    Returns:
        The notes, and whether no others are better, by these measures; not so where there are too many ways to tell.
    """
    choices = [bass_choices(unknown.printed, unknown.shifts, taste) for unknown in uses.unknowns]
    nodes = [
        [
            sum(n * taste.left_register * abs(note + shift - taste.left_target) for shift, n in unknown.by_shift)
            for note in notes
        ]
        for notes, unknown in zip(choices, uses.unknowns, strict=True)
    ]

    def table(change: HandChange, times: int) -> list[list[int]]:
        one, two, shift = change
        return [[times * _bass_step(b + shift - a, taste) for b in choices[two]] for a in choices[one]]

    problem = problem_over(nodes, [one for one in uses.changes if one[0][0] != one[0][1]], table)
    answer = best(problem, heard)
    return tuple(notes[c] for notes, c in zip(choices, answer.choice, strict=True)), answer.proven


def bass_fits(unknown: Unknown, taste: Taste) -> bool:
    """Return whether some octave of a chord's bass keeps every copy inside the left hand's range."""
    return bool(_bass_inside(unknown.printed, unknown.shifts, taste))


def bass_choices(printed: Printed, shifts: tuple[int, ...], taste: Taste) -> tuple[int, ...]:
    """Return the octaves that keep every copy in range; those that keep the chord itself there, where none does.

    Over a split that leaves the left hand too few keys, as if there were none.
    """
    plan = printed.plan
    if plan.split is not None and plan.pad_hand == "left":  # clear of the octave in which the pad lies
        under = replace(printed, plan=plan._replace(split=plan.split - OCTAVE))
        clear = _bass_inside(under, shifts, taste._replace(left_low=taste.left_octave_low))
        if clear:
            return clear
    there = _bass_inside(printed, shifts, taste) or _bass_inside(printed, (0,), taste)
    return there or _bass_inside(replace(printed, plan=plan._replace(split=None)), (0,), taste)


def _bass_inside(printed: Printed, shifts: tuple[int, ...], taste: Taste) -> tuple[int, ...]:
    pitch_class, split = printed.chord.bass_name.pitch_class, printed.plan.split
    top = taste.left_high if split is None else min(taste.left_high, split - 1)
    low, high = taste.left_low - min(shifts), top - max(shifts)
    return tuple(range(low + (pitch_class - low) % OCTAVE, high + 1, OCTAVE))


def _bass_step(way: int, taste: Taste) -> int:
    size = way % OCTAVE
    is_step = 0 < min(size, OCTAVE - size) <= WHOLE_TONE
    return taste.left_step_broken if is_step and abs(way) > WHOLE_TONE else 0


SOFT = ("ppp", "pp", "p", "mp")
FIFTH = 7
SEVENTHS = (10, 11)  # semitones over the root


def left_notes(bass: int, printed: Printed, level: str | None, taste: Taste) -> tuple[int, ...]:
    """Return the left hand's notes for a bass note (MIDI), lowest first.

    Beside a bass player, and in a hand that reaches no octave, the note alone; beside one at the wide texture its
    lower octave too, on first beats from E2 up. Else by the texture: bare the note alone; light the root and the fifth
    on a chord in root position with a perfect fifth, from D2 up to B2 (the published tables of low-interval limits all
    accept a fifth there, and it leaves the right hand its room), or root and seventh from C3 up; and everywhere else
    the note and its octave: below, or above where below would be under the lowest octave that sounds clear. Without a
    texture the soft dynamics are played as light, the others as full. What does not lie under a split is left out.
    """
    notes, split = _left_notes(bass, printed, level, taste), printed.plan.split
    return notes if split is None or notes[-1] < split else (bass,)


def _left_notes(bass: int, printed: Printed, level: str | None, taste: Taste) -> tuple[int, ...]:
    chord, texture = printed.chord, printed.plan.texture
    octaves = taste.left_octaves and taste.span >= OCTAVE
    below = bass - OCTAVE
    if printed.plan.bass_player:
        thick = texture == "wide" and printed.start == 0 and below >= taste.left_octave_beside
        return (below, bass) if thick and octaves else (bass,)
    if taste.span < OCTAVE or texture == "bare" or printed.plan.pad_hand == "left":
        return (bass,)
    rooted = chord.bass_name.pitch_class == chord.root.pitch_class
    if texture == "light" if texture else level in SOFT:
        seventh = chord.member_on(7)
        if texture and rooted and seventh and seventh.semitones in SEVENTHS and bass >= taste.left_shell_low:
            return (bass, bass + seventh.semitones)
        perfect = chord.member_on(5) is not None and Interval(5, FIFTH) in chord.members
        if rooted and perfect and taste.left_low <= bass <= taste.left_target:
            return (bass, bass + FIFTH)
    if not octaves:
        return (bass,)
    return (below, bass) if below >= taste.left_octave_low else (bass, bass + OCTAVE)
