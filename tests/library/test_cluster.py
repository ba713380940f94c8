"""Songs made by the workers of a scheduler: the same bytes, workers that die, differ or are not there.

The scheduler and its two worker processes are dask's own `LocalCluster`, as its documentation has it for tests.
"""

from __future__ import annotations

import os
import pickle
import shutil
import signal
from collections.abc import Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path

import dask
import pytest
from distributed import LocalCluster

from arranger.cli import main
from arranger.library import cluster as cluster_module
from arranger.library.carried import carried_fonts, do, make_carried, packed, versions_here
from arranger.library.cluster import ClusterExecutor, far
from arranger.library.make import MadeSong, SongTask, Summary, make
from arranger.library.workers import NoWorkersError
from arranger.resources import font_path
from tests.library.deadly import deadly
from tests.library.helpers import (  # noqa: F401 (a fixture)
    SMALL,
    WISHES,
    Heard,
    counts,
    files_in,
    go,
    nobody_at_work_on_the_program,
    put,
)

# Where a worker or a scheduler ends at once, dask may leave sockets open.
pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning")

IN_THREADS = {"processes": False, "threads_per_worker": 1, "protocol": "tcp", "dashboard_address": ":0"}
KINDS = ("part",)
LOST = ("could not be made: the process at work on it was ended from outside, or lacked memory",)


@pytest.fixture(scope="module")
def two_workers() -> Iterator[LocalCluster]:
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 0}),
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as found,
    ):
        yield found


class OnTheWay(Heard):
    """A listener that does something once, when a share of the songs is made."""

    def __init__(self, what, share: float) -> None:
        super().__init__()
        self.what, self.share = what, share

    def progress(self, done: int, total: int) -> None:
        super().progress(done, total)
        if self.what is not None and 0 < total * self.share <= done:
            what, self.what = self.what, None
            what()


def run_far(songs: Path, out: Path, address: str, heard: Heard | None = None, by=make) -> tuple[Summary, Heard]:
    """Run through a library by the workers of a scheduler."""
    with far(address, by, WISHES, KINDS) as crew:
        heard = heard or Heard()
        return go(
            songs, out, crew.executor, heard=heard, work=crew.work, in_hand=crew.in_hand, again=crew.again,
            songs_a_job=2,
        )  # fmt: skip


@pytest.mark.parametrize("count", [20, pytest.param(200, marks=pytest.mark.slow)])
def test_workers_that_die_cost_nothing_but_the_song_that_ends_them(two_workers, tmp_path, count):
    songs, out = tmp_path / "songs", tmp_path / "out"
    put(songs, count)
    # The last of all: not yet on its way when the worker is killed, or a song that is tried alone then would be blamed.
    (songs / "2" / "z.song.txt").write_text(SMALL.format("deadly"), encoding="utf-8")
    go(songs, tmp_path / "alone")
    alone = files_in(tmp_path / "alone")
    assert len(alone) == count + 1 + 3

    def kill_one() -> None:
        os.kill(next(iter(two_workers.workers.values())).process.process.pid, signal.SIGKILL)

    summary, heard = run_far(songs, out, two_workers.scheduler_address, OnTheWay(kill_one, 0.1), deadly)
    assert heard.what is None, "no worker was killed"
    assert counts(summary) == (count, 0, 0, 1)
    [lost] = [outcome for outcome in heard.outcomes if outcome.what == "missed"]
    assert (lost.name, lost.messages) == ("2/z.song.txt", LOST)
    made = {name: data for name, data in files_in(out).items() if not name.startswith("index.")}
    assert made == {name: alone[name] for name in made} and len(made) == count
    summary, _ = run_far(songs, out, two_workers.scheduler_address)
    assert counts(summary) == (1, count, 0, 0)
    assert files_in(out) == alone


def test_at_most_four_jobs_a_thread_are_on_their_way(two_workers):
    cluster = ClusterExecutor(two_workers.scheduler_address)
    try:
        two_workers.wait_for_workers(1, timeout=30)  # the other may be on its way again
        cluster.threads = 0  # ask now
        assert cluster.in_hand() == 4 * cluster.threads and 1 <= cluster.threads <= 2
    finally:
        cluster.close()


