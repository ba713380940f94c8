"""What the tests of libraries share: small songs, a run from end to end, what it says, what it leaves."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor
from contextlib import closing
from pathlib import Path

import pytest

from arranger.library import plan as plan_module
from arranger.library.ledger import FOLDER, STORE, Ledger
from arranger.library.make import Outcome, Summary
from arranger.library.plan import Library, plan, program
from arranger.library.run import run
from arranger.library.scan import PART
from arranger.library.workers import InProcess
from arranger.pipeline import Wishes

SMALL = "song {}\nkey C\nsection Verse\n| C F | G7 | C |\nsing | la * la | lo | la |\n"
WISHES = Wishes(figures=False)


class Heard:
    """A listener that keeps what it hears."""

    def __init__(self) -> None:
        self.outcomes: list[Outcome] = []
        self.steps: list[tuple[int, int]] = []

    def progress(self, done: int, total: int) -> None:
        self.steps.append((done, total))

    def tell(self, outcome: Outcome) -> None:
        self.outcomes.append(outcome)


def put(folder: Path, count: int, text: str = SMALL) -> None:
    """Write some small songs, no two the same."""
    for number in range(count):
        path = folder / f"{number % 3}" / f"s{number:02}.song.txt"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text.format(number), encoding="utf-8")


def go(
    songs: Path,
    out: Path,
    executor: Executor | None = None,
    kinds: Iterable[str] = (PART,),
    heard: Heard | None = None,
    **options: object,
) -> tuple[Summary, Heard]:
    """Run through a library."""
    heard = heard or Heard()
    with Ledger(out, songs, kinds) as ledger:
        library = Library(songs, out, WISHES, tuple(sorted(ledger.kinds)))
        return run(library, ledger, plan(library, ledger), executor or InProcess(), heard, **options), heard


def counts(summary: Summary) -> tuple[int, ...]:
    """Return how many songs were made, are unchanged, have errors, were passed over."""
    return tuple(summary.counts[what] for what in ("made", "unchanged", "errors", "missed"))


def files_in(out: Path) -> dict[str, bytes]:
    """Give the PDFs and the index."""
    return {name: data for name, data in left_in(out).items() if not name.startswith(FOLDER)}


def left_in(out: Path) -> dict[str, bytes]:
    """Give all that is in the folder of the PDFs, but for the lock; of the store what it says."""
    files = (path for path in out.rglob("*") if path.is_file() and path != out / FOLDER / "lock")
    left = {path.relative_to(out).as_posix(): path.read_bytes() for path in files}
    if (out / FOLDER / STORE).is_file():
        left[f"{FOLDER}/{STORE}"] = b"\n".join(line for _, line in lines_in(out))
    return left


def lines_in(out: Path) -> list[tuple[str, bytes]]:
    """Give the lines of a store, by their names."""
    with closing(sqlite3.connect(out / FOLDER / STORE)) as store:
        return store.execute("SELECT name, line FROM lines ORDER BY name").fetchall()


def put_lines(out: Path, lines: Iterable[tuple[str, bytes]]) -> None:
    """Put lines into a store, in the place of those that it has."""
    with closing(sqlite3.connect(out / FOLDER / STORE)) as store, store:
        store.execute("DELETE FROM lines")
        store.executemany("INSERT INTO lines VALUES (?, ?)", lines)


@pytest.fixture(autouse=True)
def nobody_at_work_on_the_program() -> Iterator[None]:
    """Let the program be the same in all runs of a test, even if somebody is just changing it."""
    before = program()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan_module, "program", lambda: before)
        yield
