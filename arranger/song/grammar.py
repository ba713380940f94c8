"""The two grammars at work. Takes the text of a line or of a chord; gives plain values with places in that text.

Nothing here knows where in a file its text stands, so that equal texts are parsed once a process. The parsers are built
when first used. A text that does not parse gives a `Failure` with the place where it stops making sense. What spellings
of chords mean is the table at the end: the grammar tells the words apart (`m`, `min`, `-` are all `m`), and each pair
of a kind and a number leads to a row of `theory.qualities`, with what has to be changed in it.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Any, Literal, NamedTuple
from zlib import crc32

from lark import Lark, Token, Transformer
from lark import __version__ as lark_release
from lark.exceptions import UnexpectedInput, UnexpectedToken

from arranger.resources import grammar_text
from arranger.song.tables import TABLES
from arranger.theory.chord import Change
from arranger.theory.interval import Interval
from arranger.theory.qualities import BY_NAME, Quality

Start = Literal[
    "chords", "notes", "sing", "key", "meter", "tempo", "feel", "dynamic", "sound", "switch", "capo", "roadmap"
]

REMEMBERED = 1024  # texts a process keeps parsed: several songs' worth, so that memory stays flat over a library


class Lexeme(NamedTuple):
    """A token: its kind, its text and where it starts in the line."""

    kind: str
    text: str
    start: int

    @property
    def end(self) -> int:
        """Where it ends in the line."""
        return self.start + len(self.text)


class Failure(NamedTuple):
    """A text that does not parse: the place where it stops making sense, and what stands there (empty at the end)."""

    at: int
    found: str


class SpelledChord(NamedTuple):
    """A chord mark taken apart; see `spelling.quality` for `kind`, `number`, `suspension` and `changes`."""

    push: bool
    optional: bool
    root: str
    kind: str
    number: str
    suspension: str
    changes: Changes
    bass: str | None
    pins: str | None


def _pieces(children: list[Any]) -> tuple[Lexeme, ...]:
    return tuple(Lexeme(t.type, str(t), t.start_pos) for t in children)


_ROW_TERMINALS = {"chords": ("BARLINE", "CELL"), "notes": ("BAR", "NOTES"), "sing": ("BAR", "WORDS")}


@cache
def _splitter(bar: str, between: str) -> re.Pattern[str]:
    """Make the pattern that tells a row's barlines from what stands between them, of the grammar's own terminals."""
    patterns = [_song_parser().get_terminal(name).pattern.to_regexp() for name in (bar, between)]
    return re.compile(f"({patterns[0]})|(?:{patterns[1]})")


def _row(bar: str, between: str, text: str) -> tuple[Lexeme, ...]:
    found = _splitter(bar, between).finditer(text)
    return tuple([Lexeme(bar if m[1] is not None else between, m[0], m.start()) for m in found])


class _Lines(Transformer[Token, Any]):
    """Turns each rule of song.lark into the tuple of its tokens; a roadmap into a tuple of steps."""

    key = meter = tempo = feel = dynamic = sound = switch = capo = step = staticmethod(_pieces)

    @staticmethod
    def roadmap(children: list[Any]) -> tuple[tuple[Lexeme, ...], ...]:
        return tuple(children)


_KINDS = {"MAJOR": "maj", "DELTA": "delta", "MINOR": "m", "HALF_DIM": "half", "DIM": "dim", "AUG": "aug"}
_SIGNED = {"+": "#", "-": "b"}  # +5 is #5, -5 is b5


class _NoChord(Exception):  # noqa: N818 - it never leaves this module
    """The words are a chord's, but not in this order."""

    def __init__(self, token: Token) -> None:
        self.token = token