def test_a_worker_that_differs_refuses_and_says_how(two_workers, tmp_path, monkeypatch):
    put(tmp_path / "songs", 3)
    wanted = [*versions_here(False)]
    wanted[1:] = [("cpython", "3.0.9"), ("reportlab", "1.0"), ("zlib", "0.1")]
    monkeypatch.setattr(cluster_module, "versions_here", lambda _: tuple(wanted))
    summary, heard = run_far(tmp_path / "songs", tmp_path / "out", two_workers.scheduler_address)
    assert (counts(summary), summary.left, heard.outcomes) == ((0, 0, 0, 0), 3, [])
    have = dict(versions_here(False))
    asked = [f"{name} {have[name]}, where {version} is asked for" for name, version in wanted[1:]]
    assert summary.no_workers.message.endswith(f" is not the same: {'; '.join(asked)}")


def test_what_a_job_holds_is_not_looked_at_before_the_versions():
    wanted = (("keys-arranger", "0.0 (0)"), *versions_here(False)[1:])
    with pytest.raises(NoWorkersError) as refused:
        do(wanted, False, b"no job at all")
    here = versions_here(False)[0][1]
    assert refused.value.message.endswith(f"not the same: keys-arranger {here}, where 0.0 (0) is asked for")
    with pytest.raises(pickle.UnpicklingError):
        do(versions_here(False), False, b"no job at all")
    assert do(versions_here(True), True, packed(len, "four")) == 4
    assert [name for name, _ in versions_here(True)] == ["keys-arranger", "cpython", "reportlab", "uharfbuzz", "zlib"]


@pytest.fixture
def nobody(tmp_path) -> Iterator[LocalCluster]:
    """Return a scheduler without workers."""
    with LocalCluster(n_workers=0, **IN_THREADS) as found:
        yield found


