"""Run `check`, which finds mistakes in songs and can correct some, and `tidy`, which lays their files out anew."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from arranger import files
from arranger.cli import DONE, SONG_ERROR, Refused, complain, nearest, print_json, say
from arranger.commands.songs import each, read_song, report, songs_of, touching
from arranger.commands.wishes import wishes_of
from arranger.convert.open_places import open_places, places_in_words
from arranger.convert.recognise import looks_like_a_sheet
from arranger.intake import to_song
from arranger.late import load
from arranger.song.read import decode, encode, mended, read
from arranger.song.tidy import tidied
from arranger.text.diagnostics import Diagnostic, has_errors, in_order
from arranger.text.source import Source
from arranger.text.terminal import printable

UNCHANGED = "nothing has changed there"


def run(options: argparse.Namespace) -> int:
    """Print all that `part` would say of songs; mend what is certain where that is asked for."""
    if options.explain is not None:
        return _explain(options)
    if not options.songs:
        raise Refused(("the following arguments are required: SONG", "`arranger check --help` explains"))
    wishes = wishes_of(options)
    found = []

    def check(path: Path) -> int:
        with touching(path, "read"):
            data = files.read(path)
        source, problems = decode(str(path), data)
        if not problems:
            if options.fix and not looks_like_a_sheet(source.text):  # not line by line into something that is neither
                source = _mended(path, source, data)
            song, problems = to_song(source)
            if song is not None:
                problems = (*problems, *load("arranger.pipeline").later_problems(song, wishes))
        found.append((source, in_order(problems)))
        if not options.json:
            status = report(problems, source)
            places = open_places(source.text)
            if places:
                first = f"the first in line {places[0][0]}" if len(places) > 1 else f"line {places[0][0]}"
                print(printable(f"{path}: {places_in_words(len(places))} to look at (# check), {first}"))
            return status
        return SONG_ERROR if has_errors(problems) else DONE

    songs = songs_of(options.songs)
    status = each(songs, check)
    if options.json:
        print_json(load("arranger.exchange.editors").problems_json(found))
    elif len(songs) > 1:
        _sum_up(len(songs), [problems for _, problems in found])
    return status


def _sum_up(songs: int, found: Sequence[Sequence[Diagnostic]]) -> None:
    """Print how many songs have mistakes, in one line, where anything was said of one."""
    wrong = sum(has_errors(problems) for problems in found)
    warned = sum(bool(problems) and not has_errors(problems) for problems in found)
    unread = songs - len(found)
    told = [f"{wrong} with mistakes"] if wrong else []
    told += [f"{warned} to look at"] if warned else []
    told += [f"{unread} not read"] if unread else []
    if told:
        say(f"{songs} songs checked: {', '.join(told)}")


def _explain(options: argparse.Namespace) -> int:
    """Print what a code means."""
    code = options.explain
    if options.songs:
        raise Refused(("--explain takes a code alone, without songs", "`arranger check --explain wrong-count`"))
    mistakes = load("arranger.song.mistakes")
    try:
        print(mistakes.explanation(code.lower()).replace("**", ""))
    except KeyError:
        raise Refused((f"no message has the code `{code}`", nearest(code, mistakes.known_codes()))) from None
    return DONE


def _mended(path: Path, source: Source, data: bytes) -> Source:
    """Mend a song's file, keeping a copy; say what was done, and return the new source."""
    after, done = mended(Source.typed(source.name, data.decode()))
    if not done:
        return source
    with touching(path, "written", UNCHANGED):
        copy = files.rewrite(path, data, encode(after, data), keep=True)
    for one in done:
        change = f"`{one.before}` is now `{one.after}`" if one.before and one.after else f"`{one.after}` was put in"
        change = change if one.after else f"`{one.before}` was taken out"
        print(printable(f"{path}:{one.line}: mended {one.code}: {change}"), file=sys.stderr)
    things = "1 mistake" if len(done) == 1 else f"{len(done)} mistakes"
    complain(f"{path}: mended {things}; {copy.name if copy else path.name} is the file as it was")
    return Source.of(after.name, after.text)


def run_tidy(options: argparse.Namespace) -> int:
    """Lay songs' files out in the house style; songs with errors are told and left alone."""
    return each(songs_of(options.songs), _tidied)


def _tidied(path: Path) -> int:
    song, source, before, status = read_song(path)
    if song is None:
        return status
    typed = Source.typed(source.name, before.decode())
    after = Source(source.name, tidied(typed))
    if read(Source.of(after.name, after.text))[0] != song:  # tests hold that this never happens; worth one more look
        raise AssertionError(f"{path} would become another song; it stays as it is")
    with touching(path, "written", UNCHANGED):
        data = encode(after, before)
        if data != before:
            files.rewrite(path, before, data, keep=False)
    print(printable(f"{path}: {'tidied' if data != before else 'tidy already'}"))
    return status
