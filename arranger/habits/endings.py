"""Read labels of endings, as sheets type them over the lines that differ: `1st time:`, `2. Mal:`, `Last time`."""

from __future__ import annotations

import re

_ORDINALS = {"first": 1, "second": 2, "third": 3, "premi": 1, "deuxi": 2, "erst": 1, "zweit": 2, "last": 9, "final": 9}
LAST = 9  # the number of an ending that is only called the last one
_LABEL = re.compile(
    r"\s*[(\[]?(?:(?P<number>[1-4])(?:st|nd|rd|th|er|[eè]re|re|e|ème|[.ªºa])?|(?P<word>first|second|third|last|final|"
    r"premi[eè]re|deuxi[eè]me|erstes|zweites))[\s\-]*(?:time(?: only)?(?: through)?|ending|mal|fois|vez|volta|keer|"
    r"gång(?:en)?|"
    r"gang|raz|kerta)[)\]]?\s*[:.)]?(?:\s+|$)",
    re.IGNORECASE,
)


def ending_of(text: str) -> tuple[int, int] | None:
    """Return the number of an ending at the start of a line, and how many characters its label takes.

    >>> ending_of("2nd time:  G  D"), ending_of("Last time"), ending_of("First love")
    ((2, 11), (9, 9), None)
    """
    match = _LABEL.match(text)
    if match is None:
        return None
    if match["number"]:
        return int(match["number"]), match.end()
    word = match["word"].lower()
    return next(number for start, number in _ORDINALS.items() if word.startswith(start)), match.end()
