"""Read chords as sheets type them, and find the habits in which a sheet types them.

A chord is what the song's own grammar takes for one. What sheets write otherwise (German H, small letters, brackets) is
respelled before, by the habits that the sheet as a whole shows.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from arranger.convert.model import SheetLine
from arranger.habits.signs import ACCIDENTALS, from_german, sign_of, times_of, with_own_signs
from arranger.habits.slips import slip_of
from arranger.song.cells import ChordWord, is_chord, read_mark

LONGEST_CHORD = 24  # characters: `F#m7b5(add11)/E` has 15
# Chords that are words too: a line of these alone may be sung.
WORDY = frozenset(("A", "Am", "Do", "Go", "Co", "Ab", "Add", "Dim", "Bo"))

_NEVER_ADDED = ("(1)", "(2)", "(3)", "(8)")  # no chord has these degrees alone in parentheses; (2) is seldom added
SURE_BEHIND = 2  # chords behind a name with a colon from which on they are chords and no words
_AROUND = "[]{}*~.,;!'\"`´’‘”“…"
_TAIL = ("...", "..", "--", ">", "^")
_SMALL = re.compile(
    r"[a-h](?:is|es|s|#|b)?(?:m|mi|min)?(?:[2-9]|maj7|sus[24]?|dim|7sus4)?(?:/[A-Ha-h](?:#|b|is|es|s)?)?"
)
_BASS = re.compile(r"/([A-Ha-h])(is|es|s|#|b)?$")
_SHARED = re.compile(r"(.*?[^/])(/+)")
_MAJOR = re.compile(r"^([A-G][#b]?)m?j(?=7|9|11|13)")  # Cmj7, Cj7
_LOOSE_BASS = re.compile(r"/[A-H](?:#|b)?")
_JOINED = re.compile(r"[-–—>→,;~]+(?=[A-H(])")


@dataclass(frozen=True, slots=True)
class Habits:
    """How a sheet writes chords.

    Attributes:
        german: H is our B.
        flat_b: its plain B is our Bb.
        small_minor: a small letter alone is a minor chord.
        parentheses: all chords stand in parentheses, which therefore mean nothing.
        bar_letters: `I` or `l` among chords is a barline.
        sung_names: chords are named Do Re Mi Fa Sol La Si.
        beats_behind: a number in parentheses behind each chord says how many beats it lasts.
        flat_b_guessed: nothing but the key speaks for the B that is our Bb.
    """

    german: bool = False
    flat_b: bool = False
    small_minor: bool = False
    parentheses: bool = False
    bar_letters: bool = False
    sung_names: bool = False
    flat_b_guessed: bool = False
    beats_behind: bool = False


PLAIN = Habits()


@lru_cache(maxsize=4096)
def chord_of(text: str, habits: Habits = PLAIN) -> str | None:
    """Return a chord in our spelling; None where a text is none.

    >>> chord_of("F♯m7"), chord_of("[G]"), chord_of("Hello"), chord_of("H7", Habits(german=True))
    ('F#m7', 'G', None, 'B7')
    """
    if not text or len(text) > LONGEST_CHORD or text.endswith(":"):
        return None
    mark = with_own_signs(text).strip(_AROUND)
    for tail in _TAIL:
        mark = mark.removesuffix(tail)
    if habits.parentheses and mark.startswith("(") and mark.endswith(")"):
        mark = mark[1:-1].strip()
    mark = _balanced(mark)
    if habits.sung_names:
        mark = _from_sung_names(mark)
    elif habits.german or habits.flat_b:
        mark = _from_german(mark, habits)
    mark = _MAJOR.sub(r"\1maj", mark)
    if not mark or "<" in mark or "=" in mark:
        return None
    if is_chord(mark):
        return mark
    return _mended(mark, habits)


def _balanced(mark: str) -> str:
    """Take off a parenthesis that has no partner: a group such as `(G D)` is two marks."""
    if mark.count("(") > mark.count(")") and mark.startswith("("):
        return mark[1:]
    if mark.count(")") > mark.count("(") and mark.endswith(")"):
        return mark[:-1]
    return mark


def _from_german(mark: str, habits: Habits) -> str:
    """Respell `H7`, `Fis`, `Es`, `B` (where it is our Bb), and basses likewise."""
    if habits.flat_b and re.match(r"[Bb](?![b#♭♯es])", mark):
        head = mark[0] + "b" + mark[1:]
    else:
        head = from_german(mark)
        head = {"H": "B", "h": "b"}.get(head[:1], head[:1]) + head[1:]
    bass = _BASS.search(head)
    if bass is None:
        return head
    letter, sign = bass[1].upper(), ACCIDENTALS.get(bass[2] or "", bass[2] or "")
    if letter == "H":
        letter = "B"
    elif letter == "B" and habits.flat_b and not sign:
        sign = "b"
    return f"{head[: bass.start()]}/{letter}{sign}"


_SUNG = {"do": "C", "re": "D", "ré": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B"}
_SUNG_NAME = r"(Do|Ré|Re|Mi|Fa|Sol|La|Si|DO|RÉ|RE|MI|FA|SOL|LA|SI)(#|b|B(?![A-Za-z]))?"
_SUNG_CHORD = re.compile(
    rf"{_SUNG_NAME}((?:-|m|M|min|maj|sus|add|dim|aug|[0-9]|[°ø+Δ#b()])*(?:(?<=[0-9])[+])?)(?:/{_SUNG_NAME})?"
)
_SUNG_MINOR = re.compile(r"^(?:-|min|mi)(?![0-9]*b5)")
SUNG_CHORDS = 3  # chords named Do Re Mi, of two notes or more, that show a sheet to name them so


def is_sung_name(text: str) -> bool:
    """Return whether a text is a chord named Do Re Mi: `Lam7`, `SI-`, `Fa#/La#`."""
    return _SUNG_CHORD.fullmatch(with_own_signs(text).strip(_AROUND + "()")) is not None


def _from_sung_names(mark: str) -> str:
    """Respell `Lam`, `Mi7`, `Sib`, `Re-`, `Sol/Si`; the empty text for everything else.

    `7+` is a major seventh, as Italian sheets have it (common practice, no source).
    """
    optional = mark.startswith("(") and mark.endswith(")")
    match = _SUNG_CHORD.fullmatch(mark.strip("()") if optional else mark)
    if match is None:
        return mark if mark in ("N.C.", "NC") else ""
    name, sign, kind, bass, bass_sign = match.groups()
    kind = re.sub(r"^7\+$", "maj7", _SUNG_MINOR.sub("m", kind))
    under = f"/{_SUNG[bass.lower()]}{(bass_sign or '').lower()}" if bass else ""
    chord = f"{_SUNG[name.lower()]}{(sign or '').lower()}{kind}{under}"
    return f"({chord})" if optional else chord


def _mended(mark: str, habits: Habits) -> str | None:
    """Return what a slip must mean: `am`, `Cmj7`, `D/f#`; small letters alone by the sheet's habit."""
    if _SMALL.fullmatch(mark):
        upper = mark[0].upper() + mark[1:]
        head, slash, bass = upper.partition("/")
        if habits.small_minor:
            head = re.sub(r"^([A-G][#b]?)([679]?)$", r"\1m\2", head)
        upper = f"{head}{slash}{bass[:1].upper()}{bass[1:]}"
        return upper if is_chord(upper) else None
    slip = slip_of(mark, "", "", is_chord)
    better = (slip.better if slip is not None else None) or ""
    return better if " " not in better and is_chord(better) and better not in ("/", "%") else None


