"""One run of the program on one input, kept from doing harm, and what is to be said of it afterwards.

Each run is a process of its own, forked from one that has loaded everything: so it begins within milliseconds, its time
and memory can be told apart from those of others, and nothing that it leaves in memory meets the next input. It runs in
a folder of its own that holds the input, the player's other files, a home and a place for results. The folder is
compared with itself as it was before; what would be written elsewhere is told by Python itself (`sys.addaudithook`),
and refused.
"""

from __future__ import annotations

import errno
import json
import os
import pwd
import re
import resource
import selectors
import shutil
import signal
import stat
import sys
import time
import traceback
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from functools import partial
from pathlib import Path
from typing import Any

from arranger.cli import TRACEBACK, main

CPU = 10  # seconds of one run at most
MEMORY = 1 << 30  # bytes of address space of one run at most
PATIENCE = 12  # seconds of waiting for a run that uses no time of the processor; others are ended by its limit
IDLE = 0.1  # seconds of CPU in that time: less is waiting, even on a machine that is busy
FILE = 64 << 20  # bytes of one written file at most, unless a case wants less
SAID_AT_MOST = 4 << 20  # bytes of output that are kept
STATUSES = frozenset((0, 1, 2))  # what the documents promise, but for signals and closed pipes
ROOT = Path(__file__).parents[2]

# What a fault of the program says of itself, in whatever words are around it.
OWNED = re.compile(r"fault of the program|please report it|Traceback \(most recent", re.IGNORECASE)
ERROR = re.compile(r"(?m)^[^\n]*: error(?: [a-z0-9-]+)?: ")
TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")  # they turn the direction of writing

LINK, PIPE = "link", "pipe"
Entry = bytes | tuple[str, str] | None  # a file, a link or a pipe, a folder
Tree = dict[str, tuple[str, bytes]]


@dataclass(frozen=True, slots=True)
class Setting:
    """What surrounds a run.

    Attributes:
        env: set in the environment, which has nothing else but a home and a path; None takes a name away.
        out, err: where what is said goes: `pipe`, `closed`, `gone` (a pipe that nobody reads), `full` (a full disk).
        encoding: of both.
        umask: of new files.
        room: bytes of one written file at most, as on a disk that is nearly full.
        homeless: the system knows no home folder of the user.
        whole: a process that begins from nothing, as typed; else one that has loaded everything.
    """

    env: tuple[tuple[str, str | None], ...] = ()
    out: str = "pipe"
    err: str = "pipe"
    encoding: str = "utf-8"
    umask: int = 0o022
    room: int = FILE
    homeless: bool = False
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Ended:
    """How a run ended: status (negative: by a signal), what was said, seconds of CPU, bytes of memory."""

    status: int
    out: str
    err: str
    seconds: float
    memory: int
    written: tuple[str, ...] = ()
    raised: str = ""
    late: bool = False


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
    setting: Setting = Setting()
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
    lay_out(case, root)
    if case.earlier:
        run(case.earlier, root, replace(case.setting, out="pipe", err="pipe", room=FILE))
        if case.spoil is not None:
            case.spoil(root)
    before = tree(root)
    ended = run(case.words, root, case.setting)
    verdict = Verdict(ended)
    verdict.faults += _faults(case, ended)
    verdict.escapes += _escapes(case, before, tree(root), ended)
    if not verdict.faults:
        try:
            verdict.faults += [f"untrue: {what}" for what in case.after(root, ended)]
        except Exception as fault:  # what the program made cannot even be looked at
            verdict.faults.append(f"untrue: {type(fault).__name__}: {fault}: {_frames(fault.__traceback__)}")
    if verdict.faults or verdict.escapes:
        verdict.signature = _signature(case, root, verdict)
    return verdict


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
        lay_out(case, root)
        if case.earlier:
            run(case.earlier, root, replace(case.setting, out="pipe", err="pipe", room=FILE))
            if case.spoil is not None:
                case.spoil(root)
        again = run(case.words, root, replace(case.setting, env=(*case.setting.env, (TRACEBACK, "1"))))
        first = again.raised or first
    return re.sub(r"0x[0-9a-f]+|/tmp/[^\s:'\"]*|\b\d{3,}\b", "~", first)[:600]


# A run.


def run(words: tuple[str, ...], root: Path, setting: Setting) -> Ended:
    """Run a command line in a process of its own, within limits."""
    pipes = [os.pipe() for _ in range(3)]
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if not child:
        for reader, _ in pipes:
            os.close(reader)
        _run_here(words, root, setting, *(writer for _, writer in pipes))
    for _, writer in pipes:
        os.close(writer)
    said, late = _listen([reader for reader, _ in pipes], child)
    _, status, usage = os.wait4(child, 0)
    told: dict[str, Any] = json.loads(said[2] or "{}")
    # A byte that is no UTF-8 is told, unless the surroundings ask for such.
    odd = setting.encoding != "utf-8" or any(name.startswith(("PYTHON", "LC_")) for name, _ in setting.env)
    errors = "replace" if odd else "surrogateescape"
    return Ended(
        told.get("status", os.waitstatus_to_exitcode(status)),
        said[0].decode("utf-8", errors),
        said[1].decode("utf-8", errors),
        usage.ru_utime + usage.ru_stime,
        usage.ru_maxrss * 1024,
        tuple(told.get("written", ())),
        told.get("raised", ""),
        late,
    )


