"""Run `part` and `stage`; find, read and work out the songs of every command that is given songs.

Both make a PDF of each song, whole or not at all.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from arranger import files
from arranger.cli import DONE, SONG_ERROR, Refused, own_up, tell, unexpected
from arranger.commands.wishes import wishes_of
from arranger.digests import as_made
from arranger.intake import Diagnostics, Wishes, to_song
from arranger.late import load
from arranger.resources import FontError
from arranger.settings import ALSO
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.text.diagnostics import Diagnostic, has_errors, in_order, render
from arranger.text.source import Source
from arranger.text.terminal import printable
from arranger.theory.key import Key, another_key

if TYPE_CHECKING:  # not loaded before a song has been read without a mistake
    from arranger.harmony.arrange import WorkedOut
    from arranger.harmony.model import Arrangement

T = TypeVar("T")
Finish = Callable[["Arrangement", Wishes], tuple[Any, Diagnostics]]  # a PDF with its pages, or None


class Also(NamedTuple):
    """What is made beside each PDF: kinds of `settings.ALSO`; how MIDI sounds."""

    kinds: tuple[str, ...] = ()
    share: Fraction = Fraction(1)
    count_in: bool = False

    @property
    def endings(self) -> list[str]:
        """How the names of what is made end."""
        return [ALSO[kind] for kind in self.kinds]


PDF_ALONE = Also()


def run_part(options: argparse.Namespace) -> int:
    """Make the keys part of songs."""
    return _make_each(options, files.pdf_name, wishes_of(options), _part, also=_also(options))


def run_stage(options: argparse.Namespace) -> int:
    """Make copies of songs to play from."""
    return _make_each(options, files.stage_name, wishes_of(options), _stage, _legible)


def _part(arrangement: Arrangement, wishes: Wishes) -> tuple[Any, Diagnostics]:
    made: tuple[Any, Diagnostics] = load("arranger.pipeline").to_part(arrangement, wishes)
    return made


def _stage(arrangement: Arrangement, wishes: Wishes) -> tuple[Any, Diagnostics]:
    made: tuple[Any, Diagnostics] = load("arranger.staging").to_stage(arrangement, wishes)
    return made


def _legible(copy: Any) -> str:
    return f", legible to {copy.reading.legible_to:g} m"


def _make_each(
    options: argparse.Namespace,
    naming: Callable[[Path, str], str],
    wishes: Wishes,
    finish: Finish,
    more: Callable[[Any], str] = lambda _: "",
    also: Also = PDF_ALONE,
) -> int:
    """Make the PDF of each song. Those with errors, or that cannot be read from so far, are told and left out.

    Args:
        options: what was typed: the songs, where their PDFs go, another key for today.
        naming: names the PDF of a song, with a key where it is not the song's own.
        wishes: the player's.
        finish: sets the pages and writes them.
        more: what is said of a finished PDF behind the number of its pages.
        also: what is made beside it.
    """
    songs = songs_of(options.songs)

    def name(song: Path) -> str:
        return naming(song, _key_in_name(song, options.key))

    found = files.results(songs, options.output, name, "song", "PDF", keep=not options.force, also=also.endings)
    places = agreed(found)

    def make(path: Path) -> int:
        worked, source, status = worked_out(path, wishes, options.key)
        if worked is None:
            return status
        made, problems = finish(worked.arrangement, wishes)
        status = max(status, report(problems, source))
        if made is None:
            return status
        said = [f"{made.pages} page{'' if made.pages == 1 else 's'}{more(made)}"]
        together = [(places[path], made.pdf)]
        for target, beside in zip(
            files.beside(places[path], also.endings), _beside(path, worked.arrangement, also), strict=True
        ):
            together.append((target, beside.data))
            said.append(beside.said)
        with touching(places[path], "written", "nothing has changed there"):
            files.write_together(together, lambda present: options.force or as_made(present))
        for (target, _), what in zip(together, said, strict=True):
            print(printable(f"{target}: {what}"))
        return status

    return each(songs, make)


def _beside(path: Path, arrangement: Arrangement, also: Also) -> tuple[Any, ...]:
    """Make what stands beside a song's PDF."""
    if not also.kinds:
        return ()
    try:
        made: tuple[Any, ...] = load("arranger.exchange.also").made_beside(
            arrangement, also.kinds, share=also.share, count_in=also.count_in
        )
    except ValueError as problem:
        raise Refused((f"{path}: {problem}", "look at `roadmap`, at `x99` behind a bar, and at `tempo`")) from None
    return made


