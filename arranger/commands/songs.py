"""The songs that a command is about: found, read, and worked out, with what there is to say about each."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import DONE, SONG_ERROR, tell
from arranger.diagnostics import Diagnostic, has_errors, in_order, render
from arranger.harmony.arrange import WorkedOut
from arranger.harmony.model import Arrangement
from arranger.pipeline import Wishes, to_song, to_worked_out
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.source import Source
from arranger.theory.key import another_key


def report(problems: Iterable[Diagnostic], source: Source) -> int:
    """Print what the stages had to say about a song; give the status that it leads to."""
    problems = in_order(problems)
    for problem in problems:
        print(render(problem, source), file=sys.stderr)
    return SONG_ERROR if has_errors(problems) else DONE


def songs_of(options: argparse.Namespace) -> list[Path]:
    """Give the files of the songs that were named; refuse where one is none."""
    songs, problems = files.songs(options.songs)
    if problems:
        raise Refused(*problems)
    return songs


def read_song(path: Path) -> tuple[Song | None, Source, int]:
    """Read a song and report what is wrong with it. Gives the song, its source, and the status that it leads to."""
    try:
        data = files.read(path)
    except OSError as fault:
        status = tell(Refused((f"{path} cannot be read: {files.reason(fault)}", "")))
        return None, Source(str(path), ""), status
    source, problems = decode(str(path), data)
    if problems:
        return None, source, report(problems, source)
    song, problems = to_song(source)
    return song, source, report(problems, source)


def arranged(path: Path, wishes: Wishes, key: str | None) -> tuple[Arrangement | None, Source, int]:
    """Read a song and work it out in the key asked for, reporting on the way."""
    worked, source, status = worked_out(path, wishes, key)
    return (worked.arrangement if worked else None), source, status


def worked_out(path: Path, wishes: Wishes, key: str | None) -> tuple[WorkedOut | None, Source, int]:
    """Read a song and work it out in the key asked for, with what it was made from, reporting on the way."""
    song, source, status = read_song(path)
    if song is None:
        return None, source, status
    if key is not None:
        try:
            wishes = replace(wishes, key=another_key(key, song.key))
        except ValueError as problem:
            return None, source, tell(Refused((f"{path}: {problem}", "")))
    worked, problems = to_worked_out(song, wishes)
    return worked, source, max(status, report(problems, source))
