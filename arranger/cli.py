"""The commands: reads songs, writes PDFs, says what happened.

Takes the words of a command line; gives an exit status: 0 done (there may be warnings), 1 a song has an error, 2 the
command cannot be done as given. Messages go to the error stream, what was asked for to the output. Each command imports
its stages when it is called, so that `--help` and `--version` load none of them.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterable, Sequence

from arranger.arguments import Refused, parsers

TYPE_CHECKING = False  # as in `typing`, whose import would be a tenth of the time of `--help`
if TYPE_CHECKING:
    from fractions import Fraction
    from pathlib import Path
    from typing import IO, Any

    from arranger.diagnostics import Diagnostic
    from arranger.harmony.model import Arrangement
    from arranger.pipeline import Wishes
    from arranger.song.model import Song
    from arranger.source import Source

DONE, SONG_ERROR, USAGE_ERROR = 0, 1, 2
BROKEN = 70  # a fault of the program itself (EX_SOFTWARE of sysexits.h)
STOPPED, PIPE_CLOSED = 130, 141  # as shells count a process ended by a signal: 128 + SIGINT, 128 + SIGPIPE

TRACEBACK = "ARRANGER_TRACEBACK"  # set in the environment: a fault of the program shows where it came from

LONGEST_DATE = 40  # characters: what fits beside title and key at the foot of a page


def main(words: Sequence[str] | None = None) -> int:
    """Run one command line (that of the process by default) and give its exit status."""
    for stream in (sys.stdout, sys.stderr):
        _take_any_character(stream)
    try:
        return _guarded(sys.argv[1:] if words is None else words)
    except KeyboardInterrupt:
        _complain("stopped")
        return STOPPED
    except BrokenPipeError:  # the reader has gone (`| head`): nothing to say, and nobody to say it to
        _drop_output()
        return PIPE_CLOSED


def _guarded(words: Sequence[str]) -> int:
    """Run a command line; faults become messages."""
    try:
        status = _run(words)
        if sys.stdout is not None:
            sys.stdout.flush()
        return status
    except Refused as refused:
        return _tell(refused)
    except BrokenPipeError:
        raise
    except OSError as fault:
        if fault.errno is None or fault.filename is not None:
            return _fault(fault)
        _drop_output()  # a full disk under `> FILE`
        return _tell(Refused((f"the output cannot be written: {fault.strerror}", "")))
    except Exception as fault:
        return _fault(fault)


def _fault(fault: Exception) -> int:
    """Own up to a fault of the program."""
    if TRACEBACK in os.environ:
        raise fault
    _complain(
        f"this is a fault of the program, not of your song: {type(fault).__name__}: {fault}",
        f"please report it with the song; {TRACEBACK}=1 in the environment shows where it happened",
    )
    return BROKEN


def _run(words: Sequence[str]) -> int:
    parser, commands = parsers()
    if not words:
        parser.print_help()
        return USAGE_ERROR
    first = words[0]
    if first not in {*commands, *parser.short_options, *parser.long_options}:
        if first.startswith("-"):
            hint = _nearest(first, parser.long_options) if len(words) == 1 else "options stand after the command"
            raise Refused((f"there is no option `{first}` here", hint))
        song = first.lower().endswith(".song.txt")
        hint = f"`arranger part {first}` makes its part" if song else _nearest(first, commands)
        raise Refused((f"there is no command `{first}`", hint))
    try:
        options, unknown = parser.parse_known_args(words)
    except SystemExit as done:  # --help and --version have said what they say
        return int(done.code or DONE)
    if unknown:
        known = commands[options.command].long_options
        raise Refused((f"there is no option `{unknown[0]}` here", _nearest(unknown[0], known)))
    return COMMANDS[options.command](options)


# What is said.


def _take_any_character(stream: IO[str] | None) -> None:
    """Let a stream write the characters that its encoding lacks as escapes."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")


