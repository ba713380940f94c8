"""What a worker does: songs as bytes in, PDFs as bytes out. Nothing is read or written, and nothing printed.

So a worker can be any process anywhere that has the program; of a song whose worker dies, nothing is left behind.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from arranger.library.catalogue import Entry, broken_entry, entry
from arranger.library.outputs import STAGE
from arranger.pipeline import Wishes, to_arrangement, to_part, to_song
from arranger.song.read import decode
from arranger.staging import to_stage
from arranger.text.diagnostics import Diagnostic, has_errors, in_order, render


@dataclass(frozen=True, slots=True)
class Task:
    """A song to be made: its name in the library, its path as it is printed, its bytes, and the name of its part."""

    name: str
    path: str
    data: bytes
    output: str


@dataclass(frozen=True, slots=True)
class Job:
    """Some songs to be made one after another: what goes to a worker at once. `kinds` are those of `outputs`."""

    tasks: tuple[Task, ...]
    wishes: Wishes
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Document:
    """A finished PDF: its bytes, and how many pages it has."""

    pdf: bytes
    pages: int


@dataclass(frozen=True, slots=True)
class Made:
    """What became of a song.

    Attributes:
        name: the song's name.
        documents: one for each kind asked for, None where the song has errors.
        messages: what there is to say, in the order of the text, as it is printed.
        errors, warnings: how many of each.
        entry: the song's facts; None where the program failed.
        fault: why the program failed; empty where it did not.
    """

    name: str
    documents: tuple[Document | None, ...]
    messages: tuple[str, ...] = ()
    errors: int = 0
    warnings: int = 0
    entry: Entry | None = None
    fault: str = ""


def make(job: Job) -> tuple[Made, ...]:
    """Make the PDFs of some songs. A fault of the program with one song leaves the others alone."""
    return tuple(_guarded(task, job) for task in job.tasks)


def _guarded(task: Task, job: Job) -> Made:
    try:
        return _make(task, job)
    except Exception as fault:  # also memory that does not suffice, and calls nested too deep
        return Made(task.name, (), fault=in_words(fault))


def in_words(fault: BaseException) -> str:
    """Return what a fault of the program says of itself.

    >>> in_words(RecursionError()), in_words(KeyError("C"))
    ('RecursionError', "KeyError: 'C'")
    """
    return f"{type(fault).__name__}: {fault}".removesuffix(": ")


def _make(task: Task, job: Job) -> Made:
    """Take a song through the stages as far as it can go."""
    documents: list[Document | None] = [None] * len(job.kinds)
    song, arrangement = None, None
    source, problems = decode(task.path, task.data)
    if not problems:
        song, problems = to_song(source)
    if song is None:
        facts = broken_entry(source, task.name, _errors(problems))[0]
    else:
        facts = entry(song, task.name, task.output)
        arrangement, more = to_arrangement(song, job.wishes)
        problems = (*problems, *more)
    if arrangement is not None:
        for number, kind in enumerate(job.kinds):
            made, more = (to_stage if kind == STAGE else to_part)(arrangement, job.wishes)
            problems = (*problems, *(problem for problem in more if problem not in problems))
            documents[number] = Document(made.pdf, made.pages) if made else None
    errors = _errors(problems)
    if documents[0] is None:
        facts = replace(facts, output="", errors=errors)
    messages = tuple(render(problem, source) for problem in in_order(problems))
    return Made(task.name, tuple(documents), messages, errors, len(problems) - errors, facts)


def _errors(problems: Iterable[Diagnostic]) -> int:
    return sum(has_errors([problem]) for problem in problems)
