"""What may reach a terminal. Apart from the rest, so that a message about the command itself needs nothing else."""

from __future__ import annotations

import unicodedata

_TURNS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # direction embeddings, overrides and isolates


def printable(text: str) -> str:
    r"""Replace characters that could steer a terminal by a visible substitute.

    Controls and direction overrides steer it; half characters (of file names that are not UTF-8) cannot be encoded.

    >>> printable("a\x1b[2J\tb")
    'a�[2J�b'
    """
    return "".join("\N{REPLACEMENT CHARACTER}" if steers(c) else c for c in text)


def steers(character: str) -> bool:
    """Tell whether a character could steer a terminal."""
    return character in _TURNS or unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp")
