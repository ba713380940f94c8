"""Compare the hand chosen for each chord with the next best ones: what each of those would cost in the whole song.

Takes a solved song; gives reasons as data and in words for a player. The cost of another choice is exact:
everything else is chosen anew around it, or, in a song that is too large for that, stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from arranger.harmony.arrange import WorkedOut, as_it_sounds
from arranger.harmony.candidates import Scene, hands_cost
from arranger.harmony.choices import plan
from arranger.harmony.drone_hands import NOT_HELD
from arranger.harmony.drone_words import drone_reasons
from arranger.harmony.inner_lines import inner_lines, keeps, lines_cost
from arranger.harmony.model import ChordId, ChordPart
from arranger.harmony.search import Solver
from arranger.harmony.solve import Solved
from arranger.harmony.sum_of_hands import build
from arranger.harmony.uses import HandChange
from arranger.harmony.voicings import OCTAVE, Candidate, hand_movement, moved, new_keys
from arranger.song.model import Drone
from arranger.theory.pitch import NoteName, Pitch

NEXT_BEST = 2  # other choices shown for one chord


@dataclass(frozen=True, slots=True)
class CostTerms:
    """What a choice of hands costs over the whole song as heard, by its parts.

    Attributes:
        movement: semitones of hand movement.
        moved: new keys under the fingers.
        register: semitones that the middle of the hand is off its target, summed over all heard chords, in eighths.
        small: the small terms (reach, leaps of the top note, going with the bass, low intervals), in thousandths.
        lines: inner lines that leave their finger, in thousandths.
    """

    movement: int
    moved: int
    register: int
    small: int
    lines: int = 0


@dataclass(frozen=True, slots=True)
class OtherHand:
    """Another hand for a chord: its notes, and what it would change in the whole song (positive: costs more)."""

    right: tuple[Pitch, ...]
    more: CostTerms
    thousandths: int


@dataclass(frozen=True, slots=True)
class HandReason:
    """Why one printed chord has its hand: the next best others, of how many candidates in all.

    `anew`: the other hands of the song are chosen anew around each; else they stay as they are. `notes`: what else is
    to be said of it, in words.
    """

    where: ChordId
    others: tuple[OtherHand, ...]
    candidates: int
    anew: bool = True
    notes: tuple[str, ...] = ()


def terms(
    hands: Sequence[Candidate], scene: Scene, nodes: Sequence[int], changes: Sequence[tuple[HandChange, int]]
) -> CostTerms:
    """Add up what some hands and changes cost, part by part: movement, new keys, register, the rest."""
    taste = scene.taste
    movement = new = register = 0
    for (one, two, shift), count in changes:
        before, after = hands[one].last, moved(hands[two].first, shift)
        movement += count * hand_movement(before, after)
        new += count * new_keys(before, after)
    for index in nodes:
        hand, unknown = hands[index], scene.uses.unknowns[index]
        movement += hand.within * unknown.times
        new += unknown.times * new_keys(hand.first, hand.last)
        register += sum(4 * count * abs(hand.first[0] + hand.first[-1] - 2 * goal) for goal, count in unknown.targets)
    whole = hands_cost(hands, scene, nodes, changes)
    lines = lines_cost(hands, scene.lines, [change for change, _ in changes])
    small = whole - taste.movement * movement - taste.moved * new - taste.register * register // 8 - lines
    return CostTerms(movement, new, register, small, lines)


class _OtherHands:
    """What other hands would cost: everything else chosen anew, or as it is where the song is too large for that."""

    def __init__(self, solved: Solved) -> None:
        self.solved, self.scene = solved, solved.scene
        self.problem = build(solved.choices, solved.scene)
        planned = plan(self.problem)
        self.solver = Solver(self.problem, planned) if planned else None
        hands = (some.index(hand) for some, hand in zip(solved.choices, solved.hands, strict=True))
        pairs = zip(solved.scene.drones, solved.registers, strict=True)
        keys = (group.registers.index(register) for group, register in pairs if register)
        self.chosen = (*hands, *keys)  # of drones: the nodes after those of the chords
        self.least = self.chosen  # of the hands alone
        self.regrets: list[list[int]] = []
        if self.solver is not None:
            self.least = self.solver.solve(self.problem.nodes)
            self.regrets = self.solver.regrets(self.problem.nodes)
        self.apart = self.problem.cost(self.least) - solved.objective
        self.touching: list[list[int]] = [[] for _ in solved.choices]  # the changes of each unknown, by number
        for number, ((one, two, _), _) in enumerate(solved.scene.uses.changes):
            for unknown in {one, two}:
                self.touching[unknown].append(number)

    def best(self, unknown: int) -> list[tuple[Candidate, int, CostTerms]]:
        """Return the next best hands of an unknown: what each costs more, in thousandths and by its parts."""
        some, chosen = self.solved.choices[unknown], self.solved.hands[unknown]
        more = (r + self.apart for r in self.regrets[unknown]) if self.solver else self._alone(unknown)
        order = sorted((m, some[c].first, c) for c, m in enumerate(more) if some[c] != chosen and m < NOT_HELD)
        return [(some[c], thousandths, self._apart(unknown, c)) for thousandths, _, c in order[:NEXT_BEST]]

    def _alone(self, unknown: int) -> Iterator[int]:
        """Yield what each hand of an unknown costs more where all others stay."""
        taste = self.scene.taste
        for candidate in range(len(self.solved.choices[unknown])):
            apart = self._apart(unknown, candidate)
            parts = taste.movement * apart.movement + taste.moved * apart.moved + taste.register * apart.register // 8
            yield parts + apart.small + apart.lines

    def _apart(self, unknown: int, candidate: int) -> CostTerms:
        """Return what a choice with another hand costs more, by its parts."""
        if self.solver is None:
            choice = (*self.least[:unknown], candidate, *self.least[unknown + 1 :])
        else:
            choice = self.solver.taking(unknown, candidate, self.least)
        others = [i for i in range(len(self.solved.hands)) if choice[i] != self.chosen[i]]
        changes = [self.scene.uses.changes[n] for n in sorted({n for i in others for n in self.touching[i]})]
        hands = list(self.solved.hands)
        here = terms(hands, self.scene, others, changes)
        for i in others:
            hands[i] = self.solved.choices[i][choice[i]]
        return _less(terms(hands, self.scene, others, changes), here)


def reasons(worked: WorkedOut, places: Iterable[ChordId]) -> Iterator[HandReason]:
    """Yield the reasons for some printed chords; a chord that goes on in the same hand has none of its own."""
    solved, arrangement = worked.solved, worked.arrangement
    all_others = _OtherHands(solved)
    lines_at = _lines_told(worked)
    for where in places:
        printed = solved.timeline.at(where)
        if printed.unknown is None or printed.repeats:
            continue
        others = []
        section = arrangement.song.sections[where[0]]
        names = _names(arrangement.chord(where), section.facts.drone)
        for hand, thousandths, more in all_others.best(printed.unknown):
            keys = moved(hand.first, printed.shift + worked.shift)
            others.append(OtherHand(tuple(Pitch.at(k, names[k % OCTAVE]) for k in keys), more, thousandths))
        part = as_it_sounds(solved.timeline.printed[where[0]], section)
        notes = (*drone_reasons(solved, section, part, where[1]), *lines_at.get(where, ()))
        yield HandReason(
            where, tuple(others), len(solved.choices[printed.unknown]), all_others.solver is not None, notes
        )


def _lines_told(worked: WorkedOut) -> dict[ChordId, tuple[str, ...]]:
    """Return what is to be said of the inner lines that run through each printed chord, in words."""
    solved, found = worked.solved, dict[ChordId, dict[str, None]]()
    for line in inner_lines(solved.timeline):
        names, kept = [], True
        for place, where in enumerate(line.chords):
            chord, number = worked.arrangement.chord(where).chord, (line.notes[place] + worked.shift) % OCTAVE
            names += [str(name) for name in chord.names if name.pitch_class == number] if chord else []
        for (one, two), note in zip(pairwise(map(solved.timeline.at, line.chords)), line.notes, strict=False):
            assert one.unknown is not None and two.unknown is not None
            hands = solved.hands[one.unknown].last, moved(solved.hands[two.unknown].first, two.shift - one.shift)
            kept = kept and keeps(*hands, (note - one.shift) % OCTAVE, line.way)
        stays = "stays in one finger" if kept else "does not stay in one finger"
        for where in line.chords:
            found.setdefault(where, {})[f"the inner line {'-'.join(names)} {stays}"] = None
    return {where: tuple(told) for where, told in found.items()}


def _names(part: ChordPart, drone: Drone | None) -> dict[int, NoteName]:
    """Return the names of all notes that a chord's hands may hold."""
    assert part.chord is not None
    names = [*(drone.notes if drone else ()), *part.chord.names, *(p.name for p in part.right + part.plain)]
    return {name.pitch_class: name for name in names}


