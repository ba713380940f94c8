"""Make the PDFs that a plan asks for, with any executor; report what became of each song.

All reading and writing is done here, in one process: workers are given bytes and give bytes back. A PDF is written
under another name, told to the store, and only then put in its place; so a run can be killed at any moment.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor
from contextlib import suppress
from functools import partial
from pathlib import Path

from arranger import files
from arranger.late import load
from arranger.library.catalogue import from_data
from arranger.library.ledger import Ledger, MadeRecord, StoreError
from arranger.library.listing import as_written, index_files
from arranger.library.make import InOrder, Listener, MadeSong, Outcome, SongTask, Summary, What, in_words, make
from arranger.library.plan import LARGEST, Library, RunPlan, fonts, foreign, is_ours, own, standing, unreadable
from arranger.library.scan import INDEX_DATA, INDEX_NAMES, Planned, wanted
from arranger.library.store import digest, on_disk
from arranger.library.workers import Dispatch, NoWorkersError, bundles

NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO}  # what befalls the whole disk, not one file
REPORT = "make it alone with `arranger part`; if that fails too, please report it with the song"
REPORT_INDEX = "this is a fault of the program: please report it"


def run(
    library: Library,
    ledger: Ledger,
    plan: RunPlan,
    executor: Executor,
    listener: Listener,
    *,
    work: Callable[[tuple[SongTask, ...]], tuple[MadeSong, ...]] | None = None,
    in_hand: int | Callable[[], int] = 1,
    songs_a_job: int = 1,
    again: Callable[[], Executor] | None = None,
    stop: Callable[[], bool] = lambda: False,
    prune: bool = False,
) -> Summary:
    """Make what is to be made.

    Args:
        library: the folders and what is asked for.
        ledger: what was made in the folder of the PDFs.
        plan: of this library.
        executor: what the songs are made by; it stays open.
        listener: who hears how it goes.
        work: what is done with a job; None for `make`, by what is asked for.
        in_hand: how many jobs the executor is given at once, as in `Dispatch`.
        songs_a_job: how many songs go to a worker at once.
        again: gives a new executor where one has broken.
        stop: tells whether to stop; what is in work is still finished.
        prune: remove PDFs whose songs are gone.
    """
    a_run = _Run(library, ledger, plan, listener)
    dispatch = Dispatch(executor, work or partial(make, library.wishes, library.kinds), in_hand, again)
    try:
        a_run.make(dispatch, songs_a_job, stop)
        if not a_run.summary.left:
            a_run.flush(end=True)
            a_run.index()
            a_run.look_for_gone(prune)
    except StoreError as fault:
        a_run.summary.stopped = fault.message
    except NoWorkersError as gone:
        a_run.summary.no_workers = gone
    finally:
        if dispatch.executor is not executor:
            dispatch.executor.shutdown()
    a_run.flush(end=True)
    return a_run.summary


class _Run:
    """One run."""

    def __init__(self, library: Library, ledger: Ledger, plan: RunPlan, listener: Listener) -> None:
        self.library, self.ledger, self.plan, self.listener = library, ledger, plan, listener
        self.summary = Summary()
        self.order = InOrder([*plan.names, *(outcome.name for outcome in plan.ready)])
        self.songs = {song.name: song for song in plan.to_do}
        self.folders: set[Path] = set()  # those that are known to be there
        for outcome in plan.ready:
            self.settle(outcome)

    def settle(self, outcome: Outcome) -> None:
        """Take note of what became of a song."""
        if outcome.what != "told":
            self.summary.counts[outcome.what] += 1
        self.summary.warned += outcome.warnings > 0
        self.order.add(outcome)

    def flush(self, end: bool = False) -> None:
        """Report the outcomes whose turn it is."""
        for outcome in self.order.ready(end):
            self.listener.tell(outcome)

    # Making.

    def make(self, dispatch: Dispatch[SongTask, MadeSong], songs_a_job: int, stop: Callable[[], bool]) -> None:
        """Make the songs that are to be made."""
        self.summary.left = total = len(self.plan.to_do)
        self.listener.progress(0, total)
        self.flush()
        jobs = bundles(self.tasks(), lambda task: len(task.data), songs_a_job)
        for job, result in dispatch.results(jobs, stop):
            done = [_not_made(task, result) for task in job] if isinstance(result, BaseException) else result
            for task, made in zip(job, done, strict=True):
                self.finish(self.save(self.songs[task.name], made, task.data))
            self.listener.progress(total - self.summary.left, total)
            self.flush()

    def finish(self, outcome: Outcome) -> None:
        """Take note of what became of a song that was to be made."""
        self.summary.left -= 1
        self.settle(outcome)

    def tasks(self) -> Iterator[SongTask]:
        """Read the songs that are to be made, as they are asked for."""
        for song in self.plan.to_do:
            try:
                data = files.read(Path(song.path))
            except OSError as fault:  # it could be read a moment ago
                self.finish(unreadable(song, fault))
                continue
            yield SongTask(song.name, song.path, data, song.outputs[0])

    def save(self, song: Planned, made: MadeSong, data: bytes) -> Outcome:
        """Put a song's PDFs in their places; a fault of the program becomes a message about the song."""
        fault, way_out = made.fault, made.way_out or REPORT
        try:
            if not fault:
                return self.put_all(song, made, data)
        except StoreError:
            raise
        except Exception as unforeseen:
            fault = in_words(unforeseen)
        return Outcome(song.name, song.path, "missed", messages=(f"could not be made: {fault}",), hint=way_out)

    def put_all(self, song: Planned, made: MadeSong, data: bytes) -> Outcome:
        """Put a song's PDFs in their places, and tell the store."""
        entry = json.dumps(made.entry._asdict()) if made.entry else ""
        written: list[tuple[str, str]] = []
        first: Outcome | None = None
        inputs = self.plan.inputs(data)
        for kind, output, document, of in zip(self.library.kinds, song.outputs, made.documents, inputs, strict=True):
            facts = (made.errors, made.warnings, song.path, made.messages, entry)
            if document is None:
                self.ledger.add(MadeRecord(output, kind, of, "", self.left(output), False, *facts))
                continue
            made_file, said = document
            missed = self.put(song.name, MadeRecord(output, kind, of, digest(made_file), "", True, *facts), made_file)
            first = first or missed  # what else is made of the song is put in its place all the same
            if missed is None:
                written.append((str(self.library.pdf(output)), said))
        if first is not None:
            return first
        what: What = "errors" if None in made.documents else "made"
        return Outcome(song.name, song.path, what, tuple(written), made.messages, warnings=made.warnings)

    def put(self, name: str, record: MadeRecord, data: bytes) -> Outcome | None:
        """Put a file of a song, or of the index, in its place; return why that cannot be, None where it is done.

        Raises:
            StoreError: no other file can be written either.
        """
        path = self.library.pdf(record.output)
        try:
            return None if self.put_whole(path, record, data) else foreign(name, path, record.warnings)
        except OSError as fault:
            return Outcome(name, str(path), "missed", messages=(f"cannot be written: {files.reason(fault)}",))

    def put_whole(self, path: Path, record: MadeRecord, data: bytes) -> bool:
        """Put a file in its place, unless somebody else's is there; return whether the place is ours.

        Raises:
            OSError: it cannot be written; what was there is still there.
            StoreError: neither can any other.
        """
        present = on_disk(path)
        if present == record.digest:
            self.ledger.add(record)
            return True
        if present is not None and not is_ours(present, record.output, self.library, self.ledger):
            self.ledger.add(record._replace(written=False, before=self.left(record.output)))
            return False
        try:
            if path.parent not in self.folders:
                path.parent.mkdir(parents=True, exist_ok=True)
                self.folders.add(path.parent)
            with files.unfinished(self.ledger.unfinished, data) as unfinished:
                if present is not None:
                    unfinished.chmod(path.stat().st_mode & 0o777)
                self.ledger.add(record._replace(before=present or ""))
                unfinished.replace(path)
        except OSError as fault:
            if fault.errno in NO_ROOM:
                raise StoreError(f"{path} cannot be written: {files.reason(fault)}") from None
            raise
        return True

    def left(self, output: str) -> str:
        """Return the digest of what the program has left at a path, as far as the store knows; empty for nothing."""
        record = self.ledger.records.get(output)
        if record is None:
            return ""
        with suppress(OSError):
            if on_disk(self.library.pdf(output)) == record.before:  # what was to take its place never did
                return record.before
        return record.digest if record.written else record.before

    # The index.

    def index(self) -> None:
        """Write the index of all songs, as far as it has changed; a fault of the program becomes a message."""
        try:
            self.write_index()
        except (StoreError, OSError):
            raise
        except Exception as fault:
            message = f"could not be made: {in_words(fault)}"
            self.pass_over(Outcome("", str(self.library.pdf(INDEX_NAMES[0])), "missed", (), (message,), REPORT_INDEX))

    def write_index(self) -> None:
        """Write the files of the index, as far as what they say has changed."""
        pages, name = self.library.wishes.pages, self.library.songs.resolve().name
        records = (self.ledger.records.get(song.outputs[0]) for song in self.plan.songs)
        entries = [record.entry for record in records if record is not None and record.entry]
        if not entries:
            return
        played, problems = load("arranger.library.evenings").plays(str(self.library.songs))
        for problem in problems:
            self.listener.tell(Outcome(problem.name, problem.path, "told", (), (problem.message,), problem.hint))
        plays = {song.name: played[song.name] for song in self.plan.songs if song.name in played}
        shape = repr((pages.paper, name, plays)).encode()
        of = digest(self.plan.program, shape, *fonts(pages.fonts), *(entry.encode() for entry in entries))
        known = [self.ledger.records.get(file) for file in INDEX_NAMES]
        if not all(record and record.input == of and self.stands(record) for record in known):
            self.know_index()
            found = [from_data(json.loads(entry)) for entry in entries]
            for file, data in index_files(found, pages.paper, name, pages.fonts, plays).items():
                missed = self.put("", MadeRecord(file, "", of, digest(data), "", True), data)
                if missed is not None:
                    self.pass_over(missed)

    def know_index(self) -> None:
        """Recognise the index's CSV and JSON as the program's own where the store is lost; a PDF has its own digest."""
        found = [self.library.pdf(name) for name in INDEX_DATA]
        with suppress(OSError):
            if all(path.is_file() and path.stat().st_size <= LARGEST for path in found):
                data = [path.read_bytes() for path in found]
                if as_written(*data):
                    for name, content in zip(INDEX_DATA, data, strict=True):
                        self.ledger.records[name] = MadeRecord(name, "", "", "", digest(content), False)

    def stands(self, record: MadeRecord) -> bool:
        """Return whether a file of the index needs nothing done."""
        found = standing(record, self.library, self.ledger)
        if found == "foreign":
            self.pass_over(foreign("", self.library.pdf(record.output)))
        return found != "changed"

    def pass_over(self, outcome: Outcome) -> None:
        """Report what is wrong with a file of the index."""
        self.summary.index = False
        self.listener.tell(outcome)

    # What is left over.

    def look_for_gone(self, prune: bool) -> None:
        """Find PDFs that the program has made of songs that are there no more, and remove them if that is wished."""
        real = Path(os.path.realpath(self.library.out))
        here = wanted(self.plan.names) | set(INDEX_NAMES if self.plan.songs else ())
        for output, record in sorted(self.ledger.records.items()):  # a list: some are forgotten
            if output in here or any(not name or output.startswith(f"{name}/") for name in self.plan.unread):
                continue
            path = self.library.pdf(output)
            try:
                present = on_disk(path)
                if present is None or not own(record):
                    self.ledger.forget(output)
                elif Path(os.path.realpath(path)) != real / output:
                    self.summary.kept.append((str(path), "it stays, since a link leads there"))
                elif present not in own(record):
                    self.summary.kept.append((str(path), "it stays, since somebody has changed it"))
                    if prune:
                        self.ledger.forget(output)
                elif prune:
                    path.unlink()
                    self.ledger.forget(output)
                    self.summary.pruned.append(str(path))
                    self.remove_empty(path.parent)
                else:
                    self.summary.gone.append(str(path))
            except OSError as fault:
                self.summary.kept.append((str(path), f"it cannot be removed: {files.reason(fault)}"))

    def remove_empty(self, folder: Path) -> None:
        """Remove the folder of a PDF that was removed, and those that it lay in, as far as nothing is in them."""
        with suppress(OSError):
            while folder != self.library.out:
                folder.rmdir()
                folder = folder.parent


def _not_made(task: SongTask, fault: BaseException) -> MadeSong:
    """Return the result of a song of which nothing came back: a fault."""
    if isinstance(fault, BrokenExecutor):
        reason = "the process at work on it was ended from outside, or lacked memory"
    else:
        reason = in_words(fault)
    return MadeSong(task.name, (), fault=reason)
