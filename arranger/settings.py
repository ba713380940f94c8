"""List what can be chosen: the options with their help, the commands, and a player's settings.

Data alone, so that the help is quick: `cli` makes parsers of it, `commands/wishes.py` reads by it what is asked for
today, `player` reads and writes settings by it.
"""

from __future__ import annotations

TYPE_CHECKING = False  # `typing` is not loaded for `--help`
if TYPE_CHECKING:
    from typing import Any

# Options by their words: what stands for the value in the help, and the help; of those that stand over the player's
# settings also the field of `Player`, which has the default, and the kind of value (as in `SETTINGS`). Without a value
# an option is on or off; a value in brackets may be left out; one with dots may be given again. No help: the option is
# known only to be refused. Where a command has an option in a sense of its own, its name stands before.
OPTIONS: dict[str, tuple[str, str | None] | tuple[str, str, str, str]] = {
    "-o,--output": ("WHERE", "a file, or a folder for several songs: parts/"),
    "stage -o,--output": ("WHERE", "a file, or a folder for several songs: stage/"),
    "study -o,--output": ("WHERE", "a file, or a folder: practice/"),
    "convert -o,--output": ("WHERE", "a file, or a folder for several songs: songs/"),
    "library -o,--output": ("[WHERE]", None),
    "evening -o,--output": ("WHERE", "a file, or a folder: tonight/"),
    "library --key": ("[KEY]", None),
    "--force": ("", "write over files that are there and would be kept"),
    "--also": ("WHAT", "midi, musicxml, or both with a comma, beside each PDF: to hear, to open as a score"),
    "library --also": (
        "WHAT", "midi, musicxml, or both with a comma, beside each part; kept up to date from then on",
    ),
    "--slower": ("SHARE", "MIDI at a share of the tempo, to practise: 80%%"),
    "--count-in": ("", "MIDI with a bar counted before the song"),
    # What is played.
    "--key": ("KEY", "play it in another key today: E, Bb, F#m"),
    "--player": ("FILE", "settings of the player (`arranger player` tells more)"),
    "--easy": ("", "triads by name, one bass note, no suggestions"),
    "--without": ("WHAT...", "suspensions, octaves or arc (verse and refrain differ); may be given again"),
    "--suspensions": (
        "SHARE", "suspend at most this share of the chords: 1/6 (unless said), 1/3, 0", "suspensions", "share",
    ),
    "--octaves": (
        "HOW", "suggest octave lines: phrase (now and then, unless said) or every (before every change)",
        "octaves", "fills",
    ),
    # The pages.
    "--paper": ("SIZE", "a4 (unless said) or letter", "paper", "paper"),
    "stage --paper": (
        "SIZE",
        "a4 (unless said), letter, a5; a4-pair, letter-pair: two pages on a sheet that lies; tablet, tablet-flat",
        "stage_paper", "sheet",
    ),
    "evening --paper": ("SIZE", "as for part; with --stage as for stage"),
    "evening --stage": ("", "stage copies, not parts"),
    "--facing": ("", "songs of two pages begin on left-hand pages"),
    "--hands": ("HOW", "keyboard (pictures, unless said), staff (notes) or letters", "hands", "hands"),
    "--verses": (
        "HOW", "together (unless said): sections that are played alike are drawn once; or apart", "verses", "verses",
    ),
    "part --pages": (
        "N", "1, 2 (side by side), or any (unless said: as few as can be read)", "pages", "pages",
    ),
    "--font": ("FILE...", "a TrueType font for a script that the program's own lack; up to three times"),
    "--date": ("DATE", "printed on each page, as you write it", "date", "date"),
    "--distance": ("D", "from your eyes to the page: 0.9m or 90cm (0.7m unless said)", "distance", "distance"),
    "--pages": ("N", "1, 2 (side by side), or any (unless said)", "pages", "pages"),
    "--words": ("WHICH", "first words of each row (unless said), all or none", "stage_words", "words"),
    "--dark": ("", "light on near-black, for screens", "stage_dark", "yes or no"),
    "--screen": ("INCHES", "the diagonal of the tablet's screen (10 unless said)"),
    "--margin": ("M", "on all four sides: 12mm or 0.5in"),
    # What is practised.
    "study --also": ("WHAT", "midi: all studies, to hear them before they are practised"),
    "--minutes": ("N", "how long, 3 to 60 (15 unless said): each study has its minutes"),
    "study --pages": ("N", "1 (unless said) or 2"),
    "--skip-broken": ("", "leave songs out that have mistakes; else nothing is made where one has"),
    # A folder of songs.
    "--out": ("FOLDER", "where the PDFs go: the folder parts among the songs, unless said"),
    "--stage": ("", "stage copies too, as your settings say; kept up to date from then on"),
    "--jobs": ("N", "processes that work at once; one for each core, unless said"),
    "--on": ("ADDRESS", "of a running dask scheduler, whose workers make them: tcp://HOST:PORT"),
    "--prune": ("", "remove PDFs whose songs are gone, if they are as they were made"),
    "find --key": ("KEY", "the key that sounds: D is D major, Dm is D minor"),
    "--tempo": ("TEMPO", "beats a minute: 72, or from and to: 60-80"),
    "--meter": ("METER", "4/4, 6/8"),
    "--in": ("FOLDER", "where the songs are; here, unless said"),
    "--set": ("", "list when each was played: the running orders of the folder that have it"),
    "--all": ("", "list all songs that are found, not the likeliest alone"),
    "find --json": ("", "print them all for other programs to read"),
    # The desk.
    "--no-browser": ("", "open no browser; print where the page is"),
    "--port": ("N", "of this machine, 1024 to 65535; any that is free, unless said"),
    "--shortcut": ("", "write a file into the folder that starts its desk when it is double-clicked"),
    # What is wrong with a song, and what was worked out.
    "--fix": ("", "mend what is certain; the file as it was is kept"),
    "check --json": ("", "print what is wrong for editors and other programs to read"),
    "--explain": ("CODE", "say what a message's code means, with an example"),
    "--json": ("", "print all that was worked out, for other programs to read"),
    "--why": ("[BAR]", "why each hand is as it is, and what others would cost; in one bar: 5, or Verse 1:5"),
    "--notes": ("", "every note as it sounds: when, how long, how loud"),
    "--hardest": ("N", "the N changes that ask most of the hand"),
    "--fills": ("[BAR]", "octave lines to choose from, each as a row to paste into the song"),
    # Typed sheets.
    "convert --key": ("KEY", "its key, where the sheet does not say it or is wrong: E, Bb, F#m"),
    "convert --meter": ("METER", "its meter, likewise: 3/4, 6/8"),
    "--bars": ("HOW", "one-a-chord (unless said) or two-a-chord: how long a chord lasts where there are no barlines"),
    "--part": ("", "make the keys part of each song too, as PDF beside it"),
    "--review": ("FOLDER", "list the places of all songs in a folder that are still to be looked at, and make nothing"),
    # The terminal.
    "--watch": ("", "make them again each time they are saved, until Ctrl-C"),
    "--color": ("WHEN", "colours in messages: auto (unless said: where a terminal has them), always or never"),
    # The settings themselves.
    "player --player": ("FILE", "the settings to read"),
    "--write": ("", "write them to your player.toml to start from, if there is none"),
}  # fmt: skip
ALSO = {"midi": ".mid", "musicxml": ".musicxml"}  # what `--also` makes beside a PDF, and how its names end
FURTHER = {"--in": {"dest": "folder", "default": "."}}  # `in` is a word of Python

