"""Look songs up. Takes a folder and what is wanted; gives the songs that have it, the likeliest first.

The folder is walked each time, and what has changed is read: files of another size or time of change, if they hold
something else. The rest comes from a store. Where that is damaged it is begun anew; where none can be used, all is
read, for this once.

Every word that is asked for must be in the title or in the words that are sung; a word stands for all that begin with
it, words in quotes for just those, in that order. Titles come before words, whole words before beginnings.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from difflib import get_close_matches
from functools import partial
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import arranger
from arranger.late import load
from arranger.library.catalogue import SongFacts, Term, best_line, sounds_of, title_key, tokens
from arranger.library.scan import PassedOver, scan
from arranger.library.store import PATIENCE, Store, is_busy, lock, remove
from arranger.resources import cache_folder

SCHEMA = 3  # raised when the tables or what is kept in them change
BRIEFLY = 0.5  # seconds to wait without a word while another run writes; a transaction takes less
LOCK = ".lock"  # ending of the file that is locked while a store is made anew
TITLE_WEIGHT = 4.0  # of a word in the title against one that is sung, among songs that have all words in either
COARSE_NS = 2_000_000_000  # nanoseconds: the coarsest times of change on disks in use (FAT) are two seconds apart
AT_ONCE = 500  # songs read before the store is written: what is lost, at most, where a run is killed
NEAR = 0.7  # difflib's ratio: "lantrens" is near "lanterns", "boats" is not near "bells"
NEAR_WORDS = 8  # words of titles that count as near to one that was asked for
SHORTEST = 3  # letters of a word that are compared: shorter ones are near to too many

_FACTS = ", ".join(SongFacts._fields)
_KINDS = (str, str, str, int | None, str, str, str, str, str, int, str)  # of these, and of the lines
_FULL_TEXT = "CREATE VIRTUAL TABLE texts USING fts5 (title, words, tokenize = 'ascii')"  # `tokens` has folded them
_TABLES = (
    f"""CREATE TABLE songs (id INTEGER PRIMARY KEY, size INTEGER, changed_ns INTEGER, digest BLOB, filed TEXT,
    sounds INTEGER, {_FACTS}, lines TEXT)""",
    "CREATE UNIQUE INDEX files ON songs (file)",
)
_PLAIN_TEXT = "CREATE TABLE texts (title TEXT, words TEXT)"  # where SQLite was built without full-text search
_CHECK = "SELECT line, (SELECT count(rowid) FROM (SELECT rowid FROM texts LIMIT 1)) IS NULL FROM lines"


class Seen(NamedTuple):
    """A file as it was when it was read: its size in bytes, its time of change (as in `FoundSong`), and its digest."""

    size: int
    changed_ns: int
    digest: bytes


class ReadSong(NamedTuple):
    """What is kept of a song; `lines` are pairs of a section's name and a line that is sung in it."""

    seen: Seen
    facts: SongFacts
    lines: tuple[tuple[str, str], ...]


class Wanted(NamedTuple):
    """What a search asks for: words, key, tempo, meter.

    Attributes:
        terms: of the words; none where any words will do.
        sounds: keys, by `sounding`; any where it is empty.
        tempo: the slowest and the fastest, in beats a minute as the songs' own tempi count them.
        meter: `6/8`; empty for any.
    """

    terms: tuple[Term, ...] = ()
    sounds: tuple[int, ...] = ()
    tempo: tuple[int, int] | None = None
    meter: str = ""


class Match(NamedTuple):
    """A song that was found.

    `place` is the section and the line where words that were asked for are sung; None where the title alone has them.
    """

    facts: SongFacts
    place: tuple[str, str] | None


class Findings(NamedTuple):
    """The result of a search: the songs, what was passed over, and hints where nothing was found.

    Attributes:
        matches: the likeliest first, as many as were asked for.
        total: how many were found in all.
        songs: how many songs there are in the folder.
        problems: what was passed over, or cannot be read.
        elsewhere: where nothing was found: how many songs have the words, in any key, tempo or meter.
        apart: where still nothing was found: how many have all the words, but not together as they were asked for.
        near: where still nothing was found: titles that are near to the words.
    """

    matches: tuple[Match, ...]
    total: int
    songs: int
    problems: tuple[PassedOver, ...]
    elsewhere: int = 0
    apart: int = 0
    near: tuple[str, ...] = ()


