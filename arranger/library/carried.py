"""Carry jobs to other machines: all that they need goes with them, and a worker that is not the same program refuses.

Plain values travel: names with versions, and bytes that are opened only after the versions were compared. The player's
own fonts travel as bytes too; their paths mean nothing elsewhere, so each has a name by what it holds.
"""

from __future__ import annotations

import os
import pickle
import socket
import sys
import zlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import arranger
from arranger.intake import Wishes
from arranger.library.make import MadeSong, SongTask
from arranger.library.plan import program
from arranger.library.store import digest
from arranger.library.workers import NoWorkersError
from arranger.pdf.shaping import libraries
from arranger.resources import font_bytes, lend_font

Versions = tuple[tuple[str, str], ...]
CarriedFonts = tuple[tuple[str, str, bytes], ...]  # the name that a font travels under, its path at home, its bytes
Making = Callable[[Wishes, tuple[str, ...], tuple[SongTask, ...]], tuple[MadeSong, ...]]
SHOWN = 12  # signs of the digest of a program: enough to see that two differ


@cache
def versions_here(own_fonts: bool) -> Versions:
    """Return the versions of all that the bytes of a file depend on, by name: the program to the letter of its source.

    Args:
        own_fonts: the player has fonts of his own, whose letters another library may join.
    """
    return (
        ("keys-arranger", f"{arranger.__version__} ({program()[:SHOWN]})"),
        (sys.implementation.name, ".".join(map(str, sys.version_info[:3]))),
        *libraries(own_fonts),
        ("zlib", zlib.ZLIB_RUNTIME_VERSION),
    )


def packed(work: Callable[[Any], object], job: object) -> bytes:
    """Return a job as bytes, with what is to be done with it."""
    return pickle.dumps((work, job))


def do(wanted: Versions, own_fonts: bool, package: bytes) -> object:
    """Do a job that was carried here; what it holds is not looked at before the versions are known to be the same.

    Raises:
        NoWorkersError: this worker would give other bytes.
    """
    have = dict(versions_here(own_fonts))
    differences = [
        f"{name} {have.pop(name, 'is not there')}, where {version} is asked for"
        for name, version in wanted
        if have.get(name) != version
    ]
    if differences:
        where = f"the worker on {socket.gethostname()} (process {os.getpid()})"
        raise NoWorkersError(f"{where} is not the same: {'; '.join(differences)}", "give it the same, or end it")
    work, job = pickle.loads(package)
    result: object = work(job)
    return result


def carried_fonts(wishes: Wishes) -> tuple[Wishes, CarriedFonts]:
    """Return wishes whose fonts have names that mean the same everywhere, and these fonts."""
    fonts: dict[str, tuple[str, bytes]] = {}

    def named(paths: tuple[str, ...]) -> tuple[str, ...]:
        names = []
        for path in paths:
            data = font_bytes(path)
            names.append(f"{digest(data)}/{Path(path).name}")
            fonts[names[-1]] = path, data
        return tuple(names)

    pages = wishes.pages._replace(fonts=named(wishes.pages.fonts))
    stage = wishes.stage._replace(fonts=named(wishes.stage.fonts))
    carried = tuple((name, path, data) for name, (path, data) in fonts.items())
    return wishes._replace(pages=pages, stage=stage), carried


def make_carried(
    make: Making, wishes: Wishes, kinds: tuple[str, ...], fonts: CarriedFonts, tasks: tuple[SongTask, ...]
) -> tuple[MadeSong, ...]:
    """Make songs with the fonts that came along; what is said of a font has its path at home."""
    for name, _, data in fonts:
        lend_font(name, data)
    return tuple(_at_home(made, fonts) for made in make(wishes, kinds, tasks))


def _at_home(made: MadeSong, fonts: CarriedFonts) -> MadeSong:
    messages, fault = made.messages, made.fault
    for name, path, _ in fonts:
        messages = tuple(message.replace(name, path) for message in messages)
        fault = fault.replace(name, path)
    return made._replace(messages=messages, fault=fault)
