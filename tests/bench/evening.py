"""How fast a book is made, beside its parts, and what memory it takes: `python -m tests.bench.evening [SONGS] [MOST]`.

SONGS (30 unless said) are songs of tests/bench/songbook.py, all of them other music. Whole processes make them into
parts and into a book in turns, ROUNDS times each; the least processor time of each counts. Then books of more and more
songs, up to MOST (120 unless said), each by a process of its own whose greatest memory is read.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from tests.bench.songbook import songbook

ROUNDS = 3
GOAL = 1.2  # the time of a book over that of its parts
WAYS = ("attacca", "pad", "talk 30 s", "stop")


class Ran(NamedTuple):
    """What a process took: seconds of the processor, its greatest memory in MiB."""

    cpu: float
    memory: float


def measured(*words: str) -> Ran:
    """Run the program and return what it took; a process between keeps the figures of each run apart."""
    script = (
        "import resource, subprocess, sys;"
        "done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL);"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN);"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024); sys.exit(done.returncode)"
    )
    command = [sys.executable, "-c", script, sys.executable, "-m", "arranger", *words]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    return Ran(float(said[0]), float(said[1]))


def write(folder: Path, count: int) -> list[str]:
    """Write songs, and a running order of all of them; return the songs' paths."""
    names = []
    lines = ["set Bench", "date 30 November"]
    for number, song in enumerate(songbook(count)):
        name = f"{number:03}.song.txt"
        (folder / name).write_text(song.text, encoding="utf-8")
        names.append(str(folder / name))
        lines += [f"song {name}", f"then {WAYS[number % len(WAYS)]}"]
    (folder / f"{count}.set.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return names


def time_ratios(count: int) -> None:
    """Print how long a book takes beside its parts and stage copies."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        songs = write(folder, count)
        order = str(folder / f"{count}.set.txt")
        for kind, alone in (("", "part"), ("--stage", "stage")):
            words = [kind] if kind else []
            apart, book = [], []
            for _ in range(ROUNDS):
                apart.append(measured(alone, *songs, "-o", f"{folder}/{alone}/", "--force").cpu)
                book.append(measured("evening", order, *words, "-o", f"{folder}/book.pdf", "--force").cpu)
            one, two = min(apart), min(book)
            print(
                f"{alone}: {count} songs apart {one:.2f} s, as a book {two:.2f} s, ratio {two / one:.2f} (goal {GOAL})"
            )


def memory(most: int) -> None:
    """Print the greatest memory of processes that make books of more and more songs."""
    counts = sorted({max(1, most // 12), most // 4, most // 2, most})
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found = []
        for count in counts:
            write(folder, count)
            found.append(measured("evening", str(folder / f"{count}.set.txt"), "-o", f"{folder}/{count}.pdf").memory)
            size = (folder / f"{count}.pdf").stat().st_size / 2**20
            print(f"memory: {count} songs {found[-1]:.1f} MiB, the PDF {size:.2f} MiB")
        more = (found[-1] - found[0]) / (counts[-1] - counts[0])
        print(f"memory: {1024 * more:.0f} KiB for each song more, {found[-1] / found[0]:.2f} of the smallest book's")


def main() -> None:
    """Measure what the words of the command line ask for."""
    words = sys.argv[1:]
    time_ratios(int(words[0]) if words else 30)
    memory(int(words[1]) if len(words) > 1 else 120)


if __name__ == "__main__":
    main()
