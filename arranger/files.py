"""Find and read songs' files, choose where a result goes, and write a file whole or not at all.

Takes the words of a command line; gives paths, and problems as pairs of a message and a hint (which may be empty). All
problems are found before anything is written.
"""

from __future__ import annotations

import errno
import glob
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from itertools import count
from pathlib import Path

from arranger.digests import as_made
from arranger.late import load
from arranger.resources import ordinary_bytes, programs_folder
from arranger.text.terminal import quoted

Problem = tuple[str, str]

SONG_ENDING = ".song.txt"
SET_ENDING = ".set.txt"
READ_AT_MOST = 2 * 1024 * 1024  # bytes; twice what a song may have, so that too much is seen and never read whole
MADE_AT_MOST = 1 << 27  # bytes; a PDF of ours has some 100 KiB
NAMED_KINDS = ((".mid", "MIDI file"), (".musicxml", "file of MusicXML"))
NAMED_AT_MOST = 3  # files that one message names


def songs(words: Sequence[str]) -> tuple[list[Path], list[Problem]]:
    """Find the songs named by the words of a command line; with problems, what is found counts for nothing."""
    paths = [path for word in words for path in _expanded(word)]
    return paths, [problem for path in paths if (problem := _unreadable(path))]


def _expanded(word: str) -> list[Path]:
    """Return the files that a word with `*`, `?` or `[` stands for; not every shell puts their names in its place."""
    with suppress(OSError, ValueError):
        if glob.has_magic(word) and not os.path.lexists(word):
            names = sorted(glob.glob(word))  # noqa: PTH207 (the word may be a whole path)
            return [Path(name) for name in names] or [Path(word)]
    return [Path(word)]


def _unreadable(path: Path) -> Problem | None:
    try:
        if path.is_dir():
            inside = sorted(p.name for p in path.iterdir() if p.name.lower().endswith(SONG_ENDING))
            hint = f"it holds {quoted(str(path / inside[0]))}" if inside else ""
            return f"expected a song's file, found the folder {path}", hint
        if not path.is_file():
            odd = f"expected a song's file, found {path}, which is no ordinary file", ""
            return odd if path.exists() else (f"there is no file {path}", _near_file(path))
    except (OSError, ValueError) as fault:  # a name too long, a folder that may not be entered, a zero byte
        return f"{path} cannot be read: {reason(fault)}", ""
    if not os.access(path, os.R_OK):
        return f"you may not read {path}", ""
    return None


def _near_file(path: Path) -> str:
    """Return a hint with the song of that folder whose name is nearest."""
    folder = path.parent
    if not folder.is_dir():
        return f"there is no folder {folder}"
    names = sorted(p.name for p in folder.iterdir() if p.name.lower().endswith(SONG_ENDING))
    near: list[str] = load("difflib").get_close_matches(path.name, names, n=1)
    return f"is {quoted(str(folder / near[0]))} meant?" if near else ""


def song_of_order(path: Path) -> tuple[bytes | None, Problem]:
    """Return the bytes of a song that a running order names; else None, with what is wrong."""
    problem = _unreadable(path)
    try:
        return (None, problem) if problem is not None else (read(path), ("", ""))
    except OSError as fault:
        return None, (f"expected a song's file, found {path}, which cannot be read: {reason(fault)}", "")


def read(path: Path) -> bytes:
    """Return a song's bytes, at most `READ_AT_MOST` of them; OSError says why it cannot be read."""
    return ordinary_bytes(path, READ_AT_MOST)


def settings_path() -> Path | None:
    """Return where a player's settings are on this platform, player.toml in a folder of ours; None without a home."""
    windows, mac = ("APPDATA", "AppData/Roaming"), "Library/Application Support"
    folder = programs_folder(windows, mac, ("XDG_CONFIG_HOME", ".config"))
    return folder and folder / "player.toml"


def reason(fault: Exception) -> str:
    """Return the reason of a fault in words, as the system says it.

    >>> reason(OSError(28, "No space left on device"))
    'no space left on device'
    """
    text = getattr(fault, "strerror", None) or str(fault)
    return text[:1].lower() + text[1:]


