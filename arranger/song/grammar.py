"""The two grammars at work: their parsers, facts, and what a chord means. Takes a text; gives its parts with places.

The parsers are built when first used, or taken from the user's cache folder. A text that does not parse gives a
`Failure` with the place where it stops making sense. What spellings of chords mean is the table at the end: the grammar
tells the words apart (`m`, `min`, `-` are all `m`), and each pair of a kind and a number leads to a row of
`theory.qualities`, with what has to be changed in it.
"""

import io
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from functools import cache, lru_cache
from typing import Any, Literal, NamedTuple

from lark import Lark, Token, Tree
from lark import __version__ as lark_release
from lark.exceptions import UnexpectedInput, UnexpectedToken

from arranger.resources import grammar_text, keep, kept
from arranger.theory.chord import Change
from arranger.theory.interval import Interval
from arranger.theory.qualities import BY_NAME, Quality

Fact = Literal["key", "meter", "tempo", "feel", "dynamic", "sound", "texture", "drone", "switch", "capo"]
REMEMBERED = 1024  # texts a process keeps parsed: several songs' worth, so that memory stays flat over a library
STARTS = {
    "song.lark": (
        "chords", "sing", "notes", "key", "meter", "tempo", "feel", "dynamic", "sound", "texture", "drone", "switch",
        "capo", "roadmap", "chord",
    ),
    "chord.lark": ("chord",),
    "set.lark": ("then",),
}  # fmt: skip


@cache
def parser(grammar: str) -> Lark:
    """Return the parser of a grammar, as it was kept by this lark for this grammar, or built anew."""
    text = grammar_text(grammar)
    made_of = "\n".join((text, lark_release, *STARTS[grammar])).encode()
    data = kept(grammar, made_of)
    if data is not None:
        with suppress(Exception):  # whatever it holds: it can be built anew
            return Lark.load(io.BytesIO(data))
    built = Lark(text, parser="lalr", start=list(STARTS[grammar]))
    built.save(made := io.BytesIO())
    keep(grammar, made_of, made.getvalue())
    return built


def parse_row(start: Literal["chords", "sing", "notes"], text: str) -> Iterator[Token | Tree[Token]]:
    """Parse a row: none fails, since what is no mark is there as one that is not understood."""
    return iter(parser("song.lark").parse(text, start=start).children)


class Failure(NamedTuple):
    """A text that does not parse: the place where it stops making sense, and what stands there (empty at the end)."""

    at: int
    found: str


_WORD = re.compile(r"\S+")


def parse(grammar: str, start: str, text: str) -> Tree[Token] | Failure:
    """Parse a text by a rule of a grammar."""
    try:
        return parser(grammar).parse(text, start=start)
    except UnexpectedInput as problem:
        at = problem.pos_in_stream
        if at is None or (isinstance(problem, UnexpectedToken) and problem.token.type == "$END"):
            return Failure(len(text), "")
        found = _WORD.match(text, at)
        return Failure(at, found[0] if found else "")


class Lexeme(NamedTuple):
    """A token: its kind, its text and where it starts in the line."""

    kind: str
    text: str
    start: int

    @property
    def end(self) -> int:
        """Where it ends in the line."""
        return self.start + len(self.text)


def lexemes(children: Iterable[Any]) -> tuple[Lexeme, ...]:
    """Return the tokens among the children of a rule."""
    return tuple([Lexeme(one.type, str(one), one.start_pos or 0) for one in children if isinstance(one, Token)])


@lru_cache(maxsize=REMEMBERED)
def parse_fact(start: Fact, text: str) -> tuple[Lexeme, ...] | Failure:
    """Parse what follows the word of a fact (look-alikes replaced before)."""
    tree = parse("song.lark", start, text)
    return tree if isinstance(tree, Failure) else lexemes(tree.children)


def parse_roadmap(text: str) -> tuple[tuple[Lexeme, ...], ...] | Failure:
    """Parse the steps of a roadmap (look-alikes replaced before)."""
    tree = parse("song.lark", "roadmap", text)
    return (
        tree
        if isinstance(tree, Failure)
        else tuple([lexemes(step.children) for step in tree.children if isinstance(step, Tree)])
    )


