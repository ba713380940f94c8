"""The songs that a command is about: found, read, and worked out, with what there is to say about each."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import DONE, SONG_ERROR, own_up, tell
from arranger.harmony.arrange import WorkedOut
from arranger.harmony.model import Arrangement
from arranger.pdf.fonts import FontError
from arranger.pipeline import Wishes, to_song, to_worked_out
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.text.diagnostics import Diagnostic, has_errors, in_order, render
from arranger.text.source import Source
from arranger.theory.key import Key, another_key


def report(problems: Iterable[Diagnostic], source: Source) -> int:
    """Print what the stages had to say about a song; give the status that it leads to."""
    problems = in_order(problems)
    for problem in problems:
        print(render(problem, source), file=sys.stderr)
    return SONG_ERROR if has_errors(problems) else DONE


def songs_of(options: argparse.Namespace) -> list[Path]:
    """Return the files of the songs that were named; refuse where one is none."""
    songs, problems = files.songs(options.songs)
    if problems:
        raise Refused(*problems)
    return songs


def each(paths: Iterable[Path], work: Callable[[Path], int]) -> int:
    """Do the work of a command on each song; return the worst status.

    A fault that nobody foresaw is told with the song's name, and the next song follows.
    """
    return max(_held(path, work) for path in paths)


def _held(path: Path, work: Callable[[Path], int]) -> int:
    try:
        return work(path)
    except (BrokenPipeError, Refused):
        raise
    except FontError as fault:
        return tell(Refused((str(fault), "a file that ends in .ttf")))
    except OSError as fault:
        if fault.errno is not None and fault.filename is None:  # the output cannot be written: nobody hears of the next
            raise
        return own_up(fault, str(path))
    except Exception as fault:
        return own_up(fault, str(path))


def read_song(path: Path) -> tuple[Song | None, Source, bytes, int]:
    """Read a song and report what is wrong with it. Returns the song, its source, its bytes, and the status."""
    try:
        data = files.read(path)
    except OSError as fault:
        status = tell(Refused((f"{path} cannot be read: {files.reason(fault)}", "")))
        return None, Source(str(path), ""), b"", status
    source, problems = decode(str(path), data)
    if problems:
        return None, source, data, report(problems, source)
    song, problems = to_song(source)
    return song, source, data, report(problems, source)


def key_in_name(path: Path, text: str | None) -> str:
    """Return the key for the name of a song's PDF: that of today, or nothing where it is the song's own.

    What is wrong with the song or the key is told when the PDF is made; here the name is all that is asked for.
    """
    if text is None:
        return ""
    try:
        song = to_song(decode(str(path), files.read(path))[0])[0]
        key = another_key(text, song.key) if song is not None else Key.parse(text)
    except Exception:
        return ""
    return "" if song is not None and key == song.key else str(key)


def _step(text: str, home: Key) -> str:
    """Return a hint to the key that so many semitones lead to: `+2` is how others ask for one."""
    match = re.fullmatch(r"[+-]\d{1,2}", text.strip())
    if match is None:
        return ""
    key = Key(home.spelled((home.tonic.pitch_class + int(match[0])) % 12), home.minor)
    return f"name the key: {match[0]} from {home.words} is --key {key.enharmonic() or key}"


def arranged(path: Path, wishes: Wishes, key: str | None) -> tuple[Arrangement | None, Source, int]:
    """Read a song and work it out in the key asked for, reporting on the way."""
    worked, source, status = worked_out(path, wishes, key)
    return (worked.arrangement if worked else None), source, status


def worked_out(path: Path, wishes: Wishes, key: str | None) -> tuple[WorkedOut | None, Source, int]:
    """Read a song and work it out in the key asked for, with what it was made from, reporting on the way."""
    song, source, _, status = read_song(path)
    if song is None:
        return None, source, status
    if key is not None:
        try:
            wishes = replace(wishes, key=another_key(key, song.key))
        except ValueError as problem:
            return None, source, tell(Refused((f"{path}: {problem}", _step(key, song.key))))
    worked, problems = to_worked_out(song, wishes)
    return worked, source, max(status, report(problems, source))
