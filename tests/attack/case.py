"""One input, and what is to be said of a run with it: the folder is compared with itself as it was before.

The folder is the input's own. It holds the input, other files of the player's, a home and a place for results.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import stat
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from pathlib import Path

from arranger.cli import TRACEBACK
from tests.attack.run import CPU, FILE, MEMORY, PATIENCE, Ended, Setting, frames, run

STATUSES = frozenset((0, 1, 2))  # what the documents promise, but for signals and closed pipes

# What a fault of the program says of itself, in whatever words are around it.
OWNED = re.compile(r"fault of the program|please report it|Traceback \(most recent", re.IGNORECASE)
ERROR = re.compile(r"(?m)^[^\n]*: error(?: [a-z0-9-]+)?: ")
TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")  # they turn the direction of writing

USUAL = Setting()
LINK, PIPE = "link", "pipe"
Entry = bytes | tuple[str, str] | None  # a file, a link or a pipe, a folder
Tree = dict[str, tuple[str, bytes]]
After = Callable[[Path, Ended], Iterable[str]]


@dataclass(frozen=True, slots=True)
class Case:
    """One input.

    Attributes:
        words: the command line.
        files: what stands in the folder, by path.
        makes: patterns of paths that may come into being.
        changes: patterns of those that may be changed or removed.
        setting: what surrounds the run.
        earlier: a command line that is run before, and not judged.
        spoil: called with the folder between the two.
        statuses: that the documents promise.
        after: says what is untrue of a run that ended in one of these.
    """

    words: tuple[str, ...]
    files: dict[str, Entry]
    makes: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    setting: Setting = USUAL
    earlier: tuple[str, ...] = ()
    spoil: Callable[[Path], None] | None = None
    statuses: frozenset[int] = STATUSES
    after: After = lambda _, __: ()


@dataclass(slots=True)
class Verdict:
    """What is wrong with a run: faults, escapes; none where all is well. `signature` tells kinds of faults apart."""

    ended: Ended
    faults: list[str] = field(default_factory=list)
    escapes: list[str] = field(default_factory=list)
    signature: str = ""


def lay_out(case: Case, root: Path) -> None:
    """Put what a case needs into an empty folder."""
    for name, entry in case.files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if entry is None:
            path.mkdir(exist_ok=True)
        elif isinstance(entry, bytes):
            path.write_bytes(entry)
        elif entry[0] == LINK:
            path.symlink_to(entry[1])
        else:
            os.mkfifo(path)


def judged(case: Case, root: Path) -> Verdict:
    """Run a case in an empty folder and judge what came of it."""
    _begin(case, root)
    before = tree(root)
    ended = run(case.words, root, case.setting)
    verdict = Verdict(ended)
    verdict.faults += _faults(case, ended)
    verdict.escapes += _escapes(case, before, tree(root), ended)
    if not verdict.faults:
        try:
            verdict.faults += [f"untrue: {what}" for what in case.after(root, ended)]
        except Exception as fault:  # what the program made cannot even be looked at
            verdict.faults.append(f"untrue: {type(fault).__name__}: {fault}: {frames(fault.__traceback__)}")
    if verdict.faults or verdict.escapes:
        verdict.signature = _signature(case, root, verdict)
    return verdict


def _begin(case: Case, root: Path) -> None:
    lay_out(case, root)
    if case.earlier:
        run(case.earlier, root, replace(case.setting, out="pipe", err="pipe", room=FILE))
    if case.spoil is not None:
        case.spoil(root)


def _faults(case: Case, ended: Ended) -> Iterator[str]:
    said = ended.out + ended.err
    if ended.late:
        yield f"hangs: it waits for more than {PATIENCE} s for nothing"
    elif ended.status == -signal.SIGXCPU or ended.seconds > CPU:
        yield f"slow: more than {CPU} s of CPU"
    elif ended.status < 0:
        yield f"ended by {signal.Signals(-ended.status).name}"
    elif ended.raised:
        yield f"raised: {ended.raised}"
    elif ended.status not in case.statuses:
        yield f"status {ended.status}"
    elif ended.status and not said and case.setting.out == case.setting.err == "pipe":
        yield f"status {ended.status} without a word"
    if ended.memory > MEMORY or "MemoryError" in said:
        yield f"large: more than {MEMORY >> 20} MiB"
    if OWNED.search(said):
        yield "a fault of the program: " + (OWNED.split(ended.err, 1)[-1].strip() or "?")[:300]


def _escapes(case: Case, before: Tree, after: Tree, ended: Ended) -> Iterator[str]:
    for path in sorted({*before, *after}):
        if before.get(path) == after.get(path):
            continue
        if path not in before:
            if not any(fnmatchcase(path, pattern) for pattern in case.makes):
                yield f"made {path!r}"
        elif not any(fnmatchcase(path, pattern) for pattern in case.changes):
            yield f"{'changed' if path in after else 'removed'} {path!r}"
    yield from (f"wrote outside of the folder: {path}" for path in ended.written)
    for stream, text in (("output", ended.out), ("messages", ended.err)):
        found = next((c for c in text if c != "\n" and steers(c)), None)
        if found is not None:
            yield f"U+{ord(found):04X} reached the terminal in the {stream}"


def steers(character: str) -> bool:
    """Return whether a character steers a terminal: a control, a turn of direction, a break of lines."""
    kind = unicodedata.category(character)
    invalid = "\udc80" <= character <= "\udcff"  # a byte that is no UTF-8
    return invalid or character in TURNS or kind in ("Cc", "Cs", "Zl", "Zp")


def tree(root: Path) -> Tree:
    """Return all that is in a folder: by path, its kind with its mode, and what it holds."""
    found: Tree = {}
    for folder, folders, files in os.walk(root):
        for name in (*folders, *files):
            path = Path(folder, name)
            mode = path.lstat().st_mode
            where = os.path.relpath(path, root)
            if stat.S_ISLNK(mode):
                found[where] = "link", os.fsencode(path.readlink())
            elif stat.S_ISREG(mode):
                found[where] = oct(mode), path.read_bytes()
            else:
                found[where] = oct(mode), b""
    return found


def _signature(case: Case, root: Path, verdict: Verdict) -> str:
    """Return what tells this kind of fault from others: where it is raised, or the first thing that is wrong."""
    first = (verdict.faults or verdict.escapes)[0]
    if OWNED.search(verdict.ended.err) and not case.setting.whole:
        shutil.rmtree(root)
        root.mkdir()
        _begin(case, root)
        again = run(case.words, root, replace(case.setting, env=(*case.setting.env, (TRACEBACK, "1"))))
        first = again.raised or first
    return re.sub(r"0x[0-9a-f]+|/(?:tmp|dev/shm)/[^\s:'\"]*|\b\d{3,}\b", "~", first)[:600]