TASTE = "--player --easy --without --suspensions --octaves"
PAGES = "--paper --hands --verses --font --date"
SONG = ("songs", "SONG", "a song as text, NAME.song.txt")

# The commands: the line that the help of the whole has; what they do; what is read, and how many of it (1 for a list of
# one, None for one); the options in the order of the help; examples.
COMMANDS: dict[str, dict[str, Any]] = {
    "part": {
        "help": "make the keys part of songs, as PDF",
        "description": "Work out the keys part of each song and write it as a PDF, beside the song unless said.",
        "reads": (*SONG, "+"),
        "options": f"-o,--output --force --also --slower --count-in --key {TASTE} {PAGES} --pages --watch",
        "epilog": """examples:
  arranger part lanterns.song.txt
  arranger part lanterns.song.txt --watch
  arranger part lanterns.song.txt --key E --paper letter
  arranger part lanterns.song.txt --also midi --slower 80% --count-in
  arranger part *.song.txt -o parts/""",
    },
    "stage": {
        "help": "make stage copies of songs: large, to play from, as PDF",
        "description": """Work out the keys part of each song and write a copy to play from, NAME.stage.pdf
beside the song unless said: chords, hands as letters and prompts, in the largest type
that fits.""",
        "reads": (*SONG, "+"),
        "options": f"""-o,--output --force --distance --pages --words --dark --paper --screen --margin --date
            --key {TASTE} --font""",
        "epilog": """examples:
  arranger stage lanterns.song.txt --distance 0.9m --pages 1
  arranger stage *.song.txt --paper tablet --dark -o tonight/""",
    },
    "study": {
        "help": "make a page or two to practise from, of songs' own changes",
        "description": """Make studies from songs, all on one page or two: the hardest changes of chord, the most
frequent loop by inversions, suspensions, octave lines and changes of sound, each with minutes
and boxes to tick. One song gives NAME.study.pdf beside it; several give studies.pdf. A running
order, NAME.set.txt, is practised as it is played that evening.""",
        "reads": ("songs", "SONG", "a song as text, NAME.song.txt; or one running order, NAME.set.txt", "+"),
        "options": f"-o,--output --force --also --minutes --pages --skip-broken --key {TASTE} --paper --font --date",
        "epilog": """examples:
  arranger study lanterns.song.txt
  arranger study sunday.set.txt --also midi
  arranger study *.song.txt --minutes 30 --pages 2 -o practice/sunday.pdf""",
    },
    "library": {
        "help": "make the parts of all songs in a folder that have changed",
        "description": """Make the parts of all songs in a folder and the folders in it, as far as anything has changed:
song, settings, fonts, or this program. Stopped at any moment, the same command carries on.""",
        "reads": ("folder", "FOLDER", "where the songs are", None),
        "options": f"--out --key -o,--output --stage --also --jobs --on --prune {TASTE} {PAGES}",
        "epilog": """examples:
  arranger library songs
  arranger library songs --out parts/ --paper letter
  arranger library songs --on tcp://192.168.1.20:8786""",
    },
    "evening": {
        "help": "make one PDF of all songs of an evening, in order, with what lies between them",
        "description": """Make one PDF of the songs of a running order, NAME.set.txt: the order, then every song
with its facts of the evening, and between two songs how hands, tempo and sound get from
one to the other. It is written beside the running order as NAME.evening.pdf unless said,
and only whole.""",
        "reads": ("set", "SET", "a running order, NAME.set.txt", None),
        "options": f"""-o,--output --force --stage --facing --paper --hands --verses --pages --distance --words --dark
            --screen --margin {TASTE} --font""",
        "epilog": """examples:
  arranger evening supper.set.txt
  arranger evening supper.set.txt --stage --distance 0.9m --paper tablet
  arranger evening supper.set.txt --facing -o tonight/""",
    },
    "check": {
        "help": "look for mistakes in songs",
        "description": """Look for mistakes in songs, and count the places that `convert` left to be looked at.
Says nothing of a song that has neither; writes nothing but for --fix.""",
        "reads": (*SONG, "*"),
        "options": "--player --font --fix --json --explain",
        "epilog": """examples:
  arranger check *.song.txt
  arranger check lanterns.song.txt --fix
  arranger check --explain wrong-count""",
    },
    "tidy": {
        "help": "lay songs' files out in the house style",
        "description": """Lay songs' files out in the house style: facts in one column, barlines under each
other, one blank line before a section. Words and remarks stay to the letter, and the
song stays the same.""",
        "reads": (*SONG, "+"),
    },
    "show": {
        "help": "show what both hands play, as text",
        "description": "Show what both hands play as a table of text, and how far the right hand moves.",
        "reads": (*SONG, 1),
        "options": f"--json --why --notes --hardest --fills --key {TASTE}",
        "epilog": """examples:
  arranger show lanterns.song.txt --without octaves
  arranger show lanterns.song.txt --why "Verse 1:5"
  arranger show lanterns.song.txt --json > lanterns.json""",
    },
    "convert": {
        "help": "make songs of typed sheets, chords in a line above the words, and of scores",
        "description": """Make a song of each typed sheet, plain text with chords in a line above the words, and of each
score, a lead sheet in MusicXML (.musicxml, .xml, .mxl).
What had to be guessed is said in the song, in remarks at its place; check the bars first.""",
        "reads": ("sheets", "SHEET", "a typed sheet as plain text, or a score in MusicXML", "*"),
        "options": "-o,--output --key --meter --bars --force --part --review",
        "epilog": """examples:
  arranger convert lanterns.txt
  arranger convert lanterns.musicxml
  arranger convert sheets/*.txt -o songs/
  arranger convert lanterns.txt --key D --meter 6/8 --part
  arranger convert --review songs/""",
    },
    "find": {
        "help": "find songs in a folder by title, words, key, tempo, meter",
        "description": """Find songs in this folder and the folders in it. All words must be in the title or in what is
sung; each stands for all that begin with it. Words in quotes belong together.""",
        "reads": ("words", "WORDS", "words of the title or of what is sung", "*"),
        "options": "--key --tempo --meter --set --in --all --json",
        "epilog": """examples:
  arranger find lantern
  arranger find "turn of the tide" --in songs
  arranger find --key D --tempo 60-80 --meter 6/8
  arranger find lantern --set

The status is 1 where nothing is found.""",
    },
    "completion": {
        "help": "print what completes commands and options in your shell",
        "description": """Print a script for your shell, by which the Tab key completes commands, options, their values
and files.""",
        "reads": ("shell", "SHELL", "bash, zsh, fish or powershell", None),
        "epilog": """examples:
  arranger completion bash > ~/.local/share/bash-completion/completions/arranger
  arranger completion zsh > ~/.zfunc/_arranger
  arranger completion fish > ~/.config/fish/completions/arranger.fish""",
    },
    "desk": {
        "help": "type, see, hear and print songs on a page in the browser",
        "description": """Open a page in the browser for the songs of a folder: type them, see their pages, hear and
print them. It is for this machine alone, and ends ten minutes after its last page is closed.""",
        "reads": ("folder", "FOLDER", "where the songs are; here, unless said", "?"),
        "options": "--player --no-browser --port --shortcut",
        "epilog": """examples:
  arranger desk songs
  arranger desk songs --shortcut""",
    },
    "player": {
        "help": "show or begin your own settings: hands, taste, keyboard, paper",
        "description": """Print the settings in force, as a file with remarks that can be kept and changed.
Settings stand in player.toml, in your folder for programs' settings, or where --player says.""",
        "options": "--player --write",
    },
}

