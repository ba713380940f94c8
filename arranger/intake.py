"""Take in what every command begins with: the player's wishes, and the song.

Nothing of the later stages is loaded here: of a song with a mistake, or a command that only reads, they are not needed.
"""

from __future__ import annotations

from typing import NamedTuple

from arranger.convert.recognise import looks_like_a_sheet
from arranger.harmony.taste import DEFAULT, Taste
from arranger.layout.options import PartOptions, StageOptions
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import Source
from arranger.text.terminal import quoted
from arranger.theory.key import Key

Diagnostics = tuple[Diagnostic, ...]
DEFAULT_PAGES = PartOptions()
DEFAULT_STAGE = StageOptions()


class Wishes(NamedTuple):
    """What the player asks for beside the song."""

    taste: Taste = DEFAULT
    key: Key | None = None  # another key for today, of the song's own mode; None for the key that is written
    pages: PartOptions = DEFAULT_PAGES
    stage: StageOptions = DEFAULT_STAGE
    transpose: bool = False  # the keyboard can transpose: the part is in the easiest key and says how to set it
    figures: bool = True  # reckon how good the hands are, beside the hands; pages do not show it


CHECKED = Wishes(figures=False)  # what a song is checked for where a player has said nothing


def to_song(source: Source) -> tuple[Song | None, Diagnostics]:
    """Read a song; None where the text has an error. Of a typed sheet one thing is said, and not each of its lines."""
    song, problems = read(source)
    if song is None and looks_like_a_sheet(source.text):
        hint = f"`arranger convert {quoted(source.name)}` makes a song of it"
        found = "expected a song, found a typed sheet: lines of chords above lines of words"
        return None, (error("typed-sheet", found, None, hint),)
    return song, problems
