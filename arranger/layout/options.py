"""What a player can choose about the pages, and what the rooms of the layout pass on of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from arranger.layout import style
from arranger.units import A4, SHEETS, Paper, Sheet

Hands = Literal["keyboard", "staff", "letters"]
HANDS: tuple[Hands, ...] = ("keyboard", "staff", "letters")


@dataclass(frozen=True, slots=True)
class PartOptions:
    """What a player asks of the pages.

    Attributes:
        paper: the size of the pages.
        date: printed at the foot of each page as it is; None for none.
        hands: how hands are shown: pictures of the keyboard, notes on two staves, or letters.
        patches: the number (or place) of each sound on the player's instrument, by the sound's name, without case.
        fonts: the paths of fonts for scripts that the program's own lack, three at most, the first first.
    """

    paper: Paper = A4
    date: str | None = None
    hands: Hands = "keyboard"
    patches: tuple[tuple[str, str], ...] = ()
    fonts: tuple[str, ...] = ()


Prompts = Literal["first", "all", "none"]
PROMPTS: tuple[Prompts, ...] = ("first", "all", "none")


@dataclass(frozen=True, slots=True)
class StageOptions:
    """What a player asks of a stage copy.

    Attributes:
        sheet: what it is printed or shown on.
        margin: on all four sides, in points; None for the sheet's own.
        distance: from the eyes to the page, in metres.
        pages: how many there may be; None for as many as it takes.
        words: the first words of each row, all words, or none.
        dark: light on near-black.
        date: printed at the foot of each page as it is; None for none.
        patches: the number (or place) of each sound on the player's instrument, by the sound's name, without case.
        fonts: the paths of fonts for scripts that the program's own lack.
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


@dataclass(frozen=True, slots=True)
class Sizes:
    """The sizes of type on lines of music beside their words (pt), and how far raised figures are raised.

    `manner`: words at a chord. `small`: what stands under a hand, labels of fills, octaves of notes.
    """

    chord: float = style.CHORD
    raised: float = style.CHORD_RAISED
    rise: float = style.CHORD_RISE
    manner: float = style.MARGIN
    octave: float = style.OCTAVE
    letters: float = style.LETTERS
    small: float = style.SMALL
    ending: float = style.ENDING
    meter: float = style.METER


PART_SIZES = Sizes()


@dataclass(frozen=True, slots=True)
class Look:
    """How pages look throughout: how hands are shown; the size of words, the height of keyboards, gaps (pt); sizes."""

    hands: Hands = "keyboard"
    words: float = style.WORDS
    keyboard: float = style.KEY_HEIGHT
    section_gap: float = style.SECTION_GAP
    sizes: Sizes = PART_SIZES

    @classmethod
    def close(cls, hands: Hands) -> Look:
        """Return the look that takes less room, where that saves a page."""
        return cls(hands, style.WORDS_CLOSE, style.KEY_HEIGHT_CLOSE, style.SECTION_GAP_CLOSE)


DEFAULT_LOOK = Look()
