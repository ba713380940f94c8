"""Shaping: text in a script whose letters join or change places -> glyphs, and subsets of faces by glyph.

The only home of uharfbuzz, which is an extra: without it nothing is shaped and the layout says what cannot be printed.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any

from arranger.late import load
from arranger.layout.model import Glyph
from arranger.resources import font_bytes


@dataclass(frozen=True, slots=True)
class GlyphSubset:
    """The glyphs of a face that a document uses: the font program (compressed), its length before, the widths."""

    program: bytes
    length: int
    widths: tuple[tuple[int, float], ...]  # per thousand, by glyph


@cache
def library() -> Any:
    """Return uharfbuzz; None where the extra is not installed."""
    try:
        return load("uharfbuzz")
    except ImportError:
        return None


@cache
def _face(path: str) -> Any:
    return library().Face(font_bytes(path))


@lru_cache(maxsize=4096)
def shape(path: str, text: str, leftward: bool) -> tuple[Glyph, ...]:
    """Shape a text with a face; empty where the extra is absent. Glyphs come in the order in which they stand."""
    uharfbuzz = library()
    if uharfbuzz is None:
        return ()
    face = _face(path)
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if leftward else "ltr"
    uharfbuzz.shape(uharfbuzz.Font(face), buffer)
    unit = float(face.upem)
    starts = sorted({info.cluster for info in buffer.glyph_infos})
    reads = {start: text[start:end] for start, end in pairwise((*starts, len(text)))}
    return tuple(
        Glyph(
            info.codepoint,
            place.x_advance / unit,
            place.x_offset / unit,
            place.y_offset / unit,
            reads.pop(info.cluster, ""),
        )
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
    )


def glyph_subset(path: str, used: Mapping[int, Glyph]) -> GlyphSubset:
    """Return a face cut to the glyphs used, which keep their numbers."""
    uharfbuzz = library()
    wanted = uharfbuzz.SubsetInput()
    wanted.sets(uharfbuzz.SubsetInputSets.GLYPH_INDEX).set(set(used))
    wanted.flags = uharfbuzz.SubsetFlags.RETAIN_GIDS | uharfbuzz.SubsetFlags.NO_HINTING
    program = uharfbuzz.subset(_face(path), wanted).blob.data
    widths = tuple((number, round(used[number].advance * 1000, 2)) for number in sorted(used))
    return GlyphSubset(zlib.compress(program), len(program), widths)