class _Chords(Transformer[Token, Any]):
    """Turns chord.lark's tree into a `SpelledChord`."""

    @staticmethod
    def suspended(children: list[Token]) -> tuple[Token, ...]:
        return tuple(children)

    @staticmethod
    def tension(children: list[Token]) -> Token:
        return Token.new_borrow_pos("TENSION", children[0], children[0])

    @staticmethod
    def major_seventh(children: list[Token]) -> Token:
        return Token.new_borrow_pos("MAJOR_SEVENTH", str(children[1]), children[0])

    @staticmethod
    def optional(children: list[Any]) -> tuple[dict[str, Any]]:
        return (children[0],)

    @staticmethod
    def chord(children: list[Any]) -> dict[str, Any]:
        found: dict[str, Any] = {"kind": "", "number": "", "suspension": "", "bass": None, "changes": []}
        found["root"] = str(children[0])
        for child in children[1:]:
            if isinstance(child, tuple):
                _suspend(found, child)
            else:
                _take(found, child)
        return found

    @staticmethod
    def start(children: list[Any]) -> SpelledChord:
        push, pins, optional = False, None, False
        body: dict[str, Any] = {}
        for child in children:
            if isinstance(child, Token):
                if child.type == "PUSH":
                    push = True
                else:
                    pins = str(child)[1:]
            elif isinstance(child, tuple):
                optional, body = True, child[0]
            else:
                body = child
        return SpelledChord(push=push, optional=optional, pins=pins, **body | {"changes": tuple(body["changes"])})


def _suspend(found: dict[str, Any], tokens: tuple[Token, ...]) -> None:
    """Take `sus`, `sus4`, or `sus` with a number after it (`sus7` for `7sus`)."""
    if found["suspension"]:
        raise _NoChord(tokens[0])
    found["suspension"] = "sus2" if tokens[0].endswith("2") else "sus4"
    if len(tokens) > 1:
        if found["number"]:
            raise _NoChord(tokens[1])
        found["number"] = _number(tokens[1])


def _take(found: dict[str, Any], token: Token) -> None:
    """Take one word of a chord."""
    kind, text = token.type, str(token).lower()
    if kind in _KINDS:
        found["kind"] = _KINDS[kind]
    elif kind == "MINOR_MAJOR":
        found["kind"] = "mdelta" if text.endswith("δ") else "mMaj"
    elif kind == "AUG_MAJOR":
        found["kind"] = "augMaj"
    elif kind == "NUMBER":
        found["number"] = _number(token)
    elif kind == "ALTERED":
        found["number"] = "alt"
    elif kind == "TAIL":
        found["changes"].append(change(_SIGNED[text] + "5"))
        found["number"] = "" if found["number"] == "5" else found["number"]  # C5+: its fifth is the raised one
    elif kind == "ALTER":
        found["changes"].append(change(_SIGNED.get(text[0], text[0]) + text[1:]))
    elif kind == "ADD":
        found["changes"].append(change(text))
    elif kind == "NO":
        found["changes"].append(change("no" + text[-1]))
    elif kind == "TENSION":
        _take_tension(found, token)
    elif kind == "MAJOR_SEVENTH":
        if found["number"] or found["kind"] not in ("", "m", "aug"):
            raise _NoChord(token)
        found["kind"] = {"": "maj", "m": "mMaj", "aug": "augMaj"}[found["kind"]]
        found["number"] = _number(token)
    elif kind == "BASS":
        found["bass"] = str(token)[1:]
    else:  # AMBIGUOUS
        raise _NoChord(token)


def _take_tension(found: dict[str, Any], token: Token) -> None:
    """Take a number in parentheses: `C7(13)`, `C(9)` add a note; `C(7)` is C7 and `C(5)` the bare fifth."""
    text = str(token)
    if text in ("5", "7", "6/9", "69"):
        if found["number"]:
            raise _NoChord(token)
        found["number"] = _number(token)
    else:
        found["changes"].append(change(f"add{text}"))


def _number(token: Token) -> str:
    return "6/9" if token == "69" else str(token)


STARTS = {
    "song.lark": (
        "chords", "notes", "sing", "key", "meter", "tempo", "feel", "dynamic", "sound", "switch", "capo", "roadmap",
        "parts",
    ),
    "chord.lark": ("start",),
}  # fmt: skip


