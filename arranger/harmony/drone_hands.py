"""Drones in the right hand: notes that stay on one key each through a section, and the chords to which one gives way.

Takes a timeline; gives, for each chord under a drone, which of its notes stay and why another does not, and the hands
that hold them on each choice of keys. Which keys those are is chosen once for a section, together with the hands: for
the exact search they are one more unknown, which rules out what does not hold them. Common practice, no source.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, product
from typing import NamedTuple

from arranger.harmony import singer
from arranger.harmony.choices import ChoiceProblem
from arranger.harmony.taste import Taste
from arranger.harmony.textures import RIGHT
from arranger.harmony.timeline import Printed, Timeline
from arranger.harmony.uses import Unknown
from arranger.harmony.voicings import OCTAVE, Candidate, Voicing, importance, third_in_bass
from arranger.song.model import Section, Song
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

NOT_HELD = 1 << 40  # rules out a hand that does not hold the drone where it is to be: more than any song can cost
ANY_KEY = 1 << 10  # over every key: no limit
MAJOR_THIRD, FIFTH = 4, 7  # semitones over a root
SEMITONES = (1, OCTAVE - 1)
BESIDE = {1: "root", 3: "third", 5: "fifth"}  # the degrees of a chord beside which a semitone is heard as wrong


class GivenWay(NamedTuple):
    """A drone's note that a chord does not bear: `to` is the chord's note a semitone beside it; `reason` in words."""

    note: NoteName
    to: NoteName
    reason: str


class DroneChord(NamedTuple):
    """What a chord does to a drone.

    Attributes:
        held: the notes that stay, in the order written.
        four: the one of them that stands as the chord's 4 in place of its third; None where none does.
        given: those that give way.
    """

    held: tuple[NoteName, ...]
    four: NoteName | None
    given: tuple[GivenWay, ...]


def under_drone(chord: Chord, notes: Sequence[NoteName], key: Key, third_stands: str = "") -> DroneChord:
    """Return what a chord does to the notes of a drone.

    On V the tonic stays as its 4 in place of the third, unless the third is needed: in the bass, or for the reason in
    `third_stands`. Elsewhere a note gives way to the chord's root, third or fifth a semitone beside it.
    """
    held: list[NoteName] = []
    given: list[GivenWay] = []
    four: NoteName | None = None
    over_third = f"{chord.bass_name} lies in the bass" if third_in_bass(chord) else ""
    for note in notes:
        beside = _beside(chord, note)
        is_four = _is_four_of_dominant(chord, note, key) and [i.degree for i in beside] == [3]
        if is_four and not (third_stands or over_third):
            four = note
        if not beside or four == note:
            held.append(note)
            continue
        to = beside[0]
        reason = (third_stands or over_third) if is_four else ""
        given.append(GivenWay(note, to.above(chord.root), reason or f"the {BESIDE[to.degree]} of {chord}"))
    return DroneChord(tuple(held), four, tuple(given))


def _beside(chord: Chord, note: NoteName) -> list[Interval]:
    """Return the root, third and fifth of a chord that lie a semitone from a note."""
    return [
        member
        for member in chord.members
        if member.degree in BESIDE
        and (note.pitch_class - chord.root.pitch_class - member.semitones) % OCTAVE in SEMITONES
    ]


def _is_four_of_dominant(chord: Chord, note: NoteName, key: Key) -> bool:
    """Return whether a chord is a key's V with a major third, and a note the key's tonic."""
    on_five = (chord.root.pitch_class - key.tonic.pitch_class) % OCTAVE == FIFTH
    third = chord.member_on(3)
    return (
        on_five and note.pitch_class == key.tonic.pitch_class and third is not None and third.semitones == MAJOR_THIRD
    )


class DronePlace(NamedTuple):
    """What a chord's hand must be under one choice of keys: `keys` (MIDI) are down in it, none lies over `top`."""

    keys: tuple[int, ...]
    top: int

    def holds(self, hand: Candidate) -> bool:
        """Return whether a hand holds the drone from its beat to the next chord."""
        return all(
            voicing[-1] <= self.top and all(key in voicing for key in self.keys) for voicing in {hand.first, hand.last}
        )


