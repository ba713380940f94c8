"""Group the changes of some songs up to transposition, the hardest first, each with a pair of hands for every key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from arranger.harmony.demands import HardChange, changes_heard
from arranger.harmony.model import ChordPart
from arranger.studies.model import Study, StudyHand, StudyRow, Words
from arranger.studies.study_hands import ArrangedSong, gone_to, left_behind, tempo_of, times_words

ChangeKind = tuple[object, ...]
HARD_WEIGHT = Fraction(2)  # of a hard change's minutes against the other studies: they come first
KEYS_NAMED = 4  # in a heading


@dataclass(slots=True)
class _FromOneRoot:
    """The occurrences of a change from the same root. Mutable, lives in `hard_changes` only.

    `hardest` is the one that asks most, in `song`; `places` are where it occurs, `times` how often it is heard.
    """

    song: ArrangedSong
    hardest: HardChange
    times: int = 0
    places: dict[str, None] = field(default_factory=dict)


def kind_of_change(one: ChordPart, two: ChordPart) -> ChangeKind:
    """Return what is the same of two changes of chord that are equal up to transposition.

    Both chords' qualities and basses, what of them is suspended when the hand changes, and the way between the roots.
    """
    assert one.chord is not None and two.chord is not None
    root = one.chord.root.pitch_class
    kept = one.suspension is not None and one.suspension.resolves_to is None
    return (
        one.chord.suffix,
        (one.chord.bass_name.pitch_class - root) % 12,
        one.suggested if kept else "",
        (two.chord.root.pitch_class - root) % 12,
        two.chord.suffix,
        (two.chord.bass_name.pitch_class - root) % 12,
        two.suggested,
    )


def hard_changes(songs: Sequence[ArrangedSong]) -> tuple[tuple[ChangeKind, Study], ...]:
    """Return a study for each change of the songs, equal ones up to transposition together, the hardest first.

    A study is as hard as the hardest change in it, reckoned as `show --hardest` does; so are its rows, one for each
    root from which it goes, with the hands that ask most there.
    """
    groups: dict[ChangeKind, dict[int, _FromOneRoot]] = {}
    for song in songs:
        for change in changes_heard(song.arrangement):
            one, two = song.arrangement.chord(change.before), song.arrangement.chord(change.where)
            if one.chord is None or two.chord is None:
                continue
            group = groups.setdefault(kind_of_change(one, two), {})
            here = group.setdefault(one.chord.root.pitch_class, _FromOneRoot(song, change))
            if change.demand > here.hardest.demand:
                here.song, here.hardest = song, change
            here.times += 1
            here.places[song.place(change.where, alone=len(songs) == 1)] = None
    found = []
    for kind, group in groups.items():
        roots = sorted(group.values(), key=lambda one: -one.hardest.demand)
        found.append((roots[0].hardest.demand, kind, roots))
    found.sort(key=lambda one: -one[0])  # of equals the one that is heard first
    return tuple((kind, _study(roots, len(songs) == 1)) for _, kind, roots in found)


def _study(roots: Sequence[_FromOneRoot], alone: bool) -> Study:
    rows = tuple(_row(one, alone) for one in roots)
    first = roots[0]
    facts = first.song.facts(first.hardest.before[0])
    heading: Words = ()
    keys = [one.song.facts(one.hardest.where[0]).key for one in roots]
    for number, one in enumerate(roots[:KEYS_NAMED]):
        before, after = _hands(one)
        assert before.chord is not None and after.chord is not None
        heading += (", " if number else "", before.chord, before.added, " to ", after.chord, after.added)
        heading += (" in ", keys[number]) if len(set(keys)) > 1 else ()
    if len(roots) > KEYS_NAMED:
        heading += (f" and {len(roots) - KEYS_NAMED} more",)
    return Study(
        kind="change",
        heading=tuple(part for part in heading if part != ""),
        rows=rows,
        key=facts.key,
        meter=facts.meter,
        tempo=tempo_of(facts),
        weight=HARD_WEIGHT,
    )


def _hands(one: _FromOneRoot) -> tuple[StudyHand, StudyHand]:
    """Return the hands of the hardest change: as they are left, and as they are struck."""
    arrangement = one.song.arrangement
    return left_behind(arrangement.chord(one.hardest.before)), gone_to(arrangement.chord(one.hardest.where))


def _row(one: _FromOneRoot, alone: bool) -> StudyRow:
    place = one.song.place(one.hardest.where, alone)
    others = len(one.places) - 1
    where = f"{place}{f' and {others} more' if others else ''}; heard {times_words(one.times)}"
    return StudyRow((where,), _hands(one), (one.hardest.semitones,), says_moves=True)
