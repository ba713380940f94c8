"""Read and write the player's own limits and wishes (`player.toml`). Takes text; gives `Player` and diagnostics.

What is typed after an option that stands over a setting is read here too, by the same kinds of values.

Every value has a default and a range; what is wrong is told with its place, all at once, and a wrong value is never
replaced in silence. The file is TOML (toml.io, version 1.0); its keys stand in `arranger.settings`.
"""

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction
from typing import Any, NamedTuple

from arranger.harmony.taste import DEFAULT, Octaves, Taste
from arranger.harmony.textures import LEVELS
from arranger.late import load
from arranger.layout.options import HANDS, PROMPTS, VERSES, Hands, Prompts, Verses
from arranger.settings import SETTINGS
from arranger.song.model import Texture
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import Source, Span
from arranger.text.terminal import printable, steers
from arranger.theory.pitch import Pitch
from arranger.units import METRES, PAPERS, SHEETS, in_units

# Reaches by their names, in semitones: the widest interval of the name that the hand may take.
SPANS = {"sixth": 9, "seventh": 11, "octave": 12, "ninth": 14, "tenth": 16}

# Register: how far the liked middle of the hand moves, in semitones. A third is another place, not another part.
REGISTERS = {"low": -3, "middle": 0, "high": 3}

LOWEST_KEY, HIGHEST_KEY = Pitch.parse("A0").midi, Pitch.parse("C8").midi  # a piano's 88 keys
LEAST_WINDOW = 19  # semitones from lowest to highest: an octave and a fifth, so that every chord has a hand
DISTANCES = (0.3, 2.0)  # metres: nearer than a book or farther than a stand is a slip of the pen
MOST_FONTS = 3  # of the player's own, as many as a part can have beside the program's
MOST_CHARACTERS = 1 << 14  # of settings; those with all their remarks have some 2,000
LONGEST_VALUE = 60  # characters of a wrong value that a message shows
LONGEST_DATE = 40  # characters: what fits beside title and key at the foot of a page


class Player(NamedTuple):
    """One player. Keys are MIDI numbers, the span semitones, the distance metres; names stand for themselves.

    Of the last three no setting is kept: they are chosen anew each time.
    """

    low: int = DEFAULT.low  # the right hand's lowest key
    high: int = DEFAULT.high
    span: int = DEFAULT.span  # the widest reach
    notes: int = DEFAULT.notes  # in the right hand, 3 or 4
    most_keys: int = DEFAULT.most_keys  # in the right hand where it plays full, 3 or 4
    left_octaves: bool = DEFAULT.left_octaves
    register: int = 0  # semitones by which the liked middle of the hand is moved
    suspensions: Fraction = DEFAULT.suspensions  # of the printed chords at most
    octaves: Octaves = DEFAULT.octaves
    arc: bool = DEFAULT.arc  # how full the keys play follows the song
    fullest: Texture = DEFAULT.fullest
    transpose: bool = False  # the keyboard can transpose: parts are written in the easiest key
    patches: tuple[tuple[str, str], ...] = ()  # what to call up for each sound, by its name in songs
    split: int | None = None  # where a split keyboard is split, None where it is not
    paper: str = "a4"
    verses: Verses = "together"  # sections that are played alike are drawn once, or each
    distance: float = 0.7  # from the eyes to the page
    stage_paper: str = "a4"  # what stage copies are shown on
    stage_words: Prompts = "first"  # which words stage copies have
    stage_dark: bool = False
    fonts: tuple[str, ...] = ()  # files for scripts that the program's own fonts lack, as the settings have them
    hands: Hands = "keyboard"  # how hands are shown
    date: str | None = None  # printed on each page
    pages: int | None = None  # how many a part or a stage copy may have; None for as many as it takes

    def taste(self, base: Taste = DEFAULT) -> Taste:
        """Return the taste of this player: limits and wishes over the defaults."""
        return base._replace(
            low=self.low,
            moved_low=min(base.moved_low, self.low) if self.low <= base.low else self.low,
            high=self.high,
            span=self.span,
            notes=self.notes,
            most_keys=self.most_keys,
            left_octaves=self.left_octaves,
            target_shift=self.register,
            arc=self.arc,
            fullest=self.fullest,
            suspensions=self.suspensions,
            octaves=self.octaves,
            split=self.split,
        )


# What a player settles for who wants it easy.
EASY: dict[str, Any] = {"notes": 3, "suspensions": Fraction(0), "octaves": "none", "arc": False}


# Kinds of values: how each is read and written.


class WrongValueError(ValueError):
    """A value that cannot be taken: what was expected, and hints."""

    def __init__(self, wanted: str, *hints: str, found: str = "") -> None:
        super().__init__(wanted)
        self.hints, self.found = hints, found


def _in_a_message(value: Any) -> str:
    """Return a value as TOML has it, and no longer than a line."""
    text = str(value).lower() if isinstance(value, bool) else repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= LONGEST_VALUE else f"{text[:LONGEST_VALUE]}…"


