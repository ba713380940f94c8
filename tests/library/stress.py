"""A library that is made in spite of everything: `python -m tests.library.stress [SONGS] [SEED]` (Linux).

First the store of a small one is damaged in 400 ways (`damage`), and what each run leaves is held against what it must.
SONGS (5,000 unless said) are made once undisturbed, and once interrupted five times, at moments and in ways that chance
chooses: Ctrl-C, an end that is asked for, the parent killed, a worker killed, all killed. After each, every PDF that is
there is whole and no process is left. What is there at the end is compared with the undisturbed run, byte by byte. Then
a smaller library is made on a disk that is too small for it, and carried on when the disk has grown; that needs the
right to mount one.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from arranger.library.ledger import FOLDER, STORE
from tests.library.damage import ALL, check
from tests.library.helpers import lines_in
from tests.library.many import write
from tests.library.processes import of_group

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-m", "arranger", "library"]
PATIENCE = 20  # seconds until all processes of a run that was ended must be gone
WORKERS = 2
SMALL_LIBRARY = 120  # songs, of some 5 MB of PDFs
SMALL_DISK = "2m"

WAYS = ("ctrl-c", "asked to end", "parent killed", "worker killed", "all killed")


class Run:
    """A run in a process group of its own, as a terminal begins it."""

    def __init__(self, songs: Path, out: Path) -> None:
        self.out = out
        self.said = tempfile.TemporaryFile("w+")  # noqa: SIM115 (closed with the run)
        self.process = subprocess.Popen(
            [*COMMAND, songs, "--out", out, "--jobs", str(WORKERS)],
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=self.said,
            stderr=self.said,
            start_new_session=True,
        )

    def others(self) -> list[int]:
        """Give the processes of the group beside the first that have not ended."""
        return [process for process in of_group(self.process.pid) if process != self.process.pid]

    def wait_for(self, count: float) -> bool:
        """Wait until there are so many PDFs; tell whether the run still goes on."""
        while self.process.poll() is None:
            if made(self.out) >= count:
                return True
            time.sleep(0.05)
        return False

    def hit(self, way: str, chance: random.Random) -> None:
        """End the run in some way."""
        pid = self.process.pid
        time.sleep(chance.random() / 10)
        match way:
            case "ctrl-c":
                os.killpg(pid, signal.SIGINT)
            case "asked to end":
                os.kill(pid, signal.SIGTERM)
            case "parent killed":
                os.kill(pid, signal.SIGKILL)
            case "all killed":
                os.killpg(pid, signal.SIGKILL)

    def end(self) -> tuple[int, str]:
        """Wait for the end; give the status and the last line that was said."""
        status = self.process.wait()
        self.said.seek(0)
        lines = self.said.read().splitlines()
        self.said.close()
        deadline = time.monotonic() + PATIENCE
        while self.others():
            assert time.monotonic() < deadline, f"left over: {self.others()}"
            time.sleep(0.05)
        assert not any("Traceback" in line for line in lines), "\n".join(lines)
        return status, lines[-1] if lines else ""


def made(out: Path) -> int:
    """Give how many PDFs there are."""
    return sum(1 for _ in out.rglob("*.pdf"))


def files(out: Path) -> dict[str, Path]:
    """Give all files but the store, the lock, and what a killed run was writing."""
    passing = {out / FOLDER / name for name in ("lock", "unfinished", STORE, f"{STORE}-journal")}
    return {path.relative_to(out).as_posix(): path for path in out.rglob("*") if path.is_file() and path not in passing}


def compare(out: Path, undisturbed: Path, whole: bool) -> int:
    """Hold what is there against the undisturbed run; give how many PDFs there are.

    Args:
        out: what was disturbed.
        undisturbed: what was not.
        whole: nothing may be missing, and the store says the same too.
    """
    here, there = files(out), files(undisturbed)
    if whole:
        assert set(here) == set(there), set(here) ^ set(there)
        assert lines_in(out) == lines_in(undisturbed)
    pdfs = 0
    for name, path in here.items():
        if name.endswith(".pdf"):
            pdfs += 1
        elif not whole:
            continue
        assert path.read_bytes() == there[name].read_bytes(), f"{name} differs"
    return pdfs


def interrupt(songs: Path, folder: Path, chance: random.Random) -> None:
    """Make the songs undisturbed, and interrupted five times."""
    undisturbed, out = folder / "undisturbed", folder / "interrupted"
    begin = time.monotonic()
    status, last = Run(songs, undisturbed).end()
    assert status == 0, last
    print(f"undisturbed: {time.monotonic() - begin:.0f} s: {last}", flush=True)
    count = made(undisturbed)
    moments = sorted(chance.uniform(0.03, 0.95) for _ in WAYS)
    for way, moment in zip(chance.sample(WAYS, len(WAYS)), moments, strict=True):
        run = Run(songs, out)
        assert run.wait_for(count * moment), "it was done too soon"
        if way == "worker killed":
            os.kill(chance.choice(run.others()), signal.SIGKILL)
            before = made(out)
            assert run.wait_for(before + count / 100), "it does not carry on without its worker"
            way = "worker killed, and then ctrl-c"
            run.hit("ctrl-c", chance)
        else:
            run.hit(way, chance)
        status, last = run.end()
        there = compare(out, undisturbed, whole=False)
        print(f"at {moment:4.0%}: {way}: status {status}, {there} PDFs, all whole", flush=True)
    status, last = Run(songs, out).end()
    assert status == 0, last
    compared = compare(out, undisturbed, whole=True)
    print(f"carried on: {last}\n{compared} PDFs, the index and the store: the same as undisturbed")


def fill(folder: Path) -> None:
    """Make songs on a disk that is too small, and again when it has grown."""
    songs, undisturbed, out = folder / "few", folder / "few-undisturbed", folder / "full"
    list(write(songs, SMALL_LIBRARY))
    out.mkdir()
    mount = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={SMALL_DISK}", "tmpfs", out], capture_output=True, text=True
    )
    if mount.returncode:
        print(f"a full disk: not tried, no disk can be mounted here ({mount.stderr.strip()})")
        return
    try:
        assert Run(songs, undisturbed).end()[0] == 0
        run = Run(songs, out)
        status, last = run.end()
        there = compare(out, undisturbed, whole=False)
        assert status == 2 and 0 < there < SMALL_LIBRARY, (status, last)
        print(f"a disk of {SMALL_DISK}: status {status}, {there} PDFs, all whole: {last}")
        subprocess.run(["mount", "-o", "remount,size=64m", out], check=True)
        status, last = Run(songs, out).end()
        assert status == 0, last
        compare(out, undisturbed, whole=True)
        print(f"with more room: {last}: the same bytes as undisturbed")
    finally:
        subprocess.run(["umount", out], check=True)


def main() -> None:
    """Make, interrupt, compare."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else random.randrange(10**6)
    print(f"{count} songs, seed {seed}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        check(range(ALL), folder / "damaged")
        print(f"{ALL} damaged stores: the same bytes as undisturbed", flush=True)
        list(write(folder / "songs", count))
        interrupt(folder / "songs", folder, random.Random(seed))
        fill(folder)


if __name__ == "__main__":
    main()
