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
    from arranger.harmony.arrange import WorkedOut
    from arranger.harmony.model import Arrangement
    from arranger.harmony.taste import Taste
    from arranger.pipeline import Wishes
    from arranger.player import Player
    from arranger.song.model import Song
    from arranger.source import Source

DONE, SONG_ERROR, USAGE_ERROR = 0, 1, 2
BROKEN = 70  # a fault of the program itself (EX_SOFTWARE of sysexits.h)
STOPPED, PIPE_CLOSED = 130, 141  # as shells count a process ended by a signal: 128 + SIGINT, 128 + SIGPIPE

TRACEBACK = "ARRANGER_TRACEBACK"  # set in the environment: a fault of the program shows where it came from

MOST_SHOWN = 1000  # changes listed by --hardest
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
    from arranger.layout.options import HANDS, PartOptions
    from arranger.pipeline import Wishes
    from arranger.units import PAPERS

    player = _player(options.player)
    taste = _taste(options, player)
    if options.command == "show":
        return Wishes(taste, transpose=player.transpose)
    paper = PAPERS[_one_of("--paper", options.paper, tuple(PAPERS)) if options.paper else player.paper]
    hands = _one_of("--hands", options.hands, HANDS) if options.hands else HANDS[0]
    pages = PartOptions(paper, _date(options.date), hands, player.patches)
    return Wishes(taste, pages=pages, transpose=player.transpose, figures=False)


def _taste(options: argparse.Namespace, player: Player) -> Taste:
    """Give the player's taste with what the command line says over it."""
    from dataclasses import replace

    without = _without(options)
    share = None if options.suspensions is None else _share(options.suspensions)
    if "suspensions" in without and share:
        raise Refused(("--without suspensions and --suspensions contradict each other", ""))
    if "octaves" in without and options.octaves is not None:
        raise Refused(("--without octaves and --octaves contradict each other", ""))
    if options.easy and (share or options.octaves):
        raise Refused(("--easy has no suspensions and no octave lines", "leave --suspensions and --octaves out"))
    taste = player.taste()
    if options.easy:
        taste = replace(taste, easy=True, notes=3)
    if "suspensions" in without or options.easy:
        taste = replace(taste, suspensions=taste.suspensions * 0)
    elif share is not None:
        taste = replace(taste, suspensions=share)
    if "octaves" in without or options.easy:
        taste = replace(taste, octaves="none")
    elif options.octaves is not None:
        taste = replace(taste, octaves=_one_of("--octaves", options.octaves, ("every", "phrase")))
    return taste


def _player(word: str | None) -> Player:
    """Read the player's settings: from the file that is named, else from the platform's place, else the defaults."""
    from pathlib import Path

    from arranger import files
    from arranger.diagnostics import has_errors, render
    from arranger.player import Player, read_player
    from arranger.song.read import decode

    path = files.settings_path() if word is None else Path(word)
    if word is None and not path.is_file():
        return Player()
    try:
        data = files.read(path)
    except OSError as fault:
        hint = "`arranger player --write` makes one to start from" if word is None else ""
        raise Refused((f"the settings {path} cannot be read: {files.reason(fault)}", hint)) from None
    source, problems = decode(str(path), data)
    player = Player()
    if not problems:
        player, problems = read_player(source)
    if has_errors(problems):
        for problem in problems:
            print(render(problem, source), file=sys.stderr)
        raise Refused(("the player's settings have mistakes; nothing was done", ""))
    return player


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
    """Say all that `part` would say of songs; mend what is certain where that is asked for."""
    if options.explain is not None:
        return _explain(options)
    if not options.songs:
        raise Refused(("the following arguments are required: SONG", "`arranger check --help` explains"))
    if not options.json:
        return max(_checked(path, options.fix, said=True)[1] for path in _songs(options))
    from arranger.exchange.editors import problems_json

    found = [_checked(path, options.fix, said=False) for path in _songs(options)]
    _print_json(problems_json(told for told, _ in found if told is not None))
    return max(status for _, status in found)


def _explain(options: argparse.Namespace) -> int:
    """Print what a code means."""
    from arranger.song.mistakes import explanation, known_codes

    if options.songs:
        raise Refused(("--explain takes a code alone, without songs", "`arranger check --explain wrong-count`"))
    try:
        print(explanation(options.explain.lower()).replace("**", ""))
    except KeyError:
        raise Refused(
            (f"no message has the code `{options.explain}`", _nearest(options.explain, known_codes()))
        ) from None
    return DONE


def _checked(path: Path, fix: bool, *, said: bool) -> tuple[tuple[Source, tuple[Diagnostic, ...]] | None, int]:
    """Look for what is wrong with a song, and say it where `said`; None where the file cannot be read."""
    from arranger import files
    from arranger.diagnostics import has_errors, in_order
    from arranger.pipeline import all_problems
    from arranger.song.read import decode

    try:
        data = files.read(path)
    except OSError as fault:
        return None, _tell(Refused((f"{path} cannot be read: {files.reason(fault)}", "")))
    source, problems = decode(str(path), data)
    if not problems:
        if fix:
            source, refused = _mended(path, source, data)
            if refused:
                return None, refused
        problems = all_problems(source)
    if said:
        return None, _report(problems, source)
    return (source, in_order(problems)), SONG_ERROR if has_errors(problems) else DONE


