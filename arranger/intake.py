"""Take in what every command begins with: the player's wishes, and the song.

Nothing of the later stages is loaded here: of a song with a mistake, or a command that only reads, they are not needed.
"""

from typing import NamedTuple

from arranger.convert.recognise import looks_like_a_sheet
from arranger.harmony.taste import DEFAULT, Taste
from arranger.layout.options import PartOptions, StageOptions
from arranger.player import Player
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import Source
from arranger.text.terminal import quoted
from arranger.theory.key import Key
from arranger.units import PAPERS, SHEETS, Sheet

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


def wishes_of_player(
    player: Player,
    *,
    easy: bool = False,
    fonts: tuple[str, ...] = (),
    sheet: Sheet | None = None,
    margin: float | None = None,
) -> Wishes:
    """Return what a player wishes, by the settings and what is chosen today; without another key.

    Args:
        player: the settings, with what is chosen over them.
        easy: triads by name and one bass note.
        fonts: the paths of the player's own fonts.
        sheet: what a stage copy is shown on; None for that of the settings.
        margin: of a stage copy, in points; None for the sheet's own.
    """
    pages = PartOptions(
        PAPERS[player.paper], player.date, player.hands, player.patches, fonts, player.verses, player.pages
    )
    stage = StageOptions(
        sheet=sheet or SHEETS[player.stage_paper],
        margin=margin,
        distance=player.distance,
        pages=player.pages,
        words=player.stage_words,
        dark=player.stage_dark,
        date=player.date,
        patches=player.patches,
        fonts=fonts,
    )
    taste = player.taste(DEFAULT._replace(easy=True) if easy else DEFAULT)
    return Wishes(taste, pages=pages, stage=stage, transpose=player.transpose, figures=False)


def to_song(source: Source) -> tuple[Song | None, Diagnostics]:
    """Read a song; None where the text has an error. Of a typed sheet one thing is said, and not each of its lines."""
    song, problems = read(source)
    if song is None and looks_like_a_sheet(source.text):
        hint = f"`arranger convert {quoted(source.name)}` makes a song of it"
        found = "expected a song, found a typed sheet: lines of chords above lines of words"
        return None, (error("typed-sheet", found, None, hint),)
    return song, problems
