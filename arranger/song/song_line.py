"""One line of a song's file, taken apart into its first word and what follows; nothing of it is understood yet."""

from typing import NamedTuple

from arranger.text.source import Span


class SongLine(NamedTuple):
    """What follows the first word of a line: the word, the text and its place."""

    word: str
    text: str
    span: Span

    def within(self, start: int, end: int) -> Span:
        """Return the place in the file of a stretch of the text."""
        return Span(self.span.start + start, self.span.start + end)
