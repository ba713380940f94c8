"""Define what a player can choose about the pages of parts and stage copies."""

from typing import Literal, NamedTuple

from arranger.units import A4, SHEETS, Paper, Sheet

Hands = Literal["keyboard", "staff", "letters"]
HANDS: tuple[Hands, ...] = ("keyboard", "staff", "letters")
Verses = Literal["together", "apart"]
VERSES: tuple[Verses, ...] = ("together", "apart")


class PartOptions(NamedTuple):
    """What a player asks of the pages of a part.

    Attributes:
        paper: the size of the pages.
        date: printed at the foot of each page as it is; None for none.
        hands: how hands are shown: pictures of the keyboard, notes on two staves, or letters.
        patches: the number (or place) of each sound on the player's instrument, by the sound's name, without case.
        fonts: the paths of fonts for scripts that the program's own lack, three at most, the first first.
        verses: sections that are played alike are drawn once, or each.
        pages: how many there may be; None for as few as can be.
    """

    paper: Paper = A4
    date: str | None = None
    hands: Hands = "keyboard"
    patches: tuple[tuple[str, str], ...] = ()
    fonts: tuple[str, ...] = ()
    verses: Verses = "together"
    pages: int | None = None


PART_OPTIONS = PartOptions()

Prompts = Literal["first", "all", "none"]
PROMPTS: tuple[Prompts, ...] = ("first", "all", "none")


class StageOptions(NamedTuple):
    """What a player asks of a stage copy.

    Attributes:
        sheet: what it is printed or shown on.
        margin: on all four sides, in points; None for the sheet's own.
        distance: from the eyes to the page, in metres.
        pages: how many there may be; None for as many as it takes.
        words: the first words of each row, all words, or none.
        dark: light on near-black.
        date, patches, fonts: as in `PartOptions`.
    """

    sheet: Sheet = SHEETS["a4"]
    margin: float | None = None
    distance: float = 0.7
    pages: int | None = None
    words: Prompts = "first"
    dark: bool = False
    date: str | None = None
    patches: tuple[tuple[str, str], ...] = ()
    fonts: tuple[str, ...] = ()