class DroneGroup(NamedTuple):
    """The chords through which a drone stays on the same keys: a section's, with those of its copies.

    Attributes:
        notes: pitch classes (0 to 11) of its notes, in the order written, at shift 0.
        unknowns: its chords, as unknowns in rising order.
        chords: what each of them does to it.
        registers: the keys (MIDI) on which the notes may stay; none before hands are known.
        places: for each unknown, for each register, what its hand must be.
    """

    notes: tuple[int, ...]
    unknowns: tuple[int, ...]
    chords: tuple[DroneChord, ...]
    registers: tuple[tuple[int, ...], ...] = ()
    places: tuple[tuple[DronePlace, ...], ...] = ()


def drone_of(section: Section, shift: int = 0) -> tuple[int, ...]:
    """Return the pitch classes of a section's drone, `shift` semitones lower; empty where it has none."""
    drone = section.facts.drone
    return () if drone is None else tuple((note.pitch_class - shift) % OCTAVE for note in drone.notes)


def drone_groups(song: Song, timeline: Timeline) -> tuple[DroneGroup, ...]:
    """Return the groups of chords that lie under one drone, in the order in which they are printed."""
    groups: list[tuple[tuple[int, ...], set[int]]] = []
    chords = _chords_under(song, timeline)
    for section, part in zip(song.sections, timeline.printed, strict=True):
        here = {one.unknown for one in part if one.unknown is not None}
        if section.facts.drone is None or not here:
            continue
        notes = drone_of(section, next(one.shift for one in part if one.unknown is not None))
        shared = [group for group in groups if group[1] & here]
        for group in shared:
            here |= group[1]
        groups = [group for group in groups if group not in shared] + [(notes, here)]
    return tuple(
        DroneGroup(notes, tuple(sorted(some)), tuple(chords[u] for u in sorted(some))) for notes, some in groups
    )


def _chords_under(song: Song, timeline: Timeline) -> dict[int, DroneChord]:
    """Return for each unknown under a drone what it does to it: the first place where it stands, at shift 0 if it can.

    Where one of its places needs the third, it has it in all of them.
    """
    first: dict[int, tuple[Printed, Section]] = {}
    third: dict[int, str] = {}
    for section, part in zip(song.sections, timeline.printed, strict=True):
        for index, one in enumerate(part if section.facts.drone else ()):
            if one.unknown is None:
                continue
            if one.unknown not in first or (first[one.unknown][0].shift and not one.shift):
                first[one.unknown] = one, section
            third[one.unknown] = third.get(one.unknown) or third_needed(section, part, index)
    found = {}
    for unknown, (one, section) in first.items():
        drone, written = section.facts.drone, one.written
        assert drone is not None and written is not None
        if written.pins:  # as the writer has it
            given = (GivenWay(note, one.chord.root, "the hand is pinned") for note in drone.notes)
            found[unknown] = DroneChord((), None, tuple(given))
        else:
            found[unknown] = under_drone(one.chord, drone.notes, section.facts.key, third[unknown])
    return found


def third_needed(section: Section, part: Sequence[Printed], index: int) -> str:
    """Return why a printed chord keeps its third over a drone, in words; empty where it need not.

    A half cadence ends a line or the section on it; the tune sounds the third, however short; it is written with `=`.
    """
    one = part[index]
    third = one.chord.member_on(3)
    if third is None or one.written is None:
        return ""
    if one.written.as_written:
        return f"{one.chord} is written to stay as it is"
    if index + 1 == len(part) or part[index + 1].row != one.row:
        return f"the line ends on {one.chord}"
    name = third.above(one.chord.root)
    for stretch in singer.stretches(section, one):
        for note in singer.tune_notes(section, stretch.row, stretch.bar_index) or ():
            sounds = note.start < stretch.end and note.start + note.length > stretch.start
            if sounds and note.pitch is not None and note.pitch.midi % OCTAVE == name.pitch_class:
                return f"the tune sounds {name}"
    return ""


# --- the hands that hold it -----------------------------------------------------------------------------------------


class DroneReach(NamedTuple):
    """What the hand of one chord may be: from the lowest to the highest key (MIDI), and how many keys it has."""

    unknown: Unknown
    low: int
    high: int
    size: int


