"""Read the command line, run the command that it names, and print what is wrong with it.

Takes the words of a command line; gives an exit status: 0 done (there may be warnings), 1 a song has an error, 2 the
command cannot be done as given, 70 a fault of the program itself; of several songs the worst. Messages go to the error
stream, what was asked for to the output. A command's file is loaded when it is called, so that `--help` and `--version`
load no stage.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Iterable, Sequence

import arranger
from arranger.late import load
from arranger.settings import COMMANDS, FURTHER, OPTIONS, option_of

TYPE_CHECKING = False  # as in `typing`, whose import would be a tenth of the time of `--help`
if TYPE_CHECKING:
    from types import ModuleType
    from typing import Any, NoReturn

WIDEST_HELP, NARROWEST_HELP = 88, 36  # columns: longer lines are hard to read, shorter ones are torn
USUAL_WIDTH = 80  # columns where there is no terminal to ask
OPTIONS_AT, OPTIONS_AT_NARROW = 24, 12  # columns where the help of an option begins
NARROW = 60  # columns
WHEN = ("auto", "always", "never")

DONE, SONG_ERROR, USAGE_ERROR = 0, 1, 2
BROKEN = 70  # a fault of the program itself (EX_SOFTWARE of sysexits.h)
STOPPED, PIPE_CLOSED = 130, 141  # as shells count a process ended by a signal: 128 + SIGINT, 128 + SIGPIPE

GARBAGE = 40_000  # objects made before young ones are looked through: a song makes some 20,000, and all of them stay

TRACEBACK = "ARRANGER_TRACEBACK"  # set in the environment: a fault of the program shows where it came from

# Commands that stand in another's file of `commands/`, and the function there; the others have a file with `run`.
PLACES = {
    "part": ("songs", "run_part"),
    "stage": ("songs", "run_stage"),
    "completion": ("terminals", "run_completion"),
    "tidy": ("check", "run_tidy"),
    "player": ("wishes", "run_player"),
}


# What is said.


class Refused(Exception):  # noqa: N818 (it is a sentence: "refused: there is no file x")
    """The command cannot be done as given. Carries messages, each with a hint or an empty text."""

    def __init__(self, *messages: tuple[str, str]) -> None:
        super().__init__(*messages)
        self.messages = messages


def unexpected(wanted: str, option: str, found: str, hint: str = "") -> Refused:
    """Return the error for a value that an option cannot take."""
    return Refused((f"expected {wanted} after {option}, found `{found}`", hint))


def complain(message: str, hint: str = "") -> None:
    """Print a message about the command itself, not about a song."""
    from arranger.text.terminal import printable

    say(f"arranger: {printable(message)}" + (f"\n  hint: {printable(hint)}" if hint else ""))


def say(message: str) -> None:
    """Print a message to the error stream, in colours where the terminal has them or they are asked for."""
    if _in_colours():
        from arranger.text.terminal import coloured

        message = coloured(message)
    print(message, file=sys.stderr)


_asked_for = ["auto"]  # when messages have colours: as the command line that is running has it


def _in_colours() -> bool:
    """Return whether messages have colours: as was asked for, else where a terminal shows them.

    A variable NO_COLOR that is not empty, and a terminal that is called dumb, have none (no-color.org; terminfo).
    """
    if _asked_for[0] != "auto":
        return _asked_for[0] == "always"
    if os.environ.get("NO_COLOR") or os.environ.get("TERM", "") == "dumb":
        return False
    return sys.stderr.isatty()


def help_width() -> int:
    """Return how wide the help is, in columns: as wide as the terminal, but for lines too long or too short to read.

    The variable COLUMNS stands over the terminal's own answer (POSIX.1-2017, 8.3).
    """
    given = os.environ.get("COLUMNS", "")
    width = int(given) if given.isdecimal() and len(given) < 6 else 0
    if not width:
        try:
            width = os.get_terminal_size(sys.stdout.fileno()).columns
        except (OSError, ValueError):  # no terminal, or a stream that is none of the system's
            width = USUAL_WIDTH
    return max(NARROWEST_HELP, min(WIDEST_HELP, width or USUAL_WIDTH))


def tell(refused: Refused) -> int:
    """Print why a command cannot be done as given; return the status that it leads to."""
    for message, hint in refused.messages:
        complain(message, hint)
    return USAGE_ERROR


def own_up(fault: Exception, song: str = "") -> int:
    """Print that something went wrong that nobody foresaw, and with which song; return the status that it leads to."""
    if TRACEBACK in os.environ:
        raise fault
    where = f"{song}: " if song else ""
    stays = "; what was there of it stays" if song else ""
    if isinstance(fault, MemoryError):
        complain(f"{where}the memory of this machine does not suffice{stays}")
        return BROKEN
    kind = ": ".join(filter(None, (type(fault).__name__, str(fault))))
    complain(
        f"{where}this is a fault of the program, not of your song: {kind}{stays}",
        f"please report it with the song; {TRACEBACK}=1 in the environment shows where it happened",
    )
    return BROKEN


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a hint with the known word nearest to one."""
    near: list[str] = load("difflib").get_close_matches(word.partition("=")[0], list(known), n=1)
    return f"is `{near[0]}` meant?" if near else "`arranger --help` lists what there is"