def test_no_worker_for_long_then_the_same_command_carries_on(nobody, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(cluster_module, "PATIENCE", 1.0)
    put(tmp_path / "songs", 4)
    words = ["library", str(tmp_path / "songs"), "--on", nobody.scheduler_address]
    assert main(words) == 1
    out, err = capsys.readouterr()
    assert f"there has been no worker at {nobody.scheduler_address} for 1 s\n" in err
    assert "4 songs are left; when that is mended, the same command carries on" in err
    assert out.endswith("0 made, 0 unchanged, 4 left\n")
    nobody.scale(1)
    assert main(words) == 0
    assert capsys.readouterr().out.endswith("4 made, 0 unchanged\n")
    assert main([*words[:-1], "tcp://127.0.0.1:1"]) == 0, "nobody is asked where nothing is to be made"


def test_a_scheduler_that_is_lost_leaves_what_is_made(tmp_path):
    put(tmp_path / "songs", 40)
    with ExitStack() as stack:
        lost = stack.enter_context(LocalCluster(n_workers=1, **IN_THREADS))
        summary, _ = run_far(tmp_path / "songs", tmp_path / "out", lost.scheduler_address, OnTheWay(lost.close, 0.5))
    assert summary.no_workers.message.startswith(f"the scheduler at {lost.scheduler_address} is lost: ")
    made = summary.counts["made"]
    assert 20 <= made < 40 and summary.left == 40 - made
    assert counts(go(tmp_path / "songs", tmp_path / "out")[0]) == (40 - made, made, 0, 0)


@pytest.mark.parametrize(
    ("address", "problem"),
    [
        ("", "it begins with neither tcp:// nor tls://"),
        ("192.168.1.20:8786", "it begins with neither tcp:// nor tls://"),
        ("tcp://", "it has no host"),
        ("tcp://:8786", "it has no host"),
        ("tcp://desk", "it has no port"),
        ("tcp://desk:0", "it has no port"),
        ("tcp://desk:eight", "its port is no number from 1 to 65535"),
        ("tcp://desk:87860", "its port is no number from 1 to 65535"),
        ("tcp://[::1:8786", "it is no address"),
        ("tcp://desk:8786/status", "there is more after the port"),
        ("tcp://me@desk:8786", "there is more after the port"),
    ],
)
def test_an_address_that_is_none(tmp_path, capsys, address, problem):
    put(tmp_path, 1)
    assert main(["library", str(tmp_path), f"--on={address}"]) == 2
    err = capsys.readouterr().err
    assert "expected the address of a dask scheduler after --on, found " in err and f": {problem}\n" in err
    assert not (tmp_path / "parts").exists()


def test_nobody_answers_there(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(cluster_module, "ANSWER", 0.5)
    put(tmp_path, 1)
    assert main(["library", str(tmp_path), "--on", "tcp://127.0.0.1:1"]) == 2
    assert "no scheduler answers at tcp://127.0.0.1:1: Timed out" in capsys.readouterr().err


def test_certificates_are_wanted_before_anybody_is_asked(tmp_path, capsys):
    put(tmp_path, 1)
    asked = ["library", str(tmp_path), "--on", "tls://127.0.0.1:1"]
    assert main(asked) == 2
    err = capsys.readouterr().err
    assert "tls://127.0.0.1:1 wants certificates, and dask's settings name none\n  hint: name them" in err
    for file in ("missing.pem", "0/s00.song.txt"):  # of which neither is one
        path, tls = str(tmp_path / file), "distributed.comm.tls"
        with dask.config.set({f"{tls}.ca-file": path, f"{tls}.client.cert": path, f"{tls}.client.key": path}):
            assert main(asked) == 2
        assert "the certificates that dask's settings name cannot be read: " in capsys.readouterr().err


def test_processes_here_or_workers_there(tmp_path, capsys):
    put(tmp_path, 1)
    assert main(["library", str(tmp_path), "--on", "tcp://desk:8786", "--jobs", "2"]) == 2
    assert "expected --jobs or --on, found both" in capsys.readouterr().err


def test_fonts_travel_with_the_jobs(tmp_path):
    """The file is gone when the song is made; so it was not read there."""
    path = tmp_path / "mine.ttf"
    shutil.copy(font_path("part-greek.ttf"), path)
    song = SongTask("a", "a.song.txt", SMALL.format("Ωδή ა").encode(), "a.pdf")
    wishes = WISHES._replace(pages=WISHES.pages.__class__(fonts=(str(path),)))
    carried, fonts = carried_fonts(wishes)
    [at_home] = make(wishes, KINDS, (song,))
    work = pickle.loads(pickle.dumps(partial(make_carried, make, carried, KINDS, fonts)))
    path.unlink()
    [far_away] = work((song,))
    assert far_away == at_home and str(path) not in carried.pages.fonts


def test_what_is_said_of_a_font_has_its_path_at_home():
    def faulty(wishes, _, tasks):
        (name,) = wishes.stage.fonts
        return tuple(MadeSong(task.name, (), (f"{name}: odd",), fault=f"the font {name}") for task in tasks)

    path = str(font_path("part-greek.ttf"))
    carried, fonts = carried_fonts(WISHES._replace(stage=WISHES.stage.__class__(fonts=(path,))))
    [made] = make_carried(faulty, carried, KINDS, fonts, (SongTask("a", "a", b"", "a.pdf"),))
    assert (made.messages, made.fault) == ((f"{path}: odd",), f"the font {path}")


def test_the_extra_is_named_where_it_is_missing(tmp_path, capsys, monkeypatch):
    def missing(_: str) -> None:
        raise ModuleNotFoundError("no", name="distributed")

    put(tmp_path, 1)
    monkeypatch.setattr("arranger.commands.library.load", missing)
    assert main(["library", str(tmp_path), "--on", "tcp://desk:8786"]) == 2
    assert "--on needs more than is installed (distributed is missing)" in capsys.readouterr().err
