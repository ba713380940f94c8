"""Make the index of a library: a PDF whose lines lead to the parts, and the same as CSV and JSON.

Takes entries in any order; gives the files' bytes. What comes first is settled here: titles as libraries file them;
keys round the circle of fifths, each major key with its relative minor, so that what stands near sounds near; tempi
from slow to fast, by the number that stands in the song.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import groupby

from arranger.layout.content.margin_text import key_words, tempo_words
from arranger.layout.index import lay_out_index
from arranger.layout.index_rows import IndexGroup, IndexLine, IndexList
from arranger.layout.text import printed_name
from arranger.library.catalogue import Play, SongFacts, article, from_data, in_time, letter, play_from_data, title_key
from arranger.library.scan import INDEX_NAMES
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.song.model import Tempo
from arranger.theory.key import Key
from arranger.units import A4, Paper

AllPlays = Mapping[str, Sequence[Play]]  # when songs were played, by the songs' files
NO_PLAYS: AllPlays = {}
BAND = 10  # beats a minute that stand together: as near as anybody counts a tempo in
LAST = 10**6  # after all beats a minute and all signatures: songs without
HEADS = ("title", "key", "tempo", "meter", "first words", "song", "part", "errors", "last set", "all sets")
BYTE_ORDER_MARK = "\ufeff"  # without it the commonest spreadsheet takes UTF-8 for something else
# What a spreadsheet takes for the beginning of a formula, which might do anything (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def index_files(
    entries: Iterable[SongFacts],
    paper: Paper = A4,
    name: str = "",
    fonts: tuple[str, ...] = (),
    plays: AllPlays = NO_PLAYS,
) -> dict[str, bytes]:
    """Return the files of an index, by their names; equal entries in any order give equal bytes.

    Args:
        entries: of all songs, at least one.
        paper: the size of the PDF's pages.
        name: what the library is called.
        fonts: the paths of the player's own fonts, as for parts.
        plays: when songs were played, by their files.
    """
    plays = {file: in_time(each) for file, each in plays.items()}
    ordered = in_order(entries)
    count = f"{len(ordered):,} song{'' if len(ordered) == 1 else 's'}"
    document, _ = lay_out_index(
        f"Songs: {name}" if name else "Songs", count, lists(ordered, plays), metrics(fonts), paper
    )
    data = (to_bytes(document, fonts), to_csv(ordered, plays), to_json(ordered, plays))
    return dict(zip(INDEX_NAMES, data, strict=True))


def as_written(table: bytes, data: bytes) -> bool:
    """Return whether an index's CSV and JSON are as the program writes them: each says to the letter what both say."""
    entries: list[SongFacts] = []
    plays: dict[str, tuple[Play, ...]] = {}
    try:
        for song in json.loads(data)["songs"]:
            sets = tuple(map(play_from_data, song.pop("sets")))
            entries.append(from_data(song))
            plays[entries[-1].file] = sets
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return False
    return to_csv(entries, plays) == table and to_json(entries, plays) == data


def in_order(entries: Iterable[SongFacts]) -> tuple[SongFacts, ...]:
    """Sort entries by title; equal titles by file."""
    return tuple(sorted(entries, key=lambda entry: (title_key(entry.title), entry.file)))


def lists(entries: Sequence[SongFacts], plays: AllPlays = NO_PLAYS) -> tuple[IndexList, ...]:
    """Return the lists of an index: by title, key and tempo.

    Args:
        entries: by title; that stays the order of equals.
        plays: of each song in time.
    """
    lines = {entry.file: _line(entry, plays.get(entry.file, ())) for entry in entries}
    return (
        IndexList("By title", _groups(entries, lines, _by_title)),
        IndexList("By key", _groups(sorted(entries, key=_key_order), lines, _by_key)),
        IndexList("By tempo", _groups(sorted(entries, key=_tempo_order), lines, _by_tempo), by_title=False),
    )


