"""What is known of a folder's songs, in a database that may be thrown away at any time. Takes rows; gives rows.

All of it is made from the songs' files: a database that is broken, of another program or of another version of this
one is removed and begun anew, and where none can be kept it lives in memory for one run. Several runs may use one at
once: each change is a transaction of its own, and a run that is killed leaves what its last one wrote.

Words are looked up as `order.tokens` gives them, so the tokenizer has nothing left to fold. Where SQLite was built
without full-text search, the same words are searched from the first song to the last.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import closing
from pathlib import Path
from types import UnionType
from typing import Any, NamedTuple

import arranger
from arranger.library.catalogue import title_key, tokens

APPLICATION = 0x4B455953  # "KEYS": marks the file as this program's (PRAGMA application_id)
SCHEMA = 2  # raised when the tables or what is kept in them change
BRIEFLY = 0.5  # seconds to wait without a word while another run writes; a transaction takes less
PATIENCE = 10.0  # seconds to wait after that: then all is read anew
PRIMARY = 0xFF  # the part of an error's code that says its kind (sqlite.org/rescode.html)
LOCK = ".lock"  # ending of the file that is locked while a database is made anew
TITLE_WEIGHT = 4.0  # of a word in the title against one that is sung, among songs that have all words in either

_TABLES = (
    "CREATE TABLE made_by (version TEXT, full_text INTEGER)",
    """CREATE TABLE songs (
        id INTEGER PRIMARY KEY, name TEXT UNIQUE, size INTEGER, changed_ns INTEGER, digest BLOB, filed TEXT, title TEXT,
        key TEXT, sounds INTEGER, tempo TEXT, bpm INTEGER, beat TEXT, meter TEXT, first_words TEXT, errors INTEGER,
        lines TEXT
    )""",
)
_FULL_TEXT = "CREATE VIRTUAL TABLE texts USING fts5 (title, words, tokenize = 'ascii')"
_PLAIN_TEXT = "CREATE TABLE texts (title TEXT, words TEXT)"


class Seen(NamedTuple):
    """A file as it was when it was read: its size in bytes, its time of change (as in `Found`), and its digest."""

    size: int
    changed_ns: int
    digest: bytes


def sounding(tonic: int, minor: bool) -> int:
    """Number a key by its tonic's pitch class, the same for keys that sound alike."""
    return tonic + (12 if minor else 0)


class Record(NamedTuple):
    """What is kept of a song.

    `sounds` is the number of its key by `sounding`; -1 where it is not known. `lines` are pairs of a section's name
    and a line that is sung in it. The other facts are those of an `Entry`.
    """

    name: str
    seen: Seen
    title: str
    key: str
    sounds: int
    tempo: str
    bpm: int | None
    beat: str
    meter: str
    first_words: str
    errors: int
    lines: tuple[tuple[str, str], ...]


class Term(NamedTuple):
    """What must be found: words that follow each other. `whole`: its last word too is one, not a beginning."""

    words: tuple[str, ...]
    whole: bool


class Database:
    """An open database. Make one with `open_database`."""

    def __init__(self, connection: sqlite3.Connection, full_text: bool, kept: bool, written_ns: int = 0) -> None:
        self._connection = connection
        self.full_text = full_text
        self.kept = kept  # in a file
        self.written_ns = written_ns  # when anything was last written to it, by the clock of its disk; 0 for never

    def seen(self) -> dict[str, Seen]:
        """Return the files that are known, by the songs' names."""
        rows = self.rows("SELECT name, size, changed_ns, digest FROM songs", (), str, int, int, bytes)
        return {name: Seen(size, changed_ns, digest) for name, size, changed_ns, digest in rows}

    def change(self, records: Iterable[Record], same: Iterable[tuple[str, Seen]], gone: Iterable[str]) -> None:
        """Take over songs that were read, files that hold what they held, and songs that are no more.

        Raises:
            sqlite3.OperationalError: the disk is full, or others write for longer than anybody would wait.
        """
        connection = self._connection
        with connection:
            connection.execute("BEGIN IMMEDIATE")
            for name in gone:
                self._forget(name)
            connection.executemany(
                "UPDATE songs SET size = ?, changed_ns = ?, digest = ? WHERE name = ?",
                ((*seen, name) for name, seen in same),
            )
            for record in records:
                self._forget(record.name)
                self._add(record)

    def _forget(self, name: str) -> None:
        for (number,) in self._connection.execute("SELECT id FROM songs WHERE name = ?", (name,)).fetchall():
            self._connection.execute("DELETE FROM texts WHERE rowid = ?", (number,))
            self._connection.execute("DELETE FROM songs WHERE id = ?", (number,))

    def _add(self, record: Record) -> None:
        facts = (
            record.name, *record.seen, title_key(record.title), record.title, record.key, record.sounds, record.tempo,
            record.bpm, record.beat, record.meter, record.first_words, record.errors,
            "\n".join(f"{section}\t{words}" for section, words in record.lines),
        )  # fmt: skip
        marks = ", ".join("?" * (len(facts) + 1))
        number = self._connection.execute(f"INSERT INTO songs VALUES ({marks})", (None, *facts)).lastrowid
        title, words = (f" {' '.join(tokens(text))} " for text in (record.title, " ".join(w for _, w in record.lines)))
        self._connection.execute("INSERT INTO texts (rowid, title, words) VALUES (?, ?, ?)", (number, title, words))

    def having(self, terms: Sequence[Term], title: bool = False) -> set[int]:
        """Return the numbers of the songs that have all terms, in their titles or anywhere."""
        if self.full_text:
            query = "SELECT rowid FROM texts WHERE texts MATCH ?"
            return {number for (number,) in self.rows(query, (_matching(terms, title),), int)}
        where, values = _scanning(terms, title)
        return {number for (number,) in self.rows(f"SELECT rowid FROM texts WHERE {where}", values, int)}

    def weighed(self, terms: Sequence[Term]) -> dict[int, float]:
        """Return the songs that have all terms anywhere, each with a weight, lower where the terms say more of it."""
        if not self.full_text:
            return dict.fromkeys(self.having(terms), 0.0)
        query = f"SELECT rowid, bm25(texts, {TITLE_WEIGHT}, 1.0) FROM texts WHERE texts MATCH ?"
        return {
            number: round(weight, 6)
            for number, weight in self.rows(query, (_matching(terms, title=False),), int, float)
        }

    def rows(self, query: str, values: Sequence[Any] = (), *kinds: type | UnionType) -> list[tuple[Any, ...]]:
        """Return the rows of a query, whose columns are of some kinds.

        Raises:
            sqlite3.Error: it cannot be read, or something of another kind is there: the database is damaged.
        """
        found = self._connection.execute(query, values).fetchall()
        if kinds and not all(isinstance(value, kind) for row in found for value, kind in zip(row, kinds, strict=True)):
            raise sqlite3.DatabaseError("a value of another kind")
        return found

    def close(self) -> None:
        """Close it."""
        self._connection.close()