def print_json(text: str) -> None:
    """Print JSON in UTF-8, whatever the terminal's encoding; what could steer a terminal is escaped as JSON does."""
    from arranger.text.terminal import steers

    safe = "".join(f"\\u{ord(c):04x}" if steers(c) and c != "\n" else c for c in text)
    sys.stdout.flush()
    sys.stdout.buffer.write(safe.encode())


# What is typed.


class _Help(argparse.HelpFormatter):
    """Sets the help as wide as the terminal: text in paragraphs, examples each on a line as long as it fits."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        """Fill paragraphs; lines that begin with a blank are examples, and are broken between words alone."""
        lines: list[str] = []
        paragraph: list[str] = []

        def close() -> None:
            if paragraph:
                lines.extend(_filled(" ".join(paragraph), width, indent, indent))
                paragraph.clear()

        for line in text.splitlines():
            if line.strip() and not line.startswith(" "):
                paragraph.append(line)
                continue
            close()
            lines.extend(_filled(line.strip(), width, "  ", "      ") if line.strip() else [""])
        close()
        return "\n".join(lines)


def _filled(text: str, width: int, first: str, later: str) -> list[str]:
    """Break a text between words, and nowhere else."""
    lines, line = [], first
    for word in text.split(" "):
        if line.strip() and len(line) + 1 + len(word) > width:
            lines.append(line)
            line = later
        line += word if not line.strip() else f" {word}"
    return [*lines, line]


class _Parser(argparse.ArgumentParser):
    """A parser that refuses in the program's way and knows its options."""

    def __init__(self, **texts: Any) -> None:
        super().__init__(formatter_class=self._in_lines, allow_abbrev=False, add_help=False, **texts)
        self.known: list[str] = []
        self.wanted = "file"  # what is read, where one is
        self.option("-h,--help", action="help", help="show this help")

    def option(self, words: str, **how: Any) -> None:
        """Add an option; one whose help is suppressed is not offered when others are misspelled."""
        self.add_argument(*words.split(","), **how)
        if how["help"] is not argparse.SUPPRESS:
            self.known += words.split(",")

    @property
    def long_options(self) -> list[str]:
        """The options that are known, without those of one letter."""
        return [word for word in self.known if word.startswith("--")]

    @staticmethod
    def _in_lines(prog: str) -> argparse.HelpFormatter:
        width = help_width()
        at = OPTIONS_AT if width >= NARROW else OPTIONS_AT_NARROW
        return _Help(prog, max_help_position=at, width=width)

    def error(self, message: str) -> NoReturn:
        raise Refused((message.removeprefix("argument "), f"`{self.prog} --help` explains"))


