"""Run `completion`, and `part --watch`: what makes a terminal a home."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from arranger import files
from arranger.cli import DONE, Refused, complain, parsers
from arranger.commands.songs import songs_of
from arranger.late import load
from arranger.player import CHOICES
from arranger.settings import COMMANDS, option_of

EXTRA = "pip install 'keys-arranger[terminal]'"
SHELLS = ("bash", "zsh", "fish", "powershell")
SETTLE = 150  # milliseconds without another change, after which a song counts as saved
OF_ITS_OWN = {"--without": ("suspensions", "octaves", "arc"), "--color": ("auto", "always", "never")}


# Watching.


def watch(options: argparse.Namespace, make: Callable[[argparse.Namespace], int]) -> int:
    """Make the parts of songs, and again of those that are saved, until the player stops it.

    Folders are watched, since many editors save by putting a new file in the place of the old one. A change of the
    player's settings makes all parts anew.
    """
    watching = _library("watchfiles")
    songs = songs_of(options.songs)
    settings = files.settings_path() if options.player is None else Path(options.player)
    watched = {path.resolve(): path for path in songs}
    own = settings.resolve() if settings is not None and settings.exists() else None
    make(options)
    complain(f"watching {_named(songs)}; Ctrl-C ends it")
    folders = {path.parent for path in watched} | ({own.parent} if own else set())
    try:
        for changes in watching.watch(*sorted(folders), debounce=SETTLE, step=SETTLE // 3, recursive=False):
            changed = {Path(path).resolve() for _, path in changes}
            again = list(songs) if own in changed else [song for path, song in watched.items() if path in changed]
            again = [song for song in again if song.exists()]
            if again:
                _made_again(options, again, make)
    except KeyboardInterrupt:
        pass
    return DONE


def _made_again(options: argparse.Namespace, songs: Iterable[Path], make: Callable[[argparse.Namespace], int]) -> None:
    """Make some of the parts; what cannot be done now is told, and may be done after the next change."""
    try:
        make(argparse.Namespace(**{**vars(options), "songs": [str(song) for song in songs]}))
    except Refused as refused:
        for message, hint in refused.messages:
            complain(message, hint)


def _named(songs: list[Path]) -> str:
    return str(songs[0]) if len(songs) == 1 else f"{len(songs)} songs"


def _library(name: str) -> Any:
    try:
        return load(name)
    except ImportError:
        raise Refused((f"this needs more than is installed ({name} is missing)", EXTRA)) from None


# Completion.


def run_completion(options: argparse.Namespace) -> int:
    """Print the script by which a shell completes commands, options and their values."""
    shell = options.shell.lower()
    if shell not in SHELLS:
        raise Refused(
            (f"expected {', '.join(SHELLS[:-1])} or {SHELLS[-1]}, found `{options.shell}`", "name your shell")
        )
    maker = _library("shtab")
    parser, commands = parsers()
    for name, command in commands.items():
        _add_values(name, command, maker.FILE, maker.DIRECTORY)
    print(maker.complete(parser, shell))
    return DONE


def _add_values(name: str, command: argparse.ArgumentParser, file: Any, folder: Any) -> None:
    """Add to the options of a command the values that they take, by the tables; files where those are meant."""
    known: dict[str, Iterable[str]] = {}
    for words in COMMANDS[name].get("options", "").split():
        _, _, *chosen = option_of(name, words)
        if chosen and chosen[1] in CHOICES:
            known[words] = CHOICES[chosen[1]]
    for action in command._actions:
        words = ",".join(action.option_strings)
        values = known.get(words) or OF_ITS_OWN.get(words)
        if values:
            action.choices = list(values)
        elif action.metavar == "FOLDER":
            action.complete = folder  # type: ignore[attr-defined]  # read by shtab
        elif action.metavar in ("FILE", "WHERE", "SONG", "SHEET", "CODE"):
            action.complete = file  # type: ignore[attr-defined]
        elif action.dest == "shell":
            action.choices = SHELLS