def _mended(path: Path, source: Source, data: bytes) -> tuple[Source, int]:
    """Mend a song's file, keeping a copy; say what was done. Gives the new source, and a status where it failed."""
    from arranger import files
    from arranger.song.mend import mended
    from arranger.song.read import encode

    after, done = mended(source)
    if not done:
        return source, DONE
    try:
        copy = files.keep(path, data)
        files.write(path, encode(after, data))
    except OSError as fault:
        return source, _tell(Refused((f"{path} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    for one in done:
        change = f"`{one.before}` is now `{one.after}`" if one.before and one.after else f"`{one.after}` was put in"
        change = change if one.after else f"`{one.before}` was taken out"
        print(_printable(f"{path}:{one.line}: mended {one.code}: {change}"), file=sys.stderr)
    things = "1 mistake" if len(done) == 1 else f"{len(done)} mistakes"
    _complain(f"{path}: mended {things}; {copy.name} is the file as it was")
    return after, DONE


def _tidy(options: argparse.Namespace) -> int:
    """Lay songs' files out in the house style; songs with errors are told and left alone."""
    return max(_tidied(path) for path in _songs(options))


def _tidied(path: Path) -> int:
    from arranger import files
    from arranger.song.read import encode, read
    from arranger.song.tidy import tidied
    from arranger.source import Source

    song, source, status = _read(path)
    if song is None:
        return status
    after = Source.of(source.name, tidied(source))
    if read(after)[0] != song:  # tests hold that this never happens; a player's file is worth one more look
        raise AssertionError(f"{path} would become another song; it stays as it is")
    try:
        before = files.read(path)
        data = encode(after, before)
        if data != before:
            files.write(path, data)
    except OSError as fault:
        return _tell(Refused((f"{path} cannot be written: {files.reason(fault)}", "nothing has changed there")))
    print(_printable(f"{path}: {'tidied' if data != before else 'tidy already'}"))
    return status


def _show(options: argparse.Namespace) -> int:
    """Print the arrangement of one song, or what there is to say about it."""
    from arranger.exchange import reasons
    from arranger.exchange.table import table
    from arranger.harmony.dump import dump

    views = [name for name in ("json", "why", "hardest", "fills") if getattr(options, name) not in (None, False)]
    if len(views) > 1:
        raise Refused((f"--{views[0]} and --{views[1]} cannot be shown together", "ask for one, then for the other"))
    most = _count("--hardest", options.hardest) if options.hardest is not None else 0
    wishes = _wishes(options)
    (path,) = _songs(options)
    worked, _, status = _worked_out(path, wishes, options.key)
    if worked is None:
        return status
    arrangement = worked.arrangement
    try:
        if options.json:
            _print_json(dump(arrangement))
            return status
        if options.why is not None:
            lines = reasons.why(worked, reasons.places(arrangement, options.why))
        elif options.fills is not None:
            lines = reasons.fills(arrangement, reasons.places(arrangement, options.fills), wishes.taste)
        elif most:
            lines = reasons.hard(arrangement, most)
        else:
            lines = iter(table(arrangement))
    except ValueError as problem:
        return _tell(Refused((str(problem), "")))
    for line in lines:
        print(_printable(line))
    return status


def _count(option: str, text: str) -> int:
    if text.isdecimal() and 1 <= int(text) <= MOST_SHOWN:
        return int(text)
    raise Refused((f"expected a number from 1 to {MOST_SHOWN} after {option}, found `{text}`", ""))


def _settings(options: argparse.Namespace) -> int:
    """Print a player's settings, or write the first file of them."""
    from arranger import files
    from arranger.player import written

    text = written(_player(options.player))
    if not options.write:
        print(text, end="")
        return DONE
    path = files.settings_path()
    if path.exists():
        raise Refused((f"{path} exists already; it stays as it is", "open it in an editor"))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        files.write(path, text.encode())
    except OSError as fault:
        return _tell(Refused((f"{path} cannot be written: {files.reason(fault)}", "")))
    print(_printable(str(path)))
    return DONE


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
    worked, source, status = _worked_out(path, wishes, key)
    return (worked.arrangement if worked else None), source, status


def _worked_out(path: Path, wishes: Wishes, key: str | None) -> tuple[WorkedOut | None, Source, int]:
    """Read a song and work it out in the key asked for, with what it was made from, reporting on the way."""
    from dataclasses import replace

    from arranger.pipeline import to_worked_out
    from arranger.theory.key import another_key

    song, source, status = _read(path)
    if song is None:
        return None, source, status
    if key is not None:
        try:
            wishes = replace(wishes, key=another_key(key, song.key))
        except ValueError as problem:
            return None, source, _tell(Refused((f"{path}: {problem}", "")))
    worked, problems = to_worked_out(song, wishes)
    return worked, source, max(status, _report(problems, source))


def _printable(text: str) -> str:
    from arranger.terminal import printable

    return printable(text)


def _print_json(text: str) -> None:
    """Print JSON in UTF-8, whatever the terminal's encoding; what could steer a terminal is escaped as JSON does."""
    from arranger.terminal import steers

    safe = "".join(f"\\u{ord(c):04x}" if steers(c) and c != "\n" else c for c in text)
    sys.stdout.flush()
    sys.stdout.buffer.write(safe.encode())


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "part": _part,
    "check": _check,
    "tidy": _tidy,
    "show": _show,
    "player": _settings,
}
