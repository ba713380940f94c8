"""Keep the desk's songs: a folder on the disk, and the player's settings. Files are written whole or not at all."""

from __future__ import annotations

import hashlib
import os
import posixpath
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import Any, NamedTuple, Protocol

from arranger import files
from arranger.files import SET_ENDING, SONG_ENDING, song_of_order
from arranger.late import load
from arranger.library.catalogue import terms_of
from arranger.library.find import Wanted, find
from arranger.library.scan import scan
from arranger.player import Player, read_player
from arranger.song.read import decode, encode
from arranger.text.source import Source

ENDINGS = (SONG_ENDING, SET_ENDING)
BEFORE = ".before-save"  # behind the name of a song: what it was before it was last saved
MOST_LISTED = 500  # songs; who has more searches
NEW = ""  # the version of a song that is not on the disk yet


class SongKeeperError(Exception):
    """Something that cannot be read or saved: said in words, for the page."""


class Opened(NamedTuple):
    """A song as it is kept: its text as it was typed, and the version that it is saved over."""

    text: str
    version: str


class NamedSong(NamedTuple):
    """A song that a running order names: its file as the order has it, its text; else None, why, and a hint."""

    file: str
    text: str | None
    missing: str
    hint: str


class Conflict(NamedTuple):
    """A song was changed elsewhere meanwhile: nothing was saved; its version now, `NEW` where it is gone."""

    version: str


class SongKeeper(Protocol):
    """Whoever keeps the songs and the settings."""

    def songs(self, words: str) -> dict[str, Any]:
        """Return the songs and running orders that have some words, all where there are none."""

    def read(self, name: str) -> Opened:
        """Return a song."""

    def named(self, order: str, names: Sequence[str]) -> Sequence[NamedSong]:
        """Return the songs that a running order names."""

    def save(self, name: str, text: str, version: str) -> str | Conflict:
        """Save a song over a version; return the new one."""

    def settings(self) -> str:
        """Return the text of the player's settings; empty where there are none."""

    def save_settings(self, text: str, before: str) -> bool:
        """Save the settings over what they were; False where somebody has changed them meanwhile."""

    def fonts(self) -> tuple[str, ...]:
        """Return the paths of the player's own fonts."""


