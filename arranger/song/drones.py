"""Drones: notes that stay in the right hand through a section, read, found in its key, and held against its chords."""

from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple

from arranger.habits.signs import with_own_signs
from arranger.late import load
from arranger.song.grammar import Failure, parse_fact
from arranger.song.model import Capo, Drone, Row
from arranger.song.song_line import SongLine
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Span
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.key import Key, Transposition
from arranger.theory.pitch import NoteName

_FIFTH = Interval(5, 7)
DRONE_WORDS = ("tonic", "fifth", "both")  # told by the key
OFF = "off"
MOST_NOTES = 2  # more leave the hand no key for the chord
_SEMITONES = (1, 11)
_BORNE_BY = (1, 3, 5)  # the degrees of a chord beside which a semitone is heard as wrong


class WrittenDrone(NamedTuple):
    """A `drone` line as read: names of notes, or a word (`tonic`, `off`) whose key is not known yet."""

    text: str
    names: tuple[NoteName, ...]
    span: Span

    def in_key(self, key: Key) -> Drone | None:
        """Return the drone in the section's key; None where it is `off`."""
        if self.names:
            return Drone(self.text, self.names, self.span)
        tonic, fifth = key.tonic, _FIFTH.above(key.tonic)
        notes = {"tonic": (tonic,), "fifth": (fifth,), "both": (tonic, fifth), OFF: ()}[self.text]
        return Drone(self.text, notes, self.span) if notes else None


def read_drone(line: SongLine, problems: Problems) -> WrittenDrone | None:
    """Read `D A`, `tonic`, `fifth`, `both`, `off`."""
    found = parse_fact("drone", with_own_signs(line.text))
    hint, better = "", None
    if isinstance(found, Failure):
        hint, better = load("arranger.habits.how_full").drone(line.text)
    elif found[0].text.lower() in (*DRONE_WORDS, OFF):
        return WrittenDrone(found[0].text.lower(), (), line.span)
    else:
        names = [piece.text for piece in found]
        notes = tuple(map(NoteName.parse, names))
        once = tuple(dict.fromkeys(notes))
        if len({note.pitch_class for note in notes}) == len(notes) <= MOST_NOTES:
            return WrittenDrone(line.text, notes, line.span)
        if len(once) < len(notes) and len(once) <= MOST_NOTES:
            hint, better = "name each note once", " ".join(map(str, once))
        elif len(once) > MOST_NOTES:
            hint = f"two at most: the hand needs keys for the chord; `drone {' '.join(names[:MOST_NOTES])}`"
        else:
            hint = "these sound the same: name one"
    told = shown(line.text) if line.text else "nothing"
    message = f"expected one or two notes such as `D A`, or `tonic`, `fifth` or `both`, found {told}"
    problems.error("bad-drone", message, line.span, hint, fix=None if better is None else Fix(line.span, better))
    return None


def moved_drone(drone: Drone | None, by: Transposition) -> Drone | None:
    """Move a drone with its section."""
    if drone is None:
        return None
    notes = tuple(map(by.name, drone.notes))
    return replace(drone, text=drone.text if drone.text in DRONE_WORDS else " ".join(map(str, notes)), notes=notes)


def bears(chord: Chord, pitch_class: int) -> bool:
    """Return whether a note can lie over a chord: no semitone beside its root, third or fifth."""
    beside = (chord.root.pitch_class + m.semitones for m in chord.members if m.degree in _BORNE_BY)
    return not any((pitch_class - one) % 12 in _SEMITONES for one in beside)


def check_drone(drone: Drone, rows: Iterable[Row], key: Key, capo: Capo | None, problems: Problems) -> None:
    """Refuse notes that no chord of the section bears: nobody would ever hear them."""
    chords = [mark.chord.chord for row in rows for bar in row.bars for mark in bar.marks if mark.chord is not None]
    unborne = [note for note in drone.notes if not any(bears(chord, note.pitch_class) for chord in chords)]
    if not chords or not unborne:
        return
    often = {number: sum(bears(chord, number) for chord in chords) for number in range(12)}
    tonic, fifth = key.tonic.pitch_class, _FIFTH.above(key.tonic).pitch_class
    # Those that lie over the most chords; of equals the fifth and the tonic, then notes of the scale.
    scale = [note.pitch_class for note in key.scale]
    best = min(range(12), key=lambda n: (-often[n], n != fifth, n != tonic, n not in scale, n))
    all_chords = "every chord" if often[best] == len(chords) else f"{often[best]} of {len(chords)} chords"
    named = " and ".join(f"`{note}`" for note in unborne)
    message = f"expected notes that can lie over chords of this section, found {named}, a semitone from each of them"
    hint = f"write `drone {key.spelled(best)}`, which can lie over {all_chords} here" if often[best] else ""
    if capo is not None:
        sounding = [key.spelled((note.pitch_class + capo.fret) % 12) for note in drone.notes]
        if all(any(bears(chord, note.pitch_class) for chord in chords) for note in sounding):
            hint = f"write the notes that sound, not those of the shapes: `drone {' '.join(map(str, sounding))}`"
    problems.error("drone-unheard", message, drone.span, hint, "leave the line out if no note stays")
