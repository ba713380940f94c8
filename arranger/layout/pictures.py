"""Hands as they are shown: a worked-out chord -> a `Picture`, with the marks of its keys, its notes on staves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from arranger.harmony.model import Arrangement, ChordId, ChordPart
from arranger.layout.content import Picture, StaffNote
from arranger.layout.keyboard import marks
from arranger.layout.metrics import Metrics
from arranger.layout.model import KeyMark
from arranger.layout.staff import printable, sign_of, step_of
from arranger.layout.style import Look, Sizes
from arranger.layout.text import Run, printed_name, printed_shape, runs
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch

LEFT = "L.H."  # before the left hand's letters
OCTAVE_BELOW = "oct"  # after a left hand's letter: with its octave
_OCTAVE = 12


def picture(
    arrangement: Arrangement,
    where: ChordId,
    fresh: bool,
    altered: dict[int, int],
    look: Look,
    metrics: Metrics,
) -> Picture | None:
    """Return the picture of a chord's hands, None where both are silent.

    Args:
        arrangement: that the chord is of.
        where: the chord.
        fresh: its hand is shown for the first time.
        altered: how its bar altered the steps of the staves so far; kept up to date.
        look: how hands are shown.
        metrics: of the fonts.
    """
    chord = arrangement.chord(where)
    if not chord.right and not chord.left:
        return None
    settled = chord.suspension
    resolution = settled.resolves_to if settled else None
    resolves = (settled.note.midi, resolution.midi) if settled and resolution else None
    played = marks(_hand_before(arrangement, chord), tuple(pitch.midi for pitch in chord.right))
    shown = {mark.key for mark in played} | {mark.origin for mark in played if mark.origin is not None}
    key = arrangement.song.sections[where[0]].facts.key
    staves = look.hands == "staff"
    return Picture(
        marks=played,
        resolves=resolves,
        shown=tuple(sorted(shown.union(resolves or ()))),
        fingers=chord.fingers if fresh else (),
        left=_left_hand(chord.left, look.sizes, metrics) if not staves else (),
        shape=runs(printed_shape(chord.shape), "regular", look.sizes.small, metrics)
        if _tells(chord.shape, look)
        and not (staves and chord.repeats)
        and chord.right == chord.plain  # under a suspension it would name what is not there
        else (),
        notes=_staff_notes(chord, resolution, played, key, altered) if staves else (),
        letters=_letters(chord, resolution, played, look.sizes, metrics) if look.hands == "letters" else (),
        # A bar without notes on a staff is a silent one: there each chord is drawn.
        restated=chord.repeats and not staves,
        span=chord.span,
    )


def _hand_before(arrangement: Arrangement, chord: ChordPart) -> tuple[int, ...]:
    """Return the keys that are down when a chord comes; none where the hand is free."""
    if chord.came_from is None:
        return ()
    before = arrangement.chord(chord.came_from)
    resolved = before.suspension is not None and before.suspension.resolves_to is not None
    return tuple(pitch.midi for pitch in (before.plain if resolved else before.right))


def _tells(shape: str, look: Look) -> bool:
    """Return whether a shape says more than what is shown: letters say the notes themselves."""
    return look.hands != "letters" or "-" not in shape


def in_octaves(left: Sequence[Pitch]) -> bool:
    """Return whether the left hand plays a note and its octave."""
    return len(left) == 2 and left[0].name == left[1].name and left[1].midi - left[0].midi == _OCTAVE


def _left_hand(left: Sequence[Pitch], sizes: Sizes, metrics: Metrics) -> tuple[Run, ...]:
    """Set the left hand's letters; a note and its octave are one letter with a word after it."""
    if not left:
        return ()
    if in_octaves(left):
        return runs(f"{LEFT} {printed_name(left[0].name.plain())} {OCTAVE_BELOW}", "regular", sizes.small, metrics)
    names = " ".join(printed_name(pitch.name.plain()) for pitch in left)
    return runs(f"{LEFT} {names}", "regular", sizes.small, metrics)


def _letters(
    chord: ChordPart, resolution: Pitch | None, played: Sequence[KeyMark], sizes: Sizes, metrics: Metrics
) -> tuple[Run, ...]:
    """Set the right hand as letters, lowest first: what moves is bold, what stays is light."""
    parts: list[Run] = []
    for number, (pitch, mark) in enumerate(zip(chord.right, played, strict=True)):
        text = printed_name(pitch.name.plain())  # keys to press: nobody looks for a double flat, nor for F flat
        if resolution is not None and chord.suspension is not None and chord.suspension.note == pitch:
            text += f"→{printed_name(resolution.name.plain())}"
        if number:
            parts += runs("·", "regular", sizes.letters, metrics)
        parts += runs(text, "regular" if mark.kind == "held" else "bold", sizes.letters, metrics)
    return tuple(parts)


def _staff_notes(
    chord: ChordPart,
    resolution: Pitch | None,
    played: Sequence[KeyMark],
    key: Key,
    altered: dict[int, int],
) -> tuple[StaffNote, ...]:
    """Return the notes of both hands: the right on the upper staff, the left on the lower."""
    respelled = [printable(pitch) for pitch in (*chord.right, *chord.left)]
    right, left = respelled[: len(chord.right)], respelled[len(chord.right) :]
    kinds: Mapping[int, KeyMark] = {mark.key: mark for mark in played}
    again = chord.repeats and all(mark.kind == "held" for mark in played)  # the hand as it was: ties say nothing new
    notes = [
        StaffNote(step_of(pitch), "treble", sign_of(pitch, key, altered), "again" if again else kinds[pitch.midi].kind)
        for pitch in right
    ]
    notes += [StaffNote(step_of(pitch), "bass", sign_of(pitch, key, altered), "fresh") for pitch in left]
    if resolution is not None:
        resolution = printable(resolution)
        notes.append(StaffNote(step_of(resolution), "treble", sign_of(resolution, key, altered), "resolution"))
    return tuple(notes)