class FolderStore:
    """The songs of a folder and of the folders in it."""

    def __init__(self, folder: Path, settings: Path | None) -> None:
        self._folder = folder.resolve()
        self._settings = settings

    @property
    def folder(self) -> Path:
        """Where the songs are."""
        return self._folder

    def songs(self, words: str) -> dict[str, Any]:
        """Return the songs that have some words, by title, with how many there are and what cannot be read."""
        found = find(str(self._folder), Wanted(terms_of(words.split())), MOST_LISTED)
        listed = [
            {
                "name": match.facts.file,
                "title": match.facts.title,
                "key": match.facts.key,
                "tempo": match.facts.tempo,
                "meter": match.facts.meter,
                "errors": match.facts.errors,
                "place": match.place,
            }
            for match in found.matches
        ]
        told = [f"{problem.name or problem.path} {problem.message}" for problem in found.problems]
        orders, more = self._orders()
        search = load("arranger.desk.song_search")
        return {
            "songs": listed,
            "total": found.total,
            "orders": search.searched_orders(orders, words),
            "told": [*told, *more],
        }

    def _orders(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return the names and texts of the running orders, and what is to be said of those that cannot be read."""
        found, problems = scan(str(self._folder), SET_ENDING)
        told = [f"{one.name or one.path} {one.message}" for one in problems if one.name.lower().endswith(SET_ENDING)]
        orders = []
        for one in found:
            try:
                orders.append((one.name, self.read(one.name).text))
            except SongKeeperError as fault:
                told.append(str(fault))
        return orders, told

    def named(self, order: str, names: Sequence[str]) -> list[NamedSong]:
        """Return the songs that a running order names, with the text of each or why there is none.

        Args:
            order: the name of the running order, from whose place the songs are named.
            names: of songs, as the order has them.
        """
        return [self._named(order, name) for name in names]

    def _named(self, order: str, name: str) -> NamedSong:
        try:
            path = self._path(posixpath.normpath(posixpath.join(posixpath.dirname(order), name)), (SONG_ENDING,))
        except SongKeeperError as fault:
            return NamedSong(name, None, f"expected a song of this folder, found {name}: {fault}", "")
        data, (message, hint) = song_of_order(path)
        here = f"{self._folder}{os.sep}"
        if data is not None:
            try:
                return NamedSong(name, data.decode("utf-8"), "", "")
            except UnicodeDecodeError:
                return NamedSong(name, None, f"{name} is no text in UTF-8", "")
        return NamedSong(name, None, message.replace(here, ""), hint.replace(here, ""))

    def read(self, name: str) -> Opened:
        """Return a song as it was typed.

        Raises:
            SongKeeperError: it cannot be read.
        """
        path = self._path(name)
        data = self._bytes(path)
        source, problems = decode(name, data)
        if problems and problems[0].code != "control-character":
            raise SongKeeperError(f"{name}: {problems[0].message}")
        return Opened(Source.typed(source.name, data.decode("utf-8")).text, version_of(data))

    def save(self, name: str, text: str, version: str) -> str | Conflict:
        """Save a song over a version; what it was is kept beside it.

        Raises:
            SongKeeperError: it cannot be written; nothing has changed.
        """
        path = self._path(name)
        try:
            if not path.exists():
                if version != NEW:
                    return Conflict(NEW)
                data = text.encode("utf-8")
                files.write(path, data, lambda _: False)
                return version_of(data)
            before = self._bytes(path)
            if version_of(before) != version:
                return Conflict(version_of(before))
            data = encode(Source(name, text), before)
            if data != before:
                files.write(path.with_name(path.name + BEFORE), before, lambda _: True)
                files.write(path, data, before.__eq__)
            return version_of(data)
        except FileExistsError:
            return Conflict(version_of(self._bytes(path)))
        except OSError as fault:
            raise SongKeeperError(f"{name} cannot be saved: {files.reason(fault)}") from None
        except UnicodeEncodeError:
            raise SongKeeperError(f"{name} cannot be saved: it has half of a character") from None

    def settings(self) -> str:
        """Return the text of the player's settings; empty where there are none.

        Raises:
            SongKeeperError: they cannot be read.
        """
        if self._settings is None or not self._settings.exists():
            return ""
        source, problems = decode(str(self._settings), self._bytes(self._settings))
        if problems:
            raise SongKeeperError(f"the settings {self._settings}: {problems[0].message}")
        return source.text

    def save_settings(self, text: str, before: str) -> bool:
        """Save the settings over what they were; False where somebody has changed them meanwhile.

        Raises:
            SongKeeperError: they cannot be written.
        """
        if self._settings is None:
            raise SongKeeperError("there is no home folder to keep settings in")
        if self.settings() != before:
            return False
        try:
            there = self._bytes(self._settings) if self._settings.exists() else b""
            files.write(self._settings, encode(Source("settings", text), there), there.__eq__)
        except OSError as fault:
            raise SongKeeperError(f"{self._settings} cannot be saved: {files.reason(fault)}") from None
        return True

    def fonts(self) -> tuple[str, ...]:
        """Return the paths of the player's own fonts, from the folder of the settings."""
        names = _fonts_of(self.settings())
        beside = (self._settings or Path()).parent
        return tuple(str(beside / Path(name).expanduser()) for name in names)

    def _path(self, name: str, endings: tuple[str, ...] = ENDINGS) -> Path:
        """Return the path of a song or a running order; refuse what is none, or lies elsewhere.

        Raises:
            SongKeeperError: the name is no song of this folder.
        """
        parts = PurePosixPath(name).parts
        plain = name and "\0" not in name and "\\" not in name and not name.startswith("/")
        if not plain or any(part == ".." or part.startswith(".") or ":" in part for part in parts):
            raise SongKeeperError(f"{name!r} is no name of a song here")
        if not name.endswith(endings) or PurePosixPath(name).name in ENDINGS:
            raise SongKeeperError(
                f"the name of a song ends in .song.txt, that of an evening in .set.txt, found {name!r}"
            )
        path = self._folder / name
        try:
            if not path.resolve().is_relative_to(self._folder):
                raise SongKeeperError(f"{name} leads out of the folder")
        except (OSError, RuntimeError):
            raise SongKeeperError(f"{name} cannot be found") from None
        return path

    def _bytes(self, path: Path) -> bytes:
        try:
            return files.read(path)
        except OSError as fault:
            raise SongKeeperError(f"{path.name} cannot be read: {files.reason(fault)}") from None


def version_of(data: bytes) -> str:
    """Return what tells versions of a file apart."""
    return hashlib.sha256(data).hexdigest()


def _fonts_of(settings: str) -> Sequence[str]:
    source, problems = decode("player.toml", settings.encode())
    player = Player() if problems else read_player(source)[0]
    return player.fonts
