"""The player's own limits and wishes (`player.toml`). Takes the text of the file; gives `Player` and diagnostics.

Every value has a default and a range; what is wrong is told with its place, all at once, and a wrong value is never
replaced in silence. The file is TOML (toml.io, version 1.0).
"""

from __future__ import annotations

import difflib
import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from arranger.harmony.taste import DEFAULT, Octaves, Taste
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import Source, Span
from arranger.text.terminal import steers
from arranger.theory.pitch import Pitch
from arranger.units import METRES, PAPERS, SHEETS, in_units

# Reaches by their names, in semitones: the widest interval of the name that the hand may take.
SPANS = {"sixth": 9, "seventh": 11, "octave": 12, "ninth": 14, "tenth": 16}

# Register: how far the liked middle of the hand moves, in semitones. A third is another place, not another part.
REGISTERS = {"low": -3, "middle": 0, "high": 3}

LOWEST_KEY, HIGHEST_KEY = Pitch.parse("A0").midi, Pitch.parse("C8").midi  # a piano's 88 keys
MOST_FONTS = 3  # of the player's own, as many as a part can have beside the program's
MOST_CHARACTERS = 1 << 14  # of settings; those with all their remarks have some 2,000
LONGEST_VALUE = 60  # characters of a wrong value that a message shows
LEAST_WINDOW = 19  # semitones from lowest to highest: an octave and a fifth, so that every chord has a hand
PROMPTS = ("first", "all", "none")  # the words that a stage copy can have
DISTANCES = (0.3, 2.0)  # metres: nearer than a book or farther than a stand is a slip of the pen


@dataclass(frozen=True, slots=True)
class Player:
    """One player. Keys are MIDI numbers, the span semitones, the distance metres.

    Attributes:
        low, high: the right hand's lowest and highest key.
        span: the widest reach.
        notes: notes in the right hand, 3 or 4.
        register: semitones by which the liked middle of the hand is moved.
        suspensions: of the printed chords at most.
        octaves: `phrase`, `every` or `none`.
        transpose: the keyboard can transpose: parts are written in the easiest key.
        patches: what to call up for each sound, by its name in songs (`piano` -> `12`).
        split: where a split keyboard is split, None where it is not.
        paper: a paper's name.
        distance: from the eyes to the page.
        stage_paper: what stage copies are shown on, by its name.
        stage_words: which words stage copies have: `first`, `all` or `none`.
        stage_dark: stage copies are light on dark.
        fonts: files of fonts for scripts that the program's own lack, as they are written in the settings.
    """

    low: int = DEFAULT.low
    high: int = DEFAULT.high
    span: int = DEFAULT.span
    notes: int = DEFAULT.notes
    register: int = 0
    suspensions: Fraction = DEFAULT.suspensions
    octaves: Octaves = DEFAULT.octaves
    transpose: bool = False
    patches: tuple[tuple[str, str], ...] = ()
    split: int | None = None
    paper: str = "a4"
    distance: float = 0.7
    stage_paper: str = "a4"
    stage_words: str = "first"
    stage_dark: bool = False
    fonts: tuple[str, ...] = ()

    def taste(self, base: Taste = DEFAULT) -> Taste:
        """Return the taste of this player: limits and wishes over the defaults."""
        return replace(
            base,
            low=self.low,
            moved_low=min(base.moved_low, self.low) if self.low <= base.low else self.low,
            high=self.high,
            span=self.span,
            notes=self.notes,
            target_shift=self.register,
            suspensions=self.suspensions,
            octaves=self.octaves,
            split=self.split,
        )


class _WrongValueError(ValueError):
    """A value that cannot be taken: the message, and hints."""

    def __init__(self, message: str, *hints: str) -> None:
        super().__init__(message)
        self.hints = hints


def _told(value: Any) -> str:
    """Return a value as a message has it: as TOML has it, and no longer than a line."""
    text = str(value).lower() if isinstance(value, bool) else repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= LONGEST_VALUE else f"{text[:LONGEST_VALUE]}…"


