"""Find the program's own grammars and fonts, installed or in a checkout, and read ordinary files."""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import ModuleType

FONT_AT_MOST = 1 << 26  # bytes: fonts with all of East Asia's letters have some 20 MiB

_HERE = Path(__file__).resolve().parent


def resource(folder: str, name: str) -> Path:
    """Return the path of a data file in the folder `grammar` or `fonts`.

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
        OSError: there is no such file, it is too large, or it cannot be read.
    """
    data = ordinary_bytes(Path(path), FONT_AT_MOST + 1)
    if len(data) > FONT_AT_MOST:
        raise OSError(errno.EFBIG, f"it has more than {FONT_AT_MOST >> 20} MiB", path)
    return data


def ordinary_bytes(path: Path, at_most: int) -> bytes:
    """Return the first bytes of an ordinary file; a pipe or a device could keep us waiting or never end.

    Raises:
        OSError: it cannot be read, or is no ordinary file.
        ValueError: its name has a zero byte.
    """
    with open(path, "rb", opener=_at_once) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is no ordinary file", str(path))
        return file.read(at_most)


@contextmanager
def undisturbed(*unneeded: str) -> Iterator[None]:
    """Keep from the PDF library, while it is loaded or writes, what would have it do otherwise than on other machines.

    It runs files from the player's folder and from wherever modules are, and heeds variables of the environment.
    Modules that are `unneeded` it finds absent: it would load them whenever they are installed.
    """
    held = {name: os.environ.pop(name) for name in list(os.environ) if name.startswith("RL_") or name in _DISTURBING}
    absent = [name for name in _DISTURBING_MODULES if name not in sys.modules]
    sys.modules.update((name, ModuleType(name)) for name in absent)
    hidden = [name for name in unneeded if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden))  # type: ignore[arg-type]  # None: an import of it fails
    try:
        yield
    finally:
        os.environ.update(held)
        for name in (*absent, *hidden):
            del sys.modules[name]


_DISTURBING = ("SOURCE_DATE_EPOCH", "EVAL_DEBUG")
_DISTURBING_MODULES = ("reportlab_settings", "reportlab_mods", "reportlab.local_rl_settings", "reportlab.local_rl_mods")


def _at_once(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))  # a pipe that nobody writes to is opened all the same
