"""Find figures of one to four notes that lead from one chord to the next; rank them, and choose their octave.

Takes the two chords with their hands; gives figures, best first. Names and the ways a figure's notes are reached and
left are those of theory texts (Open Music Theory, "Embellishing tones"); the enclosure is the double neighbour without
its opening note. How they rank is common practice, no source.
"""

import itertools
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from operator import attrgetter, itemgetter
from typing import Literal, NamedTuple

from arranger.harmony.taste import Taste
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import LETTERS, NoteName, Pitch

Name = Literal["resolution", "enclosure", "passing", "neighbour", "anticipation", "arpeggio"]
STEP = 2  # semitones: a step is a half or a whole tone; an augmented second is none

# Points, fewer is better. A resolution is owed; passing notes and enclosures lead most clearly; a neighbour or an
# anticipation only decorates; a broken chord is the least of a line.
BASE: dict[Name, int] = {
    "resolution": 0,
    "passing": 8,
    "enclosure": 10,
    "neighbour": 12,
    "anticipation": 12,
    "arpeggio": 18,
}

REVERSED = 5  # an enclosure from below: the usual one takes the upper neighbour first
CHORD_TONE = -2  # each note that is in the sounding chord: the line stays clean under a pedal
OWN_VOICE = -6  # the line starts from, or comes back to, the very note that moves to the target
STILL_TARGET = 6  # the target is already held: nothing to lead to


class ChordChange(NamedTuple):
    """A change of chord, with all that decides which figures can lead over it.

    Attributes:
        key: the key in force.
        before, after: the chords.
        held: the right hand when the next chord comes (spelled, rising), as it sounds then.
        coming: the right hand of the next chord.
        owed: the third that an unresolved suspension in `held` stands for; None without one.
    """

    key: Key
    before: Chord
    after: Chord
    held: tuple[Pitch, ...]
    coming: tuple[Pitch, ...]
    owed: NoteName | None = None


class Figure(NamedTuple):
    """Notes that lead to a target: pitches near it, without their final octave. Fewer points rank higher.

    A figure of three or four notes is a lead-in and the two-note figure that it is named after.
    """

    name: Name
    notes: tuple[Pitch, ...]
    target: Pitch
    points: int


def line_scale(change: ChordChange) -> dict[str, NoteName]:
    """Return the note on each letter: the key's, but the altered form where either chord alters a degree.

    Fm to C in C uses Ab; D to G in C uses F#. Where both alter it, the sounding chord's form holds.
    """
    scale = {name.letter: name for name in change.key.scale}
    for chord in (change.after, change.before):
        for name in chord.names:
            scale[name.letter] = name
    return scale


@lru_cache(maxsize=256)  # those of a song or two: other songs seldom have them, and each is 2 KiB
def ranked(change: ChordChange, count: int = 2) -> tuple[Figure, ...]:
    """Rank the figures of `count` notes (1 to 4) that lead over a change, best first.

    Each row of notes stands once, as the best it can be.
    """
    scale = line_scale(change)
    best: dict[tuple[NoteName, ...], tuple[tuple[int, int, list[int]], Figure]] = {}  # with their order
    for target in dict.fromkeys((change.coming[0], change.coming[-1])):
        for figure in _of_count(change, target, scale, count):
            names, order = tuple([note.name for note in figure.notes]), _order(figure)
            if names not in best or order < best[names][0]:
                best[names] = order, figure
    return tuple([figure for _, figure in sorted(best.values(), key=itemgetter(0))])


def _of_count(change: ChordChange, target: Pitch, scale: dict[str, NoteName], count: int) -> Iterator[Figure]:
    if count == 1:
        yield from _single(change, target, scale)
        return
    for figure in _figures(change, target, scale):
        if count == 2:
            yield figure
        else:
            yield from _led_in(change, figure, scale, count - 2)


def _single(change: ChordChange, target: Pitch, scale: dict[str, NoteName]) -> Iterator[Figure]:
    """Return single notes: passing (from a note of the hand), the target itself, or a note of the chord beside it."""
    sounding = {n.pitch_class for n in change.before.names}
    hand = {p.name.pitch_class for p in change.held}
    still = STILL_TARGET if target in change.held else 0
    for way in (1, -1):
        one, two = _step(target, way, scale), _step(target, 2 * way, scale)
        if one and two and two.name.pitch_class in hand:
            yield Figure("passing", (one,), target, BASE["passing"] + still)
        if one and one.name.pitch_class in sounding:
            yield Figure("arpeggio", (one,), target, BASE["arpeggio"] + still + CHORD_TONE)
        if one and one.name.pitch_class in hand and _fits_now(target, scale):
            yield Figure("anticipation", (target,), target, BASE["anticipation"] + still)


