"""The facts of songs for lists of them. Takes a Song, or the text of one with errors; gives what it is found by.

Facts are plain texts and numbers, so that they can be kept in a file and looked up without reading songs again.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from functools import lru_cache

from arranger.song.model import COMMON, Section, Song, SungLine, Tempo, Text
from arranger.song.song_lines import READERS, FileLines, SongLine, split_lines
from arranger.song.words_and_notes import read_words
from arranger.text.problems import EnoughError, Problems
from arranger.text.source import Source
from arranger.theory.key import Key

FIRST_WORDS = 80  # characters of a song's first words: more than a line of a list shows
MOST = 10**6  # beats a minute, and errors: far more than any song has
_BEAT = re.compile(r"[1-9][0-9]{0,3}(?:/[1-9][0-9]{0,3})?")
_BARLINE = re.compile(r"(?<!\\)\|")


@dataclass(frozen=True, slots=True)
class Entry:
    """What lists of songs say about one song.

    Attributes:
        title: as it is written; the name of the file where a song with errors has none.
        key: the key that sounds: `Bb`, `F#m`. Of a song with errors any fact may be empty.
        tempo: as it is written: `dotted 56`, `free`; empty where there is none.
        bpm: beats a minute, of the beat that the tempo is written in; None without a number.
        beat: the length of that beat in quarters, as a fraction: `3/2`.
        meter: `6/8`.
        first_words: what is sung first, as the song is played.
        file: the song's path under the folder of the songs, with `/`.
        output: its part's path under the folder of the parts, with `/`; empty where there is none.
        errors: how many errors the song has.
    """

    title: str
    key: str
    tempo: str
    bpm: int | None
    beat: str
    meter: str
    first_words: str
    file: str
    output: str = ""
    errors: int = 0


_NAMES = [field.name for field in fields(Entry)]
_TYPES = [[bpm if name == "bpm" else int if name == "errors" else str for name in _NAMES] for bpm in (int, type(None))]


@dataclass(frozen=True, slots=True)
class SungText:
    """A line of words as it is sung, and the name of its section."""

    section: str
    words: str


def entry(song: Song, file: str, output: str = "") -> Entry:
    """Return the facts of a song.

    Args:
        song: as it was read.
        file: its path under the folder of the songs, with `/`.
        output: its part's path under the folder of the parts, with `/`.
    """
    played = (song.sections[step.section] for step in song.roadmap)
    first = next((words for section in played if (words := " ".join(_sung(section)))), "")
    return Entry(
        title=song.title.value,
        key=str(song.key),
        tempo=song.tempo.text if song.tempo else "",
        bpm=song.tempo.bpm if song.tempo else None,
        beat=str(song.tempo.unit if song.tempo else 1),
        meter=str(song.meter),
        first_words=_shortened(first),
        file=file,
        output=output,
    )


def _shortened(words: str) -> str:
    """Cut words at a blank to what a list can show; where a line ends there is no telling whether a sentence does."""
    return words if len(words) <= FIRST_WORDS else words[: FIRST_WORDS + 1].rpartition(" ")[0] or words[:FIRST_WORDS]


def sung_texts(song: Song) -> tuple[SungText, ...]:
    """Return all that is sung, in the order of the sections as they are written."""
    return tuple(SungText(section.name, line) for section in song.sections for line in _sung(section))


def _sung(section: Section) -> Iterator[str]:
    """Return the lines of a section, verse by verse; the pickup stands before the first line."""
    before = section.pickup.value if section.pickup else ""
    for verse in range(max((len(row.words) for row in section.rows), default=0)):
        for row in section.rows:
            if verse < len(row.words) and (line := _line(row.words[verse])):
                yield f"{before} {line}".strip()
                before = ""
    if before:
        yield before


def _line(sung: SungLine) -> str:
    """Return a line as it is sung: words whole again, held syllables left out."""
    text = ""
    joins = True
    for bar in sung.bars:
        for piece in bar.pieces:
            words = "".join(c for at, c in enumerate(piece.text) if c != "_" or at in piece.plain)
            text += words if joins or piece.glued or not words.strip() else f" {words}"
            joins = False
        joins = bar.joins or (joins and not bar.pieces)
    return " ".join(text.split())


def broken_entry(source: Source, file: str, errors: int) -> tuple[Entry, tuple[SungText, ...]]:
    """Return what can be read of a song with errors: facts that are right, and the words.

    Args:
        source: its text, as far as it could be read.
        file: its path under the folder of the songs, with `/`.
        errors: how many errors it has.
    """
    try:
        lines = split_lines(source, Problems())
    except EnoughError:
        lines = FileLines()
    facts = {line.word: value for line in reversed(lines.header) if (value := _fact(line)) is not None}
    title, tempo = facts.get("song"), facts.get("tempo")
    known = tempo if isinstance(tempo, Tempo) else Tempo("", None)
    stem = file.rpartition("/")[2]
    texts = tuple(
        SungText(section.name, words)
        for section in lines.sections
        for line in section.lines
        if line.word in ("sing", "pickup") and (words := _unbarred(line.text))
    )
    found = Entry(
        title=title.value if isinstance(title, Text) else stem.removesuffix(".txt").removesuffix(".song") or stem,
        key=str(facts.get("key", "")),
        tempo=known.text,
        bpm=known.bpm,
        beat=str(known.unit),
        meter=str(facts.get("meter", COMMON)),
        first_words=_shortened(texts[0].words) if texts else "",
        file=file,
        errors=errors,
    )
    return found, texts


def _fact(line: SongLine) -> object:
    """Read a fact of the header; None where it is wrong."""
    read = READERS.get(line.word) if line.word in ("song", "key", "tempo", "meter") else None
    try:
        return read(line, Problems()) if read else None
    except EnoughError:
        return None


def _unbarred(text: str) -> str:
    """Return the words of a `sing` row whose bars may be wrong."""
    whole, joins = "", True
    for bar in _BARLINE.split(text):
        cell = read_words(bar)
        for segment in cell.segments:
            words = segment.text.replace("_", " ").strip()
            whole += words if joins or segment.glued or not words else f" {words}"
            joins = False
        joins = cell.joins or (joins and not cell.segments)
    return " ".join(whole.split())


def to_data(found: Entry) -> dict[str, str | int | None]:
    """Return an entry as plain data, for JSON."""
    return asdict(found)


def from_data(data: object) -> Entry:
    """Return the entry of plain data.

    Raises:
        ValueError: it is none, or facts that no song has.
    """
    if not isinstance(data, dict) or list(data) != _NAMES or [*map(type, data.values())] not in _TYPES:
        raise ValueError("no facts of a song")
    found = Entry(**data)
    _check_key(found.key)
    if not _BEAT.fullmatch(found.beat) or not 0 <= (found.bpm or 0) <= MOST or not 0 <= found.errors <= MOST:
        raise ValueError("no facts of a song: its tempo, or its errors")
    "".join(text for text in data.values() if type(text) is str).encode()  # half characters are a ValueError too
    return found


@lru_cache(64)
def _check_key(text: str) -> None:
    """Refuse a text that is no key, as a `ValueError`; of songs with errors there may be none."""
    if text:
        Key.parse(text)
