"""Metrics of a font whose every character is as wide and as high as its size: breaks come out in whole numbers."""

from __future__ import annotations

from arranger.layout.model import Face, Glyph


class SquareMetrics:
    """Square characters; `missing` have no glyph in any face, `music` only in the music face."""

    def __init__(self, missing: str = "", music: str = "") -> None:
        self.missing = missing
        self.music = music

    def width(self, text: str, face: Face, size: float) -> float:
        return size * len(text)

    def covers(self, character: str, face: Face) -> bool:
        return character not in self.missing and (face == "music" or character not in self.music)

    def fallbacks(self, face: Face) -> tuple[Face, ...]:
        return () if face == "music" else ("music",)

    def shaped(self, text: str, face: Face, leftward: bool) -> tuple[Glyph, ...]:
        return ()

    def cap_height(self, face: Face, size: float) -> float:
        return size

    def ascent(self, face: Face, size: float) -> float:
        return size

    def descent(self, face: Face, size: float) -> float:
        return 0.0

    def rise(self, text: str, face: Face, size: float) -> float:
        return size if text else 0.0


SQUARE = SquareMetrics()
