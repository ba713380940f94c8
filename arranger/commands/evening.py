"""Run `evening`: one PDF of all songs of a running order, made whole or not at all.

All that is wrong is told at once: of a song in its own file, with the line of the running order that names it.
"""

from __future__ import annotations

import argparse
import pickle
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from arranger import files
from arranger.cli import DONE, SONG_ERROR, Refused
from arranger.commands.songs import agreed, report, touching
from arranger.commands.wishes import wishes_of
from arranger.digests import as_made
from arranger.intake import Diagnostics, Wishes, to_song
from arranger.late import load
from arranger.resources import FontError
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.song.running_order import OrderedSong, RunningOrder, read_order
from arranger.song.tonight import song_tonight
from arranger.text.diagnostics import Diagnostic, error, has_errors, render
from arranger.text.problems import count
from arranger.text.source import Source
from arranger.text.terminal import printable, quoted
from arranger.units import Sheet

if TYPE_CHECKING:
    from arranger.harmony.model import Arrangement

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
    evening = EveningSongs(path, wishes)
    order = evening.read()
    if evening.broken:
        return evening.told()
    binding = load("arranger.binding")
    try:
        made = binding.to_book(
            order, evening.work_out, evening.tell, wishes, stage=options.stage, facing=options.facing
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


@dataclass(slots=True)
class EveningSongs:
    """Reads a running order with its songs, and gathers what there is to say. Mutable; lives for one command.

    Songs are kept packed: an evening takes little more memory than its longest song.
    """

    path: Path
    wishes: Wishes
    source: Source = field(default_factory=lambda: Source("", ""))
    order: RunningOrder = field(default_factory=lambda: RunningOrder(Source("", "")))
    problems: list[Diagnostic] = field(default_factory=list)  # at places of the running order
    songs: list[bytes] = field(default_factory=list)
    sources: dict[str, Source] = field(default_factory=dict)
    status: int = DONE
    said: set[tuple[str, str]] = field(default_factory=set)

    @property
    def broken(self) -> bool:
        """Whether nothing can be made of it."""
        return has_errors(self.problems) or self.status != DONE

    def read(self) -> RunningOrder:
        """Read the running order and all its songs, with their facts of the evening."""
        with touching(self.path, "read"):
            data = files.read(self.path)
        self.source, problems = decode(str(self.path), data)
        if has_errors(problems):
            self.problems += problems
            return self.order
        self.order, found = read_order(self.source)
        self.problems += found
        known: dict[str, Song | None] = {}
        for one in self.order.songs:
            if not one.file:
                continue
            if known.get(one.file) is None:  # what is wrong with a song is told once, but for each line that names it
                known[one.file] = self._song(one)
            song = known[one.file]
            if song is None:
                continue
            tonight, problems = song_tonight(song, one.facts)
            self.problems += problems
            self.songs.append(pickle.dumps(tonight, pickle.HIGHEST_PROTOCOL))
        return self.order

    def _song(self, one: OrderedSong) -> Song | None:
        """Read a song of the order; None after what is wrong was told or noted."""
        path = self.path.parent / one.file
        found, problems = files.songs([str(path)]) if "\0" not in one.file else ([], [(f"there is no file {path}", "")])
        if problems or len(found) != 1:
            message, hint = problems[0] if problems else (f"expected one song, found {len(found)}", "")
            hint = hint.replace(str(self.path.parent / "_")[:-1], "")  # as the running order would have it
            self.problems.append(error("song-missing", message, one.span, *filter(None, (hint,))))
            return None
        try:
            source, wrong = decode(str(path), files.read(path))
        except OSError as fault:
            message = f"expected a song's file, found {path}, which cannot be read: {files.reason(fault)}"
            self.problems.append(error("song-missing", message, one.span))
            return None
        song = None
        if not wrong:
            song, wrong = to_song(source)
        self._report(wrong, source)
        if song is None:
            errors = count(sum(problem.severity == "error" for problem in wrong), "error")
            message = f"expected a song without mistakes, found {errors} in {path}"
            self.problems.append(error("song-with-errors", message, one.span))
        return song

    def all_songs(self) -> list[Song]:
        """Return the songs as they are played this evening, each once, in order; not those with errors."""
        songs: list[Song | None] = [pickle.loads(packed) for packed in dict.fromkeys(self.songs)]
        return [song for song in songs if song is not None]

    def work_out(self, number: int) -> Arrangement | None:
        """Work out a song of the order, by its place from 0; None after what is wrong was told."""
        song: Song = pickle.loads(self.songs[number])
        worked, problems = load("arranger.pipeline").to_worked_out(song, self.wishes)
        self._report(problems, song.source)
        if worked is None:
            self._note(number, problems)
            return None
        arrangement: Arrangement = worked.arrangement
        return arrangement

    def tell(self, number: int, problems: Diagnostics) -> None:
        """Report what the pages had to say of a song; of the order where the number is below 0."""
        if number < 0:
            self.problems += problems
            return
        song: Song = pickle.loads(self.songs[number])
        self._report(problems, song.source)
        if has_errors(problems):
            self._note(number, problems)

    def _note(self, number: int, problems: Sequence[Diagnostic]) -> None:
        one = self.order.songs[number]
        errors = count(sum(problem.severity == "error" for problem in problems), "error")
        message = f"expected a song that can be played and printed, found {errors} in {self.path.parent / one.file}"
        self.problems.append(error("song-with-errors", message, one.span))

    def _report(self, problems: Sequence[Diagnostic], source: Source) -> None:
        """Print what there is to say of a song, each thing once."""
        new = [one for one in problems if (source.name, render(one, source)) not in self.said]
        self.said |= {(source.name, render(one, source)) for one in new}
        self.status = max(self.status, report(new, source))

    def told(self) -> int:
        """Print what there is to say of the running order; return the status that all leads to."""
        sys.stderr.flush()
        return max(self.status, report(self.problems, self.source))
