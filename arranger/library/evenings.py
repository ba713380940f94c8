"""Find when songs were played: by the running orders that lie in a folder of songs and in the folders in it.

Running orders are few and short: they are read each time, as far as they can be, and nothing of them is kept.
"""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from arranger.files import SET_ENDING, reason
from arranger.files import read as read_bytes
from arranger.library.catalogue import Play
from arranger.library.scan import PassedOver, scan
from arranger.song.read import decode
from arranger.song.running_order import read_order
from arranger.text.diagnostics import has_errors


class Plays(NamedTuple):
    """When songs were played, by their paths under the folder with `/`; and what was passed over."""

    songs: Mapping[str, tuple[Play, ...]]
    problems: tuple[PassedOver, ...]


def plays(folder: str) -> Plays:
    """Return when the songs of a folder were played, in the order of the running orders' names."""
    files, problems = scan(folder, SET_ENDING)
    problems = [one for one in problems if one.name.lower().endswith(SET_ENDING)]  # the songs' own were told with them
    found: defaultdict[str, list[Play]] = defaultdict(list)
    for name, path, *_ in files:
        try:
            source, wrong = decode(name, read_bytes(Path(path)))
        except OSError as fault:
            problems.append(PassedOver(name, path, f"cannot be read: {reason(fault)}"))
            continue
        order, more = read_order(source) if not wrong else (None, ())
        if order is None or has_errors(more):
            hint = "`arranger evening` tells what is wrong"
            problems.append(PassedOver(name, path, "has mistakes, and is read as far as it can be", hint))
        if order is None:
            continue
        date, place = (text.value if text is not None else "" for text in (order.date, order.place))
        for number, song in enumerate(order.songs, 1):
            key = next((fact.text for fact in song.facts if fact.word == "key"), "")
            at = os.path.normpath(os.path.join(os.path.dirname(name), song.file)).replace(os.sep, "/")  # noqa: PTH118, PTH120
            found[at].append(Play(order.title.value, date, place, number, len(order.songs), key, name))
    return Plays({name: tuple(each) for name, each in found.items()}, tuple(problems))
