"""Sort a song's lines into header and sections, and read each: the table of the words that begin lines is here.

A reader takes the text of one line and gives the model's value, or None after it has reported what is wrong. A line
that no word begins is reported with what it most likely is; where that is a section or a row, reading goes on as if it
had been written so, and one slip is one message.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Any, Literal

from arranger.habits.bounds import FASTEST, MOST_FRETS, SLOWEST
from arranger.habits.signs import with_own_signs
from arranger.late import load
from arranger.song.cells import is_chord, is_mark
from arranger.song.chord_rows import meter_of
from arranger.song.drones import read_drone
from arranger.song.grammar import Fact, Failure, Lexeme, parse_fact
from arranger.song.model import Capo, Dynamic, Meter, SongText, Sound, Tempo
from arranger.song.song_line import SongLine
from arranger.song.texture_words import read_texture
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Source, Span
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch

_SECOND_FACT = re.compile(
    r"[\s,;](key|tempo|meter|feel|capo|dynamic|sound|band|texture|drone|roadmap)\s+\S", re.IGNORECASE
)


def _parsed(start: Fact, line: SongLine, problems: Problems, expected: str) -> tuple[Lexeme, ...] | None:
    """Parse a fact, or report what would be right."""
    result = parse_fact(start, with_own_signs(line.text))
    if not isinstance(result, Failure):
        return result
    at = min(result.at, max(0, len(line.text) - 1))
    found = shown(line.text) if line.text else "nothing"
    habits = load("arranger.habits.free_form")
    hint, better = "", None
    if start == "switch":  # its free forms depend on the word before it
        hint, better = habits.switch(line.word, line.text)
    elif start in habits.FREE_FORMS:
        hint, better = habits.FREE_FORMS[start](line.text, problems)
    second = _SECOND_FACT.search(line.text)
    where = ""
    if second is not None:
        where = f"each fact has a line of its own: put `{second[1]}` on the next"
    elif " # " in line.text:
        where = "a remark has a line of its own, and `#` is its first mark"
    fix = None if better is None else Fix(line.span, better)
    place = line.within(at, len(line.text))
    problems.error(f"bad-{start}", f"expected {expected}, found {found}", place, where, hint, fix=fix)
    return None


def read_text(line: SongLine, problems: Problems) -> SongText | None:
    """Read a fact in plain words."""
    if line.text:
        return SongText(line.text, line.span)
    problems.error(
        "empty-fact", f"expected words after `{line.word}`, found the end of the line", line.span,
        f"leave the line out if there is no `{line.word}`",
    )  # fmt: skip
    return None


# A language, then perhaps its script, then perhaps its region (RFC 5646, section 2.1, without the rarer subtags).
# A text, compiled when first used, as are all patterns that few songs need.
_LANGUAGE = r"(?i)(?P<language>[a-z]{2,3})(?:-(?P<script>[a-z]{4}))?(?:-(?P<region>[a-z]{2}|\d{3}))?"


def read_language(line: SongLine, problems: Problems) -> SongText | None:
    """Read the tag of the words' language: `fr`, `pt-BR`; its parts are cased as is usual (RFC 5646, section 2.1.1)."""
    found = re.fullmatch(_LANGUAGE, line.text)
    if found is None:
        told = shown(line.text) if line.text else "nothing"
        problems.error(
            "bad-language", f"expected the tag of a language, such as `en`, `fr` or `pt-BR`, found {told}", line.span,
            "a tag has two or three letters; `pt-BR` names a country too",
        )  # fmt: skip
        return None
    script, region = found["script"], found["region"]
    parts = (found["language"].lower(), script and script.title(), region and region.upper())
    return SongText("-".join(filter(None, parts)), line.span)


_KEY_WANTED = "a key such as `D`, `Bb` or `F# minor`"


def read_key(line: SongLine, problems: Problems) -> Key | None:
    """Read `D`, `Dm`, `Bb minor`."""
    pieces = _parsed("key", line, problems, _KEY_WANTED)
    return None if pieces is None else _key(pieces, line, problems)