def _fits_now(target: Pitch, scale: dict[str, NoteName]) -> bool:
    """Return whether a target may sound ahead of its chord: not an F over D7, whose third is F#."""
    return scale[target.name.letter] == target.name


def _led_in(change: ChordChange, figure: Figure, scale: dict[str, NoteName], more: int) -> Iterator[Figure]:
    """Return a figure with one or two notes that lead in to it: steps before passing notes, else notes of the chord."""
    first = figure.notes[0]
    if figure.name == "passing":
        way = 1 if first.midi > figure.notes[1].midi else -1
        steps = [_step(first, way * n, scale) for n in range(more, 0, -1)]
        whole = [s for s in steps if s is not None]
        sounding = {n.pitch_class for n in change.before.names}
        if len(whole) == more and whole[0].name.pitch_class in sounding:
            yield Figure(figure.name, (*whole, *figure.notes), figure.target, figure.points)
        return
    tones = [_near(n, first) for n in change.before.names]
    if figure.name == "neighbour":
        tones = [figure.notes[1]]  # the note, its neighbour, and back
    elif first.name not in change.before.names and figure.name != "enclosure":
        tones = [t for t in tones if 0 < abs(t.midi - first.midi) <= STEP]  # a note outside the chord comes by step
    for tone in tones:
        if tone.name == first.name:
            continue
        if more == 1:
            yield Figure(figure.name, (tone, *figure.notes), figure.target, figure.points + _leap(tone, first))
            continue
        for opening in (_near(n, tone) for n in change.before.names if n != tone.name):
            points = figure.points + _leap(tone, first) + _leap(opening, tone)
            if opening.name != first.name:
                yield Figure(figure.name, (opening, tone, *figure.notes), figure.target, points)


def _leap(one: Pitch, two: Pitch) -> int:
    """Return the points of a lead-in's way: a third is free, wider ways cost a point each two semitones."""
    return max(0, abs(two.midi - one.midi) - 4) // 2


def _order(figure: Figure) -> tuple[int, int, list[int]]:
    # Equal points: a neighbour rather than a passing note, then the lower notes.
    return figure.points, RANKS[figure.name], [note.midi for note in figure.notes]


RANKS = {
    name: i for i, name in enumerate(("resolution", "enclosure", "neighbour", "anticipation", "passing", "arpeggio"))
}


def _step(pitch: Pitch, steps: int, scale: dict[str, NoteName]) -> Pitch | None:
    """Go up or down by letters; None where one of the steps on the way is wider than a whole tone."""
    return _steps(pitch, steps, scale)[-1]


def _steps(pitch: Pitch, steps: int, scale: dict[str, NoteName]) -> list[Pitch | None]:
    """Return each of so many steps up or down by letters; None from the first on that is wider than a whole tone."""
    place = LETTERS.index(pitch.name.letter) + 7 * pitch.octave
    found: list[Pitch | None] = []
    now, key = pitch, pitch.midi
    for _ in range(abs(steps)):
        place += 1 if steps > 0 else -1
        octave, letter = divmod(place, 7)
        now, before = Pitch(scale[LETTERS[letter]], octave), key
        key = now.midi
        if not 0 < abs(key - before) <= STEP:
            break
        found.append(now)
    return found + [None] * (abs(steps) - len(found))


def _figures(change: ChordChange, target: Pitch, scale: dict[str, NoteName]) -> Iterator[Figure]:
    sounding = {n.pitch_class for n in change.before.names} | {p.name.pitch_class for p in change.held}
    own, still = _own_voice(change, target), target.midi in [p.midi for p in change.held]
    ways = _steps(target, 3, scale), _steps(target, -3, scale)
    above, below = ways[0][0], ways[1][0]

    def make(name: Name, one: Pitch, two: Pitch, extra: int = 0) -> Figure:
        points = BASE[name] + extra
        points += CHORD_TONE * ((one.name.pitch_class in sounding) + (two.name.pitch_class in sounding))
        points += STILL_TARGET if still else OWN_VOICE if own in (one.name, two.name) else 0
        return Figure(name, (one, two), target, points)

    if above and below:
        yield make("enclosure", above, below)
        yield make("enclosure", below, above, REVERSED)
    for one, two, three in ways:
        if one and two:
            reached = two.name.pitch_class in sounding or (three is not None and three.name.pitch_class in sounding)
            if reached and one.name != own:  # a line that comes back to the voice it left is a neighbour
                yield make("passing", two, one)
        if one:
            from_tone = one.name.pitch_class in sounding
            if _fits_now(target, scale) and (from_tone or (two is not None and two.name.pitch_class in sounding)):
                yield make("anticipation", one, target)
            if from_tone:
                turns = (_step(one, 1, scale), _step(one, -1, scale))
                yield from (make("neighbour", t, one) for t in turns if t and t.name != target.name)
    yield from _chordal(change, target, make, (above, below))


