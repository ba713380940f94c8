"""Hold a text that was read, and find the offset, line and column of places in it."""

import unicodedata
from bisect import bisect_right
from dataclasses import dataclass, field
from typing import NamedTuple


class Span(NamedTuple):
    """A stretch of a source's text: offsets in characters, `start` included, `end` not."""

    start: int
    end: int

    def to(self, other: "Span") -> "Span":
        """Return the span from the start of this one to the end of the other."""
        return Span(self.start, other.end)


NOWHERE = Span(0, 0)


@dataclass(frozen=True, slots=True)
class Source:
    """A named text. Offsets count characters of `text`; lines and columns count from 1.

    Make one with `Source.of` to read it; of a text that is written back, with `Source.typed`, which keeps its letters.
    """

    name: str
    text: str
    _starts: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        starts = [0]
        position = self.text.find("\n")
        while position >= 0:
            starts.append(position + 1)
            position = self.text.find("\n", position + 1)
        object.__setattr__(self, "_starts", tuple(starts))

    @classmethod
    def of(cls, name: str, text: str) -> "Source":
        """Make a source of raw text: without a byte-order mark, line ends as one newline, normalised to NFC."""
        return cls(name, unicodedata.normalize("NFC", cls.typed(name, text).text))

    @classmethod
    def typed(cls, name: str, text: str) -> "Source":
        """Make a source of raw text as it was typed: without a byte-order mark, line ends as one newline."""
        return cls(name, text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n"))

    def __getitem__(self, span: Span) -> str:
        return self.text[span.start : span.end]

    @property
    def line_count(self) -> int:
        """How many lines there are; an empty text has one."""
        return len(self._starts)

    def line_column(self, offset: int) -> tuple[int, int]:
        r"""Return the line and column, both from 1, of an offset.

        >>> Source("a", "one\ntwo").line_column(5)
        (2, 2)
        """
        line = bisect_right(self._starts, offset)
        return line, offset - self._starts[line - 1] + 1

    def line_span(self, line: int) -> Span:
        """Return the span of a line (from 1) without its line end."""
        start = self._starts[line - 1]
        end = self._starts[line] - 1 if line < len(self._starts) else len(self.text)
        return Span(start, end)
