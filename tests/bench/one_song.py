"""How fast one song is, as ratios measured side by side in this run, each with its goal beside it.

    python -m tests.bench.one_song

Machines differ and drift, so nothing is compared with times of another day. P is a whole `python -c pass`, L the bare
drawing of the same placed items, A5 their drawing by the usual calls (tests/bench/bare.py).

Warm stages are measured in CPU time over songs in rotation: each round takes the seven samples in another key and with
other words (tests/library/many.py), so that nothing that a process remembers of one song's content helps with the next.
Some samples have their pages set more than once, since a smaller look saves one; which do is printed. Each figure is
the least sum of a round. Whole processes are measured by the clock, as those who wait do; medians of interleaved
rounds.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import NamedTuple

from arranger.cli import GARBAGE
from arranger.harmony import candidates
from arranger.harmony import solve as solving
from arranger.layout.model import Document, Text
from arranger.layout.pages import part_choice as parts
from arranger.pdf.fonts import finished, subsets
from arranger.pdf.write import to_bytes
from arranger.pipeline import Wishes, to_arrangement, to_pages, to_song
from arranger.resources import FONT_FILES
from arranger.text.source import Source
from tests.bench.bare import bare, by_regex, usual
from tests.library import many

ROOT = Path(__file__).parents[2]
SONG = ROOT / "samples" / "slow boats.song.txt"  # the sample nearest to 64 bars and 75 changes of chord

COLD_ROUNDS = 15
WARM_ROUNDS = 12


class Goal(NamedTuple):
    """A line of the table: a measure over another one, and what is wanted."""

    what: str
    top: str
    bottom: str
    committed: float
    stretch: float


GOALS = (
    Goal("drawing / L", "drawing", "L", 2, 1.2),
    Goal("whole pipeline, songs in rotation / L", "pipeline", "L", 13, 9),
    Goal("the same / A5", "pipeline", "A5", 1.8, 1.2),
    Goal("reading, share of the pipeline", "reading", "pipeline", 0.08, 0.04),
    Goal("all searches of a part / L", "searches", "L", 3, 2),
    Goal("arranger part, cold / P", "part", "P", 20, 14),
    Goal("arranger part, cold / importing lark and reportlab", "part", "libraries", 2.2, 1.5),
    Goal("check of a song with a mistake, cold / P", "check of a wrong song", "P", 14, 8),
    Goal("arranger --help, cold / P", "--help", "P", 3, 2),
    Goal("arranger --version, cold / P", "--version", "P", 3, 2),
    Goal("a mistake in the command, cold / P", "mistake", "P", 3, 2),
)
# The searches of a part, each as the name under which the stage calls it: bass notes, hands with suspensions.
SEARCHES = ((candidates, "bass_notes"), (solving, "choose"))
WISHES = Wishes(figures=False)  # as `arranger part` has it


@contextmanager
def counted(owner: object, name: str, took: list[float]):
    """Add the CPU seconds of each call of a function to `took`, while this lasts."""
    plain = getattr(owner, name)

    def timed(*values, **named):
        start = time.process_time()
        try:
            return plain(*values, **named)
        finally:
            took.append(time.process_time() - start)

    setattr(owner, name, timed)
    try:
        yield
    finally:
        setattr(owner, name, plain)


def processor(work: Callable[[], object]) -> tuple[float, object]:
    """Return the CPU milliseconds of a work, and what it gives."""
    start = time.process_time()
    found = work()
    return 1000 * (time.process_time() - start), found


def timed(work: Callable[[], object]) -> float:
    """Return milliseconds by the clock."""
    start = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - start)


def measure(works: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Return the median of each over interleaved rounds, by the clock, after one that does not count."""
    for work in works.values():
        work()
    taken: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(rounds):
        for name, work in works.items():
            taken[name].append(timed(work))
    return {name: median(times) for name, times in taken.items()}


def stages(source: Source) -> tuple[dict[str, float], Document, int]:
    """Take one song through the pipeline; return the CPU milliseconds of each stage, its pages, how often they are set.

    L and A5 draw the same pages just after, so that the machine's drift is the same for all.
    """
    searches: list[float] = []
    drafts: list[float] = []
    with (
        counted(*SEARCHES[0], searches),
        counted(*SEARCHES[1], searches),
        counted(parts, "drafted", drafts),
    ):
        reading, (song, _) = processor(lambda: to_song(source))
        arranging, (arrangement, _) = processor(lambda: to_arrangement(song, WISHES))
        setting, (document, _) = processor(lambda: to_pages(arrangement, WISHES))
        drawing, _ = processor(lambda: to_bytes(document))
    programs = {}
    for face in FONT_FILES:
        characters = {c for page in document.pages for i in page.items if isinstance(i, Text) for c in i.text}
        programs[face] = finished(face, subsets(face, characters)[0], 0).program
    least = bare(document, programs)
    least()
    took = {
        "reading": reading,
        "arranging": arranging,
        "searches": 1000 * sum(searches),
        "setting": setting,
        "drawing": drawing,
        "pipeline": reading + arranging + setting + drawing,
        "L": processor(least)[0],
        "A5": processor(lambda: usual(document))[0],
        "regex": processor(lambda: by_regex(source.text))[0],
    }
    return took, document, len(drafts)


