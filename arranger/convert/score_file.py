"""Take a score's file apart: an archive or plain XML, within bounds. Takes bytes; gives elements, one bar at a time.

The forms are those of MusicXML 4.0 (W3C Community Group report, "MusicXML 4.0": Container file, `score-partwise`,
`score-timewise`). Nothing outside of the bytes is ever read; entities that a file declares are refused.
"""

from __future__ import annotations

import codecs
import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from itertools import chain
from typing import Any, NamedTuple, cast
from xml.etree import ElementTree
from xml.parsers import expat

from arranger.text.diagnostics import Diagnostic, error

Element = ElementTree.Element

MOST_PACKED = 4 << 20  # bytes of an archive
MOST_UNPACKED = 16 << 20  # bytes of XML; sheets compress up to 39 to 1, so that a ratio says nothing
MOST_MEMBERS = 1000  # of an archive: a score, its container, pictures of its pages
MOST_ELEMENTS = 250_000  # of a file; a lead sheet has some 10,000, a choir with piano 100,000
MOST_TOGETHER = 20_000  # elements of one bar
MOST_OUTSIDE = 2000  # elements of the head, each with what is in it; an anthology's credits are some 100
DEEPEST = 40  # elements in each other; the standard's go to 10 or so
LONGEST_BARE = 4  # chunks without the end of a tag
CHUNK = 1 << 16
HEADER, NAME_LENGTH = 30, 26  # bytes before a member's name and its further field; where their lengths stand

_NAMES = (".musicxml", ".mxl", ".xml")
_ROOTS = ("score-partwise", "score-timewise")
_PACKED = b"PK\x03\x04"
_DECLARED = re.compile(r"""<\?xml[^>]*?\sencoding\s*=\s*["']([A-Za-z0-9._\-]{1,40})["']""")
_KNOWN = re.compile(  # character sets whose decoders take a time that grows with the text alone
    r"(?:utf-?8|utf-?16(?:-?[lb]e)?|us-ascii|ascii|iso-?8859-\d{1,2}|latin-?\d|windows-\d{3,4}|cp\d{3,4}|shift_jis|"
    r"euc-(?:jp|kr)|gb2312|gbk|gb18030|big5|koi8-[ru]|macintosh|mac-?roman)",
    re.IGNORECASE,
)
_EXPORT = "export it from the notation program anew, as MusicXML (.musicxml or .mxl)"


class ScorePiece(NamedTuple):
    """An element of a score: `part` and `attributes` of its bar, both empty for what stands outside of the parts."""

    part: str
    attributes: dict[str, str]
    element: Element


class Refusal(Exception):  # noqa: N818 - it never leaves this room
    """Why a file is not read."""

    def __init__(self, problem: Diagnostic) -> None:
        self.problem = problem


def is_score(name: str, data: bytes) -> bool:
    r"""Return whether a file is a score by its name, or by how it begins.

    >>> is_score("tide.MXL", b""), is_score("tide.txt", b"G   D\nSand\n")
    (True, False)
    >>> is_score("tide.txt", b"<?xml version='1.0'?><score-partwise>")
    True
    """
    if name.lower().endswith(_NAMES):
        return True
    head = _text_start(data)
    return head.startswith("<") and any(f"<{root}" in head or f"DOCTYPE {root}" in head for root in _ROOTS)


def _text_start(data: bytes) -> str:
    utf16 = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    return data[:2048].decode("utf-16" if utf16 else "utf-8-sig", "replace").lstrip()


def pieces_of(data: bytes) -> Iterator[ScorePiece]:
    """Return the elements of a score's head, and its bars, in the order of the file.

    Raises:
        Refusal: the file is damaged, too large, or no score.
    """
    if data.startswith(_PACKED):
        data = _unpacked(data)
    _check_size(len(data))
    _check_entities(data)
    yield from _pieces(data)