def open_database(path: Path | None, patience: float = PATIENCE) -> Database:
    """Open the database at a path, made anew where it is not one of this version; None for one in memory.

    Args:
        path: where it is.
        patience: seconds to wait for others.

    Raises:
        OSError: its folder cannot be made.
        sqlite3.Error: it can neither be used nor made anew, or others keep it busy.
    """
    if path is None:
        return _new(sqlite3.connect(":memory:", isolation_level=None), kept=False)
    path.parent.mkdir(parents=True, exist_ok=True)
    found = _known(path, patience)
    if found is not None:
        return found
    with closing(sqlite3.connect(f"{path}{LOCK}", timeout=patience, isolation_level=None)) as alone:
        alone.execute("BEGIN EXCLUSIVE")  # what another run has just made anew must not be removed under its hands
        found = _known(path, patience)
        if found is None:
            remove(path)
            found = _new(sqlite3.connect(path, timeout=patience, isolation_level=None), kept=True)
        return found


def remove(path: Path, *more: str) -> None:
    """Remove a database with what SQLite may have left beside it, the journal first: it must not meet a new file."""
    for ending in ("-journal", "-wal", "-shm", "", *more):
        path.with_name(path.name + ending).unlink(missing_ok=True)


def is_busy(fault: Exception) -> bool:
    """Return whether a fault says that others use the database, and nothing against it."""
    return getattr(fault, "sqlite_errorcode", 0) & PRIMARY in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def _known(path: Path, patience: float) -> Database | None:
    """Open a database that was made by this version of the program; None where there is none that can be used."""
    if not path.is_file():
        return None
    connection = sqlite3.connect(path, timeout=patience, isolation_level=None)
    try:
        if connection.execute("PRAGMA application_id").fetchone() == (APPLICATION,):
            made = connection.execute("SELECT version, full_text FROM made_by").fetchone()
            connection.execute("SELECT rowid FROM texts LIMIT 1")  # fails where full-text search was left out
            if made is not None and made[0] == _version():
                return Database(connection, bool(made[1]), True, path.stat().st_mtime_ns)
    except sqlite3.Error as fault:
        if is_busy(fault):
            connection.close()
            raise
    connection.close()
    return None


def _new(connection: sqlite3.Connection, kept: bool) -> Database:
    """Make the tables."""
    with connection:
        connection.execute("BEGIN IMMEDIATE")
        for statement in _TABLES:
            connection.execute(statement)
        full_text = _make_texts(connection)
        connection.execute("INSERT INTO made_by VALUES (?, ?)", (_version(), full_text))
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
    return Database(connection, full_text, kept)


def _make_texts(connection: sqlite3.Connection) -> bool:
    """Make the table of words; tell whether it is one for full-text search."""
    try:
        connection.execute(_FULL_TEXT)
    except sqlite3.OperationalError:  # "no such module: fts5"
        connection.execute(_PLAIN_TEXT)
        return False
    return True


def _version() -> str:
    return f"{arranger.__version__} {SCHEMA}"


def _matching(terms: Sequence[Term], title: bool) -> str:
    """Return terms as full-text search takes them; words are letters and figures, so none is a sign of it."""
    parts = (f'"{" ".join(term.words)}"{"" if term.whole else " *"}' for term in terms)
    return f"{'title : ' if title else ''}({' AND '.join(parts)})"


def _scanning(terms: Sequence[Term], title: bool) -> tuple[str, list[str]]:
    """Return terms as a condition on texts in which a blank stands before and after each word."""
    parts, values = [], []
    for term in terms:
        text = f" {' '.join(term.words)}{' ' if term.whole else ''}"
        parts.append("instr(title, ?)" if title else "(instr(title, ?) OR instr(words, ?))")
        values += [text] * (1 if title else 2)
    return " AND ".join(parts), values
