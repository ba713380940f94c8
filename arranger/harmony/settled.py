"""Both hands and the suspensions of a song settled, in the key that it is in. Takes a Song; gives `Settled`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from arranger.harmony import best_set, left_hand, suspending, suspensions
from arranger.harmony.answer import Answer, best
from arranger.harmony.candidates import OCTAVE, is_dominant_eleventh
from arranger.harmony.fingers import Fingers, over_path
from arranger.harmony.right_hand import Candidate, Scene, build, build_movement, candidates, nearest
from arranger.harmony.suspensions import Offer
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Timeline, unroll
from arranger.harmony.uses import Unknown, Uses, count_uses
from arranger.song.model import Song
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName


@dataclass(frozen=True, slots=True)
class Settled:
    """Both hands settled, at home.

    Attributes:
        timeline: the unrolled song.
        scene: what the right hand went by.
        hands: for each unknown, at shift 0.
        choices: for each unknown, the candidates that its hand was chosen from.
        lefts: the left hand's notes for each unknown, at shift 0.
        taken: the suspensions taken, by unknown.
        answer: the search's answer for these hands, with the suspensions that are taken.
        whole: the hands' sum with what the suspensions are worth; whatever hands and suspensions within the limits are
            taken, it does not go below `bound`.
        bound: see `whole`.
        fingers: a fingering for each hand.
        minimum, root_position: hand movement: the least for the same candidates; the least with the root lowest. None
            where they were not asked for (they take two searches more), or are not known.
    """

    timeline: Timeline
    scene: Scene
    hands: tuple[Candidate, ...]
    choices: tuple[tuple[Candidate, ...], ...]
    lefts: tuple[tuple[int, ...], ...]
    taken: dict[int, Offer]
    answer: Answer
    whole: int
    bound: int
    fingers: tuple[Fingers, ...]
    minimum: int | None
    root_position: int | None


def settle(song: Song, taste: Taste, *, figures: bool = True) -> tuple[Settled | None, tuple[Diagnostic, ...]]:
    """Settle both hands and the suspensions of a song in the key that it is in; with `figures`, how good that is."""
    problems: list[Diagnostic] = []
    timeline = unroll(song)
    scene, plain, lefts = stage(song, timeline, taste)
    alone = _copies_without_hands(song, timeline, scene.uses, plain, taste)
    if alone:
        timeline = unroll(song, frozenset(alone))
        scene, plain, lefts = stage(song, timeline, taste)
        for index in sorted(alone):
            section = song.sections[index]
            message = (
                f"the hands of {section.like!r} do not fit {section.facts.key.words}; {section.name!r} has its own"
            )
            problems.append(warning("copy-has-own-hands", message, section.span))
    plain, told = _completed(scene, plain)
    problems += told
    if any(not some for some in plain):
        return None, tuple(problems)
    return _search(song, timeline, scene, plain, lefts, figures), tuple(problems)


def _completed(
    scene: Scene, plain: Sequence[tuple[Candidate, ...]]
) -> tuple[list[tuple[Candidate, ...]], list[Diagnostic]]:
    """Give chords that no hand plays within the limits the nearest playable one, and say what every hand leaves out."""
    found: list[tuple[Candidate, ...]] = []
    problems: list[Diagnostic] = []
    for index, (unknown, some) in enumerate(zip(scene.uses.unknowns, plain, strict=True)):
        chord, span = unknown.printed.chord, unknown.printed.span
        if not some:
            some = tuple(Candidate(v, v) for v in nearest(unknown, scene.left_tops[index], scene.taste))
            if not some:
                message = f"no hand within the limits plays any of {chord}"
                problems.append(error("no-hand", message, span, "a wider range for the right hand would hold it"))
        found.append(some)
        if some and min(c.first[0] for c in some) < scene.left_tops[index] + scene.taste.clear_of_left:
            message = f"the right hand of {chord} lies among the left hand's keys"
            problems.append(warning("hands-close", message, span))
        if _pins(unknown) and some and some[0].first[-1] - some[0].first[0] > scene.taste.span:
            message = f"the pinned hand of {chord} is wider than {scene.taste.span} semitones"
            problems.append(warning("hand-wide", message, span, "leave a note out, or give it to the left hand"))
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
    told = [i for i in chord.members if i.degree in (2, 3, 4, 6, 7) or (i.alteration and i.degree >= 5)]
    sounding = {n % OCTAVE for c in some for n in c.first} | {bass % OCTAVE}
    return tuple(
        i.above(chord.root)
        for i in told
        if (chord.root.pitch_class + i.semitones) % OCTAVE not in sounding and not (eleventh and i.degree == 3)
    )


def stage(
    song: Song, timeline: Timeline, taste: Taste
) -> tuple[Scene, list[tuple[Candidate, ...]], list[tuple[int, ...]]]:
    """Settle the left hand and list the right hand's plain candidates."""
    uses = count_uses(song, timeline, taste)
    with_bass = taste.easy or any("bass" in player.lower().split() for player in song.band)
    found, basses_proven = left_hand.settle(uses, timeline.unknowns_heard(), taste)
    basses = list(found)

    def left(unknown: Unknown, bass: int) -> tuple[int, ...]:
        dynamic = song.sections[unknown.section].facts.dynamic
        level = dynamic.level if dynamic else None
        return left_hand.played(bass, unknown.printed.chord, level, with_bass_player=with_bass, taste=taste)

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
    scene = Scene(uses, tuple(basses), tuple(left[-1] for left in lefts), keys, taste, basses_proven)
    return scene, plain, lefts


