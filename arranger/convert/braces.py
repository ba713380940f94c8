"""Read braces at the right of several lines, which are played as often as stands beside them: `} 2x`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from arranger.convert.model import Remark, SheetLine
from arranger.habits.headings import COUNT, times_said

_BRACE = re.compile(rf"\s+[}}⎫⎬⎭]\s*(?P<times>{COUNT})?\s*$", re.IGNORECASE)
FEWEST = 2  # lines one below the other that a brace holds together


class Braced(NamedTuple):
    """Lines that are played several times: the first and the last of them, and how often."""

    first: int
    last: int
    times: int


def with_braces_read(
    lines: Sequence[SheetLine],
) -> tuple[tuple[SheetLine, ...], tuple[Braced, ...], tuple[Remark, ...]]:
    """Return the lines without braces that hold several together, those lines, and what was guessed."""
    found = list(lines)
    braced: list[Braced] = []
    notes: list[Remark] = []
    index = 0
    while index < len(lines):
        run = index
        while run < len(lines) and _BRACE.search(lines[run].padded) is not None:
            run += 1
        if run - index >= FEWEST:
            matches = [match for line in lines[index:run] if (match := _BRACE.search(line.padded)) is not None]
            times = next((times_said(match["times"]) for match in matches if match["times"]), 0)
            braced.append(Braced(lines[index].number, lines[run - 1].number, times or 2))
            if not times:
                said = "a brace stands at these lines: they are taken to be played twice"
                notes.append(Remark("check", lines[index].number, said))
            for place, match in enumerate(matches, start=index):
                found[place] = lines[place].up_to(match.start())
        index = max(run, index + 1)
    return tuple(found), tuple(braced), tuple(notes)
