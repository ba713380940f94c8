"""A folder of songs, walked. Takes a folder; gives its songs in an order that never changes, and what is passed over.

Only names and sizes are looked at. Looking songs up walks the folder each time, so nothing is loaded for it.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import NamedTuple

from arranger.files import SONG_ENDING, reason
from arranger.text.terminal import steers

DEEPEST = 100  # folders inside each other: a shelf has three or four, and every system opens a name as long as that


class Found(NamedTuple):
    """A song's file.

    Attributes:
        name: its path under the folder that was walked, with `/`.
        path: its path as it is opened and printed.
        size: bytes.
        changed_ns: when it was last changed, in nanoseconds: what it holds, or what the system says of it. The second
            cannot be set back, so a file put back to an earlier time is seen too (on Windows it is when it was made).
    """

    name: str
    path: str
    size: int
    changed_ns: int


class Problem(NamedTuple):
    """Something that was passed over.

    Attributes:
        name: its path under the folder that was walked, with `/`; empty for the folder itself.
        path: its path as it is printed.
        message: what is wrong, to stand after the path.
        hint: a way out; may be empty.
        missed: a song that is wanted may be missing. Of a link to what is read anyway, none is.
    """

    name: str
    path: str
    message: str
    hint: str = ""
    missed: bool = True


def scan(folder: str | os.PathLike[str]) -> tuple[list[Found], list[Problem]]:
    """Find all songs under a folder.

    Folders are read once each: first those that lie in the folder, then those that links lead to. So links in circles
    end, and a song is found where it lies. What begins with a dot is hidden, and passed over without a word.

    Args:
        folder: where to begin.

    Returns:
        The songs and the problems, each by name.
    """
    return _Walk(os.fspath(folder)).all()


class _Walk:
    """One walk through a folder. Folders are pairs of a name and a path."""

    def __init__(self, top: str) -> None:
        self.top = top
        self.songs: list[Found] = []
        self.problems: list[Problem] = []
        self.linked: list[tuple[str, str]] = []  # links to folders, not yet followed
        self.seen: set[tuple[int, int]] = set()  # folders, as the system knows them

    def all(self) -> tuple[list[Found], list[Problem]]:
        """Walk what lies in the folder, then what links lead to, link by link in the order of their names."""
        self.walk("", self.top)
        while self.linked:
            self.linked.sort(reverse=True)
            self.walk(*self.linked.pop(), by_link=True)
        return sorted(self.songs), sorted(self.problems)

    def walk(self, name: str, path: str, by_link: bool = False) -> None:
        """Read a folder and those in it, without following links."""
        folders = [(name, path)]
        while folders:
            name, path = folders.pop()
            try:
                status = Path(path).stat()
                identity = status.st_dev, status.st_ino
                if identity not in self.seen:
                    self.seen.add(identity)
                    with os.scandir(path) as entries:
                        for entry in entries:
                            inner = f"{name}/{entry.name}" if name else entry.name
                            if not entry.name.startswith(".") and self.take(entry, inner):
                                folders.append((inner, entry.path))
                elif by_link:
                    self.pass_over(name, path, "leads to a folder that is read already", missed=False)
            except OSError as fault:
                self.pass_over(name, path, f"cannot be read: {reason(fault)}")

    def take(self, entry: os.DirEntry[str], name: str) -> bool:
        """Take note of what stands in a folder; tell whether it is a folder to read."""
        is_song = entry.name[-len(SONG_ENDING) :].lower() == SONG_ENDING
        try:
            is_folder = entry.is_dir()
            status = entry.stat() if is_song and not is_folder else None
        except OSError as fault:  # a link that leads nowhere, or to itself
            self.pass_over(name, entry.path, f"cannot be read: {reason(fault)}")
            return False
        if not is_song and not is_folder:
            return False
        if not _is_plain(entry.name):
            kind = "folder" if is_folder else "file"
            self.pass_over(name, entry.path, "has a name that is no plain text", f"give the {kind} another name")
        elif status is not None:
            if stat.S_ISREG(status.st_mode):
                changed = max(status.st_mtime_ns, status.st_ctime_ns)
                self.songs.append(Found(name, entry.path, status.st_size, changed))
            else:
                self.pass_over(name, entry.path, "is no ordinary file")
        elif name.count("/") >= DEEPEST:
            self.pass_over(name, entry.path, f"lies deeper than {DEEPEST} folders", "move it up")
        elif entry.is_symlink():
            self.linked.append((name, entry.path))
        else:
            return True
        return False

    def pass_over(self, name: str, path: str, message: str, hint: str = "", missed: bool = True) -> None:
        self.problems.append(Problem(name, path, message, hint, missed))


def _is_plain(name: str) -> bool:
    r"""Return whether a name can be printed and kept: no controls, no bytes that are no text.

    >>> _is_plain("Été 2.song.txt"), _is_plain("a\nb.song.txt"), _is_plain("\udcff.song.txt")
    (True, False, False)
    """
    return (name.isascii() and name.isprintable()) or not any(map(steers, name))