def parsers(names: Iterable[str] = COMMANDS, listed: Iterable[str] = ()) -> tuple[_Parser, dict[str, _Parser]]:
    """Make the parser of the whole line and, by name, those of the commands.

    Args:
        names: of the commands: all, or those that are asked for, which is sooner.
        listed: of others that only the help of the whole has to list.
    """
    parser = _Parser(
        prog="arranger",
        usage="arranger COMMAND ...",
        description="Make a keyboard player's part from the words and chords of a song.",
        epilog="`arranger COMMAND --help` tells more about a command.",
    )
    parser.option("--version", action="version", version=f"arranger {arranger.__version__}", help="show the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for name in listed:
        commands.add_parser(name, help=COMMANDS[name]["help"])
    return parser, {name: _command(commands, name, **COMMANDS[name]) for name in names}


def _command(commands: Any, name: str, reads: Any = (), options: str = "", **texts: str) -> _Parser:
    """Make the parser of a command from its row in the table."""
    usage = f"arranger {name}"
    if reads:
        dest, metavar, help_, count = reads
        usage += f" {metavar}{'...' if count in ('+', '*') else ''}"
    usage += " [options]" if options else ""
    parser: _Parser = commands.add_parser(name, prog=f"arranger {name}", usage=usage, **texts)
    if reads:
        group = parser.add_argument_group("what to read") if dest in ("songs", "sheets") else parser
        parser.wanted = dest.removesuffix("s")
        group.add_argument(dest, metavar=metavar, help=help_, **({} if count is None else {"nargs": count}))
    for words in options.split():
        value, help_, *_ = option_of(name, words)
        how: dict[str, Any] = {"action": "store_true"}
        if value.startswith("["):
            how = {"metavar": value.strip("[]"), "nargs": "?", "const": ""}
        elif value.endswith("..."):
            how = {"metavar": value.rstrip("."), "action": "append", "default": []}
        elif value:
            how = {"metavar": value, **FURTHER.get(words, {})}
        parser.option(words, **how, help=help_ or argparse.SUPPRESS)
    value, help_ = OPTIONS["--color"][:2]
    parser.option("--color", metavar=value, help=help_, default="auto")
    return parser


# What is run.


def main(words: Sequence[str] | None = None) -> int:
    """Run one command line (that of the process by default) and return its exit status."""
    if sys.stderr is None:  # closed: what `print` is to say there would go to the output
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115 (to the end of the process)
    if sys.stdout is None:
        return tell(Refused(("the output cannot be written: it is closed", "")))
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # characters that its encoding lacks are written as escapes
    try:
        return _guarded(sys.argv[1:] if words is None else words, alone=words is None)
    except KeyboardInterrupt:
        complain("stopped")
        return STOPPED
    except BrokenPipeError:  # the reader has gone (`| head`): nothing to say, and nobody to say it to
        _drop_output()
        return PIPE_CLOSED
    except OSError:  # the messages cannot be written either: the status has to do
        if TRACEBACK in os.environ:
            raise
        return USAGE_ERROR


def _guarded(words: Sequence[str], *, alone: bool) -> int:
    """Run a command line; turn faults into messages. `alone`: nothing else runs in this process."""
    _asked_for[0] = "auto"
    try:
        status = _run(words, alone)
        sys.stdout.flush()
        if alone:
            gc.freeze()  # or all that is there would be looked through as the process ends
        return status
    except Refused as refused:
        return tell(refused)
    except BrokenPipeError:
        raise
    except OSError as fault:
        if fault.errno is None or fault.filename is not None:
            return own_up(fault)
        _drop_output()  # a full disk under `> FILE`
        return tell(Refused((f"the output cannot be written: {fault.strerror}", "")))
    except Exception as fault:
        return own_up(fault)


def _run(words: Sequence[str], alone: bool) -> int:
    try:
        os.getcwd()  # noqa: PTH109 (`pathlib` is not loaded for `--help`)
    except FileNotFoundError:
        raise Refused(("the folder that you stand in is not there any more", "")) from None
    first = words[0] if words else ""
    parser, commands = parsers([first]) if first in COMMANDS else parsers((), listed=COMMANDS)
    if not words:
        parser.print_help()
        return USAGE_ERROR
    if first not in {*COMMANDS, *parser.known}:
        raise _unknown_first(first, parser, COMMANDS, alone=len(words) == 1)
    for word in words[1 : words.index("--") if "--" in words else None]:
        if word.startswith("-") and word.endswith(("=--", "-o--")):  # argparse would take the value for no value
            raise Refused((f"expected a value after `{word[:-2].rstrip('=')}`, found `--`", ""))
    try:
        options, unknown = parser.parse_known_args(words)
    except SystemExit as done:  # --help and --version have said what they say
        return int(done.code or DONE)
    if unknown and not unknown[0].startswith("-"):  # where one is wanted
        raise Refused((f"expected one {commands[options.command].wanted}, found `{unknown[0]}` too", ""))
    if unknown:
        known = commands[options.command].long_options
        raise Refused((f"there is no option `{unknown[0]}` here", nearest(unknown[0], known)))
    if options.color.lower() not in WHEN:
        raise unexpected("auto, always or never", "--color", options.color)
    _asked_for[0] = options.color.lower()
    file, function = PLACES.get(options.command, (options.command, "run"))
    return int(getattr(_loaded(f"arranger.commands.{file}", alone), function)(options))


def _unknown_first(first: str, parser: _Parser, commands: Iterable[str], *, alone: bool) -> Refused:
    """Return the error for a line that begins neither with a command nor with an option such as `--version`."""
    if first.startswith("-"):
        hint = nearest(first, parser.long_options) if alone else "options stand after the command"
        return Refused((f"there is no option `{first}` here", hint))
    if not first.lower().endswith(".song.txt"):
        return Refused((f"there is no command `{first}`", nearest(first, commands)))
    from arranger.text.terminal import quoted

    return Refused((f"there is no command `{first}`", f"`arranger part {quoted(first)}` makes its part"))


def _loaded(file: str, alone: bool) -> ModuleType:
    """Load a command's file with all that it needs.

    What is loaded stays to the end of the process: where that is ours `alone`, nothing of it is looked through for
    garbage, while it is loaded or later (an eighth of the time of one part), and what songs make more seldom.
    """
    module = load(file)
    if alone:
        gc.freeze()
        gc.set_threshold(GARBAGE)
    return module


def _drop_output() -> None:
    """Send what is left in the output's buffer nowhere, or Python would try it once more at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
