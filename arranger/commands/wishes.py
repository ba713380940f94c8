"""The player's wishes: player.toml with what the command line says over it. `player` shows what is in force."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from arranger import files
from arranger.cli import DONE, Refused, unexpected
from arranger.harmony.taste import Taste
from arranger.layout.options import HANDS, PROMPTS, PartOptions, StageOptions
from arranger.pdf.fonts import problem_with
from arranger.pipeline import Wishes
from arranger.player import DISTANCES, MOST_FONTS, Player, metres_of, read_player, share_of, written
from arranger.song.read import decode
from arranger.text.diagnostics import has_errors, render
from arranger.text.terminal import printable
from arranger.units import PAPERS, SCREENS, SHEETS, WIDEST_MARGIN, Sheet, in_units, inch, mm, screen

ROUNDING = 1e-6  # points
LONGEST_DATE = 40  # characters: what fits beside title and key at the foot of a page
PAGES = {"1": 1, "2": 2, "any": None}  # how many a stage copy may have


def run_player(options: argparse.Namespace) -> int:
    """Print a player's settings, or write the first file of them."""
    text = written(player_of(options.player))
    if not options.write:
        print(text, end="")
        return DONE
    path = files.settings_path()
    if path is None:
        raise Refused(("there is no home folder to keep settings in", "`arranger player > player.toml`, then --player"))
    if path.exists():
        raise Refused((f"{path} exists already; it stays as it is", "open it in an editor"))
    try:
        files.write(path, text.encode(), lambda _: False)
    except OSError as fault:
        raise Refused((f"{path} cannot be written: {files.reason(fault)}", "")) from None
    print(printable(str(path)))
    return DONE


def player_of(word: str | None) -> Player:
    """Read the player's settings: from the file that is named, else from the platform's place, else the defaults."""
    path = files.settings_path() if word is None else Path(word)
    try:
        if path is None or (word is None and not path.exists()):
            return Player()
        data = files.read(path)
    except (OSError, ValueError) as fault:
        hint = "`arranger player --write` makes one to start from" if word is None else ""
        raise Refused((f"the settings {path} cannot be read: {files.reason(fault)}", hint)) from None
    source, problems = decode(str(path), data)
    player = Player()
    if not problems:
        player, problems = read_player(source)
    if has_errors(problems):
        for problem in problems:
            print(render(problem, source), file=sys.stderr)
        raise Refused(("the player's settings have mistakes; nothing was done", ""))
    return player


def wishes_of(options: argparse.Namespace) -> Wishes:
    """Read the options that shape the part, all but the key, which depends on the song."""
    player = player_of(options.player)
    taste = _taste(options, player)
    if options.command == "show":
        return Wishes(taste, transpose=player.transpose)
    paper = PAPERS[one_of("--paper", options.paper or player.paper, PAPERS)]
    hands = one_of("--hands", options.hands or HANDS[0], HANDS)
    pages = PartOptions(paper, _date(options.date), hands, player.patches, _fonts(options, player))
    return Wishes(taste, pages=pages, transpose=player.transpose, figures=False)


def checking(options: argparse.Namespace) -> Wishes:
    """Read what a song is checked for: the player's own hands, keyboard, paper and fonts."""
    player = player_of(options.player)
    pages = PartOptions(PAPERS[player.paper], fonts=_fonts(options, player), patches=player.patches)
    return Wishes(player.taste(), pages=pages, transpose=player.transpose, figures=False)


def staging(options: argparse.Namespace) -> Wishes:
    """Read the options that shape a stage copy, all but the key, which depends on the song."""
    player = player_of(options.player)
    sheet = _sheet(options, player)
    stage = StageOptions(
        sheet=sheet,
        margin=_margin(options.margin, sheet),
        distance=_distance(options.distance) if options.distance else player.distance,
        pages=PAGES[one_of("--pages", options.pages or "any", PAGES)],
        words=one_of("--words", options.words or player.stage_words, PROMPTS),
        dark=options.dark or player.stage_dark,
        date=_date(options.date),
        patches=player.patches,
        fonts=_fonts(options, player),
    )
    return Wishes(_taste(options, player), stage=stage, transpose=player.transpose, figures=False)