def _also(options: argparse.Namespace) -> Also:
    """Read what is asked for beside each PDF, and how MIDI is to sound."""
    kinds = also_kinds(options.also)
    for option, given in (("--slower", options.slower), ("--count-in", options.count_in)):
        if given and "midi" not in kinds:
            raise Refused((f"{option} is for MIDI files, and none is asked for", "--also midi makes them"))
    return Also(kinds, _share(options.slower) if options.slower is not None else Fraction(1), options.count_in)


def also_kinds(text: str | None) -> tuple[str, ...]:
    """Return the kinds that stand after `--also`, in the order in which they are made; refuse others."""
    if text is None:
        return ()
    words = [word.strip().lower() for word in text.split(",")]
    for word in words:
        if word not in ALSO:
            raise unexpected("midi, musicxml, or both with a comma", "--also", word)
    return tuple(kind for kind in ALSO if kind in words)


SLOWEST, AS_WRITTEN = 40, 100  # per cent of the tempo


def _share(text: str) -> Fraction:
    """Read a share of the tempo: `80%`."""
    number = text.strip().removesuffix("%").strip()
    if number.isascii() and number.isdecimal() and SLOWEST <= int(number[:4]) <= AS_WRITTEN:
        return Fraction(int(number), 100)
    raise unexpected(f"a share of the tempo from {SLOWEST}% to {AS_WRITTEN}%", "--slower", text)


def _key_in_name(path: Path, text: str | None) -> str:
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


# What commands share.


def songs_of(words: list[str]) -> list[Path]:
    """Return the files that were named; refuse where one is none."""
    return agreed(files.songs(words))


def agreed(found: tuple[T, Sequence[tuple[str, str]]]) -> T:
    """Return what was found; refuse where there are problems with it."""
    if found[1]:
        raise Refused(*found[1])
    return found[0]


def each(paths: Iterable[Path], work: Callable[[Path], int]) -> int:
    """Do the work of a command on each song; return the worst status.

    What cannot be done, or a fault that nobody foresaw, is told with the song's name, and the next song follows.
    """
    return max(_held(path, work) for path in paths)


def _held(path: Path, work: Callable[[Path], int]) -> int:
    try:
        return work(path)
    except BrokenPipeError:
        raise
    except Refused as refused:
        return tell(refused)
    except FontError as fault:
        return tell(Refused((str(fault), "a file that ends in .ttf")))
    except OSError as fault:
        if fault.errno is not None and fault.filename is None:  # the output cannot be written: nobody hears of the next
            raise
        return own_up(fault, str(path))
    except Exception as fault:
        return own_up(fault, str(path))


@contextmanager
def touching(path: Path, what: str, hint: str = "") -> Iterator[None]:
    """Turn a file's fault into an error with its path; `what` was to be done with it: `read` or `written`."""
    try:
        yield
    except OSError as fault:
        raise Refused((f"{path} cannot be {what}: {files.reason(fault)}", hint)) from None


def report(problems: Iterable[Diagnostic], source: Source) -> int:
    """Print what the stages had to say about a song; return the status that it leads to."""
    problems = in_order(problems)
    for problem in problems:
        print(render(problem, source), file=sys.stderr)
    return SONG_ERROR if has_errors(problems) else DONE


def read_song(path: Path) -> tuple[Song | None, Source, bytes, int]:
    """Read a song and report what is wrong with it. Returns the song, its source, its bytes, and the status."""
    with touching(path, "read"):
        data = files.read(path)
    source, problems = decode(str(path), data)
    song = None
    if not problems:
        song, problems = to_song(source)
    return song, source, data, report(problems, source)


def worked_out(path: Path, wishes: Wishes, key: str | None) -> tuple[WorkedOut | None, Source, int]:
    """Read a song and work it out in the key asked for, with what it was made from, reporting on the way."""
    song, source, _, status = read_song(path)
    if song is None:
        return None, source, status
    if key is not None:
        try:
            wishes = replace(wishes, key=another_key(key, song.key))
        except ValueError as problem:
            raise Refused((f"{path}: {problem}", _step(key, song.key))) from None
    worked, problems = load("arranger.pipeline").to_worked_out(song, wishes)
    return worked, source, max(status, report(problems, source))


def _step(text: str, home: Key) -> str:
    """Return a hint to the key that so many semitones lead to: `+2` is how others ask for one."""
    match = re.fullmatch(r"[+-]\d{1,2}", text.strip())
    if match is None:
        return ""
    key = Key(home.spelled((home.tonic.pitch_class + int(match[0])) % 12), home.minor)
    return f"name the key: {match[0]} from {home.words} is --key {key.enharmonic() or key}"
