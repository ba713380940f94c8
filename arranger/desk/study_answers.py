"""Make what is practised from some songs, for the desk: the same bytes as `arranger study`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from arranger.desk.questions import ChosenToday
from arranger.harmony.model import Arrangement
from arranger.intake import Diagnostics, Wishes
from arranger.layout.model import Document
from arranger.practising import StudyPages, has_study, to_studies, to_study_midi
from arranger.text.diagnostics import error, warning


class MadeStudies(NamedTuple):
    """Studies, None where there are none; and what there is to say."""

    made: StudyPages | None
    problems: Diagnostics

    @property
    def document(self) -> Document | None:
        """Their pages."""
        return self.made.document if self.made is not None else None

    @property
    def pdf(self) -> bytes:
        """The bytes of their PDF; none where there are no studies."""
        return self.made.pdf if self.made is not None else b""

    @property
    def said(self) -> str:
        """What there was no room for, in words; empty where there was room for all."""
        if self.made is None or not self.made.no_room:
            return ""
        return f"{self.made.no_room}{'; two pages have more' if self.made.pages == 1 else ''}"


def study(songs: Sequence[tuple[str, Arrangement]], chosen: ChosenToday, wishes: Wishes, name: str = "") -> MadeStudies:
    """Make the studies of some songs together.

    Args:
        songs: the name of each one's file, and how it is played.
        chosen: for how long and on how many pages.
        wishes: the player's.
        name: of the evening for which they are; empty where there is none.
    """
    usable = [arrangement for _, arrangement in songs if has_study(arrangement)]
    if not usable:
        which = "" if len(songs) == 1 else f" in one of {len(songs)} songs at least"
        return MadeStudies(None, (error("no-change", f"expected a change of chord to practise{which}, found none"),))
    problems: Diagnostics = tuple(
        warning("no-change", f"{file} has no change of chord; no study is from it")
        for file, arrangement in songs
        if not has_study(arrangement)
    )
    made, more = to_studies(usable, chosen.minutes, chosen.sheets, wishes, name)
    return MadeStudies(made, (*problems, *more))


def heard(studies: MadeStudies) -> tuple[bytes | None, Diagnostics]:
    """Return studies as one MIDI file; None, with what is wrong, where there is nothing to hear."""
    if studies.made is None:
        return None, studies.problems
    try:
        found = to_study_midi(studies.made)
    except ValueError as fault:  # they would sound for hours
        return None, (error("too-long", str(fault)),)
    if found is None:
        return None, (error("nothing-to-hear", "expected a change of chord to hear, found changes of sound alone"),)
    return found[0], ()
