"""The candidates of each chord's right hand, with all that they depend on, and what a choice of them costs.

Takes a timeline; gives the scene (counted uses, the left hand, keys) and the hands that each chord may have.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.drone_hands import DroneGroup, DroneReach, drone_groups, drone_size, with_hands
from arranger.harmony.inner_lines import LineStep, line_steps, lines_cost
from arranger.harmony.left_hand import bass_fits, bass_notes, left_notes
from arranger.harmony.taste import Taste
from arranger.harmony.textures import RIGHT
from arranger.harmony.timeline import Timeline
from arranger.harmony.uses import HandChange, Unknown, Uses, count_uses
from arranger.harmony.voicings import (
    OCTAVE,
    Candidate,
    Voicing,
    bare_hands,
    bass_way,
    change_cost,
    close_voicings,
    doubled,
    frames,
    importance,
    is_dominant_eleventh,
    moved,
    pinned,
    sound_cost,
    third_in_bass,
    voicings,
)
from arranger.song.model import Song, WrittenChord
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch

LOWEST_KEY, HIGHEST_KEY = 21, 108  # of a piano's 88 keys (A0, C8)


class Scene(NamedTuple):
    """All that the right hand has to go by.

    Attributes:
        uses: how often each unknown and change is heard.
        basses: the bass note (MIDI, at shift 0) of each unknown.
        lefts: all notes of the left hand on it, lowest first.
        keys: the key in force at each unknown.
        taste: ranges and weights.
        basses_proven: no other bass notes are better.
        climbs: pairs of unknowns between which the top note does not fall; True where it does not climb too far either.
        drones: the chords that lie under a drone, and the keys on which it may stay.
        lines: the steps of inner lines that are to stay in one finger.
    """

    uses: Uses
    basses: tuple[int, ...]
    lefts: tuple[tuple[int, ...], ...]
    keys: tuple[Key, ...]
    taste: Taste
    basses_proven: bool
    climbs: tuple[tuple[int, int, bool], ...] = ()
    drones: tuple[DroneGroup, ...] = ()
    lines: tuple[LineStep, ...] = ()


def window(unknown: Unknown, taste: Taste) -> tuple[int, int]:
    """Return the lowest and highest key in which every copy of an unknown stays inside the hand's window."""
    low = max(taste.low, unknown.printed.plan.split or 0)
    return low - min(unknown.shifts), taste.high - max(unknown.shifts)


def candidates(unknown: Unknown, left_top: int, taste: Taste, *, root_lowest: bool = False) -> tuple[Voicing, ...]:
    """Return an unknown's voicings: inside the window in every copy, clear of the left hand. Pins are taken as written.

    Empty where no place fits.
    """
    low, high = window(unknown, taste)
    written = unknown.printed.written
    assert written is not None
    if written.pins:
        found = pinned(_pin_keys(written), low, high)
    else:
        found = _at_texture(unknown, max(low, left_top + taste.clear_of_left), high, taste, root_lowest=root_lowest)
    return tuple(v for v in found if v[0] >= left_top + taste.clear_of_left)


def _at_texture(unknown: Unknown, low: int, high: int, taste: Taste, *, root_lowest: bool) -> tuple[Voicing, ...]:
    """Return the voicings of a chord between two keys that have as many keys as its texture asks for."""
    chord, texture = unknown.printed.chord, unknown.printed.plan.texture
    plain = voicings(chord, taste, low, high, root_lowest=root_lowest)
    if texture is None or root_lowest:
        return plain
    right = RIGHT[texture]
    if right.most < 3:
        return bare_hands(chord, low, high, taste.span, without_third=unknown.third_sounds) or plain
    if has_frame(unknown, taste):
        if len(chord.members) > 3:
            wider = voicings(chord, taste, low, high, notes=max(taste.notes, right.most))
            return wider or plain
        found = frames(chord, low, high)
        if found:
            return found
    whole = [v for v in plain if len(v) >= right.least]
    if third_in_bass(chord) and len(chord.members) == 3 and taste.span >= OCTAVE:
        others = sorted(chord.pitch_classes - {chord.bass_name.pitch_class})
        whole += doubled((others[0], others[1]), low, high)  # the third sounds in the bass: root or fifth twice
    return tuple(sorted(set(whole))) or plain


