"""Take the plain triads and the singers' own movement out of the four-part chorales in music21's corpus.

    python tests/reference/chorales.py > tests/reference/chorales.txt

The chorales are those of Bach in Riemenschneider's numbering, public domain; the recipe: at every quarter read the
sounding soprano, alto, tenor and bass; keep the moment if they make exactly a major or minor triad. A change is two
neighbouring beats, both kept, with another root or quality, and no fermata on the first. A line of the result is one
chorale: chains of chords with the semitones that soprano, alto and tenor move between them (`G 5 D`), chains
separated by `|`. Reading all of them takes minutes, so the result is kept; a test makes part of it again.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

SETS = {(0, 4, 7): "", (0, 3, 7): "m"}
NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
# What the recipe keeps besides plain triads: it decides which beats are neighbours, not what is written here.
ALL_SETS = {*SETS, (0, 3, 6), (0, 4, 8), (0, 4, 7, 10), (0, 4, 7, 11), (0, 3, 7, 10), (0, 3, 6, 10), (0, 3, 6, 9)}


def name(keys: Iterable[int]) -> str | None:
    """Name a triad by its pitch classes; None where it is no plain triad."""
    classes = {k % 12 for k in keys}
    for root in sorted(classes):
        quality = SETS.get(tuple(sorted((c - root) % 12 for c in classes)))
        if quality is not None:
            return NAMES[root] + quality
    return None


def voices(part: object) -> list[tuple[float, float, int, bool]]:
    """List a part's notes: start, end in quarters, MIDI number, whether under a fermata."""
    found = []
    for note in part.flatten().notes:  # type: ignore[attr-defined]
        if note.isChord:
            continue
        held = any("Fermata" in e.classes for e in note.expressions)
        start = float(note.offset)
        found.append((start, start + float(note.quarterLength), note.pitch.midi, held))
    return found


def sounding(notes: list[tuple[float, float, int, bool]], beat: float) -> tuple[int, bool] | None:
    return next(((midi, held) for start, end, midi, held in notes if start <= beat < end), None)


def line(score: object) -> str:
    """Give the line of one chorale, empty where it has no chain."""
    parts = [voices(p) for p in score.parts]  # type: ignore[attr-defined]
    end = int(score.highestTime)  # type: ignore[attr-defined]
    chains: list[str] = []
    chain: list[str] = []
    last: tuple[str, list[int], bool] | None = None
    for beat in range(end + 1):
        now = [sounding(p, float(beat)) for p in parts]
        keys = [n[0] for n in now if n]
        triad = name(keys) if len(keys) == 4 else None
        if triad is None or (last is not None and last[2]):
            if len(chain) > 1:
                chains.append(" ".join(chain))
            chain, last = [], None
        if triad is not None:
            held = any(n is not None and n[1] for n in now)
            if last is None:
                chain = [triad]
            elif last[0] != triad:
                moves = sum(abs(a - b) for a, b in zip(keys[:3], last[1][:3], strict=True))
                chain += [str(moves), triad]
            last = (triad, keys, held)
    if len(chain) > 1:
        chains.append(" ".join(chain))
    return " | ".join(chains)


def read(number: int) -> object | None:
    """Read one chorale by its number; None where it has not exactly four parts."""
    from music21 import corpus

    for score in corpus.chorales.Iterator(number, number, numberingSystem="riemenschneider"):
        return score if len(score.parts) == 4 else None
    return None


def main() -> None:
    for number in range(1, 372):
        score = read(number)
        if score is not None:
            sys.stdout.write(f"{number}: {line(score)}\n")


if __name__ == "__main__":
    main()