def drone_size(unknown: Unknown, taste: Taste, *, frame: bool) -> int:
    """Return how many keys the hand of a chord under a drone has: as its texture asks for; `frame`: four are to be had.

    Without a texture as many as the player holds.
    """
    texture = unknown.printed.plan.texture
    members = len(unknown.printed.chord.members)
    if texture is None or not frame:
        least = 3 if texture is None else min(3, RIGHT[texture].most)
        return max(least, min(taste.notes, members)) if least == 3 else least
    return RIGHT[texture].most


def with_hands(
    group: DroneGroup,
    reaches: Mapping[int, DroneReach],
    plain: Mapping[int, Sequence[Candidate]],
    taste: Taste,
) -> tuple[DroneGroup, dict[int, tuple[Candidate, ...]]]:
    """Return a group with the keys on which its drone may stay, and the hands of its chords that hold it there.

    Those keys on which as many notes stay as can be, counted as heard; of these those with the fewest hands that lack
    keys, then those that lie closest together, for they leave the fingers room. A chord that cannot hold any of them
    there has its `plain` hands.
    """
    found: dict[tuple[int, ...], list[tuple[DronePlace, tuple[Voicing, ...]]]] = {}
    rank: dict[tuple[int, ...], tuple[int, int, int]] = {}
    for register in _registers(group.notes, [reaches[u] for u in group.unknowns], taste):
        found[register] = [
            _place(chord, register, reaches[u], taste) for u, chord in zip(group.unknowns, group.chords, strict=True)
        ]
        held = lacking = 0
        for u, (place, voicings) in zip(group.unknowns, found[register], strict=True):
            times = max(1, reaches[u].unknown.times)
            held += times * len(place.keys)
            lacking += times * max(0, reaches[u].size - len(voicings[0])) if voicings else 0
        rank[register] = -held, lacking, max(register) - min(register)
    least = min(rank.values(), default=(0, 0, 0))
    registers = tuple(register for register in found if rank[register] == least and least[0])
    hands = {}
    for number, unknown in enumerate(group.unknowns):
        some = {Candidate(v, v) for register in registers for v in found[register][number][1]}
        if not registers or any(not found[register][number][0].keys for register in registers):
            some.update(plain[unknown])
        hands[unknown] = tuple(sorted(some))
    each = tuple(tuple(found[r][number][0] for r in registers) for number in range(len(group.unknowns)))
    return group._replace(registers=registers, places=each), hands


def _registers(notes: Sequence[int], reaches: Sequence[DroneReach], taste: Taste) -> Iterator[tuple[int, ...]]:
    """Yield the choices of keys for the notes of a drone that a hand can span, in rising order."""
    low, high = min(reach.low for reach in reaches), max(reach.high for reach in reaches)
    choices = [range(low + (note - low) % OCTAVE, high + 1, OCTAVE) for note in notes]
    for register in sorted(product(*choices)):
        if max(register) - min(register) <= min(taste.span, OCTAVE - 1):
            yield register


def _place(
    chord: DroneChord, register: tuple[int, ...], reach: DroneReach, taste: Taste
) -> tuple[DronePlace, tuple[Voicing, ...]]:
    """Return what a chord's hand must be where the drone stays on some keys, and the hands that are so.

    Where no hand holds all the notes that the chord bears, one of them is left out, the later written first.
    """
    held = {note.pitch_class for note in chord.held}
    staying = [key for key in register if key % OCTAVE in held]
    for size in range(len(staying), 0, -1):
        for keys in combinations(staying, size):
            # A note that gives way goes a semitone, maybe up; else nothing lies over the drone.
            top = max(register) if max(register) in keys else max(register) + 1
            as_four = chord.four is not None and chord.four.pitch_class in {key % OCTAVE for key in keys}
            hands = _holding(keys, top, reach, taste, without_third=as_four)
            if hands:
                return DronePlace(tuple(sorted(keys)), top), hands
    return DronePlace((), ANY_KEY), ()


