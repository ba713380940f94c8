"""Turn places in a text as songs count them into places as browsers count them. The one place where that is done.

Songs count characters of a text in Unicode's form C with one newline for each line end (`Source.of`); browsers count
the 16-bit units of UTF-16 in the text as it was typed.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_right
from typing import NamedTuple

from arranger.text.source import Span

BEYOND = 0x10000  # characters from here on are two units


class TextPlaces(NamedTuple):
    """The places at which stretches of a text begin: in the song's count, and in the browser's; both rise."""

    song: tuple[int, ...]
    browser: tuple[int, ...]

    def shown(self, offset: int) -> int:
        """Return where an offset of the song is in the browser's text."""
        at = bisect_right(self.song, offset) - 1
        more = offset - self.song[at]
        if at + 1 == len(self.song):
            return self.browser[at]
        return min(self.browser[at] + more, self.browser[at + 1])

    def meant(self, offset: int) -> int:
        """Return which offset of the song a place in the browser's text is."""
        at = bisect_right(self.browser, offset) - 1
        if at + 1 == len(self.browser):
            return self.song[at]
        return min(self.song[at] + offset - self.browser[at], self.song[at + 1])

    def ends(self, span: Span) -> tuple[int, int]:
        """Return where a stretch of the song begins and ends in the browser's text."""
        return self.shown(span.start), self.shown(span.end)


def places(typed: str) -> TextPlaces:
    r"""Return how places in the song made of a typed text answer to places in that text.

    >>> places("a\u0301b").shown(1), places("\U0001d11eD").shown(1), places("a\r\nb").shown(2)
    (2, 2, 3)
    """
    song, browser = [0], [0]
    counted = units = 0
    for piece in _stretches(typed):
        counted += len(unicodedata.normalize("NFC", piece.replace("\r\n", "\n")))
        units += sum(1 + (ord(character) >= BEYOND) for character in piece)
        song.append(counted)
        browser.append(units)
    if typed.startswith("\ufeff"):  # which is no part of the song
        song = [max(0, place - 1) for place in song]
    return TextPlaces(tuple(song), tuple(browser))


def _stretches(typed: str) -> list[str]:
    """Part a text where its two counts may differ; every stretch by itself is normalised as it is inside the text."""
    if typed.isascii() and "\r\n" not in typed:
        return [typed] if typed else []
    found: list[str] = []
    plain = 0  # where a stretch of plain characters began
    at = 0
    while at < len(typed):
        end = _joined(typed, at)
        if end - at == 1 and ord(typed[at]) < BEYOND and unicodedata.is_normalized("NFC", typed[at]):
            at = end
            continue
        if plain < at:
            found.append(typed[plain:at])
        found.append(typed[at:end])
        plain = at = end
    if plain < at:
        found.append(typed[plain:at])
    return found


def _joined(typed: str, at: int) -> int:
    """Return the end of the stretch from a place on whose characters may become one: the next begins anew."""
    end = at + 1
    if typed[at] == "\r" and typed[end : end + 1] == "\n":
        return end + 1
    while end < len(typed) and _joins(typed[at:end], typed[end]):
        end += 1
    return end


def _joins(before: str, character: str) -> bool:
    if ord(character) < 0x300:  # nothing below the first combining mark joins what stands before it
        return False
    if unicodedata.combining(character):
        return True
    apart = unicodedata.normalize("NFC", before) + unicodedata.normalize("NFC", character)
    return unicodedata.normalize("NFC", before + character) != apart


def units(text: str) -> int:
    """Return how many units a text has in a browser."""
    return len(text) + sum(ord(character) >= BEYOND for character in text)