def has_frame(unknown: Unknown, taste: Taste) -> bool:
    """Return whether a hand has four keys: its texture asks for them, and the player's limits and the time let it."""
    texture = unknown.printed.plan.texture
    asked = texture is not None and RIGHT[texture].frame
    return asked and unknown.frame_time and taste.most_keys > 3 and taste.span >= OCTAVE


def nearest(unknown: Unknown, left_top: int, taste: Taste) -> tuple[Voicing, ...]:
    """Return the nearest playable voicings of a chord that has none within the limits: as many of its notes as can be.

    The least important notes go first; last of all the distance to the left hand. Pins may leave the window.
    """
    written = unknown.printed.written
    assert written is not None
    if written.pins:
        return pinned(_pin_keys(written), LOWEST_KEY, HIGHEST_KEY)
    low, high = window(unknown, taste)
    kept, rest = importance(written.chord)
    order = (*kept, *rest)
    classes = tuple(dict.fromkeys((written.chord.root.pitch_class + i.semitones) % OCTAVE for i in order))
    for floor in (max(low, left_top + taste.clear_of_left), low):
        there = [c for c in classes if floor + (c - floor) % OCTAVE <= high]
        for size in range(min(len(there), taste.notes), 0, -1):
            found = close_voicings(tuple(sorted(there[:size])), floor, high, taste.span)
            if found:
                return found
    return ()


def _pin_keys(written: WrittenChord) -> list[tuple[int, int | None]]:
    """Return the pitch class of each pinned note, and its MIDI number where the octave is written."""
    return [(p.name.pitch_class, None if p.octave is None else Pitch(p.name, p.octave).midi) for p in written.pins]


def node_cost(candidate: Candidate, index: int, scene: Scene) -> int:
    """Return what one candidate costs by itself over all the times that it is heard."""
    return node_costs((candidate,), index, scene)[0]


