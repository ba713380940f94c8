"""Songs' files and their PDFs: what may be read, where a PDF goes, and writing it whole or not at all.

Takes the words of a command line; gives paths, and problems as pairs of a message and a hint (which may be empty). All
problems are found before anything is written.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from difflib import get_close_matches
from itertools import count
from pathlib import Path

Problem = tuple[str, str]

SONG_ENDING = ".song.txt"
READ_AT_MOST = 2 * 1024 * 1024  # bytes; twice what a song may have, so that too much is seen and never read whole


def songs(words: Sequence[str]) -> tuple[list[Path], list[Problem]]:
    """Find the songs named by the words of a command line; with problems, what is found counts for nothing."""
    paths = [Path(word) for word in words]
    problems = [problem for path in paths if (problem := _unreadable(path))]
    return paths, problems


def _unreadable(path: Path) -> Problem | None:
    try:
        if path.is_dir():
            inside = sorted(p.name for p in path.iterdir() if p.name.lower().endswith(SONG_ENDING))
            return f"expected a song's file, found the folder {path}", f"it holds {inside[0]}" if inside else ""
        if not path.exists():
            return f"there is no file {path}", _near_file(path)
    except (OSError, ValueError) as fault:  # a name too long, a folder that may not be entered, a zero byte
        return f"{path} cannot be read: {reason(fault)}", ""
    if not os.access(path, os.R_OK):
        return f"you may not read {path}", ""
    return None


def _near_file(path: Path) -> str:
    """Give a hint with the song of that folder whose name is nearest."""
    folder = path.parent
    if not folder.is_dir():
        return f"there is no folder {folder}"
    names = sorted(p.name for p in folder.iterdir() if p.name.lower().endswith(SONG_ENDING))
    near = get_close_matches(path.name, names, n=1)
    return f"is {folder / near[0]} meant?" if near else ""


def read(path: Path) -> bytes:
    """Read a song's bytes, at most `READ_AT_MOST` of them.

    Raises:
        OSError: it cannot be read.
    """
    with path.open("rb") as file:
        return file.read(READ_AT_MOST)


def settings_path() -> Path:
    """Give where a player's settings are kept on this platform: player.toml in the folder for programs' settings."""
    windows, mac = ("APPDATA", "AppData/Roaming"), "Library/Application Support"
    return _programs_folder(windows, mac, ("XDG_CONFIG_HOME", ".config")) / "player.toml"


def cache_folder() -> Path:
    """Give where this program may keep on this platform what can be made anew from other files at any time."""
    return _programs_folder(("LOCALAPPDATA", "AppData/Local"), "Library/Caches", ("XDG_CACHE_HOME", ".cache"))


def _programs_folder(windows: tuple[str, str], mac: str, others: tuple[str, str]) -> Path:
    """Give this program's folder: in the one that a variable names, else in one under the player's own folder."""
    home = Path.home()
    if sys.platform == "darwin":
        return home / mac / "keys-arranger"
    variable, usual = windows if sys.platform == "win32" else others
    return Path(os.environ.get(variable) or home / usual) / "keys-arranger"


def reason(fault: Exception) -> str:
    """Give the reason of a fault in words, as the system says it.

    >>> reason(OSError(28, "No space left on device"))
    'no space left on device'
    """
    text = getattr(fault, "strerror", None) or str(fault)
    return text[:1].lower() + text[1:]


def pdf_name(song: Path) -> str:
    """Name the PDF of a song.

    >>> pdf_name(Path("songs/slow boats.song.txt")), pdf_name(Path("tune.txt")), pdf_name(Path("tune"))
    ('slow boats.pdf', 'tune.pdf', 'tune.pdf')
    """
    name = song.name
    stem = name[: -len(SONG_ENDING)] if name.lower().endswith(SONG_ENDING) else song.stem
    return f"{stem or name}.pdf"


def stage_name(song: Path) -> str:
    """Name the stage copy of a song: it lies beside the PDF of the part.

    >>> stage_name(Path("songs/slow boats.song.txt"))
    'slow boats.stage.pdf'
    """
    return str(Path(pdf_name(song)).with_suffix(".stage.pdf"))


def song_name(sheet: Path) -> str:
    """Name the song that is made of a typed sheet.

    >>> song_name(Path("sheets/slow boats.txt")), song_name(Path("slow boats")), song_name(Path("a.b.text"))
    ('slow boats.song.txt', 'slow boats.song.txt', 'a.b.song.txt')
    """
    name = sheet.name
    stem = name[: -len(SONG_ENDING)] if name.lower().endswith(SONG_ENDING) else sheet.stem
    return f"{stem or name}{SONG_ENDING}"


def pdfs(songs: Sequence[Path], output: str | None) -> tuple[list[Path], list[Problem]]:
    """Settle where the PDF of each song goes; see `results`."""
    return results(songs, output, pdf_name, "song", "PDF")


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
        hint = f"-o {output}/ puts them into a folder of that name"
        return [], [(f"{len(songs)} {made_of}s cannot all become the one file {output}", hint)]
    else:
        targets = [Path(output)]
    makes_folder = output is not None and output.endswith(("/", os.sep))
    try:
        problems = _clashes(songs, targets, made_of, made)
        problems += [problem for target in targets if (problem := _unwritable(target, makes_folder))]
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
    """Give the same text for the same file: links resolved, and without case, since some disks have none."""
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
        if not os.access(target, os.W_OK):
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


def write(target: Path, data: bytes) -> None:
    """Write a file whole or not at all: what was there stays until all of the new is on the disk.

    The folder is made where it does not exist. A link keeps pointing where it did; permissions of a file that was
    there stay, a new one gets those that the system gives to new files.

    Raises:
        OSError: it cannot be written; nothing has changed.
    """
    target = target.resolve()
    target.parent.mkdir(parents=True, exist_ok=True)
    unfinished = _fresh_name(target.parent)
    try:
        with unfinished.open("xb") as file:
            file.write(data)
        if target.exists():
            unfinished.chmod(target.stat().st_mode & 0o777)
        unfinished.replace(target)
    except BaseException:  # also when the player stops it
        with suppress(FileNotFoundError):
            unfinished.unlink()
        raise


def keep(path: Path, data: bytes) -> Path:
    """Keep what a file holds in a new one beside it, and give that one's path. No earlier one is lost.

    Raises:
        OSError: it cannot be written.
    """
    path = path.resolve()
    names = (path.with_name(f"{path.name}.{'before' if not n else f'before-{n + 1}'}") for n in count())
    copy = next(name for name in names if not name.exists())
    with copy.open("xb") as file:
        file.write(data)
    copy.chmod(path.stat().st_mode & 0o777)
    return copy


def _fresh_name(folder: Path) -> Path:
    """Find a name in the folder that no other run uses."""
    names = (folder / f".arranger-{os.getpid()}-{number}.tmp" for number in count())
    return next(name for name in names if not name.exists())
