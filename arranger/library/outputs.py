"""Where the PDFs of a library go. Takes the songs' names; gives each song's PDFs, and whose PDFs would clash."""

from __future__ import annotations

import os
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from arranger.files import pdf_name, stage_name
from arranger.library.index import INDEX_NAMES
from arranger.library.scan import Found, Problem
from arranger.text.terminal import printable

PART, STAGE = "part", "stage"
PDF_ENDING, STAGE_ENDING = ".pdf", ".stage.pdf"
NAMING: dict[str, Callable[[Path], str]] = {
    PART: pdf_name,
    STAGE: stage_name,
}  # what can be made of a song, one PDF each


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
    if not isinstance(path, str) or not (path.endswith(PDF_ENDING) or path in INDEX_NAMES):
        return False
    if path.startswith(("/", "..")) or os.path.splitdrive(path)[0]:
        return False
    plain = (path.isascii() and path.isprintable()) or path == printable(path)
    return plain and os.path.normpath(path).replace(os.sep, "/") == path


def planned(songs: Sequence[Found], kinds: Sequence[str]) -> tuple[list[Planned], list[Problem]]:
    """Settle where the PDFs of each song go.

    Names that differ only in case, or in how an accent is stored, are one name on some disks. Where two songs would
    have one PDF, neither is made: whichever it were, somebody would play from the wrong one.
    """
    plans = [Planned(song.name, song.path, tuple(output(song.name, kind) for kind in kinds)) for song in songs]
    claims: defaultdict[str, list[str]] = defaultdict(list)
    for plan in plans:
        for path in plan.outputs:
            claims[_identity(path)].append(plan.path)
    free: list[Planned] = []
    problems: list[Problem] = []
    for plan in plans:
        clash = next((path for path in plan.outputs if len(claims[_identity(path)]) > 1), None)
        if clash is not None:
            other = next(path for path in claims[_identity(clash)] if path != plan.path)
            message = f"would become {clash}, as {other} would: neither is made"
            problems.append(Problem(plan.name, plan.path, message, "rename one of them"))
        elif any(_identity(path) in INDEX_NAMES for path in plan.outputs):
            message = "would lie where the index of the library is: it is not made"
            problems.append(Problem(plan.name, plan.path, message, "give the song another name"))
        else:
            free.append(plan)
    return free, problems


def _identity(path: str) -> str:
    """Return the same text for names that one disk or another takes for the same."""
    return path.lower() if path.isascii() else unicodedata.normalize("NFC", path).casefold()


def wanted(names: Iterable[str]) -> set[str]:
    """Return all PDFs, of any kind, that songs of these names can have."""
    return {output(name, kind) for name in names for kind in NAMING}
