"""`check`: looks for mistakes in songs, and mends what is certain."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import DONE, SONG_ERROR, complain, nearest, print_json, tell
from arranger.commands.songs import each, report, songs_of
from arranger.commands.wishes import checking
from arranger.convert.recognise import looks_like_a_sheet
from arranger.exchange.editors import problems_json
from arranger.pipeline import Wishes, all_problems
from arranger.song.mistakes import explanation, known_codes
from arranger.song.read import decode, encode, mended
from arranger.text.diagnostics import Diagnostic, has_errors, in_order
from arranger.text.source import Source
from arranger.text.terminal import printable


def run(options: argparse.Namespace) -> int:
    """Say all that `part` would say of songs; mend what is certain where that is asked for."""
    if options.explain is not None:
        return _explain(options)
    if not options.songs:
        raise Refused(("the following arguments are required: SONG", "`arranger check --help` explains"))
    wishes = checking(options)
    found = []

    def check(path: Path) -> int:
        told, status = _checked(path, options.fix, wishes, said=not options.json)
        if told is not None:
            found.append(told)
        return status

    status = each(songs_of(options), check)
    if options.json:
        print_json(problems_json(found))
    return status


def _explain(options: argparse.Namespace) -> int:
    """Print what a code means."""
    if options.songs:
        raise Refused(("--explain takes a code alone, without songs", "`arranger check --explain wrong-count`"))
    try:
        print(explanation(options.explain.lower()).replace("**", ""))
    except KeyError:
        raise Refused(
            (f"no message has the code `{options.explain}`", nearest(options.explain, known_codes()))
        ) from None
    return DONE


def _checked(
    path: Path, fix: bool, wishes: Wishes, *, said: bool
) -> tuple[tuple[Source, tuple[Diagnostic, ...]] | None, int]:
    """Look for what is wrong with a song, and say it where `said`; None where the file cannot be read."""
    try:
        data = files.read(path)
    except OSError as fault:
        return None, tell(Refused((f"{path} cannot be read: {files.reason(fault)}", "")))
    source, problems = decode(str(path), data)
    if not problems:
        if fix and not looks_like_a_sheet(source.text):  # not line by line into something that is neither
            source, refused = _mended(path, source, data)
            if refused:
                return None, refused
        problems = all_problems(source, wishes)
    if said:
        return None, report(problems, source)
    return (source, in_order(problems)), SONG_ERROR if has_errors(problems) else DONE


def _mended(path: Path, source: Source, data: bytes) -> tuple[Source, int]:
    """Mend a song's file, keeping a copy; say what was done. Gives the new source, and a status where it failed."""
    after, done = mended(Source.typed(source.name, data.decode()))
    if not done:
        return source, DONE
    try:
        copy = files.rewrite(path, data, encode(after, data), keep=True)
    except OSError as fault:
        return source, tell(Refused((f"{path} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    for one in done:
        change = f"`{one.before}` is now `{one.after}`" if one.before and one.after else f"`{one.after}` was put in"
        change = change if one.after else f"`{one.before}` was taken out"
        print(printable(f"{path}:{one.line}: mended {one.code}: {change}"), file=sys.stderr)
    things = "1 mistake" if len(done) == 1 else f"{len(done)} mistakes"
    complain(f"{path}: mended {things}; {copy.name if copy else path.name} is the file as it was")
    return Source.of(after.name, after.text), DONE
