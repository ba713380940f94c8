"""Make the PDFs of songs, from bytes to bytes: the work of one worker. No file is touched, nothing is printed.

So a worker can be any process anywhere that has the program; of a song whose worker dies, nothing is left behind.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, Protocol

from arranger.intake import Wishes, to_song
from arranger.late import load
from arranger.layout.setting.known_bars import KEPT
from arranger.library.catalogue import SongFacts
from arranger.library.scan import STAGE
from arranger.library.song_entry import broken_entry, entry
from arranger.library.workers import NoWorkersError
from arranger.pipeline import to_arrangement, to_part
from arranger.resources import FontError
from arranger.settings import ALSO
from arranger.song.read import decode
from arranger.staging import to_stage
from arranger.text.diagnostics import Diagnostic, has_errors, in_order, render

WARM = b"song Warm\nkey C\nsection Verse\n| C / F G7 |\nsing | la * la * la |\n"


class SongTask(NamedTuple):
    """A song to make PDFs of: its name in the library, its path for messages, its bytes, and the name of its part."""

    name: str
    path: str
    data: bytes
    output: str


class MadeSong(NamedTuple):
    """What became of a song.

    Attributes:
        name: the song's name.
        documents: a file and what is said of it, for each kind asked for; None where the song has errors.
        messages: what there is to say, in the order of the text, as it is printed.
        errors, warnings: how many of each.
        entry: the song's facts; None where the program failed.
        fault: why the program failed; empty where it did not.
        way_out: what to do about the fault, where it is known.
    """

    name: str
    documents: tuple[tuple[bytes, str] | None, ...]
    messages: tuple[str, ...] = ()
    errors: int = 0
    warnings: int = 0
    entry: SongFacts | None = None
    fault: str = ""
    way_out: str = ""


def make(wishes: Wishes, kinds: tuple[str, ...], tasks: tuple[SongTask, ...]) -> tuple[MadeSong, ...]:
    """Make the PDFs of some songs, of each kind. A fault of the program with one song leaves the others alone."""
    return tuple(_guarded(task, wishes, kinds) for task in tasks)


def _guarded(task: SongTask, wishes: Wishes, kinds: tuple[str, ...]) -> MadeSong:
    try:
        return _make(task, wishes, kinds)
    except FontError as fault:
        return MadeSong(task.name, (), fault=str(fault), way_out="give a file that ends in .ttf after --font")
    except Exception as fault:  # also memory that does not suffice, and calls nested too deep
        return MadeSong(task.name, (), fault=in_words(fault))
    finally:
        KEPT.forget()  # the next song is another, and no edit of this one


def warm(wishes: Wishes, kinds: tuple[str, ...]) -> None:
    """Make a song for nothing, so that all that any song needs is loaded."""
    make(wishes, kinds, (SongTask("warm", "warm", WARM, "warm"),))


def in_words(fault: BaseException) -> str:
    """Return the name of a fault of the program, with its message.

    >>> in_words(RecursionError()), in_words(KeyError("C"))
    ('RecursionError', "KeyError: 'C'")
    """
    return f"{type(fault).__name__}: {fault}".removesuffix(": ")


def _make(task: SongTask, wishes: Wishes, kinds: tuple[str, ...]) -> MadeSong:
    """Take a song through the stages as far as it can go."""
    documents: list[tuple[bytes, str] | None] = [None] * len(kinds)
    faults: list[str] = []
    song, arrangement = None, None
    source, problems = decode(task.path, task.data)
    if not problems:
        song, problems = to_song(source)
    if song is None:
        facts = broken_entry(source, task.name, _errors(problems))[0]
    else:
        facts = entry(song, task.name, task.output)
        arrangement, more = to_arrangement(song, wishes)
        problems = (*problems, *more)
    if arrangement is not None:
        for number, kind in enumerate(kinds):
            if kind in ALSO:
                try:
                    (beside,) = load("arranger.exchange.also").made_beside(arrangement, (kind,))
                    documents[number] = beside.data, beside.said
                except ValueError as fault:  # it sounds for hours
                    faults.append(f"{task.path}: {kind}: {fault}")
                continue
            made, more = (to_stage if kind == STAGE else to_part)(arrangement, wishes)
            problems = (*problems, *(problem for problem in more if problem not in problems))
            documents[number] = (made.pdf, f"{made.pages} page{'' if made.pages == 1 else 's'}") if made else None
    errors = _errors(problems) + len(faults)
    if documents[0] is None:
        facts = facts._replace(output="", errors=errors)
    messages = (*(render(problem, source) for problem in in_order(problems)), *faults)
    warnings = len(problems) + len(faults) - errors
    return MadeSong(task.name, tuple(documents), messages, errors, warnings, facts)


def _errors(problems: Iterable[Diagnostic]) -> int:
    return sum(has_errors([problem]) for problem in problems)


What = Literal["made", "unchanged", "errors", "missed", "told"]


class Outcome(NamedTuple):
    """What became of a song.

    Attributes:
        name: its path under the folder of the songs, with `/`.
        path: its path as it is printed.
        what: `made`; `unchanged`; `errors`: the song has some; `missed`: passed over, though it may be a song;
            `told`: passed over, and nothing is missing.
        made: the path of each file that was made, as it is printed, and what is said of it.
        messages: what there is to say: of a song that was passed over, to stand after the path; else as it is printed.
        hint: a way out where something was passed over; may be empty.
        warnings: how many the song has.
    """

    name: str
    path: str
    what: What
    made: tuple[tuple[str, str], ...] = ()
    messages: tuple[str, ...] = ()
    hint: str = ""
    warnings: int = 0


@dataclass(slots=True)
class Summary:
    """The counts and failures of a whole run of the library.

    Attributes:
        counts: how many songs became what.
        warned: how many songs have warnings.
        left: how many were to be made and are not, since the run was stopped.
        gone: PDFs whose songs are gone, as they are printed.
        pruned: those that were removed.
        kept: those that are not removed, and why: what somebody has changed never is.
        stopped: why the run could not go on; empty where it could, or where somebody stopped it.
        index: whether all of the index is as it should be.
        no_workers: why there was nobody to go on with the work; None where there was.
    """

    counts: dict[What, int] = field(default_factory=lambda: dict.fromkeys(("made", "unchanged", "errors", "missed"), 0))
    warned: int = 0
    left: int = 0
    gone: list[str] = field(default_factory=list)
    pruned: list[str] = field(default_factory=list)
    kept: list[tuple[str, str]] = field(default_factory=list)
    stopped: str = ""
    index: bool = True
    no_workers: NoWorkersError | None = None


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
