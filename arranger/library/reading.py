"""Songs read for the database. Takes names of files; gives records. Loaded only where files have changed.

Each song is read by the same reader as for its part: nothing is guessed. Songs with errors give what can be read.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

from arranger.files import read as read_bytes
from arranger.files import reason
from arranger.library.catalogue import Entry, SungText, broken_entry, entry, sung_texts
from arranger.library.child import begin
from arranger.library.database import Record, Seen, sounding
from arranger.song.read import decode, read
from arranger.text.diagnostics import has_errors
from arranger.theory.key import Key

POOL_FROM = 200  # songs: reading fewer takes no longer than a pool of processes takes to begin
CHUNK = 16  # songs that a process takes at a time

Job = tuple[str, str, int, int, bytes]  # path, name, size, time of change, the digest that is known (or none)
Outcome = Record | Seen | str  # read anew; it holds what it held; why it cannot be read


def outcomes(jobs: Sequence[Job]) -> Iterator[Outcome]:
    """Read songs, in the order of the jobs; in several processes where there are many."""
    done = 0
    workers = min(os.cpu_count() or 1, len(jobs) // POOL_FROM + 1)
    if workers > 1:
        try:
            with ProcessPoolExecutor(workers, initializer=begin) as pool:
                for outcome in _in(pool, jobs):
                    yield outcome
                    done += 1
            return
        except (OSError, ImportError, BrokenProcessPool):  # no processes to be had here, or one was killed
            pass
    yield from map(outcome_of, jobs[done:])


def _in(pool: Executor, jobs: Sequence[Job]) -> Iterator[Outcome]:
    try:
        yield from pool.map(outcome_of, jobs, chunksize=CHUNK)
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise


def outcome_of(job: Job) -> Outcome:
    """Read a song, unless it holds what it held."""
    path, name, size, changed_ns, known = job
    try:
        data = read_bytes(Path(path))
    except OSError as fault:
        return reason(fault)
    seen = Seen(size, changed_ns, hashlib.blake2b(data, digest_size=16).digest())
    try:
        return seen if seen.digest == known else record(name, seen, data)
    except Exception as fault:  # of the program: the other songs are found all the same
        return f"a fault of the program, {type(fault).__name__}: {fault}"


def record(name: str, seen: Seen, data: bytes) -> Record:
    """Return what is kept of a song.

    Args:
        name: its path under the folder, with `/`.
        seen: the file as it was when it was read.
        data: what it holds.
    """
    source, problems = decode(name, data)
    song = None
    if not has_errors(problems):
        song, problems = read(source)
    if song is None:
        return _record(seen, *broken_entry(source, name, sum(p.severity == "error" for p in problems)))
    return _record(seen, entry(song, name), sung_texts(song))


def _record(seen: Seen, found: Entry, lines: Sequence[SungText]) -> Record:
    return Record(
        name=found.file,
        seen=seen,
        title=found.title,
        key=found.key,
        sounds=_sounds(found.key),
        tempo=found.tempo,
        bpm=found.bpm,
        beat=found.beat,
        meter=found.meter,
        first_words=found.first_words,
        errors=found.errors,
        lines=tuple((line.section, line.words) for line in lines),
    )


def _sounds(key: str) -> int:
    if not key:
        return -1
    parsed = Key.parse(key)
    return sounding(parsed.tonic.pitch_class, parsed.minor)
