"""List the chord qualities: the one table of the notes that each chord name means, which everything else reads.

Degrees are counted from the root as in a major scale (`b3` is a minor third). `mir_eval` and `musicxml` name the same
set of notes in those vocabularies, `music21` is a figure that library reads; empty where it has none. The first
spelling is the printed one. Rows up to `add9` are table A1 of the published vocabularies: mir_eval's QUALITIES (labels
after Harte et al., ISMIR 2005), MusicXML 4.0 `kind-value`, music21's CHORD_TYPES; the tests compare them all. The rows
below those are common practice, no source, but for what music21 also has.
"""

from typing import NamedTuple

from arranger.theory.interval import Interval


class Quality(NamedTuple):
    """A row of the table.

    `name` is printed after the root; what follows its first `raised` characters is raised in print. `degrees` has the
    root first, the others as chords are stacked.
    """

    name: str
    degrees: tuple[Interval, ...]
    raised: int
    mir_eval: str
    musicxml: str
    music21: str

    def __hash__(self) -> int:  # names are the table's keys; qualities are hashed by every memo of chords
        return hash(self.name)

    def has(self, degree: int) -> Interval | None:
        """Return the interval on a degree (3 for the third, whatever its size), if the quality has one."""
        return next((i for i in self.degrees if i.degree == degree), None)


def _row(name: str, degrees: str, raised: int, mir_eval: str = "", musicxml: str = "", music21: str = "") -> Quality:
    return Quality(name, tuple(map(Interval.parse, degrees.split())), raised, mir_eval, musicxml, music21)


QUALITIES: tuple[Quality, ...] = (
    _row("", "1 3 5", 0, "maj", "major", "C"),
    _row("m", "1 b3 5", 1, "min", "minor", "Cm"),
    _row("aug", "1 3 #5", 3, "aug", "augmented", "C+"),
    _row("dim", "1 b3 b5", 3, "dim", "diminished", "Cdim"),
    _row("sus2", "1 2 5", 4, "sus2", "suspended-second", "Csus2"),
    _row("sus4", "1 4 5", 4, "sus4", "suspended-fourth", "Csus4"),
    _row("5", "1 5", 0, "5", "power", "Cpower"),
    _row("7", "1 3 5 b7", 0, "7", "dominant", "C7"),
    _row("maj7", "1 3 5 7", 0, "maj7", "major-seventh", "Cmaj7"),
    _row("m7", "1 b3 5 b7", 1, "min7", "minor-seventh", "Cm7"),
    _row("mMaj7", "1 b3 5 7", 1, "minmaj7", "major-minor", "CmM7"),
    _row("m7b5", "1 b3 b5 b7", 1, "hdim7", "half-diminished", "Cø7"),
    _row("dim7", "1 b3 b5 bb7", 3, "dim7", "diminished-seventh", "Co7"),
    _row("7#5", "1 3 #5 b7", 0, "aug7", "augmented-seventh", "C7+"),
    _row("6", "1 3 5 6", 0, "maj6", "major-sixth", "C6"),
    _row("m6", "1 b3 5 6", 1, "min6", "minor-sixth", "Cm6"),
    _row("7sus4", "1 4 5 b7", 0, "sus4(b7)", "", "C7sus4"),
    _row("9", "1 3 5 b7 9", 0, "9", "dominant-ninth", "C9"),
    _row("maj9", "1 3 5 7 9", 0, "maj9", "major-ninth", "CM9"),
    _row("m9", "1 b3 5 b7 9", 1, "min9", "minor-ninth", "Cm9"),
    _row("11", "1 3 5 b7 9 11", 0, "11", "dominant-11th", "C11"),
    _row("13", "1 3 5 b7 9 11 13", 0, "13", "dominant-13th", "C13"),
    _row("add9", "1 3 5 9", 0, "maj(9)", "", ""),
    # Beyond table A1.
    _row("madd9", "1 b3 5 9", 1),
    _row("mMaj9", "1 b3 5 7 9", 1, "", "", "CmM9"),
    _row("maj11", "1 3 5 7 9 11", 0, "", "major-11th", "CM11"),
    _row("m11", "1 b3 5 b7 9 11", 1, "min11", "minor-11th", "Cm11"),
    _row("maj13", "1 3 5 7 9 11 13", 0, "maj13", "major-13th", "CM13"),
    _row("m13", "1 b3 5 b7 9 11 13", 1, "min13", "minor-13th", "Cm13"),
    _row("6/9", "1 3 5 6 9", 0),
    _row("m6/9", "1 b3 5 6 9", 1),
    _row("9sus4", "1 4 5 b7 9", 0),
    _row("13sus4", "1 4 5 b7 9 13", 0),
    _row("maj7sus4", "1 4 5 7", 0),
    _row("7sus2", "1 2 5 b7", 0),
    _row("6sus4", "1 4 5 6", 0),
    _row("2", "1 2 5", 0),
    # "Altered": neither the fifth nor the ninth is plain; the tones most often meant are the raised fifth and ninth.
    _row("7alt", "1 3 #5 b7 #9", 0),
)

BY_NAME: dict[str, Quality] = {q.name: q for q in QUALITIES}
