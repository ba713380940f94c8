"""Lay a sheet's text out in columns, as a font of one width shows it, its lines one below the other.

Tabs, blanks of other widths, marks of quotation in mails, blank lines between all lines and two columns beside each
other are undone here, so that no later step knows of them.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from itertools import dropwhile, pairwise

from arranger.convert.model import SheetLine
from arranger.convert.unwrapping import unwrapped
from arranger.song.read import MOST_BYTES, other_file
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import Source


def decode_sheet(name: str, data: bytes) -> tuple[Source | None, tuple[Diagnostic, ...], str]:
    """Make a source of a sheet's bytes: UTF-8, UTF-16 with its mark, or the old encoding of western Windows.

    Return the source or what was found instead, and the name of the encoding where it is another than UTF-8.
    """
    other = other_file(data)
    if other is not None:
        kind, hint = other
        return None, (error("sheet-not-text", f"expected plain text, found {kind}", None, hint),), ""
    if len(data) > MOST_BYTES:
        message = f"expected the sheet of one song, found {len(data):,} bytes"
        return None, (error("sheet-of-many", message, None, "give each song a file of its own"),), ""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        with suppress(UnicodeDecodeError):
            return Source.of(name, data.decode("utf-16")), (), "UTF-16"
    if b"\x00" in data:
        return None, (error("sheet-not-text", "expected plain text, found bytes that are no text", None),), ""
    for encoding, encoding_name in (("utf-8", ""), ("cp1252", "Windows-1252")):
        with suppress(UnicodeDecodeError):
            return Source.of(name, data.decode(encoding)), (), encoding_name
    return Source.of(name, data.decode("latin-1")), (), "ISO 8859-1"


TAB_STOPS = 8  # columns; what terminals, mails and plain-text editors show
GUTTER = 3  # blanks that part two columns; between words one stands, seldom two
NARROWEST = 20  # characters that a left column has at least; a line of a verse is longer
SUPPORT = 3  # lines of words that must start in a second column before it is one

# Blanks of all widths, and what mends of web pages leave: no width, but columns shift by them in no editor.
_BLANKS = re.compile("[\u00a0\u1680\u2000-\u200a\u202f\u205f]")
_NOTHING = re.compile("[\u00ad\u200b\u2060\ufeff]")
_LINE_ENDS = re.compile("[\x0b\x0c\x1c-\x1e\x85\u2028\u2029]")
_CONTROLS = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f]")
_QUOTED = re.compile(r"\s*(?:>\s?)+")
_WIDE_GAP = re.compile(rf" {{{GUTTER},}}")


def lines_of(source: Source) -> tuple[SheetLine, ...]:
    r"""Return the sheet's lines in columns.

    >>> [line.text for line in lines_of(Source.of("a", "> G\tD\n> Hello"))]
    ['G       D', 'Hello']
    """
    typed = enumerate(_NOTHING.sub("", source.text).split("\n"), start=1)
    texts = [(n, part) for n, line in typed for part in _LINE_ENDS.split(line)]
    texts = unwrapped(texts)
    quoted = [bool(_QUOTED.match(line)) for _, line in texts if line.strip()]
    if quoted and 5 * sum(quoted) >= 4 * len(quoted):
        texts = [(n, _QUOTED.sub("", line, count=1)) for n, line in texts]
    lines = [SheetLine(n, _cells(line)) for n, line in texts]
    return tuple(_single_spaced(_one_column(lines)))


def _cells(text: str) -> tuple[str, ...]:
    """Lay a text out in columns."""
    text = _CONTROLS.sub("", _BLANKS.sub(" ", text.rstrip()).replace("\t", "\v"))
    if text.isascii() and "\v" not in text:
        return tuple(text)
    cells: list[str] = []
    for character in text:
        if character == "\v":
            cells += [" "] * (TAB_STOPS - len(cells) % TAB_STOPS)
        elif unicodedata.category(character) in ("Mn", "Me", "Cf") and cells:
            cells[-1] += character
        elif unicodedata.east_asian_width(character) in ("W", "F"):
            cells += [" ", " "] if character == "\u3000" else [character, ""]
        else:
            cells.append(character)
    return tuple(cells)


def _single_spaced(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """Take single blank lines away where one stands between all lines; of more, one stays."""
    filled = [i for i, line in enumerate(lines) if line.cells]
    pairs = list(pairwise(filled))
    if not pairs or any(b - a == 1 for a, b in pairs) or not any(b - a == 2 for a, b in pairs):
        return list(lines)
    between = {a + 1 for a, b in pairs if b - a == 2}
    return [line for i, line in enumerate(lines) if i not in between]


def _one_column(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """Set a second column below the first one."""
    second = _second_column(lines)
    if second is None:
        return list(lines)
    beside = [i for i, line in enumerate(lines) if len(line.cells) > second]
    first, last = beside[0], beside[-1]
    while last + 1 < len(lines) and len(lines[last + 1].cells) <= second - GUTTER:
        last += 1  # and end lower
    while first and lines[first - 1].cells and len(lines[first - 1].cells) <= second - GUTTER:
        first -= 1  # the left column may begin higher
    body = lines[first : last + 1]
    left = [SheetLine(line.number, _trimmed(line.cells[:second])) for line in body]
    right = [SheetLine(line.number, _trimmed(line.cells[second:])) for line in body]
    return [*lines[:first], *left, SheetLine(lines[first].number, ()), *right, *lines[last + 1 :]]


def _trimmed(cells: tuple[str, ...]) -> tuple[str, ...]:
    return cells[: max((i for i, cell in enumerate(cells, start=1) if cell != " "), default=0)]


def _second_column(lines: Sequence[SheetLine]) -> int | None:
    """Find where a second column starts: many lines have words there after a wide gap, and none runs across."""
    starts: Counter[int] = Counter()
    more: Counter[int] = Counter()  # where words go on behind a wide gap
    for line in lines:
        text = "".join(cell or " " for cell in line.cells)
        gaps = (m for m in _WIDE_GAP.finditer(text.rstrip()) if m.end() >= NARROWEST and text[: m.start()].strip())
        more.update(
            m.end() for m in _WIDE_GAP.finditer(text.rstrip()) if text[m.start() - 1].isalpha() and _wordy(text)
        )
        # Words stand on both sides: rows of chords have gaps everywhere, and say nothing.
        gap = next(gaps, None)
        if gap is not None and _wordy(text[: gap.start()]) and _wordy(text[gap.end() :]):
            starts[gap.end()] += 1
    if not starts:
        return None
    column, support = starts.most_common(1)[0]
    if 2 * max((count for place, count in more.items() if place != column), default=0) > support:
        return None  # words are set apart to stand under their chords
    wordy = sum(_wordy(line.text) for line in lines)
    # Lines may run across the gutter at the top (title, people).
    across = [line.part(column - 2, column) != "  " for line in lines if len(line.cells) > column]
    crossed = any(dropwhile(bool, across))
    return column if support >= SUPPORT and 3 * support >= wordy and not crossed else None


def _wordy(text: str) -> bool:
    """Return whether a text has at least two words in small letters."""
    return sum(word[1:].islower() and len(word) > 2 for word in text.split()) >= 2
