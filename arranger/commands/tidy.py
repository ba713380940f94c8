"""`tidy`: lays songs' files out in the house style."""

from __future__ import annotations

import argparse
from pathlib import Path

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import tell
from arranger.commands.songs import each, read_song, songs_of
from arranger.song.house_style import tidied
from arranger.song.read import encode, read
from arranger.text.source import Source
from arranger.text.terminal import printable


def run(options: argparse.Namespace) -> int:
    """Lay songs' files out in the house style; songs with errors are told and left alone."""
    return each(songs_of(options), _tidied)


def _tidied(path: Path) -> int:
    song, source, before, status = read_song(path)
    if song is None:
        return status
    typed = Source.typed(source.name, before.decode())
    after = Source(source.name, tidied(typed))
    if read(Source.of(after.name, after.text))[0] != song:  # tests hold that this never happens; worth one more look
        raise AssertionError(f"{path} would become another song; it stays as it is")
    try:
        data = encode(after, before)
        if data != before:
            files.rewrite(path, before, data, keep=False)
    except OSError as fault:
        return tell(Refused((f"{path} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    print(printable(f"{path}: {'tidied' if data != before else 'tidy already'}"))
    return status
