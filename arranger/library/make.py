"""What a worker does: songs as bytes in, PDFs as bytes out. Nothing is read or written, and nothing printed.

So a worker can be any process anywhere that has the program; of a song whose worker dies, nothing is left behind.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from arranger.diagnostics import Diagnostic, has_errors, in_order, render
from arranger.library.catalogue import Entry, broken_entry, entry
from arranger.pipeline import Part, Wishes, to_arrangement, to_part, to_song
from arranger.song.read import decode
from arranger.source import Source


@dataclass(frozen=True, slots=True)
class Task:
    """A song to be made: its name in the library, its bytes, and the name of its part."""

    name: str
    data: bytes
    output: str


@dataclass(frozen=True, slots=True)
class Job:
    """Some songs to be made one after another: what goes to a worker at once."""

    tasks: tuple[Task, ...]
    wishes: Wishes
    kinds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Made:
    """What became of a song.

    Attributes:
        name: the song's name.
        parts: a part for each kind asked for, None where the song has errors.
        messages: what there is to say, in the order of the text, as it is printed after the song's path.
        errors, warnings: how many of each.
        entry: the song's facts; None where the program failed.
        fault: what went wrong in the program itself; empty where nothing did.
    """

    name: str
    parts: tuple[Part | None, ...]
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
        reason = f"{type(fault).__name__}: {fault}".removesuffix(": ")
        return Made(task.name, (), fault=f"a fault of the program, not of your song: {reason}")


def _make(task: Task, job: Job) -> Made:
    nothing: tuple[Part | None, ...] = (None,) * len(job.kinds)
    source, problems = decode("", task.data)
    song = None
    if not problems:
        song, problems = to_song(source)
    if song is None:
        return _told(task, nothing, problems, source, broken_entry(source, task.name, _errors(problems))[0])
    facts = entry(song, task.name, task.output)
    arrangement, more = to_arrangement(song, job.wishes)
    problems = (*problems, *more)
    if arrangement is None:
        return _told(task, nothing, problems, source, facts)
    part, more = to_part(arrangement, job.wishes)
    return _told(task, (part,), (*problems, *more), source, facts)


def _told(
    task: Task, parts: tuple[Part | None, ...], problems: tuple[Diagnostic, ...], source: Source, facts: Entry
) -> Made:
    errors = _errors(problems)
    if None in parts:
        facts = replace(facts, output="", errors=errors)
    messages = tuple(render(problem, source) for problem in in_order(problems))
    return Made(task.name, parts, messages, errors, len(problems) - errors, facts)


def _errors(problems: Iterable[Diagnostic]) -> int:
    return sum(has_errors([problem]) for problem in problems)
