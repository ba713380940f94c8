"""The `band` lines of the song and of its sections, held against each other."""

from __future__ import annotations

from arranger.late import load
from arranger.song.players import ALL, ALONE, band_change, band_with, is_alone, meant_by, own_band, parted
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Span


def song_band(players: tuple[str, ...], place: Span, problems: Problems) -> tuple[str, ...]:
    """Return who plays with the keys, by the line at the top; nobody for `keys alone`."""
    said = ", ".join(players)
    if said.casefold() == ALL:
        message = f"expected the names of players at the top, found {shown(said)}"
        hint = "write `band bass, drums`; in a section `band all` then means all of these"
        problems.error("bad-band", message, place, hint)
    return () if is_alone(said) else players


def check_own_band(
    players: tuple[str, ...] | None, place: Span | None, whole: tuple[str, ...], problems: Problems
) -> None:
    """Check a section's own `band` line.

    Args:
        players: as the line names them; None where the section has no such line.
        place: of the line.
        whole: the song's band.
        problems: takes what is wrong.
    """
    if players is None or place is None:
        return
    said = ", ".join(players)
    hint, better = load("arranger.habits.how_full").band(said)
    change = band_change(said)
    mixed = len(players) > 1 and any(one.casefold() == ALL or is_alone(one) for one in players)
    if mixed:
        hint = f"name them all, or write `{ALL}` or `{ALONE}` with nothing else"
    elif better is None and change is not None and not change.alone:
        left = ", ".join(band_with(change, whole, whole))
        hint = f"name all who play here: `band {left or ALONE}`"
    if better is not None or mixed or (change is not None and not change.alone):
        message = f"expected names of players, `{ALL}` or `{ALONE}`, found {shown(said)}"
        problems.error("bad-band", message, place, hint, fix=None if better is None else Fix(place, better))
        return
    for player in own_band(players, whole) if whole else ():
        if not meant_by(player, whole):
            message = f"expected players of the song's band here, found {shown(player)}"
            known = ", ".join(one for name in whole for one in parted(name))
            near = problems.nearest(player, [one for name in whole for one in parted(name)])
            hint = f"did you mean `{near[0]}`?" if near else f"at the top stands `band {known}`: add who plays there"
            problems.warning("player-not-in-band", message, place, hint)
