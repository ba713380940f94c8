"""Run the stages in order, one function each: text to Song, to Arrangement, to pages, to PDF.

No file is opened here and nothing is printed: that is for those who call.
"""

from typing import NamedTuple

from arranger.harmony.arrange import WorkedOut, work_out
from arranger.harmony.easiest_key import for_transposing_keyboard
from arranger.harmony.model import Arrangement
from arranger.intake import CHECKED, Diagnostics, Wishes, to_song
from arranger.layout.model import Document
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.song.model import Song
from arranger.text.diagnostics import has_errors
from arranger.text.source import Source

__all__ = (
    "CHECKED",
    "Diagnostics",
    "Part",
    "Wishes",
    "all_problems",
    "later_problems",
    "to_arrangement",
    "to_pages",
    "to_part",
    "to_song",
    "to_worked_out",
)


class Part(NamedTuple):
    """A finished part: the bytes of its PDF, and how many pages it has."""

    pdf: bytes
    pages: int


def to_worked_out(song: Song, wishes: Wishes) -> tuple[WorkedOut | None, Diagnostics]:
    """Work out what both hands do, with what it was made from; None where there is nothing to play."""
    work = for_transposing_keyboard if wishes.transpose else work_out
    return work(song, wishes.taste, wishes.key, figures=wishes.figures)


def to_arrangement(song: Song, wishes: Wishes) -> tuple[Arrangement | None, Diagnostics]:
    """Work out what both hands do; None where there is nothing to play."""
    worked, problems = to_worked_out(song, wishes)
    return (worked.arrangement if worked else None), problems


def to_pages(arrangement: Arrangement, wishes: Wishes) -> tuple[Document | None, Diagnostics]:
    """Set the pages; None where they cannot be printed as they should be."""
    document, problems = lay_out(arrangement, metrics(wishes.pages.fonts), options=wishes.pages)
    return (None if has_errors(problems) else document), problems


def to_part(arrangement: Arrangement, wishes: Wishes) -> tuple[Part | None, Diagnostics]:
    """Set the pages and write them; None where they cannot be printed as they should be."""
    document, problems = to_pages(arrangement, wishes)
    return (Part(to_bytes(document, wishes.pages.fonts), len(document.pages)) if document else None), problems


def all_problems(source: Source, wishes: Wishes = CHECKED) -> Diagnostics:
    """Return all that is wrong with a song, whichever stage finds it, without writing its part."""
    song, problems = to_song(source)
    return problems if song is None else (*problems, *later_problems(song, wishes))


def later_problems(song: Song, wishes: Wishes = CHECKED) -> Diagnostics:
    """Return what the stages after reading find wrong with a song, without writing its part."""
    arrangement, problems = to_arrangement(song, wishes)
    return problems if arrangement is None else (*problems, *to_pages(arrangement, wishes)[1])
