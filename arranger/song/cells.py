"""What rows of chords hold. Takes the text of a row; gives its barlines and the marks between them, with their places.

A row is understood without what stands round it: no meter, no place in the file. Equal rows are parsed once a process.
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Literal, NamedTuple

from lark import Token, Tree

from arranger.song.grammar import REMEMBERED, Failure, parse, parse_chord, parse_row, quality
from arranger.song.model import Pin
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName, Pitch

MANNERS = ("hold", "stop", "accent", "roll")
FINGERS = 5  # of a right hand: more notes than that cannot be pinned

MeterWord = tuple[int, int, int, int]


class ChordWord(NamedTuple):
    """A chord mark understood: what `WrittenChord` has that does not depend on its place; `push` without a length."""

    chord: Chord
    written: str
    push: bool
    optional: bool
    as_written: bool
    pins: tuple[Pin, ...]


class BadMark(NamedTuple):
    """A mark that is not understood.

    `trouble` is the code of the diagnostic, `at` the place in the mark where it stops making sense.
    """

    trouble: str
    text: str
    at: int


class CellMark(NamedTuple):
    """One mark with its place in the line. `manner` are the words of manner after it."""

    kind: Literal["chord", "none", "rest", "slash", "bad"]
    start: int
    end: int
    word: ChordWord | None = None
    manner: tuple[str, ...] = ()


class Places(NamedTuple):
    """Where words can stand in a bar: how many chords (or N.C.) it has, and whether one stands at its start."""

    chords: int
    begins: bool


class Barline(NamedTuple):
    """A barline with its signs, and its place in the line. `times` is -1 where no number is written."""

    start: int
    end: int
    closes: bool
    opens: bool
    strokes: int
    times: int
    ending: tuple[int, ...]

    @property
    def double(self) -> bool:
        """Whether it has two strokes."""
        return self.strokes == 2


class Cell(NamedTuple):
    """What stands between two barlines of a row of chords; all places are in the line.

    Attributes:
        marks: the marks that share the bar.
        places: where words can stand.
        pieces: the places of all that stands in it, as it is set apart by blanks.
        repeats: `%` stands in it.
        meter: the meter written in it: two numbers, and where they start and end.
        short: the length of a short bar written in it, likewise.
        bad: what is not understood, with its place.
    """

    marks: tuple[CellMark, ...]
    places: Places
    pieces: tuple[tuple[int, int], ...]
    repeats: bool
    meter: MeterWord | None
    short: MeterWord | None
    bad: tuple[tuple[int, BadMark], ...]


@lru_cache(maxsize=REMEMBERED)
def chord_row(text: str) -> tuple[Barline | Cell, ...]:
    """Take a row of chords apart (look-alikes replaced before)."""
    parts: list[Barline | Cell] = []
    for part in parse_row("chords", text):
        assert isinstance(part, Tree)
        if part.data == "barline":
            parts.append(_barline(part.children))
        elif part.children:  # not blanks of another kind alone
            parts.append(_cell(part.children))
    return tuple(parts)


def _barline(tokens: Sequence[Any]) -> Barline:
    sign = tokens[0]
    times = -1
    ending: tuple[int, ...] = ()
    for token in tokens[1:]:
        if token.type == "TIMES":
            times = int(token[1:].strip()[:4])
        elif token.type == "ENDING":
            ending = tuple(map(int, re.split("[.,]", token[:-1])))
    return Barline(sign.start_pos, tokens[-1].end_pos, sign[0] == ":", sign[-1] == ":", sign.count("|"), times, ending)


_PLAIN_MARKS: dict[str, Literal["none", "rest", "slash"]] = {"NO_CHORD": "none", "REST": "rest", "SLASH": "slash"}


def _cell(children: Sequence[Any]) -> Cell:
    """Understand what stands between two barlines."""
    marks: list[CellMark] = []
    bad: list[tuple[int, BadMark]] = []
    last: list[tuple[int, BadMark]] = []  # told after the others
    pieces: list[tuple[int, int]] = []
    meters: dict[str, MeterWord] = {}
    repeats: Token | None = None
    for child in children:
        alone = isinstance(child, Token)
        kind, tokens = (child.type, [child]) if alone else (child.data, child.children)
        first, start, end = tokens[0], tokens[0].start_pos, tokens[-1].end_pos
        pieces.append((start, end))
        if kind == "chord":
            word = _chord_mark(tokens)
            if isinstance(word, ChordWord):
                marks.append(CellMark("chord", start, end, word))
                continue
            bad.append((start, word))
            marks.append(CellMark("bad", start, end))
        elif kind in _PLAIN_MARKS:
            marks.append(CellMark(_PLAIN_MARKS[kind], start, end))
        elif kind == "MANNER":
            if marks and marks[-1].kind in ("chord", "bad"):
                marks[-1] = marks[-1]._replace(manner=(*marks[-1].manner, first.lower()))
            else:
                bad.append((start, BadMark("manner-without-chord", str(first), 0)))
        elif kind == "SAME_BAR":
            repeats = first
        elif kind in ("METER", "short"):
            pieces[-1:] = [(token.start_pos, token.end_pos) for token in tokens]
            trouble = _take_meter(tokens[-1], kind, bool(marks) or repeats is not None, meters)
            if trouble:
                bad.append((tokens[-1].start_pos, BadMark(trouble, str(tokens[-1]), 0)))
        elif "".join(tokens).lower() == "short":  # nothing comes after it
            last.append((start, BadMark("bad-short", "short", 0)))
        else:
            text = "".join(tokens)
            bad.append((start, BadMark("bad-chord", text, _sense(text))))
            marks.append(CellMark("bad", start, end))
    if repeats is not None and marks:
        last.append((repeats.start_pos or 0, BadMark("repeat-not-alone", "%", 0)))
    sounding = [mark.kind in ("chord", "none", "bad") for mark in marks]
    return Cell(
        marks=tuple(marks),
        places=Places(sum(sounding), bool(sounding) and sounding[0]),
        pieces=tuple(pieces),
        repeats=repeats is not None and not marks,
        meter=meters.get("METER"),
        short=meters.get("short"),
        bad=(*bad, *last),
    )


def _take_meter(token: Token, slot: str, late: bool, meters: dict[str, MeterWord]) -> str:
    """Note a meter or a short bar's length; return the code of what is wrong with it, if anything is."""
    if token.type != "METER":
        return "bad-short"
    if late or slot in meters:
        return "meter-not-first"
    beats, _, unit = token.partition("/")
    meters[slot] = (int(beats), int(unit), token.start_pos or 0, token.end_pos or 0)
    return ""


