"""Load the fonts: their metrics for the layout, and subsets of them for the PDF. Parsed once a process.

A subset is a simple TrueType font of at most 256 characters. Every document has the same first characters in the
first subset of a text face (ASCII and the signs of chords), so that the finished subset is made once a process for
most songs.
"""

import pickle
import re
import struct
import unicodedata
import zlib
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import cache, lru_cache
from io import BytesIO
from typing import NamedTuple

import reportlab
from reportlab.pdfbase.ttfonts import TTFontFace, TTFontFile

from arranger.layout.model import Face, Glyph
from arranger.layout.text import Metrics
from arranger.pdf.shaping import shape, shaper, shapes_of
from arranger.resources import FONT_FILES, FontError, font_bytes, font_path, keep, kept

OTHERS: tuple[Face, ...] = ("other 1", "other 2", "other 3")  # what the player's own fonts are called
Others = tuple[str, ...]  # the paths of the player's own fonts

ASCII = "".join(map(chr, range(32, 127)))
ALWAYS: dict[Face, str] = {"regular": ASCII + "♯♭·×–’…", "bold": ASCII + "♯♭·×–’…"}  # the others: nothing
FIRST_EXTRA = 127  # codes below it are those of ASCII in a text face
CODES = 256

ACCENTED = 1.0  # of the size: how high capitals with one accent are (Ű 0.991, bold Å 1.011)
NO_BREAK_SPACE = "\u00a0"

NO_FONT = "is no TrueType font, or a damaged one (fonts with PostScript outlines cannot be used)"
NAME = r"[A-Za-z0-9+._,&-]{1,127}"  # of a font in a PDF: letters that need no sign of their own there
UNITS = (16, 16384)  # to the size of a font (OpenType, table head)
MOST_IN_COLLECTION = 256  # fonts; those in use have some ten
MOST_CHARACTER_MAPS = 64  # of one font; those in use have some five
CHARACTERS = 0x110000  # all that Unicode has room for


class _Widths(dict[str, float]):
    """Advance widths of a face by character, per unit of size; without a glyph, that of the sign for a missing one.

    Those are here that were asked for: few of a face's characters are.
    """

    def __init__(self, face: TTFontFace) -> None:
        super().__init__()
        self._glyphs: Mapping[int, int] = face.charToGlyph
        self._advances: Sequence[float] = face.advances
        self._default: float = face.defaultWidth

    def __missing__(self, character: str) -> float:
        glyph = self._glyphs.get(ord(" " if character == NO_BREAK_SPACE else character))
        if glyph is not None and glyph < len(self._advances):  # else the font is damaged
            advance = self._advances[glyph]
        else:
            advance = 0.0 if character == NO_BREAK_SPACE or is_invisible(character) else self._default
        width = self[character] = advance / 1000
        return width


def is_invisible(character: str) -> bool:
    """Return whether a character is never drawn: joiners, direction marks and the like."""
    return unicodedata.category(character) == "Cf"


class LoadedFace:
    """A parsed face; one of the program's own is kept under its `name`."""

    def __init__(self, path: str, name: str = "") -> None:
        self.path = path
        self.parsed = _parsed(path, name)
        self.name = self.parsed.name.decode("ascii", "replace")
        self.widths = _Widths(self.parsed)
        self._tops: dict[str, float] = {}

    def has(self, character: str) -> bool:
        """Return whether there is a glyph, or none is needed."""
        return ord(character) in self.parsed.charToGlyph or is_invisible(character)

    def top(self, character: str) -> float:
        """Return how high the glyph rises above the baseline, per unit of size; 0 for a glyph without outline."""
        if character not in self._tops:
            with _using(self.path):
                self._tops[character] = self._outline_top(self.parsed.charToGlyph.get(ord(character), 0))
        return self._tops[character]

    def _outline_top(self, glyph: int) -> float:
        start, end = self.parsed.glyphPos[glyph], self.parsed.glyphPos[glyph + 1]
        if start == end:
            return 0.0
        outline = self.parsed.get_table_pos("glyf")[0] + start
        (y_max,) = struct.unpack_from(">h", self.parsed._ttf_data, outline + 8)
        return float(y_max) / float(self.parsed.unitsPerEm)


