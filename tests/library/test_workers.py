"""Handing songs out: any executor, any order, workers that die."""

import multiprocessing
import os
import pickle
import random
import signal
import tempfile
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial

import pytest

from arranger.library import run as run_module
from arranger.library import workers
from arranger.library.make import WARM, SongTask, make, warm
from arranger.library.workers import SONGS_A_JOB, Dispatch, InProcess, Pool, bundles
from tests.library.deadly import deadly
from tests.library.helpers import SMALL, WISHES, go, left_in, nobody_at_work_on_the_program, put  # noqa: F401 (a fixture)

MAKE = partial(make, WISHES, ("part",))


class Shuffled(Executor):
    """An executor that gives results in an order of its own, four at once."""

    def __init__(self, jobs: int) -> None:
        self.to_come = jobs
        self.held: list[tuple[Future, object, tuple]] = []
        self.chance = random.Random(7)

    def submit(self, function, /, *arguments):
        future: Future = Future()
        self.held.append((future, function, arguments))
        self.to_come -= 1
        if len(self.held) == 4 or not self.to_come:
            self.release()
        return future

    def release(self) -> None:
        self.chance.shuffle(self.held)
        while self.held:
            future, function, arguments = self.held.pop()
            future.set_result(function(*arguments))


class Broken(Executor):
    """An executor as a pool is of whose processes one has died: of all that it was given, nothing comes back."""

    def __init__(self, deadly: set[str]) -> None:
        self.deadly = deadly
        self.dead = False
        self.held: list[Future] = []

    def submit(self, function, job, /):
        if self.dead:
            raise BrokenProcessPool("dead")
        future: Future = Future()
        if self.deadly & {task.name for task in job}:
            self.dead = True
            for held in (*self.held, future):
                held.set_exception(BrokenProcessPool("a process ended"))
        elif job[0].name == "0" and len(job) > 1:  # still in work when another dies
            self.held.append(future)
        else:
            future.set_result(function(job))
        return future


def tasks(count: int) -> list[SongTask]:
    return [SongTask(str(n), str(n), SMALL.format(n).encode(), f"{n}.pdf") for n in range(count)]


def jobs(songs: list[SongTask], most: int = SONGS_A_JOB) -> Iterator[tuple[SongTask, ...]]:
    return bundles(iter(songs), lambda task: len(task.data), most)


def test_jobs_are_small():
    assert [len(job) for job in jobs(tasks(10), 4)] == [4, 4, 2]
    large = [SongTask(name, name, b"x" * workers.BYTES_A_JOB, "") for name in "abc"]
    assert [len(job) for job in jobs(large)] == [1, 1, 1]


def test_what_is_loaded_before_a_fork_is_a_song_without_mistakes():
    [made] = make(WISHES, ("part", "stage"), (SongTask("warm", "warm", WARM, ""),))
    assert made.messages == () and None not in made.documents


@pytest.mark.slow
def test_any_executor_any_order_the_same_files_and_the_same_words(tmp_path):
    put(tmp_path / "songs", 25)
    (tmp_path / "songs" / "1" / "bad.song.txt").write_text("song Bad\nkey H\n", encoding="utf-8")
    (tmp_path / "songs" / "1" / "no\nname.song.txt").write_text("", encoding="utf-8")
    _, first = go(tmp_path / "songs", tmp_path / "alone")
    alone = left_in(tmp_path / "alone")
    assert len(alone) == 25 + 3 + 1  # the parts, the index, the log
    told = [(o.name, o.what, o.messages) for o in first.outcomes]
    assert [name for name, _, _ in told] == sorted(name for name, _, _ in told)
    with ThreadPoolExecutor(2) as threads, Pool(2, lambda: warm(WISHES, ("part",))) as pool:
        for number, executor in enumerate((threads, pool, Shuffled(9))):
            out = tmp_path / f"out{number}"
            summary, heard = go(tmp_path / "songs", out, executor, in_hand=4, songs_a_job=number + 1)
            assert left_in(out) == alone
            assert [(o.name, o.what, o.messages) for o in heard.outcomes] == told
            assert heard.steps[-1] == (26, 26)
            assert summary.counts == {"made": 25, "unchanged": 0, "errors": 1, "missed": 1}


def test_of_a_broken_executor_only_the_song_that_broke_it_is_lost():
    begun = []

    def again() -> Broken:
        begun.append(Broken({"9"}))
        return begun[-1]

    dispatch = Dispatch(again(), MAKE, 6, again)
    results = list(dispatch.results(jobs(tasks(20), 3)))
    assert sorted(int(task.name) for job, _ in results for task in job) == list(range(20))
    lost = [task.name for job, result in results if isinstance(result, BaseException) for task in job]
    assert lost == ["9"]
    assert len(begun) == 3  # the first; one for trying songs alone, which the song breaks; and one for the rest


