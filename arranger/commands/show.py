"""Run `show`: print the arrangement of one song, or why it is as it is."""

from __future__ import annotations

import argparse
from pathlib import Path

from arranger.cli import Refused, print_json, unexpected
from arranger.commands.songs import each, songs_of, worked_out
from arranger.commands.wishes import wishes_of
from arranger.exchange import reasons
from arranger.exchange.table import table
from arranger.harmony.dump import dump
from arranger.intake import Wishes
from arranger.late import load
from arranger.text.terminal import printable

VIEWS = ("json", "why", "notes", "hardest", "fills")  # one at a time
MOST_SHOWN = 1000  # changes listed by --hardest


def run(options: argparse.Namespace) -> int:
    """Print the arrangement of one song, or what there is to say about it."""
    views = [
        name for name in ("json", "why", "notes", "hardest", "fills") if getattr(options, name) not in (None, False)
    ]
    if len(views) > 1:
        raise Refused((f"--{views[0]} and --{views[1]} cannot be shown together", "ask for one, then for the other"))
    most = _count("--hardest", options.hardest) if options.hardest is not None else 0
    wishes = wishes_of(options)
    return each(songs_of(options.songs), lambda path: _show(path, options, wishes, most))


def _show(path: Path, options: argparse.Namespace, wishes: Wishes, most: int) -> int:
    worked, _, status = worked_out(path, wishes, options.key)
    if worked is None:
        return status
    arrangement = worked.arrangement
    try:
        if options.json:
            print_json(dump(arrangement))
            return status
        if options.why is not None:
            lines = reasons.why(worked, reasons.places(arrangement, options.why))
        elif options.fills is not None:
            lines = reasons.fills(arrangement, reasons.places(arrangement, options.fills), wishes.taste)
        elif options.notes:
            lines = load("arranger.exchange.notes_table").notes_table(arrangement)
        elif most:
            lines = reasons.hard(arrangement, most)
        else:
            lines = iter(table(arrangement))
    except ValueError as problem:
        raise Refused((str(problem), "")) from None
    for line in lines:
        print(printable(line))
    return status


def _count(option: str, text: str) -> int:
    if text.isdecimal() and 1 <= int(text) <= MOST_SHOWN:
        return int(text)
    raise unexpected(f"a number from 1 to {MOST_SHOWN}", option, text)
