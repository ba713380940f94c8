"""Stage 2: a Song becomes an Arrangement. Calls the steps in order and joins their values once."""

from __future__ import annotations

from dataclasses import dataclass, replace

from arranger.harmony.candidates import OCTAVE
from arranger.harmony.join import joined
from arranger.harmony.model import Arrangement
from arranger.harmony.settled import Settled, settle
from arranger.harmony.taste import DEFAULT, Taste
from arranger.song.model import Song
from arranger.song.transpose import transposed
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.theory.key import Key, Transposition, all_keys
from arranger.theory.pitch import is_black


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """An arrangement with what it was made from; the hands were settled `shift` semitones away from where it sounds."""

    arrangement: Arrangement
    settled: Settled
    shift: int


def work_out(
    song: Song, taste: Taste = DEFAULT, key: Key | None = None, *, figures: bool = True
) -> tuple[WorkedOut | None, tuple[Diagnostic, ...]]:
    """Return the worked-out part, with what it was made from.

    Args:
        song: as read.
        taste: ranges and weights.
        key: another key for today, of the song's own mode. The hands learnt at home are moved as a whole where the
            window allows it; else the song is solved again and a warning says so.
        figures: without it the least movement and that of root position are not reckoned; pages do not show them.

    Returns:
        The part and what there is to say; None where there is no chord to play, or no hand for one.
    """
    if not any(mark.kind == "chord" for s in song.sections if not s.tacet for bar in s.bars for mark in bar.marks):
        return None, (error("no-chords", "expected a row of chords, found none to play", song.title.span),)
    settled, problems = settle(song, taste, figures=figures)
    if settled is None:
        return None, problems
    if key is None or key == song.key:
        return WorkedOut(joined(song, settled, taste, 0), settled, 0), problems
    other = transposed(song, key)
    shift = Transposition(song.key, key).semitones
    if _fits(settled, shift, taste):
        return WorkedOut(joined(other, settled, taste, shift), settled, shift), problems
    told = warning(
        "hands-changed",
        f"the hands of {song.key.words} do not fit the keyboard window in {key.words}; they are worked out again",
        song.title.span,
    )
    settled, problems = settle(other, taste, figures=figures)
    worked = WorkedOut(joined(other, settled, taste, 0), settled, 0) if settled else None
    return worked, (told, *problems)


def for_transposing_keyboard(
    song: Song, taste: Taste = DEFAULT, key: Key | None = None, *, figures: bool = True
) -> tuple[WorkedOut | None, tuple[Diagnostic, ...]]:
    """Work out the part in the easiest key for the hands, for a keyboard that is set to sound in the song's key.

    Args:
        song: as read.
        taste: ranges and weights.
        key: the key that is to sound; None for the song's own.
        figures: as `work_out`.

    Returns:
        As `work_out`; `Arrangement.transpose` says how to set the keyboard.
    """
    sounding = key or song.key
    easy = easiest_key(transposed(song, sounding) if sounding != song.key else song, taste)
    worked, problems = work_out(song, taste, easy, figures=figures)
    if worked is None:
        return None, problems
    set_by = Transposition(easy, sounding).semitones
    return replace(worked, arrangement=replace(worked.arrangement, transpose=set_by)), problems


def easiest_key(song: Song, taste: Taste = DEFAULT) -> Key:
    """Return the key, of the song's mode, in which the hands press the fewest black keys, counted as heard.

    For a keyboard that transposes: of equal keys the one nearest to the song's own wins.
    """
    settled, _ = settle(song, taste, figures=False)
    if settled is None:
        return song.key

    def black(semitones: int) -> int:
        count = 0
        for hand, left, unknown in zip(settled.hands, settled.lefts, settled.scene.uses.unknowns, strict=True):
            for shift in unknown.shifts:
                keys = (*hand.first, *left)
                count += unknown.times * sum(is_black(k + shift + semitones) for k in keys)
        return count

    nearest = sorted(range(-5, 7), key=lambda s: (black(s), abs(s), s))[0]
    place = (song.key.tonic.pitch_class + nearest) % OCTAVE
    keys = [k for k in all_keys() if k.minor == song.key.minor and k.tonic.pitch_class == place]
    return min(keys, key=lambda k: (abs(k.signature), k.signature))


def _fits(settled: Settled, shift: int, taste: Taste) -> bool:
    """Return whether all hands, moved as a whole, stay in the wider window for moved songs."""
    unknowns = settled.scene.uses.unknowns
    for hand, unknown in zip(settled.hands, unknowns, strict=True):
        for voicing in {hand.first, hand.last}:
            if voicing[0] + shift + min(unknown.shifts) < taste.moved_low:
                return False
            if voicing[-1] + shift + max(unknown.shifts) > taste.high:
                return False
    return True