def _groups(
    entries: Sequence[SongFacts], lines: dict[str, IndexLine], named: Callable[[SongFacts], tuple[str, str, str]]
) -> tuple[IndexGroup, ...]:
    return tuple(
        IndexGroup(label, short, tuple(lines[entry.file] for entry in group), note)
        for (label, short, note), group in groupby(entries, named)
    )


def _line(entry: SongFacts, plays: Sequence[Play]) -> IndexLine:
    """Print the facts of a song; of one with errors it says so in place of its words, for it has no part."""
    tempo = ""
    if entry.tempo:
        gradual = entry.tempo.lower().startswith("rit")
        tempo = tempo_words(Tempo(entry.tempo, entry.bpm, Fraction(entry.beat), gradual)).replace("half notes", "half")
    no_part = f"no part: {entry.errors} error{'' if entry.errors == 1 else 's'} in the song"
    return IndexLine(
        title=entry.title,
        article=article(entry.title),
        key=_key_sign(entry.key),
        tempo=tempo,
        meter=entry.meter,
        words=no_part if entry.errors else entry.first_words,
        part=entry.output,
        last_set=", ".join(filter(None, (plays[-1].date, plays[-1].evening))) if plays else "",
    )


def _key_sign(key: str) -> str:
    return f"{printed_name(key.removesuffix('m'))}{'m' if key.endswith('m') else ''}" if key else ""


def _by_title(entry: SongFacts) -> tuple[str, str, str]:
    found = letter(entry.title)
    return found, found, ""


def _key_order(entry: SongFacts) -> tuple[int, bool]:
    """Order keys from many flats to many sharps, a major key before its relative minor."""
    if not entry.key:
        return LAST, False
    key = Key.parse(entry.key)
    return key.signature, key.minor


def _by_key(entry: SongFacts) -> tuple[str, str, str]:
    if not entry.key:
        return "no key", "–", ""
    key = Key.parse(entry.key)
    signs = abs(key.signature)
    note = f"{signs}{'♯' if key.signature > 0 else '♭'}" if signs else ""
    return key_words(key), _key_sign(entry.key), note


def _tempo_order(entry: SongFacts) -> tuple[int, bool]:
    return (LAST, not entry.tempo) if entry.bpm is None else (entry.bpm, False)


def _by_tempo(entry: SongFacts) -> tuple[str, str, str]:
    if entry.bpm is None:
        return ("free", "free", "") if entry.tempo else ("no tempo", "–", "")
    band = entry.bpm // BAND * BAND
    return f"{band}–{band + BAND - 1}", str(band), ""


def to_csv(entries: Sequence[SongFacts], plays: AllPlays = NO_PLAYS) -> bytes:
    """Return a table of RFC 4180 in UTF-8.

    A text that a spreadsheet would run has an apostrophe before it. A meter is `6/8 time`: `6/8` alone would become a
    day in August.
    """
    text = io.StringIO(newline="")
    table = csv.writer(text)  # its own habits are those of RFC 4180
    table.writerow(HEADS)
    for entry in entries:
        meter = f"{entry.meter} time"
        facts = (entry.title, entry.key, entry.tempo, meter, entry.first_words, entry.file, entry.output)
        played = [play.words for play in plays.get(entry.file, ())]
        sets = ("".join(played[-1:]), "; ".join(played))
        table.writerow((*map(_harmless, facts), entry.errors, *map(_harmless, sets)))
    return (BYTE_ORDER_MARK + text.getvalue()).encode("utf-8")


def _harmless(text: str) -> str:
    return f"'{text}" if text.startswith(FORMULA) else text


def to_json(entries: Sequence[SongFacts], plays: AllPlays = NO_PLAYS) -> bytes:
    """Return the entries as JSON (RFC 8259), to the letter, each with the sets that have it."""
    songs = [{**entry._asdict(), "sets": [play._asdict() for play in plays.get(entry.file, ())]} for entry in entries]
    return (json.dumps({"songs": songs}, ensure_ascii=False, indent=1) + "\n").encode()
