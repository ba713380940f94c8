"""Shape text in a script whose letters join or change places into glyphs: the only home of uharfbuzz, an extra.

Without it nothing is shaped, and the layout says what cannot be printed.
"""

from functools import cache, lru_cache
from itertools import pairwise
from typing import Any

import reportlab

from arranger import late
from arranger.layout.model import Glyph
from arranger.resources import font_bytes


@cache
def libraries(own_fonts: bool) -> tuple[tuple[str, str], ...]:
    """Return the libraries that the bytes of a PDF depend on, with their versions.

    Args:
        own_fonts: the player has fonts of his own, whose letters may have to be joined.
    """
    joining = getattr(shaper(), "__version__", "none") if own_fonts else ""
    return (("reportlab", reportlab.Version), *((("uharfbuzz", joining),) if own_fonts else ()))


def shaper() -> Any:
    """Return uharfbuzz; None where the extra is not installed."""
    try:
        return late.load("uharfbuzz")
    except ImportError:
        return None


@cache
def shapes_of(path: str) -> Any:
    """Return the shapes of the letters of a font, as uharfbuzz has them."""
    return shaper().Face(font_bytes(path))


@lru_cache(maxsize=4096)
def shape(path: str, text: str, leftward: bool) -> tuple[Glyph, ...]:
    """Shape a text with a face; empty where the extra is absent. Glyphs come in the order in which they stand."""
    harfbuzz = shaper()
    if harfbuzz is None:
        return ()
    face = shapes_of(path)
    buffer = harfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if leftward else "ltr"
    harfbuzz.shape(harfbuzz.Font(face), buffer)
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
