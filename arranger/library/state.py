"""What a folder of PDFs has been made of, kept in a file there. Takes records; gives them back in the next run.

The file is a log: one line of JSON for each PDF, added *before* the PDF takes its place. So a run may be killed at any
moment: what the log says of a PDF that is not there yet is not believed, and a PDF that is there is known to be the
program's own. A run that ends well writes the log anew, sorted, one line a PDF. A torn last line counts for nothing.
"""

from __future__ import annotations

import errno
import json
import os
import sys
from collections import defaultdict
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import Any, BinaryIO

from arranger.files import reason

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

FOLDER = ".arranger"  # in the folder of the PDFs: the log, the lock, and what is being written
FORMAT = 1  # of the log; to be raised where old programs would misread a new log


class StateError(Exception):
    """The folder cannot be worked on, or no further. Carries a message and a hint."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message, hint)
        self.message, self.hint = message, hint


@dataclass(frozen=True, slots=True)
class Record:
    """One PDF, or a song that has none since it has errors.

    Attributes:
        song: the song's path under the folder of the songs; empty for the index.
        kind: `part`, or another kind of PDF; the name of the file for the index.
        input: the digest of all that it is made of.
        output: its path under the folder of the PDFs, with `/`.
        digest: of the PDF as the program makes it; empty where there is none.
        written: the program has put it there (and not left alone what somebody else had put there).
        pages: how many it has.
        errors, warnings: how many of each the song has.
        path: the song's path when it was made, as it stands in the messages.
        messages: what there is to say about the song, as it is printed.
        entry: what the index says about the song, as JSON.
    """

    song: str
    kind: str
    input: str
    output: str
    digest: str
    written: bool
    pages: int = 0
    errors: int = 0
    warnings: int = 0
    path: str = ""
    messages: tuple[str, ...] = ()
    entry: str = ""


_FIELDS: tuple[type, ...] = (str, str, str, str, str, bool, int, int, int, str, list, str)


class State:
    """The log of a folder of PDFs, open and locked. Use it in a `with` statement.

    Attributes:
        records: the last record of each PDF, by song and kind.
        owned: for each path, the digests of all that the program may have put there.
    """

    def __init__(self, out: Path, songs: Path) -> None:
        """Open the log, or begin one.

        Args:
            out: the folder of the PDFs; it is made where it does not exist.
            songs: the folder of the songs.

        Raises:
            StateError: another run is at work there; the log belongs to other songs, or to a newer program.
            OSError: the log cannot be read or written.
        """
        self.out = out
        self.folder = out / FOLDER
        self.unfinished = self.folder / "unfinished"
        self.records: dict[tuple[str, str], Record] = {}
        self.owned: defaultdict[str, set[str]] = defaultdict(set)
        self.changed = False
        self._path = self.folder / "made.jsonl"
        self._header = json.dumps({"format": FORMAT, "songs": _relative(songs, out)})
        self.folder.mkdir(parents=True, exist_ok=True)
        self._lock: BinaryIO = _lock(self.folder / "lock")
        try:
            self.unfinished.unlink(missing_ok=True)  # of a run that was killed
            self._read(songs)
            self._log = self._path.open("ab", buffering=0)
        except BaseException:
            self._lock.close()
            raise

    def __enter__(self) -> State:
        return self

    def __exit__(self, *_: object) -> None:
        self._log.close()
        with suppress(OSError):
            self.unfinished.unlink(missing_ok=True)
        self._lock.close()

    def _read(self, songs: Path) -> None:
        try:
            first, *lines = self._path.read_bytes().split(b"\n")
        except FileNotFoundError:
            self._write_anew([])
            return
        known = _header(first)
        if known is None:
            message = f"{self._path} is no log of this program, or of a newer one"
            raise StateError(message, "--out names another folder")
        before = self.out / known
        if not _same(before, songs) and before.is_dir():
            message = f"{self.out} holds the parts of the songs in {before.resolve()}"
            raise StateError(message, "--out names another folder for these")
        if self._header.encode() != first:  # the songs have moved
            self.changed = True
        for line in lines:
            self._take(line)
        if lines and lines[-1]:  # torn: what comes next begins a line of its own
            self._rewrite()

    def _take(self, line: bytes) -> None:
        try:
            data = json.loads(line)
        except ValueError:
            return
        if isinstance(data, list) and tuple(map(type, data)) == _FIELDS:
            values: list[Any] = [tuple(map(str, value)) if isinstance(value, list) else value for value in data]
            record = Record(*values)
            self.records[record.song, record.kind] = record
            if record.written:
                self.owned[record.output].add(record.digest)
        elif isinstance(data, dict) and isinstance(data.get("digests"), list):
            self.owned[str(data.get("owned"))].update(map(str, data["digests"]))

    def add(self, record: Record) -> None:
        """Add a record to the log.

        Raises:
            StateError: it cannot be written; the log is as it was.
        """
        line = _line(record)
        size = os.fstat(self._log.fileno()).st_size
        try:
            if self._log.write(line) != len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        except OSError as fault:
            self._log.truncate(size)
            raise self._unwritable(fault) from None
        self.changed = True
        self.records[record.song, record.kind] = record
        if record.written:
            self.owned[record.output].add(record.digest)

    def forget(self, path: str) -> None:
        """Forget a PDF that is gone."""
        self.owned.pop(path, None)
        self.changed = True

    def keep_songs(self, names: set[str]) -> None:
        """Forget the records of songs that are gone; which PDFs the program has made of them is still known."""
        gone = [key for key, record in self.records.items() if record.song and record.song not in names]
        for key in gone:
            del self.records[key]
            self.changed = True

    def _rewrite(self) -> None:
        """Write the log anew, sorted; whole or not at all.

        Raises:
            OSError: it cannot be written; the log is as it was.
        """
        records = [self.records[key] for key in sorted(self.records)]
        lines = [_line(record) for record in records]
        current = {(record.output, record.digest) for record in records if record.written}
        for path, digests in sorted(self.owned.items()):
            others = sorted(digest for digest in digests if (path, digest) not in current)
            if others:
                lines.append(json.dumps({"owned": path, "digests": others}).encode() + b"\n")
        self._write_anew(lines)
        self.changed = False

    def end(self) -> None:
        """Write the log anew if it has changed. Nothing can be added after this.

        Raises:
            StateError: it cannot be written; the log is as it was.
        """
        try:
            self._log.close()  # some systems replace no open file
            if self.changed:
                self._rewrite()
        except OSError as fault:
            raise self._unwritable(fault) from None

    def _unwritable(self, fault: OSError) -> StateError:
        return StateError(f"{self._path} cannot be written: {reason(fault)}")

    def _write_anew(self, lines: Iterable[bytes]) -> None:
        with self.unfinished.open("wb") as file:
            file.write(self._header.encode() + b"\n")
            file.writelines(lines)
            file.flush()
            os.fsync(file.fileno())
        self.unfinished.replace(self._path)


def _line(record: Record) -> bytes:
    return json.dumps(astuple(record), separators=(",", ":")).encode() + b"\n"


def _header(line: bytes) -> str | None:
    """Give the folder of the songs that a log names; None where it is no log that this program can read."""
    try:
        data = json.loads(line)
    except ValueError:
        return None
    known = isinstance(data, dict) and data.get("format") == FORMAT and isinstance(data.get("songs"), str)
    return str(data["songs"]) if known else None


def _relative(songs: Path, out: Path) -> str:
    """Give the folder of the songs as seen from that of the PDFs, so that both can move together."""
    try:
        return Path(os.path.relpath(songs.resolve(), out.resolve())).as_posix()
    except ValueError:  # on two drives
        return songs.resolve().as_posix()


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False


def _lock(path: Path) -> BinaryIO:
    """Take the lock of a folder. The system frees it when the process ends, however it ends.

    The lock is of the kind that is the process's own: workers do not inherit it.
    """
    file = path.open("ab")
    try:
        if sys.platform == "win32":
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as fault:
        file.close()
        if not isinstance(fault, PermissionError | BlockingIOError):
            raise  # a disk that knows no locks
        message = f"another run is at work in {path.parent.parent}"
        raise StateError(message, "let it end, or stop it; this one then makes what is left") from None
    return file
