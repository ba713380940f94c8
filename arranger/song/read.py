"""Read a file's bytes or a Source to a Song, or to everything that is wrong with it at once.

Where nothing else can have been meant, `mended` puts the text right.
"""

import re
from typing import NamedTuple

from arranger.song.build import build
from arranger.song.model import Song
from arranger.song.song_lines import split_lines
from arranger.text.diagnostics import Diagnostic, Fix, error
from arranger.text.problems import MOST_ERRORS, EnoughError, Problems
from arranger.text.source import Source, Span

MOST_BYTES = 1 << 20  # 1 MiB; a long song has some 10 KiB

# Controls of ASCII and Latin-1, but tab and line feed (`Source.of` has made all line ends line feeds), and the two
# separators that some editors take for line ends. Joiners and direction marks are part of words and stay.
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


# How files begin that are no text, and what to do with them.
_OTHER_FILES = (
    (b"%PDF", "a PDF", "open it, select and copy its text, and save that as a text file"),
    (b"PK\x03\x04", "a document of a word processor, or a ZIP archive", "open it and save it as plain text (.txt)"),
    (b"\xd0\xcf\x11\xe0", "a document of an old word processor", "open it and save it as plain text (.txt)"),
    (b"{\\rtf", "a document in rich text (RTF)", "open it and save it as plain text (.txt)"),
    (b"\x89PNG", "a picture", "type the words and chords, or have the picture's text recognised"),
    (b"\xff\xd8\xff", "a picture", "type the words and chords, or have the picture's text recognised"),
    (b"MThd", "a MIDI file", "it has no words and chords as text"),
)
_HTML = re.compile(rb"\s*(?:<!doctype html|<html)", re.I)


def other_file(data: bytes) -> tuple[str, str] | None:
    """Return what a file is that holds no text, in words, and what to do with it; None where it may hold text."""
    for magic, kind, hint in _OTHER_FILES:
        if data.startswith(magic):
            return kind, hint
    if _HTML.match(data):
        return "a web page", "open it in a browser, select and copy the song, and save that as a text file"
    return None


def decode(name: str, data: bytes) -> tuple[Source, tuple[Diagnostic, ...]]:
    """Make a source of a file's bytes.

    Gives the source (of what could be read, so that what is wrong can be shown in its place) and what is wrong:
    another kind of file, not UTF-8, control characters, over 1 MiB. Where anything is, the source is not to be read
    further.
    """
    other = other_file(data)
    if other is not None:
        return Source(name, ""), (error("not-text", f"expected plain text, found {other[0]}", None, other[1]),)
    if len(data) > MOST_BYTES:
        message = f"expected 1 MiB at most, found {len(data):,} bytes"
        return Source(name, ""), (error("file-too-large", message, None, "is this a song?"),)
    try:
        source = Source.of(name, data.decode("utf-8"))
    except UnicodeDecodeError as problem:
        return _not_utf8(name, data, problem.start)
    return source, controls(source)


def encode(source: Source, before: bytes) -> bytes:
    """Return the bytes of a changed text with the line ends, and the byte-order mark, that its file has.

    Args:
        source: the text.
        before: the file's bytes; what most of its lines end with stays.
    """
    text = source.text
    if 2 * before.count(b"\r\n") > before.count(b"\n"):
        text = text.replace("\n", "\r\n")
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    return mark + text.encode("utf-8")


def _not_utf8(name: str, data: bytes, at: int) -> tuple[Source, tuple[Diagnostic, ...]]:
    source = Source.of(name, data.decode("utf-8", errors="replace"))
    offset = len(Source.of(name, data[:at].decode("utf-8")).text)
    wide = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    hint = "the file is in UTF-16; save it as UTF-8" if wide else "save the file as UTF-8 in your editor"
    place = Span(offset, min(offset + 1, len(source.text)))
    return source, (error("not-utf-8", f"expected UTF-8, found the byte {data[at]:#04x}", place, hint),)


def without_controls(text: str) -> str:
    """Return a text with a blank for each character that no song may hold."""
    return _CONTROL.sub(" ", text)


def controls(source: Source) -> tuple[Diagnostic, ...]:
    """Refuse the first control character."""
    match = _CONTROL.search(source.text)
    if match is None:
        return ()
    number = f"U+{ord(match[0]):04X}"
    return (
        error(
            "control-character",
            f"expected plain text, found the control character {number}",
            Span(match.start(), match.end()),
            "delete it; it cannot be seen in most editors, so type the line anew",
        ),
    )


def read(source: Source) -> tuple[Song | None, tuple[Diagnostic, ...]]:
    """Read a song.

    Gives the song, or None if any diagnostic is an error; and all diagnostics in the order of their places.
    """
    refused = controls(source)
    if refused:
        return None, refused
    problems = Problems()
    try:
        song = build(source, split_lines(source, problems), problems)
    except EnoughError:
        message = f"expected a song, found {MOST_ERRORS} errors; the rest of the file was not read"
        return None, (*problems.all(), error("too-many-errors", message, None, "mend the first ones and try again"))
    return (None if problems.errors else song), problems.all()


class Mend(NamedTuple):
    """A fix that was made: its line (from 1; fixes never part or join lines), its code, and what became what.

    `before` is empty where something was put in, `after` where something was taken out.
    """

    line: int
    code: str
    before: str
    after: str


ROUNDS = 8  # one fix can bring the next to light (a title's word, then its colon); more than a few never do


def mended(source: Source) -> tuple[Source, tuple[Mend, ...]]:
    """Make the certain fixes of a song; all that they do not touch stays to the letter.

    Gives the source with them made (the same one where there are none), and each of them. Fixes are made in
    rounds until none is left; a round that would leave the song with more errors than before is not made.
    """
    done: list[Mend] = []
    found = read(source)[1]
    for _ in range(ROUNDS):
        chosen = _apart(found)
        if not chosen:
            break
        after = Source(source.name, _changed(source.text, [fix for fix, _ in chosen]))
        left = read(after)[1]
        if _errors(left) > _errors(found):
            break
        done += [
            Mend(source.line_column(fix.span.start)[0], one.code, source[fix.span], fix.text) for fix, one in chosen
        ]
        source, found = after, left
    return source, tuple(done)


def _errors(found: tuple[Diagnostic, ...]) -> int:
    return sum(one.severity == "error" for one in found)


def _apart(found: tuple[Diagnostic, ...]) -> list[tuple[Fix, Diagnostic]]:
    """Choose fixes that do not touch each other, in the order of their places; the others come in the next round."""
    chosen: list[tuple[Fix, Diagnostic]] = []
    end = -1
    with_fix = [(one.fix, one) for one in found if one.fix is not None]
    for fix, one in sorted(with_fix, key=lambda pair: (pair[0].span.start, pair[0].span.end)):
        if fix.span.start > end:
            chosen.append((fix, one))
            end = fix.span.end
    return chosen


def _changed(text: str, fixes: list[Fix]) -> str:
    pieces = []
    at = 0
    for fix in fixes:
        pieces += [text[at : fix.span.start], fix.text]
        at = fix.span.end
    return "".join([*pieces, text[at:]])