def _check_size(size: int) -> None:
    if size > MOST_UNPACKED:
        raise too_large(f"more than {MOST_UNPACKED >> 20} MiB")


def too_large(found: str) -> Refusal:
    """Return the refusal of a file that holds more than a song."""
    hint = "give each song a file of its own; export the part with melody, words and chord symbols"
    return Refusal(error("score-too-large", f"expected the lead sheet of one song, found {found}", None, hint))


def damaged(what: str) -> Refusal:
    """Return the refusal of a file that cannot be read to its end."""
    return Refusal(error("score-damaged", f"expected a whole score, found {what}", None, _EXPORT))


def _unpacked(data: bytes) -> bytes:
    """Return the score in an archive."""
    if len(data) > MOST_PACKED or data.count(b"PK\x01\x02") > MOST_MEMBERS:
        raise too_large("a larger archive")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _member(data, archive, _root_file(data, archive))
    except (
        zipfile.BadZipFile,
        zlib.error,
        struct.error,
        EOFError,
        OSError,
        ValueError,
        NotImplementedError,
        RuntimeError,
    ) as fault:
        raise damaged("an archive that cannot be unpacked") from fault


def _root_file(data: bytes, archive: zipfile.ZipFile) -> str:
    """Return the name of the score: what the container names, else the only XML outside of META-INF."""
    names = [name for name in archive.namelist() if not name.endswith("/")]
    if "META-INF/container.xml" in names:
        try:
            container = _member(data, archive, "META-INF/container.xml", CHUNK)
            _check_entities(container)
            roots = [e.get("full-path", "") for e in ElementTree.fromstring(container).iter() if bare(e) == "rootfile"]
        except (Refusal, ElementTree.ParseError, ValueError, LookupError):
            roots = []
        for root in roots:
            if root in names and root.lower().endswith((".xml", ".musicxml")):
                return root
    inside = [n for n in names if n.lower().endswith((".xml", ".musicxml")) and not n.startswith(("META-INF", "__MAC"))]
    if len(inside) != 1:
        found = "none" if not inside else f"{len(inside)} and no word which one it is"
        raise Refusal(error("score-damaged", f"expected an archive with one score, found {found}", None, _EXPORT))
    return inside[0]


def _member(data: bytes, archive: zipfile.ZipFile, name: str, at_most: int = MOST_UNPACKED) -> bytes:
    """Return what a member of an archive holds."""
    info = archive.getinfo(name)
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) or info.flag_bits & 1:
        raise damaged("an archive packed in a way that scores are not")
    # The sizes that an archive states may be wrong: no more is unpacked than is wanted.
    header = data[info.header_offset : info.header_offset + HEADER]
    start = info.header_offset + HEADER + sum(struct.unpack("<HH", header[NAME_LENGTH:]))
    packed = data[start : start + info.compress_size]
    if info.compress_type == zipfile.ZIP_DEFLATED:
        packed = zlib.decompressobj(-zlib.MAX_WBITS).decompress(packed, at_most + 1)
    _check_size(len(packed) + MOST_UNPACKED - at_most)
    if zlib.crc32(packed) != info.CRC:
        raise damaged("an archive whose score is not whole")
    return packed


def _chunks(data: bytes) -> Iterator[str]:
    """Return the text piece by piece, whatever its characters are written in."""
    bare_chunks = 0
    decoder = codecs.getincrementaldecoder(_encoding(data))()
    for start in range(0, max(len(data), 1), CHUNK):
        last = start + CHUNK >= len(data)
        try:
            text = decoder.decode(data[start : start + CHUNK], last)
        except UnicodeDecodeError as fault:
            raise damaged("bytes that are no text") from fault
        bare_chunks = 0 if ">" in text else bare_chunks + 1
        if bare_chunks > LONGEST_BARE:
            raise damaged("text without an end")
        yield text


