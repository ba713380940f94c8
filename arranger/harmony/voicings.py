"""List the voicings of a chord that a hand can take, and measure what a voicing and a change of voicing cost.

Takes a chord and the limits of a hand; gives voicings as rising tuples of MIDI numbers, in rising order, and costs in
thousandths of a semitone of hand movement. Rules without a source are common practice, no source.
"""

from collections.abc import Iterable
from functools import lru_cache
from itertools import combinations, pairwise
from typing import NamedTuple

from arranger.harmony.taste import Taste
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval

Voicing = tuple[int, ...]
Members = tuple[Interval, ...]
PERFECT_FIFTH = Interval(5, 7)
MAJOR_SEVENTH = Interval(7, 11)
ROOT = Interval(1, 0)
OCTAVE = 12


def root_in_left(chord: Chord) -> bool:
    """Return whether the left hand (or a bass player) plays the root."""
    return chord.bass_name.pitch_class == chord.root.pitch_class


def third_in_bass(chord: Chord) -> bool:
    """Return whether the bass is the chord's third."""
    third = chord.member_on(3)
    bass = (chord.bass_name.pitch_class - chord.root.pitch_class) % OCTAVE
    return third is not None and third.pitch_class == bass


def is_dominant_eleventh(chord: Chord) -> bool:
    """Return whether the third gives way to the eleventh: a major third, minor seventh and plain eleventh."""
    members = chord.members
    return chord.quality.name == "11" and Interval.parse("3") in members and Interval.parse("11") in members


def importance(chord: Chord) -> tuple[Members, Members]:
    """Rank a chord's members for a hand that cannot hold them all.

    Returns:
        What is kept, most important first (third or suspension; seventh or sixth; the highest extension; alterations;
        other extensions), and what fills the hand up after that: the plain fifth and the root.
    """
    members = chord.members
    dominant_eleventh = is_dominant_eleventh(chord)
    first = chord.member_on(3) or chord.member_on(4) or chord.member_on(2)
    if dominant_eleventh:
        first = chord.member_on(11)
    kept = [first] if first else []
    kept += [i for i in (chord.member_on(7), chord.member_on(6)) if i]
    extensions = [i for i in members if i.degree in (9, 11, 13) and i not in kept]
    if chord.member_on(13) is not None and chord.quality.name.endswith("13"):
        extensions = [i for i in extensions if i != Interval.parse("11")]  # a 13 drops its plain 11
    kept += extensions[-1:]
    altered = [i for i in members if i.degree in (5, 9, 11, 13) and i.alteration]
    kept += [i for i in altered if i not in kept]
    kept += [i for i in reversed(extensions) if i not in kept]
    # A second third, second or fourth of an `add` chord counts as an extension in the lower octave.
    kept += [
        i for i in members if i.degree in (2, 3, 4) and i not in kept and not (dominant_eleventh and i.degree == 3)
    ]
    rest = [i for i in (PERFECT_FIFTH, ROOT) if i in members and i not in kept]
    if not root_in_left(chord):
        rest.sort(key=lambda i: i != ROOT)  # a root that nobody else plays stays
    return tuple(kept), tuple(rest)


@lru_cache(maxsize=4096)
def member_sets(chord: Chord, notes: int) -> tuple[Members, ...]:
    """Return the sets of members that the right hand may hold, for a hand of `notes` fingers (3 or 4)."""
    members = chord.members
    if len(members) <= 2:
        return (members,)
    kept, rest = importance(chord)
    if len(members) <= 3:
        whole: tuple[Members, ...] = (members,)
    else:
        whole = _filled(chord, kept, rest, notes)
    if not third_in_bass(chord):
        return whole
    third = chord.member_on(3)
    without = tuple(tuple(i for i in one if i != third) for one in whole)
    if len(members) > 3:  # the place that the third leaves is filled by what had none
        kept_without = tuple(i for i in kept if i != third)
        without = _filled(chord, kept_without, rest, notes)
    return tuple(dict.fromkeys(one for one in whole + without if len(one) >= 2))


