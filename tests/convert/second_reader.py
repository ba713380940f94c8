"""Read a score by music21, a second reader that knows nothing of ours, and compare it with the song made of it.

What counts: every chord symbol in order, by the notes that it names, and every syllable of the first verse in order, as
letters. A chord that the song writes once more, at the start of a section or an ending, is the one that sounds there
already: neighbours that are alike count once, in both.
"""

from __future__ import annotations

import unicodedata
import warnings
from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby
from pathlib import Path
from typing import Any

from music21 import converter, harmony, note, stream

from arranger.harmony.repeats import played_bars
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source

Named = tuple[int, frozenset[int], int]  # root, pitch classes, bass


def song_of(text: str) -> tuple[Song, list[str]]:
    """Read a song; give it with the codes of what is said of it."""
    song, problems = read(Source.of("made.song.txt", text))
    assert song is not None, problems
    return song, [problem.code for problem in problems]


def chords_of_song(song: Song) -> list[Named]:
    """Give the chords in the order in which they are written."""
    marks = (mark for section in song.sections for row in section.rows for bar in row.bars for mark in bar.marks)
    found = []
    for mark in marks:
        if mark.chord is not None:
            chord = mark.chord.chord
            bass = chord.bass_name.pitch_class
            found.append((chord.root.pitch_class, chord.pitch_classes | {bass}, bass))
    return found


def opened(path: Path) -> Any:
    """Read a score by music21, in sounding pitch."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(path, format="musicxml", forceSource=True)
        return score.toSoundingPitch()


def chords_of_score(score: Any) -> list[Named]:
    """Give the chord symbols of the part that has the most, in order; those without a chord are left out."""
    parts = [_symbols(part) for part in score.parts]
    return max(parts, key=len, default=[])


def _symbols(part: Any) -> list[Named]:
    found = []
    for symbol in part.recurse().getElementsByClass(harmony.ChordSymbol):
        if isinstance(symbol, harmony.NoChord) or symbol.chordKind == "none":
            continue
        place = Fraction(symbol.getOffsetInHierarchy(part)).limit_denominator(64)
        found.append((place, symbol))
    found.sort(key=lambda one: one[0])
    return [_named(symbol) for _, symbol in found]


def _named(symbol: Any) -> Named:
    if symbol.chordKind == "minor-major":  # that reader finds the root alone
        symbol = harmony.ChordSymbol(f"{symbol.root().name}mM7")
    if not symbol.chordKind:  # no kind is major here
        symbol = harmony.ChordSymbol(symbol.root().name)
    bass = symbol.bass().pitchClass if symbol.bass() is not None else symbol.root().pitchClass
    return symbol.root().pitchClass, frozenset(p.pitchClass for p in symbol.pitches) | {bass}, bass


def alone(chords: list[Named]) -> list[Named]:
    """Take neighbours that are alike as one."""
    return [one for one, _ in groupby(chords)]


def letters(text: str) -> str:
    """Give the letters and figures of a text without case: the parting of words does not count."""
    return "".join(c for c in unicodedata.normalize("NFC", text).casefold() if c.isalnum())


def first_verse_of_score(score: Any) -> list[str]:
    """Give the syllables of the first line of words, of the part with chord symbols if it is sung, in order."""
    sung = [list(_syllables(part)) for part in score.parts]
    chords = [len(_symbols(part)) for part in score.parts]
    most = max(map(len, sung), default=0)
    over = next((i for i, count in enumerate(chords) if 2 * count >= max(chords)), 0)
    return sung[over] if 2 * len(sung[over]) >= most else next(part for part in sung if 2 * len(part) >= most)


def _syllables(part: stream.Part) -> Iterator[str]:
    sung = []
    for one in part.recurse().getElementsByClass(note.GeneralNote):
        if one.duration.isGrace:
            continue
        for lyric in one.lyrics:
            if lyric.number == 1:
                place = Fraction(one.getOffsetInHierarchy(part)).limit_denominator(64)
                sung.append((place, letters(lyric.text or "")))
    sung.sort(key=lambda pair: pair[0])
    yield from (text for _, text in sung if text)


def first_words_of_song(song: Song) -> str:
    """Give the letters of the first line of words below every row, in the order in which rows are written."""
    lines = (row.words[0] for section in song.sections for row in section.rows if row.words)
    return letters("".join(piece.text for line in lines for bar in line.bars for piece in bar.pieces))


def all_words_of_song(song: Song) -> list[str]:
    """Give the letters of every line of words."""
    lines = (line for section in song.sections for row in section.rows for line in row.words)
    return [letters("".join(piece.text for bar in line.bars for piece in bar.pieces)) for line in lines]


def missing(syllables: list[str], text: str) -> list[str]:
    """Give the syllables that are not in a text in this order."""
    at = 0
    lost = []
    for syllable in syllables:
        place = text.find(syllable, at)
        if place < 0:
            lost.append(syllable)
        else:
            at = place + len(syllable)
    return lost


def differences(path: Path, text: str) -> list[str]:
    """Give what a song lacks of the score that it was made of; empty where nothing is."""
    song, codes = song_of(text)
    score = opened(path)
    said = [f"check says {', '.join(codes)}"] if codes else []
    wanted, found = alone(chords_of_score(score)), alone(chords_of_song(song))
    if wanted != found:
        place = next((i for i, (a, b) in enumerate(zip(wanted, found, strict=False)) if a != b), len(wanted))
        said.append(f"chords differ from number {place + 1}: {wanted[place : place + 2]} {found[place : place + 2]}")
    lost = missing(first_verse_of_score(score), first_words_of_song(song))
    return [*said, f"words lost: {' '.join(lost)}"] if lost else said


def differences_as_played(path: Path, text: str) -> list[str]:
    """Give where the chords of a song as it is played differ from those of the score with its repeats written out."""
    song, _ = song_of(text)
    score = opened(path)
    part = max(score.parts, key=lambda one: len(_symbols(one)))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        expanded = part.expandRepeats()
    wanted, found = alone(_symbols(expanded)), alone(list(_played(song)))
    if wanted == found:
        return []
    place = next(
        (i for i, (a, b) in enumerate(zip(wanted, found, strict=False)) if a != b), min(len(wanted), len(found))
    )
    return [f"as played, chords differ from number {place + 1} of {len(wanted)}: {found[place : place + 2]}"]


def _played(song: Song) -> Iterator[Named]:
    """Give the chords in the order in which they are played."""
    for step in song.roadmap:
        section = song.sections[step.section]
        for _ in range(step.times):
            last: list[Named] = []
            for row, bar in played_bars(section):
                written = section.rows[row].bars[bar]
                if not written.repeats_last:
                    last = [_of_mark(mark.chord.chord) for mark in written.marks if mark.chord is not None]
                yield from last


def _of_mark(chord: Any) -> Named:
    bass = chord.bass_name.pitch_class
    return chord.root.pitch_class, chord.pitch_classes | {bass}, bass
