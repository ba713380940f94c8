"""Which suspensions may be offered beside lines that the hand keeps: none that moves one or lies on it.

Takes the offers and the scene; gives those offers that leave the lines alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from arranger.harmony.candidates import Scene
from arranger.harmony.sites import SUS
from arranger.harmony.suspensions import Offer
from arranger.harmony.voicings import OCTAVE

SEMITONES = (1, OCTAVE - 1)


def beside_drones(offered: Sequence[Offer], scene: Scene) -> tuple[Offer, ...]:
    """Return the offers that neither take a note of a drone nor sound it once more nor lie a semitone from it.

    Where a drone is a chord's 4 already, nothing more is offered.
    """
    under = {
        unknown: (group.notes, chord)
        for group in scene.drones
        if group.registers
        for unknown, chord in zip(group.unknowns, group.chords, strict=True)
    }
    found = []
    for offer in offered:
        if offer.unknown in under:
            notes, chord = under[offer.unknown]
            root = scene.uses.unknowns[offer.unknown].printed.chord.root
            number, third = SUS[offer.kind].above(root).pitch_class, (root.pitch_class + offer.third) % OCTAVE
            near = any(note == number or (note - number) % OCTAVE in SEMITONES for note in notes)
            if near or third in notes or chord.four is not None:
                continue
        found.append(offer)
    return tuple(found)


def beside_inner_lines(offered: Sequence[Offer], scene: Scene) -> tuple[Offer, ...]:
    """Return the offers that do not take away a note of an inner line: a third that belongs to one stays."""
    notes: set[tuple[int, int]] = set()
    for step in scene.lines:
        one, two, shift = step.change
        notes |= {(one, step.note), (two, (step.note + step.way - shift) % OCTAVE)}

    def third(offer: Offer) -> int:
        root = scene.uses.unknowns[offer.unknown].printed.chord.root.pitch_class
        return (root + offer.third) % OCTAVE

    return tuple(offer for offer in offered if (offer.unknown, third(offer)) not in notes)
