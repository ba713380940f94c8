"""Run `find`: look songs up by their titles, words, keys, tempi and meters."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from arranger.cli import DONE, Refused, complain, print_json, unexpected
from arranger.late import load
from arranger.library.catalogue import Term, fold, sounding, terms_of
from arranger.library.find import Findings, Match, Wanted, find
from arranger.library.store import PATIENCE
from arranger.text.diagnostics import columns
from arranger.text.terminal import printable
from arranger.theory.key import tonic_and_mode

NOTHING = 1  # the status where nothing is found, as other programs that search have it
SHOWN = 40  # songs that are listed unless all are asked for: what a glance can take in
TOLD_FROM = 500  # songs to read first, from which the player is told why it takes a while
WIDEST = 48  # columns of a title in the list; longer ones push their line to the right

_NUMBERS = re.compile(r"([0-9]{1,3})?\s*([-–])?\s*([0-9]{1,3})?")
_METER = re.compile(r"0*([1-9][0-9]?)\s*/\s*0*([1-9][0-9]?)")


def run(options: argparse.Namespace) -> int:
    """Look songs up and list them, the likeliest first."""
    folder = options.folder
    if not folder.strip():
        raise Refused(("expected a folder after --in, found nothing", "`.` is the folder that you are in"))
    if not Path(folder).is_dir():
        is_file = Path(folder).exists()
        what = f"expected a folder, found the file {folder}" if is_file else f"there is no folder {folder}"
        raise Refused((what, "--in names the folder where the songs are"))
    wanted = Wanted(
        terms=_terms(options.words),
        sounds=_sounds(options.key) if options.key is not None else (),
        tempo=_tempo(options.tempo) if options.tempo is not None else None,
        meter=_meter(options.meter) if options.meter is not None else "",
    )
    if wanted == Wanted() and not options.set:
        raise Refused(("expected words to look for, or --key, --tempo or --meter", "arranger find lantern --key D"))
    found = find(folder, wanted, None if options.all or options.json else SHOWN, _tell_reading, _tell_waiting)
    plays = load("arranger.library.evenings").plays(folder) if options.set else None
    for problem in (*found.problems, *(plays.problems if plays else ())):
        complain(f"{problem.path} {problem.message}", problem.hint)
    if options.json:
        print_json(_json(found, plays.songs if plays else None))
    else:
        for line in _table(found.matches, folder, plays.songs if plays else None):
            print(printable(line))
        _tell(found, wanted)
    return DONE if found.total else NOTHING


def _terms(words: Sequence[str]) -> tuple[Term, ...]:
    terms = terms_of(words)
    if words and not terms:
        raise Refused((f"expected words with letters or figures, found `{' '.join(words)}`", ""))
    return terms


def _sounds(text: str) -> tuple[int, ...]:
    """Read a key: the letter alone is major, as in songs; keys that sound alike are found together."""
    try:
        tonic, minor = tonic_and_mode(text)
    except ValueError:
        near = text.strip()[:1].upper() + text.strip()[1:]
        hint = "D is D major, Dm is D minor"
        if fold(text)[:1] == "h":
            hint = "the German H is `B`, and B is `Bb`"
        elif near != text:
            hint = f"is `{near}` meant?"
        raise unexpected("a key such as D, Bb or F#m", "--key", text, hint) from None
    return (sounding(tonic.pitch_class, bool(minor)),)


def _tempo(text: str) -> tuple[int, int]:
    """Read `72`, `60-80`, `60-`, `-80`."""
    match = _NUMBERS.fullmatch(text.strip())
    if match is None or not (match[1] or match[3]) or (match[1] and match[3] and not match[2]):
        raise unexpected("a tempo such as 72, or from and to as 60-80,", "--tempo", text)
    low, high = int(match[1] or 0), int(match[3] or 999)
    if not match[2]:
        high = low
    if low > high:
        raise unexpected("the slower tempo first", "--tempo", text, f"--tempo {high}-{low}")
    return low, high


def _meter(text: str) -> str:
    match = _METER.fullmatch(text.strip())
    if match is None:
        raise unexpected("a meter such as 6/8", "--meter", text)
    return f"{match[1]}/{match[2]}"


def _tell_reading(count: int) -> None:
    if count >= TOLD_FROM:
        print(f"reading {count:,} songs; the next time only what has changed is read", file=sys.stderr)


def _tell_waiting() -> None:
    waiting = f"another run is at work on what is kept of these songs: waiting, {PATIENCE:g} seconds at most"
    complain(waiting, "after that they are all read anew, for this once")


def _table(matches: Sequence[Match], folder: str, plays: Mapping[str, Sequence[Any]] | None) -> list[str]:
    """Set the songs in columns: title, key, tempo, meter, file; under each the words, and when it was played.

    `plays` are those of `library.evenings`, by the songs' names; None where nobody asked for them.
    """
    facts = [match.facts for match in matches]
    rows = [(f.title, f.key or "?", f.tempo or "–", f.meter, str(Path(folder) / f.file)) for f in facts]
    widths = [min(WIDEST, max(map(columns, cells))) for cells in list(zip(*rows, strict=True))[:-1]]
    lines = []
    for match, (*cells, file) in zip(matches, rows, strict=True):
        padded = (cell + " " * (width - columns(cell)) for cell, width in zip(cells, widths, strict=True))
        errors = f"  ({match.facts.errors} error{'' if match.facts.errors == 1 else 's'})" if match.facts.errors else ""
        lines.append(f"{'  '.join(padded)}  {file}{errors}")
        if match.place is not None:
            lines.append(f"    {match.place[0]}: {match.place[1]}")
        if plays is not None:
            lines += (f"    {play.words}" for play in plays.get(match.facts.file, ()))
            lines += ["    in no running order"] if match.facts.file not in plays else []
    return lines


def _tell(found: Findings, wanted: Wanted) -> None:
    """Print what the list does not say: that it is not all, that songs have errors, what there is where it is empty."""
    if len(found.matches) < found.total:
        complain(f"{found.total:,} songs found; these are the likeliest {len(found.matches)}", "--all lists them all")
    if any(match.facts.errors for match in found.matches):
        complain("songs with errors are listed by what can be read of them", "`arranger check SONG` tells the errors")
    if found.total:
        return
    if not found.songs:
        complain("there is no song in this folder", "songs are files NAME.song.txt; --in names another folder")
    elif found.elsewhere:
        asked = (("--key", wanted.sounds), ("--tempo", wanted.tempo), ("--meter", wanted.meter))
        given = " and ".join(option for option, value in asked if value)
        hint = f"{_songs(found.elsewhere)} these words without {given}"
        complain("no song with these words is like that", hint)
    elif found.apart:
        complain("no song has these words in this order", f"{_songs(found.apart)} them all: leave the quotes out")
    else:
        titles = ", ".join(f"“{title}”" for title in found.near)
        songs = f"{found.songs:,} song{'' if found.songs == 1 else 's'}"
        complain(f"nothing found in {songs}", titles and f"near: {titles}")


def _songs(count: int) -> str:
    return f"{count:,} songs have" if count > 1 else "1 song has"


def _json(found: Findings, plays: Mapping[str, Sequence[Any]] | None) -> str:
    songs = []
    for match in found.matches:
        facts = {name: value for name, value in match.facts._asdict().items() if name not in ("file", "output")}
        place = None if match.place is None else {"section": match.place[0], "words": match.place[1]}
        song = {**facts, "file": match.facts.file, "place": place}
        if plays is not None:
            song["sets"] = [play._asdict() for play in plays.get(match.facts.file, ())]
        songs.append(song)
    data = {"songs": found.songs, "found": songs, "near": list(found.near)}
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"
