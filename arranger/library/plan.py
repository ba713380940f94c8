"""What is to be done in a library: songs that have changed. Takes the folders and the log; gives what is as it was.

Contents decide, never dates: every song is read, and so is every PDF, so that one that is missing is made again, and
one that somebody has changed is left alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from arranger import files
from arranger.library.digest import digest, program, settings
from arranger.library.outcome import Outcome
from arranger.library.outputs import Planned, planned
from arranger.library.scan import Problem, scan
from arranger.library.state import Record, State
from arranger.pipeline import Wishes

FOREIGN = "was changed, or put there, by somebody: it stays as it is"
MOVE_AWAY = "move it away, and the next run makes it"


@dataclass(frozen=True, slots=True)
class Library:
    """A folder of songs, a folder for their PDFs, and what is asked for."""

    songs: Path
    out: Path
    wishes: Wishes
    kinds: tuple[str, ...]

    def pdf(self, output: str) -> Path:
        """Give the path of a PDF."""
        return self.out / output


@dataclass(slots=True)
class Plan:
    """What is known before anything is made.

    Attributes:
        names: all songs that there are, also those that are passed over.
        songs: those that are neither passed over nor unreadable.
        ready: what became of songs that are not to be made.
        to_do: the others.
        unread: folders that could not be read, as names: nothing is known of the songs in them.
        program: the digest of the program.
        salts: the same with that of the settings, for each kind.
    """

    names: set[str]
    songs: list[Planned]
    program: bytes
    salts: tuple[bytes, ...]
    ready: list[Outcome] = field(default_factory=list)
    to_do: list[Planned] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)

    def inputs(self, data: bytes) -> tuple[str, ...]:
        """Give the digest of all that a song's PDFs are made of, for each kind."""
        return tuple(digest(salt, data) for salt in self.salts)


def plan(library: Library, state: State) -> Plan:
    """Compare the songs with what has been made of them."""
    found, problems = scan(library.songs)
    songs, clashes = planned(found, library.kinds)
    of_program = program().encode()
    salts = tuple(of_program + settings(kind, library.wishes).encode() for kind in library.kinds)
    made = Plan({song.name for song in found}, songs, of_program, salts)
    made.unread = [problem.name for problem in problems if problem.missed]
    made.ready += [_passed_over(problem) for problem in (*problems, *clashes)]
    for song in songs:
        try:
            data = files.read(Path(song.path))
        except OSError as fault:
            made.ready.append(unreadable(song, fault))
            continue
        known = _known(song, made.inputs(data), library, state)
        if known is None:
            made.to_do.append(song)
        else:
            made.ready.append(known)
    return made


def unreadable(song: Planned, fault: OSError) -> Outcome:
    """Say that a song cannot be read."""
    return Outcome(song.name, song.path, "missed", messages=(f"cannot be read: {files.reason(fault)}",))


def foreign(name: str, path: Path, warnings: int = 0) -> Outcome:
    """Say that a file is not the program's to write."""
    return Outcome(name, str(path), "missed", messages=(FOREIGN,), hint=MOVE_AWAY, warnings=warnings)


def _passed_over(problem: Problem) -> Outcome:
    return Outcome(
        problem.name,
        problem.path,
        "missed" if problem.missed else "told",
        messages=(problem.message,),
        hint=problem.hint,
    )


def _known(song: Planned, inputs: tuple[str, ...], library: Library, state: State) -> Outcome | None:
    """Say what became of a song that is as it was; None where it is to be made."""
    records: list[Record] = []
    for kind, output, wanted in zip(library.kinds, song.outputs, inputs, strict=True):
        record = state.records.get((song.name, kind))
        if record is None or record.input != wanted:
            return None
        records.append(record)
        if not record.digest:
            if record.path != song.path:
                return None  # what there is to say is said with the path as it is given today
            return Outcome(song.name, song.path, "errors", messages=record.messages, warnings=record.warnings)
        match standing(record, library, state):
            case "changed":
                return None
            case "foreign":
                return foreign(song.name, library.pdf(output), record.warnings)
    messages = tuple(dict.fromkeys(message for record in records for message in record.messages))
    return Outcome(song.name, song.path, "unchanged", messages=messages, warnings=max(r.warnings for r in records))


def standing(record: Record, library: Library, state: State) -> Literal["as made", "foreign", "changed"]:
    """Compare a file with what is known of it: it is as it was made; somebody else's; or to be made again."""
    try:
        present = on_disk(library.pdf(record.output))
    except OSError:
        return "changed"  # it is told when it cannot be written
    if present == record.digest:
        if not record.written:  # what somebody had put there is gone, or the same
            state.add(replace(record, written=True))
        return "as made"
    return "changed" if present is None or present in state.owned[record.output] else "foreign"


def on_disk(path: Path) -> str | None:
    """Give the digest of a file; None where there is none.

    Raises:
        OSError: something is there that cannot be read.
    """
    try:
        with path.open("rb") as file:
            return digest(file.read())
    except (FileNotFoundError, NotADirectoryError):
        return None
