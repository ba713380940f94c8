"""What stands between two barlines of a chord row. Takes the text of a cell; gives its marks with places in that text.

A cell is understood without its bar: no meter, no place in the file. Equal cells are parsed once a process.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal, NamedTuple

from arranger.song.grammar import REMEMBERED, Failure, parse_chord, quality
from arranger.song.model import Pin
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName, Pitch

MANNERS = ("hold", "stop", "accent", "roll")
FINGERS = 5  # of a right hand: more notes than that cannot be pinned

# A mark: no blanks but inside parentheses (one pair inside another at most). A lone parenthesis is taken as it is.
MARK = re.compile(r"(?:[^\s(]|\((?:[^()]|\([^()]*\))*\)|\()+")
_METER = re.compile(r"([0-9]{1,2})/([0-9]{1,2})")
_CHORD_STARTS = frozenset("ABCDEFG<(")
_NO_CHORD = frozenset(("n.c.", "nc", "n.c"))
_PIN = re.compile(r"([A-G](?:##?|bb?)?)([0-9]?)")


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
    """One mark with its place in the cell. `manner` are the words of manner after it with the place where they end."""

    kind: Literal["chord", "none", "rest", "slash", "bad"]
    start: int
    end: int
    word: ChordWord | None = None
    manner: tuple[str, ...] = ()


class Places(NamedTuple):
    """Where words can stand in a bar: how many chords (or N.C.) it has, and whether one stands at its start."""

    chords: int
    begins: bool


class Cell(NamedTuple):
    """A cell taken apart.

    Attributes:
        marks: the marks that share the bar.
        places: where words can stand.
        start: where its first mark starts in the cell.
        end: where its last one ends.
        repeats: `%` stands in it.
        meter: the meter written in it: two numbers, and where they start and end in the cell.
        short: the length of a short bar written in it, likewise.
        bad: what is not understood, with its place in the cell.
    """

    marks: tuple[CellMark, ...]
    places: Places
    start: int
    end: int
    repeats: bool
    meter: MeterWord | None
    short: MeterWord | None
    bad: tuple[tuple[int, BadMark], ...]


@lru_cache(maxsize=REMEMBERED)
def read_cell(text: str) -> Cell:
    """Take a cell apart (look-alikes replaced before)."""
    marks: list[CellMark] = []
    bad: list[tuple[int, BadMark]] = []
    meters: dict[str, MeterWord] = {}
    repeats = short_next = False
    for match in MARK.finditer(text):
        mark = match[0]
        start, end = match.span()
        understood = read_mark(mark) if mark[0] in _CHORD_STARTS and not short_next else None
        if isinstance(understood, ChordWord):
            marks.append(CellMark("chord", start, end, understood))
            continue
        word = mark.lower()
        if short_next or (mark[0].isdigit() and _METER.fullmatch(mark)):
            trouble = _take_meter(match, "short" if short_next else "meter", bool(marks) or repeats, meters)
            short_next = False
            if trouble:
                bad.append((start, BadMark(trouble, mark, 0)))
        elif mark == "/":
            marks.append(CellMark("slash", start, end))
        elif mark == "%":
            repeats, repeat_at = True, start
        elif word in MANNERS:
            if not _take_manner(marks, word):
                bad.append((start, BadMark("manner-without-chord", mark, 0)))
        elif word == "rest":
            marks.append(CellMark("rest", start, end))
        elif word in _NO_CHORD:
            marks.append(CellMark("none", start, end))
        elif word == "short":
            short_next = True
            short_at = start
        else:
            bad.append((start, understood if understood else BadMark("bad-chord", mark, 0)))
            marks.append(CellMark("bad", start, end))
    if short_next:
        bad.append((short_at, BadMark("bad-short", "short", 0)))
    if repeats and marks:
        bad.append((repeat_at, BadMark("repeat-not-alone", "%", 0)))
    sounding = [mark.kind in ("chord", "none", "bad") for mark in marks]
    return Cell(
        marks=tuple(marks),
        places=Places(sum(sounding), bool(sounding) and sounding[0]),
        start=len(text) - len(text.lstrip()),
        end=len(text.rstrip()),
        repeats=repeats and not marks,
        meter=meters.get("meter"),
        short=meters.get("short"),
        bad=tuple(bad),
    )


def _take_meter(mark: re.Match[str], slot: str, late: bool, meters: dict[str, MeterWord]) -> str:
    """Note a meter or a short bar's length; return the code of what is wrong with it, if anything is."""
    match = _METER.fullmatch(mark[0])
    if match is None:
        return "bad-short"
    if late or slot in meters:
        return "meter-not-first"
    meters[slot] = (int(match[1]), int(match[2]), mark.start(), mark.end())
    return ""


def _take_manner(marks: list[CellMark], word: str) -> bool:
    """Add a word of manner to the chord before it; return whether there is one."""
    if not marks or marks[-1].kind not in ("chord", "bad"):
        return False
    last = marks[-1]
    marks[-1] = CellMark(last.kind, last.start, last.end, last.word, (*last.manner, word))
    return True


@lru_cache(maxsize=REMEMBERED)
def read_mark(text: str) -> ChordWord | BadMark:
    """Understand a chord mark (look-alikes replaced before)."""
    spelled = parse_chord(text)
    if isinstance(spelled, Failure):
        return BadMark("bad-chord", text, spelled.at)
    body = text.removeprefix("<").partition("=")[0].strip()
    if spelled.optional:
        body = body[1:-1].strip()
    meant = quality(spelled.kind, spelled.number, spelled.suspension, spelled.changes)
    if meant is None:
        return BadMark("bad-chord", text, text.index(body) + len(spelled.root))
    pins = tuple(Pin(NoteName.parse(n), int(o) if o else None) for n, o in _PIN.findall(spelled.pins or ""))
    if len(pins) > FINGERS:
        return BadMark("too-many-pins", text, text.index("=") + 1)
    if not _rising(pins):
        return BadMark("pins-not-rising", text, text.index("=") + 1)
    bass = NoteName.parse(spelled.bass) if spelled.bass else None
    return ChordWord(
        Chord(NoteName.parse(spelled.root), *meant, bass),
        body,
        spelled.push,
        spelled.optional,
        spelled.pins is not None,
        pins,
    )


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


def is_chord(text: str) -> bool:
    """Return whether a text is a chord mark."""
    return isinstance(read_mark(text), ChordWord)


_LONGEST = 24  # characters of a mark that is tried as a chord in an unknown line


def is_mark(text: str) -> bool:
    """Return whether a text is a mark of a chord row."""
    return text.lower() in ("/", "%", "rest", "n.c.", "nc", *MANNERS) or (len(text) <= _LONGEST and is_chord(text))
