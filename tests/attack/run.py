"""One run of the program: forked from a process that has loaded everything, within limits, and listened to.

So it begins within milliseconds, its time and memory can be told apart from those of others, and nothing that it leaves
in memory meets the next input. What it would write outside of its folder is told by Python itself (`sys.addaudithook`),
and refused.
"""

from __future__ import annotations

import errno
import json
import os
import pwd
import resource
import selectors
import signal
import sys
import time
import traceback
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from arranger.cli import main

CPU = 10  # seconds of one run at most
MEMORY = 1 << 30  # bytes of address space of one run at most
PATIENCE = 12  # seconds of waiting for a run that uses no time of the processor; others are ended by its limit
IDLE = 0.1  # seconds of CPU in that time: less is waiting, even on a machine that is busy
FILE = 64 << 20  # bytes of one written file at most, unless a case wants less
SAID_AT_MOST = 4 << 20  # bytes of output that are kept
ROOT = Path(__file__).parents[2]


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
        told["raised"] = f"{type(fault).__name__}: {str(fault)[:200]}: {frames(fault.__traceback__)}"
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


def frames(trace: Any) -> str:
    """Return the last frames of a traceback."""
    frames = traceback.extract_tb(trace)[-4:]
    return " < ".join(f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in reversed(frames))