def identity(grammar: str) -> tuple[tuple[str, int], str]:
    """Return what a parser of a grammar is made of, lark's release and a sum over the grammar; and the grammar."""
    text = grammar_text(grammar)
    return (lark_release, crc32(text.encode())), text


def _parser(grammar: str, transformer: Transformer[Token, Any]) -> Lark:
    """Make a parser: from its finished tables where they are of this lark and this grammar, else from the grammar."""
    made_of, text = identity(grammar)
    known, data, memo = TABLES[grammar]
    if known == made_of:
        # The door that lark's stand-alone parsers come in by; `Lark.load` takes no transformer.
        loaded: Lark = Lark._load_from_dict(data, memo, transformer=transformer)  # type: ignore[no-untyped-call]
        return loaded
    return Lark(text, parser="lalr", start=list(STARTS[grammar]), transformer=transformer)


@cache
def _song_parser() -> Lark:
    return _parser("song.lark", _Lines())


@cache
def _chord_parser() -> Lark:
    return _parser("chord.lark", _Chords())


@lru_cache(maxsize=REMEMBERED)
def parse_line(start: Start, text: str) -> Any:
    """Parse what follows the first word of a line.

    Gives a tuple of `Lexeme`s (of tuples of them for a roadmap), or a `Failure`.
    """
    row = _ROW_TERMINALS.get(start)
    if row is not None:  # a rule of one terminal, whatever stands in it: there is nothing for the parser to do
        return _row(*row, text)
    try:
        return _song_parser().parse(text, start=start)
    except UnexpectedInput as problem:
        return _failure(problem, text)


@cache
def _ends() -> re.Pattern[str]:
    """Make the pattern that takes the ends off a chord: push, root, bass and pins are one terminal each."""
    push, root, bass, pins = (
        _chord_parser().get_terminal(name).pattern.to_regexp() for name in ("PUSH", "ROOT", "BASS", "PINS")
    )
    return re.compile(f"({push})?({root})([^=\\s]*?)({bass})?({pins})?")


def parse_chord(text: str) -> SpelledChord | Failure:
    """Parse a chord mark (look-alikes replaced before).

    What stands between root and bass is parsed once for all roots and basses; what is not found to be a chord in that
    way is parsed whole, so that the grammar alone says what is one and where it stops being one.
    """
    ends = _ends().fullmatch(text)
    if ends is not None:
        push, root, middle, bass, pins = ends.groups()
        spelled = parse_whole_chord("C##" + middle)  # a root that takes no accidental of the middle for its own
        if isinstance(spelled, SpelledChord) and spelled.bass is None:
            return SpelledChord(
                push=push is not None,
                optional=False,
                root=root,
                kind=spelled.kind,
                number=spelled.number,
                suspension=spelled.suspension,
                changes=spelled.changes,
                bass=bass and bass[1:],
                pins=pins and pins[1:],
            )
    return parse_whole_chord(text)


@lru_cache(maxsize=REMEMBERED)
def parse_whole_chord(text: str) -> SpelledChord | Failure:
    """Parse a chord mark by the grammar."""
    try:
        result: Any = _chord_parser().parse(text)
    except UnexpectedInput as problem:
        return _failure(problem, text)
    except _NoChord as problem:
        at = problem.token.start_pos or 0
        return Failure(at, text[at:])
    assert isinstance(result, SpelledChord)
    return result


_WORD = re.compile(r"\S+")


def _failure(problem: UnexpectedInput, text: str) -> Failure:
    at = problem.pos_in_stream
    if at is None or (isinstance(problem, UnexpectedToken) and problem.token.type == "$END"):
        return Failure(len(text), "")
    found = _WORD.match(text, at)
    return Failure(at, found[0] if found else "")


Changes = tuple[Change, ...]


def change(text: str) -> Change:
    """Make a change from its printed form: `#11` (alter), `add9`, `no3`.

    >>> str(change("add9")), str(change("b5"))
    ('add9', 'b5')
    """
    if text.startswith("add"):
        return Change("add", Interval.parse(text[3:]))
    if text.startswith("no"):
        return Change("no", Interval.parse(text[2:]))
    return Change("alter", Interval.parse(text))


