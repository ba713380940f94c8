"""The four words for how full the keys play: as a fact of a section or song, and in remarks of the roadmap."""

from __future__ import annotations

import re
from typing import get_args

from arranger.habits.signs import with_own_signs
from arranger.late import load
from arranger.song.grammar import Failure, parse_fact
from arranger.song.model import Texture, TextureFact
from arranger.song.players import band_change
from arranger.song.song_line import SongLine
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.text.source import Span

TEXTURES: tuple[Texture, ...] = get_args(Texture)
_LEVELS: dict[str, Texture] = {level: level for level in TEXTURES}
_LEVEL = "|".join(TEXTURES)
# Remarks that name several without the comma: `light to full`, `light / full`, `light, full and wide`.
_SEVERAL = rf"(?i)(?:{_LEVEL})(?:(?:\s*(?:[-–—>→/+&,;]|\bto\b|\bthen\b|\band\b)+\s*|\s+)(?:{_LEVEL}))+"


def read_texture(line: SongLine, problems: Problems) -> TextureFact | None:
    """Read `full`, `light to full`."""
    found = parse_fact("texture", with_own_signs(line.text))
    if isinstance(found, Failure):
        hint, better = load("arranger.habits.how_full").texture(line.text, problems)
        told = shown(line.text) if line.text else "nothing"
        message = f"expected `bare`, `light`, `full` or `wide`, or two as `light to full`, found {told}"
        problems.error("bad-texture", message, line.span, hint, fix=None if better is None else Fix(line.span, better))
        return None
    level, rises_to = _LEVELS[found[0].text.lower()], _LEVELS[found[1].text.lower()] if found[1:] else None
    if level == rises_to:
        message = f"expected two textures that differ, found {shown(line.text)}"
        problems.error("bad-texture", message, line.span, f"write `texture {level}` where it stays")
        return None
    return TextureFact(line.text, level, rises_to, line.span)


def step_textures(remark: str, times: int, span: Span, problems: Problems) -> tuple[Texture, ...]:
    """Return a texture for each pass where a remark is made of these words alone, or of them and who plays.

    Args:
        remark: the words in parentheses.
        times: how often the step is played.
        span: the place of the step.
        problems: takes what is wrong.
    """
    clauses = [clause.strip() for clause in remark.split(",")]
    named = [_LEVELS[clause.lower()] for clause in clauses if clause.lower() in _LEVELS]
    others = ", ".join(clause for clause in clauses if clause.lower() not in _LEVELS)
    if not named or (others and not _only_players(others)):
        if re.fullmatch(_SEVERAL, remark):
            message = f"expected a texture for each pass, with commas between, found the remark {shown(f'({remark})')}"
            hint = "write `Bridge x2 (light, full)`; in one pass it changes by `texture light to full` in the section"
            problems.warning("texture-in-remark", message, span, hint)
        return ()
    if len(named) == 1:
        return (named[0],) * times
    if len(named) != times:
        wanted = "one texture" if times == 1 else f"one texture or {times}"
        passes = count(times, "pass") if times == 1 else f"{times} passes"
        message = f"expected {wanted} for {passes}, found {len(named)}"
        hint = "one word is for all passes, else each pass has its own: `Bridge x3 (light, full, wide)`"
        problems.error("texture-passes", message, span, hint)
        return ()
    return tuple(named)


def _only_players(text: str) -> bool:
    """Return whether each clause, or what it is listed with, speaks of who plays."""
    return band_change(text) is not None and all(
        band_change(clause) is not None or band_change(f"{clause.strip()} out") is not None
        for clause in text.split(",")
    )
