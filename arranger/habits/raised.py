"""Read how far a remark moves the music up or down, as musicians say it. Takes text; gives semitones."""

from __future__ import annotations

import re

_WIDER = {"minor third": 3, "major third": 4, "third": 4, "fourth": 5, "fifth": 7}  # than a step
_HALVES = frozenset(("half", "½", "1/2", "halben", "semi", "demi"))
_SIZE = (
    r"(?:(?P<count>a|an|one|1|two|2|three|3|another|einen|un)\s+)?"
    r"(?P<size>half|½|1/2|whole|full|ganzen|halben|semi-?|demi-)?[\s\-]*"
    r"(?P<unit>tones?|steps?|ganzton|halbton|ton|semitones?|(?:minor |major )?third|fourth|fifth)"
)
_RAISED = (
    rf"(?i)\b(?P<way>up|down|higher|lower|raise[sd]?|lowered|modulates?)\b(?:\s+(?:by|up|(?:the )?key))*\s+{_SIZE}\b",
    rf"(?i)(?<!\w){_SIZE}\s+(?P<way>up|down|higher|lower|höher|tiefer|plus haut|plus bas)\b",
)
_COUNTED = (
    r"\s*(?P<sign>[+\-−–])\s?(?P<number>[1-7])(?:\s*(?:semitones?|half[- ]steps?|halbtöne?|demi-tons?))?\s*"  # +2
)
_DOWNWARD = frozenset(("down", "lower", "lowered", "tiefer", "plus bas"))


def raised_by(text: str) -> int:
    """Return how many semitones a remark moves the music up: `up a tone`, `half step down`; 0 where it says none.

    >>> raised_by("up a tone"), raised_by("1/2 step higher"), raised_by("tone down"), raised_by("+2")
    (2, 1, 0, 2)
    """
    counted = re.fullmatch(_COUNTED, text.strip(" ()[]"))
    if counted is not None:
        return int(counted["number"]) * (1 if counted["sign"] == "+" else -1)
    match = next((m for m in (re.search(pattern, text) for pattern in _RAISED) if m is not None), None)
    if match is None or (match.start("unit") < match.start("way") and match[0][0] in "sStT" and not match["size"]):
        return 0  # tone it down
    unit, size = match["unit"].lower().rstrip("s"), (match["size"] or "").lower().strip("- ")
    half = unit.startswith(("semi", "halb")) or size in _HALVES
    one = _WIDER.get(unit, 1 if half else 2)
    count = {"two": 2, "2": 2, "three": 3, "3": 3}.get((match["count"] or "").lower(), 1)
    return -one * count if match["way"].lower() in _DOWNWARD else one * count


def only_raises(text: str) -> bool:
    """Return whether a remark says how far the music moves up or down, and no more.

    >>> only_raises("up a tone!"), only_raises("up a tone, loud")
    (True, False)
    """
    bare = text.strip(" .,;:!()")
    return re.fullmatch(_COUNTED, bare) is not None or any(
        re.fullmatch(pattern, bare.strip("-–")) for pattern in _RAISED
    )
