"""Run `convert`: make songs of typed sheets and scores, and their parts where that is asked for."""

from __future__ import annotations

import argparse
import re
import sys
from functools import partial
from pathlib import Path

from arranger import files
from arranger.cli import DONE, Refused, parsers, unexpected
from arranger.commands.review import Assumed, of_sheet, review, sum_up
from arranger.commands.songs import agreed, each, report, run_part, songs_of, touching
from arranger.commands.wishes import one_of
from arranger.convert.columns import decode_sheet
from arranger.convert.conversion import convert
from arranger.convert.model import Converted
from arranger.convert.score_conversion import convert_score
from arranger.convert.score_file import MOST_UNPACKED, is_score
from arranger.habits.bounds import MOST_BEATS
from arranger.resources import ordinary_bytes
from arranger.song.chord_rows import METER_UNITS
from arranger.song.model import Meter
from arranger.song.read import without_controls
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import Source
from arranger.text.terminal import printable, quoted
from arranger.theory.key import Key

ConvertedOrNot = tuple[Converted | None, tuple[Diagnostic, ...]]
BARS = ("one-a-chord", "two-a-chord")
_METER = re.compile(r"([0-9]{1,2})/([0-9]{1,2})")


def run(options: argparse.Namespace) -> int:
    """Make songs of sheets, and sum up. Those that are none are told and left out; the others are made."""
    if options.review is not None:
        if options.sheets:
            raise Refused(
                ("--review takes a folder of songs alone, without sheets", "`arranger convert --review songs`")
            )
        return review(Path(options.review))
    if not options.sheets:
        raise Refused(("the following arguments are required: SHEET", "`arranger convert --help` explains"))
    bars = one_of("--bars", options.bars or BARS[0], BARS)
    converted_by = partial(convert, key=_key(options.key), meter=_meter(options.meter), bars=BARS.index(bars) + 1)
    sheets = songs_of(options.sheets)
    places = agreed(files.results(sheets, options.output, files.song_name, "sheet", "song"))
    songs: list[str] = []
    checks: list[int] = []
    assumed: list[Assumed] = []

    def make(sheet: Path) -> int:
        converted, status = _convert(sheet, places[sheet], converted_by, options.force)
        if converted is not None:
            songs.append(str(places[sheet]))
            checks.append(sum(note.kind == "check" for note in converted.notes))
            assumed.extend((str(sheet), note.text) for note in converted.notes if note.kind == "assumed")
        return status

    status = each(sheets, make)
    sum_up(checks, len(sheets), assumed)
    if options.part and songs:
        wishes = parsers(["part"])[0].parse_args(["part", *(["--force"] if options.force else []), "--", *songs])
        status = max(status, run_part(wishes))
    return status


def _key(text: str | None) -> Key | None:
    try:
        return None if text is None else Key.parse(text)
    except ValueError:
        raise unexpected("a key such as D, Bb or F#m", "--key", text or "") from None


def _meter(text: str | None) -> Meter | None:
    if text is None:
        return None
    match = _METER.fullmatch(text.strip())
    if match is None or int(match[2]) not in METER_UNITS or not 1 <= int(match[1]) <= MOST_BEATS:
        raise unexpected("a meter such as 3/4 or 6/8", "--meter", text)
    return Meter(int(match[1]), int(match[2]))


def _convert(
    sheet: Path, target: Path, converted_by: partial[ConvertedOrNot], force: bool
) -> tuple[Converted | None, int]:
    """Make one song; return it, or None, and the status that this leads to."""
    if target.exists() and not force:
        hint = f"--force writes over it; `arranger part {quoted(str(target))}` makes its part as it is"
        raise Refused((f"{target} is there already, and stays as it is", hint))
    with touching(sheet, "read"):
        data = files.read(sheet)
        score = is_score(sheet.name, data)
        data = ordinary_bytes(sheet, MOST_UNPACKED + 1) if score else data
    title = " ".join(without_controls(sheet.stem.replace("_", " ")).split()) or "Untitled"
    encoding = ""
    source: Source | None = Source(str(sheet), "")
    if score:
        wishes = converted_by.keywords
        converted, problems = convert_score(data, title=title, key=wishes["key"], meter=wishes["meter"])
    else:
        source, problems, encoding = decode_sheet(str(sheet), data)
        converted, problems = converted_by(source, title=title) if source is not None else (None, problems)
    if converted is None:
        return None, report(problems, source or Source(str(sheet), ""))
    with touching(target, "written", "nothing has changed there"):
        files.write(target, converted.text.encode(), lambda _: force)
    _tell(sheet, target, converted, encoding)
    return converted, DONE


def _tell(sheet: Path, target: Path, converted: Converted, encoding: str) -> None:
    """Print what was made, how many places are to be looked at, and what found no place."""
    for note in converted.notes:
        if note.kind == "left":
            place = f"{sheet}:{note.line}" if note.line else str(sheet)
            print(printable(f"{place}: not in the song, kept as a remark: {note.text}"), file=sys.stderr)
    if encoding:
        print(printable(f"{sheet}: read as {encoding}"), file=sys.stderr)
    checks = sum(note.kind == "check" for note in converted.notes)
    print(printable(f"{target}: made of {sheet}; {of_sheet(checks)}"))
