"""Find the most frequent loop of chords in some songs, and the least way through it from each inversion."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.fingers import fingerings
from arranger.harmony.taste import Taste
from arranger.harmony.voicings import Voicing, hand_movement
from arranger.song.model import Facts
from arranger.studies.model import Study, StudyHand, StudyRow, Words
from arranger.studies.study_hands import (
    ArrangedSong,
    bar_length,
    bass_key,
    close_hands,
    fingers_along,
    inversions_of,
    least_path,
    spelled,
    tempo_of,
)
from arranger.theory.chord import Chord

SIZES = ((3, 4, 5, 6), (2,))  # chords in a loop; going to and fro between two only where there is no other
LOOP_WEIGHT = Fraction(3)  # it has a row for each inversion

Token = tuple[str, int, int]  # quality, bass above the root, way to the next root


class LoopInKey(NamedTuple):
    """A loop where it is heard at one pitch: its chords, the key and other facts there, how many changes are of it."""

    chords: tuple[Chord, ...]
    facts: Facts
    times: int


def tokens(chords: Sequence[Chord]) -> tuple[Token, ...]:
    """Return what is the same of a closed loop of chords in all keys, from its first chord on."""
    closed = (*chords, chords[0])
    return tuple(
        (
            one.suffix,
            (one.bass_name.pitch_class - one.root.pitch_class) % 12,
            (two.root.pitch_class - one.root.pitch_class) % 12,
        )
        for one, two in pairwise(closed)
    )


def canonical(chords: Sequence[Chord]) -> tuple[Token, ...]:
    """Return what is the same of a loop in all keys and from wherever it begins."""
    own = tokens(chords)
    return min(own[turn:] + own[:turn] for turn in range(len(own)))


def most_frequent_loop(songs: Sequence[ArrangedSong]) -> tuple[LoopInKey, ...]:
    """Return the loop that most changes of the songs go round, in each key where it is heard; empty without one.

    A loop comes back to the chord that it began with over others that are all different. It is as frequent as there
    are places where one full round of it begins, on whichever of its chords. It is shown from the chord on which it is
    heard first; the key that has most of it comes first.
    """
    for sizes in SIZES:
        heard = [
            (canonical(chords), chords, facts)
            for song in songs
            for size in sizes
            for chords, facts in _rounds(song, size)
        ]
        if heard:
            break
    else:
        return ()
    counted = Counter(kind for kind, _, _ in heard)
    loop = max(counted, key=lambda kind: (counted[kind], len(kind)))  # of equals the longer, then that heard first
    rounds = [(chords, facts) for kind, chords, facts in heard if kind == loop]
    shown = tokens(rounds[0][0])
    keys: dict[int, LoopInKey] = {}
    for chords, facts in rounds:
        turned = next(
            chords[turn:] + chords[:turn]
            for turn in range(len(chords))
            if tokens(chords[turn:] + chords[:turn]) == shown
        )
        root = turned[0].root.pitch_class
        keys[root] = LoopInKey(*keys.get(root, (turned, facts))[:2], keys[root].times + 1 if root in keys else 1)
    return tuple(sorted(keys.values(), key=lambda one: -one.times))


def _rounds(song: ArrangedSong, size: int) -> Iterator[tuple[tuple[Chord, ...], Facts]]:
    """Yield each round of so many different chords that comes back to its first, with the facts where it begins."""
    for passage in _passages(song):
        for start in range(len(passage) - size):
            chords = tuple(chord for chord, _ in passage[start : start + size])
            if passage[start + size][0] == chords[0] and len(set(chords)) == size:
                yield chords, passage[start][1]


def _passages(song: ArrangedSong) -> Iterator[list[tuple[Chord, Facts]]]:
    """Yield the chords as heard between silences, each with the facts of its section.

    A chord that goes on counts once, and one that the song suspends first counts as the chord that it comes to.
    """
    passage: list[tuple[Chord, Facts]] = []
    for heard in song.arrangement.heard:
        chord = song.arrangement.chord(heard.chord).chord
        if heard.cut:
            yield passage
            passage = []
        if chord is None or (passage and passage[-1][0] == chord):
            continue
        if passage and _suspends(passage[-1][0], chord):
            passage.pop()
        passage.append((chord, song.facts(heard.chord[0])))
    yield passage


def _suspends(one: Chord, two: Chord) -> bool:
    """Return whether a chord is the next one with its third suspended: Asus4 before A."""
    return one.root == two.root and one.member_on(3) is None and two.member_on(3) is not None


def loop_study(songs: Sequence[ArrangedSong], taste: Taste) -> Study | None:
    """Return the study of the most frequent loop; None where there is none, or no hand within the limits for it.

    For each key a row from each inversion, each the least way round; after the first row one in root position.
    """
    loop = most_frequent_loop(songs)
    if not loop:
        return None
    rows: list[StudyRow] = []
    for one in loop:
        found = _rows(one, taste)
        if found and not rows:
            found[1:1] = _root_row(one, taste)
        rows += found
    if not rows:
        return None
    first = loop[0]
    chords: Words = ()
    for chord in first.chords:
        chords += (" ", chord)
    heading: Words = ("The loop", *chords, " by inversions")
    keys = tuple(dict.fromkeys(one.facts.key for one in loop))
    for number, key in enumerate(keys if len(keys) > 1 else ()):
        heading += (", " if number else " in ", key)
    return Study(
        kind="loop",
        heading=heading,
        rows=tuple(rows),
        key=first.facts.key,
        meter=first.facts.meter,
        tempo=tempo_of(first.facts),
        weight=LOOP_WEIGHT,
    )


def _rows(loop: LoopInKey, taste: Taste) -> list[StudyRow]:
    choices = [close_hands(chord, taste) for chord in loop.chords]
    if not all(choices):
        return []
    starts = inversions_of(loop.chords[0], choices[0], taste)
    return [_row(loop, choices, some, f"from {name}", taste) for name, some in starts.items()]


def _root_row(loop: LoopInKey, taste: Taste) -> list[StudyRow]:
    """Return the row with every chord in root position; none where the window has no room for one of them."""
    choices = [close_hands(chord, taste, root_lowest=True) for chord in loop.chords]
    if not all(choices):
        return []
    starts = next(iter(inversions_of(loop.chords[0], choices[0], taste).values()))
    row = _row(loop, choices, starts, "all in root position, to hear the difference", taste)
    hands = (replace(hand, fingers=fingerings(tuple(p.midi for p in hand.right))[0]) for hand in row.hands)
    return [replace(row, hands=tuple(hands))]  # nothing stays: each hand is fingered by itself


def _row(
    loop: LoopInKey, choices: Sequence[Sequence[Voicing]], starts: Sequence[Voicing], way: str, taste: Taste
) -> StudyRow:
    """Return the least way round from one of some starts, the first of equals."""
    basses = [bass_key(chord, taste) for chord in loop.chords]
    paths = (least_path(choices[1:], start, [bass.midi for bass in basses], taste, closed=True) for start in starts)
    closed = min(((*path, path[0]) for path in paths), key=lambda path: sum(map(hand_movement, path, path[1:])))
    fingers = fingers_along(closed)
    length = bar_length(loop.facts)
    hands = tuple(
        StudyHand(chord, spelled(hand, chord.names), own, (bass,), length=length)
        for chord, hand, own, bass in zip(
            (*loop.chords, loop.chords[0]), closed, fingers, (*basses, basses[0]), strict=True
        )
    )
    movement = tuple(hand_movement(one, two) for one, two in pairwise(closed))
    return StudyRow((loop.facts.key, f", {way}"), hands, movement)
