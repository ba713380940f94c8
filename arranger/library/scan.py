"""Find the songs under a folder, in an order that never changes, and what is passed over.

Only names and sizes are looked at. Looking songs up walks the folder each time, so nothing is loaded for it.
"""

from __future__ import annotations

import os
import stat
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from arranger.files import SONG_ENDING, beside, pdf_name, reason, stage_name
from arranger.settings import ALSO
from arranger.text.terminal import printable, steers

DEEPEST = 100  # folders inside each other: a shelf has three or four, and every system opens a name as long as that

INDEX_DATA = ("index.csv", "index.json")
INDEX_NAMES = ("index.pdf", *INDEX_DATA)
PART, STAGE = "part", "stage"
NAMING: dict[str, Callable[[Path], str]] = {  # what is made of a song, one file each
    PART: pdf_name,
    STAGE: stage_name,
    "midi": lambda song: _beside_part(song, "midi"),
    "musicxml": lambda song: _beside_part(song, "musicxml"),
}
# Kinds that are made where they were asked for, now or before: how their names end, what they are called, and how they
# are asked for.
FURTHER_KINDS = {
    STAGE: (".stage.pdf", "stage copies", "--stage"),
    "midi": (ALSO["midi"], "MIDI files", "--also midi"),
    "musicxml": (ALSO["musicxml"], "files of MusicXML", "--also musicxml"),
}
ENDINGS = (".pdf", *ALSO.values())


def _beside_part(song: Path, kind: str) -> str:
    (made,) = beside(Path(pdf_name(song)), [ALSO[kind]])
    return made.name


class FoundSong(NamedTuple):
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


class PassedOver(NamedTuple):
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


def scan(folder: str | os.PathLike[str]) -> tuple[list[FoundSong], list[PassedOver]]:
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
        self.songs: list[FoundSong] = []
        self.problems: list[PassedOver] = []
        self.linked: list[tuple[str, str]] = []  # links to folders, not yet followed
        self.seen: set[tuple[int, int]] = set()  # folders, as the system knows them

    def all(self) -> tuple[list[FoundSong], list[PassedOver]]:
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
        """Take note of what stands in a folder; return whether it is a folder to read."""
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
                self.songs.append(FoundSong(name, entry.path, status.st_size, changed))
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
        self.problems.append(PassedOver(name, path, message, hint, missed))


def _is_plain(name: str) -> bool:
    r"""Return whether a name can be printed and kept: no controls, no bytes that are no text.

    >>> _is_plain("Été 2.song.txt"), _is_plain("a\nb.song.txt"), _is_plain("\udcff.song.txt")
    (True, False, False)
    """
    return (name.isascii() and name.isprintable()) or not any(map(steers, name))


class Planned(NamedTuple):
    """A song and what is made of it.

    Attributes:
        name: the song's path under the folder of the songs, with `/`.
        path: its path as it is opened and printed.
        outputs: the path of each PDF under the folder of the PDFs, with `/`, in the order of the kinds asked for.
    """

    name: str
    path: str
    outputs: tuple[str, ...]


def output(name: str, kind: str) -> str:
    """Return the path of a PDF under the folder of the PDFs, with `/`.

    >>> output("slow/boats.song.txt", "part"), output("slow/boats.song.txt", "stage")
    ('slow/boats.pdf', 'slow/boats.stage.pdf')
    """
    song = Path(name)
    return song.with_name(NAMING[kind](song)).as_posix()


def is_output(path: object) -> bool:
    r"""Return whether a text is the path of a PDF or of the index, and leads nowhere but under the folder of the PDFs.

    >>> [is_output(path) for path in ("slow/boats.pdf", "index.csv", "../boats.pdf", "/boats.pdf", "a.txt", "\0.pdf")]
    [True, True, False, False, False, False]
    """
    if not isinstance(path, str) or not (path.endswith(ENDINGS) or path in INDEX_NAMES):
        return False
    if path.startswith(("/", "..")) or os.path.splitdrive(path)[0]:
        return False
    plain = (path.isascii() and path.isprintable()) or path == printable(path)
    return plain and os.path.normpath(path).replace(os.sep, "/") == path


def planned(songs: Sequence[FoundSong], kinds: Sequence[str]) -> tuple[list[Planned], list[PassedOver]]:
    """Return where the PDFs of each song go, and the songs left out since two of them would have one PDF.

    Names that differ only in case, or in how an accent is stored, are one name on some disks. Where two songs would
    have one PDF, neither is made: whichever it were, somebody would play from the wrong one.
    """
    plans = [Planned(song.name, song.path, tuple(output(song.name, kind) for kind in kinds)) for song in songs]
    claims: defaultdict[str, list[str]] = defaultdict(list)
    for plan in plans:
        for path in plan.outputs:
            claims[_identity(path)].append(plan.path)
    free: list[Planned] = []
    problems: list[PassedOver] = []
    for plan in plans:
        clash = next((path for path in plan.outputs if len(claims[_identity(path)]) > 1), None)
        if clash is not None:
            other = next(path for path in claims[_identity(clash)] if path != plan.path)
            message = f"would become {clash}, as {other} would: neither is made"
            problems.append(PassedOver(plan.name, plan.path, message, "rename one of them"))
        elif any(_identity(path) in INDEX_NAMES for path in plan.outputs):
            message = "would lie where the index of the library is: it is not made"
            problems.append(PassedOver(plan.name, plan.path, message, "give the song another name"))
        else:
            free.append(plan)
    return free, problems


def _identity(path: str) -> str:
    """Return the same text for names that one disk or another takes for the same."""
    return path.lower() if path.isascii() else unicodedata.normalize("NFC", path).casefold()


def wanted(names: Iterable[str]) -> set[str]:
    """Return the paths of all PDFs, of any kind, that songs of these names can have."""
    return {output(name, kind) for name in names for kind in NAMING}
