"""Find the program's own grammars and fonts, and read ordinary files.

Also the folders of this program under a player's own, where settings are and what can be made anew is kept.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache, partial
from pathlib import Path
from types import ModuleType
from typing import Any
from zlib import crc32

from arranger.late import load


class FontError(Exception):
    """A font of the player's turns out to be damaged where it is used: the message names it."""


FONT_FILES = {  # of the program's own faces (`layout.model.Face`)
    "regular": "part-regular.ttf",
    "bold": "part-bold.ttf",
    "music": "part-music.ttf",
    "greek": "part-greek.ttf",
    "greek bold": "part-greek-bold.ttf",
}
FONT_AT_MOST = 1 << 26  # bytes: fonts with all of East Asia's letters have some 20 MiB

_HERE = Path(__file__).resolve().parent


def resource(folder: str, name: str) -> Path:
    """Return the path of a data file in the folder `grammar`, `fonts` or `samples`.

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


def sample_text(name: str) -> str:
    """Read a sample song as text."""
    return resource("samples", name).read_text(encoding="utf-8")


@cache
def font_path(name: str) -> Path:
    """Find a font file."""
    return resource("fonts", name)


_LENT: dict[str, bytes] = {}  # fonts that were sent by other machines; each name holds the digest of its font


@cache
def font_bytes(path: str) -> bytes:
    """Read a font of the program or of the player, once a process.

    Raises:
        OSError: there is no such file, it is too large, or it cannot be read.
    """
    if path in _LENT:
        return _LENT[path]
    data = ordinary_bytes(Path(path), FONT_AT_MOST + 1)
    if len(data) > FONT_AT_MOST:
        raise OSError(errno.EFBIG, f"it has more than {FONT_AT_MOST >> 20} MiB", path)
    return data


def lend_font(name: str, data: bytes) -> None:
    """Keep a font that another machine has sent, to be read by a name that no other font has."""
    _LENT[name] = data


def ordinary_bytes(path: Path, at_most: int, folder: int | None = None) -> bytes:
    """Return the first bytes of an ordinary file; a pipe or a device could keep us waiting or never end.

    Args:
        path: from the current folder, or from `folder`.
        at_most: how many bytes.
        folder: the handle of an open folder.

    Raises:
        OSError: it cannot be read, or is no ordinary file.
        ValueError: its name has a zero byte.
    """
    with open(path, "rb", opener=partial(_at_once, folder=folder)) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is no ordinary file", str(path))
        return file.read(at_most)


def cache_folder() -> Path:
    """Return where what can be made anew from other files may be kept; OSError where there is no home folder."""
    folder = programs_folder(("LOCALAPPDATA", "AppData/Local"), "Library/Caches", ("XDG_CACHE_HOME", ".cache"))
    if folder is None:
        raise FileNotFoundError(errno.ENOENT, "there is no home folder")
    return folder


def programs_folder(windows: tuple[str, str], mac: str, others: tuple[str, str]) -> Path | None:
    """Return this program's folder: in the one that a variable names, else in one under the player's own folder.

    A variable counts only where it names a whole path (XDG Base Directory Specification).
    """
    variable, usual = windows if sys.platform == "win32" else others
    named = Path(os.environ.get(variable, ""))
    if named.is_absolute() and sys.platform != "darwin":
        return named / "keys-arranger"
    try:
        home = Path.home()
    except RuntimeError:  # neither a variable nor the system's list of users has one
        return None
    if not home.is_absolute() or home == home.parent:  # an empty HOME reads as the root of the disk: nobody's home
        return None
    return home / (mac if sys.platform == "darwin" else usual) / "keys-arranger"


KEPT_AT_MOST = 1 << 22  # bytes: the parser of a grammar has some 40 KiB, a parsed font some 60
_SUM = 4  # bytes of the sum at a file's end


def kept(name: str, made_of: bytes) -> bytes | None:
    """Return what was kept under a name; None where nothing is, where it was made of something else, or is damaged.

    It may be trusted as the program itself is: it comes from a folder that is the player's own and closed to others.

    Args:
        name: what it is; each Python has its own under that name.
        made_of: all else that it depends on.
    """
    try:
        with _own_folder(cache_folder() / "parsers") as (folder, handle):
            path = Path(_file_of(name)) if handle is not None else folder / _file_of(name)
            data = ordinary_bytes(path, KEPT_AT_MOST, handle)
    except (OSError, ValueError):
        return None
    content = data[:-_SUM]
    return content if data[-_SUM:] == _sum_of(content, made_of) else None


def keep(name: str, made_of: bytes, content: bytes) -> None:
    """Keep what can be made anew, in the place of what was kept under its name; do nothing where that cannot be."""
    draft = None
    try:
        path = cache_folder() / "parsers"
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
        with _own_folder(path) as (folder, _):
            draft = (
                folder / f"{_file_of(name)}.{os.getpid()}"
            )  # no other process writes it; it comes to its place whole
            draft.write_bytes(content + _sum_of(content, made_of))
            draft.replace(folder / _file_of(name))
    except (OSError, ValueError):
        if draft is not None:
            with suppress(OSError):
                draft.unlink()


@contextmanager
def _own_folder(folder: Path) -> Iterator[tuple[Path, int | None]]:
    """Hold a folder open that is the player's own and closed to all others, so that none can be put in its place.

    On Windows it is only named: the system keeps there what is the player's alone. So it is in a browser, where nobody
    else is.

    Raises:
        OSError: it is another's, others may use it, or it is none.
    """
    if sys.platform in ("win32", "emscripten"):
        yield folder, None
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        held = os.fstat(handle)
        if held.st_uid != os.geteuid() or held.st_mode & 0o077:
            raise PermissionError(errno.EPERM, "it is not the player's alone", str(folder))
        yield folder, handle
    finally:
        os.close(handle)


def _file_of(name: str) -> str:
    return f"{name}-{sys.implementation.cache_tag}"


def _sum_of(content: bytes, made_of: bytes) -> bytes:
    return crc32(content, crc32(made_of, crc32(sys.version.encode()))).to_bytes(_SUM, "big")


@contextmanager
def undisturbed(*unneeded: str) -> Iterator[None]:
    """Keep from the PDF library, while it is loaded or writes, what would have it do otherwise than on other machines.

    It runs files from the player's folder and from wherever modules are, and heeds variables of the environment.
    Modules that are `unneeded` it finds absent: it would load them whenever they are installed. Pillow it cannot do
    without, and has a stand-in for: no page of ours has a picture.
    """
    held = {name: os.environ.pop(name) for name in list(os.environ) if name.startswith("RL_") or name in _DISTURBING}
    absent = [name for name in _DISTURBING_MODULES if name not in sys.modules]
    sys.modules.update((name, ModuleType(name)) for name in absent)
    hidden = [name for name in unneeded if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden))  # type: ignore[arg-type]  # None: an import of it fails
    if "PIL" not in sys.modules:
        stand_in = ModuleType("PIL")
        stand_in.__dict__["Image"] = _Pictures("PIL.Image")
        sys.modules["PIL"] = stand_in
        hidden.append("PIL")
    try:
        yield
    finally:
        os.environ.update(held)
        for name in (*absent, *hidden):
            del sys.modules[name]


class _Pictures(ModuleType):
    """Stand for Pillow's `Image`: it is loaded when anything in it is asked for."""

    def __getattr__(self, name: str) -> Any:
        return getattr(load("PIL.Image"), name)


_DISTURBING = ("SOURCE_DATE_EPOCH", "EVAL_DEBUG")
_DISTURBING_MODULES = ("reportlab_settings", "reportlab_mods", "reportlab.local_rl_settings", "reportlab.local_rl_mods")


def _at_once(path: str, flags: int, folder: int | None) -> int:
    # A pipe that nobody writes to is opened all the same.
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0), dir_fd=folder)
