"""Share work out to other processes: an executor gets a few jobs at a time, and gives them back in any order.

Takes jobs and any executor; gives each job with what became of it. A worker that dies takes its executor with it: the
songs in hand are then made one by one on a new one, so that the song that ends a worker is known, and no other suffers.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import pickle
import shutil
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from functools import partial
from multiprocessing import connection
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
Task = TypeVar("Task")
Made = TypeVar("Made")

POOL_FROM = 20  # songs from which workers are worth starting
SONGS_A_JOB = 8  # a song takes some 20 ms, handing it over some 0.1: more would only make the last job longer
BYTES_A_JOB = 64 * 1024  # ten long songs; huge ones go alone
JOBS_A_WORKER = 3  # in hand at once: one in work, one on its way, one in reserve
LOOK = 0.2  # seconds between looks whether somebody wants it to stop


class NoWorkersError(Exception):
    """Nobody can do the work as it is wished; the songs are not to blame, and are left for another run."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message, hint)
        self.message, self.hint = message, hint


class Crew(NamedTuple):
    """Who does the work.

    Attributes:
        executor: what takes the jobs.
        again, in_hand: as in `Dispatch`.
        songs_a_job: how many songs it is worth handing over at once.
        work: what is done with a job, where that takes more than to make it.
    """

    executor: Executor
    again: Callable[[], Executor]
    in_hand: Callable[[], int]
    songs_a_job: int
    work: Callable[[Any], Any] | None = None


@contextmanager
def here(workers: int, warm: Callable[[], object]) -> Iterator[Crew]:
    """Work on this machine, by so many processes; one is this one."""
    begun: list[Executor] = []

    def executor() -> Executor:
        begun.append(Pool(workers, warm) if workers > 1 else InProcess())
        return begun[-1]

    first = executor()
    at_once, songs_a_job = (JOBS_A_WORKER * workers, SONGS_A_JOB) if workers > 1 else (1, 1)
    try:
        yield Crew(first, executor, lambda: at_once, songs_a_job)
    except KeyboardInterrupt:
        end_at_once()
        raise
    finally:
        for one in begun:
            one.shutdown(cancel_futures=True)


