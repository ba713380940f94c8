"""Making PDFs of songs: what the commands that do have in common."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol, TypeVar

from arranger import files
from arranger.arguments import Refused
from arranger.commands.saying import tell
from arranger.commands.songs import arranged, report
from arranger.harmony.model import Arrangement
from arranger.pipeline import Diagnostics, Wishes
from arranger.terminal import printable


class Finished(Protocol):
    """A PDF as the last stage gives it, with the number of its pages."""

    @property
    def pdf(self) -> bytes:
        """Give its bytes."""

    @property
    def pages(self) -> int:
        """Give how many pages it has."""


Made = TypeVar("Made", bound=Finished)
Finish = Callable[[Arrangement, Wishes], tuple[Made | None, Diagnostics]]


def make_each(
    songs: Sequence[Path],
    targets: Sequence[Path],
    wishes: Wishes,
    key: str | None,
    finish: Finish[Made],
    more: Callable[[Made], str] = lambda _: "",
) -> int:
    """Make the PDF of each song. Those with errors are told and left out; the others are made.

    Args:
        songs: their files.
        targets: where the PDF of each goes.
        wishes: the player's.
        key: another key for today, as typed.
        finish: sets the pages and writes them.
        more: what is said of a finished PDF behind the number of its pages.
    """
    return max(_make(song, target, wishes, key, finish, more) for song, target in zip(songs, targets, strict=True))


def _make(
    path: Path, target: Path, wishes: Wishes, key: str | None, finish: Finish[Made], more: Callable[[Made], str]
) -> int:
    arrangement, source, status = arranged(path, wishes, key)
    if arrangement is None:
        return status
    made, problems = finish(arrangement, wishes)
    status = max(status, report(problems, source))
    if made is None:
        return status
    try:
        files.write(target, made.pdf)
    except OSError as fault:
        return tell(Refused((f"{target} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    print(printable(f"{target}: {made.pages} page{'' if made.pages == 1 else 's'}{more(made)}"))
    return status
