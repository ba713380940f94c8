"""Songs looked up. Takes a folder and what is wanted; gives the songs that have it, the likeliest first.

The folder is walked each time, and what has changed is read: files of another size or time of change, if they hold
something else. The rest comes from a database. Where that is damaged it is begun anew; where none can be used, all is
read, for this once.

Every word that is asked for must be in the title or in the words that are sung; a word stands for all that begin with
it, words in quotes for just those, in that order. Titles come before words, whole words before beginnings.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from difflib import get_close_matches
from itertools import islice
from pathlib import Path
from typing import NamedTuple

from arranger.files import cache_folder
from arranger.late import load
from arranger.library.catalogue import tokens
from arranger.library.database import (
    BRIEFLY,
    LOCK,
    PATIENCE,
    Database,
    Record,
    Seen,
    Term,
    is_busy,
    open_database,
    remove,
)
from arranger.library.scan import Problem, scan

COARSE_NS = 2_000_000_000  # nanoseconds: the coarsest times of change on disks in use (FAT) are two seconds apart
AT_ONCE = 500  # songs read before the database is written: what is lost, at most, where a run is killed
NEAR = 0.7  # difflib's ratio: "lantrens" is near "lanterns", "boats" is not near "bells"
NEAR_WORDS = 8  # words of titles that count as near to one that was asked for
SHORTEST = 3  # letters of a word whose likeness says anything
MOST_WORDS = 50  # of a question that count: no line of a song is longer

_QUOTE = re.compile('["“”„«»]')
_QUOTED = re.compile(r"[\"“”„«»]([^\"“”„«»]*)[\"“”„«»]?|(\S+)")
_FACTS = "name, title, key, tempo, bpm, beat, meter, first_words, errors"
_KINDS = (str, str, str, str, int | None, str, str, str, int, str)  # of these, and of the lines


class Wanted(NamedTuple):
    """What is looked for.

    Attributes:
        terms: of the words; none where any words will do.
        sounds: keys, by their `Record.sounds`; any where it is empty.
        tempo: the slowest and the fastest, in beats a minute as the songs' own tempi count them.
        meter: `6/8`; empty for any.
    """

    terms: tuple[Term, ...] = ()
    sounds: tuple[int, ...] = ()
    tempo: tuple[int, int] | None = None
    meter: str = ""


class Match(NamedTuple):
    """A song that was found; the facts are those of an `Entry`.

    `place` is the section and the line where words that were asked for are sung; None where the title alone has them.
    """

    name: str
    title: str
    key: str
    tempo: str
    bpm: int | None
    beat: str
    meter: str
    first_words: str
    errors: int
    place: tuple[str, str] | None


class Found(NamedTuple):
    """What was found.

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
    problems: tuple[Problem, ...]
    elsewhere: int = 0
    apart: int = 0
    near: tuple[str, ...] = ()


def terms_of(words: Iterable[str]) -> tuple[Term, ...]:
    """Return what a question asks for, from the words of a command line; nothing in them can be wrong.

    What stands in quotes, or came in quotes to the command line and so has blanks in it, belongs together.

    >>> [(*term.words, term.whole) for term in terms_of(["Été", "down to the", "don't", "?"])]
    [('ete', False), ('down', 'to', 'the', True), ('don', 't', False)]
    """
    found = []
    for text in words:
        whole = " " in text.strip() and not _QUOTE.search(text)
        for quoted, word in [(text, "")] if whole else _QUOTED.findall(text):
            parts = tuple(tokens(quoted or word))[:MOST_WORDS]
            if parts:
                found.append(Term(parts, bool(quoted)))
    return tuple(dict.fromkeys(found))[:MOST_WORDS]


def database_path(folder: str | os.PathLike[str]) -> Path:
    """Return where the database of a folder is kept: among what can be made anew at any time."""
    real = os.fsencode(os.path.realpath(folder))
    return cache_folder() / "find" / f"{hashlib.blake2b(real, digest_size=12).hexdigest()}.sqlite"


def find(
    folder: str,
    wanted: Wanted,
    most: int | None = None,
    tell: Callable[[int], None] = lambda _: None,
    tell_waiting: Callable[[], None] = lambda: None,
) -> Found:
    """Look songs up.

    Args:
        folder: where they are.
        wanted: what is looked for.
        most: how many matches to give; None for all.
        tell: called with the number of songs that must be read first, if there are any; once at most.
        tell_waiting: called before a wait for another run.
    """
    told: list[int] = []

    def tell_once(count: int) -> None:
        if not told:
            told.append(count)
            tell(count)

    try:
        path = database_path(folder)
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
                    remove(path, LOCK)
    except Exception:  # no place to keep it, or no peace
        return _find(folder, None, wanted, most, tell_once)