def _stem(path: Path) -> str:
    """Return the name of a song or sheet without its ending."""
    stem = path.name[: -len(SONG_ENDING)] if path.name.lower().endswith(SONG_ENDING) else path.stem
    return stem or path.name


def pdf_name(song: Path, key: str = "") -> str:
    """Return the name of a song's PDF, with the key where it is not the song's own.

    >>> pdf_name(Path("songs/slow boats.song.txt")), pdf_name(Path("tune.txt")), pdf_name(Path("tune"), "F#m")
    ('slow boats.pdf', 'tune.pdf', 'tune in F#m.pdf')
    """
    return f"{_stem(song)}{f' in {key}' if key else ''}.pdf"


def stage_name(song: Path, key: str = "") -> str:
    """Return the name of a song's stage copy: it lies beside the PDF of the part.

    >>> stage_name(Path("songs/slow boats.song.txt")), stage_name(Path("tune.txt"), "Bb")
    ('slow boats.stage.pdf', 'tune in Bb.stage.pdf')
    """
    return pdf_name(song, key).removesuffix(".pdf") + ".stage.pdf"


def study_name(song: Path, several: bool = False) -> str:
    """Return the name of the studies that are made of a song or a running order, or of a song with others.

    >>> study_name(Path("songs/slow boats.song.txt")), study_name(Path("songs/slow boats.song.txt"), several=True)
    ('slow boats.study.pdf', 'studies.pdf')
    """
    stem = song.name[: -len(SET_ENDING)] if song.name.lower().endswith(SET_ENDING) else _stem(song)
    return "studies.pdf" if several else f"{stem or song.name}.study.pdf"


def book_name(order: Path, *, stage: bool) -> str:
    """Return the name of the PDF that is made of a running order.

    >>> book_name(Path("supper.set.txt"), stage=False), book_name(Path("supper"), stage=True)
    ('supper.evening.pdf', 'supper.evening.stage.pdf')
    """
    stem = order.name[: -len(SET_ENDING)] if order.name.lower().endswith(SET_ENDING) else order.stem
    return f"{stem or order.name}.evening{'.stage' if stage else ''}.pdf"


def song_name(sheet: Path) -> str:
    """Return the name of the song that is made of a typed sheet.

    >>> song_name(Path("sheets/slow boats.txt")), song_name(Path("slow boats")), song_name(Path("a.b.text"))
    ('slow boats.song.txt', 'slow boats.song.txt', 'a.b.song.txt')
    """
    return _stem(sheet) + SONG_ENDING


def results(
    songs: Sequence[Path],
    output: str | None,
    naming: Callable[[Path], str],
    made_of: str,
    made: str,
    keep: bool = False,
    also: Sequence[str] = (),
) -> tuple[dict[Path, Path], list[Problem]]:
    """Return where what is made of each file goes.

    Args:
        songs: at least one.
        output: a file, for one song; a folder (one that exists, or a name that ends as folders do: it is made when
            the first result is written); None: beside each song.
        naming: names the result of a file.
        made_of: what the files are, in a word: `song`.
        made: what is made of them: `PDF`.
        keep: PDFs that are there are in the way, but for those that are as they were made.
        also: endings of what is made beside each result.

    Returns:
        A path for each song, and problems: with any, nothing must be written.
    """
    if output is not None and not output.strip():
        return {}, [("expected a file or a folder after -o, found nothing", "")]
    makes_folder = output is not None and output.endswith(("/", os.sep))
    if output is None:
        targets = [song.with_name(naming(song)) for song in songs]
    elif makes_folder or Path(output).is_dir():
        targets = [Path(output) / naming(song) for song in songs]
    elif len(songs) > 1:
        hint = f"-o {quoted(f'{output}/')} puts them into a folder of that name"
        return {}, [(f"{len(songs)} {made_of}s cannot all become the one file {output}", hint)]
    else:
        targets = [Path(output)]
    try:
        problems = _clashes(songs, targets, made_of, made)
        every = [path for target in targets for path in (target, *beside(target, also))]
        problems += [problem for path in every if (problem := _unwritable(path, makes_folder))]
        problems = problems or [problem for target in targets if (problem := _misnamed(target, made))]
    except (OSError, ValueError, RuntimeError) as fault:  # RuntimeError: a circle of links
        problems = [(f"{output or targets[0]} cannot be written: {reason(fault)}", "")]
    if keep and not problems:
        problems = _somebody_elses(every)
    return dict(zip(songs, targets, strict=True)), list(dict.fromkeys(problems))


