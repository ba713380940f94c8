"""What the layout must know of fonts. The pipeline passes in the real ones; tests pass in square ones."""

from __future__ import annotations

from typing import Protocol

from arranger.layout.model import Face, Glyph


class Metrics(Protocol):
    """Widths, heights and coverage of the faces. Lengths are in points at the given size.

    One instance always gives the same: what is set with it is remembered by it.
    """

    def __hash__(self) -> int:
        """Tell instances apart."""

    def width(self, text: str, face: Face, size: float) -> float:
        """Return the advance width."""

    def covers(self, character: str, face: Face) -> bool:
        """Return whether the face has a glyph for the character."""

    def fallbacks(self, face: Face) -> tuple[Face, ...]:
        """Return the faces that are tried, in order, for what a face lacks."""

    def shaped(self, text: str, face: Face, leftward: bool) -> tuple[Glyph, ...]:
        """Shape a text; empty where that cannot be done."""

    def cap_height(self, face: Face, size: float) -> float:
        """Return the height of an unaccented capital."""

    def ascent(self, face: Face, size: float) -> float:
        """Return how far letters with one accent rise above the baseline."""

    def descent(self, face: Face, size: float) -> float:
        """Return how far letters hang below the baseline, above 0."""

    def rise(self, text: str, face: Face, size: float) -> float:
        """Return how far the tallest glyph of a text rises above the baseline (stacked accents rise over `ascent`)."""
