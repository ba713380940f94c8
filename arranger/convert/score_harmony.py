"""Read a chord symbol of a score: root, kind, degrees, bass. Takes its element; gives the chord in our spelling.

Kinds and degrees are those of MusicXML 4.0 (`kind-value`, `degree-value`, `degree-alter`, `degree-type`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from arranger.convert.marks import chord_of
from arranger.convert.score_file import Element, bare
from arranger.convert.score_values import Shift, integer, text_of_child
from arranger.habits.signs import with_own_signs
from arranger.song.cells import ChordWord, read_mark
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.pitch import NATURAL, NoteName
from arranger.theory.qualities import BY_NAME, QUALITIES, Quality

NO_CHORD = "N.C."

_KINDS = {q.musicxml: q.name for q in QUALITIES if q.musicxml}
# Kinds named for what a chord does; the notes above their roots (MusicXML 4.0, `kind-value`: "functional analysis").
_FUNCTIONAL = {"neapolitan": "", "italian": "7", "french": "7", "german": "7", "tristan": "m7b5", "pedal": ""}
# Spellings that programs write beside the standard's. Common practice, no source.
_OTHER_KINDS = {
    "maj": "", "min": "m", "dominant-seventh": "7", "min7": "m7", "maj7": "maj7", "minor-major": "mMaj7",
    "diminished-triad": "dim", "augmented-triad": "aug", "half-diminished-seventh": "m7b5", "sus4": "sus4",
    "dominant-11": "11", "dominant-13": "13", "minor-11": "m11", "minor-13": "m13", "major-9": "maj9",
    "minor-6": "m6", "major-6": "6", "suspended": "sus4",
}  # fmt: skip
_PLAIN_DEGREES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 14, 11: 17, 13: 21}  # of a dominant chord
_NUMERAL = re.compile(r"([#b♯♭]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(?![a-zA-Z])")
_NUMERALS = ("i", "ii", "iii", "iv", "v", "vi", "vii")
_STEPS = "CDEFGAB"


class HarmonySymbol(NamedTuple):
    """A chord symbol understood.

    Attributes:
        text: in our spelling, or `N.C.`; empty where there is none.
        trouble: what could not be read as it stands.
        offset: how much later than its place it sounds, in divisions.
        other: it is an alternate to another symbol.
    """

    text: str
    trouble: str
    offset: str
    other: bool


def symbols_of(harmony: Element, shift: Shift, tonic: NoteName, minor: bool) -> Iterator[HarmonySymbol]:
    """Return the chords of an element: several may stand in one.

    Args:
        harmony: the element.
        shift: from the written to the sounding pitch.
        tonic: of the written key, for symbols that count from it.
        minor: its mode.
    """
    offset = text_of_child(harmony, "offset")
    other = harmony.get("type", "explicit") == "alternate"
    groups: list[list[Element]] = []
    for child in harmony:
        if bare(child) in ("root", "function", "numeral"):
            groups.append([child])
        elif bare(child) in ("kind", "inversion", "bass", "degree"):
            if not groups:
                groups.append([])
            groups[-1].append(child)
    for group in groups:
        text, trouble = _symbol(group, shift, tonic, minor)
        yield HarmonySymbol(text, trouble, offset, other)


def moved_chord(text: str, shift: Shift) -> str:
    """Return a chord that is typed as words as it sounds.

    >>> moved_chord("D/F#", Shift(-1, -2))
    'C/E'
    """
    chord = chord_of(text) or text
    return re.sub(r"^[A-G][#b]*|(?<=/)[A-G][#b]*$", lambda note: str(shift.name(NoteName.parse(note[0]))), chord)


def _symbol(group: list[Element], shift: Shift, tonic: NoteName, minor: bool) -> tuple[str, str]:
    parts = {bare(child): child for child in reversed(group)}
    kind = parts.get("kind")
    value = (kind.text or "").strip() if kind is not None else ""
    shown = (kind.get("text") or "").strip() if kind is not None else ""
    if value == "none" or shown.strip("().").upper().replace(".", "") in ("NC", "NO CHORD"):
        return NO_CHORD, ""
    root, trouble = _root(parts, tonic, minor)
    if root is None:
        return "", trouble
    degrees = tuple(_degree(child) for child in group if bare(child) == "degree")
    printed = _printed(shown, root) if value not in _KINDS and not degrees else None
    if printed is not None:
        suffix = printed
    else:
        basis, more = _basis(value, shown, root, parts)
        suffix, unnamed = suffix_of(basis, degrees)
        trouble = trouble or more or unnamed
    bass = _note(parts["bass"], "bass") if "bass" in parts else None
    if bass is None:
        bass = _inverted(root, suffix, text_or_none(parts.get("inversion")))
    written = f"{root}{suffix}{f'/{bass}' if bass else ''}"
    root = shift.name(root)
    bass = shift.name(bass) if bass is not None else None
    text = f"{root}{suffix}{f'/{bass}' if bass is not None and bass != root else ''}"
    return text, f"{trouble}: written as {written}" if trouble else ""


def _printed(shown: str, root: NoteName) -> str | None:
    """Return what stands after the root as it is printed, where no kind of the standard is named."""
    word = read_mark(with_own_signs(f"{root}{shown}")) if shown else None
    if not isinstance(word, ChordWord) or word.chord.bass is not None or word.chord.root != root:
        return None
    return word.chord.suffix.replace(" ", ",")


def text_or_none(element: Element | None) -> str:
    """Return an element's text; empty where there is none."""
    return ((element.text if element is not None else "") or "").strip()