def _key(pieces: tuple[Lexeme, ...], line: SongLine, problems: Problems) -> Key | None:
    minor = len(pieces) > 1 and (pieces[1].text == "m" or pieces[1].text.lower().startswith("min"))
    key = Key(NoteName.parse(pieces[0].text), minor)
    if key.exists:
        return key
    twin = next(
        (k for k in (Key(NoteName.at_fifths(key.tonic.fifths + s), minor) for s in (-12, 12)) if k.exists), None
    )
    signs = "sharps" if key.signature > 0 else "flats"
    message = f"expected a key of seven sharps or flats at most: {key.words} would have {abs(key.signature)} {signs}"
    hint = f"write `{twin}`, which sounds the same" if twin else ""
    problems.error("no-such-key", message, line.within(pieces[0].start, pieces[-1].end), hint)
    return None


def read_meter(line: SongLine, problems: Problems) -> Meter | None:
    """Read `6/8`."""
    pieces = _parsed("meter", line, problems, "a meter such as `4/4` or `6/8`")
    if pieces is None:
        return None
    beats, unit = (int(p.text[:4]) for p in pieces)
    return meter_of(beats, unit, line.span, problems)


_UNITS = {"dotted": Fraction(3, 2), "half": Fraction(2)}
_TEMPO_WANTED = "a tempo such as `72`, `dotted 60`, `half 60`, `free` or `rit to 60`"


def read_tempo(line: SongLine, problems: Problems) -> Tempo | None:
    """Read `72`, `dotted 60`, `half 60`, `free`, `rit to 60`."""
    pieces = _parsed("tempo", line, problems, _TEMPO_WANTED)
    if pieces is None:
        return None
    kinds = {p.kind: p for p in pieces}
    if "FREE" in kinds:
        return Tempo(line.text, None, span=line.span)
    number = kinds["INT"]
    bpm = int(number.text[:6])
    if not SLOWEST <= bpm <= FASTEST:
        message = f"expected {SLOWEST} to {FASTEST} beats a minute, found {shown(number.text)}"
        problems.error("bad-tempo", message, line.within(number.start, number.end))
        return None
    unit_length = _UNITS[kinds["UNIT"].text.lower()] if "UNIT" in kinds else Fraction(1)
    return Tempo(line.text, bpm, unit_length, "GRADUAL" in kinds, line.span)


def read_feel(line: SongLine, problems: Problems) -> str | None:
    """Read `straight`, `swing`, `half-time`."""
    pieces = _parsed("feel", line, problems, "`straight`, `swing` or `half-time`")
    return None if pieces is None else pieces[0].text.lower()


def read_dynamic(line: SongLine, problems: Problems) -> Dynamic | None:
    """Read `mf`, `p to f`, `cresc`, `sfz`."""
    wanted = "a dynamic from `ppp` to `fff`, `sfz`, `cresc`, `dim`, or two as `p to f`"
    pieces = _parsed("dynamic", line, problems, wanted)
    if pieces is None:
        return None
    level = pieces[0].text.lower() if pieces[0].kind == "LEVEL" else None
    return Dynamic(line.text, level, line.span)


_SPLIT = r"(?i)(.*?)\bsplit\b\s*(?:at\s+)?(\S*)\s*"


def read_sound(line: SongLine, problems: Problems) -> Sound | None:
    """Read `piano`, `piano + pad`, `pad / piano split C4`."""
    text = with_own_signs(line.text)
    split_at = None
    split = re.fullmatch(_SPLIT, text) if "split" in text.lower() else None
    if split is not None:
        text = split[1].rstrip()
        split_at = _split_point(split, line, problems)
        if "/" not in text:
            problems.error(
                "bad-sound", "expected two sounds with `/` before `split`", line.span, "write `pad / piano split C4`"
            )
            return None
    wanted = "a sound such as `piano`, `piano + pad` or `pad / piano split C4`"
    pieces = _parsed("sound", SongLine(line.word, text, line.span), problems, wanted)
    if pieces is None:
        return None
    if "/" in text:
        parts = tuple(part.strip() for part in text.split("/"))
        return Sound(line.text, "split", parts, split_at, line.span)
    parts = tuple(p.text.strip() for p in pieces if p.kind == "LAYER")
    return Sound(line.text, "layer" if len(parts) > 1 else "single", parts, None, line.span)


def _split_point(split: re.Match[str], line: SongLine, problems: Problems) -> Pitch | None:
    try:
        return Pitch.parse(split[2])
    except ValueError:
        message = f"expected a note with its octave after `split`, found {shown(split[2]) if split[2] else 'nothing'}"
        hint = "write `split C4` to split at middle C"
        problems.error("bad-sound", message, line.within(split.start(2), max(split.end(2), split.start(2))), hint)
        return None


