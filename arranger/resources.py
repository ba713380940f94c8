"""Where the grammars and fonts are: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from functools import cache
from pathlib import Path

_HERE = Path(__file__).resolve().parent


def resource(folder: str, name: str) -> Path:
    """Give the path of a data file.

    Args:
        folder: `grammar` or `fonts`.
        name: the file's name.

    Raises:
        FileNotFoundError: the installation is incomplete.
    """
    for root in (_HERE / "_data", _HERE.parent):
        path = root / folder / name
        if path.is_file():
            return path
    raise FileNotFoundError(f"the installation lacks {folder}/{name}; install the package again")


@cache
def grammar_text(name: str) -> str:
    """Read a grammar file as text, once a process."""
    return resource("grammar", name).read_text(encoding="utf-8")


@cache
def font_path(name: str) -> Path:
    """Find a font file."""
    return resource("fonts", name)


@cache
def font_bytes(path: str) -> bytes:
    """Read a font of the program or of the player, once a process.

    Raises:
        OSError: there is no such file, or it cannot be read.
    """
    return Path(path).read_bytes()
