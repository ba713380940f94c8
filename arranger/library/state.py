"""What a folder of PDFs has been made of, kept in a file there. Takes records; gives them back in the next run.

The file is a log: one line of JSON for each PDF, added *before* the PDF takes its place. So a run may be killed at any
moment: what the log says of a PDF that is not there yet is not believed, and a PDF that is there is known to be the
program's own. A run that ends well writes the log anew, sorted, one line a PDF. A torn last line counts for nothing.

Each line has a digest of itself, and a line whose digest does not fit counts for nothing either: what it told is made
again. Where the first line cannot be read, the log is moved aside, and another one begun. Names in a log are names
under the folder of the PDFs, of PDFs or of the index: no log leads anywhere else.
"""

from __future__ import annotations

import errno
import json
import os
import stat
import sys
from collections import defaultdict
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import astuple, dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Any, BinaryIO

from arranger.files import reason
from arranger.library.catalogue import from_data
from arranger.library.scan import NAMING, STAGE, STAGE_ENDING, is_output
from arranger.made import as_made

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

FOLDER = ".arranger"  # in the folder of the PDFs: the log, the lock, and what is being written
FORMAT = 2  # of the log; to be raised where old programs would misread a new log
UNSEALED = 1  # the format whose lines had no digests: which PDFs are the program's own is all that it is believed
ASIDE = "made-unreadable.jsonl"  # the last log that could not be read
SIZE = 16  # bytes of a digest: among 10**9 songs, the chance that any two are the same is 10**-21
DIGITS = 2 * SIZE  # of a digest


def digest(*parts: bytes) -> str:
    """Return the digest of some bytes; where one part ends and the next begins counts too."""
    total = blake2b(digest_size=SIZE)
    for part in parts:
        if len(parts) > 1:
            total.update(len(part).to_bytes(8, "big"))
        total.update(part)
    return total.hexdigest()


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
_OWNED = {"owned", "digests"}  # the names in a line that tells only what is the program's own


class State:
    """The log of a folder of PDFs, open and locked. Use it in a `with` statement.

    Attributes:
        records: the last record of each PDF, by song and kind.
        owned: for each path, the digests of all that the program may have put there.
        kinds: what is made of each song: what was asked for, now or before.
        damage: what could not be read, as messages.
    """

    def __init__(self, out: Path, songs: Path, kinds: Iterable[str] = ()) -> None:
        """Open the log, or begin one.

        Args:
            out: the folder of the PDFs; it is made where it does not exist.
            songs: the folder of the songs.
            kinds: what is asked for of each song.

        Raises:
            StateError: another run is at work there; the log belongs to other songs, or to a newer program.
            OSError: the log cannot be read or written.
        """
        self.out = out
        self.folder = out / FOLDER
        self.unfinished = self.folder / "unfinished"
        self.records: dict[tuple[str, str], Record] = {}
        self.owned: defaultdict[str, set[str]] = defaultdict(set)
        self.kinds = set(kinds)
        self.damage: list[str] = []
        self.changed = False
        self._path = self.folder / "made.jsonl"
        self._songs = _relative(songs, out)
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
            is_file = stat.S_ISREG(self._path.lstat().st_mode)
        except FileNotFoundError:
            if STAGE not in self.kinds and self._has_stage_copies():
                self.damage.append(f"{self.out} has stage copies that no log knows: --stage keeps them up to date")
            self._rewrite()
            return
        first, *lines = self._path.read_bytes().split(b"\n") if is_file else (b"",)
        header = _header(first)
        if header is None:
            self._begin_anew()
            return
        self._check(header, songs)
        wished = set(self.kinds)
        self.kinds |= set(NAMING) & set(header["kinds"])
        torn = lines.pop() if lines else first
        sealed = header["format"] != UNSEALED
        damaged = sum(not self._take(line, sealed) for line in lines)
        self._take(torn, sealed)  # it may be whole but for its end
        if damaged:
            count = "one line is" if damaged == 1 else f"{damaged} lines are"
            self.damage.append(f"{self._path}: {count} damaged, and left out")
        self.kinds -= {kind for kind in self.kinds - wished if self._was_removed(kind)}
        if damaged or torn or first != self._header():  # also where the songs have moved
            self._rewrite()

    def _check(self, header: dict[str, Any], songs: Path) -> None:
        """Refuse a log of a newer program, or of other songs."""
        if header["format"] > FORMAT:
            raise StateError(f"{self._path} is the log of a newer program", "--out names another folder")
        before = os.path.join(self.out, header["songs"])  # noqa: PTH118 (nothing in it can be a fault)
        if os.path.isdir(before) and not _same(Path(before), songs):  # noqa: PTH112 (the same)
            message = f"{self.out} holds the parts of the songs in {os.path.realpath(before)}"
            raise StateError(message, "--out names another folder for these")

    def _begin_anew(self) -> None:
        """Move a log aside that cannot be read. Stage copies that are there show that they were asked for."""
        aside = self.folder / ASIDE
        self._path.replace(aside)
        told = f"{self._path} cannot be read, and is now {aside.name}: what is there is looked at anew"
        self.damage.append(told)
        if self._has_stage_copies():
            self.kinds.add(STAGE)
        self._rewrite()

    def _has_stage_copies(self) -> bool:
        return any(_is_made(path) for path in self.out.rglob(f"*{STAGE_ENDING}"))

    def _was_removed(self, kind: str) -> bool:
        """Return whether somebody has removed all PDFs of a kind, of all songs: then no more are wanted."""
        made = [record.output for record in self.records.values() if record.kind == kind and record.output]
        return bool(made) and not any((self.out / output).exists() for output in made)

    def _take(self, line: bytes, sealed: bool) -> bool:
        """Take what a line tells, if it can be believed; tell whether it can."""
        data = _loaded(opened_line(line) if sealed else line)
        if isinstance(data, list) and tuple(map(type, data)) == _FIELDS:
            values: list[Any] = [tuple(value) if isinstance(value, list) else value for value in data]
            record = Record(*values)
            if not _is_possible(record):
                return False
            if sealed:
                self.records[record.song, record.kind] = record
            elif record.kind in NAMING and (self.out / record.output).is_file():
                self.kinds.add(record.kind)  # older logs do not name the kinds
            if record.written:
                self.owned[record.output].add(record.digest)
            return True
        if not isinstance(data, dict) or set(data) != _OWNED or not isinstance(data["digests"], list):
            return False
        path, digests = data["owned"], data["digests"]
        if not is_output(path) or not all(map(_is_digest, digests)):
            return False
        self.owned[path].update(digests)
        return True

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
                lines.append(sealed_line({"owned": path, "digests": others}))
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

    def _header(self) -> bytes:
        return sealed_line({"format": FORMAT, "songs": self._songs, "kinds": sorted(self.kinds)})[:-1]

    def _write_anew(self, lines: Iterable[bytes]) -> None:
        with self.unfinished.open("wb") as file:
            file.write(self._header() + b"\n")
            file.writelines(lines)
            file.flush()
            os.fsync(file.fileno())
        self.unfinished.replace(self._path)


