"""Stage 2: a Song becomes an Arrangement. Calls the steps in order and joins their values once."""

from __future__ import annotations

from arranger.diagnostics import Diagnostic, error, warning
from arranger.harmony.join import joined
from arranger.harmony.model import Arrangement
from arranger.harmony.settled import Settled, settle
from arranger.harmony.taste import DEFAULT, Taste
from arranger.song.model import Song
from arranger.song.transpose import transposed
from arranger.theory.key import Key, Transposition


def arrange(
    song: Song, taste: Taste = DEFAULT, key: Key | None = None
) -> tuple[Arrangement | None, tuple[Diagnostic, ...]]:
    """Work out the part.

    Args:
        song: as read.
        taste: ranges and weights.
        key: another key for today, of the song's own mode. The hands learnt at home are moved as a whole where the
            window allows it; else the song is solved again and a warning says so.

    Returns:
        The arrangement and what there is to say; None where there is no chord to play, or no hand for one.
    """
    if not any(mark.kind == "chord" for s in song.sections if not s.tacet for bar in s.bars for mark in bar.marks):
        return None, (error("no-chords", "expected a row of chords, found none to play", song.title.span),)
    settled, problems = settle(song, taste)
    if settled is None or key is None or key == song.key:
        return (joined(song, settled, taste, 0) if settled else None), problems
    other = transposed(song, key)
    shift = Transposition(song.key, key).semitones
    if _fits(settled, shift, taste):
        return joined(other, settled, taste, shift), problems
    told = warning(
        "hands-changed",
        f"the hands of {song.key.words} do not fit the keyboard window in {key.words}; they are worked out again",
        song.title.span,
    )
    again, problems = settle(other, taste)
    return (joined(other, again, taste, 0) if again else None), (told, *problems)


def _fits(settled: Settled, shift: int, taste: Taste) -> bool:
    """Tell whether all hands, moved as a whole, stay in the wider window for moved songs."""
    unknowns = settled.scene.uses.unknowns
    for hand, unknown in zip(settled.hands, unknowns, strict=True):
        for voicing in {hand.first, hand.last}:
            if voicing[0] + shift + min(unknown.shifts) < taste.moved_low:
                return False
            if voicing[-1] + shift + max(unknown.shifts) > taste.high:
                return False
    return True
