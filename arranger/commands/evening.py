"""Run `evening`: one PDF of all songs of a running order, made whole or not at all.

All that is wrong is told at once: of a song in its own file, with the line of the running order that names it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from arranger import files
from arranger.cli import DONE, SONG_ERROR, Refused
from arranger.commands.songs import agreed, report, touching
from arranger.commands.wishes import wishes_of
from arranger.digests import as_made
from arranger.gathering import EveningSongs, FetchedSong
from arranger.intake import Wishes
from arranger.late import load
from arranger.resources import FontError
from arranger.song.read import decode
from arranger.text.diagnostics import Diagnostic, has_errors
from arranger.text.problems import count
from arranger.text.source import Source
from arranger.text.terminal import printable, quoted
from arranger.units import Sheet

FOR_STAGE = ("distance", "words", "dark", "screen", "margin")
FOR_PARTS = ("hands", "verses")


def run(options: argparse.Namespace) -> int:
    """Make the book of an evening."""
    path = order_path(options.set)
    wishes = _wishes(options)

    def name(order: Path) -> str:
        return files.book_name(order, stage=options.stage)

    places = agreed(files.results([path], options.output, name, "set", "PDF", keep=not options.force))
    target = places[path]
    evening = FolderEvening(path, wishes)
    songs = evening.songs
    if songs.broken:
        return evening.told()
    binding = load("arranger.binding")
    try:
        made = binding.to_book(
            songs.order, songs.work_out, songs.tell, wishes, stage=options.stage, facing=options.facing
        )
    except FontError as fault:
        raise Refused((str(fault), "a file that ends in .ttf")) from None
    status = evening.told()
    if made is None or status != DONE:
        return max(status, SONG_ERROR)
    with touching(target, "written", "nothing has changed there"):
        files.write(target, made.pdf, lambda present: options.force or as_made(present))
    print(printable(f"{target}: {count(made.songs, 'song')}, {count(made.pages, 'page')}"))
    return status


def order_path(word: str) -> Path:
    """Return the running order that was named; refuse what can be none."""
    path = Path(word)
    try:
        if path.is_dir():
            inside = sorted(p.name for p in path.iterdir() if p.name.lower().endswith(files.SET_ENDING))
            hint = f"it holds {quoted(str(path / inside[0]))}" if inside else "a running order is a file, NAME.set.txt"
            raise Refused((f"expected a running order, found the folder {path}", hint))
    except OSError as fault:
        raise Refused((f"{path} cannot be read: {files.reason(fault)}", "")) from None
    if path.name.lower().endswith(files.SONG_ENDING):
        hint = f"`arranger part {quoted(word)}` makes its part"
        raise Refused((f"expected a running order, NAME.set.txt, found the song {path}", hint))
    try:
        if not path.exists():
            raise Refused((f"there is no file {path}", _near_order(path)))
    except (OSError, ValueError) as fault:
        raise Refused((f"{path} cannot be read: {files.reason(fault)}", "")) from None
    return path


def _near_order(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f"there is no folder {folder}"
    names = sorted(p.name for p in folder.iterdir() if p.name.lower().endswith(files.SET_ENDING))
    near: list[str] = load("difflib").get_close_matches(path.name, names, n=1)
    return f"is {quoted(str(folder / near[0]))} meant?" if near else ""


def _wishes(options: argparse.Namespace) -> Wishes:
    """Return what the player wishes, for parts or for stage copies; refuse options that are for the other."""
    others, hint = (FOR_PARTS, "leave it out") if options.stage else (FOR_STAGE, "--stage makes stage copies")
    for name in others:
        if getattr(options, name) not in (None, False):
            what = "parts" if options.stage else "stage copies"
            raise Refused((f"--{name} is for {what}, and this book has {'stage copies' if options.stage else 'parts'}",
                           hint))  # fmt: skip
    like = argparse.Namespace(**vars(options) | {"command": "stage" if options.stage else "part"})
    wishes = wishes_of(like)
    sheet: Sheet = wishes.stage.sheet
    if options.stage and options.facing and (sheet.pages > 1 or sheet.screen):
        why = "have two pages side by side anyway" if sheet.pages > 1 else "show one page at a time"
        raise Refused((f"--facing is for sheets with one page, and sheets of {sheet.name} {why}", ""))
    return wishes


class FolderEvening:
    """The songs of a running order from its own folder, what there is to say being printed. Lives for one command."""

    def __init__(self, path: Path, wishes: Wishes) -> None:
        self._path = path
        self._status = DONE
        with touching(path, "read"):
            data = files.read(path)
        source, problems = decode(str(path), data)
        self.songs = EveningSongs(source, wishes, self._fetch, self._report)
        if has_errors(problems):
            self.songs.problems += problems
        else:
            self.songs.read()

    def _fetch(self, file: str) -> FetchedSong:
        """Return a song of the order."""
        path = self._path.parent / file
        data, (message, hint) = files.song_of_order(path)
        hint = hint.replace(str(self._path.parent / "_")[:-1], "")  # as the running order would have it
        return FetchedSong(str(path), data, message, hint)

    def _report(self, problems: Sequence[Diagnostic], source: Source) -> None:
        self._status = max(self._status, report(problems, source))

    def told(self) -> int:
        """Print what there is to say of the running order; return the status that all leads to."""
        sys.stderr.flush()
        return max(self._status, report(self.songs.problems, self.songs.source))