def _line(record: Record) -> bytes:
    return sealed_line(astuple(record))


def sealed_line(data: object) -> bytes:
    """Return a line of the log: a digest of some data, and the data."""
    body = json.dumps(data, separators=(",", ":")).encode()
    return b'["%s",%s]\n' % (digest(body).encode(), body)


def opened_line(line: bytes) -> bytes:
    """Return the data of a line whose digest fits, as JSON; nothing of any other."""
    body = line[DIGITS + 4 : -1]
    return body if line == b'["%s",%s]' % (digest(body).encode(), body) else b""


def _loaded(body: bytes | str) -> Any:
    """Return the data of JSON; None where it is none, or more than any reader takes."""
    try:
        return json.loads(body)
    except (ValueError, RecursionError):
        return None


def _header(line: bytes) -> dict[str, Any] | None:
    """Return the first line's data: the log's format, the folder of the songs, the kinds; None where it is damaged."""
    data = _loaded(opened_line(line)) or _loaded(line)
    if not isinstance(data, dict) or type(data.get("format")) is not int or not isinstance(data.get("songs"), str):
        return None
    if (data["format"] != UNSEALED) != bool(opened_line(line)):
        return None
    kinds = data.setdefault("kinds", [])
    return data if isinstance(kinds, list) and all(isinstance(kind, str) for kind in kinds) else None


def _is_possible(record: Record) -> bool:
    """Return whether the program could have written a record: where it leads, and what the index is made of."""
    try:
        if record.entry:
            from_data(_loaded(record.entry))
    except ValueError:
        return False
    told = all(isinstance(message, str) for message in record.messages)
    if not record.output:
        return told and not record.digest and not record.written
    return told and is_output(record.output) and _is_digest(record.digest)


def _is_digest(text: object) -> bool:
    return isinstance(text, str) and len(text) == DIGITS and set(text) <= set("0123456789abcdef")


def _is_made(path: Path) -> bool:
    try:
        return path.is_file() and as_made(path.read_bytes())
    except OSError:
        return False


def _relative(songs: Path, out: Path) -> str:
    """Return the folder of the songs as seen from that of the PDFs, so that both can move together."""
    real, folder = os.path.realpath(songs), os.path.realpath(out)  # links in a circle are no fault of these
    try:
        return Path(os.path.relpath(real, folder)).as_posix()
    except ValueError:  # on two drives
        return Path(real).as_posix()


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return False


def _lock(path: Path) -> BinaryIO:
    """Take the lock of a folder. The system frees it when the process ends, however it ends.

    The lock is of the kind that is the process's own: workers do not inherit it.
    """
    if path.exists() and not path.is_file():  # opening a pipe would wait for ever
        raise OSError(errno.EINVAL, "is no ordinary file", str(path))
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