def read_switch(line: SongLine, problems: Problems) -> bool | None:
    """Read `on` or `off`."""
    pieces = _parsed("switch", line, problems, f"`on` or `off` after `{line.word}`")
    return None if pieces is None else pieces[0].text.lower() == "on"


def read_capo(line: SongLine, problems: Problems) -> Capo | None:
    """Read `2 in C`: the fret and the key of the shapes."""
    pieces = _parsed("capo", line, problems, "a fret and the key of the shapes, such as `2 in C`")
    if pieces is None:
        return None
    key = _key(pieces[1:], line, problems)
    fret = int(pieces[0].text[:4])
    if not 1 <= fret <= MOST_FRETS:
        message = f"expected a fret from 1 to {MOST_FRETS}, found {shown(pieces[0].text)}"
        hint = "leave the line out where no capo is used" if fret == 0 else ""
        problems.error("bad-capo", message, line.within(pieces[0].start, pieces[0].end), hint)
        return None
    return None if key is None else Capo(fret, key, line.span)


def read_band(line: SongLine, problems: Problems) -> tuple[str, ...] | None:
    """Read the others who play: names with commas."""
    text = read_text(line, problems)
    return None if text is None else tuple(p for p in (part.strip() for part in line.text.split(",")) if p)


def read_pickup(line: SongLine, problems: Problems) -> SongText | None:
    """Read the words before the first bar: words alone, without barlines."""
    if "|" in line.text.replace("\\|", ""):
        words = line.text.strip("| \t")
        message = f"expected words alone after `pickup`, found {shown(line.text)}"
        hint = "the words sung before the section's first row need no barlines" + (
            f": `pickup {words}`" if words else ""
        )
        fix = Fix(line.span, words) if words and "|" not in words else None
        problems.error("bars-in-pickup", message, line.span, hint, fix=fix)
        return None
    return read_text(line, problems)


def read_mark_only(line: SongLine, problems: Problems) -> bool:
    """Read a word that stands alone (`tacet`)."""
    if line.text:
        message = f"expected nothing after `{line.word}`, found {shown(line.text)}"
        hint = "words for the player stand in a line that begins with `cue`"
        problems.error("words-after-tacet", message, line.span, hint)
    return True


LONGEST_LINE = 4000  # characters; a longer one is no line of a song
MOST_SECTIONS = 1000

ROW = "|"  # stands for the word of a row of chords
BROKEN_ROW = "broken row"  # a row of chords that was told already: what belongs to it is passed over
# Every word that begins a line: where it may stand, and what reads the text after it. Rows and the order of the
# sections have no reader here: they are read with what stands around them.
LINE_WORDS: dict[str, tuple[Literal["song", "section", "both"], Callable[[SongLine, Problems], Any] | None]] = {
    "song": ("song", read_text), "words": ("song", read_text), "music": ("song", read_text),
    "rights": ("song", read_text), "capo": ("song", read_capo), "start": ("song", read_text), "roadmap": ("song", None),
    "language": ("song", read_language), "copyist": ("song", read_text),
    "key": ("both", read_key), "meter": ("both", read_meter), "tempo": ("both", read_tempo),
    "sound": ("both", read_sound), "play": ("both", read_text), "dynamic": ("both", read_dynamic),
    "feel": ("both", read_feel), "band": ("both", read_band), "texture": ("both", read_texture),
    "suspensions": ("both", read_switch), "octaves": ("both", read_switch), "drone": ("section", read_drone),
    "like": ("section", read_text), "tacet": ("section", read_mark_only), "pickup": ("section", read_pickup),
    "cue": ("section", read_text), "sing": ("section", None),
    "octave": ("section", None), "hook": ("section", None), "tune": ("section", None),
}  # fmt: skip
READERS = {word: read for word, (_, read) in LINE_WORDS.items() if read is not None}
SONG_WORDS, SHARED_WORDS, SECTION_WORDS = (
    tuple(word for word, (where, _) in LINE_WORDS.items() if where == place) for place in ("song", "both", "section")
)
NOTE_ROWS = ("octave", "hook", "tune")
WORDS = frozenset(("section", *LINE_WORDS))

_FIRST_WORD = re.compile(r"([^\W\d_]+)(?=[\s|:=]|$)")
_INDENTED = 20  # characters in which a remark's sign is looked for


class SectionLines:
    """A section's name with its place, and its lines. Filled while the file is read."""

    def __init__(self, name: str, span: Span) -> None:
        self.name, self.span = name, span
        self.lines: list[SongLine] = []