def beside(made: Path, endings: Sequence[str]) -> list[Path]:
    """Return the paths of what is made beside a PDF, of its name.

    >>> [path.name for path in beside(Path("parts/lanterns.pdf"), (".mid",))]
    ['lanterns.mid']
    """
    name = made.name[:-4] if made.name.lower().endswith(".pdf") else made.name
    return [made.with_name(f"{name}{ending}") for ending in endings]


def _misnamed(target: Path, made: str) -> Problem | None:
    """Refuse names that other kinds of files have, as `-o *.song.txt` gives them, and links to such."""
    for path in (target, target.resolve()):
        for ending, what in ((SONG_ENDING, "song"), (".pdf", "PDF"), (".toml", "file of settings"), *NAMED_KINDS):
            if what != made and path.name.lower().endswith(ending):
                return f"expected a name for a {made}, found {path}, the name of a {what}", "-o made/ names a folder"
    return None


def _somebody_elses(targets: Sequence[Path]) -> list[Problem]:
    """Find PDFs that would be lost for good: those that are not as this program made them."""
    kept = []
    for target in targets:
        try:
            if target.exists() and not as_made(ordinary_bytes(target, MADE_AT_MOST)):
                kept.append(target)
        except OSError as fault:
            return [(f"{target} cannot be read: {reason(fault)}", "")]
    if not kept:
        return []
    names = ", ".join(map(str, kept[:NAMED_AT_MOST]))
    more = f" and {len(kept) - NAMED_AT_MOST} more" if kept[NAMED_AT_MOST:] else ""
    message = f"{names}{more}: there already, made by another version of the program or changed since"
    return [(message, f"--force writes over {'it' if len(kept) == 1 else 'them'}; -o puts what is new elsewhere")]


def _clashes(songs: Sequence[Path], targets: Sequence[Path], made_of: str, made: str) -> list[Problem]:
    """Find results that would lie over each other or over what they are made of."""
    problems: list[Problem] = []
    sources = {_identity(song): song for song in songs}
    taken: dict[str, Path] = {}
    for song, target in zip(songs, targets, strict=True):
        identity = _identity(target)
        if identity in sources:
            message = f"the {made} {target} would lie over the {made_of} {sources[identity]}"
            problems.append((message, "-o names another file"))
        elif identity in taken and _identity(taken[identity]) == _identity(song):
            problems.append((f"the {made_of} {song} is given twice", ""))
        elif identity in taken:
            hint = "make them one at a time, with -o for one of them"
            problems.append((f"{taken[identity]} and {song} would both become {target}", hint))
        taken.setdefault(identity, song)
    return problems


def _identity(path: Path) -> str:
    """Return the same text for the same file: links resolved, and without case, since some disks have none."""
    return str(path.resolve()).casefold()


def _unwritable(target: Path, makes_folder: bool) -> Problem | None:
    named, target = target, target.resolve()
    if target.is_symlink():  # still one: newer Pythons give up on a circle without a word
        return f"{named} cannot be written: its links lead in a circle", ""
    if target.is_dir():
        return f"expected a file to write, found the folder {target}", ""
    if target.exists():
        if not target.is_file():
            return f"{target} is no ordinary file", ""
        if not _may_be_replaced(target):
            return f"you may not write over {target}", ""
    folder = target.parent
    while makes_folder and not folder.exists():
        folder = folder.parent
    if not folder.exists():
        return f"there is no folder {folder}", "make it first, or end the name with / to have it made"
    if not folder.is_dir():
        return f"expected a folder, found the file {folder}", ""
    if not os.access(folder, os.W_OK | os.X_OK):
        return f"you may not write into the folder {folder}", ""
    return None


