"""`stage`: makes copies of songs to play from, as PDF."""

from __future__ import annotations

import argparse

from arranger import files
from arranger.arguments import Refused
from arranger.commands.making import make_each
from arranger.commands.songs import songs_of
from arranger.commands.wishes import staging
from arranger.staging import StageCopy, to_stage


def run(options: argparse.Namespace) -> int:
    """Make PDFs. Songs with errors, or that cannot be read from so far, are told and left out; the others are made."""
    wishes = staging(options)
    songs = songs_of(options)
    targets, problems = files.results(songs, options.output, files.stage_name, "song", "PDF")
    if problems:
        raise Refused(*problems)
    return make_each(songs, targets, wishes, options.key, to_stage, _legible)


def _legible(copy: StageCopy) -> str:
    return f", legible to {copy.reading.legible_to:g} m"
