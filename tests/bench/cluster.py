"""From how many songs other machines pay, in measured parts: `python -m tests.bench.cluster [SONGS]`.

SONGS (100 unless said) of the samples, in other keys and with other words, are made by one process, and by one and two
workers of dask's own `LocalCluster` on this machine, in turns. The overhead of a job is that of jobs that do nothing:
one after the other (to and fro), and as many at once as a run has on their way.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import wait
from pathlib import Path

import dask
from distributed import LocalCluster

from arranger.library.cluster import ClusterExecutor, far
from arranger.library.ledger import Ledger
from arranger.library.make import make
from arranger.library.plan import Library, plan
from arranger.library.run import run
from arranger.library.scan import PART
from arranger.library.workers import SONGS_A_JOB, Crew, here
from tests.bench.library import WISHES, Listener
from tests.library.many import write

ROUNDS = 2
JOBS = 200


def nothing(job: object) -> object:
    """Return a job as it is."""
    return job


def made_by(crew: Crew, songs: Path) -> float:
    """Return the seconds that a crew takes to make all songs."""
    with tempfile.TemporaryDirectory() as out, Ledger(Path(out), songs) as ledger:
        library = Library(songs, Path(out), WISHES, (PART,))
        todo, listener = plan(library, ledger), Listener()
        begun = time.perf_counter()
        summary = run(
            library, ledger, todo, crew.executor, listener,
            work=crew.work, in_hand=crew.in_hand, songs_a_job=crew.songs_a_job, again=crew.again,
        )  # fmt: skip
        assert summary.counts["made"] == len(todo.songs) and not listener.problems
        return time.perf_counter() - begun


def overhead(address: str) -> Iterator[tuple[str, float]]:
    """Yield what a job costs that does nothing, with the bytes of eight songs, in ms."""
    executor = ClusterExecutor(address)
    job = tuple("x" * 2000 for _ in range(SONGS_A_JOB))
    try:
        executor.submit(nothing, job).result()
        begun, cpu = time.perf_counter(), time.process_time()
        for _ in range(JOBS):
            executor.submit(nothing, job).result()
        yield "one after the other", (time.perf_counter() - begun) / JOBS * 1000
        begun = time.perf_counter()
        wait([executor.submit(nothing, job) for _ in range(JOBS)])
        yield "many at once", (time.perf_counter() - begun) / JOBS * 1000
        yield "of the processor, run and scheduler", (time.process_time() - cpu) / (2 * JOBS) * 1000
    finally:
        executor.close()


def main(count: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        songs = Path(folder)
        list(write(songs, count))
        print(f"{count} songs")
        for number in range(ROUNDS):
            with here(1, lambda: None) as crew:
                cpu = time.process_time()
                took = made_by(crew, songs)
                cpu = time.process_time() - cpu
                print(f"--jobs 1: {took / count * 1000:.0f} ms a song, {cpu / count * 1000:.0f} of the processor")
            for workers in (1, 2):
                begun = time.perf_counter()
                with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=":0") as cluster:
                    print(f"{workers} workers: {time.perf_counter() - begun:.1f} s to start")
                    for state in ("cold", "warm"):
                        begun = time.perf_counter()
                        with far(cluster.scheduler_address, make, WISHES, (PART,)) as crew:
                            took = made_by(crew, songs)
                            print(f"{workers} workers, {state}: {took / count * 1000:.0f} ms a song", end="; ")
                        print(f"{time.perf_counter() - begun - took:.2f} s to connect and to part")
                    if not number:
                        for what, ms in overhead(cluster.scheduler_address):
                            print(f"{workers} workers, jobs that do nothing, {what}: {ms:.1f} ms each")


if __name__ == "__main__":
    with dask.config.set({"distributed.scheduler.allowed-failures": 0}):
        main(int((*sys.argv[1:], "100")[0]))