def _may_be_replaced(path: Path) -> bool:
    """Return whether a file may be written over; who may do everything still heeds that a file is read-only."""
    return os.access(path, os.W_OK) and bool(path.stat().st_mode & 0o222)


def write(target: Path, data: bytes, over: Callable[[bytes], bool]) -> None:
    """Write a file whole or not at all: what was there stays until all of the new is on the disk.

    The folder is made where it does not exist. A link keeps pointing where it did; permissions of a file that was
    there stay, a new one gets those that the system gives to new files.

    Args:
        target: the file.
        data: its bytes.
        over: whether it may be written over what is there: asked last, when all of the new is on the disk.

    Raises:
        OSError: it cannot be written; nothing has changed.
    """
    write_together(((target, data),), over)


def write_together(made: Iterable[tuple[Path, bytes]], over: Callable[[bytes], bool]) -> None:
    """Write files that belong together, as `write` does one: all of them or none.

    Raises:
        OSError: one cannot be written; nothing has changed.
    """
    ready: list[tuple[Path, Path, bytes | None]] = []  # what is new, its place, and what was there
    with ExitStack() as stack:
        for target, data in ((target.resolve(), data) for target, data in made):
            target.parent.mkdir(parents=True, exist_ok=True)
            new = stack.enter_context(unfinished(_new_name(target.parent, f".arranger-{os.getpid()}", ".tmp"), data))
            before = None
            if target.exists():
                _refuse_read_only(target)
                new.chmod(target.stat().st_mode & 0o777)
                before = ordinary_bytes(target, MADE_AT_MOST)
                if not over(before):
                    raise FileExistsError(errno.EEXIST, "somebody has changed what is there", str(target))
            ready.append((new, target, before))
        for number, (new, target, _) in enumerate(ready):
            try:
                new.replace(target)
            except BaseException:
                _put_back(ready[:number])
                raise
    for folder in {target.parent for _, target, _ in ready}:
        with suppress(OSError):  # have the disk keep its new names, as far as the system can (Windows opens no folder)
            opened = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(opened)
            finally:
                os.close(opened)


def _put_back(done: Iterable[tuple[Path, Path, bytes | None]]) -> None:
    """Put back what was there before files took its place."""
    for _, target, before in done:
        with suppress(OSError):
            if before is None:
                target.unlink()
            else:
                target.write_bytes(before)


def rewrite(path: Path, before: bytes, after: bytes, *, keep: bool) -> Path | None:
    """Write what a file is to hold after a change; with `keep`, return a new file beside it that holds what it held.

    Nothing is lost: no earlier file that was kept, and no change that somebody made after `before` was read.

    Raises:
        OSError: it cannot be written; nothing has changed.
    """
    path = path.resolve()
    _refuse_read_only(path)
    kept = None
    if keep:
        with unfinished(_new_name(path.parent, f".arranger-{os.getpid()}", ".tmp"), before) as copy:
            copy.chmod(path.stat().st_mode & 0o777)
            kept = copy.replace(_new_name(path.parent, f"{path.name}.before"))
    try:
        write(path, after, before.__eq__)
    except BaseException:
        if kept is not None:
            kept.unlink()
        raise
    return kept


def _refuse_read_only(path: Path) -> None:
    if not _may_be_replaced(path):
        raise PermissionError(errno.EACCES, "it may not be written over", str(path))


def _new_name(folder: Path, name: str, ending: str = "") -> Path:
    """Return a name that no file of a folder has: with a number from 2 on where there is one without."""
    paths = (folder / f"{name}{f'-{n}' if n > 1 else ''}{ending}" for n in count(1))
    return next(path for path in paths if not os.path.lexists(path))


@contextmanager
def unfinished(path: Path, data: bytes) -> Iterator[Path]:
    """Write bytes to the disk under a name that no other run uses; what is not put in its place is gone at the end."""
    try:
        with path.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield path
    finally:  # also when the player stops it
        with suppress(FileNotFoundError):
            path.unlink()
