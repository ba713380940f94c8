"""The attack on the whole program: inputs of all kinds, each run and judged; what fails is kept, to be repeated.

python -m tests.fuzz attack [HOW MANY] [SEED] [--from NUMBER] [--keep FOLDER] [--kind KIND]
python -m tests.fuzz attack --one KIND NUMBER [SEED]
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import io
import os
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from arranger.cli import main as arranger
from arranger.pdf.fonts import load
from arranger.resources import FONT_FILES
from tests.attack import kinds, orders, surroundings
from tests.attack.case import Case, Verdict, judged, lay_out
from tests.attack.run import CPU, MEMORY, ROOT

# Each kind with its share of a hundred inputs: in proportion to how much there is to be got wrong, and to its time.
KINDS: dict[str, tuple[Callable[[random.Random], Case], int]] = {
    "part": (kinds.part, 11),
    "stage": (kinds.stage, 4),
    "study": (kinds.study, 2),
    "tidy": (kinds.tidy, 9),
    "fix": (kinds.fix, 8),
    "show": (kinds.show, 7),
    "sheet": (kinds.sheet, 10),
    "score": (orders.score, 3),
    "evening": (orders.evening, 3),
    "settings": (kinds.settings, 14),
    "font": (surroundings.font, 7),
    "log": (surroundings.log, 4),
    "database": (surroundings.database, 2),
    "environment": (surroundings.environment, 5),
    "command line": (surroundings.command_line, 10),
    "process": (surroundings.process, 1),
}
ORDER = [kind for kind, (_, share) in KINDS.items() for _ in range(share)]
random.Random(1).shuffle(ORDER)
TOLD_EVERY = 5000  # inputs
IN_MEMORY = (
    "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
)  # folders are made and removed in a tenth of the time


@dataclass(slots=True)
class Tally:
    """What came of the inputs of one kind."""

    inputs: int = 0
    faults: int = 0
    escapes: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    memory: int = 0
    statuses: Counter[int] = field(default_factory=Counter)

    def add(self, verdict: Verdict) -> None:
        self.inputs += 1
        self.faults += bool(verdict.faults)
        self.escapes += bool(verdict.escapes)
        self.seconds += verdict.ended.seconds
        self.slowest = max(self.slowest, verdict.ended.seconds)
        self.memory = max(self.memory, verdict.ended.memory)
        self.statuses[verdict.ended.status] += 1


def made(kind: str, number: int, seed: int) -> Case:
    """Return one input; the same kind, number and seed make the same one."""
    return KINDS[kind][0](random.Random(f"{seed} {kind} {number}"))


def warm_up() -> None:
    """Load all that commands load, so that each run is forked with it; all faces, whatever a song has letters of."""
    for face in FONT_FILES:
        load(face)
    with (
        tempfile.TemporaryDirectory() as folder,
        contextlib.redirect_stdout(io.StringIO()),
        contextlib.redirect_stderr(io.StringIO()),
    ):
        song = Path(folder, "a.song.txt")
        shutil.copy(ROOT / "samples" / "lanterns.song.txt", song)
        for words in (
            ("part",),
            ("part", "--hands", "staff"),
            ("stage",),
            ("study",),
            ("tidy",),
            ("check", "--fix"),
            ("show", "--why"),
        ):
            arranger([words[0], str(song), *words[1:]])
        evening = Path(folder, "a.set.txt")
        evening.write_text("set A\nsong a.song.txt\nkey E\nthen talk 30 s\nsong a.song.txt\n", encoding="utf-8")
        arranger(["evening", str(evening)])
        arranger(["evening", str(evening), "--stage"])
        ending, data = orders.scores()[0]
        score = Path(folder, f"c{ending}")
        score.write_bytes(data)
        arranger(["convert", str(score)])
        sheet = Path(folder, "b.txt")
        sheet.write_text("Verse:\nD    G\nsand and\n", encoding="utf-8")
        arranger(["convert", str(sheet)])
        arranger(["player", "--player", str(sheet)])
    surroundings.library()
    surroundings.fonts()
    for command in ("part", "stage"):
        surroundings.plain_pdf(command)
    kinds.songs(), kinds.sheets()
    gc.collect()
    gc.freeze()


def attack(
    numbers: range, seed: int, keep: Path, only: str | None = None
) -> tuple[dict[str, Tally], dict[str, list[str]]]:
    """Run inputs; return a tally of each kind, and the failures by what tells them apart."""
    tallies = {kind: Tally() for kind in KINDS}
    failures: dict[str, list[str]] = {}
    with tempfile.TemporaryDirectory(prefix="attack-", dir=IN_MEMORY) as place:
        root = Path(place, "root")
        for number in numbers:
            kind = only or ORDER[number % len(ORDER)]
            case = made(kind, number, seed)
            root.mkdir()
            verdict = judged(case, root)
            shutil.rmtree(root)
            tallies[kind].add(verdict)
            if verdict.signature:
                found = failures.setdefault(f"{kind}: {verdict.signature}", [])
                found.append(
                    kept(case, verdict, keep / f"{kind.replace(' ', '-')}-{number}", kind, number, seed, len(found))
                )
            if (number + 1) % TOLD_EVERY == 0:
                print(report(tallies, failures), flush=True)
    return tallies, failures


def kept(case: Case, verdict: Verdict, folder: Path, kind: str, number: int, seed: int, alike: int) -> str:
    """Write a failing input out, the first few of each sort; return the command that repeats it."""
    command = f'python -m tests.fuzz attack --one "{kind}" {number} {seed}'
    if alike < 3:
        shutil.rmtree(folder, ignore_errors=True)
        (folder / "root").mkdir(parents=True)
        lay_out(case, folder / "root")
        lines = [
            command,
            f"words: {list(case.words)!r}",
            f"{case.setting}",
            *verdict.faults,
            *verdict.escapes,
            "",
            verdict.ended.err,
        ]
        (folder / "fault.txt").write_bytes("\n".join(lines).encode("utf-8", "backslashreplace"))
    return command


def report(tallies: dict[str, Tally], failures: dict[str, list[str]]) -> str:
    """Return the figures as text."""
    head = f"{'kind':14}{'inputs':>8}{'faults':>8}{'escapes':>9}{'slowest':>10}{'memory':>10}{'CPU':>9}  statuses"
    lines = [head]
    for kind, tally in tallies.items():
        if tally.inputs:
            statuses = " ".join(f"{status}:{count}" for status, count in sorted(tally.statuses.items()))
            lines.append(
                f"{kind:14}{tally.inputs:8,}{tally.faults:8,}{tally.escapes:9,}{tally.slowest:8.2f} s"
                f"{tally.memory / (1 << 20):6.0f} MiB{tally.seconds:7.0f} s  {statuses}"
            )
    total = sum(t.inputs for t in tallies.values())
    faults, escapes = (sum(getattr(t, name) for t in tallies.values()) for name in ("faults", "escapes"))
    lines.append(
        f"{total:,} inputs: {faults:,} faults, {escapes:,} escapes; limits: {CPU} s of CPU, {MEMORY >> 20} MiB a run"
    )
    for signature, commands in sorted(failures.items(), key=lambda item: -len(item[1])):
        lines += [f"{len(commands)} × {signature}", f"    {commands[0]}"]
    return "\n".join(lines)


def main(words: list[str]) -> int:
    """Run the attack and print the figures; the status is 1 where anything failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz attack")
    parser.add_argument("count", nargs="?", type=int, default=100_000)
    parser.add_argument("seed", nargs="?", type=int, default=1)
    parser.add_argument("--from", dest="start", type=int, default=0)
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "arranger-attack")
    parser.add_argument("--kind", choices=KINDS)
    parser.add_argument("--one", nargs="+", metavar=("KIND", "NUMBER"))
    options = parser.parse_args(words)
    begun = time.monotonic()
    warm_up()
    if options.one:
        kind, number, seed = options.one[0], int(options.one[1]), int((*options.one, "1")[2])
        case = made(kind, number, seed)
        print("words:", list(case.words), case.setting)
        with tempfile.TemporaryDirectory(prefix="attack-") as place:
            root = Path(place, "root")
            root.mkdir()
            verdict = judged(case, root)
        print(ascii(verdict.ended), *verdict.faults, *verdict.escapes, verdict.signature, sep="\n")
        return 1 if verdict.signature else 0
    tallies, failures = attack(
        range(options.start, options.start + options.count), options.seed, options.keep, options.kind
    )
    print(report(tallies, failures))
    print(f"{time.monotonic() - begun:.0f} s on the clock, {sum(os.times()[:4]):.0f} s of CPU")
    if failures:
        print(f"inputs that fail are in {options.keep}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
