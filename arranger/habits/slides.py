"""Find what stands before a section's name on its line: the number of a slide, a time, numbers of bars."""

from __future__ import annotations

import re

_SLIDE = re.compile(
    r"[\[(<*#\s]*(?:(?:slide|screen|folie|card)\s*[#№]?[0-9]{1,3}\s*(?:[-–—:.)\]|/]+\s*|$)"
    r"|(?:bars?|measures?|takte?)\s*[0-9]{1,3}(?:\s?[-–]\s?[0-9]{1,3})?(?:\s*[:.)\]]+\s*|\s{2,})"
    r"|[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?\s*(?:[\])]\s*[-–—:]?\s*|[-–—]\s*|\s(?=[^\W\d_])|$))",
    re.IGNORECASE,
)


def slide_of(text: str) -> int:
    """Return how many characters the number of a slide, or a time, takes at the start of a line; 0 for none.

    >>> slide_of("Slide 2 - Chorus"), slide_of("[0:45] Chorus"), slide_of("Bars 5-12  Verse"), slide_of("Slide away")
    (10, 7, 11, 0)
    """
    match = _SLIDE.match(text)
    return match.end() if match is not None else 0