# A player's settings: table and key in player.toml; the field of `Player`, which has the default; the kind of value, by
# which it is read and written (`player.KINDS` and `player.CHOICES`); what stands behind it in the file.
SETTINGS = (
    ("hand", "lowest", "low", "key", "      # the right hand's lowest key, A0 to C8"),
    ("hand", "highest", "high", "key", "     # and its highest; at least {window} semitones above"),
    ("hand", "span", "span", "span", "    # the widest reach that is easy for you: {names}"),
    ("hand", "notes", "notes", "notes", "          # notes in the right hand: 3 or 4"),
    ("hand", "most", "most_keys", "notes", "           # keys where it plays full: 4 in the frame of an octave, or 3"),
    ("hand", "left_octaves", "left_octaves", "yes or no", " # false: the left hand plays none"),
    ("hand", "register", "register", "register", "  # where the hand likes to be: {names}"),
    ("part", "suspensions", "suspensions", "share", '  # of the printed chords at most: "1/6", "1/3", 0 for none'),
    ("part", "octaves", "octaves", "octaves", "   # fills in octaves: phrase (one in four bars at most), every, none"),
    ("part", "arc", "arc", "yes or no", "         # verse and refrain differ in how full they are; false: all alike"),
    ("part", "fullest", "fullest", "texture", "   # the fullest that you like to play: {names}"),
    ("keyboard", "transpose", "transpose", "yes or no",
     "  # true: parts come in the easiest key and say how to set the keyboard"),
    ("keyboard", "split", "split", "key", "        # where the keyboard is split, if it is"),
    ("keyboard", "patches", "patches", "patches", "   # what to call up for a sound of the songs"),
    ("page", "paper", "paper", "paper", "      # {names}"),
    ("page", "verses", "verses", "verses", "   # {names}: sections that are played alike are drawn once, or each"),
    ("page", "distance", "distance", "distance", "  # from your eyes to the page, 0.3 m to 2 m"),
    ("page", "fonts", "fonts", "fonts",
     "   # TrueType files for other scripts, {fonts} at most; a path begins at this file"),
    ("stage", "paper", "stage_paper", "sheet", "      # {names}"),
    ("stage", "words", "stage_words", "words", "   # {names}"),
    ("stage", "dark", "stage_dark", "yes or no", "      # true: light on near-black, for screens"),
)  # fmt: skip


def option_of(command: str, words: str) -> tuple[str, str | None] | tuple[str, str, str, str]:
    """Return the row of an option, in the sense that a command has it in."""
    return OPTIONS.get(f"{command} {words}") or OPTIONS[words]
