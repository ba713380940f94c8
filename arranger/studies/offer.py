"""Gather all that some songs offer to practise, in the order of the page and in the order of importance."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.harmony.demands import changes_heard
from arranger.harmony.taste import Taste
from arranger.studies.drills import drill_study
from arranger.studies.hard_changes import hard_changes
from arranger.studies.loops import loop_study
from arranger.studies.minutes import EACH_HARD
from arranger.studies.model import Studies, Study
from arranger.studies.octave_lines import octave_study, sound_study
from arranger.studies.study_hands import ArrangedSong


def has_changes(song: ArrangedSong) -> bool:
    """Return whether the right hand changes anywhere in a song."""
    return next(changes_heard(song.arrangement), None) is not None


def studies_of(
    songs: Sequence[ArrangedSong],
    taste: Taste,
    minutes: int,
    patches: Sequence[tuple[str, str]] = (),
    name: str = "",
) -> Studies:
    """Return the studies of songs, for so many minutes: the hard changes first, then what is practised with them.

    There is a hard change for every three minutes, and never more studies than minutes: octave lines and sounds give
    way first. `name` is that of the evening for which they are.
    """
    hard = [study for _, study in hard_changes(songs)][: max(1, minutes // EACH_HARD)]
    beside = [loop_study(songs, taste), drill_study(songs, taste), octave_study(songs), sound_study(songs, patches)]
    others = [study for study in beside if study is not None][: minutes - len(hard)]
    return Studies(tuple(song.title for song in songs), (*hard, *others), name)


def by_importance(studies: Sequence[Study]) -> tuple[tuple[int, int], ...]:
    """Return what to show first where pages have little room: the place of a study, and how many rows of it.

    The hardest change; the loop once by inversions and once in root position; a triad; the second hardest change;
    octave lines and sounds; the loop and the triad in all inversions; the other changes; then all rows in turn.
    """
    hard = [i for i, study in enumerate(studies) if study.kind == "change"]
    at = {study.kind: i for i, study in enumerate(studies) if study.kind != "change"}
    rows = {i: len(study.rows) or len(study.sounds) for i, study in enumerate(studies)}
    first = [("loop", 2), ("triad", 2)]
    later = [("octaves", 2), ("sounds", 2), ("loop", 4), ("triad", 3)]
    wanted = [(i, 1) for i in hard[:1]]
    wanted += [(at[kind], count) for kind, count in first if kind in at]
    wanted += [(i, 1) for i in hard[1:2]]
    wanted += [(at[kind], count) for kind, count in later if kind in at]
    wanted += [(i, 1) for i in hard[2:]]
    wanted += [(i, 2) for i in hard]
    for count in range(2, max(rows.values(), default=0) + 1):
        wanted += [(i, count) for i in range(len(studies)) if count <= rows[i]]
    return tuple(wanted)
