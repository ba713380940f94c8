"""Songs' files and their PDFs: what may be read, where a PDF goes, and writing it whole or not at all.

Takes the words of a command line; gives paths, and problems as pairs of a message and a hint (which may be empty). All
problems are found before anything is written.
"""

from __future__ import annotations

import errno
import glob
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from difflib import get_close_matches
from itertools import count
from pathlib import Path

from arranger.made import as_made
from arranger.resources import ordinary_bytes
from arranger.text.terminal import quoted

Problem = tuple[str, str]

SONG_ENDING = ".song.txt"
READ_AT_MOST = 2 * 1024 * 1024  # bytes; twice what a song may have, so that too much is seen and never read whole
MADE_AT_MOST = 1 << 27  # bytes; a PDF of ours has some 100 KiB
NAMED_AT_MOST = 3  # files that one message names


def songs(words: Sequence[str]) -> tuple[list[Path], list[Problem]]:
    """Find the songs named by the words of a command line; with problems, what is found counts for nothing."""
    paths = [path for word in words for path in _expanded(word)]
    problems = [problem for path in paths if (problem := _unreadable(path))]
    return paths, problems


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
        if not path.exists():
            return f"there is no file {path}", _near_file(path)
        if not path.is_file():
            return f"expected a song's file, found {path}, which is no ordinary file", ""
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
    near = get_close_matches(path.name, names, n=1)
    return f"is {quoted(str(folder / near[0]))} meant?" if near else ""


def read(path: Path) -> bytes:
    """Return a song's bytes, at most `READ_AT_MOST` of them.

    Raises:
        OSError: it cannot be read.
    """
    return ordinary_bytes(path, READ_AT_MOST)


def settings_path() -> Path | None:
    """Return where a player's settings are on this platform, player.toml in a folder of ours; None without a home."""
    windows, mac = ("APPDATA", "AppData/Roaming"), "Library/Application Support"
    folder = _programs_folder(windows, mac, ("XDG_CONFIG_HOME", ".config"))
    return folder and folder / "player.toml"


def cache_folder() -> Path:
    """Return where what can be made anew from other files may be kept on this platform.

    Raises:
        OSError: nowhere, since there is no home folder.
    """
    folder = _programs_folder(("LOCALAPPDATA", "AppData/Local"), "Library/Caches", ("XDG_CACHE_HOME", ".cache"))
    if folder is None:
        raise FileNotFoundError(errno.ENOENT, "there is no home folder")
    return folder


def _programs_folder(windows: tuple[str, str], mac: str, others: tuple[str, str]) -> Path | None:
    """Return this program's folder: in the one that a variable names, else in one under the player's own folder.

    A variable counts only where it names a whole path (XDG Base Directory Specification).
    """
    variable, usual = windows if sys.platform == "win32" else others
    named = Path(os.environ.get(variable, ""))
    if named.is_absolute() and sys.platform != "darwin":
        return named / "keys-arranger"
    try:
        home = Path.home()
    except RuntimeError:  # neither a variable nor the system's list of users has one
        return None
    if not home.is_absolute() or home == home.parent:  # an empty HOME reads as the root of the disk: nobody's home
        return None
    return home / (mac if sys.platform == "darwin" else usual) / "keys-arranger"


def reason(fault: Exception) -> str:
    """Return the reason of a fault in words, as the system says it.

    >>> reason(OSError(28, "No space left on device"))
    'no space left on device'
    """
    text = getattr(fault, "strerror", None) or str(fault)
    return text[:1].lower() + text[1:]


def pdf_name(song: Path, key: str = "") -> str:
    """Return the name of a song's PDF, with the key where it is not the song's own.

    >>> pdf_name(Path("songs/slow boats.song.txt")), pdf_name(Path("tune.txt")), pdf_name(Path("tune"), "F#m")
    ('slow boats.pdf', 'tune.pdf', 'tune in F#m.pdf')
    """
    name = song.name
    stem = name[: -len(SONG_ENDING)] if name.lower().endswith(SONG_ENDING) else song.stem
    return f"{stem or name}{f' in {key}' if key else ''}.pdf"


def stage_name(song: Path, key: str = "") -> str:
    """Return the name of a song's stage copy: it lies beside the PDF of the part.

    >>> stage_name(Path("songs/slow boats.song.txt")), stage_name(Path("tune.txt"), "Bb")
    ('slow boats.stage.pdf', 'tune in Bb.stage.pdf')
    """
    return str(Path(pdf_name(song, key)).with_suffix(".stage.pdf"))


def song_name(sheet: Path) -> str:
    """Name the song that is made of a typed sheet.

    >>> song_name(Path("sheets/slow boats.txt")), song_name(Path("slow boats")), song_name(Path("a.b.text"))
    ('slow boats.song.txt', 'slow boats.song.txt', 'a.b.song.txt')
    """
    name = sheet.name
    stem = name[: -len(SONG_ENDING)] if name.lower().endswith(SONG_ENDING) else sheet.stem
    return f"{stem or name}{SONG_ENDING}"


def pdfs(
    songs: Sequence[Path], output: str | None, naming: Callable[[Path], str] = pdf_name, *, force: bool = False
) -> tuple[list[Path], list[Problem]]:
    """Settle where the PDF of each song goes; see `results`. What is there is kept unless it is ours, or by `force`."""
    targets, problems = results(songs, output, naming, "song", "PDF")
    if not problems and not force:
        problems = _somebody_elses(targets)
    return targets, problems