def test_an_executor_that_cannot_be_had_anew():
    dispatch = Dispatch(Broken({"2"}), MAKE, 1)
    results = list(dispatch.results(jobs(tasks(4), 1)))
    lost = [isinstance(result, BrokenProcessPool) for _, result in results]
    assert lost == [False, False, True, True]


@pytest.mark.slow
def test_a_worker_that_dies(tmp_path, monkeypatch):
    monkeypatch.setattr(run_module, "make", deadly)
    put(tmp_path / "songs", 24)
    (tmp_path / "songs" / "1" / "deadly.song.txt").write_text(SMALL.format("deadly"), encoding="utf-8")

    def pool() -> Pool:
        return Pool(2, lambda: warm(WISHES, ("part",)))

    with pool() as first:
        summary, heard = go(tmp_path / "songs", tmp_path / "out", first, in_hand=4, songs_a_job=4, again=pool)
    assert summary.counts == {"made": 24, "unchanged": 0, "errors": 0, "missed": 1}
    [lost] = [outcome for outcome in heard.outcomes if outcome.what == "missed"]
    assert lost.name == "1/deadly.song.txt"
    assert lost.messages == ("could not be made: the process at work on it was ended from outside, or lacked memory",)


class Sudden:
    """A result that ends its process when it is handed over."""

    def __reduce__(self) -> tuple[object, ...]:
        os.kill(os.getpid(), signal.SIGKILL)
        raise AssertionError


def handed_over(job: tuple[int, ...]) -> tuple[object, ...]:
    """Give results larger than any pipe holds; the worker that has 3 is killed amid its result."""
    return tuple((number, bytes(1_000_000), Sudden() if number == 3 else None) for number in job)


def test_results_go_beside_the_pipe():
    """POSIX, `write`: up to PIPE_BUF bytes, 512 at least, are written to a pipe whole or not at all."""
    with Pool(2) as pool:
        answer = pool.submit(bytes, 1_000_000).result()
        assert len(pickle.dumps(answer)) < 512
        assert answer.taken() == bytes(1_000_000)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="kills a process")
def test_a_worker_that_is_killed_amid_its_result(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    pools = []

    def pool() -> Pool:
        pools.append(Pool(2))
        return pools[-1]

    dispatch = Dispatch(pool(), handed_over, 6, pool)
    results = dict(dispatch.results((number,) for number in range(8)))
    for one in pools:
        one.shutdown()
    assert sorted(results) == [(number,) for number in range(8)]
    assert isinstance(results.pop((3,)), BrokenProcessPool)
    assert all(result == ((job[0], bytes(1_000_000), None),) for job, result in results.items())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        (KeyError(3), "KeyError: 3"),
        (MemoryError(), "MemoryError"),
        (RecursionError("too deep"), "RecursionError: too deep"),
    ],
)
def test_a_fault_of_the_program_is_told_of_its_song_alone(tmp_path, monkeypatch, fault, told):
    real = make.__globals__["to_song"]

    def faulty(source):
        if source.text.startswith("song 3\n"):
            raise fault
        return real(source)

    monkeypatch.setitem(make.__globals__, "to_song", faulty)
    put(tmp_path / "songs", 5)
    summary, heard = go(tmp_path / "songs", tmp_path / "out")
    assert (summary.counts["made"], summary.counts["missed"]) == (4, 1)
    [lost] = [outcome for outcome in heard.outcomes if outcome.what == "missed"]
    assert (lost.name, lost.messages) == ("0/s03.song.txt", (f"could not be made: {told}",))


def test_stopping_finishes_what_is_in_work_and_begins_nothing(tmp_path):
    put(tmp_path / "songs", 12)
    heard_so_far = []

    def stop() -> bool:
        heard_so_far.append(1)
        return len(heard_so_far) > 3

    summary, _ = go(tmp_path / "songs", tmp_path / "out", stop=stop)
    assert (summary.counts["made"], summary.left) == (3, 9)
    summary, _ = go(tmp_path / "songs", tmp_path / "out")
    assert (summary.counts["made"], summary.counts["unchanged"], summary.left) == (9, 3, 0)


def test_in_process_gives_faults_as_futures_do():
    with pytest.raises(ZeroDivisionError):
        InProcess().submit(divmod, 1, 0).result()


@pytest.mark.slow
def test_workers_that_are_not_forked(tmp_path, monkeypatch):
    """As on Windows and macOS: each loads the program itself."""
    monkeypatch.setattr(multiprocessing, "get_all_start_methods", lambda: ["spawn"])
    put(tmp_path / "songs", 4)
    with Pool(2, lambda: warm(WISHES, ("part",))) as pool:
        summary, _ = go(tmp_path / "songs", tmp_path / "out", pool, in_hand=4)
    assert summary.counts["made"] == 4
    go(tmp_path / "songs", tmp_path / "alone")
    assert left_in(tmp_path / "out") == left_in(tmp_path / "alone")