def _encoding(data: bytes) -> str:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if data.startswith((b"<\x00", b"\x00<")):
        return "utf-16-le" if data[:1] == b"<" else "utf-16-be"
    stated = _DECLARED.match(data[:1024].decode("latin-1").lstrip("\xef\xbb\xbf \t\r\n"))
    if stated is None or stated[1].lower().startswith("utf-16"):
        return "utf-8-sig"
    if not _KNOWN.fullmatch(stated[1]):
        raise damaged(f"the character set {stated[1]}")
    try:
        name = codecs.lookup(stated[1]).name
    except LookupError as fault:
        raise damaged(f"the character set {stated[1]}") from fault
    return "utf-8-sig" if name == "utf-8" else name


class _Begun(Exception):  # noqa: N818 - it never leaves this module
    """The first element has begun."""


def _check_entities(data: bytes) -> None:
    """Refuse a file that declares entities. All declarations stand before its first element."""
    parser = expat.ParserCreate()
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)

    def declared(*_: object) -> None:
        message = "expected a score, found one that declares entities of its own"
        raise Refusal(error("score-entities", message, None, "no notation program writes such; " + _EXPORT))

    def begun(*_: object) -> None:
        raise _Begun

    parser.EntityDeclHandler = declared
    parser.StartElementHandler = begun
    try:
        for chunk in _chunks(data):
            parser.Parse(chunk, False)
        parser.Parse("", True)
    except _Begun:
        return
    except expat.ExpatError as fault:
        raise damaged(f"XML that breaks off or is malformed in line {fault.lineno}") from fault


def bare(element: Element) -> str:
    """Return an element's name without its namespace; empty for a remark."""
    tag = element.tag
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def _pieces(data: bytes) -> Iterator[ScorePiece]:
    parser: ElementTree.XMLPullParser[Any] = ElementTree.XMLPullParser(("start", "end"))
    path: list[Element] = []
    total = together = outside = 0
    try:
        for chunk in chain(_chunks(data), (None,)):
            if chunk is None:
                parser.close()
            else:
                parser.feed(chunk)
            for event, element in cast(Iterator[tuple[str, Element]], parser.read_events()):
                if event == "start":
                    path.append(element)
                    total += 1
                    together += 1
                    if len(path) == 1 or len(path) > DEEPEST or total > MOST_ELEMENTS or together > MOST_TOGETHER:
                        _check_shape(path)
                    continue
                piece = _finished(path) if len(path) <= 3 else None
                path.pop()
                if piece is not None:
                    yield piece
                    outside += len(path) == 1
                    if outside > MOST_OUTSIDE:
                        raise too_large("far more")
                    del path[-1][:]  # what was read is not kept
                    together = 0
    except ElementTree.ParseError as fault:
        raise damaged(f"XML that breaks off or is malformed in line {fault.position[0]}") from fault


def _check_shape(path: list[Element]) -> None:
    """Refuse what begins as no score, is nested too deep, or else too large; let the first element of a score pass."""
    if len(path) == 1 and bare(path[0]) not in _ROOTS:
        message = f"expected a score in MusicXML, found XML that begins with `{bare(path[0])[:40]}`"
        raise Refusal(error("score-of-another-kind", message, None, _EXPORT))
    if len(path) > DEEPEST:
        raise damaged("elements nested deeper than in any score")
    if len(path) > 1:
        raise too_large("far more")


def _finished(path: list[Element]) -> ScorePiece | None:
    """Return what the end of an element completes: a piece of the head, or a bar of a part."""
    if len(path) == 2 and bare(path[1]) not in ("part", "measure"):
        return ScorePiece("", {}, path[1])
    if len(path) != 3:
        return None
    outer, inner = path[1], path[2]
    if bare(outer) == "part" and bare(inner) == "measure":
        return ScorePiece(outer.get("id", ""), dict(inner.attrib), inner)
    if bare(outer) == "measure" and bare(inner) == "part":
        return ScorePiece(inner.get("id", ""), dict(outer.attrib), inner)
    return None