@lru_cache(maxsize=1024)
def frames(chord: Chord, low: int, high: int) -> tuple[Voicing, ...]:
    """Return the triads of a chord in the frame of an octave: close, with the lowest note doubled on top.

    Between two keys (MIDI numbers). Over its third in the bass the third is not doubled (common practice, no source).
    Empty for a chord that has other than three notes.
    """
    if len(chord.members) != 3 or len(chord.pitch_classes) != 3:
        return ()
    third = chord.member_on(3)
    avoided = third.above(chord.root).pitch_class if third is not None and third_in_bass(chord) else None
    close = close_voicings(tuple(sorted(chord.pitch_classes)), low, high, OCTAVE - 1)
    return tuple((*v, v[0] + OCTAVE) for v in close if v[0] % OCTAVE != avoided and v[0] + OCTAVE <= high)


@lru_cache(maxsize=1024)
def bare_hands(chord: Chord, low: int, high: int, span: int, *, without_third: bool) -> tuple[Voicing, ...]:
    """Return the hands of one key or two of a chord between two keys (MIDI numbers), no wider than `span` semitones.

    Two that tell the chord: its third, or what stands for it, with any other of its notes; `without_third` any two, for
    somebody else sounds the third, or one alone. A semitone is not among them.
    """
    first = chord.member_on(3) or chord.member_on(4) or chord.member_on(2)
    telling = None if first is None else (chord.root.pitch_class + first.semitones) % OCTAVE
    classes = sorted(chord.pitch_classes)
    found: list[Voicing] = []
    for one in range(low, high + 1):
        if one % OCTAVE not in classes:
            continue
        if without_third or len(classes) == 1:
            found.append((one,))
        for two in range(one + 2, min(high, one + min(span, OCTAVE - 1)) + 1):
            told = without_third or telling is None or telling in (one % OCTAVE, two % OCTAVE)
            if two % OCTAVE in classes and told:
                found.append((one, two))
    return tuple(found)


def doubled(pitch_classes: tuple[int, ...], low: int, high: int) -> tuple[Voicing, ...]:
    """Return the hands of three keys that hold two notes (0 to 11), one of them twice, an octave apart."""
    one, two = pitch_classes
    found = []
    for lowest, middle in ((one, two), (two, one)):
        for key in range(low + (lowest - low) % OCTAVE, high - OCTAVE + 1, OCTAVE):
            found.append((key, key + (middle - lowest) % OCTAVE, key + OCTAVE))
    return tuple(sorted(found))


@lru_cache(maxsize=1024)
def triad_sets(chord: Chord) -> tuple[Members, ...]:
    """Return the members of a chord that make one triad, for players who know triads by name.

    The triad of third, fifth and seventh (or root, third and sixth) where there is one, for the left hand plays the
    root; else the chord's own. Empty where three of its members make no triad (sus, 5).
    """
    found = [
        some
        for some in combinations(chord.members, 3)
        if any(_steps(turn) in TRIAD_STEPS for turn in _turns(some))
        and (ROOT in some or root_in_left(chord))
        and (chord.member_on(3) is None or chord.member_on(3) in some)
    ]
    telling = [i for i in (chord.member_on(7), chord.member_on(6)) if i is not None]
    return tuple(some for some in found if any(i in some for i in telling))[:1] or tuple(found[:1])


TRIAD_STEPS = {(4, 3): "", (3, 4): "m", (3, 3): "dim", (4, 4): "aug"}  # semitones between neighbours, root position


def _turns(some: Members) -> list[tuple[int, ...]]:
    classes = sorted({i.pitch_class for i in some})
    return [tuple(classes[k:] + [c + OCTAVE for c in classes[:k]]) for k in range(len(classes))]


