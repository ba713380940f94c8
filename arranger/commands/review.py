"""Sum up what `convert` has made, and list the places of songs that are still to be looked at (`convert --review`)."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from arranger import files
from arranger.cli import DONE, Refused, complain
from arranger.convert.open_places import open_places, places_in_words
from arranger.song.read import decode
from arranger.text.terminal import printable

RIGHT = "right as far as the sheet tells"
Assumed = tuple[str, str]  # a sheet, and what was taken for granted in it


def of_sheet(checks: int) -> str:
    """Return what is said of one sheet that was made a song, by its number of places to look at."""
    return f"{places_in_words(checks)} to look at (# check)" if checks else RIGHT


def sum_up(checks: Sequence[int], sheets: int, assumed: Sequence[Assumed]) -> None:
    """Print what was taken for granted, each thing once, and of several sheets how many are right.

    Args:
        checks: places to look at of each sheet that was made.
        sheets: how many there were.
        assumed: what was taken for granted, in the order of the sheets.
    """
    for text in dict.fromkeys(text for _, text in assumed):
        names = [name for name, said in assumed if said == text]
        where = names[0] if len(names) == 1 else f"{len(names)} of {sheets} sheets"
        print(printable(f"{where}: assumed: {text}"), file=sys.stderr)
    if sheets < 2:
        return
    right = sum(not count for count in checks)
    parts = [f"{right} right as far as they tell"]
    if right < len(checks):
        parts.append(f"{len(checks) - right} with {places_in_words(sum(checks))} to look at")
    if len(checks) < sheets:
        parts.append(f"{sheets - len(checks)} not made")
    print(f"{sheets} sheets: {', '.join(parts)}")


def review(folder: Path) -> int:
    """List the open places of all songs in a folder and the folders in it, songs with the most places last."""
    if not folder.is_dir():
        found = "the file" if folder.exists() else "no such folder"
        raise Refused((f"expected a folder of songs after --review, found {found}: {folder}", ""))
    songs = [(path, open_places(text)) for path, text in _songs(folder)]
    if not songs:
        raise Refused((f"there is no song in {folder}", f"songs are files named NAME{files.SONG_ENDING}"))
    listed = sorted((song for song in songs if song[1]), key=lambda song: (len(song[1]), str(song[0])))
    for path, places in listed:
        for line, text in places:
            print(printable(f"{path}:{line}: {text}".rstrip(": ")))
    count = f"{len(songs)} song{'' if len(songs) == 1 else 's'}"
    open_ones = sum(len(places) for _, places in listed)
    print(f"{count}: {places_in_words(open_ones)} to look at in {len(listed)}, nothing in {len(songs) - len(listed)}")
    return DONE


def open_in(paths: Iterable[Path]) -> tuple[int, int]:
    """Count the open places of songs, and the songs that have any; what cannot be read has none."""
    counts = [len(open_places(text)) for path in paths if (text := _text(path)) is not None]
    return sum(counts), sum(map(bool, counts))


def _songs(folder: Path) -> Iterable[tuple[Path, str]]:
    """Yield the songs under a folder with their texts; those that cannot be read are told."""
    for inner, folders, names in os.walk(folder):
        folders.sort()
        for name in sorted(names):
            if name.lower().endswith(files.SONG_ENDING):
                path = Path(inner, name)
                text = _text(path)
                if text is None:
                    complain(f"{path} cannot be read")
                else:
                    yield path, text


def _text(path: Path) -> str | None:
    try:
        return decode(str(path), files.read(path))[0].text
    except OSError:
        return None
