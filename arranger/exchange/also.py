"""Make what is asked for beside a PDF: the part as MIDI or as MusicXML.

Takes an Arrangement; gives bytes. Each kind is loaded when it is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from arranger.digests import sealed
from arranger.harmony.model import Arrangement
from arranger.late import load
from arranger.settings import ALSO
from arranger.sounding.perform import FULL_SPEED, perform
from arranger.units import in_minutes


class MadeBeside(NamedTuple):
    """What stands beside a PDF: the ending of its name, its bytes, and what is said of it."""

    ending: str
    data: bytes
    said: str


def made_beside(
    arrangement: Arrangement, kinds: Sequence[str], *, share: Fraction = FULL_SPEED, count_in: bool = False
) -> tuple[MadeBeside, ...]:
    """Return what is asked for beside a PDF, of each kind (of `settings.ALSO`) in order.

    Args:
        arrangement: the song.
        kinds: of `settings.ALSO`.
        share: of the tempo, for MIDI.
        count_in: a bar is counted before the song, in MIDI.

    Raises:
        ValueError: the song sounds for hours; the message says so.
    """
    made = {"midi": lambda: _midi(arrangement, share, count_in), "musicxml": lambda: _musicxml(arrangement)}
    return tuple(MadeBeside(ALSO[kind], *made[kind]()) for kind in kinds)


def _midi(arrangement: Arrangement, share: Fraction, count_in: bool) -> tuple[bytes, str]:
    performance = perform(arrangement, share=share, count_in=count_in)
    data: bytes = load("arranger.exchange.midi").to_midi(performance)
    how = ", at 80 where no tempo is written" if performance.free else ""
    return data, f"{len(performance.notes)} notes, {in_minutes(performance.seconds(performance.length))}{how}"


def _musicxml(arrangement: Arrangement) -> tuple[bytes, str]:
    data: bytes = load("arranger.exchange.musicxml").to_musicxml(arrangement)
    return sealed(data), f"{len(arrangement.bars)} bars"
