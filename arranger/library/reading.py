"""Read songs from files for looking them up: what each says, or that it holds what it held. By processes, where many.

Each song is read by the same reader as for its part (`song_entry`). This is loaded only where files have changed.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Generator, Iterator, Sequence
from contextlib import closing, suppress
from pathlib import Path

from arranger.files import read as read_bytes
from arranger.files import reason
from arranger.library.find import ReadSong, Seen
from arranger.library.song_entry import read_song
from arranger.library.workers import JOBS_A_WORKER, SONGS_A_JOB, Dispatch, Pool, bundles

POOL_FROM = 200  # songs: reading fewer takes no longer than a pool of processes takes to begin

File = tuple[str, str, int, int, bytes]  # path, name, size, time of change, the digest that is known (or none)
FileOutcome = ReadSong | Seen | str  # read anew; it holds what it held; why it cannot be read


def outcomes(files: Sequence[File]) -> Iterator[tuple[File, FileOutcome]]:
    """Yield what reading each of some songs gave; several processes read, in any order, where there are many."""
    left = dict.fromkeys(files)
    workers = min(os.cpu_count() or 1, len(files) // POOL_FROM + 1)
    if workers > 1:
        with suppress(OSError, ImportError), closing(_by_pool(files, workers)) as read:  # none may be had here
            for file, outcome in read:
                del left[file]
                yield file, outcome
    yield from zip(left, read_files(tuple(left)), strict=True)


def _by_pool(files: Sequence[File], workers: int) -> Generator[tuple[File, FileOutcome]]:
    """Read songs as far as no worker is killed."""
    pool = Pool(workers)
    try:
        dispatch = Dispatch(pool, read_files, JOBS_A_WORKER * workers)
        for job, result in dispatch.results(bundles(iter(files), lambda file: file[2], SONGS_A_JOB)):
            if not isinstance(result, BaseException):
                yield from zip(job, result, strict=True)
    finally:
        pool.shutdown(cancel_futures=True)


def read_files(files: tuple[File, ...]) -> tuple[FileOutcome, ...]:
    """Read some songs; return for each what it says, that its contents are the same, or why it cannot be read."""
    return tuple(map(_read_file, files))


def _read_file(file: File) -> FileOutcome:
    path, name, size, changed_ns, known = file
    try:
        data = read_bytes(Path(path))
    except OSError as fault:
        return reason(fault)
    seen = Seen(size, changed_ns, hashlib.blake2b(data, digest_size=16).digest())
    try:
        return seen if seen.digest == known else ReadSong(seen, *read_song(name, data))
    except Exception as fault:  # of the program: the other songs are found all the same
        return f"a fault of the program, {type(fault).__name__}: {fault}"
