"""Keep records of what was made of the songs of a folder, in a store beside the PDFs.

Of each PDF the store has a line of JSON with a digest of itself: a line whose digest does not fit counts for nothing,
and what it told is made again. Where the store is lost, PDFs are known by the digest that each has of itself too
(`digests.as_made`). A PDF is told to the store, in a transaction of its own, *before* it takes its place. So a run may
be killed at any moment: what the store says of a PDF that is not there yet is not believed, and a PDF that is there is
known to be the program's own. Names in a store are names under the folder of the PDFs, of PDFs or of the index: no
store leads anywhere else.
"""

from __future__ import annotations

import errno
import json
import os
import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from arranger.digests import as_made
from arranger.library.catalogue import from_data
from arranger.library.scan import FURTHER_KINDS, INDEX_NAMES, NAMING, is_output
from arranger.library.store import SIZE, Store, is_busy, is_full, lock, on_disk, opened_line, remove, sealed_line

FOLDER = ".arranger"  # in the folder of the PDFs: the store, the lock, and what is being written
STORE, ASIDE = "store.sqlite", "store-unreadable.sqlite"  # and the last one that could not be read
OLD_LOG = "made.jsonl"  # where older programs kept what was made
FORMAT = 3  # of the lines; to be raised where old programs would misread them. 1 and 2 are those of the log


