"""Take the names of who sings out of the words: `Leader: Who has got the rope?`, `All: Haul away`."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from arranger.convert.typed_lines import LineMeaning
from arranger.habits.headings import heading_of

FEWEST = 2  # lines of one singer that show a habit
_LABEL = re.compile(r"\s*(?P<who>[^\W\d_][^\W\d_ .&+]*(?:[ .&+]+[^\W\d_]+){0,2})\s?:\s+(?=\S)")


def with_singers_apart(lines: Sequence[LineMeaning]) -> tuple[LineMeaning, ...]:
    """Return the lines with each singer's name as a word for the player, above the chords of the line."""
    labels = {i: label for i, line in enumerate(lines) if line.kind == "words" and (label := _label(line))}
    counts = Counter(match["who"].casefold() for match in labels.values())
    if len(counts) < 2 or max(counts.values()) < FEWEST:
        return tuple(lines)
    found: list[LineMeaning] = []
    for index, item in enumerate(lines):
        match = labels.get(index)
        if match is None:
            found.append(item)
            continue
        said = LineMeaning(item.line.up_to(match.end()), "cue", aside=match["who"])
        at = len(found) - 1 if found and found[-1].kind == "chords" else len(found)
        found[at:at] = [said]
        found.append(replace(item, line=item.line.cut(match.end())))
    return tuple(found)


def _label(line: LineMeaning) -> re.Match[str] | None:
    match = _LABEL.match(line.line.padded)
    return match if match is not None and heading_of(match["who"]) is None else None
