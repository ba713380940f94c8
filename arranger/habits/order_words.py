"""List what people type in running orders instead of the notation: other words for its lines, other ways to go on."""

from __future__ import annotations

import re

# Words that people type for ours.
OTHER_ORDER_WORDS = {
    "title": "set", "name": "set", "setlist": "set", "evening": "set", "day": "date", "when": "date", "venue": "place",
    "where": "place", "hall": "place", "room": "place", "file": "song", "tune": "song", "number": "song",
    "pause": "break", "interval": "break", "intermission": "break", "speech": "break", "next": "then", "onward": "then",
    "after": "then", "bpm": "tempo", "speed": "tempo", "order": "roadmap", "form": "roadmap", "players": "band",
}  # fmt: skip

# Ways to go on by other words, with ours: musicians' words for the same.
OTHER_WAYS = {
    "segue": "attacca", "at once": "attacca", "straight on": "attacca", "straight into": "attacca",
    "immediately": "attacca", "go on": "attacca", "hold": "pad", "held": "pad", "drone": "pad", "pad holds": "pad",
    "silence": "stop", "end": "stop", "fine": "stop", "wait": "stop", "break": "stop", "applause": "stop",
}  # fmt: skip
_TALK = r"(?i)(?:talk(?:s|ing)?|speech|speaking)\s*(?:for\s*)?([0-9]{1,4})\s*(s|secs?\.?|seconds?|m|mins?\.?|minutes?)?"


def meant_way(text: str) -> tuple[str, bool]:
    """Return what is meant by another way to go on, and whether nothing else can be; empty where it is not known.

    >>> meant_way("talk 2 min"), meant_way("segue"), meant_way("talk")
    (('talk 120 s', True), ('attacca', False), ('', False))
    """
    squeezed = " ".join(text.split()).casefold()
    talk = re.fullmatch(_TALK, squeezed)
    if talk is not None:
        minutes = (talk[2] or "s").startswith("m")
        return f"talk {int(talk[1]) * (60 if minutes else 1)} s", talk[2] is not None
    return OTHER_WAYS.get(squeezed, ""), False
