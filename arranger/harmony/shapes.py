"""Names for what the right hand holds, for players who know triads and inversions."""

from __future__ import annotations

from arranger.harmony.candidates import Voicing
from arranger.harmony.model import Inversion
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName, Pitch

_TRIADS = {(4, 7): "", (3, 7): "m", (3, 6): "dim", (4, 8): "aug"}  # semitones over the root


def shape(chord: Chord, right: tuple[Pitch, ...], *, always: bool = False) -> str:
    """Name what the right hand holds on a chord of more than three notes, for a player who knows triads.

    `C over A` for Am7; the notes themselves (`D-E-G over C`) where they are no triad. Empty for triads, but with
    `always` the name of one over another bass (`D over F#`). A plain triad is named by its chord already.
    """
    if not right or (len(chord.members) <= 3 and not always):
        return ""
    held = _triad(right) or "-".join(str(p.name) for p in right)
    if len(chord.members) <= 3 and held == f"{chord.root}{chord.quality.name}" and chord.bass is None:
        return ""
    return f"{held} over {chord.bass_name}"


def _triad(right: tuple[Pitch, ...]) -> str:
    """Name the triad that a hand holds, in any inversion; empty where it is none."""
    names: dict[int, NoteName] = {p.name.pitch_class: p.name for p in right}
    for root, name in names.items():
        over = tuple(sorted((pc - root) % 12 for pc in names))[1:]
        symmetric = over == (4, 8) and name.pitch_class != right[0].name.pitch_class
        if over in _TRIADS and not symmetric:
            return f"{name}{_TRIADS[over]}"
    return ""


def inversion(chord: Chord, voicing: Voicing) -> Inversion:
    """Name a hand by the chord member that is lowest in it; a second or fourth stands where the third would."""
    if not voicing:
        return "none"
    lowest = (voicing[0] - chord.root.pitch_class) % 12
    member = next((i for i in chord.members if i.pitch_class == lowest), None)
    degree = member.degree if member else {2: 2, 5: 4}.get(lowest, 0)  # a suggested 2 or 4 is no member
    by_degree: dict[int, Inversion] = {
        1: "root",
        2: "first",
        3: "first",
        4: "first",
        5: "second",
        6: "third",
        7: "third",
    }
    return by_degree.get(degree, "none")
