"""Make studies of arranged songs, lay them out and write them: the last stages of the pipeline for practising.

Beside the pipeline, not in it: who makes parts does not wait until all that makes studies is loaded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from arranger.harmony.model import Arrangement
from arranger.intake import Diagnostics, Wishes
from arranger.late import load
from arranger.layout.model import Document
from arranger.layout.pages.study_page import lay_out_studies
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.studies.model import TimedStudy
from arranger.studies.offer import has_changes, studies_of
from arranger.studies.played_through import played_through
from arranger.studies.study_hands import ArrangedSong
from arranger.text.diagnostics import has_errors
from arranger.units import in_minutes


@dataclass(frozen=True, slots=True)
class StudyPages:
    """Finished studies: the bytes of their PDF, its pages, the studies, and those for which there was no room."""

    pdf: bytes
    document: Document
    timed: tuple[TimedStudy, ...]
    left_out: tuple[str, ...]

    @property
    def pages(self) -> int:
        """How many pages they have."""
        return len(self.document.pages)

    @property
    def said(self) -> str:
        """How many pages and studies there are, in words."""
        studies = "1 study" if len(self.timed) == 1 else f"{len(self.timed)} studies"
        return f"{self.pages} page{'' if self.pages == 1 else 's'}, {studies}"

    @property
    def no_room(self) -> str:
        """What there was no room for, in words; empty where there was room for all."""
        return f"no room for {'; '.join(self.left_out)}" if self.left_out else ""


def has_study(song: Arrangement) -> bool:
    """Return whether there is a change of chord in a song to practise."""
    return has_changes(ArrangedSong("", song))


def to_studies(
    songs: Sequence[Arrangement], minutes: int, pages: int, wishes: Wishes, name: str = ""
) -> tuple[StudyPages | None, Diagnostics]:
    """Make the pages to practise from; None where they cannot be printed as they should be.

    Args:
        songs: as they are played, each with a change of chord.
        minutes: how long, at least 3.
        pages: how many at most, 1 or 2.
        wishes: the player's limits, paper and fonts.
        name: of the evening for which they are; empty where there is none.
    """
    named = [ArrangedSong(song.song.title.value, song) for song in songs]
    studies = studies_of(named, wishes.taste, minutes, wishes.pages.patches, name)
    fonts = wishes.pages.fonts
    laid, problems = lay_out_studies(studies, minutes, pages, wishes.pages, metrics(fonts))
    problems = tuple(problem._replace(span=None) for problem in problems)  # of one song among several
    if has_errors(problems):
        return None, problems
    document = laid.document
    return StudyPages(to_bytes(document, fonts), document, laid.timed, laid.left_out), problems


def to_study_midi(made: StudyPages) -> tuple[bytes, str] | None:
    """Write all studies of some pages as one MIDI file, to hear before they are practised; with what is to be said.

    None where there is nothing to hear: changes of sound alone.
    """
    performance = played_through(made.document.title, made.timed)
    if performance is None:
        return None
    data: bytes = load("arranger.exchange.midi").to_midi(performance)
    heard = f"{len(performance.markers)} studies" if len(performance.markers) != 1 else "1 study"
    return data, f"{heard}, {in_minutes(performance.seconds(performance.length))}"