def _copies_without_hands(
    song: Song, timeline: Timeline, uses: Uses, plain: Sequence[Sequence[Candidate]], taste: Taste
) -> set[int]:
    """Return the sections that are copies in another key and share a chord for which no hand fits every copy."""
    empty = {
        i
        for i, (unknown, some) in enumerate(zip(uses.unknowns, plain, strict=True))
        if len(unknown.shifts) > 1 and not (some and left_hand.fits(unknown, taste))
    }
    return {
        index
        for index, part in enumerate(timeline.printed)
        if song.sections[index].model is not None and any(p.unknown in empty and p.shift for p in part)
    }


def _search(
    song: Song,
    timeline: Timeline,
    scene: Scene,
    plain: Sequence[tuple[Candidate, ...]],
    lefts: Sequence[tuple[int, ...]],
    figures: bool,
) -> Settled:
    heard = timeline.unknowns_heard()
    taken = best_set.Taken({})
    if scene.taste.suspensions:
        taken = best_set.choose(song, timeline, scene, plain, suspensions.offers(song, timeline, scene.taste))
    choices = [
        suspending.suspended(some, taken.offers[i], scene) if i in taken.offers else some
        for i, some in enumerate(plain)
    ]
    problem = build(choices, scene)
    answer = best(problem, heard)
    hands = tuple(some[c] for some, c in zip(choices, answer.choice, strict=True))
    whole = answer.cost + _worth(timeline, scene, taken.offers, hands)
    if taken.cost is not None and taken.hands is not None and whole > taken.cost:
        # In the easiest hands the suspensions stand worse than in those that were settled with them.
        hands, whole = taken.hands, taken.cost
        choice = tuple(some.index(hand) for some, hand in zip(choices, hands, strict=True))
        answer = replace(answer, choice=choice, cost=problem.cost(choice))
    return Settled(
        timeline=timeline,
        scene=scene,
        hands=hands,
        choices=tuple(choices),
        lefts=tuple(lefts),
        taken=taken.offers,
        answer=answer,
        whole=whole,
        bound=answer.bound if taken.bound is None else taken.bound,
        fingers=over_path(hands, scene.uses, heard),
        minimum=_least_movement(choices, scene, heard) if figures else None,
        root_position=_root_position(scene, plain, heard) if figures else None,
    )


def _worth(timeline: Timeline, scene: Scene, taken: Mapping[int, Offer], hands: Sequence[Candidate]) -> int:
    """Return what the suspensions are worth as they stand in these hands."""
    near = suspending.neighbours(timeline, scene) if taken else ()
    stands = {u: suspending.standing(offer, hands[u], hands, near[u], scene) for u, offer in taken.items()}
    return sum(suspending.merit(offer, stands[u], scene) for u, offer in taken.items())


def _least_movement(choices: Sequence[Sequence[Candidate]], scene: Scene, heard: Sequence[int]) -> int | None:
    """Return the least hand movement; None where there are too many ways to tell."""
    answer = best(build_movement(choices, scene.uses), heard)
    return answer.cost if answer.proven else None


def _root_position(scene: Scene, plain: Sequence[tuple[Candidate, ...]], heard: Sequence[int]) -> int | None:
    """Return the least hand movement with the root lowest in every hand; chords that have no such hand keep theirs."""
    choices = []
    for index, unknown in enumerate(scene.uses.unknowns):
        low = candidates(unknown, scene.left_tops[index], scene.taste, root_lowest=True)
        choices.append(tuple(Candidate(v, v) for v in low) or plain[index])
    return _least_movement(choices, scene, heard)