def marks_in(text: str, habits: Habits = PLAIN) -> tuple[str, ...] | None:
    """Take a run of characters apart into chords and rhythm slashes: `G///`, `D-G`, `C→F`. None where one is no chord.

    >>> marks_in("G//"), marks_in("G-D"), marks_in("G-dur")
    (('G', '/', '/'), ('G', 'D'), None)
    """
    whole = chord_of(text, habits)
    if whole is not None:
        return (whole,)
    shared = _SHARED.fullmatch(with_own_signs(text))
    if shared is not None:
        chord = chord_of(shared[1], habits)
        return None if chord is None else (chord, *shared[2])
    parts = [p for p in _JOINED.split(text) if p]
    if len(parts) < 2:
        return None
    chords = [chord_of(p, habits) for p in parts]
    return tuple(c for c in chords if c) if all(chords) else None


def is_bass(text: str) -> bool:
    """Return whether a mark is a bass alone, `/F#`: the chord before it over another bass."""
    return _LOOSE_BASS.fullmatch(with_own_signs(text)) is not None


def over_bass(chord: str, bass: str, habits: Habits = PLAIN) -> str | None:
    """Put a bass under a chord in the place of its own."""
    word = read_mark(chord)
    if not isinstance(word, ChordWord):
        return None
    head = word.written.rpartition("/")[0] if word.chord.bass is not None else word.written
    return chord_of(head + with_own_signs(bass), habits)