def _chordal(
    change: ChordChange, target: Pitch, make: Callable[..., Figure], around: Sequence[Pitch | None]
) -> Iterator[Figure]:
    """Yield broken-chord figures, and the resolution of an open suspension before a note common to both chords."""
    held = {p.name for p in change.coming}
    common = [n for n in change.before.names if n in held]
    if change.owed is not None:
        third = _near(change.owed, target)
        yield from (make("resolution", third, _near(n, third)) for n in common if n != change.owed)
        return
    last = [p for p in around if p is not None and p.name in change.before.names]
    last += [_near(n, target) for n in common]
    for two in last:
        yield from (make("arpeggio", _near(n, two), two) for n in change.before.names if n != two.name)


def _near(name: NoteName, pitch: Pitch) -> Pitch:
    """Return the pitch of a name nearest to another pitch, of two as near the lower."""
    low = pitch.midi - 6
    return Pitch.at(low + (name.pitch_class - low) % 12, name)


def _own_voice(change: ChordChange, target: Pitch) -> NoteName | None:
    """Return the note of the hand that moves to the target; None where the target is held or voices do not match."""
    if target in change.held or len(change.held) != len(change.coming):
        return None
    return change.held[change.coming.index(target)].name


OCTAVE = 12


class Fill(NamedTuple):
    """A figure in its octave: lower keys, how far the hand travels (half semitones), and whether it is doubled."""

    figure: Figure
    notes: tuple[Pitch, ...]
    travel: int
    doubled: bool


def placed(figure: Figure, change: ChordChange, left: Sequence[Pitch], taste: Taste) -> Fill | None:
    """Put a figure into the octave with the least travel of the hand; None where no octave fits.

    The lower note lies clear of the left hand, both inside the window; single notes in a hand that reaches no octave.
    """
    doubled = taste.span >= OCTAVE
    width = OCTAVE if doubled else 0
    floor = max(taste.low, max((p.midi for p in left), default=0) + taste.clear_of_left)
    written = [p.midi for p in figure.notes]
    start, end = twice_middle(change.held), twice_middle(change.coming)
    best: tuple[int, list[int]] | None = None  # the travel, and the keys
    for shift in (-2 * OCTAVE, -OCTAVE, 0, OCTAVE):
        keys = [key + shift for key in written]
        if min(keys) < floor or max(keys) + width > taste.high:
            continue
        middles = [start, *(2 * key + width for key in keys), end]
        travel = sum(abs(b - a) for a, b in itertools.pairwise(middles))
        if best is None or travel < best[0]:
            best = travel, keys
    if best is None:
        return None
    # Named with one accidental at most, as a key to press: A for B double flat.
    notes = tuple(Pitch.at(key, p.name.simplest()) for key, p in zip(best[1], figure.notes, strict=True))
    return Fill(figure, notes, best[0], doubled)


def twice_middle(hand: Sequence[Pitch]) -> int:
    """Return twice the middle of a hand, a whole number."""
    return hand[0].midi + hand[-1].midi


def ranked_fills(
    change: ChordChange, left: tuple[Pitch, ...], taste: Taste, count: int = 2, *, stepwise: bool = False
) -> Iterator[Fill]:
    """Yield the fills of `count` notes for one change, best first: by the figure's points, then by the hand's travel.

    With `stepwise`, as in a ballad, lines by step and resolutions come before enclosures and other leaps. Figures are
    placed as they are asked for: mostly the first is taken.
    """

    def order(figure: Figure) -> tuple[bool, int]:
        return stepwise and not _by_step(figure), figure.points

    for _, alike in itertools.groupby(sorted(ranked(change, count), key=order), key=order):
        fills = [fill for figure in alike if (fill := placed(figure, change, left, taste)) is not None]
        yield from sorted(fills, key=attrgetter("travel"))


def _by_step(figure: Figure) -> bool:
    """Return whether a figure goes by step to its target; a resolution that is owed counts as one."""
    notes = (*figure.notes, figure.target)
    return figure.name == "resolution" or all(abs(b.midi - a.midi) <= STEP for a, b in itertools.pairwise(notes))