class SongStore(Store):
    """What is known of the songs of a folder."""

    @property
    def full_text(self) -> bool:
        """Whether SQLite searches the words; else they are searched from the first song to the last."""
        return bool(self.rows("SELECT 1 FROM sqlite_master WHERE name = 'texts_data'"))

    def seen(self) -> dict[str, Seen]:
        """Return the files that are known, by the songs' names."""
        rows = self.rows("SELECT file, size, changed_ns, digest FROM songs", (), str, int, int, bytes)
        return {name: Seen(size, changed_ns, digest) for name, size, changed_ns, digest in rows}

    def change(self, read: Iterable[ReadSong], same: Iterable[tuple[str, Seen]], gone: Iterable[str]) -> None:
        """Update the store with songs read anew, songs whose contents are the same, and songs that are gone.

        Raises:
            sqlite3.OperationalError: the disk is full, or others write for longer than anybody would wait.
        """
        with self.transaction() as connection:
            read = list(read)
            for name in (*gone, *(song.facts.file for song in read)):
                connection.execute("DELETE FROM texts WHERE rowid = (SELECT id FROM songs WHERE file = ?)", (name,))
                connection.execute("DELETE FROM songs WHERE file = ?", (name,))
            seen = ((*seen, name) for name, seen in same)
            connection.executemany("UPDATE songs SET size = ?, changed_ns = ?, digest = ? WHERE file = ?", seen)
            for now, facts, lines in read:
                sung = "\n".join(f"{section}\t{words}" for section, words in lines)
                values = (None, *now, title_key(facts.title), sounds_of(facts.key), *facts, sung)
                number = connection.execute(
                    f"INSERT INTO songs VALUES ({', '.join('?' * len(values))})", values
                ).lastrowid
                texts = (facts.title, " ".join(words for _, words in lines))
                padded = (f" {' '.join(tokens(text))} " for text in texts)
                connection.execute("INSERT INTO texts (rowid, title, words) VALUES (?, ?, ?)", (number, *padded))

    def having(self, terms: Sequence[Term], title: bool = False) -> set[int]:
        """Return the numbers of the songs that have all terms, in their titles or anywhere."""
        where, values = (_matching if self.full_text else _scanning)(terms, title)
        return {number for (number,) in self.rows(f"SELECT rowid FROM texts WHERE {where}", values, int)}

    def weighed(self, terms: Sequence[Term]) -> dict[int, float]:
        """Return the songs that have all terms anywhere, each with a weight, lower where the terms say more of it."""
        if not self.full_text:
            return dict.fromkeys(self.having(terms), 0.0)
        where, values = _matching(terms, title=False)
        query = f"SELECT rowid, bm25(texts, {TITLE_WEIGHT}, 1.0) FROM texts WHERE {where}"
        found = self.rows(query, values, int, float)
        return {number: round(weight, 6) for number, weight in found}


def _matching(terms: Sequence[Term], title: bool) -> tuple[str, list[str]]:
    """Return terms as a condition of full-text search; words are letters and figures, so none is a sign of it."""
    parts = (f'"{" ".join(term.words)}"{"" if term.whole else " *"}' for term in terms)
    return "texts MATCH ?", [f"{'title : ' if title else ''}({' AND '.join(parts)})"]


def _scanning(terms: Sequence[Term], title: bool) -> tuple[str, list[str]]:
    """Return terms as a condition on texts in which a blank stands before and after each word."""
    parts, values = [], []
    for term in terms:
        text = f" {' '.join(term.words)}{' ' if term.whole else ''}"
        parts.append("instr(title, ?)" if title else "(instr(title, ?) OR instr(words, ?))")
        values += [text] * (1 if title else 2)
    return " AND ".join(parts), values