def _drop_output() -> None:
    """Send what is left in the output's buffer nowhere, or Python would try it once more at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _complain(message: str, hint: str = "") -> None:
    """Say something about the command itself, not about a song."""
    from arranger.terminal import printable

    print(f"arranger: {printable(message)}", file=sys.stderr)
    if hint:
        print(f"  hint: {printable(hint)}", file=sys.stderr)


def _tell(refused: Refused) -> int:
    for message, hint in refused.messages:
        _complain(message, hint)
    return USAGE_ERROR


def _nearest(word: str, known: Iterable[str]) -> str:
    """Give a hint with the known word nearest to one."""
    from difflib import get_close_matches

    near = get_close_matches(word.partition("=")[0], list(known), n=1)
    return f"is `{near[0]}` meant?" if near else "`arranger --help` lists what there is"


def _report(problems: Iterable[Diagnostic], source: Source) -> int:
    """Print what the stages had to say about a song; give the status that it leads to."""
    from arranger.diagnostics import has_errors, in_order, render

    problems = in_order(problems)
    for problem in problems:
        print(render(problem, source), file=sys.stderr)
    return SONG_ERROR if has_errors(problems) else DONE


# Wishes.


def _wishes(options: argparse.Namespace) -> Wishes:
    """Read the options that shape the part, all but the key, which depends on the song."""
    from dataclasses import replace

    from arranger.harmony.taste import DEFAULT
    from arranger.pipeline import Wishes
    from arranger.units import PAPERS

    without = _without(options)
    share = None if options.suspensions is None else _share(options.suspensions)
    if "suspensions" in without and share:
        raise Refused(("--without suspensions and --suspensions contradict each other", ""))
    if "octaves" in without and options.octaves is not None:
        raise Refused(("--without octaves and --octaves contradict each other", ""))
    taste = DEFAULT
    if "suspensions" in without:
        taste = replace(taste, suspensions=taste.suspensions * 0)
    elif share is not None:
        taste = replace(taste, suspensions=share)
    if "octaves" in without:
        taste = replace(taste, octaves="none")
    elif options.octaves is not None:
        taste = replace(taste, octaves=_one_of("--octaves", options.octaves, ("every", "phrase")))
    if options.command == "show":
        return Wishes(taste)
    paper = PAPERS[_one_of("--paper", options.paper, tuple(PAPERS))]
    return Wishes(taste, paper=paper, date=_date(options.date))


def _without(options: argparse.Namespace) -> set[str]:
    words = [word.strip() for given in options.without for word in given.split(",")]
    return {_one_of("--without", word, ("suspensions", "octaves")) for word in words}


def _one_of(option: str, word: str, known: tuple[str, ...]) -> Any:
    if word.lower() in known:
        return word.lower()
    raise Refused((f"expected {' or '.join(known)} after {option}, found `{word}`", ""))


def _share(text: str) -> Fraction:
    """Read a share of the chords: `1/6`, `0` or `1`."""
    from fractions import Fraction

    top, _, bottom = text.partition("/")
    if top.isdecimal() and (bottom.isdecimal() or "/" not in text) and int(bottom or 1):
        share = Fraction(int(top), int(bottom or 1))
        if share <= 1:
            return share
    raise Refused((f"expected a share of the chords after --suspensions, found `{text}`", "1/6, 1/3, or 0 for none"))


def _date(text: str | None) -> str | None:
    if text is None:
        return None
    from arranger.terminal import printable

    if not text.strip() or printable(text) != text or len(text) > LONGEST_DATE:
        told = f"expected a date of 1 to {LONGEST_DATE} plain characters after --date, found `{text}`"
        raise Refused((told, "--date 2026-11-29"))
    return text.strip()


# Commands.


def _part(options: argparse.Namespace) -> int:
    """Make PDFs. Songs with errors are told and left out; the others are made."""
    from arranger import files

    wishes = _wishes(options)
    songs = _songs(options)
    targets, problems = files.pdfs(songs, options.output)
    if problems:
        raise Refused(*problems)
    return max(_make(song, target, wishes, options.key) for song, target in zip(songs, targets, strict=True))


def _make(path: Path, target: Path, wishes: Wishes, key: str | None) -> int:
    from arranger import files
    from arranger.pipeline import to_part

    arrangement, source, status = _arranged(path, wishes, key)
    if arrangement is None:
        return status
    part, problems = to_part(arrangement, wishes)
    status = max(status, _report(problems, source))
    if part is None:
        return status
    try:
        files.write(target, part.pdf)
    except OSError as fault:
        return _tell(Refused((f"{target} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    print(_printable(f"{target}: {part.pages} page{'' if part.pages == 1 else 's'}"))
    return status


def _check(options: argparse.Namespace) -> int:
    """Say all that `part` would say of songs, and write nothing."""
    from arranger.pipeline import Wishes

    return max(_checked(path, Wishes()) for path in _songs(options))


def _checked(path: Path, wishes: Wishes) -> int:
    from arranger.pipeline import to_pages

    arrangement, source, status = _arranged(path, wishes, None)
    if arrangement is None:
        return status
    _, problems = to_pages(arrangement, wishes)
    return max(status, _report(problems, source))


def _show(options: argparse.Namespace) -> int:
    """Print the arrangement of one song."""
    from arranger.exchange.table import table
    from arranger.harmony.dump import dump

    wishes = _wishes(options)
    (path,) = _songs(options)
    arrangement, _, status = _arranged(path, wishes, options.key)
    if arrangement is None:
        return status
    if options.json:
        _print_json(dump(arrangement))
    else:
        print("\n".join(map(_printable, table(arrangement))))
    return status


def _songs(options: argparse.Namespace) -> list[Path]:
    from arranger import files

    songs, problems = files.songs(options.songs)
    if problems:
        raise Refused(*problems)
    return songs


def _read(path: Path) -> tuple[Song | None, Source, int]:
    """Read a song and report what is wrong with it. Gives the song, its source, and the status that it leads to."""
    from arranger import files
    from arranger.pipeline import to_song
    from arranger.song.read import decode
    from arranger.source import Source

    try:
        data = files.read(path)
    except OSError as fault:
        status = _tell(Refused((f"{path} cannot be read: {files.reason(fault)}", "")))
        return None, Source(str(path), ""), status
    source, problems = decode(str(path), data)
    if problems:
        return None, source, _report(problems, source)
    song, problems = to_song(source)
    return song, source, _report(problems, source)


def _arranged(path: Path, wishes: Wishes, key: str | None) -> tuple[Arrangement | None, Source, int]:
    """Read a song and work it out in the key asked for, reporting on the way."""
    from dataclasses import replace

    from arranger.pipeline import to_arrangement
    from arranger.theory.key import another_key

    song, source, status = _read(path)
    if song is None:
        return None, source, status
    if key is not None:
        try:
            wishes = replace(wishes, key=another_key(key, song.key))
        except ValueError as problem:
            return None, source, _tell(Refused((f"{path}: {problem}", "")))
    arrangement, problems = to_arrangement(song, wishes)
    return arrangement, source, max(status, _report(problems, source))


def _printable(text: str) -> str:
    from arranger.terminal import printable

    return printable(text)


def _print_json(text: str) -> None:
    """Print JSON in UTF-8, whatever the terminal's encoding; what could steer a terminal is escaped as JSON does."""
    from arranger.terminal import steers

    safe = "".join(f"\\u{ord(c):04x}" if steers(c) and c != "\n" else c for c in text)
    sys.stdout.flush()
    sys.stdout.buffer.write(safe.encode())


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"part": _part, "check": _check, "show": _show}
