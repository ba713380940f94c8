"""`convert`: makes songs of typed sheets, and their parts where that is asked for."""

from __future__ import annotations

import argparse
import re
import sys
from dataclasses import dataclass
from pathlib import Path

from arranger import files
from arranger.arguments import Refused, parsers
from arranger.commands import part
from arranger.commands.saying import DONE, tell
from arranger.commands.songs import each, report
from arranger.commands.wishes import one_of
from arranger.convert.columns import decode_sheet
from arranger.convert.conversion import convert
from arranger.convert.model import Converted, Note, Options
from arranger.habits.free_form import MOST_BEATS
from arranger.song.chord_rows import METER_UNITS
from arranger.song.model import Meter
from arranger.song.read import without_controls
from arranger.text.source import Source
from arranger.text.terminal import printable, quoted
from arranger.theory.key import Key

BARS = ("one-a-chord", "two-a-chord")
_METER = re.compile(r"([0-9]{1,2})/([0-9]{1,2})")


@dataclass(frozen=True, slots=True)
class _Said:
    """What the command line says about all sheets."""

    key: Key | None
    meter: Meter | None
    bars: int
    force: bool


def run(options: argparse.Namespace) -> int:
    """Make songs of sheets. Those that are none are told and left out; the others are made."""
    said = _said(options)
    sheets, problems = files.songs(options.sheets)
    if problems:
        raise Refused(*problems)
    targets, problems = files.results(sheets, options.output, files.song_name, "sheet", "song")
    if problems:
        raise Refused(*problems)
    places = dict(zip(sheets, targets, strict=True))
    songs = []

    def make(sheet: Path) -> int:
        status = _convert(sheet, places[sheet], said)
        if status == DONE:
            songs.append(str(places[sheet]))
        return status

    status = each(sheets, make)
    if options.part and songs:
        wishes = parsers()[0].parse_args(["part", *(["--force"] if said.force else []), "--", *songs])
        status = max(status, part.run(wishes))
    return status


def _said(options: argparse.Namespace) -> _Said:
    bars = one_of("--bars", options.bars, BARS) if options.bars else BARS[0]
    return _Said(
        _key(options.key) if options.key is not None else None,
        _meter(options.meter) if options.meter is not None else None,
        BARS.index(bars) + 1,
        options.force,
    )


def _key(text: str) -> Key:
    try:
        return Key.parse(text)
    except ValueError:
        raise Refused((f"expected a key such as D, Bb or F#m after --key, found `{text}`", "")) from None


def _meter(text: str) -> Meter:
    match = _METER.fullmatch(text.strip())
    if match is None or int(match[2]) not in METER_UNITS or not 1 <= int(match[1]) <= MOST_BEATS:
        raise Refused((f"expected a meter such as 3/4 or 6/8 after --meter, found `{text}`", ""))
    return Meter(int(match[1]), int(match[2]))


def _convert(sheet: Path, target: Path, said: _Said) -> int:
    """Make one song; give the status that this leads to."""
    if target.exists() and not said.force:
        hint = f"--force writes over it; `arranger part {quoted(str(target))}` makes its part as it is"
        return tell(Refused((f"{target} is there already, and stays as it is", hint)))
    try:
        data = files.read(sheet)
    except OSError as fault:
        return tell(Refused((f"{sheet} cannot be read: {files.reason(fault)}", "")))
    source, problems, encoding = decode_sheet(str(sheet), data)
    if source is None:
        return report(problems, Source(str(sheet), ""))
    title = " ".join(without_controls(sheet.stem.replace("_", " ")).split()) or "Untitled"
    converted, problems = convert(source, Options(title, said.key, said.meter, said.bars))
    if converted is None:
        return report(problems, source)
    try:
        files.write(target, converted.text.encode(), lambda _: said.force)
    except OSError as fault:
        return tell(Refused((f"{target} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    _tell(sheet, target, converted, encoding)
    return DONE


def _tell(sheet: Path, target: Path, converted: Converted, encoding: str) -> None:
    """Say what was made, what is to be checked, and what found no place."""
    for note in converted.notes:
        if note.kind == "left":
            print(printable(f"{_place(sheet, note)}: not in the song, kept as a remark: {note.text}"), file=sys.stderr)
    told = [note for note in converted.notes if note.kind == "assumed"]
    for note in told:
        print(printable(f"{sheet}: assumed: {note.text}"), file=sys.stderr)
    if encoding:
        print(printable(f"{sheet}: read as {encoding}"), file=sys.stderr)
    check = sum(note.kind == "check" for note in converted.notes)
    places = f"; {check} place{'' if check == 1 else 's'} to check: look for `# check`" if check else ""
    print(printable(f"{target}: made of {sheet}{places}"))


def _place(sheet: Path, note: Note) -> str:
    return f"{sheet}:{note.line}" if note.line else str(sheet)
