"""Run the stages in order, one function each: text to Song, to Arrangement, to pages, to PDF.

No file is opened here and nothing is printed: that is for those who call.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from arranger.convert.recognise import looks_like_a_sheet
from arranger.harmony.arrange import WorkedOut, work_out
from arranger.harmony.easiest_key import for_transposing_keyboard
from arranger.harmony.model import Arrangement
from arranger.harmony.taste import DEFAULT, Taste
from arranger.layout.model import Document
from arranger.layout.options import PartOptions, StageOptions
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.diagnostics import Diagnostic, error, has_errors
from arranger.text.source import Source
from arranger.text.terminal import quoted
from arranger.theory.key import Key

Diagnostics = tuple[Diagnostic, ...]
DEFAULT_PAGES = PartOptions()
DEFAULT_STAGE = StageOptions()


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the player asks for beside the song."""

    taste: Taste = DEFAULT
    key: Key | None = None  # another key for today, of the song's own mode; None for the key that is written
    pages: PartOptions = DEFAULT_PAGES
    stage: StageOptions = DEFAULT_STAGE
    transpose: bool = False  # the keyboard can transpose: the part is in the easiest key and says how to set it
    figures: bool = True  # reckon how good the hands are, beside the hands; pages do not show it


CHECKED = Wishes(figures=False)  # what a song is checked for where a player has said nothing


class Part(NamedTuple):
    """A finished part: the bytes of its PDF, and how many pages it has."""

    pdf: bytes
    pages: int


def to_song(source: Source) -> tuple[Song | None, Diagnostics]:
    """Read a song; None where the text has an error. Of a typed sheet one thing is said, and not each of its lines."""
    song, problems = read(source)
    if song is None and looks_like_a_sheet(source.text):
        hint = f"`arranger convert {quoted(source.name)}` makes a song of it"
        found = "expected a song, found a typed sheet: lines of chords above lines of words"
        return None, (error("typed-sheet", found, None, hint),)
    return song, problems


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
    if song is None:
        return problems
    arrangement, more = to_arrangement(song, wishes)
    if arrangement is None:
        return (*problems, *more)
    return (*problems, *more, *to_pages(arrangement, wishes)[1])
