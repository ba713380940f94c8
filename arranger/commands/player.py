"""`player`: prints a player's settings, or writes the first file of them."""

from __future__ import annotations

import argparse

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import DONE, tell
from arranger.commands.wishes import player_of
from arranger.player import written
from arranger.text.terminal import printable


def run(options: argparse.Namespace) -> int:
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
        return tell(Refused((f"{path} cannot be written: {files.reason(fault)}", "")))
    print(printable(str(path)))
    return DONE
