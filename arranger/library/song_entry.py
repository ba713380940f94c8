"""Find out what lists say of a song, and what is sung in it, also of a song with errors. Pure.

Takes a song, or the text of one that cannot be read whole; gives facts and lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from arranger.library.catalogue import SongFacts
from arranger.song.model import COMMON, Piece, Section, Song, SongText, SungLine, Tempo
from arranger.song.read import decode, read
from arranger.song.song_line import SongLine
from arranger.song.song_lines import READERS, FileLines, split_lines
from arranger.song.words_and_notes import sung_row
from arranger.text.diagnostics import has_errors
from arranger.text.problems import EnoughError, Problems
from arranger.text.source import Source

FIRST_WORDS = 80  # characters of a song's first words: more than a line of a list shows

SungLines = tuple[tuple[str, str], ...]  # the name of a section, and a line of words as it is sung


def entry(song: Song, file: str, output: str = "") -> SongFacts:
    """Return the facts of a song.

    Args:
        song: as it was read.
        file: its path under the folder of the songs, with `/`.
        output: its part's path under the folder of the parts, with `/`.
    """
    played = (song.sections[step.section] for step in song.roadmap)
    first = next((words for section in played if (words := " ".join(_sung(section)))), "")
    return SongFacts(
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


def sung_texts(song: Song) -> SungLines:
    """Return all that is sung, in the order of the sections as they are written."""
    return tuple((section.name, line) for section in song.sections for line in _sung(section))


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

    def words(piece: Piece) -> str:
        return "".join(c for at, c in enumerate(piece.text) if c != "_" or at in piece.plain)

    return _whole(([(words(piece), piece.glued) for piece in bar.pieces], bar.joins) for bar in sung.bars)


def _whole(bars: Iterable[tuple[list[tuple[str, bool]], bool]]) -> str:
    """Return the words of bars, those whole again that go on at a chord or in the next bar.

    Args:
        bars: the words at each chord, and whether they go on inside a word; then whether the last goes on.
    """
    text, joins = "", True
    for pieces, goes_on in bars:
        for words, glued in pieces:
            text += words if joins or glued or not words.strip() else f" {words}"
            joins = False
        joins = goes_on or (joins and not pieces)
    return " ".join(text.split())


def broken_entry(source: Source, file: str, errors: int) -> tuple[SongFacts, SungLines]:
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
        (section.name, words)
        for section in lines.sections
        for line in section.lines
        if line.word in ("sing", "pickup") and (words := _unbarred(line.text))
    )
    found = SongFacts(
        title=title.value if isinstance(title, SongText) else stem.removesuffix(".txt").removesuffix(".song") or stem,
        key=str(facts.get("key", "")),
        tempo=known.text,
        bpm=known.bpm,
        beat=str(known.unit),
        meter=str(facts.get("meter", COMMON)),
        first_words=_shortened(texts[0][1]) if texts else "",
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
    cells = (bar.content for bar in sung_row(text) if bar.content is not None)
    return _whole(([(s.text.replace("_", " ").strip(), s.glued) for s in cell.segments], cell.joins) for cell in cells)


def read_song(name: str, data: bytes) -> tuple[SongFacts, SungLines]:
    """Return the facts of a song and what is sung.

    Args:
        name: its path under the folder, with `/`.
        data: what it holds.
    """
    source, problems = decode(name, data)
    song = None
    if not has_errors(problems):
        song, problems = read(source)
    if song is None:
        return broken_entry(source, name, sum(p.severity == "error" for p in problems))
    return entry(song, name), sung_texts(song)