def _key(value: Any) -> int:
    try:
        midi = Pitch.parse(str(value)).midi
    except ValueError:
        raise WrongValueError("a key of the keyboard", "a note with its octave: F3, C#5") from None
    if not LOWEST_KEY <= midi <= HIGHEST_KEY:
        raise WrongValueError("a key from A0 to C8")
    return midi


def _key_name(midi: int) -> str:
    """Return the name of a key of the keyboard with sharps: `C#4`."""
    names = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return f'"{names[midi % 12]}{midi // 12 - 1}"'


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
        raise WrongValueError("a share of the chords", '"1/6", "1/3", 0 for none')
    if share > 1:
        raise WrongValueError("a share from 0 to 1")
    return share


def _notes(value: Any) -> int:
    if value not in (3, 4) or not isinstance(value, int):
        raise WrongValueError("3 or 4 notes")
    return int(value)


def _yes(value: Any) -> bool:
    if not isinstance(value, bool):
        raise WrongValueError("true or false")
    return value


def _distance(value: Any) -> float:
    metres = in_units(str(value), METRES, "m")
    if metres is None or not DISTANCES[0] <= metres <= DISTANCES[1]:
        raise WrongValueError(f"a distance from {DISTANCES[0]:g} m to {DISTANCES[1]:g} m", '"70 cm", "0.7 m"')
    return metres


def _date(text: str) -> str:
    if not text.strip() or printable(text) != text or len(text) > LONGEST_DATE:
        raise WrongValueError(f"a date of 1 to {LONGEST_DATE} plain characters")
    return text.strip()


def _patches(value: Any) -> tuple[tuple[str, str], ...]:
    if not isinstance(value, dict):
        raise WrongValueError("sounds and their patches", 'piano = "12"')
    patches: dict[str, str] = {}
    for name, patch in value.items():
        if isinstance(patch, bool) or not isinstance(patch, str | int):
            raise WrongValueError(f"a patch for {name}", 'piano = "12"', found=_in_a_message(patch))
        if name.lower() in patches:
            raise WrongValueError(f"one patch for {name.lower()}", found="two")
        patches[name.lower()] = str(patch)
    return tuple(sorted(patches.items()))


def _written_patches(patches: tuple[tuple[str, str], ...]) -> str:
    lines = [f"\n{_text(name)} = {_text(patch)}" for name, patch in patches]
    return "".join(lines) or '\n# piano = "1"\n# "piano + pad" = "12"'


def _fonts(value: Any) -> tuple[str, ...]:
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not all(isinstance(name, str) and name and "\0" not in name for name in names):
        raise WrongValueError("files of fonts", f"fonts = {EXAMPLES['fonts']}")
    if len(names) > MOST_FONTS:
        raise WrongValueError(f"{MOST_FONTS} fonts at most", found=str(len(names)))
    return tuple(names)


def _text(text: str) -> str:
    """Return a text as TOML has it, in quotes; escaped is what could steer a terminal or would be read as another."""
    plain = unicodedata.is_normalized("NFC", text)  # sources are brought into this form
    escaped = (
        f"\\{c}" if c in '"\\' else f"\\U{ord(c):08X}" if steers(c) or not (plain or c.isascii()) else c for c in text
    )
    return f'"{"".join(escaped)}"'


CHOICES: dict[str, dict[str, Any]] = {
    "span": SPANS,
    "register": REGISTERS,
    "octaves": {name: name for name in ("phrase", "every", "none")},
    "texture": {name: name for name in LEVELS},
    "fills": {name: name for name in ("every", "phrase")},  # none at all is another option
    "paper": {name: name for name in PAPERS},
    "sheet": {name: name for name in SHEETS},
    "hands": {name: name for name in HANDS},
    "verses": {name: name for name in VERSES},
    "words": {name: name for name in PROMPTS},
    "pages": {"1": 1, "2": 2, "any": None},
}
KINDS: dict[str, tuple[Callable[[Any], Any], Callable[[Any], str]]] = {
    "key": (_key, _key_name),
    "notes": (_notes, str),
    "share": (_share, lambda share: f'"{share}"'),
    "yes or no": (_yes, lambda yes: str(yes).lower()),
    "distance": (_distance, lambda metres: f'"{metres} m"'),
    "patches": (_patches, _written_patches),  # a table of their own, with its lines
    "fonts": (_fonts, lambda names: f"[{', '.join(map(_text, names))}]"),
    "date": (_date, str),
}
EXAMPLES = {"key": '"C4"', "fonts": '["NotoSansGeorgian-Regular.ttf"]'}  # written as remarks where nothing is set
# What is expected after an option, and how it is typed, where a file is spoken of in other words.
TYPED = {
    "share": ("a share of the chords", "1/6, 1/3, or 0 for none"),
    "distance": ("", "--distance 0.9m, or 90cm"),
    "date": ("", "--date 2026-11-29"),
}


