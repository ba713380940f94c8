"""How fast a library is made, as ratios measured in one run: `python -m tests.bench.library [SONGS] [LARGE]`.

SONGS (1,000 unless said) are made of the samples, in other keys and with other words, and made into parts by one
process and by two, in turns. LARGE songs, if it is said (5,000 shows it well), are made by two workers, and at every
tenth of the way the memory of a worker is read. Last, libraries in which nothing has changed are gone through.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from arranger.library.ledger import Ledger
from arranger.library.make import Outcome, Summary, warm
from arranger.library.plan import Library, RunPlan, plan
from arranger.library.run import run
from arranger.library.scan import PART
from arranger.library.workers import JOBS_A_WORKER, SONGS_A_JOB, InProcess, Pool
from arranger.pipeline import Wishes
from tests.library.many import write

ROUNDS = 2
FEW = 100  # songs
WISHES = Wishes(figures=False)
TWO_OVER_ONE = (1.8, 1.9)  # committed and stretch
CPU = (1.1, 1.05)
MEMORY = (60, 50)  # MiB
UNCHANGED = 1.0  # ms a song


@dataclass
class Listener:
    """Reads the memory of the workers on the way."""

    look: Callable[[int, int], None] = lambda done, total: None
    problems: list[Outcome] = field(default_factory=list)

    def progress(self, done: int, total: int) -> None:
        self.look(done, total)

    def tell(self, outcome: Outcome) -> None:
        if outcome.what != "made" and outcome.what != "unchanged":
            self.problems.append(outcome)


@dataclass(frozen=True)
class Took:
    """Seconds of one run: by the clock, and of the processor in this process and its workers."""

    wall: float
    cpu: float


def cpu() -> float:
    """Give the seconds of the processor that this process and those that have ended have had."""
    own, children = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def make(songs: Path, out: Path, workers: int, listener: Listener) -> Took:
    """Go through a library."""
    library = Library(songs, out, WISHES, (PART,))
    wall, used = time.perf_counter(), cpu()
    with Ledger(out, songs) as ledger:
        todo = plan(library, ledger)
        summary = through(library, ledger, todo, workers if todo.to_do else 1, listener)
    took = Took(time.perf_counter() - wall, cpu() - used)
    assert not listener.problems, listener.problems[0]
    assert summary.counts["made"] + summary.counts["unchanged"] == len(todo.songs)
    return took


def through(library: Library, ledger: Ledger, todo: RunPlan, workers: int, listener: Listener) -> Summary:
    if workers == 1:
        return run(library, ledger, todo, InProcess(), listener)
    with Pool(workers, lambda: warm(WISHES, library.kinds)) as pool:
        return run(library, ledger, todo, pool, listener, in_hand=JOBS_A_WORKER * workers, songs_a_job=SONGS_A_JOB)


def compare(songs: Path, folder: Path, count: int) -> None:
    """Make the same songs by one process and by two, in turns; the first round is for the caches of the disk."""
    times: dict[int, list[Took]] = {1: [], 2: []}
    for number in range(ROUNDS):
        for workers in times:
            times[workers].append(make(songs, folder / f"{count}-{workers}-{number}", workers, Listener()))
    for workers, took in times.items():
        wall = min(t.wall for t in took)
        each = f"{count / wall:.0f} songs/s, {1000 * wall / count:.1f} ms a song"
        print(f"{workers} worker{'s' * (workers > 1)}: {wall:.1f} s, {each}")
    one, two = (min(times[workers], key=lambda took: took.wall) for workers in (1, 2))
    line("two workers over one", one.wall / two.wall, *TWO_OVER_ONE)
    line("processor time of two over one", min(t.cpu for t in times[2]) / min(t.cpu for t in times[1]), *CPU)


def line(what: str, value: float, committed: float, stretch: float | None = None, unit: str = "") -> None:
    goal = f"{committed:g}" + (f", stretch {stretch:g}" if stretch is not None else "")
    print(f"{what:44}{value:8.2f}{unit}   goal {goal}")


def memory(songs: Path, out: Path) -> None:
    """Make a library with two workers, and print the most memory that one of them has, on the way."""
    tenths: dict[int, tuple[float, float]] = {}

    def look(done: int, total: int) -> None:
        tenth = 10 * done // total
        if done and tenth not in tenths:
            tenths[tenth] = max((held(pid) for pid in children()), default=(0.0, 0.0))

    took = make(songs, out, 2, Listener(look))
    print(f"a worker's memory over a library made in {took.wall:.0f} s (MiB in all; of its own):")
    for tenth, (whole, own) in tenths.items():
        print(f"  {10 * tenth:3} %  {whole:5.1f}  {own:5.1f}")
    line("most memory of a worker", max(whole for whole, _ in tenths.values()), *MEMORY, " MiB")


def children() -> list[int]:
    """Give the processes that this one has begun; none where the system is not Linux."""
    path = Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children")
    return list(map(int, path.read_text().split())) if path.exists() else []


def held(pid: int) -> tuple[float, float]:
    """Give the memory that a process holds, and what of it is its own, in MiB (Linux)."""
    fields = {}
    for text in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()[1:]:
        name, value, _ = text.split()
        fields[name.rstrip(":")] = int(value) / 1024
    return fields["Rss"], fields["Private_Clean"] + fields["Private_Dirty"]


def growth(made: dict[int, tuple[Path, Path]]) -> None:
    """Go through libraries in which nothing has changed."""
    print("nothing has changed:")
    for count, (songs, out) in sorted(made.items()):
        best = min(make(songs, out, 1, Listener()).wall for _ in range(3))
        line(f"  {count:6} songs: {1000 * best:7.1f} ms; a song", 1000 * best / count, UNCHANGED, unit=" ms")


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    large = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sizes = [FEW, count, *([large] if large else [])]
        made = {size: (folder / f"{size} songs", folder / f"{size}-2-0") for size in sizes}
        for size, (songs, _) in made.items():
            list(write(songs, size))
        compare(made[count][0], folder, count)
        if large:
            memory(*made[large])
        make(*made[FEW], 1, Listener())
        growth(made)


if __name__ == "__main__":
    main()
