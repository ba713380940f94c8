"""What a drone does on a printed chord, told: the 4 that it makes of V, and where a note had to give way and why.

Takes a solved song; gives the suspension that belongs to the drone, and reasons in words for a player.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from arranger.harmony.drone_hands import DroneChord, DronePlace, third_needed, under_drone
from arranger.harmony.solve import Solved
from arranger.harmony.suspensions import Offer
from arranger.harmony.timeline import Printed
from arranger.harmony.voicings import OCTAVE
from arranger.song.model import Section
from arranger.song.players import plays_guitar


def _place(solved: Solved, unknown: int) -> tuple[DroneChord, DronePlace] | None:
    """Return what a chord does to its drone, and the keys on which its hand holds it; None where there is no drone."""
    for group, register in zip(solved.scene.drones, solved.registers, strict=True):
        if unknown in group.unknowns:
            number = group.unknowns.index(unknown)
            if not register:
                return group.chords[number], DronePlace((), 0)
            return group.chords[number], group.places[number][group.registers.index(register)]
    return None


def _stays(place: DronePlace, pitch_class: int) -> bool:
    return any(key % OCTAVE == pitch_class for key in place.keys)


def drone_four(solved: Solved, one: Printed, section: Section) -> tuple[Offer, int] | None:
    """Return the suspension that a drone makes of a printed chord, as an offer, and its key (MIDI, at shift 0).

    None where it makes none. It is for all wherever a guitar plays, for it would sound the third all the while.
    """
    found = None if one.unknown is None else _place(solved, one.unknown)
    if one.unknown is None or found is None:
        return None
    chord, place = found
    third = one.chord.member_on(3)
    if chord.four is None or third is None or not _stays(place, chord.four.pitch_class):
        return None
    key = next(key for key in place.keys if key % OCTAVE == chord.four.pitch_class)
    guitar = plays_guitar(section.facts.band)
    return Offer(one.unknown, "sus4", None, 0, guitar, third.semitones, singer_rests=False), key


def drone_reasons(solved: Solved, section: Section, part: Sequence[Printed], index: int) -> Iterator[str]:
    """Yield where on a printed chord a drone had to give way or stands for another note, and why, in words.

    Args:
        solved: the hands.
        section: the section as it sounds, maybe in another key than the one that was solved.
        part: its printed chords, as they sound.
        index: which of them.
    """
    one, drone = part[index], section.facts.drone
    found = None if one.unknown is None or drone is None else _place(solved, one.unknown)
    if one.unknown is None or drone is None or found is None or one.written is None:
        return
    chord, place = found
    pinned = one.written.pins
    here = under_drone(one.chord, drone.notes, section.facts.key, third_needed(section, part, index))
    up = drone.notes[0].pitch_class - _first_note(solved, one.unknown)  # how much higher it sounds than it was solved
    for note in drone.notes:
        number = (note.pitch_class - up) % OCTAVE
        own = next((given for given in here.given if given.note == note), None)
        if _stays(place, number):
            if chord.four is not None and chord.four.pitch_class == number:
                yield f"the drone's {note} stays as the 4 of {one.chord}, in place of its third"
        elif pinned:
            yield f"the drone's {note} gives way: the hand is pinned"
        elif own is not None:
            yield f"the drone's {note} gives way to {own.to}: {own.reason}"
        elif any(name.pitch_class == number for name in chord.held):
            yield f"the drone's {note} gives way: no hand within the limits keeps it where it lies"
        else:
            yield f"the drone's {note} gives way, as where the same hand comes elsewhere"
    third = one.chord.member_on(3)
    if place.keys and chord.four is None and third is not None:
        lower = (one.chord.root.pitch_class + third.semitones - up) % OCTAVE
        hand, bass = solved.hands[one.unknown].first, solved.scene.basses[one.unknown]
        if hand == place.keys and all(key % OCTAVE != lower for key in (*hand, bass)):
            yield f"the drone leaves no key for {third.above(one.chord.root)}, the third"


def _first_note(solved: Solved, unknown: int) -> int:
    """Return the pitch class of the first note of the drone over an unknown, as solved."""
    return next(group.notes[0] for group in solved.scene.drones if unknown in group.unknowns)