def _chord_mark(tokens: Sequence[Any]) -> ChordWord | BadMark:
    """Understand a chord with the signs round it."""
    push = tokens[0].type == "PUSH"
    chord = tokens[int(push)]
    pins = str(tokens[-1]) if tokens[-1].type == "PINS" else ""
    return _understood(push, chord.type == "OPTIONAL", str(chord), pins)


_PIN = re.compile(r"([A-G](?:##?|bb?)?)([0-9]?)")


@lru_cache(maxsize=REMEMBERED)
def _understood(push: bool, optional: bool, chord: str, pinned: str) -> ChordWord | BadMark:
    text = ("<" if push else "") + chord + pinned
    body = chord[1:-1].strip() if optional else chord
    spelled = parse_chord(body)
    if isinstance(spelled, Failure):
        return BadMark("bad-chord", text, text.index(body) + spelled.at)
    meant = quality(spelled.kind, spelled.number, spelled.suspension, spelled.changes)
    if meant is None:
        return BadMark("bad-chord", text, text.index(body) + len(spelled.root))
    pins = tuple(Pin(NoteName.parse(n), int(o) if o else None) for n, o in _PIN.findall(pinned))
    if len(pins) > FINGERS:
        return BadMark("too-many-pins", text, text.index("=") + 1)
    if not _rising(pins):
        return BadMark("pins-not-rising", text, text.index("=") + 1)
    bass = NoteName.parse(spelled.bass) if spelled.bass else None
    return ChordWord(Chord(NoteName.parse(spelled.root), *meant, bass), body, push, optional, bool(pinned), pins)


def _rising(pins: tuple[Pin, ...]) -> bool:
    """Return whether pinned notes can be played lowest first; those without an octave take the next place up."""
    last: int | None = None
    for pin in pins:
        if pin.octave is not None:
            midi = Pitch(pin.name, pin.octave).midi
            if last is not None and midi <= last:
                return False
            last = midi
        elif last is not None:
            last += (pin.name.pitch_class - last - 1) % 12 + 1
    return True


_OPENING = re.compile(r"<?(\([ \t]*)?(?=[A-G])|<?\(?")
_PINS = re.compile(r"=(?:[A-G](?:##?|bb?)?[0-9]?)*")


def _sense(text: str) -> int:
    """Return the place in a mark that is none where it stops making sense: how far it begins as chords do."""
    opening = _OPENING.match(text)
    assert opening is not None
    start = opening.end()
    failure = parse_chord(text[start:])
    if not isinstance(failure, Failure):
        return len(text)
    at = start + failure.at
    begun = parse_chord(text[start:at])
    if isinstance(begun, Failure):  # nor is what stands before that place a chord
        return start + begun.at if text[at : at + 1] in (")", "=") else at
    if opening[1]:
        if text[at] != ")":
            return at
        at += 1
    pins = _PINS.match(text, at)
    return pins.end() if pins else at


def read_mark(text: str) -> ChordWord | BadMark:
    """Understand a chord mark (look-alikes replaced before)."""
    tree = parse("song.lark", "chord", text)
    if isinstance(tree, Failure):
        return BadMark("bad-chord", text, _sense(text))
    return _chord_mark([token for token in tree.children if isinstance(token, Token)])


def is_chord(text: str) -> bool:
    """Return whether a text is a chord mark."""
    return isinstance(read_mark(text), ChordWord)


_LONGEST = 24  # characters of a mark that is tried as a chord in an unknown line


def is_mark(text: str) -> bool:
    """Return whether a text is a mark of a chord row."""
    return text.lower() in ("/", "%", "rest", "n.c.", "nc", *MANNERS) or (len(text) <= _LONGEST and is_chord(text))