class SpelledChord(NamedTuple):
    """A chord taken apart; see `quality` for `kind`, `number`, `suspension` and `changes`."""

    root: str
    kind: str
    number: str
    suspension: str
    changes: "Changes"
    bass: str | None


@lru_cache(maxsize=REMEMBERED)
def parse_chord(text: str) -> SpelledChord | Failure:
    """Parse a chord (look-alikes replaced before)."""
    tree = parse("chord.lark", "chord", text)
    if isinstance(tree, Failure):
        return tree
    words = _Words()
    try:
        for child in tree.children[1:]:
            words.take(child)
    except _NoChord as problem:
        at = problem.token.start_pos or 0
        return Failure(at, text[at:])
    return SpelledChord(
        str(tree.children[0]), words.kind, words.number, words.suspension, tuple(words.changes), words.bass
    )


class _NoChord(Exception):  # noqa: N818 - it never leaves this module
    """The words are a chord's, but not in this order."""

    def __init__(self, token: Token) -> None:
        self.token = token


_KINDS = {"MAJOR": "maj", "DELTA": "delta", "MINOR": "m", "HALF_DIM": "half", "DIM": "dim", "AUG": "aug"}
_SIGNED = {"+": "#", "-": "b"}  # +5 is #5, -5 is b5


class _Words:
    """Takes the words of a chord after its root, one by one. Mutable; lives while its chord is parsed."""

    def __init__(self) -> None:
        self.kind = self.number = self.suspension = ""
        self.changes: list[Change] = []
        self.bass: str | None = None

    def take(self, word: Token | Tree[Token]) -> None:
        """Take one word: a token, or a rule of several."""
        if isinstance(word, Token):
            self._take(word)
            return
        tokens = [token for token in word.children if isinstance(token, Token)]
        if word.data == "suspended":
            self._suspend(tokens)
        elif word.data == "tension":
            self._tension(tokens[0])
        else:  # a major seventh in parentheses
            if self.number or self.kind not in ("", "m", "aug"):
                raise _NoChord(tokens[0])
            self.kind = {"": "maj", "m": "mMaj", "aug": "augMaj"}[self.kind]
            self.number = _number(tokens[1])

    def _take(self, token: Token) -> None:
        kind, text = token.type, str(token).lower()
        if kind in _KINDS:
            self.kind = _KINDS[kind]
        elif kind == "MINOR_MAJOR":
            self.kind = "mdelta" if text.endswith("δ") else "mMaj"
        elif kind == "AUG_MAJOR":
            self.kind = "augMaj"
        elif kind == "NUMBER":
            self.number = _number(token)
        elif kind == "ALTERED":
            self.number = "alt"
        elif kind == "TAIL":
            self.changes.append(change(_SIGNED[text] + "5"))
            self.number = "" if self.number == "5" else self.number  # C5+: its fifth is the raised one
        elif kind == "ALTER":
            self.changes.append(change(_SIGNED.get(text[0], text[0]) + text[1:]))
        elif kind == "ADD":
            self.changes.append(change(text))
        elif kind == "NO":
            self.changes.append(change("no" + text[-1]))
        elif kind == "BASS":
            self.bass = str(token)[1:]
        else:  # AMBIGUOUS
            raise _NoChord(token)

    def _suspend(self, tokens: list[Token]) -> None:
        """Take `sus`, `sus4`, or `sus` with a number after it (`sus7` for `7sus`)."""
        if self.suspension:
            raise _NoChord(tokens[0])
        self.suspension = "sus2" if tokens[0].endswith("2") else "sus4"
        if len(tokens) > 1:
            if self.number:
                raise _NoChord(tokens[1])
            self.number = _number(tokens[1])

    def _tension(self, token: Token) -> None:
        """Take a number in parentheses: `C7(13)`, `C(9)` add a note; `C(7)` is C7 and `C(5)` the bare fifth."""
        text = str(token)
        if text in ("5", "7", "6/9", "69"):
            if self.number:
                raise _NoChord(token)
            self.number = _number(token)
        else:
            self.changes.append(change(f"add{text}"))


def _number(token: Token) -> str:
    return "6/9" if token == "69" else str(token)


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
