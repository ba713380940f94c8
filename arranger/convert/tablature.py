"""Find the lines of a guitar's tablature, which name no chord."""

from __future__ import annotations

import re

_TABLATURE = re.compile(
    r"\s*(?:[A-Ga-g][#b]?\s*)?[|:\[]?\s?[-–—=0-9hpbrstxX/\\~()|:.^*<> ]*(?:[-–—]{3,}|-\d+-)"
    r"[-–—=0-9hpbrstxX/\\~()|:.^*<> ]*"
)


def is_tablature(text: str) -> bool:
    """Return whether a line is of a guitar's tablature: dashes for a string, figures for frets.

    >>> is_tablature("e|---0---2--3-|"), is_tablature("--- Verse ---"), is_tablature("G - - - D")
    (True, False, False)
    """
    return (
        len(text) >= 8
        and text.count("-") >= 5
        and _TABLATURE.fullmatch(text) is not None
        and any(c in "|0123456789" for c in text)
    )