def _parsed(path: str, name: str) -> TTFontFace:
    """Return a parsed font; one of the program's own as it was kept by this reportlab, for parsing it takes longer."""
    data = font_bytes(path)
    if not name:
        return _compact(TTFontFace(BytesIO(data)))
    made_of = f"{reportlab.Version} {KEPT_AS} ".encode() + data
    content = kept(name, made_of)
    if content is not None:
        with suppress(Exception):  # whatever it holds: the font can be parsed anew
            face = TTFontFace.__new__(TTFontFace)
            vars(face).update(pickle.loads(content), _ttf_data=data)  # trusted as the program is: see `kept`
            return face
    face = _compact(TTFontFace(BytesIO(data)))
    parts = {part: value for part, value in vars(face).items() if part not in ("_ttf_data", "_pdfScale")}
    keep(name, made_of, pickle.dumps(parts))
    return face


KEPT_AS = 2  # the form in which a face is kept; another number where `_compact` does something else


def _compact(face: TTFontFace) -> TTFontFace:
    """Return a face in half the room: its advance widths (thousandths of the size) by glyph, not by character."""
    face.advances = array("d", bytes(8 * len(face.hmetrics)))
    for code, width in face.charWidths.items():
        face.advances[face.charToGlyph[code]] = width
    face.glyphPos = array("I", face.glyphPos)
    seen: dict[tuple[int, int], tuple[int, int]] = {}
    face.hmetrics = [seen.setdefault(pair, pair) for pair in face.hmetrics]  # half are alike: they are kept once
    del face.charWidths, face.glyphToChar  # the second is wanted only while a font is parsed
    return face


def path_of(name: Face, others: Others = ()) -> str:
    """Return the file of a face."""
    return others[OTHERS.index(name)] if name in OTHERS else str(font_path(FONT_FILES[name]))


@cache
def load(name: Face, others: Others = ()) -> LoadedFace:
    """Return a face, parsed once a process."""
    return _loaded(path_of(name, others), FONT_FILES.get(name, ""))


_loaded = cache(LoadedFace)


@contextmanager
def _using(path: str) -> Iterator[None]:
    try:
        yield
    except MemoryError:
        raise
    except Exception as fault:  # the parser believes what it reads, and fails in many ways
        raise FontError(f"the font {path} {NO_FONT}") from fault


def problem_with(path: str) -> str | None:
    """Return why a font of the player's cannot be used; None where nothing is wrong that can be seen at once."""
    try:
        _check_characters(font_bytes(path))
        face = _loaded(path, "")
    except OSError as trouble:
        return f"cannot be read: {trouble.strerror}"
    except Exception:  # the parser believes what it reads, and fails in many ways
        return NO_FONT
    return None if re.fullmatch(NAME, face.name) and UNITS[0] <= face.parsed.unitsPerEm <= UNITS[1] else NO_FONT


