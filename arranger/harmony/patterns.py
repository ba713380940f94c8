"""When the hands strike: THE table of rhythms, one bar for each manner and meter.

Printed under a section's name and sounded alike (`strokes`). Takes words and meters; gives strokes. A rhythm is written
on a grid of eighths, one letter each (`PARTS`); `-` goes on, `.` is silent. Common practice, no source.
"""

from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from typing import Literal, NamedTuple

from arranger.song.model import Meter

Part = Literal[
    "right hand", "lower keys", "next key", "left hand", "lowest note", "highest note", "fifth", "octave", "tenth"
]
PARTS: dict[str, Part] = {
    "R": "right hand",
    "l": "lower keys",  # all of the right hand but its top
    "k": "next key",  # one key of the right hand after the other, from below and back
    "L": "left hand",
    "b": "lowest note",  # of the left hand
    "h": "highest note",  # of the left hand; the only one again where it plays one
    "5": "fifth",  # above the left hand's lowest note
    "8": "octave",
    "x": "tenth",
}
IN_TURN = "k58xh"  # letters of a hand that plays its notes in turn: it begins anew with each chord


class Rhythm(NamedTuple):
    """One bar of both hands on a grid of eighths."""

    right: str
    left: str


PATTERNS: dict[str, dict[str, Rhythm]] = {
    "1/4": {"quarters": Rhythm("R-", "L-"), "eighths": Rhythm("Rl", "L-"), "broken": Rhythm(".k", "L-")},
    "2/4": {
        "halves": Rhythm("R---", "L---"),
        "quarters": Rhythm("R-R-", "L-L-"),
        "eighths": Rhythm("RlRl", "L-L-"),
        "broken": Rhythm(".kkk", "L---"),
    },
    "3/4": {  # the bass on 1, the hand on 2 and 3
        "halves": Rhythm("R---R-", "L-----"),
        "quarters": Rhythm("..R-R-", "L-----"),
        "eighths": Rhythm("..RlRl", "L-----"),
        "broken": Rhythm(".kkkkk", "L-----"),
    },
    "4/4": {
        "halves": Rhythm("R---R---", "L---L---"),
        "quarters": Rhythm("R-R-R-R-", "L-L-L-L-"),
        "eighths": Rhythm("RlRlRlRl", "L-L-L-L-"),
        "broken": Rhythm(".kkkkkkk", "L-------"),
    },
    "6/8": {
        "dotted halves": Rhythm("R-----", "L-----"),
        "dotted quarters": Rhythm("R--R--", "L--L--"),
        "quarters": Rhythm("R-R-R-", "L-----"),
        "eighths": Rhythm("RllRll", "L--L--"),
        "broken": Rhythm(".kkkkk", "L-----"),
    },
    "9/8": {
        "dotted quarters": Rhythm("R--R--R--", "L--L--L--"),
        "eighths": Rhythm("RllRllRll", "L--L--L--"),
        "broken": Rhythm(".kkkkkkkk", "L--------"),
    },
    "12/8": {
        "dotted halves": Rhythm("R-----R-----", "L-----L-----"),
        "dotted quarters": Rhythm("R--R--R--R--", "L--L--L--L--"),
        "quarters": Rhythm("R-R-R-R-R-R-", "L-----L-----"),
        "eighths": Rhythm("RllRllRllRll", "L--L--L--L--"),
        "broken": Rhythm(".kkkkk.kkkkk", "L-----L-----"),
    },
    # Groups of beats in other meters.
    "1/8": {"eighths": Rhythm("R", "L")},
    "2/8": {"quarters": Rhythm("R-", "L-"), "eighths": Rhythm("Rl", "L-"), "broken": Rhythm(".k", "L-")},
    "3/8": {
        "dotted quarters": Rhythm("R--", "L--"),
        "quarters": Rhythm("R--", "L--"),
        "eighths": Rhythm("Rll", "L--"),
        "broken": Rhythm(".kk", "L--"),
    },
}

# Where nobody plays bass: the left hand moves, the right hand keeps the beat.
ALONE: dict[str, dict[str, Rhythm]] = {
    "2/4": {"quarters": Rhythm("R-R-", "L---"), "eighths": Rhythm("R-R-", "bhbh")},
    "3/4": {
        "quarters and eighths": Rhythm("..R-Rl", "L-----"),
        "eighths": Rhythm("..R-R-", "bhhhhh"),
    },
    "4/4": {
        "quarters": Rhythm("R-R-R-R-", "L---L---"),
        "quarters and eighths": Rhythm("R-R-R-Rl", "L---L---"),
        "eighths": Rhythm("R-R-R-R-", "bhbhbhbh"),
    },
    "6/8": {"broken": Rhythm("R--R--", "b58x85"), "rolling": Rhythm("R--R--", "L58x85")},
    "9/8": {"broken": Rhythm("R--R--R--", "b58x858x8"), "rolling": Rhythm("R--R--R--", "L58x858x8")},
    "12/8": {
        "broken": Rhythm("R--R--R--R--", "b58x85b58x85"),
        "rolling": Rhythm("R--R--R--R--", "L58x85L58x85"),
    },
}

