"""Making PDFs of songs: what the commands that do have in common."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Protocol, TypeVar

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import tell
from arranger.commands.songs import arranged, each, key_in_name, report, songs_of
from arranger.harmony.model import Arrangement
from arranger.pipeline import Diagnostics, Wishes
from arranger.text.terminal import printable


class Finished(Protocol):
    """A PDF as the last stage gives it, with the number of its pages."""

    @property
    def pdf(self) -> bytes:
        """Return its bytes."""

    @property
    def pages(self) -> int:
        """Return how many pages it has."""


Made = TypeVar("Made", bound=Finished)
Finish = Callable[[Arrangement, Wishes], tuple[Made | None, Diagnostics]]


def make_each(
    options: argparse.Namespace,
    naming: Callable[[Path, str], str],
    wishes: Wishes,
    finish: Finish[Made],
    more: Callable[[Made], str] = lambda _: "",
) -> int:
    """Make the PDF of each song. Those with errors are told and left out; the others are made.

    Args:
        options: what was typed: the songs, where their PDFs go, another key for today.
        naming: names the PDF of a song, with a key where it is not the song's own.
        wishes: the player's.
        finish: sets the pages and writes them.
        more: what is said of a finished PDF behind the number of its pages.
    """
    songs = songs_of(options)
    targets, problems = files.pdfs(
        songs, options.output, lambda song: naming(song, key_in_name(song, options.key)), force=options.force
    )
    if problems:
        raise Refused(*problems)
    places = dict(zip(songs, targets, strict=True))

    def make(path: Path) -> int:
        arrangement, source, status = arranged(path, wishes, options.key)
        if arrangement is None:
            return status
        made, problems = finish(arrangement, wishes)
        status = max(status, report(problems, source))
        if made is None:
            return status
        target = places[path]
        try:
            files.write_pdf(target, made.pdf, force=options.force)
        except OSError as fault:
            return tell(Refused((f"{target} cannot be written: {files.reason(fault)}", "nothing has changed there")))
        print(printable(f"{target}: {made.pages} page{'' if made.pages == 1 else 's'}{more(made)}"))
        return status

    return each(songs, make)
