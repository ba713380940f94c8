"""Run `desk`: the page in the browser for the songs of a folder."""

from __future__ import annotations

import argparse
from pathlib import Path

from arranger import files
from arranger.cli import DONE, Refused, unexpected
from arranger.late import load
from arranger.text.terminal import printable

EXTRA = "pip install 'keys-arranger[desk]'"
PORTS = (1024, 65535)


def run(options: argparse.Namespace) -> int:
    """Serve the desk until it is left; or write a file that starts it."""
    folder = Path(options.folder or ".")
    if not folder.is_dir():
        what = f"expected a folder, found the file {folder}" if folder.exists() else f"there is no folder {folder}"
        raise Refused((what, "name the folder where your songs are, or make it first"))
    port = _port(options.port)
    try:
        opening = load("arranger.desk.opening")
    except ImportError as fault:
        raise Refused((f"the desk needs more than is installed ({fault.name} is missing)", EXTRA)) from None
    settings = files.settings_path() if options.player is None else Path(options.player)
    try:
        if options.shortcut:
            print(printable(f"{opening.shortcut(folder)}: double-click it to start the desk"))
        else:
            opening.start(folder, settings, browser=not options.no_browser, port=port)
    except OSError as fault:
        raise Refused((f"the desk cannot be started: {files.reason(fault)}", "")) from None
    return DONE


def _port(text: str | None) -> int:
    if text is None:
        return 0
    if text.isdecimal() and len(text) < 6 and PORTS[0] <= int(text) <= PORTS[1]:
        return int(text)
    raise unexpected(f"a port from {PORTS[0]} to {PORTS[1]}", "--port", text)