# Other meters, by the bars they are felt as.
JOINED: dict[str, tuple[str, ...]] = {
    "2/2": ("4/4",),
    "3/2": ("2/4", "2/4", "2/4"),
    "4/2": ("4/4", "4/4"),
    "5/4": ("3/4", "2/4"),
    "6/4": ("3/4", "3/4"),
    "7/4": ("4/4", "3/4"),
    "4/8": ("2/4",),
    "5/8": ("3/8", "2/8"),
    "7/8": ("2/8", "2/8", "3/8"),
    "8/8": ("3/8", "3/8", "2/8"),
    "15/8": ("9/8", "6/8"),
}

HELD = "held"
STRUCK_AS = {  # a word that has no rhythm of its own in a meter
    "rolling": "broken",
    "quarters and eighths": "quarters",
    "dotted halves": "halves",
    "dotted quarters": "quarters",
    "halves": "dotted halves",
    "quarters": "dotted quarters",
}
WORDS = frozenset({HELD, *STRUCK_AS, "eighths", "broken"})


class Stroke(NamedTuple):
    """One stroke of a bar: where it begins and how long it lasts, in quarters, and what is struck."""

    start: Fraction
    length: Fraction
    part: Part

    @property
    def is_right(self) -> bool:
        """Whether it is the right hand's."""
        return self.part in ("right hand", "lower keys", "next key")


def known_manner(words: str) -> str:
    """Return the manner that is meant by the words of a `play` line; `held` for words of the writer's own."""
    found = " ".join(words.casefold().split())
    return found if found in WORDS else HELD


@lru_cache(maxsize=256)  # of a song few; every section asks
def pattern(manner: str, meter: Meter, *, bass_player: bool) -> tuple[Stroke, ...]:
    """Return the strokes of one bar, the right hand's first; what has no rhythm in a meter is held.

    Args:
        manner: one of `WORDS`.
        meter: of the bar.
        bass_player: somebody plays bass, so that the left hand need not move.
    """
    if manner == HELD:
        return (Stroke(Fraction(0), meter.length, "right hand"), Stroke(Fraction(0), meter.length, "left hand"))
    unit, right, left = Fraction(1, 2), "", ""
    if meter.unit > 8:
        unit = Fraction(4, meter.unit)
    for bar in felt_bars(meter):
        rhythm = _rhythm(manner, bar, bass_player=bass_player)
        right, left = right + rhythm.right, left + rhythm.left
    return (*_strokes(right, unit), *_strokes(left, unit))


def felt_bars(meter: Meter) -> tuple[str, ...]:
    """Return the bars of the table that a meter is felt as: groups of two, the odd one with the last."""
    name = str(Meter(meter.beats, 8) if meter.unit > 8 else meter)
    if name in PATTERNS:
        return (name,)
    if name in JOINED:
        return JOINED[name]
    if meter.unit < 8:
        quarters = int(meter.length)
        rest = (quarters - 2) % 4 + 2
        return ("4/4",) * ((quarters - 2) // 4) + {2: ("2/4",), 3: ("3/4",), 4: ("4/4",), 5: ("3/4", "2/4")}[rest]
    return ("2/8",) * (meter.beats // 2 - 1) + (f"{2 + meter.beats % 2}/8",)


def _rhythm(manner: str, bar: str, *, bass_player: bool) -> Rhythm:
    eighths = Fraction(bar) * 8
    for word in (manner, STRUCK_AS.get(manner, manner)):
        if not bass_player and word in ALONE.get(bar, {}):
            return ALONE[bar][word]
        if word in PATTERNS[bar]:
            return PATTERNS[bar][word]
    going_on = "-" * (int(eighths) - 1)
    return Rhythm("R" + going_on, "L" + going_on)


def _strokes(grid: str, unit: Fraction) -> Iterator[Stroke]:
    for place, letter in enumerate(grid):
        if letter in PARTS:
            lasting = len(grid[place + 1 :]) - len(grid[place + 1 :].lstrip("-"))
            yield Stroke(place * unit, (1 + lasting) * unit, PARTS[letter])