def _listen(readers: list[int], child: int) -> tuple[list[bytes], bool]:
    """Read what is said until the end; end a process that waits for too long."""
    said = [bytearray() for _ in readers]
    late, used = False, -1.0
    until = time.monotonic() + PATIENCE
    with selectors.DefaultSelector() as selector:
        for number, reader in enumerate(readers):
            selector.register(reader, selectors.EVENT_READ, number)
        while selector.get_map():
            ready = selector.select(max(0.0, until - time.monotonic()))
            if not ready:
                if late:
                    break
                before, used = used, _used(child)
                late, until = used - before < IDLE, time.monotonic() + PATIENCE
                if late:
                    os.kill(child, signal.SIGKILL)
            for key, _ in ready:
                data = os.read(key.fd, 1 << 16)
                if not data:
                    selector.unregister(key.fd)
                elif len(said[key.data]) < SAID_AT_MOST:
                    said[key.data] += data
    for reader in readers:
        os.close(reader)
    return [bytes(part) for part in said], late


def _used(process: int) -> float:
    """Return the seconds of CPU that a process has used."""
    times = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[11:13]
    return sum(map(int, times)) / os.sysconf("SC_CLK_TCK")


def _run_here(words: tuple[str, ...], root: Path, setting: Setting, out: int, err: int, report: int) -> None:
    """Run a command line in this process, which is forked for it, and end it."""
    told: dict[str, Any] = {}
    try:
        _surround(root, setting, out, err)
        for kind, limit in (
            (resource.RLIMIT_CPU, CPU + 1),
            (resource.RLIMIT_AS, MEMORY),
            (resource.RLIMIT_CORE, 0),
            (resource.RLIMIT_FSIZE, setting.room),
        ):
            resource.setrlimit(kind, (limit, limit))
        if setting.whole:
            os.set_inheritable(report, False)
            os.execve(sys.executable, [sys.executable, "-m", "arranger", *words], os.environ)
        told["written"] = _watched(root)
        pwd.getpwuid = _nobody if setting.homeless else partial(_somebody, str(root / "home"))
        told["status"] = main(list(words))
        _flush(told)
    except BaseException as fault:
        told["raised"] = f"{type(fault).__name__}: {str(fault)[:200]}: {_frames(fault.__traceback__)}"
    finally:
        told["written"] = list(told.get("written", ()))
        data = json.dumps(told).encode()
        while data:
            data = data[os.write(report, data) :]
        os._exit(0)


def _surround(root: Path, setting: Setting, out: int, err: int) -> None:
    """Set up folder, environment and streams as the system would for a new process."""
    os.chdir(root)
    os.umask(setting.umask)
    wanted: dict[str, str | None] = {
        "PATH": os.environ.get("PATH", os.defpath),
        "HOME": str(root / "home"),
        "PYTHONPATH": str(ROOT),
        "PYTHONUTF8": "1",
        **dict(setting.env),
    }
    os.environ.clear()
    os.environ.update({name: value for name, value in wanted.items() if value is not None})
    for number, pipe, how in ((1, out, setting.out), (2, err, setting.err)):
        if how == "gone":
            reader, writer = os.pipe()
            os.close(reader)
            os.dup2(writer, number)
        elif how == "full":
            os.dup2(os.open("/dev/full", os.O_WRONLY), number)
        else:
            os.dup2(pipe, number)
        name = "stdout" if number == 1 else "stderr"
        stream = None
        if how == "closed":
            os.close(number)
        elif not setting.whole:
            stream = open(number, "w", encoding=setting.encoding, errors="strict", closefd=False)  # noqa: SIM115
        setattr(sys, name, stream)
    os.close(out)
    os.close(err)


def _nobody(_: int) -> Any:
    raise KeyError("getpwuid(): uid not found")


def _somebody(home: str, number: int) -> Any:
    return pwd.struct_passwd(("player", "x", number, number, "", home, "/bin/sh"))


def _flush(told: dict[str, Any]) -> None:
    """Write what is left in the streams' buffers, as Python does at its end; it tells a failure by status 120."""
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is not None:
                stream.flush()
        except OSError:
            told["status"] = 120


_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_PATHS = {  # events of changes to files, and how many of their first arguments are paths
    "os.rename": 2, "os.remove": 1, "os.rmdir": 1, "os.mkdir": 1, "os.link": 2, "os.symlink": 2, "os.chmod": 1,
    "os.truncate": 1, "os.chown": 1, "os.utime": 1, "sqlite3.connect": 1,
}  # fmt: skip
_OTHERS = ("socket.connect", "subprocess.Popen", "os.exec", "os.posix_spawn", "os.system")


def _watched(root: Path) -> list[str]:
    """Begin to refuse, and to take down, what this process writes outside of a folder, and what it starts."""
    inside = os.path.realpath(root) + os.sep
    found: list[str] = []

    def look(event: str, arguments: tuple[Any, ...]) -> None:
        if event == "open":
            paths = arguments[:1] if arguments[2] & _WRITES else ()
        elif event in _PATHS:
            paths = arguments[: _PATHS[event]]
        elif event in _OTHERS:
            found.append(f"{event} {arguments!r}"[:200])
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        else:
            return
        for path in paths:
            if isinstance(path, str | bytes | os.PathLike):
                real = os.path.realpath(os.fsdecode(path))
                if (
                    not (real + os.sep).startswith(inside)
                    and not real.startswith("/dev/null")
                    and ":memory:" not in real
                ):
                    found.append(f"{event} {real}"[:200])
                    raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), path)

    sys.addaudithook(look)
    return found


def _frames(trace: Any) -> str:
    """Return the last frames of a traceback."""
    frames = traceback.extract_tb(trace)[-4:]
    return " < ".join(f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in reversed(frames))