def habits_of(marks: Iterable[str]) -> Habits:
    """Return a sheet's habits, from the marks of the lines that look like chords."""
    marks = [with_own_signs(m) for m in marks]
    sung = [m for m in marks if is_sung_name(m)]
    lettered = [m for m in marks if not is_sung_name(m) and chord_of(m) is not None]
    if len(sung) >= SUNG_CHORDS and len({m[:2].lower() for m in sung}) > 1 and not lettered:
        return Habits(sung_names=True, parentheses=sum(m.startswith("(") for m in sung) == len(sung))
    bare = [m.strip(_AROUND + "()") for m in marks]
    german = any(re.match(r"[Hh](?:is|m|[2-9]|sus|dim|°|o|$|/)", m) or m.endswith(("/H", "/h")) for m in bare)
    named = any(re.fullmatch(r"(?:[CFGDA]is|Es|As|Des|Ges)(?:m?[67]?|maj7)?", m) for m in bare)
    b_flat = any(m.startswith("Bb") for m in bare)
    small = [m for m in bare if re.fullmatch(r"[a-h](?:is|es|#|b)?[67]?", m)]
    large = [m for m in bare if re.match(r"[A-H]", m)]
    minor = [m for m in bare if re.match(r"[A-Ha-h](?:is|es|#|b)?m(?!aj)", m)]
    bracketed = [m for m in marks if m.startswith("(") and m.endswith(")")]
    letters = sum(m in ("I", "l") for m in marks)
    return Habits(
        german=german or named,
        flat_b=(german or named) and not b_flat,
        small_minor=len(small) >= 2 and not minor and bool(large),
        parentheses=len(bracketed) >= 3 and 4 * len(bracketed) >= 3 * len([m for m in marks if chord_of(m)]),
        bar_letters=letters >= 2,
        beats_behind=sum(m.endswith(_NEVER_ADDED) for m in marks) >= 2,
    )


def chord_candidates(lines: tuple[SheetLine, ...]) -> list[str]:
    """Return the marks of all lines that look like chords in some habit: what shows how a sheet writes them."""
    wide = Habits(german=True, bar_letters=True)
    marks: list[str] = []
    for line in lines:
        pieces = with_own_signs(line.text).replace("|", " ").split()
        pieces = pieces[1:] if len(pieces) > SURE_BEHIND and pieces[0].endswith(":") else pieces  # Intro: G D Em
        chords = sum(chord_of(p, wide) is not None or is_sung_name(p) for p in pieces)
        words = sum(p in ("I", "l") or bool(sign_of(p)) or bool(times_of(p)) for p in pieces)
        if (chords >= 2 and chords + words == len(pieces)) or (chords == len(pieces) == 1 and pieces[0] not in WORDY):
            marks += pieces
    return marks
