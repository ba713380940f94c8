"""`arranger library` as a process: Ctrl-C, ends of other kinds, workers left behind, the bar on a terminal, one worker
and two."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from tests.library.helpers import files_in, put
from tests.library.processes import of_group

ROOT = Path(__file__).parents[2]
ARRANGER = [sys.executable, "-m", "arranger"]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}
SONGS = 150  # small ones: many jobs for two workers
PATIENCE = 60  # seconds; for a machine on which much else goes on

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and terminals of the POSIX kind")


@pytest.fixture(scope="module")
def songs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("library") / "songs"
    put(folder, SONGS)
    return folder


@pytest.fixture(scope="module")
def undisturbed(songs):
    """Give what one process leaves that nobody disturbs, and what it says."""
    done = subprocess.run([*ARRANGER, "library", songs, "--out", songs.parent / "one", "--jobs", "1"],
                          env=ENVIRONMENT, capture_output=True, text=True)  # fmt: skip
    assert done.returncode == 0
    return files_in(songs.parent / "one"), done.stdout.replace(str(songs.parent / "one"), "OUT"), done.stderr


@pytest.fixture
def out(songs, tmp_path):
    """Give a folder for PDFs, beside the one for those of the undisturbed run."""
    return songs.parent / tmp_path.name


@contextmanager
def begin(songs: Path, out: Path, jobs: int) -> Iterator[subprocess.Popen]:
    """Begin a run in a process group of its own, as a terminal does; none of it is left where a test fails."""
    with subprocess.Popen(
        [*ARRANGER, "library", songs, "--out", out, "--jobs", str(jobs)],
        env=ENVIRONMENT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    ) as run:  # fmt: skip
        try:
            yield run
            run.wait(PATIENCE)
        except BaseException:
            with suppress(ProcessLookupError):
                os.killpg(run.pid, signal.SIGKILL)
            raise


def wait_for(what, seconds: float = PATIENCE):
    """Wait until something is the case; give it."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = what()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"not within {seconds} s: {what}")


def pdfs(out: Path, least: int):
    return lambda: len(list(out.rglob("*.pdf"))) >= least


@pytest.mark.slow
def test_two_workers_leave_and_say_what_one_does(songs, undisturbed, out):
    with begin(songs, out, 2) as run:
        said, told = run.communicate()
    assert run.returncode == 0
    assert (files_in(out), told) == (undisturbed[0], undisturbed[2])
    assert said.replace(str(out), "OUT") == undisturbed[1]


@pytest.mark.slow
@pytest.mark.parametrize("jobs", [1, 2])
def test_ctrl_c_and_the_next_run_carries_on(songs, undisturbed, out, jobs):
    with begin(songs, out, jobs) as run:
        wait_for(pdfs(out, 2))
        os.killpg(run.pid, signal.SIGINT)
        _, told = run.communicate(timeout=PATIENCE)
    assert run.returncode == 130
    assert told.splitlines()[-2].startswith("arranger: stopped: ")
    assert told.splitlines()[-2].endswith(f" of {SONGS} songs are left")
    assert told.splitlines()[-1] == "  hint: the same command carries on"
    assert "Traceback" not in told
    assert of_group(run.pid) == []
    made = {name: data for name, data in files_in(out).items() if name.endswith(".pdf")}
    assert 2 <= len(made) < SONGS
    assert made.items() <= undisturbed[0].items()
    with begin(songs, out, jobs) as run:
        said, _ = run.communicate(timeout=PATIENCE)
    assert said.splitlines()[-1].endswith(f": {SONGS - len(made)} made, {len(made)} unchanged")
    assert files_in(out) == undisturbed[0]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads the processes from /proc")
def test_a_second_ctrl_c_ends_at_once(songs, undisturbed, out):
    with begin(songs, out, 2) as run:
        wait_for(pdfs(out, 2))
        for _ in range(2):
            os.killpg(run.pid, signal.SIGINT)
            time.sleep(0.01)  # two signals at once would be one
        _, told = run.communicate(timeout=PATIENCE)
    assert run.returncode == 130
    assert told.splitlines()[0].startswith("arranger: stopped")
    assert "Traceback" not in told
    wait_for(lambda: not of_group(run.pid))
    assert {name: data for name, data in files_in(out).items() if name.endswith(".pdf")}.items() <= undisturbed[
        0
    ].items()
    with begin(songs, out, 2) as run:
        run.communicate(timeout=PATIENCE)
    assert (run.returncode, files_in(out)) == (0, undisturbed[0])


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads the processes from /proc")
def test_a_reader_that_goes_away(songs, out):
    with begin(songs, out, 2) as run:
        assert run.stdout.readline().endswith("1 page\n")
        run.stdout.close()
        assert run.stderr.read() == ""
    assert run.returncode == 141
    assert of_group(run.pid) == []


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads the processes from /proc")
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_no_worker_outlives_its_parent(songs, out, number):
    with begin(songs, out, 2) as run:
        wait_for(pdfs(out, 2))
        assert len(of_group(run.pid)) == 3
        os.kill(run.pid, number)
        run.communicate(timeout=PATIENCE)
    wait_for(lambda: not of_group(run.pid))
    assert run.returncode == (143 if number == signal.SIGTERM else -number)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads the processes from /proc")
def test_a_worker_that_is_killed_costs_no_song(songs, undisturbed, out):
    with begin(songs, out, 2) as run:
        wait_for(pdfs(out, 2))
        worker = max(of_group(run.pid))
        assert worker != run.pid
        os.kill(worker, signal.SIGKILL)
        run.communicate(timeout=PATIENCE)
    assert run.returncode == 0
    assert files_in(out) == undisturbed[0]


@pytest.mark.slow
def test_a_second_run_says_that_another_is_at_work(songs, out):
    with begin(songs, out, 2) as first:
        wait_for(pdfs(out, 1))
        with begin(songs, out, 2) as second:
            _, told = second.communicate(timeout=PATIENCE)
        assert second.returncode == 2
        assert told.splitlines() == [
            f"arranger: another run is at work in {out}",
            "  hint: let it end, or stop it; this one then makes what is left",
        ]
        first.communicate(timeout=PATIENCE)
    assert first.returncode == 0


@pytest.mark.slow
def test_a_bar_on_a_terminal(songs, out):
    import pty

    mine, theirs = pty.openpty()
    run = subprocess.Popen(
        [*ARRANGER, "library", songs, "--out", out, "--jobs", "1"],
        env=ENVIRONMENT,
        stdout=theirs,
        stderr=theirs,
    )
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(mine, 65536)
        except OSError:  # the other end is closed
            break
        if not piece:
            break
        shown += piece
    os.close(mine)
    assert run.wait() == 0
    steps = shown.decode().split("\r")
    assert f"[{'.' * 30}] 0 of {SONGS}" in steps
    assert f"[{'#' * 15}{'.' * 15}] {SONGS // 2} of {SONGS}" in steps
    assert f"[{'#' * 30}] {SONGS} of {SONGS}" in steps
    last = [step for step in steps if step.strip()][-1]
    assert last.strip() == f"{out}: {SONGS} made, 0 unchanged"
    assert b".pdf" not in shown