def _find(
    folder: str,
    path: Path | None,
    wanted: Wanted,
    most: int | None,
    tell: Callable[[int], None],
    patience: float = PATIENCE,
) -> Found:
    database = open_database(path, patience)
    try:
        songs, unreadable = refresh(database, path, folder, tell)
        return look_up(database, wanted, most)._replace(songs=songs, problems=unreadable)
    finally:
        database.close()


def refresh(
    database: Database, path: Path | None, folder: str, tell: Callable[[int], None]
) -> tuple[int, tuple[Problem, ...]]:
    """Bring a database to what the files hold. Gives the number of songs, and what cannot be read."""
    files, problems = scan(folder)
    known = database.seen()
    # A file may have been changed once more in the moment when it was read, without another time of change.
    settled = database.written_ns - COARSE_NS
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
        pairs = zip(jobs, outcomes, strict=True)
        while some := list(islice(pairs, AT_ONCE)):
            unread = [(job, why) for job, why in some if isinstance(why, str)]
            problems += [Problem(name, place, f"cannot be read: {why}") for (place, name, *_), why in unread]
            gone += [name for (_, name, _, _, digest), _ in unread if digest]
            records = [outcome for _, outcome in some if isinstance(outcome, Record)]
            same = [(name, outcome) for (_, name, *_), outcome in some if isinstance(outcome, Seen)]
            if records or same or gone:
                database.change(records, same, gone)
            gone = []
    if gone:
        database.change((), (), gone)
    return len(files), tuple(sorted(problems))


def look_up(database: Database, wanted: Wanted, most: int | None = None) -> Found:
    """Look songs up in a database that is up to date."""
    order = _in_order(database, wanted)
    found = Found(tuple(_matches(database, order[:most], wanted.terms)), len(order), 0, ())
    if order or not wanted.terms:
        return found
    elsewhere = len(_in_order(database, Wanted(wanted.terms)))
    if elsewhere:
        return found._replace(elsewhere=elsewhere)
    single = tuple(Term((word,), whole=False) for term in wanted.terms for word in term.words)
    apart = len(_in_order(database, Wanted(single)))
    return found._replace(apart=apart) if apart else found._replace(near=near_titles(database, wanted.terms))


def _in_order(database: Database, wanted: Wanted) -> list[int]:
    """Return the numbers of the songs that have what is wanted, the likeliest first, equals by title."""
    condition, values = _condition(wanted)
    rows = database.rows(f"SELECT id, filed, name FROM songs WHERE {condition}", values, int, str, str)
    if not wanted.terms:
        return [number for number, *_ in sorted(rows, key=lambda row: row[1:])]
    ranks = _ranks(database, wanted.terms)
    return [
        number
        for *_, number in sorted(
            (*ranks[number], filed, name, number) for number, filed, name in rows if number in ranks
        )
    ]


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


def _ranks(database: Database, terms: Sequence[Term]) -> dict[int, tuple[int, float]]:
    """Return the rank of each song that has all terms, best lowest: where it has them, how rarely others do."""
    whole = [term._replace(whole=True) for term in terms]
    weighed = database.weighed(terms)
    tiers = (database.having(whole, title=True), database.having(terms, title=True), database.having(whole))
    return {
        number: (next((tier for tier, having in enumerate(tiers) if number in having), len(tiers)), weight)
        for number, weight in weighed.items()
    }


def _matches(database: Database, order: Sequence[int], terms: Sequence[Term]) -> Iterator[Match]:
    for number in order:
        (row,) = database.rows(f"SELECT {_FACTS}, lines FROM songs WHERE id = ?", (number,), *_KINDS)
        yield Match._make((*row[:-1], _place(row[-1], terms)))


def _place(lines: str, terms: Sequence[Term]) -> tuple[str, str] | None:
    """Find the line that has the most of what was asked for, the first of several."""
    best, place = 0, None
    for line in lines.split("\n") if terms else ():
        section, _, words = line.partition("\t")
        text = f" {' '.join(tokens(words))} "
        having = sum(f" {' '.join(term.words)}{' ' if term.whole else ''}" in text for term in terms)
        if having > best:
            best, place = having, (section, words)
    return place


def near_titles(database: Database, terms: Sequence[Term], most: int = 3) -> tuple[str, ...]:
    """Return the titles that have words nearest to those that were asked for."""
    titles = [title for (title,) in database.rows("SELECT DISTINCT title FROM songs ORDER BY filed, name", (), str)]
    words = [tokens(title) for title in titles]
    known = sorted({word for title in words for word in title if len(word) >= SHORTEST})
    asked = dict.fromkeys(word for term in terms for word in term.words if len(word) >= SHORTEST)
    near = [set(get_close_matches(word, known, NEAR_WORDS, NEAR)) for word in asked]
    counts = [sum(not group.isdisjoint(title) for group in near) for title in words]
    best = sorted(range(len(titles)), key=lambda index: -counts[index])
    return tuple(titles[index] for index in best[:most] if counts[index])
