"""Open, lock and make anew a file of SQLite: the store of what was made, or of what songs say.

No store is more than a help: one that cannot be used is made anew. It may lie in a network folder, so a transaction is
kept by a journal beside the file, and not in memory that processes share.
"""

from __future__ import annotations

import errno
import json
import sqlite3
import stat
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from hashlib import blake2b, file_digest
from pathlib import Path
from types import UnionType
from typing import Any, Self

APPLICATION = 0x4B455953  # "KEYS": marks a file as this program's (PRAGMA application_id)
LINES = "CREATE TABLE lines (name TEXT PRIMARY KEY, line BLOB) WITHOUT ROWID"
PATIENCE = 10.0  # seconds to wait for others that write; a transaction takes less than one
SIZE = 16  # bytes of a digest: among 10**9 songs, the chance that any two are the same is 10**-21
PRIMARY = 0xFF  # the part of an error's code that says its kind (sqlite.org/rescode.html)


class Store:
    """An open store. The line without a name says what it is of."""

    def __init__(self, path: Path | None, patience: float = PATIENCE) -> None:
        """Open the file at a path, whatever it is; None for a store in memory."""
        self.written_ns = path.stat().st_mtime_ns if path and path.exists() else 0  # when it was last written to
        self._connection = sqlite3.connect(path or ":memory:", timeout=patience, isolation_level=None)

    @classmethod
    def known(cls, path: Path, check: str, expected: object, patience: float = PATIENCE) -> Self | None:
        """Open a store; None where there is none, where it is none, or where a query gives other rows than it should.

        Raises:
            sqlite3.Error: others keep it busy.
        """
        if not path.is_file():
            return None
        store = cls(path, patience)
        try:
            if store.rows("PRAGMA application_id") == [(APPLICATION,)] and store.rows(check) == expected:
                return store
        except (sqlite3.Error, MemoryError) as fault:  # a damaged length may be of any size
            if is_busy(fault):
                store.close()
                raise
        store.close()
        return None

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """Open a transaction: a change is made whole or not at all.

        Raises:
            sqlite3.Error: it cannot be written, or others write for longer than anybody would wait.
        """
        # The system keeps what was written even where the program is killed. Where the power fails a store may be
        # damaged, and is made anew: to wait for the disk at each PDF would take longer than to make it.
        self._connection.execute("PRAGMA synchronous = OFF")
        with self._connection:
            self._connection.execute("BEGIN IMMEDIATE")
            yield self._connection

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Let several queries see one state of the store, whatever others write meanwhile."""
        with self._connection:
            self._connection.execute("BEGIN")
            yield

    def create(self, tables: Iterable[str], of: bytes) -> None:
        """Make the tables, in a file where there are none, and the line that says what it is of."""
        with self.transaction() as connection:
            for statement in (LINES, *tables):
                connection.execute(statement)
            connection.execute("INSERT INTO lines VALUES ('', ?)", (of,))
            connection.execute(f"PRAGMA application_id = {APPLICATION}")

    def rows(self, query: str, values: Sequence[Any] = (), *kinds: type | UnionType) -> list[tuple[Any, ...]]:
        """Return the rows of a query, whose columns are of some kinds.

        Raises:
            sqlite3.Error: it cannot be read, or something of another kind is there: the store is damaged.
        """
        found = self._connection.execute(query, values).fetchall()
        if kinds and not all(isinstance(value, kind) for row in found for value, kind in zip(row, kinds, strict=True)):
            raise sqlite3.DatabaseError("a value of another kind")
        return found

    def close(self) -> None:
        """Close it."""
        self._connection.close()


def lock(path: Path, patience: float = PATIENCE) -> sqlite3.Connection:
    """Take a lock: that of a database with nothing in it. The system frees it when the process ends, however it ends.

    Raises:
        OSError: the file cannot be written, or is none.
        sqlite3.Error: another process has it (`is_busy`), or the disk knows no locks.
    """
    if path.exists() and not path.is_file():  # opening a pipe would wait for ever
        raise OSError(errno.EINVAL, "is no ordinary file", str(path))
    if path.is_symlink() or (path.exists() and path.stat().st_size):
        path.unlink()  # of somebody's: nothing is ever written to a lock
    path.open("ab").close()  # where that is not allowed, the system says why
    connection = sqlite3.connect(path, timeout=patience, isolation_level=None)
    try:
        connection.execute("BEGIN EXCLUSIVE")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def remove(path: Path) -> None:
    """Remove a store with what SQLite may have left beside it, the journal first: it must not meet a new file."""
    for ending in ("-journal", "-wal", "-shm", ""):
        path.with_name(path.name + ending).unlink(missing_ok=True)


def is_busy(fault: Exception) -> bool:
    """Return whether a fault says that others use the store, and nothing against it."""
    return _kind(fault) in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def is_full(fault: Exception) -> bool:
    """Return whether a fault says that the disk is full."""
    return _kind(fault) == sqlite3.SQLITE_FULL


def _kind(fault: Exception) -> int:
    return getattr(fault, "sqlite_errorcode", 0) & PRIMARY


def digest(*parts: bytes) -> str:
    """Return the digest of some bytes; where one part ends and the next begins counts too."""
    total = blake2b(digest_size=SIZE)
    for part in parts:
        if len(parts) > 1:
            total.update(len(part).to_bytes(8, "big"))
        total.update(part)
    return total.hexdigest()


def on_disk(path: Path) -> str | None:
    """Return the digest of a file, as `digest` gives it; None where there is none.

    Raises:
        OSError: something is there that cannot be read, or is no file: reading a pipe would wait for ever.
    """
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
            raise OSError(errno.EINVAL, "something is there that is no ordinary file")
        with path.open("rb") as file:
            return file_digest(file, lambda: blake2b(digest_size=SIZE)).hexdigest()
    except (FileNotFoundError, NotADirectoryError):
        return None


def sealed_line(data: object) -> bytes:
    """Return a line: a digest of some data, and the data."""
    body = json.dumps(data, separators=(",", ":")).encode()
    return b'["%s",%s]' % (digest(body).encode(), body)


def opened_line(line: bytes) -> bytes:
    """Return the data of a line whose digest fits, as JSON; nothing of any other."""
    body = line[2 * SIZE + 4 : -1]
    return body if line == b'["%s",%s]' % (digest(body).encode(), body) else b""
