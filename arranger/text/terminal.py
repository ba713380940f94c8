"""Make text safe for a terminal. A file of its own, so that a message about the command itself needs nothing else."""

from __future__ import annotations

import re
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
    """Return whether a character could steer a terminal."""
    return character in _TURNS or unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp")


def quoted(name: str) -> str:
    r"""Return the name of a file as it can be put into a command line: in quotes where a shell would take it apart.

    >>> quoted("songs/tide.song.txt"), quoted("slow boats.song.txt"), quoted("$5 'n' dime.txt")
    ('songs/tide.song.txt', '"slow boats.song.txt"', '\'$5 \'"\'"\'n\'"\'"\' dime.txt\'')
    """
    if re.fullmatch(r"[\w./\\:+,@%=-]+", name):
        return name
    if not re.search(r'["$`!]', name):
        return f'"{name}"'
    return "'" + name.replace("'", "'\"'\"'") + "'"