class StoreError(Exception):
    """The folder cannot be worked on, or no further. Carries a message and a hint."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message, hint)
        self.message, self.hint = message, hint


class MadeRecord(NamedTuple):
    """One PDF, or that there is none since the song has errors.

    Attributes:
        output: its path under the folder of the PDFs, with `/`.
        kind: `part`, or another kind of PDF; empty for the index, and where only `before` is known.
        input: the digest of all that it is made of.
        digest: of the PDF as the program makes it; empty where there is none.
        before: of what the program had put there before; empty for nothing.
        written: the program has put it there (and not left alone what somebody else had put there).
        errors, warnings: how many of each the song has.
        path: the song's path when it was made, as it stands in the messages.
        messages: what there is to say about the song, as it is printed.
        entry: what the index says about the song, as JSON.
    """

    output: str
    kind: str
    input: str
    digest: str
    before: str
    written: bool
    errors: int = 0
    warnings: int = 0
    path: str = ""
    messages: tuple[str, ...] = ()
    entry: str = ""


_TYPES: tuple[type, ...] = (str, str, str, str, str, bool, int, int, str, list, str)


class Ledger:
    """What was made in a folder of PDFs, open and locked. Use it in a `with` statement.

    Attributes:
        records: what is known of each PDF, by its path under the folder.
        kinds: what is made of each song: what was asked for, now or before.
        damage: what could not be read, as messages.
        unfinished: where a file is written before it takes its place.
    """

    def __init__(self, out: Path, songs: Path, kinds: Iterable[str] = ()) -> None:
        """Open the store of a folder, or begin one.

        Args:
            out: the folder of the PDFs; it is made where it does not exist.
            songs: the folder of the songs.
            kinds: what is asked for of each song.

        Raises:
            StoreError: another program is at work there; the store belongs to other songs, or to a newer program.
            OSError: the store cannot be read or written.
        """
        self.out, self.folder = out, out / FOLDER
        self.unfinished = self.folder / "unfinished"
        self.records: dict[str, MadeRecord] = {}
        self.kinds = set(kinds)
        self.damage: list[str] = []
        self._path = self.folder / STORE
        self._header: dict[str, Any] = {}
        self.folder.mkdir(parents=True, exist_ok=True)
        try:
            self._lock = lock(self.folder / "lock", patience=0)
        except sqlite3.Error as fault:
            if not is_busy(fault):
                raise OSError(errno.ENOLCK, f"it cannot be locked: {fault}", str(self.folder)) from None
            hint = "let it end, or stop it; this one then makes what is left"
            raise StoreError(f"another run is at work in {out}", hint) from None
        self._store: Store | None = None
        try:
            self.unfinished.unlink(missing_ok=True)  # of a run that was killed
            self._open(songs)
        except BaseException as fault:
            self.__exit__()
            if isinstance(fault, sqlite3.Error):
                raise self._unwritable(fault) from None
            raise

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        if self._store is not None:
            self._store.close()
        with suppress(OSError):
            self.unfinished.unlink(missing_ok=True)
        self._lock.close()

    def _open(self, songs: Path) -> None:
        """Read what is kept, and keep it as it is to be from now on."""
        lines = self._kept()
        damaged = sum(not self._take(name, line) for name, line in lines)
        damaged += not damaged and not self._header and self._store is not None  # it never is without its first line
        wished = set(self.kinds)
        if self._header:
            self._check(songs)
            self.kinds |= set(NAMING) & set(self._header["kinds"])
        else:
            self._look_for_kinds(wished)
        if damaged:
            count = "one line is" if damaged == 1 else f"{damaged} lines are"
            self.damage.append(f"{self._path}: {count} damaged, and left out")
        self.kinds -= {kind for kind in self.kinds - wished if self._was_removed(kind)}
        before, self._header = self._header, header_of(_relative(songs, self.out), self.kinds)
        if self._store is None:
            self._store = Store(self._path)
            self._store.create((), b"")
        self._store.rows("PRAGMA locking_mode = EXCLUSIVE")  # nobody else is to write: the journal may stay meanwhile
        if damaged or before != self._header:
            with self._store.transaction() as connection:
                connection.execute("DELETE FROM lines")
                kept = [("", sealed_line(self._header)), *map(_line, self.records.values())]
                connection.executemany("INSERT INTO lines VALUES (?, ?)", kept)
        (self.folder / OLD_LOG).unlink(missing_ok=True)

    def _look_for_kinds(self, wished: set[str]) -> None:
        """Find, where no store says it, what was made of songs beside their parts."""
        for kind, (ending, called, option) in FURTHER_KINDS.items():
            if kind in wished or not any(map(_is_made, self.out.rglob(f"*{ending}"))):
                continue
            if self._store is not None or self.damage:  # they show that they were asked for
                self.kinds.add(kind)
            else:
                self.damage.append(f"{self.out} has {called} that no store knows: {option} keeps them up to date")

    def _kept(self) -> list[tuple[str, bytes]]:
        """Open the store, if there is one, and return its lines; else return what an older program's log tells."""
        if os.path.lexists(self._path):
            if self._path.is_file():
                self._path.open("ab").close()  # where that is not allowed, the system says why
            try:
                self._store = Store.known(self._path, "PRAGMA quick_check", [("ok",)])
                if self._store is not None:
                    self._store.rows("PRAGMA journal_mode = DELETE")
                    self._store.rows("DELETE FROM lines WHERE FALSE")  # fails where it may only be read
                    return self._store.rows("SELECT name, line FROM lines", (), str, bytes)
            except (sqlite3.Error, MemoryError) as fault:
                if is_busy(fault):
                    hint = "end that one, and start this one again"
                    raise StoreError(f"another program uses {self._path}", hint) from None
            if self._store is not None:
                self._store.close()
                self._store = None
            self._path.replace(self.folder / ASIDE)
            remove(self._path)
            message = f"{self._path} cannot be read, and is now {ASIDE}: what is there is looked at anew"
            self.damage.append(message)
        log = self.folder / OLD_LOG
        return _logged(log.read_bytes(), self.out) if log.is_file() else []

    def _take(self, name: str, line: bytes) -> bool:
        """Take over a line of the store, if it is sound; return whether it is."""
        data = _loaded(opened_line(line))
        if isinstance(data, list) and tuple(map(type, data)) == _TYPES:
            values: list[Any] = [tuple(value) if isinstance(value, list) else value for value in data]
            record = MadeRecord(*values)
            if record.output == name and _is_possible(record):
                self.records[name] = record
                return True
        if not isinstance(data, dict) or name or data.keys() != header_of("", ()).keys():
            return False
        kinds = data["kinds"]
        if type(data["format"]) is not int or not isinstance(data["songs"], str) or not _are_texts(kinds):
            return False
        self._header = data
        return True

    def _check(self, songs: Path) -> None:
        """Refuse a store of a newer program, or of other songs."""
        if self._header["format"] > FORMAT:
            raise StoreError(f"{self._path} is the store of a newer program", "--out names another folder")
        before = os.path.join(self.out, self._header["songs"])  # noqa: PTH118 (nothing in it can be a fault)
        if os.path.isdir(before) and not _same(Path(before), songs):  # noqa: PTH112 (the same)
            message = f"{self.out} holds the parts of the songs in {os.path.realpath(before)}"
            raise StoreError(message, "--out names another folder for these")

    def _was_removed(self, kind: str) -> bool:
        """Return whether somebody has removed all PDFs of a kind, of all songs: then no more are wanted."""
        made = [record.output for record in self.records.values() if record.kind == kind and record.digest]
        return bool(made) and not any((self.out / output).exists() for output in made)

    def add(self, record: MadeRecord) -> None:
        """Keep a record, before the PDF takes its place.

        Raises:
            StoreError: it cannot be written; the store is as it was.
        """
        self._change("INSERT OR REPLACE INTO lines VALUES (?, ?)", _line(record))
        self.records[record.output] = record

    def forget(self, output: str) -> None:
        """Remove the record of a PDF that is gone, or that somebody has changed.

        Raises:
            StoreError: it cannot be written; the store is as it was.
        """
        self._change("DELETE FROM lines WHERE name = ?", (output,))
        del self.records[output]

    def _change(self, statement: str, values: Sequence[Any]) -> None:
        assert self._store is not None
        try:
            with self._store.transaction() as connection:
                connection.execute(statement, values)
        except sqlite3.Error as fault:
            raise self._unwritable(fault) from None

    def _unwritable(self, fault: sqlite3.Error) -> StoreError:
        why = "no space left on device" if is_full(fault) else str(fault)
        return StoreError(f"{self._path} cannot be written: {why}")


