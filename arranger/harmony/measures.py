"""How much the keys play: notes, and moments at which they begin, as heard. Takes an Arrangement; gives figures.

Measured as in the piano tracks of POP909 (Wang et al., ISMIR 2020), with which textures are compared. What is struck
is what the manner of each bar strikes; hooks and fills that the part adds are not counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import reduce

from arranger.harmony.model import Arrangement
from arranger.harmony.strokes import all_struck, written_bar


@dataclass(frozen=True, slots=True)
class Figures:
    """What is played over some bars, as counts.

    Attributes:
        bars: bars in which the keys are not out; a short one counts as the share of a whole one that it is.
        notes: keys struck.
        attacks: moments at which notes begin.
        chords: chords heard that have a right hand.
        keys: the keys of their right hands.
        pitches: the sum of all notes (MIDI).
    """

    bars: Fraction = Fraction(0)
    notes: int = 0
    attacks: int = 0
    chords: int = 0
    keys: int = 0
    pitches: int = 0

    def __add__(self, other: Figures) -> Figures:
        """Return the figures of what is played over both."""
        return Figures(
            self.bars + other.bars,
            self.notes + other.notes,
            self.attacks + other.attacks,
            self.chords + other.chords,
            self.keys + other.keys,
            self.pitches + other.pitches,
        )

    @property
    def notes_a_bar(self) -> Fraction:
        """Keys struck a bar; 0 where there is no bar."""
        return self.notes / self.bars if self.bars else Fraction(0)

    @property
    def attacks_a_bar(self) -> Fraction:
        """Moments a bar at which notes begin; 0 where there is no bar."""
        return self.attacks / self.bars if self.bars else Fraction(0)

    @property
    def notes_an_attack(self) -> Fraction:
        """Keys struck together, in the mean; 0 where none is."""
        return Fraction(self.notes, self.attacks or 1)

    @property
    def right_hand(self) -> Fraction:
        """Keys of the right hand, in the mean over the chords heard; 0 where there is none."""
        return Fraction(self.keys, self.chords or 1)

    @property
    def mean_pitch(self) -> Fraction:
        """The mean of all notes (MIDI); 0 where there is none."""
        return Fraction(self.pitches, self.notes or 1)


def figures(
    arrangement: Arrangement, since: Fraction = Fraction(0), until: Fraction | None = None
) -> tuple[tuple[Figures, ...], Figures]:
    """Return the figures of each section's part, over all the times that it is heard, and those of the song.

    `since` and `until` are quarters from the start of the song: only what is struck between them is counted.
    """

    def counts(at: Fraction) -> bool:
        return since <= at and (until is None or at < until)

    found = [Figures() for _ in arrangement.sections]
    for bar in arrangement.bars:
        if not bar.silent and counts(bar.at):
            whole = written_bar(arrangement, bar).meter.length
            found[bar.section] += Figures(bars=bar.length / whole)
    moments: list[set[Fraction]] = [set() for _ in arrangement.sections]
    for heard, strokes in all_struck(arrangement):
        section, right = heard.chord[0], arrangement.chord(heard.chord).right
        here = [stroke for stroke in strokes if counts(stroke.at)]
        keys = [key for stroke in here for key in stroke.keys]
        moments[section].update(stroke.at for stroke in here)
        found[section] += Figures(notes=len(keys), pitches=sum(keys))
        if right and counts(heard.at):
            found[section] += Figures(chords=1, keys=len(right))
    each = tuple(one + Figures(attacks=len(some)) for one, some in zip(found, moments, strict=True))
    return each, reduce(Figures.__add__, each, Figures())