def node_costs(hands: Iterable[Candidate], index: int, scene: Scene) -> list[int]:
    """Return the same for each of some hands of one unknown."""
    unknown, taste = scene.uses.unknowns[index], scene.taste
    left, times = scene.lefts[index][-1], unknown.times
    leading, texture = _leading_note(index, scene), unknown.printed.plan.texture
    found = []
    for first, last in hands:
        each = sound_cost(first, left, taste)
        if leading is not None and leading in [n % OCTAVE for n in first]:
            each += taste.doubled_leading_note
        if first != last:
            each += change_cost(first, last, 0, taste)
        if texture == "bare" and len(first) == 1:
            each += taste.one_key
        total, middle = each * times, first[0] + first[-1]
        # Movement is counted key by key: a frame of four keys would drift where three keys are held in place.
        weight = taste.register * (max(3, len(first)) if texture else 3)
        for target, heard in unknown.targets:
            total += heard * (weight * abs(middle - 2 * target) // 6)
        found.append(total)
    return found


def hands_cost(
    hands: Sequence[Candidate],
    scene: Scene,
    nodes: Iterable[int],
    changes: Sequence[tuple[HandChange, int]],
    climbs: Iterable[tuple[int, int, bool]] = (),
) -> int:
    """Return what some unknowns and changes are of the sum of a choice of hands."""
    total = sum(node_cost(hands[i], i, scene) for i in nodes)
    for (one, two, shift), times in changes:
        way = bass_way(scene.basses[two] + shift - scene.basses[one])
        total += times * change_cost(hands[one].last, moved(hands[two].first, shift), way, scene.taste)
    total += lines_cost(hands, scene.lines, [change for change, _ in changes])
    total += sum(climb_cost(hands[one].first[-1], hands[two].first[-1], far, scene.taste) for one, two, far in climbs)
    return total


def climb_cost(one: int, two: int, far: bool, taste: Taste) -> int:
    """Return what it costs that the top note falls in a rise or, from its first bar to its last, climbs too far."""
    over = two - one - taste.climb_most if far else one - two
    return taste.low_step * max(0, over)


def _leading_note(index: int, scene: Scene) -> int | None:
    """Return the key's leading note (0 to 11) where it is the chord's third and its bass: the hand doubles it not."""
    chord = scene.uses.unknowns[index].printed.chord
    leading = (scene.keys[index].tonic.pitch_class - 1) % OCTAVE
    return leading if chord.bass_name.pitch_class == leading and third_in_bass(chord) else None


def scene_of(song: Song, timeline: Timeline, taste: Taste) -> tuple[Scene, list[tuple[Candidate, ...]]]:
    """Return all that the right hand has to go by, and its plain candidates for each unknown."""
    uses = count_uses(song, timeline, taste)
    found, basses_proven = bass_notes(uses, timeline.unknowns_heard(), taste)
    basses = list(found)

    def left(unknown: Unknown, bass: int) -> tuple[int, ...]:
        dynamic = song.sections[unknown.section].facts.dynamic
        return left_notes(bass, unknown.printed, dynamic.level if dynamic else None, taste)

    lefts = [left(unknown, bass) for unknown, bass in zip(uses.unknowns, basses, strict=True)]
    plain: list[tuple[Candidate, ...]] = []
    for index, unknown in enumerate(uses.unknowns):
        voicings = candidates(unknown, lefts[index][-1], taste)
        if not voicings:  # no room over the left hand: its note drops an octave
            lower = left(unknown, basses[index] - OCTAVE)
            voicings = candidates(unknown, lower[-1], taste)
            if voicings:
                basses[index], lefts[index] = basses[index] - OCTAVE, lower
        plain.append(tuple(Candidate(v, v) for v in voicings))
    keys = tuple(song.sections[u.section].facts.key for u in uses.unknowns)
    climbs = tuple(sorted(set(_climbs(timeline))))
    drones = tuple(_over_drone(group, uses, lefts, plain, taste) for group in drone_groups(song, timeline))
    lines = line_steps(timeline, uses, taste) if taste.arc else ()
    return Scene(uses, tuple(basses), tuple(lefts), keys, taste, basses_proven, climbs, drones, lines), plain


def _over_drone(
    group: DroneGroup,
    uses: Uses,
    lefts: Sequence[tuple[int, ...]],
    plain: list[tuple[Candidate, ...]],
    taste: Taste,
) -> DroneGroup:
    """Return a drone's chords with the keys on which it may stay; their hands in `plain` become those that hold it."""
    reaches = {}
    for index in group.unknowns:
        unknown = uses.unknowns[index]
        low, high = window(unknown, taste)
        size = drone_size(unknown, taste, frame=has_frame(unknown, taste))
        reaches[index] = DroneReach(unknown, max(low, lefts[index][-1] + taste.clear_of_left), high, size)
    group, hands = with_hands(group, reaches, {index: plain[index] for index in group.unknowns}, taste)
    for index, some in hands.items():
        plain[index] = some
    return group


def _climbs(timeline: Timeline) -> Iterator[tuple[int, int, bool]]:
    """Yield the pairs of unknowns between which the top note does not fall, in a rise: first chords of bars.

    The third value is True for the first and the last bar of it, between which it does not climb too far.
    """
    for section, part in enumerate(timeline.printed):
        if section not in timeline.rising:
            continue
        bars = [one.unknown for one in part if one.start == 0 and one.unknown is not None]
        yield from ((one, two, False) for one, two in pairwise(bars) if one != two)
        if len(bars) > 1 and bars[0] != bars[-1]:
            yield bars[0], bars[-1], True


def copies_without_hands(
    song: Song, timeline: Timeline, scene: Scene, plain: Sequence[Sequence[Candidate]]
) -> set[int]:
    """Return the sections that are copies in another key and share a chord for which no hand fits every copy."""
    empty = {
        i
        for i, (unknown, some) in enumerate(zip(scene.uses.unknowns, plain, strict=True))
        if len(unknown.shifts) > 1 and not (some and bass_fits(unknown, scene.taste))
    }
    return {
        index
        for index, part in enumerate(timeline.printed)
        if song.sections[index].model is not None and any(p.unknown in empty and p.shift for p in part)
    }


def completed(
    scene: Scene, plain: Sequence[tuple[Candidate, ...]]
) -> tuple[list[tuple[Candidate, ...]], list[Diagnostic]]:
    """Add the nearest playable hands to chords without one within the limits; return warnings about all hands too."""
    found: list[tuple[Candidate, ...]] = []
    problems: list[Diagnostic] = []
    for index, (unknown, some) in enumerate(zip(scene.uses.unknowns, plain, strict=True)):
        chord, span = unknown.printed.chord, unknown.printed.span
        if not some:
            some = tuple(Candidate(v, v) for v in nearest(unknown, scene.lefts[index][-1], scene.taste))
            if not some:
                message = f"no hand within the limits plays any of {chord}"
                problems.append(error("no-hand", message, span, "a wider range for the right hand would hold it"))
        found.append(some)
        if some and min(c.first[0] for c in some) < scene.lefts[index][-1] + scene.taste.clear_of_left:
            message = f"the right hand of {chord} lies among the left hand's keys"
            problems.append(warning("hands-close", message, span))
        split = unknown.printed.plan.split
        if split is not None and some and min(c.first[0] for c in some) + min(unknown.shifts) < split:
            name = Pitch.at(split, scene.keys[index].spelled(split % OCTAVE))
            message = f"the right hand of {chord} lies under the split at {name}"
            problems.append(warning("under-split", message, span, "split lower, or pin a hand that lies above it"))
        if _pins(unknown) and some and some[0].first[-1] - some[0].first[0] > scene.taste.span:
            message = f"the pinned hand of {chord} is wider than {scene.taste.span} semitones"
            problems.append(warning("hand-wide", message, span, "leave a note out, or give it to the left hand"))
        most = max((len(c.first) for c in some), default=0)
        if (
            unknown.printed.plan.texture not in (None, "bare")
            and most < min(3, len(chord.members))
            and not _pins(unknown)
        ):
            message = f"the right hand of {chord} has room for {most} of its notes only"
            hint = "a lower split, or a wider range for the right hand, would hold three"
            problems.append(warning("hand-thin", message, span, hint))
        lacking = () if _pins(unknown) or scene.taste.easy else _lacking(chord, some, scene.basses[index])
        lacking = tuple(name for name in lacking if name not in _left_to_drone(scene, index))
        if lacking:
            notes = " and ".join(map(str, lacking))
            message = f"{chord} has more than the hand can hold; {notes} is left out"
            problems.append(warning("notes-left-out", message, span))
    return found, problems


def _pins(unknown: Unknown) -> bool:
    written = unknown.printed.written
    return written is not None and bool(written.pins)


def _left_to_drone(scene: Scene, index: int) -> tuple[NoteName, ...]:
    """Return the notes of a chord that a drone stands in for: its third where that is its 4, all at `bare`."""
    chord = scene.uses.unknowns[index].printed.chord
    under = next((g.chords[g.unknowns.index(index)] for g in scene.drones if index in g.unknowns), None)
    if under is None:
        return ()
    if scene.uses.unknowns[index].printed.plan.texture == "bare":
        return chord.names
    third = chord.member_on(3)
    return (third.above(chord.root),) if under.four is not None and third is not None else ()


def _lacking(chord: Chord, some: Sequence[Candidate], bass: int) -> tuple[NoteName, ...]:
    """Return the telling notes (third or suspension, sixth or seventh, alterations) that no candidate sounds."""
    eleventh = is_dominant_eleventh(chord)
    telling = [i for i in chord.members if i.degree in (2, 3, 4, 6, 7) or (i.alteration and i.degree >= 5)]
    sounding = {n % OCTAVE for c in some for n in c.first} | {bass % OCTAVE}
    return tuple(
        i.above(chord.root)
        for i in telling
        if (chord.root.pitch_class + i.semitones) % OCTAVE not in sounding and not (eleventh and i.degree == 3)
    )
