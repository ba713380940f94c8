"""Inner lines: where the names of chords spell a chromatic descent or climb of one voice (Cm, Cm(maj7), Cm7, Cm6).

Takes the notes of chords in the order in which they are printed; gives the lines that they have in common, and what it
costs that a hand does not keep one of them in one finger. Common practice, no source.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from arranger.harmony.model import ChordId
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Timeline
from arranger.harmony.uses import HandChange, Uses
from arranger.harmony.voicings import OCTAVE, Candidate, Voicing, moved

LEAST_STEPS = 3  # in one direction: a scale has no three semitones in a row, so that these are meant
WAYS = (-1, 1)  # a descent, a climb


class ChromaticRun(NamedTuple):
    """A line through some chords: the place of the first, and its note (0 to 11) in each, `way` semitones apart."""

    start: int
    notes: tuple[int, ...]
    way: int


def chromatic_runs(chords: Sequence[frozenset[int]], basses: Sequence[int]) -> tuple[ChromaticRun, ...]:
    """Return the longest lines of semitones that run through neighbouring chords, three steps or more.

    Args:
        chords: the pitch classes (0 to 11) of each chord.
        basses: the pitch class of each chord's bass: a line that lies there all the way is the left hand's.

    >>> c_minor = frozenset({0, 3, 7})
    >>> chromatic_runs([c_minor, c_minor | {11}, c_minor | {10}, c_minor | {9}], [0, 0, 0, 0])
    (ChromaticRun(start=0, notes=(0, 11, 10, 9), way=-1),)
    """
    found = []
    for way in WAYS:
        for start, chord in enumerate(chords):
            after = chords[start + 1] if start + 1 < len(chords) else frozenset()
            for note in sorted([note for note in chord if (note + way) % OCTAVE in after]):
                if start and (note - way) % OCTAVE in chords[start - 1]:
                    continue  # the line began before
                notes = [note]
                for place in range(start + 1, len(chords)):
                    following = (notes[-1] + way) % OCTAVE
                    if following not in chords[place]:
                        break
                    notes.append(following)
                in_bass = all(bass == one for bass, one in zip(basses[start:], notes, strict=False))
                if len(notes) > LEAST_STEPS and not in_bass:
                    found.append(ChromaticRun(start, tuple(notes), way))
    return tuple(found)


class InnerLine(NamedTuple):
    """A line through the chords of a song: `chords` as printed, its note (0 to 11) in each, by `way` semitones."""

    chords: tuple[ChordId, ...]
    notes: tuple[int, ...]
    way: int


def inner_lines(timeline: Timeline) -> tuple[InnerLine, ...]:
    """Return the inner lines of a song's sections, as printed: what runs from one section into another is chance."""
    found = []
    for chords in _in_order(timeline):
        members = [timeline.at(where).chord for where in chords]
        runs = chromatic_runs([one.pitch_classes for one in members], [one.bass_name.pitch_class for one in members])
        found += [InnerLine(chords[r.start : r.start + len(r.notes)], r.notes, r.way) for r in runs]
    return tuple(found)


def _in_order(timeline: Timeline) -> Iterator[tuple[ChordId, ...]]:
    """Yield the chords of each section; a chord that goes on in the same hand stands once."""
    for index, part in enumerate(timeline.printed):
        kept: list[ChordId] = []
        for place, one in enumerate(part):
            if one.unknown is not None and not (kept and timeline.at(kept[-1]).unknown == one.unknown):
                kept.append((index, place))
        yield tuple(kept)


# --- for the search -------------------------------------------------------------------------------------------------


class LineStep(NamedTuple):
    """One step of an inner line between two unknowns.

    Attributes:
        change: the two, and the shift of the second against the first.
        note: the line's note (0 to 11) in the first, at its shift 0.
        way: to its note in the second, in semitones.
        cost: what it costs that the line is not kept, all the times that it is heard, in thousandths.
    """

    change: HandChange
    note: int
    way: int
    cost: int


def line_steps(timeline: Timeline, uses: Uses, taste: Taste) -> tuple[LineStep, ...]:
    """Return the steps of all inner lines of a song that are heard, each once, with what it costs to break them."""
    times = dict(uses.changes)
    each: dict[tuple[HandChange, int, int], int] = {}
    for line in inner_lines(timeline):
        cost = min(taste.line_most, taste.line_step * (len(line.notes) - 1))
        for place, note in enumerate(line.notes[:-1]):
            one, two = timeline.at(line.chords[place]), timeline.at(line.chords[place + 1])
            assert one.unknown is not None and two.unknown is not None
            change = one.unknown, two.unknown, two.shift - one.shift
            step = change, (note - one.shift) % OCTAVE, line.way
            each[step] = max(each.get(step, 0), cost)
    costs = {step: cost * times.get(step[0], 0) for step, cost in each.items()}
    return tuple(LineStep(*step, cost) for step, cost in sorted(costs.items()) if cost)


def keeps(one: Voicing, two: Voicing, note: int, way: int) -> bool:
    """Return whether a step of a line stays in one finger: a semitone on, at the same place in the hand.

    The place counts from the lowest note or, where the hands are not of one size, from the highest.

    >>> keeps((60, 63, 67), (59, 63, 67), 0, -1), keeps((57, 63, 67), (60, 63, 68), 9, -1)
    (True, False)
    """
    for place, key in enumerate(one):
        if key % OCTAVE == note and key + way in two:
            other = two.index(key + way)
            if other == place or len(two) - other == len(one) - place:
                return True
    return False


def lines_cost(hands: Sequence[Candidate], steps: Sequence[LineStep], changes: Sequence[HandChange]) -> int:
    """Return what the inner lines cost that some hands do not keep, over some changes."""
    wanted = set(changes) if steps else ()
    total = 0
    for step in steps:
        one, two, shift = step.change
        if step.change in wanted:
            kept = keeps(hands[one].last, moved(hands[two].first, shift), step.note, step.way)
            total += 0 if kept else step.cost
    return total
