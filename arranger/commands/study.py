"""Run `study`: make one or two pages to practise from, of the changes in some songs."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from arranger import files
from arranger.cli import SONG_ERROR, Refused, complain, unexpected
from arranger.commands.evening import FolderEvening, order_path
from arranger.commands.songs import agreed, each, report, songs_of, touching, worked_out
from arranger.commands.wishes import wishes_of
from arranger.digests import as_made
from arranger.intake import Wishes
from arranger.late import load
from arranger.resources import FontError
from arranger.settings import ALSO
from arranger.text.source import Source
from arranger.text.terminal import printable

if TYPE_CHECKING:  # not loaded before a song has been read without a mistake
    from arranger.harmony.model import Arrangement

LEAST, MOST = 3, 60  # minutes: the hardest change, the loop and a triad have one each; more than an hour is no study


class _Asked(NamedTuple):
    """What is asked for: how long, on how many pages, the endings of what stands beside, and so on."""

    minutes: int
    pages: int
    kinds: list[str]
    wishes: Wishes
    force: bool


def run(options: argparse.Namespace) -> int:
    """Make the studies of all songs together, or tell which song is in the way."""
    asked = _Asked(
        _minutes(options.minutes), _pages(options.pages), _also(options.also), wishes_of(options), options.force
    )
    if any(word.lower().endswith(files.SET_ENDING) for word in options.songs):
        return _evening(options, asked)
    songs = list(dict.fromkeys(songs_of(options.songs)))  # a song that is named twice is practised once
    targets = _targets(songs, options, asked.kinds)
    arranged: list[tuple[str, Arrangement]] = []
    usable = set()

    def read(path: Path) -> int:
        worked, _, status = worked_out(path, asked.wishes, options.key)
        if worked is not None:
            arranged.append((str(path), worked.arrangement))
            usable.add(path)
        return status

    status = each(songs, read)
    broken = [str(path) for path in songs if path not in usable]
    if broken and len(songs) > 1 and not (options.skip_broken and arranged):
        hint = "--skip-broken makes studies of the other songs" if arranged else ""
        complain(f"no studies were made: {_listed(broken)} cannot be used", hint)
    if not arranged or (broken and not options.skip_broken):
        return max(status, SONG_ERROR)
    return max(status, _make(arranged, targets, asked))


def _evening(options: argparse.Namespace, asked: _Asked) -> int:
    """Make the studies of a running order's songs, as they are played that evening."""
    if len(options.songs) > 1:
        raise Refused(("expected songs, or one running order alone, found both or several", "make them one by one"))
    if options.key is not None:
        raise Refused(("--key is for songs; a running order has its own keys", "leave it out"))
    path = order_path(options.songs[0])
    targets = _targets([path], options, asked.kinds)
    evening = FolderEvening(path, asked.wishes)
    songs = evening.songs.all_songs()
    status = evening.told()
    if status and not (options.skip_broken and songs):
        if songs:
            complain("no studies were made", "--skip-broken makes studies of the songs that can be used")
        return status
    arranged: list[tuple[str, Arrangement]] = []
    for song in songs:
        worked, problems = load("arranger.pipeline").to_worked_out(song, asked.wishes)
        status = max(status, report(problems, song.source))
        arranged += [(song.source.name, worked.arrangement)] if worked else []
    if not arranged or (len(arranged) < len(songs) and not options.skip_broken):
        hint = "--skip-broken makes studies of the other songs" if arranged else ""
        complain(f"no studies were made: {len(songs) - len(arranged)} of {len(songs)} songs cannot be used", hint)
        return max(status, SONG_ERROR)
    return max(status, _make(arranged, targets, asked, evening.songs.order.title.value))


def _listed(names: list[str]) -> str:
    shown = names[: files.NAMED_AT_MOST]
    more = f" and {len(names) - len(shown)} more" if len(names) > len(shown) else ""
    return f"{', '.join(shown)}{more}"


def _make(arranged: list[tuple[str, Arrangement]], targets: list[Path], asked: _Asked, name: str = "") -> int:
    """Make the studies of songs that are worked out, each with its file, and say what is on the pages.

    `targets` are the PDF and, where it is asked for, the MIDI file; `name` is that of the evening.
    """
    practising = load("arranger.practising")
    songs = []
    for path, arrangement in arranged:
        if practising.has_study(arrangement):
            songs.append(arrangement)
        elif len(arranged) > 1:
            complain(f"{path} has no change of chord; no study is from it")
    if not songs:
        which = f"{arranged[0][0]}: expected a change of chord to practise, found none"
        several = f"expected a change of chord to practise in one of {len(arranged)} songs at least, found none"
        raise Refused((which if len(arranged) == 1 else several, ""))
    try:
        made, problems = practising.to_studies(songs, asked.minutes, asked.pages, asked.wishes, name)
    except FontError as fault:
        raise Refused((str(fault), "a file that ends in .ttf")) from None
    status = report(problems, Source.of(str(targets[0]), ""))
    if made is None:
        return status
    together = [(targets[0], made.pdf)]
    said = [_said(made, asked.minutes)]
    try:
        midi = practising.to_study_midi(made) if len(targets) > 1 else None
    except ValueError as problem:  # they would sound for hours
        raise Refused((str(problem), "look at `tempo` in the songs")) from None
    if midi is not None:
        together.append((targets[1], midi[0]))
        said.append(midi[1])
    with touching(targets[0], "written", "nothing has changed there"):
        files.write_together(together, lambda present: asked.force or as_made(present))
    for (target, _), what in zip(together, said, strict=True):
        print(printable(f"{target}: {what}"))
    return status


def _said(made: Any, minutes: int) -> str:
    """Return what stands on the pages, and for what there is no room, in words."""
    more = " (--pages 2 gives more)" if made.pages == 1 else ""
    left = f"; {made.no_room}{more}" if made.no_room else ""
    return f"{made.said}, {minutes} minutes{left}"


def _targets(songs: list[Path], options: argparse.Namespace, kinds: list[str]) -> list[Path]:
    """Return the one PDF that is made of all songs, and what stands beside it, whose names end in `kinds`."""
    first, several = songs[0], len(songs) > 1

    def name(song: Path) -> str:
        return files.study_name(song, several)

    keep = not options.force
    found = files.results([first], options.output, name, "song", "PDF", keep=keep, also=kinds)
    target = agreed(found)[first]
    return [target, *files.beside(target, kinds)]


def _also(text: str | None) -> list[str]:
    """Return the endings of what is made beside the PDF: MIDI alone can be."""
    if text is None:
        return []
    if text.strip().lower() == "midi":
        return [ALSO["midi"]]
    raise unexpected("midi", "--also", text, "studies can be heard; they are no score to write out")


def _minutes(text: str | None) -> int:
    if text is None:
        return 15
    digits = text.isascii() and text.strip().isdecimal() and len(text.strip()) <= 4
    if digits and LEAST <= int(text) <= MOST:
        return int(text)
    hint = f"under {LEAST} there is no minute for each of three studies" if digits and int(text) < LEAST else ""
    raise unexpected(f"whole minutes from {LEAST} to {MOST}", "--minutes", text, hint)


def _pages(text: str | None) -> int:
    if text is None:
        return 1
    if text.strip() in ("1", "2"):
        return int(text)
    raise unexpected("1 or 2", "--pages", text)
