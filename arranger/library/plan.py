"""Find which songs of a library have changed since their PDFs were made. Takes the folders and the store.

Contents decide, never dates: every song is read, and so is every PDF, so that one that is missing is made again, and
one that somebody has changed is left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import arranger
from arranger import files
from arranger.digests import as_made
from arranger.intake import DEFAULT_PAGES, DEFAULT_STAGE, Wishes
from arranger.layout.options import PartOptions, StageOptions
from arranger.library.ledger import Ledger, MadeRecord
from arranger.library.make import Outcome
from arranger.library.scan import STAGE, Planned, planned, scan
from arranger.library.store import digest, on_disk
from arranger.resources import font_bytes, resource
from arranger.settings import ALSO

FOREIGN = "was changed, or put there, by somebody: it stays as it is"
MOVE_AWAY = "move it away, and the next run makes it"
DATA = ("grammar", "song.lark"), ("fonts", "part-regular.ttf")  # one file of each folder that is the program's data
LARGEST = 64 * 1024 * 1024  # bytes of a PDF of ours; a larger one is not read to see whether it is


@dataclass(frozen=True, slots=True)
class Library:
    """A folder of songs, a folder for their PDFs, and what is asked for."""

    songs: Path
    out: Path
    wishes: Wishes
    kinds: tuple[str, ...]

    def pdf(self, output: str) -> Path:
        """Return the path of a PDF."""
        return self.out / output


@dataclass(slots=True)
class RunPlan:
    """The plan of a run: what is to be made, what is as it was, and what is in the way.

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
        """Return the digest of all that a song's PDFs are made of, for each kind."""
        return tuple(digest(salt, data) for salt in self.salts)


def plan(library: Library, ledger: Ledger) -> RunPlan:
    """Compare the songs with what has been made of them."""
    found, problems = scan(library.songs)
    songs, clashes = planned(found, library.kinds)
    of_program = program().encode()
    salts = tuple(of_program + settings(kind, library.wishes).encode() for kind in library.kinds)
    made = RunPlan({song.name for song in found}, songs, of_program, salts)
    made.unread = [problem.name for problem in problems if problem.missed]
    for name, path, message, hint, missed in (*problems, *clashes):
        made.ready.append(Outcome(name, path, "missed" if missed else "told", messages=(message,), hint=hint))
    for song in songs:
        try:
            data = files.read(Path(song.path))
        except OSError as fault:
            made.ready.append(unreadable(song, fault))
            continue
        known = _known(song, made.inputs(data), library, ledger)
        if known is None:
            made.to_do.append(song)
        else:
            made.ready.append(known)
    return made


def unreadable(song: Planned, fault: OSError) -> Outcome:
    """Return the outcome of a song that cannot be read."""
    return Outcome(song.name, song.path, "missed", messages=(f"cannot be read: {files.reason(fault)}",))


def foreign(name: str, path: Path, warnings: int = 0) -> Outcome:
    """Return the outcome of a file that is not the program's to write."""
    return Outcome(name, str(path), "missed", messages=(FOREIGN,), hint=MOVE_AWAY, warnings=warnings)


def _known(song: Planned, inputs: tuple[str, ...], library: Library, ledger: Ledger) -> Outcome | None:
    """Return what became of a song that is as it was; None where it is to be made."""
    records: list[MadeRecord] = []
    somebodys: Outcome | None = None
    for output, wanted in zip(song.outputs, inputs, strict=True):
        record = ledger.records.get(output)
        if record is None or record.input != wanted:
            return None
        records.append(record)
        if not record.digest:
            if record.path != song.path:
                return None  # what there is to say is said with the path as it is given today
            return Outcome(song.name, song.path, "errors", messages=record.messages, warnings=record.warnings)
        match standing(record, library, ledger):
            case "changed":
                return None
            case "foreign":
                somebodys = somebodys or foreign(song.name, library.pdf(output), record.warnings)
    if somebodys is not None:
        return somebodys
    messages = tuple(dict.fromkeys(message for record in records for message in record.messages))
    return Outcome(song.name, song.path, "unchanged", messages=messages, warnings=max(r.warnings for r in records))


def standing(record: MadeRecord, library: Library, ledger: Ledger) -> Literal["as made", "foreign", "changed"]:
    """Return whether a PDF is as it was made, is foreign (changed or written by others), or has to be made again."""
    try:
        present = on_disk(library.pdf(record.output))
        if present is None or (present != record.digest and is_ours(present, record.output, library, ledger)):
            return "changed"
    except OSError:
        return "changed"  # it is told when it cannot be written
    if present != record.digest:
        return "foreign"
    if not record.written:  # what somebody had put there is gone, or the same
        ledger.add(record._replace(written=True))
    return "as made"


def own(record: MadeRecord) -> set[str]:
    """Return the digests, by the store, of the PDFs that the program itself may have put at one place."""
    return {record.before, record.digest if record.written else ""} - {""}


def is_ours(present: str, output: str, library: Library, ledger: Ledger) -> bool:
    """Return whether the program has put a file where it is: the store has its digest, or the file itself.

    Raises:
        OSError: it cannot be read.
    """
    record = ledger.records.get(output)
    if record is not None and present in own(record):
        return True
    pdf = library.pdf(output)
    return pdf.stat().st_size <= LARGEST and as_made(pdf.read_bytes())


def program() -> str:
    """Return the digest of the program: its version, source, grammars and fonts."""
    package = Path(arranger.__file__).parent
    files = {path.relative_to(package).as_posix(): path for path in package.rglob("*.py")}
    for folder, name in DATA:
        found = resource(folder, name).parent.iterdir()
        files |= {f"{folder}/{path.name}": path for path in found if path.is_file()}
    parts = [arranger.__version__.encode()]
    for name, path in sorted(files.items()):
        parts += [name.encode(), path.read_bytes()]
    return digest(*parts)


def settings(kind: str, wishes: Wishes) -> str:
    """Return the digest of all that is asked for of a kind of file.

    Of fonts what they hold counts, not where they lie.
    """
    pages: PartOptions | StageOptions = wishes.stage if kind == STAGE else wishes.pages
    if kind in ALSO:
        pages = DEFAULT_PAGES  # they have none
    music = wishes._replace(pages=DEFAULT_PAGES, stage=DEFAULT_STAGE)
    return digest(kind.encode(), repr((music, pages._replace(fonts=()))).encode(), *fonts(pages.fonts))


def fonts(paths: Sequence[str]) -> list[bytes]:
    """Return the digests of the player's own fonts."""
    return [digest(font_bytes(path)).encode() for path in paths]
