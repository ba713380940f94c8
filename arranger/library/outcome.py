"""What became of each song of a library, and of all together. Takes outcomes in any order; gives them in one order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Literal, Protocol

What = Literal["made", "unchanged", "errors", "missed", "told"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a song.

    Attributes:
        name: its path under the folder of the songs, with `/`.
        path: its path as it is printed.
        what: `made`; `unchanged`; `errors`: the song has some; `missed`: passed over, though it may be a song;
            `told`: passed over, and nothing is missing.
        made: the path of each PDF that was made, as it is printed, and how many pages it has.
        messages: what there is to say: of a song that was passed over, to stand after the path; else as it is printed.
        hint: a way out where something was passed over; may be empty.
        warnings: how many the song has.
    """

    name: str
    path: str
    what: What
    made: tuple[tuple[str, int], ...] = ()
    messages: tuple[str, ...] = ()
    hint: str = ""
    warnings: int = 0


@dataclass(slots=True)
class Summary:
    """A whole run.

    Attributes:
        counts: how many songs became what.
        warned: how many songs have warnings.
        left: how many were to be made and are not, since the run was stopped.
        gone: PDFs whose songs are gone, as they are printed.
        pruned: those that were removed.
        kept: those that are not removed, and why: what somebody has changed never is.
        stopped: why the run could not go on; empty where it could, or where somebody stopped it.
        index: whether all of the index is as it should be.
    """

    counts: dict[What, int] = field(default_factory=lambda: dict.fromkeys(("made", "unchanged", "errors", "missed"), 0))
    warned: int = 0
    left: int = 0
    gone: list[str] = field(default_factory=list)
    pruned: list[str] = field(default_factory=list)
    kept: list[tuple[str, str]] = field(default_factory=list)
    stopped: str = ""
    index: bool = True


class Listener(Protocol):
    """Whoever wants to hear how a run goes."""

    def progress(self, done: int, total: int) -> None:
        """Hear how many of the songs that are to be made are done."""

    def tell(self, outcome: Outcome) -> None:
        """Hear what became of a song; songs come in the order of their names."""


class InOrder:
    """Brings outcomes into the order of the names, as early as that can be."""

    def __init__(self, names: Iterable[str]) -> None:
        self.names = sorted(set(names))
        self.next = 0
        self.early: dict[str, list[Outcome]] = {}

    def add(self, outcome: Outcome) -> None:
        """Take an outcome. A name may have several, if they are added before any name after it has its turn."""
        self.early.setdefault(outcome.name, []).append(outcome)

    def ready(self, end: bool = False) -> Iterator[Outcome]:
        """Return the outcomes whose turn it is; at the end, all that there are."""
        while self.next < len(self.names):
            known = self.early.pop(self.names[self.next], None)
            if known is None and not end:
                return
            yield from known or ()
            self.next += 1
