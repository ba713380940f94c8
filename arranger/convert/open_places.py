"""Find the places of a song that are marked to be looked at. Needs no other file of this room, as `recognise`."""

from __future__ import annotations

import re

_OPEN = re.compile(r"^[ \t]*#[ \t]*check\b[,:]?[ \t]*(.*)$", re.IGNORECASE | re.MULTILINE)


def open_places(text: str) -> tuple[tuple[int, str], ...]:
    r"""Return the lines of a song, from 1, that hold a `# check`, with what they say.

    >>> open_places("song Tide\n# check, line 4: two chords?\n| G |\n# checked\n")
    ((2, 'line 4: two chords?'),)
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return tuple((text.count("\n", 0, m.start()) + 1, m[1].strip()) for m in _OPEN.finditer(text))


def places_in_words(count: int) -> str:
    """Return a number of places in words: `1 place`, `2 places`."""
    return f"{count} place{'' if count == 1 else 's'}"