def _holding(
    keys: tuple[int, ...], top: int, reach: DroneReach, taste: Taste, *, without_third: bool
) -> tuple[Voicing, ...]:
    """Return the hands that hold some keys with the chord's other notes under or between them, the third first.

    As many keys as the texture asks for, or three where four are not to be had: fewer would be a hole. Where the chord
    has no more notes, one is doubled at the octave.
    """
    chord = reach.unknown.printed.chord
    needed, more = _others(chord, {key % OCTAVE for key in keys}, without_third=without_third)
    for size in range(max(reach.size, len(keys)), max(min(reach.size, 3), len(keys)) - 1, -1):
        first = needed[: size - len(keys)]
        most = min(size - len(keys) - len(first), len(more))
        for count in (most, most - 1) if most else (0,):  # one note less: where the fuller hands are no hands
            fills = combinations(more, count)
            found = {hand for fill in fills for hand in _set_out(keys, (*first, *fill), size, top, reach, taste)}
            if found:
                return tuple(sorted(found))
    return ()


def _others(chord: Chord, held: set[int], *, without_third: bool) -> tuple[list[int], list[int]]:
    """Return the pitch classes that a hand has beside a drone: those that tell the chord, in order, and the others."""
    kept, rest = importance(chord)
    third = chord.member_on(3)
    dropped = third if without_third else None
    free = third if third_in_bass(chord) else None  # it sounds below: it may be in the hand, and need not

    def classes(members: Sequence[Interval]) -> list[int]:
        found = [(chord.root.pitch_class + i.semitones) % OCTAVE for i in members if i != dropped]
        return [c for c in dict.fromkeys(found) if c not in held]

    needed = classes([i for i in kept if i != free])
    return needed, [c for c in classes([*rest, *([free] if free else [])]) if c not in needed]


def _set_out(
    keys: tuple[int, ...], others: tuple[int, ...], size: int, top: int, reach: DroneReach, taste: Taste
) -> Iterator[Voicing]:
    """Yield the hands of so many keys that hold some keys and one of each of the other notes, doubled where few."""
    bottom, ceiling = max(reach.low, max(keys) - taste.span), min(top, reach.high)

    def places(pitch_class: int) -> range:
        return range(bottom + (pitch_class - bottom) % OCTAVE, ceiling + 1, OCTAVE)

    for added in product(*map(places, others)):
        hand = tuple(sorted({*keys, *added}))
        lacking = size - len(hand)
        if lacking == 0:
            hands = [hand]
        elif lacking == 1:
            doubles = (key + way for key in hand for way in (-OCTAVE, OCTAVE))
            hands = [tuple(sorted((*hand, d))) for d in doubles if bottom <= d <= ceiling and d not in hand]
        else:
            hands = []
        yield from (h for h in hands if h[-1] - h[0] <= taste.span and not (len(h) > 2 and h[1] - h[0] == 1))


# --- for the search -------------------------------------------------------------------------------------------------


def with_drones(
    problem: ChoiceProblem, groups: Sequence[DroneGroup], hands: Sequence[Sequence[Candidate]]
) -> ChoiceProblem:
    """Return a search problem with one more node for each group: the keys on which its drone stays.

    Args:
        problem: over the unknowns.
        groups: each gives a node after those of the unknowns, in order.
        hands: the hand of each candidate of each unknown.
    """
    nodes, pairs = list(problem.nodes), dict(problem.pairs)
    for group in groups:
        if not group.registers:
            continue
        for unknown, places in zip(group.unknowns, group.places, strict=True):
            pairs[unknown, len(nodes)] = tuple(
                [0 if place.holds(hand) else NOT_HELD for place in places] for hand in hands[unknown]
            )
        nodes.append([0] * len(group.registers))
    return ChoiceProblem(tuple(nodes), pairs)


def settled(
    groups: Sequence[DroneGroup], hands: Sequence[Sequence[Candidate]], costs: Sequence[Sequence[int]]
) -> tuple[DroneGroup, ...]:
    """Return the groups with one choice of keys each: the one on which the hands by themselves cost the least.

    For a song that is too large for the exact search: a drone stays where it is all the same.
    """
    found = []
    for group in groups:
        each = [
            sum(
                min(cost for hand, cost in zip(hands[u], costs[u], strict=True) if places[number].holds(hand))
                for u, places in zip(group.unknowns, group.places, strict=True)
            )
            for number in range(len(group.registers))
        ]
        best = slice(each.index(min(each)), each.index(min(each)) + 1) if each else slice(0, 0)
        places = tuple(some[best] for some in group.places)
        found.append(group._replace(registers=group.registers[best], places=places))
    return tuple(found)
