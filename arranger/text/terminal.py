"""Make text safe for a terminal. A file of its own, so that messages about the command load nothing else."""

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


# Colours of the terminal (ECMA-48, 8.3.117: select graphic rendition). What is said does not depend on them.
_BOLD, _RED, _YELLOW, _FAINT, _PLAIN = "\x1b[1m", "\x1b[1;31m", "\x1b[1;33m", "\x1b[2m", "\x1b[0m"
# Texts, compiled when first used: most messages go where there are no colours.
_HEAD = r"(?s)(?P<place>.*?: )?(?P<severity>error|warning)(?P<code> [a-z0-9-]+)?(?=: )"
_MARK = r" *\^+"


def coloured(message: str) -> str:
    r"""Return a printed message with colours: its severity, the mark under a place, hints.

    >>> coloured("a.txt:1:2: error bad-key: expected a key")
    '\x1b[1ma.txt:1:2: \x1b[0m\x1b[1;31merror\x1b[0m bad-key: expected a key'
    """
    return "\n".join(map(_coloured_line, message.split("\n")))


def _coloured_line(line: str) -> str:
    if line.startswith("  hint: "):
        return f"{_FAINT}{line}{_PLAIN}"
    if re.fullmatch(_MARK, line):
        return f"{_RED}{line}{_PLAIN}"
    if line.startswith("arranger: "):
        return f"{_BOLD}arranger:{_PLAIN}{line[9:]}"
    head = re.match(_HEAD, line)
    if head is None or line.startswith(" "):
        return line
    place, severity = head["place"] or "", head["severity"]
    ink = _RED if severity == "error" else _YELLOW
    shown = f"{_BOLD}{place}{_PLAIN}" if place else ""
    return f"{shown}{ink}{severity}{_PLAIN}{line[head.end('severity') :]}"