def value_of(kind: str, value: Any) -> Any:
    """Read a value as TOML has it.

    Raises:
        WrongValueError: it cannot be taken; with what was expected, and hints.
    """
    if kind in KINDS:
        return KINDS[kind][0](value)
    if isinstance(value, str) and value in CHOICES[kind]:
        return CHOICES[kind][value]
    near = load("difflib").get_close_matches(str(value), CHOICES[kind], 1)
    raise WrongValueError(f"one of {', '.join(CHOICES[kind])}", *(f"did you mean {name}?" for name in near))


def typed_value(kind: str, given: Any) -> Any:
    """Read what is typed after an option: its text, or that it is on.

    Raises:
        WrongValueError: it cannot be taken; with what was expected, and a hint.
    """
    if kind in CHOICES:
        if given.lower() in CHOICES[kind]:
            return CHOICES[kind][given.lower()]
        raise WrongValueError(" or ".join(CHOICES[kind]))
    try:
        return KINDS[kind][0](given)
    except WrongValueError as wrong:
        wanted, hint = TYPED[kind]
        raise WrongValueError(wanted or str(wrong), hint) from None


def _toml_of(kind: str, value: Any) -> str:
    """Return a value as TOML has it."""
    if kind in KINDS:
        return KINDS[kind][1](value)
    return next(f'"{name}"' for name, one in CHOICES[kind].items() if one == value)


# The file.


def read_player(source: Source) -> tuple[Player, tuple[Diagnostic, ...]]:
    """Read the settings; where a value is wrong its default stands, and a diagnostic says what is wrong and where."""
    prints = "`arranger player` prints settings as they should be"
    if len(source.text) > MOST_CHARACTERS:
        message = f"expected settings of {MOST_CHARACTERS:,} characters at most, found {len(source.text):,}"
        return Player(), (error("player-syntax", message, None, prints),)
    tomllib = load("tomllib")
    try:
        tables = tomllib.loads(source.text)
    except tomllib.TOMLDecodeError as problem:
        return Player(), (_syntax(source, str(problem)),)
    except (ValueError, RecursionError) as fault:  # more digits, or more brackets in brackets, than Python reads
        deep = isinstance(fault, RecursionError)
        found = "brackets in brackets so deep" if deep else "a number of so many digits"
        match = re.search(r"(?:[\[{]\s*){50,}" if deep else r"[0-9_]{1000,}", source.text)
        span = Span(match.start(), match.start() + 1) if match else None
        return Player(), (error("player-syntax", f"expected settings, found {found}", span, prints),)
    values: dict[str, Any] = {}
    problems: list[Diagnostic] = []
    fields = {(table, key): (field, kind) for table, key, field, kind, _ in SETTINGS}
    for table, content in tables.items():
        for key, value in content.items() if isinstance(content, dict) else [(None, None)]:
            if key is None or (table, key) not in fields:
                problems.append(_unknown(source, table, key))
                continue
            field, kind = fields[table, key]
            try:
                values[field] = value_of(kind, value)
            except WrongValueError as wrong:
                message = f"{key}: expected {wrong}, found {wrong.found or _in_a_message(value)}"
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


def _unknown(source: Source, table: str, key: str | None) -> Diagnostic:
    """Return the error for an unknown key in a table, or an unknown table; a value without a table has no key."""
    tables = list(dict.fromkeys(row[0] for row in SETTINGS))
    known = tables if key is None else [row[1] for row in SETTINGS if row[0] == table]
    if not known:
        hint = "tables are " + ", ".join(f"[{name}]" for name in tables)
        return error("player-unknown", f"no settings are called [{table}]", _place(source, table, ""), hint)
    name, where, inside = (table, "", "") if key is None else (key, f" in [{table}]", table)
    near = load("difflib").get_close_matches(name, known, 1, 0.5)
    hints = [f"did you mean {near[0]}?"] if near else []
    return error("player-unknown", f"no setting is called {name}{where}", _place(source, inside, name), *hints)


def _place(source: Source, table: str, key: str) -> Span | None:
    """Find a key's line below its table's head; the head itself where there is no key."""
    head = re.search(rf"^\s*\[\s*{re.escape(table)}\b[^\]]*\]", source.text, re.MULTILINE) if table else None
    if key:
        found = re.compile(rf"^\s*({re.escape(key)})\s*=", re.MULTILINE).search(source.text, head.end() if head else 0)
        if found:
            return Span(*found.span(1))
    return Span(*head.span()) if head else None


def written(player: Player) -> str:
    """Return a file of settings with remarks, that reads back as the same player."""
    text = "# Settings of one player. A line that begins with # is a remark. Whatever is left out has its default.\n"
    last = ""
    for table, key, field, kind, remark in SETTINGS:
        remark = remark.format(names=", ".join(CHOICES.get(kind, ())), window=LEAST_WINDOW, fonts=MOST_FONTS)
        text += f"\n[{table}]\n" if table != last else ""
        last, value = table, getattr(player, field)
        if kind == "patches":
            text += f"\n[{table}.{key}]{remark}{_toml_of(kind, value)}\n"
        elif value in (None, ()):
            text += f"# {key} = {EXAMPLES[kind]}{remark}\n"
        else:
            text += f"{key} = {_toml_of(kind, value)}{remark}\n"
    return text
