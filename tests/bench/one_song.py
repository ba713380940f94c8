"""How fast one song is, as ratios measured side by side in this run, each with its goal beside it.

    python -m tests.bench.one_song

Machines differ and drift, so nothing is compared with times of another day. P is a whole `python -c pass`, L the bare
drawing of the same placed items, A5 their drawing by the usual calls (tests/bench/bare.py). Medians over rounds in
which everything is measured once after the other. A process remembers lines and chords that it has parsed and hands
that it has compared; `reading` is measured with all lines forgotten, the rest as in a process that has met the song.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median
from typing import NamedTuple

from arranger.harmony.right_hand import build
from arranger.harmony.search import solve
from arranger.harmony.settled import stage
from arranger.harmony.taste import DEFAULT
from arranger.harmony.timeline import unroll
from arranger.layout.model import Document, Keyboard, Text
from arranger.pdf.fonts import FILES, finished, subsets
from arranger.pdf.write import to_bytes
from arranger.pipeline import Wishes, to_arrangement, to_pages, to_song
from arranger.song.read import decode
from tests.bench.bare import bare, by_regex, usual

ROOT = Path(__file__).parents[2]
SONG = ROOT / "samples" / "slow boats.song.txt"  # the sample nearest to 64 bars and 75 changes of chord

COLD_ROUNDS = 15
WARM_ROUNDS = 30


class Goal(NamedTuple):
    """A line of the table: a measure over another one, and what is wanted."""

    what: str
    top: str
    bottom: str
    committed: float
    stretch: float


GOALS = (
    Goal("drawing / L", "drawing", "L", 3, 1.0),
    Goal("whole pipeline warm / L", "pipeline", "L", 6, 2.7),
    Goal("whole pipeline warm / A5", "pipeline", "A5", 0.9, 0.4),
    Goal("reading / a regex reader", "reading", "regex", 6, 3),
    Goal("exact search over the printed chords / L", "search", "L", 1.3, 0.5),
    Goal("arranger part, cold / P", "part", "P", 14, 10),
    Goal("arranger part, cold / importing lark and reportlab", "part", "libraries", 1.6, 1.2),
    Goal("arranger --help, cold / P", "--help", "P", 3, 2),
    Goal("arranger --version, cold / P", "--version", "P", 3, 2),
    Goal("a mistake in the command, cold / P", "mistake", "P", 3, 2),
)


def timed(work: Callable[[], object]) -> float:
    """Give milliseconds."""
    start = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - start)


def measure(works: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Give the median of each over interleaved rounds, after one that does not count."""
    for work in works.values():
        work()
    taken: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(rounds):
        for name, work in works.items():
            taken[name].append(timed(work))
    return {name: median(times) for name, times in taken.items()}


def remembered() -> list[Callable[[], None]]:
    """Give what makes the reading forget the texts that it has parsed; the parsers themselves stay."""
    found = {}
    for name, module in sys.modules.items():
        if name.startswith("arranger.song."):
            for value in vars(module).values():
                if hasattr(value, "cache_parameters") and value.cache_parameters()["maxsize"] is not None:
                    found[id(value)] = value.cache_clear
    return list(found.values())


def warm() -> tuple[dict[str, float], Document]:
    """Measure the stages in this process."""
    data = SONG.read_bytes()
    wishes = Wishes(figures=False)  # as `arranger part` has it

    def read():
        return to_song(decode(SONG.name, data)[0])[0]

    forget = remembered()

    def read_afresh():
        for clear in forget:
            clear()
        return read()

    def pipeline():
        return to_bytes(to_pages(to_arrangement(read(), wishes)[0], wishes)[0])

    song = read()
    arrangement = to_arrangement(song, wishes)[0]
    document = to_pages(arrangement, wishes)[0]
    text = song.source.text
    scene, plain, _ = stage(song, unroll(song), DEFAULT)
    problem = build(plain, scene)
    programs = {}
    for face in FILES:
        characters = {c for page in document.pages for i in page.items if isinstance(i, Text) for c in i.text}
        programs[face] = finished(face, subsets(face, characters)[0], 0).program
    works = {
        "L": bare(document, programs),
        "A5": lambda: usual(document),
        "regex": lambda: by_regex(text),
        "reading": read_afresh,
        "reading again": read,
        "search": lambda: solve(problem),
        "arranging": lambda: to_arrangement(song, wishes),
        "pages": lambda: to_pages(arrangement, wishes),
        "drawing": lambda: to_bytes(document),
        "pipeline": pipeline,
    }
    return measure(works, WARM_ROUNDS), document


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
        "import resource, sys; from arranger.cli import main; main(sys.argv[1:]);"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    words = [sys.executable, "-c", code, "part", str(SONG), "-o", str(folder / "part.pdf")]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    unit = 1024 * 1024 if sys.platform == "darwin" else 1024  # bytes there, KiB elsewhere
    return int(done.stdout.split()[-1]) / unit


def row(what: str, value: float, committed: float, stretch: float) -> str:
    verdict = "stretch" if value <= stretch else "met" if value <= committed else "NOT MET"
    return f"{what:52}{value:8.2f}{committed:8g}{stretch:8g}  {verdict}"


def report(times: dict[str, float], document: Document, sizes: Sequence[tuple[str, float, float, float]]) -> str:
    """Set the table."""
    items = [item for page in document.pages for item in page.items]
    texts, pictures = (sum(isinstance(item, kind) for item in items) for kind in (Text, Keyboard))
    lines = [
        f"{SONG.name}: {len(document.pages)} pages, {len(items)} items, {texts} texts, {pictures} keyboards",
        "",
        f"{'':52}{'ratio':>8}{'goal':>8}{'stretch':>8}",
    ]
    lines += [row(g.what, times[g.top] / times[g.bottom], g.committed, g.stretch) for g in GOALS]
    lines += [row(*size) for size in sizes]
    lines += ["", "medians in milliseconds: " + ", ".join(f"{name} {value:.1f}" for name, value in times.items())]
    return "\n".join(lines)


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        warm_times, document = warm()
        times = warm_times | cold(folder)
        sizes = [
            ("peak memory of one song, MiB", peak_memory(folder), 40, 30),
            ("size of the PDF, KB", (folder / "part.pdf").stat().st_size / 1000, 90, 50),
        ]
        print(report(times, document, sizes))


if __name__ == "__main__":
    main()
