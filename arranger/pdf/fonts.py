"""The faces: their metrics for the layout, and their subsets for the PDF. Parsed once a process.

A subset is a simple TrueType font of at most 256 characters. Every document has the same first characters in the
first subset of a text face (ASCII and the signs of chords), so that the finished subset is made once a process for
most songs.
"""

from __future__ import annotations

import struct
import unicodedata
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache

from reportlab.pdfbase.ttfonts import TTFontFace

from arranger.layout.metrics import Metrics
from arranger.layout.model import Face
from arranger.resources import font_path

FILES: dict[Face, str] = {"regular": "part-regular.ttf", "bold": "part-bold.ttf", "music": "part-music.ttf"}

ASCII = "".join(map(chr, range(32, 127)))
ALWAYS: dict[Face, str] = {"regular": ASCII + "♯♭·×–’…", "bold": ASCII + "♯♭·×–’…", "music": ""}
FIRST_EXTRA = 127  # codes below it are those of ASCII in a text face
CODES = 256

ACCENTED = 1.0  # of the size: how high capitals with one accent are (Ű 0.991, bold Å 1.011)
NO_BREAK_SPACE = "\u00a0"


class _Widths(dict[str, float]):
    """Advance widths of a face by character, per unit of size; without a glyph, that of the sign for a missing one."""

    def __init__(self, face: TTFontFace) -> None:
        super().__init__((chr(code), width / 1000) for code, width in face.charWidths.items())
        self.default = face.defaultWidth / 1000
        self[NO_BREAK_SPACE] = self.get(" ", 0.0)

    def __missing__(self, character: str) -> float:
        width = 0.0 if is_invisible(character) else self.default
        self[character] = width
        return width


def is_invisible(character: str) -> bool:
    """Tell whether a character is never drawn: joiners, direction marks and the like."""
    return unicodedata.category(character) == "Cf"


@dataclass(frozen=True, slots=True)
class LoadedFace:
    """A parsed face."""

    name: Face
    parsed: TTFontFace
    widths: _Widths

    def has(self, character: str) -> bool:
        """Tell whether there is a glyph, or none is needed."""
        return ord(character) in self.parsed.charToGlyph or is_invisible(character)

    def top(self, character: str) -> float:
        """Give how high the glyph rises above the baseline, per unit of size; 0 for a glyph without outline."""
        glyph = self.parsed.charToGlyph.get(ord(character), 0)
        start, end = self.parsed.glyphPos[glyph], self.parsed.glyphPos[glyph + 1]
        if start == end:
            return 0.0
        outline = self.parsed.get_table_pos("glyf")[0] + start
        (y_max,) = struct.unpack_from(">h", self.parsed._ttf_data, outline + 8)
        return float(y_max) / float(self.parsed.unitsPerEm)


@cache
def load(name: Face) -> LoadedFace:
    """Parse a face, once a process."""
    parsed = TTFontFace(str(font_path(FILES[name])))
    return LoadedFace(name, parsed, _Widths(parsed))


class FontMetrics:
    """The metrics of the real faces (the protocol `layout.metrics.Metrics`)."""

    def __init__(self) -> None:
        self._tops: dict[tuple[str, Face], float] = {}

    def width(self, text: str, face: Face, size: float) -> float:
        """Give the advance width."""
        return size * sum(map(load(face).widths.__getitem__, text))

    def covers(self, character: str, face: Face) -> bool:
        """Tell whether the face has a glyph for the character."""
        return load(face).has(character)

    def cap_height(self, face: Face, size: float) -> float:
        """Give the height of an unaccented capital."""
        return size * float(load(face).parsed.capHeight) / 1000

    def ascent(self, face: Face, size: float) -> float:
        """Give how far letters with one accent rise above the baseline."""
        return size * ACCENTED

    def descent(self, face: Face, size: float) -> float:
        """Give how far letters hang below the baseline (`g` 0.229, `j` 0.229, `Ç` 0.239 of the size)."""
        return size * 0.24

    def rise(self, text: str, face: Face, size: float) -> float:
        """Give how far the tallest glyph of this text rises above the baseline."""
        return size * max((self._top(character, face) for character in text), default=0.0)

    def _top(self, character: str, face: Face) -> float:
        key = (character, face)
        top = self._tops.get(key)
        if top is None:
            top = self._tops[key] = load(face).top(character)
        return top


@cache
def metrics() -> Metrics:
    """Give the metrics of the real faces."""
    return FontMetrics()


@dataclass(frozen=True, slots=True)
class Subset:
    """A finished subset, ready to be put into a document.

    Attributes:
        characters: by code; NUL where a code has none.
        program: the TrueType font, compressed.
        length: of the program before it was compressed.
        unicode_map: the ToUnicode map, compressed.
        widths: by code, per thousand.
    """

    face: Face
    base_name: str
    characters: tuple[str, ...]
    program: bytes
    length: int
    unicode_map: bytes
    widths: tuple[float, ...]


def subsets(face: Face, used: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """Divide the characters used of a face over subsets: for each, its characters by code.

    Characters that the face lacks are left out (code 0 draws the sign of a missing glyph).
    """
    always = ALWAYS[face]
    loaded = load(face)
    extra = sorted(c for c in set(used) - set(always) if loaded.has(c) and not is_invisible(c) and c != NO_BREAK_SPACE)
    codes = ["\0"] * FIRST_EXTRA
    for character in ASCII if always else ():
        codes[ord(character)] = character
    if not always:
        codes = ["\0"]
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
def finished(face: Face, characters: tuple[str, ...], number: int) -> Subset:
    """Make a subset: the font program with those characters alone, and its maps."""
    loaded = load(face)
    # A code without a character is given to one that no face has, so that it draws nothing but the missing sign.
    program = loaded.parsed.makeSubset([ord(c) for c in characters])
    name = f"{_tag(number)}+{loaded.parsed.name.decode('ascii')}"
    return Subset(
        face=face,
        base_name=name,
        characters=characters,
        program=zlib.compress(program),
        length=len(program),
        unicode_map=zlib.compress(_to_unicode(name, characters).encode("ascii")),
        widths=tuple(round(loaded.widths[c] * 1000, 2) if c != "\0" else 0 for c in characters),
    )


def _tag(number: int) -> str:
    """Give the six letters that mark a subset's name, as the PDF standard asks."""
    return "KEYSA" + chr(ord("A") + number)


def _to_unicode(name: str, characters: tuple[str, ...]) -> str:
    """Give the map from codes to Unicode, so that text can be searched; at most 100 entries a block, as Adobe asks."""
    known = [(code, c) for code, c in enumerate(characters) if c != "\0"]
    lines = [
        "/CIDInit /ProcSet findresource begin",
        "12 dict begin",
        "begincmap",
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
        f"/CMapName /{name} def",
        "/CMapType 2 def",
        "1 begincodespacerange",
        "<00> <FF>",
        "endcodespacerange",
    ]
    for start in range(0, len(known), 100):
        block = known[start : start + 100]
        lines.append(f"{len(block)} beginbfchar")
        lines += [f"<{code:02X}> <{c.encode('utf-16-be').hex().upper()}>" for code, c in block]
        lines.append("endbfchar")
    lines += ["endcmap", "CMapName currentdict /CMap defineresource pop", "end", "end"]
    return "\n".join(lines)
