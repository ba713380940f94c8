"""`part`: makes the keys part of songs, as PDF."""

from __future__ import annotations

import argparse
from pathlib import Path

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import tell
from arranger.commands.songs import arranged, report, songs_of
from arranger.commands.wishes import wishes_of
from arranger.pipeline import Wishes, to_part
from arranger.terminal import printable


def run(options: argparse.Namespace) -> int:
    """Make PDFs. Songs with errors are told and left out; the others are made."""
    wishes = wishes_of(options)
    songs = songs_of(options)
    targets, problems = files.pdfs(songs, options.output)
    if problems:
        raise Refused(*problems)
    return max(_make(song, target, wishes, options.key) for song, target in zip(songs, targets, strict=True))


def _make(path: Path, target: Path, wishes: Wishes, key: str | None) -> int:
    arrangement, source, status = arranged(path, wishes, key)
    if arrangement is None:
        return status
    part, problems = to_part(arrangement, wishes)
    status = max(status, report(problems, source))
    if part is None:
        return status
    try:
        files.write(target, part.pdf)
    except OSError as fault:
        return tell(Refused((f"{target} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    print(printable(f"{target}: {part.pages} page{'' if part.pages == 1 else 's'}"))
    return status
