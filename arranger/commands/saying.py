"""What a command says of itself, and the status that it ends with. Messages go to the error stream.

A mistake in a command line is told from here, so no stage is loaded: what is said of songs stands in `songs`.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from difflib import get_close_matches

from arranger.arguments import Refused
from arranger.text.terminal import printable, steers

DONE, SONG_ERROR, USAGE_ERROR = 0, 1, 2
BROKEN = 70  # a fault of the program itself (EX_SOFTWARE of sysexits.h)

TRACEBACK = "ARRANGER_TRACEBACK"  # set in the environment: a fault of the program shows where it came from


def complain(message: str, hint: str = "") -> None:
    """Say something about the command itself, not about a song."""
    print(f"arranger: {printable(message)}", file=sys.stderr)
    if hint:
        print(f"  hint: {printable(hint)}", file=sys.stderr)


def tell(refused: Refused) -> int:
    """Say why a command cannot be done as given; give the status that it leads to."""
    for message, hint in refused.messages:
        complain(message, hint)
    return USAGE_ERROR


def own_up(fault: Exception, song: str = "") -> int:
    """Say that something went wrong that nobody foresaw, and with which song; return the status that it leads to."""
    if TRACEBACK in os.environ:
        raise fault
    where = f"{song}: " if song else ""
    stays = "; what was there of it stays" if song else ""
    if isinstance(fault, MemoryError):
        complain(f"{where}the memory of this machine does not suffice{stays}")
        return BROKEN
    kind = ": ".join(filter(None, (type(fault).__name__, str(fault))))
    complain(
        f"{where}this is a fault of the program, not of your song: {kind}{stays}",
        f"please report it with the song; {TRACEBACK}=1 in the environment shows where it happened",
    )
    return BROKEN


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a hint with the known word nearest to one."""
    near = get_close_matches(word.partition("=")[0], list(known), n=1)
    return f"is `{near[0]}` meant?" if near else "`arranger --help` lists what there is"


def print_json(text: str) -> None:
    """Print JSON in UTF-8, whatever the terminal's encoding; what could steer a terminal is escaped as JSON does."""
    safe = "".join(f"\\u{ord(c):04x}" if steers(c) and c != "\n" else c for c in text)
    sys.stdout.flush()
    sys.stdout.buffer.write(safe.encode())