def _check_characters(data: bytes) -> None:
    """Refuse a font that has more characters than there are: to count them through would take the day.

    Raises:
        ValueError: it has, or is a collection of more fonts than there are in any.
        LookupError, struct.error: it is no font.
    """
    if data[:4] == b"ttcf" and struct.unpack_from(">L", data, 8)[0] > MOST_IN_COLLECTION:
        raise ValueError("expected a font or a few")
    cmap = TTFontFile(BytesIO(data), charInfo=0).get_table_pos("cmap")[0]
    maps = struct.unpack_from(">H", data, cmap + 2)[0]
    if maps > MOST_CHARACTER_MAPS:
        raise ValueError("expected some maps of characters")
    for number in range(maps):
        start = cmap + int(struct.unpack_from(">L", data, cmap + 8 + 8 * number)[0])
        (kind,) = struct.unpack_from(">H", data, start)
        if kind == 4:
            count = struct.unpack_from(">H", data, start + 6)[0] // 2
            ends = struct.unpack_from(f">{count}H", data, start + 14)
            starts = struct.unpack_from(f">{count}H", data, start + 16 + 2 * count)
        elif kind in (12, 13):
            groups = struct.unpack_from(">L", data, start + 12)[0]
            numbers = struct.unpack_from(f">{3 * groups}L", data, start + 16)
            starts, ends = numbers[::3], numbers[1::3]
        else:
            continue
        if sum(max(0, end - first + 1) for first, end in zip(starts, ends, strict=True)) > CHARACTERS:
            raise ValueError("expected a character once")


class FontMetrics:
    """The metrics of the real faces (the protocol `layout.text.Metrics`), with those of the player's own fonts."""

    def __init__(self, others: Others = ()) -> None:
        self._others = others
        named = OTHERS[: len(others)]
        self._fallbacks: dict[Face, tuple[Face, ...]] = {
            "regular": ("music", "greek", *named),
            "bold": ("music", "greek bold", *named),
        }

    def fallbacks(self, face: Face) -> tuple[Face, ...]:
        """Return the faces that are tried, in order, for what a face lacks."""
        return self._fallbacks.get(face, ())

    def shaped(self, text: str, face: Face, leftward: bool) -> tuple[Glyph, ...]:
        """Shape a text with one of the player's fonts; the program's own need no shaping."""
        if face not in OTHERS:
            return ()
        path = path_of(face, self._others)
        with _using(path):
            return shape(path, text, leftward)

    def width(self, text: str, face: Face, size: float) -> float:
        """Return the advance width."""
        return size * sum(map(load(face, self._others).widths.__getitem__, text))

    def covers(self, character: str, face: Face) -> bool:
        """Return whether the face has a glyph for the character."""
        return load(face, self._others).has(character)

    def cap_height(self, face: Face, size: float) -> float:
        """Return the height of an unaccented capital."""
        return size * float(load(face, self._others).parsed.capHeight) / 1000

    def ascent(self, face: Face, size: float) -> float:
        """Return how far letters with one accent rise above the baseline."""
        return size * ACCENTED

    def descent(self, face: Face, size: float) -> float:
        """Return how far letters hang below the baseline (`g` 0.229, `j` 0.229, `Ç` 0.239 of the size)."""
        return size * 0.24

    def rise(self, text: str, face: Face, size: float) -> float:
        """Return how far the tallest glyph of this text rises above the baseline."""
        return size * _rise(text, face, self._others)


@lru_cache(maxsize=4096)  # texts: looks of one part ask for the same
def _rise(text: str, face: Face, others: Others) -> float:
    return max(map(load(face, others).top, text), default=0.0)


@cache
def metrics(others: Others = ()) -> Metrics:
    """Return the metrics of the real faces, with those of the player's own fonts."""
    return FontMetrics(others)


class Subset(NamedTuple):
    """A finished subset, ready to be put into a document."""

    face: Face
    base_name: str
    program: bytes  # the TrueType font, compressed
    length: int  # of the program before it was compressed
    unicode_map: bytes  # the ToUnicode map, compressed
    widths: tuple[float, ...]  # by code, or of each glyph, per thousand
    characters: tuple[str, ...] = ()  # by code; NUL where a code has none
    numbers: tuple[int, ...] = ()  # of the glyphs, where they are drawn by their numbers


