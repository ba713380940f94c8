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
LOOK = 1000  # milliseconds between two looks at the files themselves
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
    watched = [*songs, *([settings] if settings is not None else [])]
    seen = {path: _as_it_is(path) for path in watched}
    make(options)
    complain(f"watching {_named(songs)}; Ctrl-C ends it")
    folders = {path.resolve().parent for path in watched if path.exists()}
    try:
        # Beside what the system tells, all are looked at every second: nothing that was saved in between is missed.
        for _ in watching.watch(
            *sorted(folders),
            debounce=SETTLE,
            step=SETTLE // 3,
            recursive=False,
            rust_timeout=LOOK,
            yield_on_timeout=True,
        ):
            now = {path: _as_it_is(path) for path in watched}
            changed = [path for path in watched if now[path] != seen[path] and now[path] is not None]
            seen = {path: now[path] or seen[path] for path in watched}
            again = songs if settings in changed else [song for song in songs if song in changed]
            if again:
                _made_again(options, again, make)
    except KeyboardInterrupt:
        pass
    return DONE


def _as_it_is(path: Path) -> tuple[int, int] | None:
    """Return what changes when a file is saved: its time and its size; None where there is none just now."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


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