def _steps(turn: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(b - a for a, b in pairwise(turn))


def _filled(chord: Chord, kept: Members, rest: Members, notes: int) -> tuple[Members, ...]:
    need_root = not root_in_left(chord) and ROOT in chord.members
    last = max((n for n, i in enumerate(kept, start=1) if i.degree not in (9, 11, 13) or i.alteration), default=0)
    notes = max(notes, min(4, last + need_root))  # an alteration without room takes a fourth finger
    room = notes - len(kept)
    if need_root:
        fixed = (*kept[: notes - 1], ROOT)
        fill = [i for i in rest if i != ROOT]
        return (fixed,) if len(fixed) >= notes or not fill else tuple((*fixed, i) for i in fill)
    if room <= 0:
        return (kept[:notes],)
    if room >= len(rest):
        return ((*kept, *rest),)
    root_first = MAJOR_SEVENTH in chord.members or chord.member_on(9) is not None
    if root_first and PERFECT_FIFTH in rest:
        return ((*kept, PERFECT_FIFTH),)  # the root goes first in a maj7 and in any ninth
    return tuple((*kept, i) for i in rest)  # one place, fifth or root: each is a candidate


@lru_cache(maxsize=16384)
def close_voicings(pitch_classes: tuple[int, ...], low: int, high: int, span: int) -> tuple[Voicing, ...]:
    """Return all close positions of distinct pitch classes (0 to 11) between two keys, no wider than `span` semitones.

    A minor second between the two lowest notes is left out.
    """
    ordered = sorted(pitch_classes)
    found: list[Voicing] = []
    for turn in range(len(ordered)):
        turned = ordered[turn:] + [p + OCTAVE for p in ordered[:turn]]
        if turned[-1] - turned[0] > span or (len(turned) > 2 and turned[1] - turned[0] == 1):
            continue
        found += _in_each_octave(tuple(turned), low, high)
    return tuple(sorted(found))


def _in_each_octave(shape: Voicing, low: int, high: int) -> list[Voicing]:
    first = low + (shape[0] - low) % OCTAVE - shape[0]
    return [tuple(p + shift for p in shape) for shift in range(first, high - shape[-1] + 1, OCTAVE)]


def voicings(
    chord: Chord, taste: Taste, low: int, high: int, *, root_lowest: bool = False, notes: int | None = None
) -> tuple[Voicing, ...]:
    """Return a chord's candidates between two keys (MIDI numbers), of so many `notes` or as many as the player likes.

    With `root_lowest` only those whose lowest note is the root, with the root in the hand whatever the left plays.
    """
    root, notes = chord.root.pitch_class, taste.notes if notes is None else notes
    if chord.pitch_classes == {root, (root + 7) % OCTAVE} and chord.member_on(5) is not None:
        found = _fifths(root, taste.span, low, high)
    else:
        sets = (triad_sets(chord) if taste.easy else ()) or member_sets(chord, notes)
        if root_lowest:
            sets = tuple(one if ROOT in one else (ROOT, *one[: notes - 1]) for one in sets)
        each = [tuple((root + i.semitones) % OCTAVE for i in one) for one in sets]
        found = tuple(v for one in each for v in close_voicings(tuple(sorted(set(one))), low, high, taste.span))
    if root_lowest:
        found = tuple(v for v in found if v[0] % OCTAVE == root)
    return tuple(sorted(set(found)))


def _fifths(root: int, span: int, low: int, high: int) -> tuple[Voicing, ...]:
    """Return root, fifth and octave, or the bare fifth in a hand that reaches no octave."""
    shape = (root, root + 7, root + OCTAVE) if span >= OCTAVE else (root, root + 7)
    return tuple(_in_each_octave(shape, low, high))


def pinned(pins: Iterable[tuple[int, int | None]], low: int, high: int) -> tuple[Voicing, ...]:
    """Return a pinned hand's voicings; a note is its pitch class and its MIDI number or None, lowest first.

    Notes without an octave follow the nearest one that has one, each the next above (or, before it, the next below);
    such a hand has one place, wherever that is. Where none has an octave, each place between the two keys is given.
    """
    notes = tuple(pins)
    anchors = [(i, midi) for i, (_, midi) in enumerate(notes) if midi is not None]
    starts = anchors[:1] or [(0, m) for m in range(low, high + 1) if notes and m % OCTAVE == notes[0][0]]
    found = []
    for place, start in starts:
        hand = [start]
        for pitch_class, _ in reversed(notes[:place]):
            hand.insert(0, hand[0] - 1 - (hand[0] - 1 - pitch_class) % OCTAVE)
        for pitch_class, midi in notes[place + 1 :]:
            hand.append(midi if midi is not None else hand[-1] + 1 + (pitch_class - hand[-1] - 1) % OCTAVE)
        if anchors or hand[-1] <= high:
            found.append(tuple(hand))
    return tuple(found)


class Candidate(NamedTuple):
    """What the hand does on a chord: its notes on the beat, and what they have become when the next chord comes."""

    first: Voicing
    last: Voicing

    @property
    def within(self) -> int:
        """Semitones moved inside the chord's own time (a suspension that resolves)."""
        return hand_movement(self.first, self.last) if self.first != self.last else 0


def moved(voicing: Voicing, shift: int) -> Voicing:
    """Move a voicing by semitones."""
    return tuple(n + shift for n in voicing) if shift else voicing


# Lowest acceptable place of an interval (semitones -> MIDI number of its lower note), where all published tables
# that were compared accept it: m3 from C#3, M3 from B2, P4 from Bb2, P5 from C#2, m6 from C#3, M6 from F2; for
# seconds the one table that has them (m2 E3, M2 Eb3), for sevenths and the tritone the stricter one.
LOW_LIMITS = {1: 52, 2: 51, 3: 49, 4: 47, 5: 46, 6: 46, 7: 37, 8: 49, 9: 41, 10: 41, 11: 41}
BASS_LEAP = 5  # semitones: a hand may follow a bass that leaps a fourth or more (Open Music Theory, keyboard style)


@lru_cache(maxsize=1 << 13)
def hand_movement(one: Voicing, two: Voicing) -> int:
    """Return the hand movement in semitones between two rising voicings.

    Of equal size: the sum over the notes paired in order of pitch, which is the best pairing there is. Of unequal size:
    the best pairing of the smaller with as many of the larger, and 1 for each finger added or lifted.

    >>> hand_movement((60, 64, 67), (60, 64, 67, 69)), hand_movement((59, 62, 65, 67), (60, 64, 67))
    (1, 3)
    """
    if len(one) == len(two):
        return sum(abs(a - b) for a, b in zip(one, two, strict=True))
    small, large = (one, two) if len(one) < len(two) else (two, one)
    if len(small) == 3 and len(large) == 4:  # written out: hands of three and of four are in many songs
        a, b, c = small
        d, e, f, g = large
        low, high = abs(a - d), abs(c - g)
        return 1 + min(low + abs(b - e) + min(abs(c - f), high), min(low, abs(a - e)) + abs(b - f) + high)
    chosen = combinations(large, len(small))
    return min(sum(abs(a - b) for a, b in zip(small, c, strict=True)) for c in chosen) + len(large) - len(small)


def new_keys(one: Voicing, two: Voicing) -> int:
    """Count the keys of the second voicing that were not down in the first."""
    return sum([key not in one for key in two])


def kept_keys(one: Voicing, two: Voicing) -> int:
    """Count the keys that stay down."""
    return sum([key in one for key in two])


def change_cost(one: Voicing, two: Voicing, bass: int, taste: Taste) -> int:
    """Return the cost of going from one voicing to another while the bass moves by `bass` semitones."""
    cost = taste.movement * hand_movement(one, two) + taste.moved * new_keys(one, two)
    leap = abs(two[-1] - one[-1]) - taste.top_leap_over
    if leap > 0:
        cost += min(taste.small_most, taste.top_leap * leap)
    if bass and abs(bass) < BASS_LEAP and (two[0] + two[-1] - one[0] - one[-1]) * bass > 0:
        cost += taste.parallel
    return cost


def bass_way(bass: int) -> int:
    """Return what a change's cost depends on in the bass's move: its direction, 0 where it leaps or stays."""
    return (bass > 0) - (bass < 0) if abs(bass) < BASS_LEAP else 0


@lru_cache(maxsize=1024)  # those of a few songs; each is some KiB
def change_costs(
    ones: tuple[Voicing, ...], twos: tuple[Voicing, ...], way: int, taste: Taste
) -> tuple[tuple[int, ...], ...]:
    """Return `change_cost` from each of some voicings to each of others, as a table; `way` is from `bass_way`."""
    sizes = {len(one) for one in ones}, {len(two) for two in twos}
    if not (sizes[0] <= {3, 4} and sizes[0] == sizes[1] and len(sizes[0]) == 1):
        return tuple([tuple([change_cost(one, two, way, taste) for two in twos]) for one in ones])
    costs_from = _from_three if sizes[0] == {3} else _from_four
    leaps = _leaps(taste)
    rows = [costs_from(one, twos, taste, leaps) for one in ones]
    if way:
        outer = [two[0] + two[-1] for two in twos]
        for row, one in zip(rows, ones, strict=True):
            here = one[0] + one[-1]
            row[:] = [
                cost + taste.parallel if (there - here) * way > 0 else cost
                for cost, there in zip(row, outer, strict=True)
            ]
    return tuple(map(tuple, rows))


@lru_cache(maxsize=16)  # players
def _leaps(taste: Taste) -> tuple[int, ...]:
    """Return what the top note pays for each number of semitones."""
    return tuple([min(taste.small_most, taste.top_leap * max(0, n - taste.top_leap_over)) for n in range(128)])


def _from_three(one: Voicing, twos: Iterable[Voicing], taste: Taste, leaps: tuple[int, ...]) -> list[int]:
    """Return the cost from a hand of three notes to others of three, whatever the bass does: written out for speed."""
    a, b, c = one
    movement, moved = taste.movement, taste.moved
    return [
        movement * (abs(a - d) + abs(b - e) + abs(c - f))
        + moved * ((d not in one) + (e not in one) + (f not in one))
        + leaps[abs(c - f)]
        for d, e, f in twos
    ]


def _from_four(one: Voicing, twos: Iterable[Voicing], taste: Taste, leaps: tuple[int, ...]) -> list[int]:
    """Return the same for hands of four notes."""
    a, b, c, d = one
    movement, moved = taste.movement, taste.moved
    return [
        movement * (abs(a - e) + abs(b - f) + abs(c - g) + abs(d - h))
        + moved * ((e not in one) + (f not in one) + (g not in one) + (h not in one))
        + leaps[abs(d - h)]
        for e, f, g, h in twos
    ]


@lru_cache(maxsize=1024)
def hand_movements(ones: tuple[Voicing, ...], twos: tuple[Voicing, ...]) -> tuple[tuple[int, ...], ...]:
    """Return `hand_movement` from each of some voicings to each of others, as a table."""
    return tuple(tuple(hand_movement(one, two) for two in twos) for one in ones)


@lru_cache(maxsize=1 << 12)
def sound_cost(voicing: Voicing, left: int, taste: Taste) -> int:
    """Return what a voicing costs by its sound: wide reaches, and intervals too low over the left hand's top note."""
    cost = min(taste.small_most, taste.wide * max(0, voicing[-1] - voicing[0] - taste.wide_over))
    pairs = ((left, voicing[0]), *pairwise(voicing))
    if any(low < LOW_LIMITS.get(high - low, 0) for low, high in pairs):
        cost += taste.muddy
    return cost