def open_songs(path: Path | None, patience: float = PATIENCE) -> SongStore:
    """Open the store at a path, made anew where it is not one of this version; None for one in memory.

    Raises:
        OSError: its folder cannot be made.
        sqlite3.Error: it can neither be used nor made anew, or others keep it busy.
    """
    if path is None:
        return _new_songs(None, patience)
    path.parent.mkdir(parents=True, exist_ok=True)
    known = partial(SongStore.known, path, _CHECK, [(_version(), 0)], patience)
    if (found := known()) is not None:
        return found
    with closing(lock(path.with_name(path.name + LOCK), patience)):
        if (found := known()) is not None:  # another run has just made it anew
            return found
        remove(path)
        return _new_songs(path, patience)


def _new_songs(path: Path | None, patience: float) -> SongStore:
    store = SongStore(path, patience)
    try:
        store.create((*_TABLES, _FULL_TEXT), _version())
    except sqlite3.OperationalError as fault:
        if "no such module" not in str(fault):
            raise
        store.create((*_TABLES, _PLAIN_TEXT), _version())
    return store


def _version() -> bytes:
    return f"{arranger.__version__} {SCHEMA}".encode()


def songs_path(folder: str | os.PathLike[str]) -> Path:
    """Return where the store of a folder is kept: among what can be made anew at any time."""
    real = os.fsencode(os.path.realpath(folder))
    return cache_folder() / "find" / f"{hashlib.blake2b(real, digest_size=12).hexdigest()}.sqlite"


def find(
    folder: str,
    wanted: Wanted,
    most: int | None = None,
    tell: Callable[[int], None] = lambda _: None,
    tell_waiting: Callable[[], None] = lambda: None,
) -> Findings:
    """Look songs up.

    Args:
        folder: where they are.
        wanted: what is looked for.
        most: how many matches to give; None for all.
        tell: called with the number of songs that must be read first, if there are any; once at most.
        tell_waiting: called before a wait for another run.
    """
    once = iter((tell,))  # the second and later times nothing is called

    def tell_once(count: int) -> None:
        next(once, lambda _: None)(count)

    try:
        path = songs_path(folder)
        patience, anew = BRIEFLY, False
        while True:
            try:
                return _find(folder, path, wanted, most, tell_once, patience)
            except Exception as fault:
                if is_busy(fault) and patience == BRIEFLY:
                    patience = PATIENCE
                    tell_waiting()
                elif is_busy(fault) or anew:
                    raise
                else:  # damaged, in a way that need not be known: all that it holds can be had anew
                    anew = True
                    remove(path)
    except Exception:  # no place to keep it, or no peace
        return _find(folder, None, wanted, most, tell_once)


def _find(
    folder: str, path: Path | None, wanted: Wanted, most: int | None, tell: Callable[[int], None],
    patience: float = PATIENCE,
) -> Findings:  # fmt: skip
    store = open_songs(path, patience)
    try:
        songs, unreadable = refresh(store, path, folder, tell)
        with store.snapshot():
            return look_up(store, wanted, most)._replace(songs=songs, problems=unreadable)
    finally:
        store.close()


def refresh(
    store: SongStore, path: Path | None, folder: str, tell: Callable[[int], None]
) -> tuple[int, tuple[PassedOver, ...]]:
    """Bring a store up to date with the files; return the number of songs, and what cannot be read."""
    files, problems = scan(folder)
    known = store.seen()
    # A file may have been changed once more in the moment when it was read, without another time of change.
    settled = store.written_ns - COARSE_NS
    jobs = []
    for name, place, size, changed_ns in files:
        seen = known.pop(name, None)
        if seen is None or seen.size != size or seen.changed_ns != changed_ns or changed_ns > settled:
            jobs.append((place, name, size, changed_ns, b"" if seen is None else seen.digest))
    gone = list(known)
    if jobs:
        tell(len(jobs))
        # The reader is loaded here because on most days no song has changed: it would take longer than all the rest.
        outcomes = load("arranger.library.reading").outcomes(jobs)
        while some := list(islice(outcomes, AT_ONCE)):
            unread = [(job, why) for job, why in some if isinstance(why, str)]
            problems += [PassedOver(name, place, f"cannot be read: {why}") for (place, name, *_), why in unread]
            gone += [name for (_, name, _, _, digest), _ in unread if digest]
            read = [outcome for _, outcome in some if isinstance(outcome, ReadSong)]
            same = [(name, outcome) for (_, name, *_), outcome in some if isinstance(outcome, Seen)]
            if read or same or gone:
                store.change(read, same, gone)
            gone = []
    if gone:
        store.change((), (), gone)
    return len(files), tuple(sorted(problems))