def _less(one: CostTerms, two: CostTerms) -> CostTerms:
    return CostTerms(
        one.movement - two.movement,
        one.moved - two.moved,
        one.register - two.register,
        one.small - two.small,
        one.lines - two.lines,
    )


def in_words(more: CostTerms) -> str:
    """Return what another choice would change, in words that a player understands.

    >>> in_words(CostTerms(4, 0, -12, 0))
    'over the song 4 semitones more to move; the hand nearer its place'
    """
    parts = []
    if more.movement:
        parts.append(f"{counted(abs(more.movement), 'semitone')} {_more(more.movement)} to move")
    if more.moved:
        parts.append(f"{counted(abs(more.moved), 'new key')} {_more(more.moved)} to find")
    found = [f"over the song {' and '.join(parts)}"] if parts else []
    if abs(more.register) >= NOTICED:
        found.append(f"the hand {'farther from' if more.register > 0 else 'nearer'} its place")
    if more.lines:
        found.append("an inner line leaves its finger" if more.lines > 0 else "an inner line stays in its finger")
    if more.small > 0 and not found:
        found.append("nothing but a wider reach, a leap on top or going along with the bass")
    return "; ".join(found) or "no difference that counts: the first of equals was taken"


NOTICED = 8  # eighths: a whole semitone over the song


def _more(number: int) -> str:
    return "more" if number > 0 else "less"


def counted(number: int, thing: str) -> str:
    """Return a number of things in words: `1 new key`, `2 new keys`."""
    return f"{number} {thing}{'' if number == 1 else 's'}"
