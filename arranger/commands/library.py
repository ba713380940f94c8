"""Run `library`: make the parts of all songs under a folder that have changed."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from types import FrameType, ModuleType

from arranger import files
from arranger.cli import DONE, SONG_ERROR, USAGE_ERROR, Refused, complain, say, unexpected
from arranger.commands.review import open_in
from arranger.commands.songs import also_kinds
from arranger.commands.wishes import wishes_of
from arranger.convert.open_places import places_in_words
from arranger.convert.recognise import looks_like_a_sheet
from arranger.late import load
from arranger.library.ledger import Ledger, StoreError
from arranger.library.make import Outcome, Summary, make, warm
from arranger.library.plan import Library, plan
from arranger.library.run import run as run_through
from arranger.library.scan import NAMING, PART, STAGE, scan
from arranger.library.workers import POOL_FROM, Crew, NoWorkersError, here
from arranger.song.read import decode
from arranger.text.terminal import printable, quoted

EXTRA = "pip install 'keys-arranger[cluster]'"
OUT = "parts"  # the folder of the PDFs, in that of the songs, unless another is named
MOST_JOBS = 64  # worker processes; more than most machines have cores, and fewer than some systems can wait for
BAR = 30  # columns
MOST_LOOKED_AT = 100  # texts that may be typed sheets, in a folder without songs


def run(options: argparse.Namespace) -> int:
    """Make what has changed. Songs with errors are told and left out; the others are made."""
    _refuse_what_parts_alone_have(options)
    for name, given in (("library", options.folder), ("--out", options.out)):
        if given is not None and not given.strip():
            raise Refused((f"expected a folder after {name}, found nothing", "`.` is the folder that you are in"))
    songs = Path(options.folder)
    if not songs.is_dir():
        found = "the file" if songs.exists() else "no such folder"
        hint = f"`arranger part {quoted(str(songs))}` makes one song" if songs.is_file() else ""
        raise Refused((f"expected a folder of songs, found {found}: {songs}", hint))
    address = _scheduler(options.on, options.jobs)
    workers, also = _workers(options.jobs), also_kinds(options.also)
    if (sheet := _sheet_instead_of_songs(songs)) is not None:
        hint = f"`arranger convert {quoted(str(sheet))}` makes a song of it"
        complain(f"there is no song in {songs}, but a typed sheet: {sheet}", hint)
        return SONG_ERROR
    wishes = wishes_of(options)
    out = songs / OUT if options.out is None else Path(options.out)
    try:
        with _opened(out, songs, {PART, *({STAGE} if options.stage else ()), *also}) as ledger:
            for message in ledger.damage:
                complain(message)
            kinds = tuple(kind for kind in NAMING if kind in ledger.kinds)
            return _run(Library(songs, out, wishes, kinds), ledger, workers, address, options.prune)
    except StoreError as fault:
        raise Refused((fault.message, fault.hint)) from None


def _refuse_what_parts_alone_have(options: argparse.Namespace) -> None:
    """Refuse options that `part` has and a library has not, with what to write instead."""
    if options.key is not None:
        hint = f"`arranger part --key {options.key or 'E'} SONG` makes one part in another key"
        raise Refused(("a library's parts are in their songs' own keys: there is no option `--key` here", hint))
    if options.output is not None:
        hint = f"--out {quoted(options.output or 'FOLDER')} names the folder for all PDFs"
        raise Refused(("there is no option `-o` here", hint))


def _opened(out: Path, songs: Path, kinds: set[str]) -> Ledger:
    """Open the folder of the PDFs."""
    try:
        return Ledger(out, songs, kinds)
    except OSError as fault:
        where = fault.filename or out
        raise Refused((f"{where} cannot be used: {files.reason(fault)}", "--out names another folder")) from None


def _run(library: Library, ledger: Ledger, workers: int, address: str, prune: bool) -> int:
    """Find what has changed, make it, and print how it went; return the status."""
    with _stoppable() as signals:
        todo = plan(library, ledger)
        if prune and not todo.names and any(library.pdf(output).exists() for output in ledger.records):
            there = f"no song is found in {library.songs}: --prune would remove all PDFs in {library.out}"
            raise Refused((there, f"if that is meant, remove the folder {library.out} by hand"))
        workers = min(workers, len(todo.to_do)) if len(todo.to_do) >= POOL_FROM else 1
        teller = _Teller()
        try:
            with _crew(library, workers, address if todo.to_do else "") as crew:
                summary = run_through(
                    library,
                    ledger,
                    todo,
                    crew.executor,
                    teller,
                    work=crew.work,
                    in_hand=crew.in_hand,
                    songs_a_job=crew.songs_a_job,
                    again=crew.again,
                    stop=lambda: bool(signals),
                    prune=prune,
                )
        except NoWorkersError as gone:  # before it began
            raise Refused((gone.message, gone.hint)) from None
        finally:
            teller.wipe()
    _sum_up(summary, library.out, prune)
    places, songs = open_in(library.songs / name for name in todo.names)
    if places:
        hint = f"`arranger convert --review {quoted(str(library.songs))}` lists them"
        complain(f"{places_in_words(places)} to look at (# check) in {songs} of the songs", hint)
    if signals:
        left = f"{summary.left} of {len(todo.to_do)} songs are left" if summary.left else "all songs are made"
        complain(f"stopped: {left}", "the same command carries on" if summary.left else "")
        return 128 + signals[0]
    if summary.stopped:
        return USAGE_ERROR
    if summary.no_workers is not None:
        return SONG_ERROR
    as_wished = not summary.counts["errors"] and not summary.counts["missed"] and summary.index
    return DONE if as_wished else SONG_ERROR


def _crew(library: Library, workers: int, address: str) -> AbstractContextManager[Crew]:
    """Return who makes the songs: the workers of a scheduler, where there is its address, or processes here."""
    if not address:
        return here(workers, lambda: warm(library.wishes, library.kinds))
    crew: AbstractContextManager[Crew] = _cluster().far(address, make, library.wishes, library.kinds)
    return crew


def _scheduler(address: str | None, jobs: str | None) -> str:
    """Return the address of a scheduler, looked at; empty where nobody asked for one."""
    if address is None:
        return ""
    if jobs is not None:
        hint = "--jobs counts processes on this machine; the scheduler knows its workers"
        raise Refused(("expected --jobs or --on, found both", hint))
    cluster = _cluster()
    if problem := cluster.problem_with(address):
        example = f"as the scheduler prints it: {cluster.EXAMPLE}"
        raise Refused(
            (f"expected the address of a dask scheduler after --on, found {quoted(address)}: {problem}", example)
        )
    return address


def _cluster() -> ModuleType:
    try:
        return load("arranger.library.cluster")
    except ImportError as fault:
        raise Refused((f"--on needs more than is installed ({fault.name} is missing)", EXTRA)) from None


def _sheet_instead_of_songs(folder: Path) -> Path | None:
    """Return a typed sheet, chords above words, of a folder that has no song; None where there is a song, or none."""
    if any(path.name.lower().endswith(files.SONG_ENDING) for path in _inside(folder)) or scan(folder)[0]:
        return None
    texts = sorted(path for path in _inside(folder) if path.suffix.lower() == ".txt")
    for path in texts[:MOST_LOOKED_AT]:
        with suppress(OSError):
            if path.is_file() and looks_like_a_sheet(decode(str(path), files.read(path))[0].text):
                return path
    return None


def _inside(folder: Path) -> Iterator[Path]:
    return (Path(inner, name) for inner, _, names in os.walk(folder) for name in names)


def _workers(jobs: str | None) -> int:
    """Read how many worker processes there may be; as many as there are cores to use, unless said."""
    if jobs is None:
        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
        return min(cores or 1, MOST_JOBS)
    if not (jobs.isascii() and jobs.isdecimal() and 1 <= int(jobs) <= MOST_JOBS):
        raise unexpected(f"a number of processes from 1 to {MOST_JOBS}", "--jobs", jobs)
    return int(jobs)


@contextmanager
def _stoppable() -> Iterator[list[int]]:
    """Take down signals that ask for an end, so that the songs in work are finished; a second one ends at once."""
    signals: list[int] = []

    def take_down(number: int, _: FrameType | None) -> None:
        if signals:
            raise KeyboardInterrupt
        signals.append(number)

    before = {number: signal.signal(number, take_down) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield signals
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class _Teller:
    """Reports what becomes of songs: a bar on a terminal, a line for each PDF elsewhere, and what is wrong on both."""

    def __init__(self) -> None:
        self.has_bar = sys.stderr.isatty()
        self.has_lines = not (self.has_bar and sys.stdout.isatty())
        self.bar = ""

    def progress(self, done: int, total: int) -> None:
        """Draw the bar."""
        if self.has_bar and total:
            full = BAR * done // total
            self.draw(f"[{'#' * full}{'.' * (BAR - full)}] {done} of {total}")
        if self.has_lines:
            sys.stdout.flush()  # whoever reads the lines sees how far it is

    def draw(self, bar: str) -> None:
        if bar != self.bar:
            sys.stderr.write(f"\r{bar}{' ' * (len(self.bar) - len(bar))}" + ("" if bar else "\r"))
            sys.stderr.flush()
            self.bar = bar

    def wipe(self) -> None:
        """Take the bar away, so that other things can be said."""
        if self.bar:
            self.draw("")

    def tell(self, outcome: Outcome) -> None:
        """Report what became of a song. Warnings of a song that has not changed were told when it was made."""
        if self.has_lines:
            for path, said in outcome.made:
                print(printable(f"{path}: {said}"))
        if not outcome.messages or outcome.what == "unchanged":
            return
        bar = self.bar
        self.wipe()
        if outcome.what in ("made", "errors"):
            for line in "\n".join(outcome.messages).split("\n"):  # the store has kept them: they may be anybody's
                say(printable(line))
        else:
            for message in outcome.messages:
                complain(f"{outcome.path} {message}", outcome.hint)
        self.draw(bar)


def _sum_up(summary: Summary, out: Path, prune: bool) -> None:
    """Report how it went as a whole."""
    for path in summary.pruned:
        print(printable(f"{path}: removed, there is no song for it any more"))
    for path in summary.gone:
        complain(f"{path}: there is no song for it any more")
    for path, why in summary.kept:
        complain(f"{path}: there is no song for it any more; {why}")
    if summary.gone and not prune:
        say("  hint: --prune removes what is as it was made")
    gone = summary.no_workers
    if summary.stopped or gone is not None:
        left = f"{summary.left} songs are left; " if summary.left else ""
        hint = f"{gone.hint}; " if gone is not None and gone.hint else ""
        complain(
            gone.message if gone is not None else summary.stopped,
            f"{hint}{left}when that is mended, the same command carries on",
        )
    made, unchanged, errors, missed = (summary.counts[what] for what in ("made", "unchanged", "errors", "missed"))
    some = {"with errors": errors, "passed over": missed, "with warnings": summary.warned, "left": summary.left}
    more = "".join(f", {count} {what}" for what, count in some.items() if count)
    print(printable(f"{out}: {made} made, {unchanged} unchanged{more}"))