def _root(parts: dict[str, Element], tonic: NoteName, minor: bool) -> tuple[NoteName | None, str]:
    """Return the root of a symbol, and what is to be said of it."""
    if "root" in parts:
        root = _note(parts["root"], "root")
        if root is None:
            found = text_of_child(parts["root"], "root-step") or "nothing"
            return None, f"a chord symbol whose root is `{found[:20]}`"
        return root, ""
    if "numeral" in parts:
        numeral = parts["numeral"]
        degree = integer(text_of_child(numeral, "numeral-root"))
        own = next((child for child in numeral if bare(child) == "numeral-key"), None)
        if own is not None and (fifths := integer(text_of_child(own, "numeral-fifths"))) is not None:
            minor = "minor" in text_of_child(own, "numeral-mode")
            tonic = NoteName.at_fifths(max(-7, min(7, fifths)) + (3 if minor else 0))
        alter = integer(text_of_child(numeral, "numeral-alter")) or 0
        if degree is not None and 1 <= degree <= 7:
            return _on_degree(degree, alter, tonic, minor), ""
    match = _NUMERAL.search(text_or_none(parts.get("function")))
    if match is not None:
        alter = {"#": 1, "♯": 1, "b": -1, "♭": -1}.get(match[1], 0)
        return _on_degree(_NUMERALS.index(match[2].lower()) + 1, alter, tonic, minor), ""
    return None, "a chord symbol without a root"


def _on_degree(degree: int, alter: int, tonic: NoteName, minor: bool) -> NoteName:
    flat = minor and degree in (3, 6, 7)
    name = Interval.parse(f"{'b' if flat else ''}{degree}").above(tonic)
    return NoteName(name.letter, name.alter + max(-2, min(2, alter)))


def _note(element: Element, what: str) -> NoteName | None:
    step = text_of_child(element, f"{what}-step").upper()
    if len(step) > 1 or step not in NATURAL:  # some write the sign into the step
        signs = with_own_signs(text_of_child(element, f"{what}-step"))
        match = re.fullmatch(r"([A-Ga-g])(#|b)", signs)
        return NoteName(match[1].upper(), 1 if match[2] == "#" else -1) if match else None
    alter = text_of_child(element, f"{what}-alter")
    signs_up = Fraction(alter) if re.fullmatch(r"[+-]?\d(?:\.\d{1,3})?", alter) else Fraction(0)
    return NoteName(step, max(-2, min(2, round(signs_up))))


def _basis(value: str, shown: str, root: NoteName, parts: dict[str, Element]) -> tuple[Quality, str]:
    """Return the quality that a kind names, and what is to be said of it."""
    if value in _KINDS:
        return BY_NAME[_KINDS[value]], ""
    if value in _OTHER_KINDS:
        return BY_NAME[_OTHER_KINDS[value]], ""
    if value.lower() in _FUNCTIONAL:
        return BY_NAME[_FUNCTIONAL[value.lower()]], f"a chord symbol of the kind `{value}`"
    word = read_mark(with_own_signs(f"{root}{shown}")) if shown else None
    if isinstance(word, ChordWord) and not word.chord.changes and word.chord.bass is None:
        return word.chord.quality, "" if value == "other" or not value else f"a chord symbol of the kind `{value[:20]}`"
    if "kind" not in parts or not value:
        lower = text_or_none(parts.get("function")).strip("#b♯♭")
        if lower and lower[:1] in "iv":  # small numerals are minor
            return BY_NAME["dim" if "o" in lower or "°" in lower else "m"], ""
        return BY_NAME[""], "" if "function" in parts else "a chord symbol without a kind, taken for major"
    what = f"a chord symbol of the kind `{value[:20]}`"
    return BY_NAME[""], what + (f", printed `{shown[:20]}`" if shown else "")