class InProcess(Executor):
    """An executor that does the work at once, where it is called."""

    def submit(self, function: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Do the work; return it as done."""
        future: Future[T] = Future()
        try:
            future.set_result(function(*args, **kwargs))
        except Exception as fault:
            future.set_exception(fault)
        return future


class Pool(ProcessPoolExecutor):
    """Worker processes on this machine: forked where that is sure, so that they share what is loaded."""

    def __init__(self, workers: int, warm: Callable[[], object] = lambda: None) -> None:
        """Make a pool.

        Args:
            workers: how many.
            warm: loads what the work needs, once before all are forked.
        """
        # macOS has fork, but its own libraries may fail after it.
        forks = "fork" in multiprocessing.get_all_start_methods() and sys.platform != "darwin"
        if forks:
            warm()
            gc.collect()
            gc.freeze()  # workers do not look through, and so copy, what all share
        self._folder = TemporaryDirectory(prefix="arranger-", ignore_cleanup_errors=True)
        begin = partial(_begin, self._folder.name)
        super().__init__(workers, multiprocessing.get_context("fork" if forks else "spawn"), begin)

    def submit(self, function: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Return the future of what a worker does; its result is an `Aside`, if there is room for one."""
        return super().submit(_put_aside, self._folder.name, function, args, kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the workers, and take away what they have put aside."""
        super().shutdown(wait, cancel_futures=cancel_futures)
        self._folder.cleanup()


class Aside(NamedTuple):
    """A result that a worker has put aside, in a file of this machine: only its name goes through the pool's pipe.

    Whoever reads from that pipe waits for ever where a worker is killed amid a result that the pipe cannot hold.
    """

    path: str

    def taken(self) -> Any:
        """Return the result; its file is gone then."""
        path = Path(self.path)
        data = path.read_bytes()
        path.unlink()
        return pickle.loads(data)


def _put_aside(folder: str, function: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]) -> Any:
    result = function(*args, **kwargs)
    try:
        with NamedTemporaryFile(dir=folder, delete=False) as file:
            pickle.dump(result, file, pickle.HIGHEST_PROTOCOL)
    except OSError:  # no room there: the pipe will do
        return result
    return Aside(file.name)


def _begin(folder: str) -> None:
    """Set a worker up: Ctrl-C is for its parent to hear, and where the parent dies, so does the worker."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_outlive_nobody, args=(folder,), daemon=True).start()


def _outlive_nobody(folder: str) -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        shutil.rmtree(folder, ignore_errors=True)
        os._exit(1)


def end_at_once() -> None:
    """End all workers of this process, whatever they are doing."""
    for process in multiprocessing.active_children():
        process.terminate()


def bundles(tasks: Iterator[Task], size_of: Callable[[Task], int], most: int) -> Iterator[tuple[Task, ...]]:
    """Bundle songs into jobs, in order; a job has at most so many songs, and no more bytes than one worker's share."""
    bundle: list[Task] = []
    size = 0
    for task in tasks:
        if bundle and (len(bundle) == most or size + size_of(task) > BYTES_A_JOB):
            yield tuple(bundle)
            bundle, size = [], 0
        bundle.append(task)
        size += size_of(task)
    if bundle:
        yield tuple(bundle)


class Dispatch(Generic[Task, Made]):
    """Hands jobs out and takes results back."""

    def __init__(
        self,
        executor: Executor,
        work: Callable[[tuple[Task, ...]], tuple[Made, ...]],
        in_hand: int | Callable[[], int],
        again: Callable[[], Executor] | None = None,
    ) -> None:
        """Make a dispatcher that has handed nothing out yet.

        Args:
            executor: any.
            work: what a worker does with a job; it is sent to other processes.
            in_hand: how many jobs it is given at once; where that changes, a function, which is asked all the time and
                may raise `NoWorkersError`.
            again: gives a new executor in place of one that has broken, or the same where it is whole but for the jobs
                that a worker died of; None where there is none to be had.
        """
        self.executor = executor
        self.work = work
        self.in_hand = in_hand if callable(in_hand) else lambda: in_hand
        self.again = again
        # The jobs in hand, each with whether it is tried alone.
        self.running: dict[Future[tuple[Made, ...]], tuple[tuple[Task, ...], bool]] = {}
        self.suspects: deque[tuple[Task, ...]] = deque()  # jobs of one song each, to be tried one at a time

    def results(
        self, jobs: Iterator[tuple[Task, ...]], stop: Callable[[], bool] = lambda: False
    ) -> Iterator[tuple[tuple[Task, ...], tuple[Made, ...] | BaseException]]:
        """Return each job with its result, or with the fault that it ended in, in the order in which they are ready.

        When it is to stop, the jobs in work are waited for and given, and no others.

        Raises:
            NoWorkersError: there is nobody to do the work.
        """
        while True:
            if stop():
                self.running = {future: job for future, job in self.running.items() if not future.cancel()}
            else:
                self._hand_out(jobs)
            if not self.running:
                return
            done, _ = wait(self.running, timeout=LOOK, return_when=FIRST_COMPLETED)
            broken = any(isinstance(future.exception(), BrokenExecutor) for future in done)
            while broken and len(done) < len(self.running):  # nothing else is in work while one is tried alone
                self.in_hand()
                done, _ = wait(self.running, timeout=LOOK)
            gone: NoWorkersError | None = None
            for future in [future for future in self.running if future in done]:
                job, alone = self.running.pop(future)
                fault = future.exception()
                if isinstance(fault, NoWorkersError):
                    gone = fault
                elif fault is None:
                    result: Any = future.result()
                    yield job, result.taken() if isinstance(result, Aside) else result
                elif isinstance(fault, BrokenExecutor) and self.again is not None and not alone:
                    self.suspects += [(task,) for task in job]
                else:
                    yield job, fault
            if gone is not None:
                raise gone
            if broken and self.again is not None:
                broken_one, self.executor = self.executor, self.again()
                if broken_one is not self.executor:
                    broken_one.shutdown()

    def _hand_out(self, jobs: Iterator[tuple[Task, ...]]) -> None:
        most = self.in_hand()
        if self.suspects:
            if not self.running:
                self._submit(self.suspects.popleft(), alone=True)
            return
        while len(self.running) < most and (job := next(jobs, None)) is not None:
            self._submit(job, alone=False)

    def _submit(self, job: tuple[Task, ...], alone: bool) -> None:
        try:
            future = self.executor.submit(self.work, job)
        except BrokenExecutor as fault:  # a worker has died since
            future = Future()
            future.set_exception(fault)
        self.running[future] = job, alone
