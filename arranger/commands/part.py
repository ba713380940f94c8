"""`part`: makes the keys part of songs, as PDF."""

from __future__ import annotations

import argparse

from arranger import files
from arranger.arguments import Refused
from arranger.commands.making import make_each
from arranger.commands.songs import songs_of
from arranger.commands.wishes import wishes_of
from arranger.pipeline import to_part


def run(options: argparse.Namespace) -> int:
    """Make PDFs. Songs with errors are told and left out; the others are made."""
    wishes = wishes_of(options)
    songs = songs_of(options)
    targets, problems = files.pdfs(songs, options.output)
    if problems:
        raise Refused(*problems)
    return make_each(songs, targets, wishes, options.key, to_part)
