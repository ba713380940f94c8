"""The candidates of each chord's right hand, with all that they depend on: how often it is heard, the left hand below.

Takes a timeline; gives counted uses, bass notes found from the chords alone by the same exact search as the right
hand's, and the hands that each chord may have. What the roadmap leaves out is printed all the same: a chord that is
never heard is counted as if its section were played through once, so that the hands make sense there too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import pairwise

from arranger.harmony.optimum import best
from arranger.harmony.search import problem_over
from arranger.harmony.taste import Taste
from arranger.harmony.textures import FRAME_CHANGED, FRAME_STRUCK, RIGHT
from arranger.harmony.timeline import Printed, Timeline, seconds
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
from arranger.song.players import plays_guitar
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch

HandChange = tuple[int, int, int]  # (unknown, unknown, shift of the second against the first)


@dataclass(frozen=True, slots=True)
class Unknown:
    """One unknown: the first printed chord that has it, unmoved, and where it stands in the song.

    Attributes:
        printed: the chord by which it is known.
        section: the section of that chord.
        shifts: every move (semitones) with which it is printed.
        targets: for each target of the hand's middle, less the move: how often it is heard so.
        times: how often it is heard.
        by_shift: how often with each move.
        frame_time: there is time to take and to strike four keys, wherever it is printed.
        third_sounds: a guitar sounds its third, wherever it is printed.
    """

    printed: Printed
    section: int
    shifts: tuple[int, ...]
    targets: tuple[tuple[int, int], ...]
    times: int
    by_shift: tuple[tuple[int, int], ...]
    frame_time: bool = True
    third_sounds: bool = False


@dataclass(frozen=True, slots=True)
class Uses:
    """All unknowns, and how often each change from one to another is heard (cuts excluded)."""

    unknowns: tuple[Unknown, ...]
    changes: tuple[tuple[HandChange, int], ...]


def count_uses(song: Song, timeline: Timeline, taste: Taste) -> Uses:
    """Count what is heard."""
    shifts: list[set[int]] = [set() for _ in range(timeline.unknowns)]
    known: dict[int, tuple[Printed, int]] = {}
    for section, part in enumerate(timeline.printed):
        for one in part:
            if one.unknown is not None:
                shifts[one.unknown].add(one.shift)
                if one.unknown not in known or (known[one.unknown][0].shift and not one.shift):
                    known[one.unknown] = (one, section)
    targets: list[Counter[int]] = [Counter() for _ in range(timeline.unknowns)]
    by_shift: list[Counter[int]] = [Counter() for _ in range(timeline.unknowns)]
    for heard in timeline.heard:
        one = timeline.at(heard.chord)
        assert one.unknown is not None
        targets[one.unknown][one.plan.goal - one.shift] += 1
        by_shift[one.unknown][one.shift] += 1
    changes: Counter[HandChange] = Counter()  # a chord that goes on in the same hand too: the same unknown twice
    for before, after in pairwise(timeline.heard):
        first, second = timeline.at(before.chord), timeline.at(after.chord)
        if not after.cut and first.unknown is not None and second.unknown is not None:
            changes[first.unknown, second.unknown, second.shift - first.shift] += 1
    unheard = {u for u in range(timeline.unknowns) if not targets[u]}
    if unheard:
        _as_if_heard(timeline, unheard, targets, changes)
    frame_time, third_sounds = _all_of(timeline, partial(_frame_time, song)), _all_of(timeline, partial(_third, song))
    unknowns = tuple(
        Unknown(
            *known[u],
            shifts=tuple(sorted(shifts[u])),
            targets=tuple(sorted(targets[u].items())),
            times=targets[u].total(),
            by_shift=tuple(sorted(by_shift[u].items())) or tuple((shift, 1) for shift in sorted(shifts[u])),
            frame_time=frame_time[u],
            third_sounds=third_sounds[u],
        )
        for u in range(timeline.unknowns)
    )
    return Uses(unknowns, tuple(sorted(changes.items())))


def _all_of(timeline: Timeline, holds: Callable[[int, Printed], bool]) -> list[bool]:
    """Return, for each unknown, whether something holds in every place where it is printed."""
    found = [True] * timeline.unknowns
    for section, part in enumerate(timeline.printed):
        for one in part:
            if one.unknown is not None:
                found[one.unknown] = found[one.unknown] and holds(section, one)
    return found


def _frame_time(song: Song, section: int, one: Printed) -> bool:
    """Return whether a chord lasts long enough for four keys, and is struck seldom enough."""
    facts = song.sections[section].facts
    struck = min(Fraction(1), one.length) if facts.play is None or facts.play.value in OFTEN else one.length
    return seconds(one.length, facts) >= FRAME_CHANGED and seconds(struck, facts) >= FRAME_STRUCK


OFTEN = (
    "quarters",
    "quarters and eighths",
    "eighths",
    "broken",
    "rolling",
)  # manners in which a hand is struck every quarter


def _third(song: Song, section: int, one: Printed) -> bool:
    """Return whether a guitar sounds the third of a chord."""
    return plays_guitar(song.sections[section].facts.band)


def _as_if_heard(
    timeline: Timeline, unheard: set[int], targets: list[Counter[int]], changes: Counter[HandChange]
) -> None:
    for part in timeline.printed:
        last: Printed | None = None
        for one in part:
            if one.unknown is None:
                continue
            if one.unknown in unheard:
                targets[one.unknown][one.plan.goal - one.shift] += 1
            if last is not None and last.unknown is not None and unheard & {one.unknown, last.unknown}:
                changes[last.unknown, one.unknown, one.shift - last.shift] += 1
            last = one


LOWEST_KEY, HIGHEST_KEY = 21, 108  # of a piano's 88 keys (A0, C8)


@dataclass(frozen=True, slots=True)
class Scene:
    """All that the right hand has to go by.

    Attributes:
        uses: how often each unknown and change is heard.
        basses: the bass note (MIDI, at shift 0) of each unknown.
        lefts: all notes of the left hand on it, lowest first.
        keys: the key in force at each unknown.
        taste: ranges and weights.
        basses_proven: no other bass notes are better.
        climbs: pairs of unknowns between which the top note does not fall; True where it does not climb too far either.
    """

    uses: Uses
    basses: tuple[int, ...]
    lefts: tuple[tuple[int, ...], ...]
    keys: tuple[Key, ...]
    taste: Taste
    basses_proven: bool
    climbs: tuple[tuple[int, int, bool], ...] = ()


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
    if right.frame and unknown.frame_time and taste.most_keys > 3 and taste.span >= OCTAVE:
        if len(chord.members) > 3:
            wider = voicings(chord, replace(taste, notes=max(taste.notes, right.most)), low, high)
            return wider or plain
        found = frames(chord, low, high)
        if found:
            return found
    whole = [v for v in plain if len(v) >= right.least]
    if third_in_bass(chord) and len(chord.members) == 3 and taste.span >= OCTAVE:
        others = sorted(chord.pitch_classes - {chord.bass_name.pitch_class})
        whole += doubled((others[0], others[1]), low, high)  # the third sounds in the bass: root or fifth twice
    return tuple(sorted(set(whole))) or plain


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
    unknown, taste = scene.uses.unknowns[index], scene.taste
    first = candidate.first
    each = sound_cost(first, scene.lefts[index][-1], taste) + _leading_note(first, index, scene)
    if first != candidate.last:
        each += change_cost(first, candidate.last, 0, taste)
    if unknown.printed.plan.texture == "bare" and len(first) == 1:
        each += taste.one_key
    total, middle = each * unknown.times, first[0] + first[-1]
    for target, times in unknown.targets:
        # Movement is counted key by key: a frame of four keys would drift where three keys are held in place.
        total += times * (taste.register * max(3, len(first)) * abs(middle - 2 * target) // 6)
    return total


def hands_cost(
    hands: Sequence[Candidate],
    scene: Scene,
    nodes: Iterable[int],
    changes: Iterable[tuple[HandChange, int]],
    climbs: Iterable[tuple[int, int, bool]] = (),
) -> int:
    """Return what some unknowns and changes are of the sum of a choice of hands."""
    total = sum(node_cost(hands[i], i, scene) for i in nodes)
    for (one, two, shift), times in changes:
        way = bass_way(scene.basses[two] + shift - scene.basses[one])
        total += times * change_cost(hands[one].last, moved(hands[two].first, shift), way, scene.taste)
    total += sum(climb_cost(hands[one].first[-1], hands[two].first[-1], far, scene.taste) for one, two, far in climbs)
    return total


def climb_cost(one: int, two: int, far: bool, taste: Taste) -> int:
    """Return what it costs that the top note falls in a rise or, from its first bar to its last, climbs too far."""
    over = two - one - taste.climb_most if far else one - two
    return taste.low_step * max(0, over)


def _leading_note(voicing: Voicing, index: int, scene: Scene) -> int:
    """Return the cost of sounding the key's leading note twice: in the bass, as the chord's third, and in the hand."""
    chord = scene.uses.unknowns[index].printed.chord
    leading = (scene.keys[index].tonic.pitch_class - 1) % OCTAVE
    if chord.bass_name.pitch_class != leading or not third_in_bass(chord):
        return 0
    return scene.taste.doubled_leading_note if any(n % OCTAVE == leading for n in voicing) else 0


WHOLE_TONE = 2


def bass_notes(uses: Uses, heard: Sequence[int], taste: Taste) -> tuple[tuple[int, ...], bool]:
    """Choose the bass note of each unknown: near the target, steps in the bass played as steps.

    Returns:
        The notes, and whether no others are better, by these measures; not so where there are too many ways to tell.
    """
    choices = [_bass_octaves(unknown.printed, unknown.shifts, taste) for unknown in uses.unknowns]
    nodes = [
        [
            sum(n * taste.left_register * abs(note + shift - taste.left_target) for shift, n in unknown.by_shift)
            for note in notes
        ]
        for notes, unknown in zip(choices, uses.unknowns, strict=True)
    ]

    def table(change: HandChange, times: int) -> list[list[int]]:
        one, two, shift = change
        return [[times * _bass_step(b + shift - a, taste) for b in choices[two]] for a in choices[one]]

    problem = problem_over(nodes, [one for one in uses.changes if one[0][0] != one[0][1]], table)
    answer = best(problem, heard)
    return tuple(notes[c] for notes, c in zip(choices, answer.choice, strict=True)), answer.proven


def bass_fits(unknown: Unknown, taste: Taste) -> bool:
    """Return whether some octave of a chord's bass keeps every copy inside the left hand's range."""
    return bool(_bass_inside(unknown.printed, unknown.shifts, taste))


def _bass_octaves(printed: Printed, shifts: tuple[int, ...], taste: Taste) -> tuple[int, ...]:
    """Return the octaves that keep every copy in range; those that keep the chord itself there, where none does.

    Over a split that leaves the left hand too few keys, as if there were none.
    """
    plan = printed.plan
    if plan.split is not None and plan.pad_hand == "left":  # clear of the octave in which the pad lies
        under = replace(printed, plan=replace(plan, split=plan.split - OCTAVE))
        clear = _bass_inside(under, shifts, replace(taste, left_low=taste.left_octave_low))
        if clear:
            return clear
    there = _bass_inside(printed, shifts, taste) or _bass_inside(printed, (0,), taste)
    return there or _bass_inside(replace(printed, plan=replace(plan, split=None)), (0,), taste)


def _bass_inside(printed: Printed, shifts: tuple[int, ...], taste: Taste) -> tuple[int, ...]:
    pitch_class, split = printed.chord.bass_name.pitch_class, printed.plan.split
    top = taste.left_high if split is None else min(taste.left_high, split - 1)
    low, high = taste.left_low - min(shifts), top - max(shifts)
    return tuple(range(low + (pitch_class - low) % OCTAVE, high + 1, OCTAVE))


def _bass_step(way: int, taste: Taste) -> int:
    size = way % OCTAVE
    is_step = 0 < min(size, OCTAVE - size) <= WHOLE_TONE
    return taste.left_step_broken if is_step and abs(way) > WHOLE_TONE else 0


SOFT = ("ppp", "pp", "p", "mp")
FIFTH = 7
SEVENTHS = (10, 11)  # semitones over the root


def left_notes(bass: int, printed: Printed, level: str | None, taste: Taste) -> tuple[int, ...]:
    """Return the left hand's notes for a bass note (MIDI), lowest first.

    Beside a bass player, and in a hand that reaches no octave, the note alone; beside one at the wide texture its
    lower octave too, on first beats from E2 up. Else by the texture: bare the note alone; light the root and the fifth
    on a chord in root position with a perfect fifth, from D2 up to B2 (the published tables of low-interval limits all
    accept a fifth there, and it leaves the right hand its room), or root and seventh from C3 up; and everywhere else
    the note and its octave: below, or above where below would be under the lowest octave that sounds clear. Without a
    texture the soft dynamics are played as light, the others as full. What does not lie under a split is left out.
    """
    notes, split = _left_notes(bass, printed, level, taste), printed.plan.split
    return notes if split is None or notes[-1] < split else (bass,)


def _left_notes(bass: int, printed: Printed, level: str | None, taste: Taste) -> tuple[int, ...]:
    chord, texture = printed.chord, printed.plan.texture
    octaves = taste.left_octaves and taste.span >= OCTAVE
    below = bass - OCTAVE
    if printed.plan.bass_player:
        thick = texture == "wide" and printed.start == 0 and below >= taste.left_octave_beside
        return (below, bass) if thick and octaves else (bass,)
    if taste.span < OCTAVE or texture == "bare" or printed.plan.pad_hand == "left":
        return (bass,)
    rooted = chord.bass_name.pitch_class == chord.root.pitch_class
    if texture == "light" if texture else level in SOFT:
        seventh = chord.member_on(7)
        if texture and rooted and seventh and seventh.semitones in SEVENTHS and bass >= taste.left_shell_low:
            return (bass, bass + seventh.semitones)
        perfect = chord.member_on(5) is not None and Interval(5, FIFTH) in chord.members
        if rooted and perfect and taste.left_low <= bass <= taste.left_target:
            return (bass, bass + FIFTH)
    if not octaves:
        return (bass,)
    return (below, bass) if below >= taste.left_octave_low else (bass, bass + OCTAVE)


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
    return Scene(uses, tuple(basses), tuple(lefts), keys, taste, basses_proven, climbs), plain


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
        if lacking:
            notes = " and ".join(map(str, lacking))
            message = f"{chord} has more than the hand can hold; {notes} is left out"
            problems.append(warning("notes-left-out", message, span))
    return found, problems


def _pins(unknown: Unknown) -> bool:
    written = unknown.printed.written
    return written is not None and bool(written.pins)


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
