"""The two grammars at work. Takes the text of a line or of a chord; gives plain values with places in that text.

Nothing here knows where in a file its text stands, so that equal texts are parsed once a process. The parsers are built
when first used. A text that does not parse gives a `Failure` with the place where it stops making sense.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Literal, NamedTuple
from zlib import crc32

from lark import Lark, Token, Transformer
from lark import __version__ as lark_release
from lark.exceptions import UnexpectedInput, UnexpectedToken

from arranger.resources import grammar_text
from arranger.song.spelling import Changes, change
from arranger.song.tables import TABLES

Start = Literal[
    "chords", "notes", "sing", "key", "meter", "tempo", "feel", "dynamic", "sound", "switch", "capo", "roadmap"
]

REMEMBERED = 1024  # texts a process keeps parsed: several songs' worth, so that memory stays flat over a library


class Piece(NamedTuple):
    """A token: its kind, its text and where it starts in the line."""

    kind: str
    text: str
    start: int

    @property
    def end(self) -> int:
        """Where it ends in the line."""
        return self.start + len(self.text)


@dataclass(frozen=True, slots=True)
class Failure:
    """A text that does not parse: the place where it stops making sense, and what stands there (empty at the end)."""

    at: int
    found: str


@dataclass(frozen=True, slots=True)
class SpelledChord:
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


def _pieces(children: list[Any]) -> tuple[Piece, ...]:
    return tuple(Piece(t.type, str(t), t.start_pos) for t in children)


_ROWS = {"chords": ("BARLINE", "CELL"), "notes": ("BAR", "NOTES"), "sing": ("BAR", "WORDS")}


@cache
def _splitter(bar: str, between: str) -> re.Pattern[str]:
    """Make the pattern that tells a row's barlines from what stands between them, of the grammar's own terminals."""
    patterns = [_song_parser().get_terminal(name).pattern.to_regexp() for name in (bar, between)]
    return re.compile(f"({patterns[0]})|(?:{patterns[1]})")


def _row(bar: str, between: str, text: str) -> tuple[Piece, ...]:
    found = _splitter(bar, between).finditer(text)
    return tuple([Piece(bar if m[1] is not None else between, m[0], m.start()) for m in found])


class _Lines(Transformer[Token, Any]):
    """Turns each rule of song.lark into the tuple of its tokens; a roadmap into a tuple of steps."""

    key = meter = tempo = feel = dynamic = sound = switch = capo = step = staticmethod(_pieces)

    @staticmethod
    def roadmap(children: list[Any]) -> tuple[tuple[Piece, ...], ...]:
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

    Gives a tuple of `Piece`s (of tuples of them for a roadmap), or a `Failure`.
    """
    row = _ROWS.get(start)
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
