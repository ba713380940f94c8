"""What is no typed sheet of one song: told with what was found, and what can be done. Takes bytes or lines."""

from __future__ import annotations

import re
from collections.abc import Sequence

from arranger.convert.kinds import Told
from arranger.convert.marks import chord_of
from arranger.convert.model import SheetLine
from arranger.song.read import MOST_BYTES, other_file
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import Source, Span

Diagnostics = tuple[Diagnostic, ...]

_IN_WORDS = re.compile(r"[\[{<]([A-H][^\[\]{}<>\s]{0,12})[\]}>]")
_TITLES = re.compile(r"\s*(?:song(?: title)?|title)\s*[:=]\s*\S", re.I)
_KEY_STATED = re.compile(r"\b(?:key|capo|tonart)\b", re.I)
LONGEST = 1000  # columns of a line; a song's line has room for so many, with its barlines


def decode_sheet(name: str, data: bytes) -> tuple[Source | None, Diagnostics, str]:
    """Make a source of a sheet's bytes: UTF-8, UTF-16 with its mark, or the old encoding of western Windows.

    Gives the source or what was found instead, and the name of the encoding where it is another than UTF-8.
    """
    other = other_file(data)
    if other is not None:
        kind, hint = other
        return None, (error("sheet-not-text", f"expected plain text, found {kind}", None, hint),), ""
    if len(data) > MOST_BYTES:
        message = f"expected the sheet of one song, found {len(data):,} bytes"
        return None, (error("sheet-of-many", message, None, "give each song a file of its own"),), ""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return Source.of(name, data.decode("utf-16")), (), "UTF-16"
        except UnicodeDecodeError:
            pass
    if b"\x00" in data:
        return None, (error("sheet-not-text", "expected plain text, found bytes that are no text", None),), ""
    try:
        return Source.of(name, data.decode("utf-8")), (), ""
    except UnicodeDecodeError:
        pass
    try:
        return Source.of(name, data.decode("cp1252")), (), "Windows-1252"
    except UnicodeDecodeError:
        return Source.of(name, data.decode("latin-1")), (), "ISO 8859-1"


def refusal(source: Source, lines: Sequence[SheetLine], told: Sequence[Told]) -> Diagnostics:
    """Say why a text is no sheet of one song; empty where it is one."""
    if not any(line.cells for line in lines):
        return (error("sheet-without-chords", "expected a typed sheet, found an empty file", None),)
    if any(len(line.cells) > LONGEST for line in lines):
        number = next(line.number for line in lines if len(line.cells) > LONGEST)
        message = f"expected lines of a sheet, found one of {len(source[source.line_span(number)])} characters"
        start = source.line_span(number).start
        return (error("sheet-not-text", message, Span(start, start + 1), "set each line of the song on its own line"),)
    if is_song(source.text):
        return (
            error(
                "sheet-is-a-song",
                "expected a typed sheet, found a song in the program's own notation",
                None,
                "`arranger part` makes its part as it is",
            ),
        )
    return _many(source, lines, told) or _other_notation(source, lines, told)


def is_song(text: str) -> bool:
    """Return whether a text is (or tries to be) a song in the project's own notation."""
    lines = [line.strip() for line in text.split("\n") if line.strip()]
    return (
        any(re.match(r"section\s+\S", line, re.I) for line in lines)
        and any(re.match(r"(?:song|key)\s+[^\s:=]", line, re.I) for line in lines)
    ) or any(re.match(r"sing\s*\|", line, re.I) for line in lines)


def _many(source: Source, lines: Sequence[SheetLine], told: Sequence[Told]) -> Diagnostics:
    """Tell several songs in one file: several titles, or sections that begin anew under lines that look like titles."""
    titles = [line.number for line in lines if _TITLES.match(line.text)]
    if len(titles) < 2:
        titles = _beginnings(told)
    if len(titles) < 2:
        return ()
    places = ", ".join(map(str, titles[:8]))
    message = f"expected the sheet of one song, found {len(titles)}: they begin in lines {places}"
    hint = "give each song a file of its own: cut the file before each title"
    return (error("sheet-of-many", message + (", …" if titles[8:] else ""), source.line_span(titles[1]), hint),)


def _beginnings(told: Sequence[Told]) -> list[int]:
    """Find lines that look like titles, each over a section or a key that the song before it had already."""
    found: list[int] = []
    seen: set[str] = set()
    title = 0
    for index, item in enumerate(told):
        if item.kind == "words" and (not index or told[index - 1].kind in ("blank", "fact")) and not title:
            title = item.line.number
        elif item.kind in ("chords", "tablature") or (
            item.kind == "words" and index and told[index - 1].kind == "chords"
        ):
            title = 0
        elif item.kind in ("heading", "fact") and title:
            what = _first_name(item)
            follows = next((t.kind for t in told[index + 1 :] if t.kind != "blank"), "")
            if what and (what in seen or not found) and (item.kind == "fact" or follows == "chords"):
                found.append(title)
                seen = {what}
                title = 0
        what = _first_name(item)
        if what:
            seen.add(what)
    return found


def _first_name(item: Told) -> str:
    """Return what a song begins with and has once: a first section, or a key; empty for everything else."""
    if item.kind == "fact":
        return "key" if _KEY_STATED.search(item.line.text) else ""
    name = item.heading.name.casefold() if item.heading is not None else ""
    return name if name in ("intro", "verse", "verse 1", "strophe 1", "vers 1", "couplet 1") else ""


def _other_notation(source: Source, lines: Sequence[SheetLine], told: Sequence[Told]) -> Diagnostics:
    """Tell chords inside the words, tablature, and words alone."""
    chords = sum(t.kind == "chords" for t in told)
    inside = [line for line in lines if _chords_inside(line.text)]
    if inside and len(inside) > chords:
        hint = "set the chords in a line of their own above the words, each over its syllable; then convert the sheet"
        return (
            error(
                "sheet-chords-inside",
                "expected chords in a line above the words, found chords inside the words",
                source.line_span(inside[0].number),
                hint,
            ),
        )
    if chords:
        return ()
    tablature = [t.line for t in told if t.kind == "tablature"]
    if tablature:
        hint = "write the names of the chords above the words; from fingers on strings they cannot be told for certain"
        return (
            error(
                "sheet-tablature",
                "expected chords by name, found tablature and no chord",
                source.line_span(tablature[0].number),
                hint,
            ),
        )
    hint = "chords stand in a line above the words: `G  D/F#  Em7`"
    return (error("sheet-without-chords", "expected chords above the words, found no line of chords", None, hint),)


def _chords_inside(text: str) -> bool:
    """Return whether signs with chords in them stand among words."""
    found = [m for m in _IN_WORDS.finditer(text) if chord_of(m[1]) is not None]
    rest = _IN_WORDS.sub("", text)
    return bool(found) and sum(c.isalpha() for c in rest) > 2