def _key(value: Any) -> int:
    try:
        midi = Pitch.parse(str(value)).midi
    except ValueError:
        raise _WrongValueError(
            f"expected a key of the keyboard, found {_told(value)}", "a note with its octave: F3, C#5"
        ) from None
    if not LOWEST_KEY <= midi <= HIGHEST_KEY:
        raise _WrongValueError(f"expected a key from A0 to C8, found {_told(value)}")
    return midi


def _one_of(choices: Mapping[str, Any]) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if not isinstance(value, str) or value not in choices:
            near = difflib.get_close_matches(str(value), choices, 1)
            hints = [f"did you mean {near[0]}?"] if near else []
            raise _WrongValueError(f"expected one of {', '.join(choices)}, found {_told(value)}", *hints)
        return choices[value]

    return read


def share_of(text: str) -> Fraction | None:
    """Return a share as people type it; None where it is none.

    >>> share_of("1/6"), share_of("0,5"), share_of("1/0"), share_of("1e-99999999")
    (Fraction(1, 6), Fraction(1, 2), None, None)
    """
    match = re.fullmatch(r"([0-9]{1,9})(?:/0*([1-9][0-9]{0,8})|([.,][0-9]{1,20}))?", text.strip())
    if match is None:
        return None
    return Fraction(match[1] + (match[3] or "").replace(",", ".")) / int(match[2] or 1)


def _share(value: Any) -> Fraction:
    share = None if isinstance(value, bool) else share_of(str(value))
    if share is None:
        raise _WrongValueError(f"expected a share of the chords, found {_told(value)}", '"1/6", "1/3", 0 for none')
    if share > 1:
        raise _WrongValueError(f"expected a share from 0 to 1, found {_told(value)}")
    return share


def _notes(value: Any) -> int:
    if value not in (3, 4) or not isinstance(value, int):
        raise _WrongValueError(f"expected 3 or 4 notes, found {_told(value)}")
    return int(value)


def _yes(value: Any) -> bool:
    if not isinstance(value, bool):
        raise _WrongValueError(f"expected true or false, found {_told(value)}")
    return value


def _distance(value: Any) -> float:
    metres = in_units(str(value), METRES, "m")
    if metres is None or not DISTANCES[0] <= metres <= DISTANCES[1]:
        raise _WrongValueError(f"expected a distance from 0.3 m to 2 m, found {_told(value)}", '"70 cm", "0.7 m"')
    return metres


def _patches(value: Any) -> tuple[tuple[str, str], ...]:
    if not isinstance(value, dict):
        raise _WrongValueError(f"expected sounds and their patches, found {_told(value)}", 'piano = "12"')
    patches: dict[str, str] = {}
    for name, patch in value.items():
        if isinstance(patch, bool) or not isinstance(patch, str | int):
            raise _WrongValueError(f"expected a patch for {name}, found {_told(patch)}", 'piano = "12"')
        if name.lower() in patches:
            raise _WrongValueError(f"expected one patch for {name.lower()}, found two")
        patches[name.lower()] = str(patch)
    return tuple(sorted(patches.items()))


def _fonts(value: Any) -> tuple[str, ...]:
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not all(isinstance(name, str) and name and "\0" not in name for name in names):
        raise _WrongValueError(
            f"expected files of fonts, found {_told(value)}", 'fonts = ["NotoSansGeorgian-Regular.ttf"]'
        )
    if len(names) > MOST_FONTS:
        raise _WrongValueError(f"expected {MOST_FONTS} fonts at most, found {len(names)}")
    return tuple(names)