# Kind and number as written -> the row and what is changed in it. `delta` is the triangle: alone it is the major
# seventh, as in lead sheets. `half` is the struck circle: always with its minor seventh.
_SPELLINGS: dict[tuple[str, str], str] = {
    ("", ""): "", ("", "2"): "2", ("", "4"): "sus4", ("", "5"): "5", ("", "6"): "6", ("", "6/9"): "6/9", ("", "7"): "7",
    ("", "9"): "9", ("", "11"): "11", ("", "13"): "13", ("", "alt"): "7alt", ("m", ""): "m", ("m", "6"): "m6",
    ("m", "6/9"): "m6/9", ("m", "7"): "m7", ("m", "9"): "m9", ("m", "11"): "m11", ("m", "13"): "m13", ("maj", ""): "",
    ("maj", "6"): "6", ("maj", "6/9"): "6/9", ("maj", "7"): "maj7", ("maj", "9"): "maj9", ("maj", "11"): "maj11",
    ("maj", "13"): "maj13", ("delta", ""): "maj7", ("delta", "7"): "maj7", ("delta", "9"): "maj9",
    ("delta", "11"): "maj11", ("delta", "13"): "maj13", ("mMaj", "7"): "mMaj7", ("mMaj", "9"): "mMaj9",
    ("mdelta", ""): "mMaj7", ("mdelta", "7"): "mMaj7", ("mdelta", "9"): "mMaj9", ("dim", ""): "dim",
    ("dim", "7"): "dim7", ("half", ""): "m7b5", ("half", "7"): "m7b5", ("half", "9"): "m9 b5", ("half", "11"): "m11 b5",
    ("aug", ""): "aug", ("aug", "7"): "7#5", ("aug", "9"): "9 #5", ("augMaj", "7"): "maj7 #5",
    ("augMaj", "9"): "maj9 #5",
}  # fmt: skip

# The row without its suspension -> what it is with one. An eleventh without its third is just the ninth's.
_SUSPENDED: dict[tuple[str, str], str] = {
    ("", "sus2"): "sus2", ("", "sus4"): "sus4", ("6", "sus4"): "6sus4", ("7", "sus2"): "7sus2", ("7", "sus4"): "7sus4",
    ("9", "sus4"): "9sus4", ("11", "sus4"): "9sus4", ("13", "sus4"): "13sus4", ("maj7", "sus4"): "maj7sus4",
    ("maj9", "sus4"): "maj7sus4 add9",
}  # fmt: skip

# A row and one change that together are a row of their own; `add2` is `add9`: the same notes.
_FUSED: dict[tuple[str, str], str] = {
    ("", "#5"): "aug", ("", "add9"): "add9", ("", "add2"): "add9", ("", "add6"): "6", ("m", "b5"): "dim",
    ("m", "add9"): "madd9", ("m", "add2"): "madd9", ("m", "add6"): "m6", ("m7", "b5"): "m7b5", ("7", "#5"): "7#5",
    ("6", "add9"): "6/9", ("m6", "add9"): "m6/9",
}  # fmt: skip


def quality(kind: str, number: str, suspension: str, changes: Changes) -> tuple[Quality, Changes] | None:
    """Return the row that a spelling means, and the changes to it that remain; None where there is no such chord.

    Args:
        kind: `""`, `m`, `maj`, `delta`, `mMaj`, `mdelta`, `dim`, `half`, `aug`, `augMaj`.
        number: `""`, a figure, `6/9`, or `alt`.
        suspension: `""`, `sus2` or `sus4`.
        changes: in the order written.
    """
    entry = _SPELLINGS.get((kind, number))
    if entry is not None and suspension:
        entry = _SUSPENDED.get((entry, suspension))
    if entry is None:
        return None
    name, *implied = entry.split(" ")
    rest = [*map(change, implied), *changes]
    for one in tuple(rest):
        fused = _FUSED.get((name, str(one)))
        if fused is not None:
            name = fused
            rest.remove(one)
    return BY_NAME[name], tuple(dict.fromkeys(rest))
