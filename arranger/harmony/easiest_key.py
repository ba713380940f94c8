"""Work out a part in the key that is easiest for the hands, for a keyboard that is set to sound in another."""

from __future__ import annotations

from arranger.harmony.arrange import WorkedOut, work_out
from arranger.harmony.settled import settled
from arranger.harmony.taste import DEFAULT, Taste
from arranger.harmony.voicings import OCTAVE
from arranger.song.model import Song
from arranger.song.transpose import transposed
from arranger.text.diagnostics import Diagnostic
from arranger.theory.key import Key, Transposition, all_keys
from arranger.theory.pitch import is_black


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
    return worked._replace(arrangement=worked.arrangement._replace(transpose=set_by)), problems


def easiest_key(song: Song, taste: Taste = DEFAULT) -> Key:
    """Return the key, of the song's mode, in which the hands press the fewest black keys, counted as heard.

    For a keyboard that transposes: of equal keys the one nearest to the song's own wins.
    """
    solved, _ = settled(song, taste, figures=False)
    if solved is None:
        return song.key

    def black(semitones: int) -> int:
        count = 0
        for hand, left, unknown in zip(solved.hands, solved.scene.lefts, solved.scene.uses.unknowns, strict=True):
            for shift in unknown.shifts:
                keys = (*hand.first, *left)
                count += unknown.times * sum(is_black(k + shift + semitones) for k in keys)
        return count

    nearest = sorted(range(-5, 7), key=lambda s: (black(s), abs(s), s))[0]
    place = (song.key.tonic.pitch_class + nearest) % OCTAVE
    keys = [k for k in all_keys() if k.minor == song.key.minor and k.tonic.pitch_class == place]
    return min(keys, key=lambda k: (abs(k.signature), k.signature))