def look_up(store: SongStore, wanted: Wanted, most: int | None = None) -> Findings:
    """Look songs up in a store that is up to date."""
    order = _in_order(store, wanted)
    found = Findings(tuple(_matches(store, order[:most], wanted.terms)), len(order), 0, ())
    if order or not wanted.terms:
        return found
    elsewhere = len(_in_order(store, Wanted(wanted.terms)))
    if elsewhere:
        return found._replace(elsewhere=elsewhere)
    single = tuple(Term((word,), whole=False) for term in wanted.terms for word in term.words)
    apart = len(_in_order(store, Wanted(single)))
    return found._replace(apart=apart) if apart else found._replace(near=near_titles(store, wanted.terms))


def _in_order(store: SongStore, wanted: Wanted) -> list[int]:
    """Return the numbers of the songs that have what is wanted, the likeliest first, equals by title."""
    condition, values = _condition(wanted)
    rows = store.rows(f"SELECT id, filed, file FROM songs WHERE {condition}", values, int, str, str)
    if not wanted.terms:
        return [number for number, *_ in sorted(rows, key=lambda row: row[1:])]
    ranks = _ranks(store, wanted.terms)
    ranked = sorted((*ranks[number], filed, name, number) for number, filed, name in rows if number in ranks)
    return [number for *_, number in ranked]


def _condition(wanted: Wanted) -> tuple[str, list[int | str]]:
    """Return what is wanted of key, tempo and meter as a condition with its values."""
    parts = ["1"]
    values: list[int | str] = []
    if wanted.sounds:
        parts.append(f"sounds IN ({', '.join('?' * len(wanted.sounds))})")
        values += wanted.sounds
    if wanted.tempo is not None:
        parts.append("bpm BETWEEN ? AND ?")
        values += wanted.tempo
    if wanted.meter:
        parts.append("meter = ?")
        values.append(wanted.meter)
    return " AND ".join(parts), values


def _ranks(store: SongStore, terms: Sequence[Term]) -> dict[int, tuple[int, float]]:
    """Return the rank of each song that has all terms, best lowest: where it has them, how rarely others do."""
    whole = [term._replace(whole=True) for term in terms]
    weighed = store.weighed(terms)
    tiers = (store.having(whole, title=True), store.having(terms, title=True), store.having(whole))
    return {
        number: (next((tier for tier, having in enumerate(tiers) if number in having), len(tiers)), weight)
        for number, weight in weighed.items()
    }


def _matches(store: SongStore, order: Sequence[int], terms: Sequence[Term]) -> Iterator[Match]:
    for number in order:
        (row,) = store.rows(f"SELECT {_FACTS}, lines FROM songs WHERE id = ?", (number,), *_KINDS)
        yield Match(SongFacts._make(row[:-1]), best_line(_lines_of(row[-1]), terms) if terms else None)


def _lines_of(kept: str) -> Iterator[tuple[str, str]]:
    """Yield the sections and lines of a song as they are kept."""
    for line in kept.split("\n"):
        section, _, words = line.partition("\t")
        yield section, words


def near_titles(store: SongStore, terms: Sequence[Term], most: int = 3) -> tuple[str, ...]:
    """Return the titles that have words nearest to those that were asked for."""
    titles = [title for (title,) in store.rows("SELECT DISTINCT title FROM songs ORDER BY filed, file", (), str)]
    words = [tokens(title) for title in titles]
    known = sorted({word for title in words for word in title if len(word) >= SHORTEST})
    asked = dict.fromkeys(word for term in terms for word in term.words if len(word) >= SHORTEST)
    near = [set(get_close_matches(word, known, NEAR_WORDS, NEAR)) for word in asked]
    counts = [sum(not group.isdisjoint(title) for group in near) for title in words]
    best = sorted(range(len(titles)), key=lambda index: -counts[index])
    return tuple(titles[index] for index in best[:most] if counts[index])
