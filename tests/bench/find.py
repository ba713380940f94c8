"""How fast songs are looked up, as ratios measured in one run: `python -m tests.bench.find [SONGS]`.

SONGS (10,000 unless said) are made of the samples, in other keys and with other words. P is a whole `python -c pass`,
`walk` looks at the names, sizes and times of all the songs and does nothing else, `read` parses songs one after the
other. Medians over rounds in which everything is measured once after the other; processes are whole, with their start.
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

from arranger.library import find as finding
from arranger.library.catalogue import SongFacts, terms_of
from arranger.library.find import Wanted, find, songs_path
from arranger.library.listing import index_files
from arranger.library.scan import scan
from arranger.song.read import decode, read
from arranger.units import A4
from tests.library.many import write

ROUNDS = 9
SAMPLE = 300  # songs that are parsed to know what parsing costs
MOST_WARM = 0.2  # seconds: a whole process that finds one among 10,000 songs, nothing changed
QUESTIONS = {
    "a word": ["harbour"],
    "a beginning that most songs have": ["th"],
    "three words": ["turn", "tide", "out"],
    "words in quotes": ["turn of the tide"],
    "nothing": ["xyzzy"],
}


def seconds(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def process(words: Sequence[str], home: Path) -> Callable[[], object]:
    """Give a call of a whole process; it may keep compiled files, as an installed program does."""
    environment = {**os.environ, "XDG_CACHE_HOME": str(home), "LOCALAPPDATA": str(home), "HOME": str(home)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    return lambda: subprocess.run([sys.executable, *words], env=environment, capture_output=True, check=False)


def warm(folder: Path, home: Path) -> dict[str, float]:
    """Measure whole processes, and what they do beside starting, with nothing changed."""
    acts: dict[str, Callable[[], object]] = {
        "P": process(["-c", "pass"], home),
        "find": process(["-m", "arranger", "find", "harbour", "--in", str(folder)], home),
        "walk": lambda: scan(folder),
    }
    for name, words in QUESTIONS.items():
        acts[name] = lambda words=words: find(str(folder), Wanted(terms_of(words)), 40)  # type: ignore[misc]
    times: dict[str, list[float]] = {name: [] for name in acts}
    for act in acts.values():
        act()
    for _ in range(ROUNDS):
        for name, act in acts.items():
            times[name].append(seconds(act))
    return {name: median(found) for name, found in times.items()}


def parsing(folder: Path) -> float:
    """Give the time in which one process parses a song, nothing else done to it."""
    songs = [Path(found.path).read_bytes() for found in scan(folder)[0][:: max(1, len(scan(folder)[0]) // SAMPLE)]]
    return seconds(lambda: [read(decode("x", data)[0]) for data in songs]) / len(songs)


def index(folder: Path) -> float:
    """Give the time in which the index of a library is made of its songs' facts."""
    entries = [
        SongFacts(*match[1:8], file=match.name, output=match.name)
        for match in find(str(folder), Wanted(tempo=(0, 999))).matches
    ]
    return seconds(lambda: index_files(entries, A4, "x")) / len(entries)


def main() -> None:
    """Measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        home = Path(name) / "home"
        finding.cache_folder = lambda: home / "keys-arranger"  # where the processes have it too
        folders = {size: Path(name) / str(size) for size in (count // 10, count)}
        cold = {}
        for size, folder in folders.items():
            list(write(folder, size))
            cold[size] = seconds(lambda folder=folder: find(str(folder), Wanted(terms_of(["x"]))))  # type: ignore[misc]
        large = folders[count]
        one = parsing(large)
        small, times = warm(folders[count // 10], home), warm(large, home)
        size = songs_path(large).stat().st_size
        few = count // 10
        print(f"{count:,} songs, nothing changed, a whole process: {times['find']:.3f} s (goal {MOST_WARM} for 10,000)")
        print(f"  find / P                                 {times['find'] / times['P']:6.1f}")
        print(f"  {f'find / the same among {few:,} songs':40} {times['find'] / small['find']:6.2f}")
        for question in QUESTIONS:
            print(f"  {question + ' / walk':40} {times[question] / times['walk']:6.2f}")
        print(f"everything read, {os.cpu_count()} cores: {cold[count]:.1f} s")
        print(f"  a song / parsing it in one process       {cold[count] / count / one:6.2f}")
        print(f"  {f'a song / one of {few:,} songs':40} {cold[count] / count / (cold[few] / few):6.2f}")
        print(f"the index, a song / parsing it              {index(large) / one:6.2f}")
        print(f"the database: {size / count / 1000:.1f} KB a song")


if __name__ == "__main__":
    main()
