"""Make lead sheets by chance: meters, pickups, ties, triplets, repeats with endings, jumps, verses, transposition."""

from __future__ import annotations

import random
import warnings
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from music21 import (
    bar,
    clef,
    expressions,
    harmony,
    instrument,
    key,
    metadata,
    meter,
    note,
    repeat,
    spanner,
    stream,
    tie,
)

METERS = {"4/4": 4, "3/4": 3, "2/4": 2, "6/8": 3, "2/2": 4, "12/8": 6, "5/4": 5, "9/8": 4.5}
FIGURES = ["", "m", "7", "m7", "maj7", "sus4", "sus2", "dim", "+", "6", "m6", "9", "m9", "ø7", "o7", "7b9", "add9"]
ROOTS = ["C", "D", "E", "F", "G", "A", "B", "B-", "E-", "F#"]
SYLLABLES = [
    "la",
    "tern",
    "on",
    "the",
    "wa",
    "ter",
    "home",
    "by",
    "dark",
    "and",
    "ships",
    "go",
    "ing",
    "out",
    "é",
    "ñu",
]
PITCHES = ["C4", "D4", "E4", "F4", "G4", "A4", "B-4", "C5", "D5", "F#4"]


def written(path: Path, seed: int, number: int) -> bool:
    """Write the score of a number; return whether verses alone say that it is played again."""
    chance = random.Random(f"{seed}/{number}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score, strophic = _score(chance)
        score.write("musicxml", fp=str(path))
    return strophic


def _score(chance: random.Random) -> tuple[stream.Score, bool]:
    name = chance.choice([*METERS, "4/4", "4/4", "3/4"])
    form = chance.choice(["plain", "repeat", "endings", "da capo", "dal segno", "two parts"])
    verses = chance.choice([1, 1, 2]) if form in ("repeat", "endings") else chance.choice([1, 1, 1, 3])
    bars = chance.choice([4, 8, 8, 12])
    part = stream.Part()
    part.insert(
        0, chance.choice([instrument.Vocalist, instrument.Clarinet, instrument.AltoSaxophone, instrument.Flute])()
    )
    measures = [_measure(chance, METERS[name], verses) for _ in range(bars)]
    measures[0].insert(0, meter.TimeSignature(name))
    measures[0].insert(0, clef.TrebleClef())
    measures[0].insert(0, key.Key(chance.choice(["C", "D", "F", "B-", "a", "e", "A"])))
    for place in (0, 1, bars // 2):  # where a jump may lead: what sounds there does not depend on how it was reached
        if not any(symbol.offset == 0 for symbol in measures[place].getElementsByClass(harmony.ChordSymbol)):
            measures[place].insert(0, harmony.ChordSymbol("C"))
    _shape(form, measures, part, chance)
    if chance.random() < 0.4 and form in ("plain", "two parts"):
        _pickup(measures, chance)
    for place, measure in enumerate(measures):
        measure.number = place + 1
        part.append(measure)
    _tie(part, chance)
    score = stream.Score()
    score.insert(0, metadata.Metadata(title="Chance", composer="Nobody"))
    score.insert(0, part)
    if chance.random() < 0.3:
        bass = stream.Part()
        for measure in measures:
            low = stream.Measure(number=measure.number)
            low.append(note.Note("C2", quarterLength=measure.duration.quarterLength))
            bass.append(low)
        bass.measure(1).insert(0, meter.TimeSignature(name))
        score.insert(0, bass)
    return score, verses > 1 and form not in ("repeat", "endings")


def _measure(chance: random.Random, length: float, verses: int) -> stream.Measure:
    """Fill a bar with notes, words and chords."""
    measure = stream.Measure()
    left = Fraction(length)
    at = Fraction(0)
    while left:
        sizes = [Fraction(1, 2), Fraction(1), Fraction(1), Fraction(3, 2), Fraction(2), Fraction(1, 4)]
        size = chance.choice([s for s in sizes if s <= left])
        if size == 1 and chance.random() < 0.15 and at.denominator == 1:
            for _ in range(3):
                measure.insert(at, note.Note(chance.choice(PITCHES), quarterLength=Fraction(1, 3)))
                at += Fraction(1, 3)
            left -= 1
            continue
        one = note.Rest(quarterLength=size) if chance.random() < 0.12 else _note(chance, size, verses)
        measure.insert(at, one)
        at += size
        left -= size
    for place in sorted(chance.sample(range(int(length)), chance.choice([0, 1, 1, 1, 2]) if length >= 2 else 1)):
        measure.insert(0 if chance.random() < 0.6 and not place else place, _symbol(chance))
    return measure


def _note(chance: random.Random, size: Fraction, verses: int) -> note.Note:
    one = note.Note(chance.choice(PITCHES), quarterLength=size)
    if chance.random() < 0.8:
        kind = chance.choice(["single", "single", "begin"])
        for verse in range(verses):
            lyric = note.Lyric(chance.choice(SYLLABLES), number=verse + 1)
            lyric.syllabic = kind
            one.lyrics.append(lyric)
    return one


def _symbol(chance: random.Random) -> harmony.ChordSymbol:
    if chance.random() < 0.04:
        return harmony.NoChord()
    root = chance.choice(ROOTS)
    figure = root + chance.choice(FIGURES)
    return harmony.ChordSymbol(figure)


def _shape(form: str, measures: list[stream.Measure], part: stream.Part, chance: random.Random) -> None:
    """Set the signs of a form."""
    half = len(measures) // 2
    if form == "repeat":
        measures[0].leftBarline = bar.Repeat(direction="start")
        measures[half - 1].rightBarline = bar.Repeat(direction="end", times=2)
    elif form == "endings":
        measures[0].leftBarline = bar.Repeat(direction="start")
        measures[half - 1].rightBarline = bar.Repeat(direction="end", times=2)
        for one in measures[half].notes:  # the second ending has one line of words
            one.lyrics = one.lyrics[:1]
        part.insert(0, spanner.RepeatBracket(measures[half - 1], number=1))
        part.insert(0, spanner.RepeatBracket(measures[half], number=2))
    elif form == "da capo":
        measures[half - 1].append(repeat.Fine())
        measures[-1].append(repeat.DaCapoAlFine())
    elif form == "dal segno":
        measures[1].insert(0, repeat.Segno())
        measures[-1].append(repeat.DalSegnoAlFine())
        measures[half].append(repeat.Fine())
    elif form == "two parts":
        measures[0].insert(0, expressions.RehearsalMark("A"))
        measures[half].insert(0, expressions.RehearsalMark(chance.choice(["B", "Chorus", "2"])))


def _pickup(measures: list[stream.Measure], chance: random.Random) -> None:
    """Shorten the first bar from its start."""
    first = measures[0]
    length = first.barDuration.quarterLength
    size = chance.choice([0.5, 1, 1.5, 2.5])
    if size >= length:
        return
    short = stream.Measure()
    for one in first.getElementsByClass((meter.TimeSignature, key.Key, clef.Clef, expressions.RehearsalMark)):
        first.remove(one)
        short.insert(0, one)
    upbeat = note.Note("G4", quarterLength=size)
    upbeat.addLyric("oh")
    short.append(upbeat)
    short.padAsAnacrusis()
    measures.insert(0, short)


def _tie(part: stream.Part, chance: random.Random) -> None:
    """Tie some last notes of bars to the next ones."""
    measures = list(part.getElementsByClass(stream.Measure))
    for one, after in pairwise(measures):
        last, first = (
            list(one.notes)[-1:],
            [n for n in after.notesAndRests if not isinstance(n, harmony.ChordSymbol)][:1],
        )
        if not last or not first or not isinstance(first[0], note.Note) or not isinstance(last[0], note.Note):
            continue
        if isinstance(last[0], harmony.ChordSymbol) or chance.random() > 0.2:
            continue
        first[0].pitch = last[0].pitch
        first[0].lyrics = []
        last[0].tie, first[0].tie = tie.Tie("start"), tie.Tie("stop")