def warm() -> tuple[dict[str, float], list[str]]:
    """Measure the stages over songs in rotation; return the least sums of a round, and what was set more than once."""
    gc.freeze()
    gc.set_threshold(GARBAGE)  # as commands have it
    number = len(many.SAMPLES)
    sums: list[dict[str, float]] = []
    twice: set[str] = set()
    for turn in range(WARM_ROUNDS + 1):
        total: dict[str, float] = {}
        for place, path in enumerate(many.SAMPLES):
            name, text = many.song(number * turn + place)
            took, _, drafts = stages(Source.of(name, text))
            total = {what: total.get(what, 0) + value for what, value in took.items()}
            if drafts > 1:
                twice.add(path.name.removesuffix(".song.txt"))
        if turn:  # the first loads fonts and compiles patterns
            sums.append(total)
    return {what: min(one[what] for one in sums) for what in sums[0]}, sorted(twice)


def cold(folder: Path) -> dict[str, float]:
    """Measure whole processes. Python keeps what it has compiled in `folder`, as an installed package has it."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    arranger = ("-c", "import sys; from arranger.cli import main; sys.exit(main())")

    def process(*words: str) -> Callable[[], object]:
        line = [sys.executable, *words]
        return lambda: subprocess.run(line, env=environment, capture_output=True, check=False)

    libraries = "import lark, reportlab.pdfbase.pdfdoc, reportlab.pdfbase.ttfonts"
    wrong = folder / "wrong.song.txt"
    wrong.write_text("song A\nkey D\nsection A\n| H |\n", encoding="utf-8")
    works = {
        "P": process("-c", "pass"),
        "libraries": process("-c", libraries),
        "part": process(*arranger, "part", str(SONG), "-o", str(folder / "part.pdf")),
        "check of a wrong song": process(*arranger, "check", str(wrong)),
        "--help": process(*arranger, "--help"),
        "--version": process(*arranger, "--version"),
        "mistake": process(*arranger, "part", "--papr", "a4"),
    }
    return measure(works, COLD_ROUNDS)


def peak_memory(folder: Path) -> float:
    """Give the most memory that a process held while it made the part, in MiB."""
    code = (
        "import resource, sys; from pathlib import Path; from arranger.cli import main; main(sys.argv[1:]);"
        "status = Path('/proc/self/status');"  # where it is there: what getrusage gives counts the parent before too
        "high = [l.split()[1] for l in status.read_text().splitlines() if 'VmHWM' in l] if status.exists() else [];"
        "print(high[0] if high else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    words = [sys.executable, "-c", code, "part", str(SONG), "-o", str(folder / "part.pdf")]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    unit = 1024 * 1024 if sys.platform == "darwin" else 1024  # bytes there, KiB elsewhere
    return int(done.stdout.split()[-1]) / unit


def row(what: str, value: float, committed: float, stretch: float) -> str:
    verdict = "stretch" if value <= stretch else "met" if value <= committed else "NOT MET"
    return f"{what:52}{value:8.2f}{committed:8g}{stretch:8g}  {verdict}"


def report(times: dict[str, float], twice: Sequence[str], sizes: Sequence[tuple[str, float, float, float]]) -> str:
    """Set the table."""
    lines = [
        f"{len(many.SAMPLES)} songs in rotation, {WARM_ROUNDS} rounds; set again: {', '.join(twice) or 'none'}",
        "",
        f"{'':52}{'ratio':>8}{'goal':>8}{'stretch':>8}",
    ]
    lines += [row(g.what, times[g.top] / times[g.bottom], g.committed, g.stretch) for g in GOALS]
    lines += [row(*size) for size in sizes]
    lines += ["", "milliseconds: " + ", ".join(f"{name} {value:.1f}" for name, value in times.items())]
    return "\n".join(lines)


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        warm_times, twice = warm()
        times = warm_times | cold(folder)
        sizes = [
            ("peak memory of one song, MiB", peak_memory(folder), 34, 26),
            ("size of the PDF, KB", (folder / "part.pdf").stat().st_size / 1000, 50, 40),
        ]
        print(report(times, twice, sizes))


if __name__ == "__main__":
    main()