# Table, key -> the field of `Player` and how its value is read.
_FIELDS: dict[tuple[str, str], tuple[str, Callable[[Any], Any]]] = {
    ("hand", "lowest"): ("low", _key),
    ("hand", "highest"): ("high", _key),
    ("hand", "span"): ("span", _one_of(SPANS)),
    ("hand", "notes"): ("notes", _notes),
    ("hand", "register"): ("register", _one_of(REGISTERS)),
    ("part", "suspensions"): ("suspensions", _share),
    ("part", "octaves"): ("octaves", _one_of({name: name for name in ("phrase", "every", "none")})),
    ("keyboard", "transpose"): ("transpose", _yes),
    ("keyboard", "split"): ("split", _key),
    ("keyboard", "patches"): ("patches", _patches),
    ("page", "paper"): ("paper", _one_of({name: name for name in PAPERS})),
    ("page", "distance"): ("distance", _distance),
    ("page", "fonts"): ("fonts", _fonts),
    ("stage", "paper"): ("stage_paper", _one_of({name: name for name in SHEETS})),
    ("stage", "words"): ("stage_words", _one_of({name: name for name in PROMPTS})),
    ("stage", "dark"): ("stage_dark", _yes),
}


def read_player(source: Source) -> tuple[Player, tuple[Diagnostic, ...]]:
    """Read the settings; where a value is wrong its default stands, and a diagnostic says what is wrong and where."""
    if len(source.text) > MOST_CHARACTERS:
        hint = "`arranger player` prints settings as they should be"
        message = f"expected settings of {MOST_CHARACTERS:,} characters at most, found {len(source.text):,}"
        return Player(), (error("player-syntax", message, None, hint),)
    try:
        tables = tomllib.loads(source.text)
    except tomllib.TOMLDecodeError as problem:
        return Player(), (_syntax(source, str(problem)),)
    except ValueError:  # more digits than Python reads
        return Player(), (_too_much(source, "a number of so many digits", r"[0-9_]{1000,}"),)
    except RecursionError:
        return Player(), (_too_much(source, "brackets in brackets so deep", r"(?:[\[{]\s*){50,}"),)
    values: dict[str, Any] = {}
    problems: list[Diagnostic] = []
    for table, content in tables.items():
        if not isinstance(content, dict):
            problems.append(_unknown(source, table, "", [t for t, _ in _FIELDS]))
            continue
        for key, value in content.items():
            field = _FIELDS.get((table, key))
            if field is None:
                problems.append(_unknown(source, key, table, [k for t, k in _FIELDS if t == table]))
                continue
            try:
                values[field[0]] = field[1](value)
            except _WrongValueError as wrong:
                message = f"{key}: {wrong}"
                problems.append(error("player-value", message, _place(source, table, key), *wrong.hints))
    player = Player(**values)
    if player.high - player.low < LEAST_WINDOW:
        message = f"expected at least {LEAST_WINDOW} semitones from lowest to highest, found {player.high - player.low}"
        place = _place(source, "hand", "highest") or _place(source, "hand", "lowest")
        problems.append(error("player-value", message, place, "F3 to G5 suits most hands"))
    return player, tuple(problems)


def _syntax(source: Source, message: str) -> Diagnostic:
    match = re.search(r"\(at line (\d+), column (\d+)\)", message)
    span = None
    if match:
        line = min(int(match[1]), source.line_count)
        start = min(source.line_span(line).start + int(match[2]) - 1, len(source.text))
        span = Span(start, start)
    text = re.sub(r"\s*\(at .*\)$", "", message)
    return error("player-syntax", text[:1].lower() + text[1:], span, 'a line of settings looks like: span = "octave"')


def _too_much(source: Source, found: str, looks_like: str) -> Diagnostic:
    match = re.search(looks_like, source.text)
    hint = "`arranger player` prints settings as they should be"
    span = Span(match.start(), match.start() + 1) if match else None
    return error("player-syntax", f"expected settings, found {found}", span, hint)


