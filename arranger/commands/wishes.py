"""Read what the player wishes, from player.toml and the options over it; run `player`, which prints the settings."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from arranger import files
from arranger.cli import DONE, Refused, say, unexpected
from arranger.intake import Wishes, wishes_of_player
from arranger.late import load
from arranger.player import EASY, MOST_FONTS, Player, WrongValueError, read_player, typed_value, written
from arranger.settings import COMMANDS, option_of
from arranger.song.read import decode
from arranger.text.diagnostics import has_errors, render
from arranger.text.terminal import printable
from arranger.units import SCREENS, SHEETS, WIDEST_MARGIN, Sheet, in_units, inch, mm, screen

ROUNDING = 1e-6  # points
WITHOUT = ("suspensions", "octaves", "arc")  # what a part can be made without


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
            say(render(problem, source))
        raise Refused(("the player's settings have mistakes; nothing was done", ""))
    return player


def wishes_of(options: argparse.Namespace) -> Wishes:
    """Return what the player wishes, by the settings and the options; not the key, which depends on the song."""
    player = _with_options(player_of(options.player), options)
    easy = bool(_given(options, "easy"))
    if options.command == "show":
        return wishes_of_player(player, easy=easy)._replace(figures=True)
    sheet = _sheet(SHEETS[player.stage_paper], _given(options, "screen"))
    margin = _margin(_given(options, "margin"), sheet)
    return wishes_of_player(player, easy=easy, fonts=_fonts(options, player), sheet=sheet, margin=margin)


def _given(options: argparse.Namespace, name: str) -> Any:
    """Return what was typed for an option; None where nothing was, or where the command has no such option."""
    return vars(options).get(name)


def _with_options(player: Player, options: argparse.Namespace) -> Player:
    """Return a player's settings with what the command line says over them, by the table of the options."""
    words = [word.strip() for given in _given(options, "without") or () for word in given.split(",")]
    without = {one_of("--without", word, WITHOUT) for word in words}
    changes: dict[str, Any] = {}
    for option in COMMANDS[options.command]["options"].split():
        _, _, *chosen = option_of(options.command, option)
        given = _given(options, option.removeprefix("--")) if chosen else None
        if given is not None and given is not False:
            changes[chosen[0]] = _typed(option, chosen[1], given)
    for what in WITHOUT:
        if what in without and changes.get(what):
            raise Refused((f"--without {what} and --{what} contradict each other", ""))
    if _given(options, "easy"):
        if changes.get("suspensions") or "octaves" in changes:
            raise Refused(("--easy has no suspensions and no octave lines", "leave --suspensions and --octaves out"))
        return player._replace(**changes | EASY)
    return player._replace(**changes | {what: EASY[what] for what in without})


# What is typed after an option.


def one_of(option: str, word: str, known: Sequence[str]) -> str:
    """Return a word that is known after an option, in small letters; refuse another."""
    if word.lower() in known:
        return word.lower()
    raise unexpected(" or ".join(known), option, word)


def _typed(option: str, kind: str, given: Any) -> Any:
    """Read what stands after an option that is in the table; refuse what cannot be taken."""
    try:
        return typed_value(kind, given)
    except WrongValueError as wrong:
        what = option.removeprefix("--")
        if what in WITHOUT and given.strip().lower() in ("off", "no", "none", "0", "never", "false"):
            raise unexpected(str(wrong), option, given, f"--without {what} leaves them out") from None
        raise unexpected(str(wrong), option, given, *wrong.hints) from None


def _sheet(sheet: Sheet, text: str | None) -> Sheet:
    """Return what a stage copy is shown on; a tablet's screen in its own size, where its diagonal is given."""
    if text is None:
        return sheet
    if not sheet.screen:
        raise Refused((f"--screen is for tablets, and the paper is {sheet.name}", "--paper tablet, or tablet-flat"))
    diagonal = in_units(text, {"in": 1.0}, "in")
    low, high = SCREENS
    if diagonal is None or not low <= diagonal <= high:
        raise unexpected(f"a diagonal from {low:g} to {high:g} inches", "--screen", text, "--screen 12.9")
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


def _fonts(options: argparse.Namespace, player: Player) -> tuple[str, ...]:
    """Return the paths of the player's own fonts, of the command line or the settings; refuse what is none."""
    paths = _given(options, "font") or [_beside_settings(options, name) for name in player.fonts]
    if len(paths) > MOST_FONTS:
        raise Refused((f"--font can be given {MOST_FONTS} times at most, found {len(paths)}", ""))
    for path in paths:
        problem: str | None = load("arranger.pdf.fonts").problem_with(path)
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
