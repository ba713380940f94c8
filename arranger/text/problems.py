"""Gather the diagnostics of one file while it is read; find the known words nearest to one."""

from __future__ import annotations

from collections.abc import Iterable

from arranger.late import load
from arranger.text.diagnostics import Diagnostic, Fix, error, in_order, warning
from arranger.text.source import Span

MOST_ERRORS = 500  # told of one file; one with more is no song, and nobody reads so many
LOOKUPS = 60  # nearest words sought in one file: comparing is slow, and a file with more mistakes is no song
LONGEST = 40  # characters of a word that is compared; none of ours is longer
NEAR = 0.6  # difflib's ratio: "vesre" is near "verse", "bass" is not near "sing"


class EnoughError(Exception):
    """There are `MOST_ERRORS` errors; reading stops. Caught in `read`."""


class Problems:
    """Gathers the diagnostics of one file while it is read. Mutable; lives for one `read` only."""

    def __init__(self) -> None:
        self._found: list[Diagnostic] = []
        self._lookups = LOOKUPS
        self.errors = 0

    def error(self, code: str, message: str, span: Span | None, *hints: str, fix: Fix | None = None) -> None:
        """Note an error; empty hints are left out. `fix` only where nothing else can have been meant.

        Raises:
            EnoughError: it was the last that is told.
        """
        self.errors += 1
        self._found.append(error(code, message, span, *filter(None, hints), fix=fix))
        if self.errors == MOST_ERRORS:
            raise EnoughError

    def warning(self, code: str, message: str, span: Span | None, *hints: str, fix: Fix | None = None) -> None:
        """Note a warning; empty hints are left out."""
        self._found.append(warning(code, message, span, *filter(None, hints), fix=fix))

    def nearest(self, word: str, known: Iterable[str], count: int = 1) -> list[str]:
        """Return the known words nearest to one, read without case, nearest first; none after `LOOKUPS` questions."""
        if self._lookups == 0 or not word or len(word) > LONGEST:
            return []
        self._lookups -= 1
        names = {name.casefold(): name for name in reversed(list(known))}
        near: list[str] = load("difflib").get_close_matches(word.casefold(), names, count, NEAR)
        return [names[name] for name in near]

    def all(self) -> tuple[Diagnostic, ...]:
        """Return all in the order of their places."""
        return in_order(self._found)


def shown(text: str, longest: int = 40) -> str:
    """Quote text that was found, cut where it is long.

    >>> shown("72 bpm")
    '`72 bpm`'
    """
    text = " ".join(text.split())
    return f"`{text if len(text) <= longest else text[: longest - 1] + '…'}`"


def count(number: int, thing: str) -> str:
    """Return a number with its word.

    >>> count(1, "bar"), count(3, "mark")
    ('1 bar', '3 marks')
    """
    return f"{number} {thing}{'' if number == 1 else 's'}"