def _taste(options: argparse.Namespace, player: Player) -> Taste:
    """Return the player's taste with what the command line says over it."""
    words = [word.strip() for given in options.without for word in given.split(",")]
    without = {one_of("--without", word, ("suspensions", "octaves")) for word in words}
    share = None if options.suspensions is None else _share(options.suspensions)
    if "suspensions" in without and share:
        raise Refused(("--without suspensions and --suspensions contradict each other", ""))
    if "octaves" in without and options.octaves is not None:
        raise Refused(("--without octaves and --octaves contradict each other", ""))
    if options.easy and (share or options.octaves):
        raise Refused(("--easy has no suspensions and no octave lines", "leave --suspensions and --octaves out"))
    taste = player.taste()
    if options.easy:
        taste = replace(taste, easy=True, notes=3)
    if "suspensions" in without or options.easy:
        share = Fraction(0)
    if share is not None:
        taste = replace(taste, suspensions=share)
    if "octaves" in without or options.easy:
        taste = replace(taste, octaves="none")
    elif options.octaves is not None:
        hint = "--without octaves leaves them out" if _is_no(options.octaves) else ""
        taste = replace(taste, octaves=one_of("--octaves", options.octaves, ("every", "phrase"), hint))
    return taste


# What is typed after an option.


def one_of(option: str, word: str, known: Sequence[str] | dict[str, Any], hint: str = "") -> Any:
    """Return a word that is known after an option, in small letters; refuse another, with a hint."""
    if word.lower() in known:
        return word.lower()
    raise unexpected(" or ".join(known), option, word, hint)


def _is_no(word: str) -> bool:
    """Return whether a word asks for none of something."""
    return word.strip().lower() in ("off", "no", "none", "0", "never", "false")


def _share(text: str) -> Fraction:
    """Read a share of the chords: `1/6`, `0` or `1`."""
    share = share_of(text)
    if share is not None and share <= 1:
        return share
    hint = "--without suspensions leaves them out" if _is_no(text) else "1/6, 1/3, or 0 for none"
    raise unexpected("a share of the chords", "--suspensions", text, hint)


def _sheet(options: argparse.Namespace, player: Player) -> Sheet:
    """Return what a stage copy is shown on, a tablet's screen in its own size."""
    sheet = SHEETS[one_of("--paper", options.paper or player.stage_paper, SHEETS)]
    if options.screen is None:
        return sheet
    if not sheet.screen:
        raise Refused((f"--screen is for tablets, and the paper is {sheet.name}", "--paper tablet, or tablet-flat"))
    diagonal = in_units(options.screen, {"in": 1.0}, "in")
    low, high = SCREENS
    if diagonal is None or not low <= diagonal <= high:
        raise unexpected(f"a diagonal from {low:g} to {high:g} inches", "--screen", options.screen, "--screen 12.9")
    return screen(sheet.name, inch(diagonal), upright=sheet.height > sheet.width)


def _margin(text: str | None, sheet: Sheet) -> float | None:
    """Read a margin in points; refuse one that printers cannot keep, or that wastes the page."""
    if text is None:
        return None
    given = in_units(text, {"mm": mm(1), "cm": mm(10), "in": inch(1)}, "mm")
    if given is None or not sheet.least - ROUNDING <= given <= WIDEST_MARGIN + ROUNDING:
        least, most = f"{sheet.least / mm(1):.0f}", f"{WIDEST_MARGIN / mm(1):.1f}"
        why = "" if sheet.screen else "printers leave up to 6 mm white at the edges"
        raise unexpected(f"a margin from {least} to {most} mm", "--margin", text, why)
    return given


def _distance(text: str) -> float:
    """Read a distance in metres."""
    metres = metres_of(text)
    if metres is None:
        low, high = DISTANCES
        raise unexpected(f"a distance from {low:g} m to {high:g} m", "--distance", text, "--distance 0.9m, or 90cm")
    return metres


def _date(text: str | None) -> str | None:
    if text is not None and (not text.strip() or printable(text) != text or len(text) > LONGEST_DATE):
        raise unexpected(f"a date of 1 to {LONGEST_DATE} plain characters", "--date", text, "--date 2026-11-29")
    return text and text.strip()


def _fonts(options: argparse.Namespace, player: Player) -> tuple[str, ...]:
    """Return the paths of the player's own fonts, of the command line or the settings; refuse what is none."""
    paths = options.font or [_beside_settings(options, name) for name in player.fonts]
    if len(paths) > MOST_FONTS:
        raise Refused((f"--font can be given {MOST_FONTS} times at most, found {len(paths)}", ""))
    for path in paths:
        problem = problem_with(path)
        if problem is not None:
            raise Refused((f"the font {path} {problem}", "a file that ends in .ttf"))
    return tuple(paths)


def _beside_settings(options: argparse.Namespace, name: str) -> str:
    """Return the path of a font as the settings name it: from their own folder, `~` being the home of its user."""
    settings = files.settings_path() if options.player is None else Path(options.player)
    try:
        return str((settings or Path()).parent / Path(name).expanduser())
    except RuntimeError:
        raise Refused((f"the font {name} cannot be read: no such user has a home here", "a whole path")) from None