def _unknown(source: Source, name: str, table: str, known: list[str]) -> Diagnostic:
    near = difflib.get_close_matches(name, known, 1, 0.5)
    hints = [f"did you mean {near[0]}?"] if near else []
    where = f" in [{table}]" if table else ""
    if not known:
        hints = ["tables are " + ", ".join(f"[{t}]" for t in dict.fromkeys(t for t, _ in _FIELDS))]
        return error("player-unknown", f"no settings are called [{table}]", _place(source, table, ""), *hints)
    return error("player-unknown", f"no setting is called {name}{where}", _place(source, table, name), *hints)


def _place(source: Source, table: str, key: str) -> Span | None:
    """Find a key's line below its table's head; the head itself where there is no key."""
    head = re.search(rf"^\s*\[\s*{re.escape(table)}\b[^\]]*\]", source.text, re.MULTILINE) if table else None
    if key:
        found = re.compile(rf"^\s*({re.escape(key)})\s*=", re.MULTILINE).search(source.text, head.end() if head else 0)
        if found:
            return Span(*found.span(1))
    return Span(*head.span()) if head else None


def name_of(choices: Mapping[str, int], value: int) -> str:
    """Return the name of a value in a table of choices."""
    return next(name for name, one in choices.items() if one == value)


def key_name(midi: int) -> str:
    """Name a key of the keyboard with sharps: `C#4`."""
    names = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return f"{names[midi % 12]}{midi // 12 - 1}"


def _text(text: str) -> str:
    """Return a text as TOML has it, in quotes; escaped is what could steer a terminal or would be read as another."""
    plain = unicodedata.is_normalized("NFC", text)  # sources are brought into this form
    escaped = (
        f"\\{c}" if c in '"\\' else f"\\U{ord(c):08X}" if steers(c) or not (plain or c.isascii()) else c for c in text
    )
    return f'"{"".join(escaped)}"'


def written(player: Player) -> str:
    """Return a file of settings with remarks, that reads back as the same player."""
    patches = "".join(f"\n{_text(name)} = {_text(patch)}" for name, patch in player.patches)
    split = f'split = "{key_name(player.split)}"' if player.split is not None else '# split = "C4"'
    names = ", ".join(map(_text, player.fonts))
    fonts = f"fonts = [{names}]" if names else '# fonts = ["NotoSansGeorgian-Regular.ttf"]'
    return f"""\
# Settings of one player. A line that begins with # is a remark. Whatever is left out has its default.

[hand]
lowest = "{key_name(player.low)}"      # the right hand's lowest key, A0 to C8
highest = "{key_name(player.high)}"     # and its highest; at least {LEAST_WINDOW} semitones above
span = "{name_of(SPANS, player.span)}"    # the widest reach that is easy for you: {", ".join(SPANS)}
notes = {player.notes}          # notes in the right hand: 3 or 4
register = "{name_of(REGISTERS, player.register)}"  # where the hand likes to be: {", ".join(REGISTERS)}

[part]
suspensions = "{player.suspensions}"  # of the printed chords at most: "1/6", "1/3", 0 for none
octaves = "{player.octaves}"   # fills in octaves: phrase (one in four bars at most), every, none

[keyboard]
transpose = {
        "true" if player.transpose else "false"
    }  # true: parts come in the easiest key and say how to set the keyboard
{split}        # where the keyboard is split, if it is

[keyboard.patches]   # what to call up for a sound of the songs{
        patches
        or '''
# piano = "1"
# "piano + pad" = "12"'''
    }

[page]
paper = "{player.paper}"      # {", ".join(PAPERS)}
distance = "{player.distance} m"  # from your eyes to the page, 0.3 m to 2 m
{fonts}   # TrueType files for other scripts, {MOST_FONTS} at most; a path begins at this file

[stage]
paper = "{player.stage_paper}"      # {", ".join(SHEETS)}
words = "{player.stage_words}"   # {", ".join(PROMPTS)}
dark = {"true" if player.stage_dark else "false"}      # true: light on near-black, for screens
"""