def _line(record: MadeRecord) -> tuple[str, bytes]:
    return record.output, sealed_line(record)


def header_of(songs: str, kinds: Iterable[str]) -> dict[str, Any]:
    """Return the header of a store, its line without a name: format, folder of the songs, what is made of each song."""
    return {"format": FORMAT, "songs": songs, "kinds": sorted(kinds)}


def _logged(log: bytes, out: Path) -> list[tuple[str, bytes]]:
    """Turn the log of an older program into lines of a store: the PDFs that were its own.

    Nothing else is believed: it was made by another program, so all is made again.
    """
    own: defaultdict[str, set[object]] = defaultdict(set)
    songs, kinds = "", set()
    for line in log.split(b"\n"):
        match _loaded(opened_line(line) or line):  # lines of the first format have no digests
            case [_, str(kind), _, str(output), made, True, *_] if is_output(output):
                own[output].add(made)
                if kind in NAMING and (out / output).exists():
                    kinds.add(kind)
            case {"owned": str(output), "digests": [*digests]} if is_output(output):
                own[output] |= {made for made in digests if isinstance(made, str)}
            case {"songs": str(folder)}:
                songs = folder
    there = {output: on_disk(out / output) for output in own}
    lines = [("", sealed_line(header_of(songs, kinds)))] if own or songs else []
    return lines + [
        _line(MadeRecord(output, "", "", "", made, written=False))
        for output, made in there.items()
        if made is not None and made in own[output]
    ]


def _loaded(body: bytes | str) -> Any:
    """Return the data of JSON; None where it is none, or more than any reader takes."""
    try:
        return json.loads(body)
    except (ValueError, RecursionError):
        return None


def _is_possible(record: MadeRecord) -> bool:
    """Return whether the program could have written a record: where it leads, and what the index is made of."""
    try:
        if record.entry or (record.input and record.output not in INDEX_NAMES):
            from_data(_loaded(record.entry))
    except ValueError:
        return False
    made = len(record.digest) == 2 * SIZE if record.digest else not record.written
    return made and is_output(record.output) and _are_texts(record.messages)


def _are_texts(values: object) -> bool:
    return isinstance(values, list | tuple) and all(isinstance(value, str) for value in values)


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
