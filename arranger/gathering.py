"""Gather the songs of a running order as they are played that evening, with all that there is to say of them.

Where a song comes from is for who gathers: a folder on the disk, or texts that were given.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from arranger.intake import Diagnostics, Wishes, to_song
from arranger.late import load
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.song.running_order import OrderedSong, RunningOrder, read_order
from arranger.song.tonight import song_tonight
from arranger.text.diagnostics import Diagnostic, error, has_errors, render
from arranger.text.problems import count
from arranger.text.source import Source

if TYPE_CHECKING:  # not loaded before all songs have been read without a mistake
    from arranger.harmony.model import Arrangement


class FetchedSong(NamedTuple):
    """A song that a running order names: what messages call it, and its bytes; else why there are none, and a hint."""

    name: str
    data: bytes | None
    missing: str = ""
    hint: str = ""


Fetch = Callable[[str], FetchedSong]  # takes a song's file as the running order has it
Report = Callable[[Sequence[Diagnostic], Source], None]  # takes what there is to say of a song, at places in it
Read = Callable[[Source], tuple[Song | None, Diagnostics]]
WorkOut = Callable[[bytes, Wishes], tuple["Arrangement | None", Diagnostics]]  # takes a song packed


def worked_out_tonight(packed: bytes, wishes: Wishes) -> tuple[Arrangement | None, Diagnostics]:
    """Work out a packed song; None where it cannot be played."""
    worked, problems = load("arranger.pipeline").to_worked_out(pickle.loads(packed), wishes)
    return (worked.arrangement if worked is not None else None), problems


@dataclass(slots=True)
class EveningSongs:
    """Reads a running order with its songs, and gathers what there is to say. Mutable; lives for one evening.

    Songs are kept packed: an evening takes little more memory than its longest song. `reads` and `works` are the
    stages, or who remembers what they have found.
    """

    source: Source
    wishes: Wishes
    fetch: Fetch
    report: Report
    reads: Read = to_song
    works: WorkOut = worked_out_tonight
    order: RunningOrder = field(default_factory=lambda: RunningOrder(Source("", "")))
    problems: list[Diagnostic] = field(default_factory=list)  # at places of the running order
    songs: list[bytes] = field(default_factory=list)
    known: dict[str, Song | None] = field(default_factory=dict)  # as they are written, by file
    wrong: bool = False  # whether an error of a song was told
    said: set[tuple[str, str]] = field(default_factory=set)

    @property
    def broken(self) -> bool:
        """Whether nothing can be made of it."""
        return has_errors(self.problems) or self.wrong

    def read(self) -> RunningOrder:
        """Read the running order and all its songs, with their facts of the evening."""
        self.order, found = read_order(self.source)
        self.problems += found
        for one in self.order.songs:
            if not one.file:
                continue
            if self.known.get(one.file) is None:  # what is wrong with a song is told once, but for each line of it
                self.known[one.file] = self._song(one)
            song = self.known[one.file]
            if song is None:
                continue
            tonight, problems = song_tonight(song, one.facts)
            self.problems += problems
            self.songs.append(pickle.dumps(tonight, pickle.HIGHEST_PROTOCOL))
        return self.order

    def _song(self, one: OrderedSong) -> Song | None:
        """Read a song of the order; None after what is wrong was told or noted."""
        fetched = self.fetch(one.file)
        if fetched.data is None:
            self.problems.append(error("song-missing", fetched.missing, one.span, *filter(None, (fetched.hint,))))
            return None
        source, wrong = decode(fetched.name, fetched.data)
        song = None
        if not wrong:
            song, wrong = self.reads(source)
        self._report(wrong, source)
        if song is None:
            self._note(one, "expected a song without mistakes", wrong, fetched.name)
        return song

    def song(self, number: int) -> Song:
        """Return a song of the order as it is played this evening, by its place from 0."""
        song: Song = pickle.loads(self.songs[number])
        return song

    def all_songs(self) -> list[Song]:
        """Return the songs as they are played this evening, each once, in order; not those with errors."""
        songs: list[Song | None] = [pickle.loads(packed) for packed in dict.fromkeys(self.songs)]
        return [song for song in songs if song is not None]

    def work_out(self, number: int) -> Arrangement | None:
        """Work out a song of the order, by its place from 0; None after what is wrong was told."""
        arrangement, problems = self.works(self.songs[number], self.wishes)
        if problems or arrangement is None:
            self._report(problems, self.song(number).source)
        if arrangement is None:
            self._unfit(number, problems)
        return arrangement

    def tell(self, number: int, problems: Diagnostics) -> None:
        """Report what the pages had to say of a song; of the order where the number is below 0."""
        if number < 0:
            self.problems += problems
            return
        if problems:
            self._report(problems, self.song(number).source)
        if has_errors(problems):
            self._unfit(number, problems)

    def _unfit(self, number: int, problems: Sequence[Diagnostic]) -> None:
        name = self.song(number).source.name
        self._note(self.order.songs[number], "expected a song that can be played and printed", problems, name)

    def _note(self, one: OrderedSong, expected: str, problems: Sequence[Diagnostic], name: str) -> None:
        errors = count(sum(problem.severity == "error" for problem in problems), "error")
        self.problems.append(error("song-with-errors", f"{expected}, found {errors} in {name}", one.span))

    def _report(self, problems: Sequence[Diagnostic], source: Source) -> None:
        """Report what there is to say of a song, each thing once."""
        new = [one for one in problems if (source.name, render(one, source)) not in self.said]
        self.said |= {(source.name, render(one, source)) for one in new}
        self.wrong = self.wrong or has_errors(new)
        self.report(new, source)
