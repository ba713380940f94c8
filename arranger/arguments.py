"""The words of a command line: commands, options, and their help.

Takes nothing; gives parsers. Values stay text here: the commands read them, when the stages are loaded. The help must
be quick, so nothing but argparse is imported.
"""

from __future__ import annotations

import argparse

import arranger

TYPE_CHECKING = False  # as in `typing`, whose import would be a tenth of the time of `--help`
if TYPE_CHECKING:
    from typing import Any, NoReturn

    _Commands = argparse._SubParsersAction["_Parser"]

HELP_WIDTH = 88  # columns; asking the terminal would cost an import slower than the rest of `--help`


class Refused(Exception):  # noqa: N818 (it is a sentence: "refused: there is no file x")
    """The command cannot be done as given. Carries messages, each with a hint or an empty text."""

    def __init__(self, *messages: tuple[str, str]) -> None:
        super().__init__(*messages)
        self.messages = messages


class _Parser(argparse.ArgumentParser):
    """A parser that refuses in the program's way and knows its options."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(formatter_class=_Help, allow_abbrev=False, add_help=False, **settings)
        self.short_options: list[str] = []
        self.long_options: list[str] = []
        self.option("-h", "--help", action="help", help="show this help")

    def option(self, *names: str, **settings: Any) -> None:
        """Add an option."""
        self.add_argument(*names, **settings)
        for name in names:
            (self.long_options if name.startswith("--") else self.short_options).append(name)

    def error(self, message: str) -> NoReturn:
        raise Refused((message.removeprefix("argument "), f"`{self.prog} --help` explains"))


class _Help(argparse.RawDescriptionHelpFormatter):
    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=24, width=HELP_WIDTH)


def parsers() -> tuple[_Parser, dict[str, _Parser]]:
    """Make the parser of the whole line and, by name, those of the commands."""
    parser = _Parser(
        prog="arranger",
        usage="arranger COMMAND ...",
        description="Make a keyboard player's part from the words and chords of a song.",
        epilog="`arranger COMMAND --help` tells more about a command.",
    )
    parser.option("--version", action="version", version=f"arranger {arranger.__version__}", help="show the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    makers = {
        "part": _part,
        "stage": _stage,
        "library": _library,
        "check": _check,
        "tidy": _tidy,
        "show": _show,
        "convert": _convert,
        "find": _find,
        "player": _player,
    }
    return parser, {name: make(commands) for name, make in makers.items()}


def _part(commands: _Commands) -> _Parser:
    part = commands.add_parser(
        "part",
        prog="arranger part",
        help="make the keys part of songs, as PDF",
        usage="arranger part SONG... [options]",
        description="Work out the keys part of each song and write it as a PDF, beside the song unless said.",
        epilog="""examples:
  arranger part lanterns.song.txt
  arranger part lanterns.song.txt --key E --paper letter
  arranger part *.song.txt -o parts/""",
    )
    _songs(part, "+")
    part.option("-o", "--output", metavar="WHERE", help="a file, or a folder for several songs: parts/")
    _force(part)
    _music(part)
    _paper(part)
    return part


def _library(commands: _Commands) -> _Parser:
    library = commands.add_parser(
        "library",
        prog="arranger library",
        help="make the parts of all songs in a folder that have changed",
        usage="arranger library FOLDER [options]",
        description="""Make the parts of all songs in a folder and the folders in it, as far as anything has changed:
song, settings, fonts, or this program. Stopped at any moment, the same command carries on.""",
        epilog="""examples:
  arranger library songs
  arranger library songs --out parts/ --paper letter""",
    )
    library.add_argument("folder", metavar="FOLDER", help="where the songs are")
    library.option("--out", metavar="FOLDER", help="where the PDFs go: the folder parts among the songs, unless said")
    library.add_argument("--key", nargs="?", const="", help=argparse.SUPPRESS)  # to be refused in words
    library.add_argument("-o", "--output", nargs="?", const="", help=argparse.SUPPRESS)  # the same
    library.option(
        "--stage", action="store_true", help="stage copies too, as your settings say; kept up to date from then on"
    )
    library.option("--jobs", metavar="N", help="processes that work at once; one for each core, unless said")
    library.option(
        "--prune", action="store_true", help="remove PDFs whose songs are gone, if they are as they were made"
    )
    _taste(library)
    _paper(library)
    return library


def _convert(commands: _Commands) -> _Parser:
    convert = commands.add_parser(
        "convert",
        prog="arranger convert",
        help="make songs of typed sheets: chords in a line above the words",
        usage="arranger convert SHEET... [options]",
        description="""Make a song of each typed sheet: plain text with chords in a line above the words.