class Degree(NamedTuple):
    """A degree that is added, altered or taken away: its number, and its semitones from the plain one."""

    number: int
    alter: int
    kind: str


def _degree(element: Element) -> Degree:
    number = integer(text_of_child(element, "degree-value"))
    alter = integer(text_of_child(element, "degree-alter"))
    kind = text_of_child(element, "degree-type").lower() or "add"
    return Degree(number or 0, max(-2, min(2, alter or 0)), kind)


@lru_cache(maxsize=512)
def suffix_of(basis: Quality, degrees: tuple[Degree, ...]) -> tuple[str, str]:
    """Return what stands after the root, for a quality with degrees changed, and what of it has no name of ours.

    >>> suffix_of(BY_NAME["7"], (Degree(5, 1, "alter"), Degree(9, -1, "add")))
    ('7#5(b9)', '')
    """
    if not degrees:
        return basis.name, ""
    wanted = {i.degree: {i.semitones} for i in basis.degrees}
    for degree in degrees:
        if degree.number not in _PLAIN_DEGREES or degree.kind not in ("add", "alter", "subtract"):
            return basis.name, f"a chord symbol with a degree `{degree.number}` that is `{degree.kind[:20]}`"
        if degree.kind == "subtract":
            wanted.pop(degree.number, None)
        elif degree.kind == "alter" and degree.number in wanted:
            wanted[degree.number] = {semitones + degree.alter for semitones in wanted[degree.number]}
        else:
            own = wanted.get(degree.number, set()) if degree.number == 9 and degree.alter else set()  # b9 and #9
            wanted[degree.number] = {*own, _PLAIN_DEGREES[degree.number] + degree.alter}
    members = frozenset((number, semitones) for number, each in wanted.items() for semitones in each)
    named = _named(members, basis)
    if named is None:
        kept = ", ".join(f"{d.kind} {d.number}" for d in degrees)
        return basis.name, f"a chord symbol with degrees that have no name here ({kept})"
    return named, ""


def _named(members: frozenset[tuple[int, int]], basis: Quality) -> str | None:
    """Find the spelling of a set of degrees: the fewest changes to a row of the table, to the given row first."""
    found: list[tuple[int, int, str]] = []
    for place, row in enumerate((basis, *(row for row in QUALITIES if row.name != "7alt"))):
        own = {(i.degree, i.semitones) for i in row.degrees}
        changes = _changes(own, members)
        if changes is None:
            continue
        plain = not row.name and len(changes) == 1 and changes[0][0] in "an"  # Cadd4, Cno5
        suffix = changes[0] if plain else row.name + (f"({','.join(changes)})" if changes else "")
        word = read_mark(f"C{suffix}")
        if isinstance(word, ChordWord) and _sounds(word.chord) == {s % 12 for _, s in members} | {0}:
            found.append((len(changes), place, suffix))
    return min(found)[2] if found else None


def _sounds(chord: Chord) -> set[int]:
    return {i.semitones % 12 for i in chord.members}


def _changes(own: set[tuple[int, int]], members: frozenset[tuple[int, int]]) -> list[str] | None:
    """Return what is to be changed in a row, in our spelling; None where it cannot be said."""
    changes = []
    for number, semitones in sorted(members - own):
        sign = semitones - (11 if number == 7 else _PLAIN_DEGREES[number])
        text = ("b" * -sign if sign < 0 else "#" * sign) + str(number)
        altered = sign != 0 and number in (5, 9, 11, 13)
        spelled = text if altered and (number == 5 or any(n == 7 for n, _ in members)) else f"add{text}"
        if number in (1, 3, 7) or len(text.rstrip("0123456789")) > 1:
            return None
        changes.append(spelled)
    given = {number for number, _ in members}
    for number in sorted({number for number, _ in own - members} - given):
        if number not in (3, 5):
            return None
        changes.append(f"no{number}")
    return changes


def _inverted(root: NoteName, suffix: str, inversion: str) -> NoteName | None:
    """Return the bass of an inversion that is counted, where no bass is written."""
    place = integer(inversion)
    word = read_mark(f"{root}{suffix}")
    if not place or not isinstance(word, ChordWord) or not 0 < place < len(word.chord.names):
        return None
    return word.chord.names[place]