class FileLines:
    """The lines before the first section, and the sections. Filled while the file is read."""

    def __init__(self) -> None:
        self.header: list[SongLine] = []
        self.sections: list[SectionLines] = []
        self.titled = False  # a line that is likely the title was told


def split_lines(source: Source, problems: Problems) -> FileLines:
    """Sort a file's lines into the header and the sections."""
    found = FileLines()

    start = 0
    heading: Span | None = None  # of a remark just above that looks like a section's name
    for text in source.text.split("\n"):
        line = _read_line(text, start, found, problems) if text and not text.isspace() else None
        if line is None:
            heading = _heading(text, start) or heading
        start += len(text) + 1
        if line is None:
            continue
        if heading is not None and line.word == ROW:
            name = source[heading].lstrip("# \t").rstrip(": \t")
            message = f"expected `section` before the name of a section, found the remark {shown(source[heading])}"
            hint = f"write `section {name}` if a section starts here; a line that begins with `#` is only a remark"
            problems.warning("section-in-remark", message, heading, hint)
        heading = None
        if line.word != "section":
            (found.sections[-1].lines if found.sections else found.header).append(line)
            continue
        if len(found.sections) == MOST_SECTIONS:
            problems.error("too-many-sections", f"expected {MOST_SECTIONS} sections at most", line.span)
            break
        found.sections.append(SectionLines(line.text, line.span))
    return found


_HEADING = r"\s*(#+[ \t]*([^\W\d_-]+)(?:[ \t]*[0-9]{1,2})?[ \t]*:?)\s*"  # a text, compiled when first used


def _heading(text: str, start: int) -> Span | None:
    """Return whether a remark is no more than what sections are called."""
    match = re.fullmatch(_HEADING, text) if "#" in text[:_INDENTED] else None
    if match is None or match[2].casefold() not in load("arranger.habits.unknown_lines").SECTION_NAMES:
        return None
    return Span(start + match.start(1), start + match.end(1))


def _read_line(text: str, start: int, found: FileLines, problems: Problems) -> SongLine | None:
    """Return what a line is; None for a remark and for what cannot be read.

    Args:
        text: the line, not empty and not of blanks alone.
        start: where it starts in the file.
        found: the lines above.
        problems: takes what is wrong.
    """
    body = text.strip()
    if text[0] != body[0]:
        start += len(text) - len(text.lstrip())
    first = body[0]
    if first == "#":
        return None
    whole = Span(start, start + len(body))
    if len(text) > LONGEST_LINE:
        message = f"expected {LONGEST_LINE} characters at most in a line, found {len(text)}"
        problems.error("line-too-long", message, Span(start, start + 1), "set the rest on a line of its own")
        return None
    if first == "|" or (not first.isalpha() and with_own_signs(body[:2]).startswith(("|", ":|"))):
        return SongLine(ROW, body, whole)
    match = _FIRST_WORD.match(body)
    word = match[1].casefold() if match else ""
    if match is None or word not in WORDS:
        return _unknown(body, whole, found, problems)
    rest = body[match.end() :]
    value = rest.lstrip()
    if value[:1] in (":", "="):
        sign, at = value[0], whole.end - len(value)
        value = value[1:].lstrip()
        message = f"expected a space after {shown(word)}, found {shown(sign)}"
        hint = f"write `{word} {' '.join(value.split())[:40]}`".rstrip()
        fix = Fix(Span(whole.start + match.end(), whole.end - len(value)), " " if value else "")
        problems.error("colon-after-word", message, Span(at, at + 1), hint, fix=fix)
    return SongLine(word, value, Span(whole.end - len(value), whole.end))


def _unknown(body: str, span: Span, found: FileLines, problems: Problems) -> SongLine | None:
    """Report a line that no known word begins; return what it is taken for."""
    lines = found.sections[-1].lines if found.sections else found.header
    above = lines[-1].word if lines else ""
    habits = load("arranger.habits.unknown_lines")
    notation = habits.Notation(is_chord, is_mark, WORDS)
    above = ROW if above == BROKEN_ROW else above
    taken = habits.unknown_line(body, span, bool(found.sections), above, notation, problems)
    if taken is None or taken.word == "song":
        found.titled = found.titled or taken is not None
        return None
    return SongLine(BROKEN_ROW if taken.word == ROW else taken.word, taken.text, taken.span)
