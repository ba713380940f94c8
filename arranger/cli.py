"""The commands: reads songs, writes PDFs, says what happened.

Takes the words of a command line; gives an exit status: 0 done (there may be warnings), 1 a song has an error, 2 the
command cannot be done as given, 70 a fault of the program itself; of several songs the worst. Messages go to the error
stream, what was asked for to the output. A command's file is loaded when it is called, so that `--help` and `--version`
load no stage.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

from arranger.arguments import Refused, parsers
from arranger.late import load

TYPE_CHECKING = False  # as in `typing`, whose import would be a tenth of the time of `--help`
if TYPE_CHECKING:
    from types import ModuleType
    from typing import IO

DONE, USAGE_ERROR = 0, 2  # 1: a song has an error
STOPPED, PIPE_CLOSED = 130, 141  # as shells count a process ended by a signal: 128 + SIGINT, 128 + SIGPIPE


def main(words: Sequence[str] | None = None) -> int:
    """Run one command line (that of the process by default) and give its exit status."""
    if sys.stderr is None:  # closed: what `print` is to say there would go to the output
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115 (to the end of the process)
    if sys.stdout is None:
        return int(_saying().tell(Refused(("the output cannot be written: it is closed", ""))))
    for stream in (sys.stdout, sys.stderr):
        _take_any_character(stream)
    try:
        return _guarded(sys.argv[1:] if words is None else words, alone=words is None)
    except KeyboardInterrupt:
        _saying().complain("stopped")
        return STOPPED
    except BrokenPipeError:  # the reader has gone (`| head`): nothing to say, and nobody to say it to
        _drop_output()
        return PIPE_CLOSED
    except OSError:  # the messages cannot be written either: the status has to do
        if _saying().TRACEBACK in os.environ:
            raise
        return USAGE_ERROR


def _guarded(words: Sequence[str], *, alone: bool) -> int:
    """Run a command line, `alone` in its process or not; faults become messages."""
    try:
        status = _run(words, alone)
        sys.stdout.flush()
        return status
    except Refused as refused:
        return int(_saying().tell(refused))
    except BrokenPipeError:
        raise
    except OSError as fault:
        if fault.errno is None or fault.filename is not None:
            return int(_saying().own_up(fault))
        _drop_output()  # a full disk under `> FILE`
        return int(_saying().tell(Refused((f"the output cannot be written: {fault.strerror}", ""))))
    except Exception as fault:
        return int(_saying().own_up(fault))


def _run(words: Sequence[str], alone: bool) -> int:
    try:
        os.getcwd()  # noqa: PTH109 (`pathlib` is not loaded for `--help`)
    except FileNotFoundError:
        raise Refused(("the folder that you stand in is not there any more", "")) from None
    parser, commands = parsers()
    if not words:
        parser.print_help()
        return USAGE_ERROR
    first = words[0]
    if first not in {*commands, *parser.short_options, *parser.long_options}:
        if first.startswith("-"):
            hint = (
                _saying().nearest(first, parser.long_options) if len(words) == 1 else "options stand after the command"
            )
            raise Refused((f"there is no option `{first}` here", hint))
        song = first.lower().endswith(".song.txt")
        from arranger.text.terminal import quoted

        hint = f"`arranger part {quoted(first)}` makes its part" if song else _saying().nearest(first, commands)
        raise Refused((f"there is no command `{first}`", hint))
    for word in words[1 : words.index("--") if "--" in words else None]:
        if word.startswith("-") and word.endswith(("=--", "-o--")):  # argparse would take the value for no value
            raise Refused((f"expected a value after `{word[:-2].rstrip('=')}`, found `--`", ""))
    try:
        options, unknown = parser.parse_known_args(words)
    except SystemExit as done:  # --help and --version have said what they say
        return int(done.code or DONE)
    if unknown:
        known = commands[options.command].long_options
        raise Refused((f"there is no option `{unknown[0]}` here", _saying().nearest(unknown[0], known)))
    return int(_loaded(options.command, alone).run(options))


def _loaded(command: str, alone: bool) -> ModuleType:
    """Load a command's file with all that it needs.

    What is loaded stays to the end of the process: where that is ours `alone`, nothing of it is looked through for
    garbage, while it is loaded or later (an eighth of the time of one part).
    """
    if not alone:
        return load(f"arranger.commands.{command}")
    gc.disable()
    module = load(f"arranger.commands.{command}")
    gc.freeze()
    gc.enable()
    return module


def _saying() -> ModuleType:
    """Load what says things: most command lines have nothing to hear."""
    from arranger.commands import saying

    return saying


def _take_any_character(stream: IO[str]) -> None:
    """Let a stream write the characters that its encoding lacks as escapes."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")


def _drop_output() -> None:
    """Send what is left in the output's buffer nowhere, or Python would try it once more at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