def subsets(face: Face, used: Iterable[str], others: Others = ()) -> tuple[tuple[str, ...], ...]:
    """Divide the characters used of a face over subsets: for each, its characters by code.

    Characters that the face lacks are left out (code 0 draws the sign of a missing glyph).
    """
    always = ALWAYS.get(face, "")
    loaded = load(face, others)
    extra = sorted(c for c in set(used) - set(always) if loaded.has(c) and not is_invisible(c) and c != NO_BREAK_SPACE)
    codes = ["\0"]
    if always:
        codes = [chr(code) if chr(code) in ASCII else "\0" for code in range(FIRST_EXTRA)]
        codes += [c for c in always if c not in ASCII]
    parts = []
    while extra:
        room = CODES - len(codes)
        codes += extra[:room]
        extra = extra[room:]
        parts.append(tuple(codes))
        codes = ["\0"]
    return tuple(parts) or (tuple(codes),)


@lru_cache(maxsize=64)
def finished(face: Face, characters: tuple[str, ...], number: int, others: Others = ()) -> Subset:
    """Make a subset: the font program with those characters alone, and its maps."""
    loaded = load(face, others)
    # A code without a character is given to one that no face has, so that it draws nothing but the missing sign.
    with _using(loaded.path):
        program = loaded.parsed.makeSubset([ord(c) for c in characters])
    known = [(code, c) for code, c in enumerate(characters) if c != "\0"]
    widths = tuple(round(loaded.widths[c] * 1000, 2) if c != "\0" else 0 for c in characters)
    tag = "KEYS" + chr(ord("A") + number // 26) + chr(ord("A") + number % 26)  # six letters, as the PDF standard asks
    name = f"{tag}+{loaded.name}"
    reads = _unicode_map(name, known, "02X")
    return Subset(face, name, zlib.compress(program), len(program), reads, widths, characters=characters)


def glyphs(face: Face, used: Mapping[int, Glyph], others: Others) -> Subset:
    """Make a subset of the glyphs used, which keep their numbers.

    What a glyph reads as is as the text has it where it was last used; where letters change their order, each text
    says itself what it reads as (`ActualText`).
    """
    loaded, harfbuzz = load(face, others), shaper()
    numbers = tuple(sorted(used))
    with _using(loaded.path):
        wanted = harfbuzz.SubsetInput()
        wanted.sets(harfbuzz.SubsetInputSets.GLYPH_INDEX).set(set(used))
        wanted.flags = harfbuzz.SubsetFlags.RETAIN_GIDS | harfbuzz.SubsetFlags.NO_HINTING
        program = harfbuzz.subset(shapes_of(loaded.path), wanted).blob.data
    known = [(number, used[number].text) for number in numbers if used[number].text]
    widths = tuple(round(used[number].advance * 1000, 2) for number in numbers)
    name = f"KEYSZZ+{loaded.name}"
    reads = _unicode_map(name, known, "04X")
    return Subset(face, name, zlib.compress(program), len(program), reads, widths, numbers=numbers)


def _unicode_map(name: str, known: Sequence[tuple[int, str]], width: str) -> bytes:
    """Return a map from codes, in order, to what they read as, so that text can be searched; compressed.

    It has at most 100 entries a block, as Adobe asks. A code is written as `width`: `02X` for one byte, `04X` for two.
    """
    last = "FF" if width == "02X" else "FFFF"
    lines = [
        "/CIDInit /ProcSet findresource begin",
        "12 dict begin",
        "begincmap",
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
        f"/CMapName /{name} def",
        "/CMapType 2 def",
        "1 begincodespacerange",
        f"<{0:{width}}> <{last}>",
        "endcodespacerange",
    ]
    for start in range(0, len(known), 100):
        block = known[start : start + 100]
        lines.append(f"{len(block)} beginbfchar")
        lines += [f"<{code:{width}}> <{c.encode('utf-16-be').hex().upper()}>" for code, c in block]
        lines.append("endbfchar")
    lines += ["endcmap", "CMapName currentdict /CMap defineresource pop", "end", "end"]
    return zlib.compress("\n".join(lines).encode("ascii"))