def _misnamed(target: Path, made: str) -> Problem | None:
    """Refuse names that other kinds of files have, as `-o *.song.txt` gives them, and links to such."""
    for path in (target, target.resolve()):
        for ending, what in ((SONG_ENDING, "song"), (".pdf", "PDF"), (".toml", "file of settings")):
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
    told = f"{names}{more}: there already, made by another version of the program or changed since"
    return [(told, f"--force writes over {'it' if len(kept) == 1 else 'them'}; -o puts what is new elsewhere")]


def results(
    songs: Sequence[Path], output: str | None, naming: Callable[[Path], str], made_of: str, made: str
) -> tuple[list[Path], list[Problem]]:
    """Settle where what is made of each file goes.

    Args:
        songs: at least one.
        output: a file, for one song; a folder (one that exists, or a name that ends as folders do: it is made when
            the first result is written); None: beside each song.
        naming: names the result of a file.
        made_of: what the files are, in a word: `song`.
        made: what is made of them: `PDF`.

    Returns:
        A path for each song, and problems: with any, nothing must be written.
    """
    if output is not None and not output.strip():
        return [], [("expected a file or a folder after -o, found nothing", "")]
    if output is None:
        targets = [song.with_name(naming(song)) for song in songs]
    elif output.endswith(("/", os.sep)) or Path(output).is_dir():
        targets = [Path(output) / naming(song) for song in songs]
    elif len(songs) > 1:
        hint = f"-o {quoted(f'{output}/')} puts them into a folder of that name"
        return [], [(f"{len(songs)} {made_of}s cannot all become the one file {output}", hint)]
    else:
        targets = [Path(output)]
    makes_folder = output is not None and output.endswith(("/", os.sep))
    try:
        problems = _clashes(songs, targets, made_of, made)
        problems += [problem for target in targets if (problem := _unwritable(target, makes_folder))]
        problems = problems or [problem for target in targets if (problem := _misnamed(target, made))]
    except (OSError, ValueError, RuntimeError) as fault:  # RuntimeError: a circle of links
        problems = [(f"{output or targets[0]} cannot be written: {reason(fault)}", "")]
    return targets, list(dict.fromkeys(problems))


def _clashes(songs: Sequence[Path], targets: Sequence[Path], made_of: str, made: str) -> list[Problem]:
    """Find results that would lie over each other or over what they are made of."""
    problems: list[Problem] = []
    sources = {_identity(song): song for song in songs}
    taken: dict[str, Path] = {}
    for song, target in zip(songs, targets, strict=True):
        identity = _identity(target)
        if identity in sources:
            told = f"the {made} {target} would lie over the {made_of} {sources[identity]}"
            problems.append((told, "-o names another file"))
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
    if makes_folder:
        while not folder.exists():
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


def write_pdf(target: Path, pdf: bytes, *, force: bool) -> None:
    """Write a PDF whole or not at all, over one that is as it was made, or by `force`.

    Raises:
        OSError: it cannot be written; nothing has changed.
    """
    write(target, pdf, lambda present: force or as_made(present))


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
    target = target.resolve()
    target.parent.mkdir(parents=True, exist_ok=True)
    with _unfinished(target.parent, data) as unfinished:
        if target.exists():
            if not _may_be_replaced(target):
                raise PermissionError(errno.EACCES, "it may not be written over", str(target))
            unfinished.chmod(target.stat().st_mode & 0o777)
            if not over(ordinary_bytes(target, MADE_AT_MOST)):
                raise FileExistsError(errno.EEXIST, "somebody has changed what is there", str(target))
        unfinished.replace(target)
    _settle(target.parent)


def rewrite(path: Path, before: bytes, after: bytes, *, keep: bool) -> Path | None:
    """Write what a file is to hold after a change; with `keep`, return a new file beside it that holds what it held.

    Nothing is lost: no earlier file that was kept, and no change that somebody made after `before` was read.

    Raises:
        OSError: it cannot be written; nothing has changed.
    """
    path = path.resolve()
    if not _may_be_replaced(path):
        raise PermissionError(errno.EACCES, "it may not be written over", str(path))
    kept = _kept(path, before) if keep else None
    try:
        write(path, after, before.__eq__)
    except BaseException:
        if kept is not None:
            kept.unlink()
        raise
    return kept


def _kept(path: Path, data: bytes) -> Path:
    names = (path.with_name(f"{path.name}.{'before' if not n else f'before-{n + 1}'}") for n in count())
    with _unfinished(path.parent, data) as unfinished:
        unfinished.chmod(path.stat().st_mode & 0o777)
        copy = next(name for name in names if not os.path.lexists(name))
        unfinished.replace(copy)
    return copy


@contextmanager
def _unfinished(folder: Path, data: bytes) -> Iterator[Path]:
    """Write bytes to the disk under a name that no other run uses; what is not put in its place is gone at the end."""
    names = (folder / f".arranger-{os.getpid()}-{number}.tmp" for number in count())
    path = next(name for name in names if not os.path.lexists(name))
    try:
        with path.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield path
    finally:  # also when the player stops it
        with suppress(FileNotFoundError):
            path.unlink()


def _settle(folder: Path) -> None:
    """Have the disk keep a folder's new names, as far as the system can (Windows opens no folders)."""
    with suppress(OSError):
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)
