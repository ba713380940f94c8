"""`stage`: makes copies of songs to play from, as PDF."""

from __future__ import annotations

import argparse
from pathlib import Path

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import tell
from arranger.commands.songs import arranged, report, songs_of
from arranger.commands.wishes import staging
from arranger.pipeline import Wishes
from arranger.staging import to_stage
from arranger.terminal import printable


def run(options: argparse.Namespace) -> int:
    """Make PDFs. Songs with errors, or that cannot be read from so far, are told and left out; the others are made."""
    wishes = staging(options)
    songs = songs_of(options)
    targets, problems = files.results(songs, options.output, files.stage_name, "song", "PDF")
    if problems:
        raise Refused(*problems)
    return max(_make(song, target, wishes, options.key) for song, target in zip(songs, targets, strict=True))


def _make(path: Path, target: Path, wishes: Wishes, key: str | None) -> int:
    arrangement, source, status = arranged(path, wishes, key)
    if arrangement is None:
        return status
    copy, problems = to_stage(arrangement, wishes)
    status = max(status, report(problems, source))
    if copy is None:
        return status
    try:
        files.write(target, copy.pdf)
    except OSError as fault:
        return tell(Refused((f"{target} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    pages = f"{copy.pages} page{'' if copy.pages == 1 else 's'}"
    print(printable(f"{target}: {pages}, legible to {copy.reading.legible_to:g} m"))
    return status
