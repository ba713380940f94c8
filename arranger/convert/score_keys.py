"""Settle the keys of a score: signature and mode as they are written, and what the chords say of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from arranger.convert.model import Remark
from arranger.convert.score_lead import LeadBar
from arranger.song.cells import ChordWord, read_mark
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.keyfinding import key_of_chords
from arranger.theory.pitch import NoteName

# Of the old modes: places on the line of fifths from the tonic of the signature's major key, and whether the third is
# minor. They follow from the scales (the white keys from D, E, F, G).
_MODES = {"dorian": (2, True), "phrygian": (4, True), "lydian": (-1, False), "mixolydian": (1, False)}
_MINOR = ("minor", "aeolian")
FEWEST_CHORDS = 8  # that speak against a signature without signs, which programs write where nobody chose one


def keys_of_bars(
    bars: Sequence[LeadBar], order: Sequence[int], forced: Key | None
) -> tuple[tuple[Key, ...], tuple[Remark, ...]]:
    """Return the key of each bar, and what there is to say of them.

    Args:
        bars: of the score.
        order: as they are played.
        forced: the key of the song, as if the score said so.
    """
    regions: list[tuple[int, tuple[int, str] | None]] = [(0, None)]
    for index, bar in enumerate(bars):
        if bar.key is not None and bar.key != regions[-1][1]:
            regions[-1:] = [(0, bar.key)] if index == 0 else [regions[-1], (index, bar.key)]
    keys: list[Key] = []
    notes: list[Remark] = []
    ends = [first for first, _ in regions[1:]] + [len(bars)]
    for (first, stated), end in zip(regions, ends, strict=True):
        if not keys and forced is not None:
            found, said = forced, None
        else:
            chords = list(_chords(bars, [i for i in order if first <= i < end]))
            found, said = _settled(stated, chords, bars[first].label)
        keys += [found] * (end - first)
        notes += [said] if said is not None else []
    return tuple(keys), tuple(notes)


def _chords(bars: Sequence[LeadBar], order: Sequence[int]) -> Iterator[tuple[Chord, Fraction]]:
    sounding: Chord | None = None
    for index in order:
        bar = bars[index]
        starts = [chord.start for chord in bar.chords]
        if sounding is not None and (not starts or starts[0] > 0):
            yield sounding, (starts[0] if starts else bar.length)
        for chord, end in zip(bar.chords, (*starts, bar.length)[1:], strict=True):
            word = read_mark(chord.text)
            sounding = word.chord if isinstance(word, ChordWord) else None
            if sounding is not None and end > chord.start:
                yield sounding, end - chord.start


def _settled(
    stated: tuple[int, str] | None, chords: Sequence[tuple[Chord, Fraction]], label: str
) -> tuple[Key, Remark | None]:
    """Return a key from its signature and mode and the chords in it."""
    guess = key_of_chords(chords)
    if stated is None:
        found = guess or Key(NoteName("C"))
        return found, Remark("assumed", 0, f"the key is {found.words}: the score has none, and so the chords have it")
    fifths, mode = stated
    major = Key(NoteName.at_fifths(fifths))
    minor = major.relative
    if mode in _MODES:
        shift, small = _MODES[mode]
        found = Key(NoteName.at_fifths(fifths + shift), small)
        found = found if found.exists else found.enharmonic() or major
        return found, Remark("check", 0, f"bar {label}: the mode is {mode}: the key is written as {found.words}")
    written = minor if mode in _MINOR else major
    other = major if written is minor else minor
    enough = len(chords) >= FEWEST_CHORDS and guess is not None and _at_home(chords[-1][0], guess)
    if guess is not None and enough and not fifths and mode not in _MINOR and guess not in (major, minor):
        said = f"bar {label}: the score has no signature, but its chords are in {guess.words}"
        return guess, Remark("check", 0, said)
    if guess != other or not chords:
        plain = mode in ("major", "ionian", *_MINOR)
        said = f"the key is {written.words}: the score has no mode, and the chords speak for it"
        return written, None if plain or guess is None else Remark("assumed", 0, said)
    if mode in ("major", "ionian", *_MINOR):
        if not _at_home(chords[-1][0], other):
            return written, None
        said = f"bar {label}: the score's key is {written.words}, but its chords are in {other.words}"
        return other, Remark("check", 0, said)
    return other, Remark("assumed", 0, f"the key is {other.words}: the score has no mode, and the chords speak for it")


def _at_home(chord: Chord, key: Key) -> bool:
    """Return whether a chord is the tonic of a key."""
    third = chord.member_on(3)
    minor = third is not None and third.semitones == 3
    return chord.root.pitch_class == key.tonic.pitch_class and minor is key.minor