What had to be guessed is said in the song, in remarks at its place; check the bars first.""",
        epilog="""examples:
  arranger convert lanterns.txt
  arranger convert sheets/*.txt -o songs/
  arranger convert lanterns.txt --key D --meter 6/8 --part""",
    )
    sheets = convert.add_argument_group("what to read")
    sheets.add_argument("sheets", metavar="SHEET", nargs="+", help="a typed sheet as plain text")
    convert.option("-o", "--output", metavar="WHERE", help="a file, or a folder for several songs: songs/")
    convert.option("--key", metavar="KEY", help="its key, where the sheet does not say it or is wrong: E, Bb, F#m")
    convert.option("--meter", metavar="METER", help="its meter, likewise: 3/4, 6/8")
    convert.option(
        "--bars",
        metavar="HOW",
        help="one-a-chord (unless said) or two-a-chord: how long a chord lasts where there are no barlines",
    )
    _force(convert)
    convert.option("--part", action="store_true", help="make the keys part of each song too, as PDF beside it")
    return convert


def _stage(commands: _Commands) -> _Parser:
    stage = commands.add_parser(
        "stage",
        prog="arranger stage",
        help="make stage copies of songs: large, to play from, as PDF",
        usage="arranger stage SONG... [options]",
        description="""Work out the keys part of each song and write a copy to play from, NAME.stage.pdf
beside the song unless said: chords, hands as letters and prompts, in the largest type
that fits.""",
        epilog="""examples:
  arranger stage lanterns.song.txt --distance 0.9m --pages 1
  arranger stage *.song.txt --paper tablet --dark -o tonight/""",
    )
    _songs(stage, "+")
    stage.option("-o", "--output", metavar="WHERE", help="a file, or a folder for several songs: stage/")
    _force(stage)
    stage.option("--distance", metavar="D", help="from your eyes to the page: 0.9m or 90cm (0.7m unless said)")
    stage.option("--pages", metavar="N", help="1, 2 (side by side), or any (unless said)")
    stage.option("--words", metavar="WHICH", help="first words of each row (unless said), all or none")
    stage.option("--dark", action="store_true", help="light on near-black, for screens")
    stage.option(
        "--paper",
        metavar="SIZE",
        help="a4 (unless said), letter, a5; a4-pair, letter-pair: two pages on a sheet that lies; tablet, tablet-flat",
    )
    stage.option("--screen", metavar="INCHES", help="the diagonal of the tablet's screen (10 unless said)")
    stage.option("--margin", metavar="M", help="on all four sides: 12mm or 0.5in")
    stage.option("--date", metavar="DATE", help="printed on each page, as you write it")
    _music(stage)
    _fonts(stage)
    return stage


def _check(commands: _Commands) -> _Parser:
    check = commands.add_parser(
        "check",
        prog="arranger check",
        help="look for mistakes in songs",
        usage="arranger check SONG... [options]",
        description="""Look for mistakes in songs. Says nothing of a song that has none; writes nothing but for
--fix.""",
        epilog="""examples:
  arranger check *.song.txt
  arranger check lanterns.song.txt --fix
  arranger check --explain wrong-count""",
    )
    _songs(check, "*")
    check.option("--player", metavar="FILE", help="settings of the player (`arranger player` tells more)")
    _fonts(check)
    check.option("--fix", action="store_true", help="mend what is certain; the file as it was is kept")
    check.option("--json", action="store_true", help="print what is wrong for editors and other programs to read")
    check.option("--explain", metavar="CODE", help="say what a message's code means, with an example")
    return check


def _tidy(commands: _Commands) -> _Parser:
    tidy = commands.add_parser(
        "tidy",
        prog="arranger tidy",
        help="lay songs' files out in the house style",
        usage="arranger tidy SONG...",
        description="""Lay songs' files out in the house style: facts in one column, barlines under each
other, one blank line before a section. Words and remarks stay to the letter, and the
song stays the same.""",
    )
    _songs(tidy, "+")
    return tidy


def _show(commands: _Commands) -> _Parser:
    show = commands.add_parser(
        "show",
        prog="arranger show",
        help="show what both hands play, as text",
        usage="arranger show SONG [options]",
        description="Show what both hands play as a table of text, and how far the right hand moves.",
        epilog="""examples:
  arranger show lanterns.song.txt --without octaves
  arranger show lanterns.song.txt --why "Verse 1:5"
  arranger show lanterns.song.txt --json > lanterns.json""",
    )
    _songs(show, 1)
    show.option("--json", action="store_true", help="print all that was worked out, for other programs to read")
    show.option(
        "--why",
        metavar="BAR",
        nargs="?",
        const="",
        help="why each hand is as it is, and what others would cost; in one bar: 5, or Verse 1:5",
    )
    show.option("--hardest", metavar="N", help="the N changes that ask most of the hand")
    show.option(
        "--fills",
        metavar="BAR",
        nargs="?",
        const="",
        help="octave lines to choose from, each as a row to paste into the song",
    )
    _music(show)
    return show


def _find(commands: _Commands) -> _Parser:
    find = commands.add_parser(
        "find",
        prog="arranger find",
        help="find songs in a folder by title, words, key, tempo, meter",
        usage="arranger find WORDS... [options]",
        description="""Find songs in this folder and the folders in it. All words must be in the title or in what is
sung; each stands for all that begin with it. Words in quotes belong together.""",
        epilog="""examples:
  arranger find lantern
  arranger find "turn of the tide" --in songs
  arranger find --key D --tempo 60-80 --meter 6/8

The status is 1 where nothing is found.""",
    )
    find.add_argument("words", metavar="WORDS", nargs="*", help="words of the title or of what is sung")
    find.option("--key", metavar="KEY", help="the key that sounds: D is D major, Dm is D minor")
    find.option("--tempo", metavar="TEMPO", help="beats a minute: 72, or from and to: 60-80")
    find.option("--meter", metavar="METER", help="4/4, 6/8")
    find.option("--in", dest="folder", metavar="FOLDER", default=".", help="where the songs are; here, unless said")
    find.option("--all", action="store_true", help="list all songs that are found, not the likeliest alone")
    find.option("--json", action="store_true", help="print them all for other programs to read")
    return find


def _player(commands: _Commands) -> _Parser:
    player = commands.add_parser(
        "player",
        prog="arranger player",
        help="show or begin your own settings: hands, taste, keyboard, paper",
        usage="arranger player [options]",
        description="""Print the settings in force, as a file with remarks that can be kept and changed.
Settings stand in player.toml, in your folder for programs' settings, or where --player says.""",
    )
    player.option("--player", metavar="FILE", help="the settings to read")
    player.option("--write", action="store_true", help="write them to your player.toml to start from, if there is none")
    return player


def _songs(parser: _Parser, count: str | int) -> None:
    songs = parser.add_argument_group("what to read")
    songs.add_argument("songs", metavar="SONG", nargs=count, help="a song as text, NAME.song.txt")


def _force(parser: _Parser) -> None:
    parser.option("--force", action="store_true", help="write over files that are there and would be kept")


def _fonts(parser: _Parser) -> None:
    parser.option(
        "--font",
        metavar="FILE",
        action="append",
        default=[],
        help="a TrueType font for a script that the program's own lack; up to three times",
    )


def _paper(parser: _Parser) -> None:
    """Add the options of the pages of a part."""
    parser.option("--paper", metavar="SIZE", help="a4 (unless said) or letter")
    parser.option("--hands", metavar="HOW", help="keyboard (pictures, unless said), staff (notes) or letters")
    _fonts(parser)
    parser.option("--date", metavar="DATE", help="printed on each page, as you write it")


def _music(parser: _Parser) -> None:
    """Add the options that change what is played of one song."""
    parser.option("--key", metavar="KEY", help="play it in another key today: E, Bb, F#m")
    _taste(parser)


def _taste(parser: _Parser) -> None:
    """Add the options that change what is played of any song."""
    parser.option("--player", metavar="FILE", help="settings of the player (`arranger player` tells more)")
    parser.option("--easy", action="store_true", help="triads by name, one bass note, no suggestions")
    parser.option(
        "--without",
        metavar="WHAT",
        action="append",
        default=[],
        help="suspensions or octaves: suggest none of these; may be given twice",
    )
    parser.option(
        "--suspensions",
        metavar="SHARE",
        help="suspend at most this share of the chords: 1/6 (unless said), 1/3, 0",
    )
    parser.option(
        "--octaves",
        metavar="HOW",
        help="suggest octave lines: phrase (now and then, unless said) or every (before every change)",
    )
