"""What each line of a sheet is. Takes all lines; gives each with its kind and what it means.

A line of chords is one whose marks parse as chords. Where these are words as well (`A`, `Am`), the lines around decide:
chords stand over words, and words under chords.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.convert.columns import padded
from arranger.convert.marks import (
    WORDY,
    Habits,
    chord_of,
    habits_of,
    is_bass,
    marks_in,
    over_bass,
)
from arranger.convert.model import ChordLine, LineKind, Mark, MarkKind, SheetLine
from arranger.convert.sheet_head import PAGE, states_order
from arranger.habits.free_form import is_fact
from arranger.habits.headings import (
    Again,
    Heading,
    again_of,
    called_again,
    heading_of,
    is_short,
    number_of,
    own_name,
    reference_of,
)
from arranger.habits.signs import bar_sign, sign_of, times_of, with_own_signs

_GROUP = re.compile(r"(?<!\S)[(\[]([^()\[\]]*)[)\]](?!\S)")
_TIMES_APART = re.compile(r"(?<!\S)[xX×] ([0-9]{1,2})(?!\S)")
_PIECE = re.compile(r":?\|+:?(?:\s?[1-9]\.(?=\s|$))?|(?:[^|\s:]|:(?!\|))+")
_SAID = frozenset(
    (
        "riff", "fill", "solo", "hold", "stop", "let", "ring", "tacet", "break", "pause", "fermata", "build", "fade",
        "slow", "slowly", "softly", "muted", "strum", "only", "out", "in", "drums", "bass", "guitar", "piano", "keys",
        "once", "last", "time", "end", "fine", "rit.", "rit", "etc.", "etc", "repeat", "twice",
    )
)  # fmt: skip
_DASHES = frozenset("-–—_~'")
_SIGNS: dict[str, tuple[MarkKind, str]] = {
    "none": ("none", "N.C."), "rest": ("rest", "rest"), "slash": ("slash", "/"), "simile": ("simile", "%"),
}  # fmt: skip
_TWICE = frozenset(("repeat", "twice"))


def read_chords(line: SheetLine, habits: Habits) -> ChordLine:
    """Read a line as one of chords, whatever it is."""
    text, cues, times = _without_groups(with_own_signs(padded(line)), habits)
    marks: list[Mark] = []
    strays: list[str] = []
    sure = loose = 0
    for match in _PIECE.finditer(text):
        piece, column = match[0], match.start()
        sign = bar_sign(piece.replace(" ", "")) if "|" in piece else None
        if sign is None and habits.bar_letters and piece in ("I", "l"):
            sign = "|"
        if sign is not None:
            marks.append(Mark("bar", sign, column))
            continue
        if times_of(piece):
            times = times_of(piece)
            continue
        if re.fullmatch(r"[1-9]\.", piece) and marks and marks[-1].text == "|":
            marks[-1] = Mark("bar", "|" + piece, marks[-1].column)
            continue
        found, replaced = _chords_at(piece, column, marks, text, habits)
        if found:
            marks[len(marks) - replaced :] = found
            if piece.strip("().,") in WORDY or piece[:1].islower():
                loose += 1
            else:
                sure += 1
            continue
        kind = sign_of(piece)
        if kind == "slashes":
            marks += [Mark("slash", "/", column + i) for i in range(len(piece))]
        elif kind in _SIGNS:
            marks.append(Mark(*_SIGNS[kind], column))
        elif piece.lower().strip("()*.,!-") in _TWICE:
            times = 2
        elif kind != "glue":
            strays.append(piece)
    if not any(mark.kind == "bar" for mark in marks):  # without barlines a dash only parts two chords
        marks = [m for m in marks if m.text != "/" or text[m.column] not in _DASHES]
    said = [s for s in strays if not s.endswith(":") and s.lower().strip("()*.,!-:") in _SAID]
    if said and len(said) == len(strays) and sure:
        cues, strays = (*cues, " ".join(said).strip("()* ")), []
    return ChordLine(line.number, tuple(marks), max(times, 1), cues, tuple(strays), sure, loose)


def _chords_at(piece: str, column: int, marks: list[Mark], text: str, habits: Habits) -> tuple[list[Mark], int]:
    """Read one run of characters as chords, and how many of the last marks they replace; none where it has none.

    A bass alone belongs to the chord before it.
    """
    if is_bass(piece):
        last = next((i for i in reversed(range(len(marks))) if marks[i].kind != "bar"), None)
        if last is None or marks[last].text == "%":
            return [], 0
        mark = marks[last]
        chord = over_bass(mark.text, piece, habits)
        if chord is None:
            return [], 0
        near = last == len(marks) - 1 and column - mark.column - len(mark.text) <= 1
        return [Mark("chord", chord, mark.column if near else column)], int(near)
    at = column
    placed: list[Mark] = []
    for name in marks_in(piece, habits) or ():
        if placed:  # the first stands where its parentheses or brackets do
            at = max(at, text.find(name, at, column + len(piece)))
        placed.append(Mark("slash" if name == "/" else "chord", name, at))
        at += 1
    return placed, 0


def _without_groups(text: str, habits: Habits) -> tuple[str, tuple[str, ...], int]:
    """Take remarks and counts in parentheses out of a line, columns kept. Chords in parentheses stay."""
    cues: list[str] = []
    times = 0

    def blank(match: re.Match[str]) -> str:
        nonlocal times
        inner = match[1].strip()
        if times_of(inner):
            times = times_of(inner)
        elif not inner or all(marks_in(p, habits) or sign_of(p) or "|" in p for p in inner.split()):
            opening = match[0][0] if " " not in inner else " "
            closing = match[0][-1] if " " not in inner else " "
            return f"{opening}{match[1]}{closing}" if opening == "(" else f" {match[1]} "
        else:
            cues.append(" ".join(inner.split()))
        return " " * len(match[0])

    text = _GROUP.sub(blank, text)
    apart = _TIMES_APART.search(text)
    if apart is not None:
        times = int(apart[1])
        text = text[: apart.start()] + " " * len(apart[0]) + text[apart.end() :]
    return text, tuple(cues), times


def chord_candidates(lines: tuple[SheetLine, ...]) -> list[str]:
    """Return the marks of all lines that look like chords in some habit: what a sheet's habits are told from."""
    wide = Habits(german=True, bar_letters=True)
    marks: list[str] = []
    for line in lines:
        pieces = with_own_signs(line.text).replace("|", " ").split()
        chords = sum(chord_of(p, wide) is not None for p in pieces)
        words = sum(p in ("I", "l") or bool(sign_of(p)) or bool(times_of(p)) for p in pieces)
        if (chords >= 2 and chords + words == len(pieces)) or (chords == len(pieces) == 1 and pieces[0] not in WORDY):
            marks += pieces
    return marks


_TABLATURE = re.compile(
    r"\s*(?:[A-Ga-g][#b]?\s*)?[|:\[]?\s?[-–—=0-9hpbrstxX/\\~()|:.^*<> ]*(?:[-–—]{3,}|-\d+-)"
    r"[-–—=0-9hpbrstxX/\\~()|:.^*<> ]*"
)
# Jumps of printed music: the roadmap has none, and where they lead is for the player to say.
_JUMP = re.compile(
    r"[(\[]?(?:to (?:the )?coda|d\.?\s?[cs]\.?(?: al (?:coda|fine|segno))?|da capo.*|dal segno.*|fine)[.)\]]?", re.I
)
_DIRECTION = re.compile(
    r"(?:repeat (?:to|and|until|till)|fade|rit\.|rall\.|accel|slow(?:ing)? down|speed up|ad lib|a tempo|key change|"
    r"modulate|segue|all stop|band (?:in|out)|drums (?:in|out)|bass (?:in|out))\b.*",
    re.I,
)
MOST_WORDS = 8  # of a line that tells the player something; a longer one is sung
_COLONED = re.compile(r"[^\W\d_][\w' \-]{1,24}\s*:")  # a name in any language over a line of chords
_LETTERED = re.compile(r"[\[(]?([A-H])[\])]?[:)]\s*(.*)")  # where a part is called A, B is no bridge
_LETTER = re.compile(r"[\[(]([A-H])[\])]:?")  # over a line of chords it names a part, and is no chord itself
_REMARK = re.compile(r"(?:#|//|;|%|/\*|<!--|https?://|www\.).*", re.I)
_ASIDE = re.compile(
    r"\((?P<a>[^()]*)\)|\*+(?P<b>[^*]+)\*+|\[(?P<c>[^\[\]]*)\]|(?:note|nb|n\.b\.|hint)\s*:\s*(?P<d>.+)", re.I
)


@dataclass(frozen=True, slots=True)
class LineMeaning:
    """A line with its kind; `chords`, `heading`, `again` or `aside` say what it means."""

    line: SheetLine
    kind: LineKind
    chords: ChordLine | None = None
    heading: Heading | None = None
    again: Again | None = None
    aside: str = ""


def meanings_of(lines: tuple[SheetLine, ...]) -> tuple[tuple[LineMeaning, ...], Habits]:
    """Return what each line is. A heading with chords behind it becomes two lines of one number."""
    habits = habits_of(chord_candidates(lines))
    lettered_parts = any(line.text.strip().startswith(("A:", "[A]:", "A)")) for line in lines)
    told: list[LineMeaning] = []
    open_ones: list[tuple[int, ChordLine]] = []
    for index, line in enumerate(lines):
        under_chords = bool(told) and told[-1].kind == "chords"
        names = {t.heading.name for t in told if t.heading is not None}
        again = called_again(line.text, sorted(names)) if names and not under_chords else None
        if again is not None:
            told.append(LineMeaning(line, "heading", heading=again))
            continue
        found = _meanings(line, lines[index + 1 :], told, habits, lettered_parts=lettered_parts)
        if found is None:
            open_ones.append((len(told), read_chords(line, habits)))
            found = (LineMeaning(line, "words"),)
        told += found
    for place, reading in open_ones:
        if _among_chords(told, place):
            told[place] = LineMeaning(told[place].line, "chords", reading)
    return tuple(told), habits


def _meanings(
    line: SheetLine, after: Sequence[SheetLine], before: Sequence[LineMeaning], habits: Habits, *, lettered_parts: bool
) -> tuple[LineMeaning, ...] | None:
    """Tell one line; None where its neighbours must decide."""
    under_chords = bool(before) and before[-1].kind == "chords"
    first = all(told.kind == "blank" for told in before)
    text = line.text.strip()
    if not text:
        return (LineMeaning(line, "blank"),)
    reading = read_chords(line, habits)
    letter = _LETTER.fullmatch(text)
    if letter is not None and after and after[0].cells and read_chords(after[0], habits).certain:
        return (LineMeaning(line, "heading", heading=Heading(f"Part {letter[1]}")),)
    if PAGE.search(text) and not under_chords and not first:
        return (LineMeaning(line, "remark"),)
    if states_order(text):
        return (LineMeaning(line, "fact"),)
    if is_tablature(text):
        return (LineMeaning(line, "tablature"),)
    if reading.certain and not reading.strays and not (text.endswith(":") and len(text) <= 3):
        return (LineMeaning(line, "chords", reading),)
    named = _named(line, after, habits, under_chords=under_chords, lettered_parts=lettered_parts)
    if named is not None:
        return named
    if reading.certain:
        return (LineMeaning(line, "chords", reading),)
    if reading.possible:
        return None
    again = again_of(text)
    if again is not None:
        return (LineMeaning(line, "again", again=again),)
    own = own_name(text)
    if (
        own is None
        and not under_chords
        and _COLONED.fullmatch(text)
        and after
        and read_chords(after[0], habits).certain
    ):
        return (LineMeaning(line, "heading", heading=Heading(own_name(f"[{text.rstrip(': ')}]") or text)),)
    if own is not None and not under_chords:
        follows = next((other for other in after if other.cells), None)
        if after and after[0].cells and follows is not None and not own_name(follows.text):
            return (LineMeaning(line, "heading", heading=Heading(own)),)
    if not under_chords:
        if is_fact(text):
            return (LineMeaning(line, "fact"),)
        if _REMARK.fullmatch(text) or _JUMP.fullmatch(text):
            return (LineMeaning(line, "remark"),)
        if _DIRECTION.fullmatch(text) and len(text.split()) <= MOST_WORDS:
            return (LineMeaning(line, "cue", aside=text.strip("*-= ")),)
        aside = _ASIDE.fullmatch(text)
        if aside is not None:
            said = next(g for g in aside.groups() if g is not None).strip()
            return (LineMeaning(line, "cue", aside=said),) if said else (LineMeaning(line, "blank"),)
        if not any(c.isalnum() for c in text):
            return (LineMeaning(line, "blank"),)
    return (LineMeaning(line, "words"),)


def is_tablature(text: str) -> bool:
    """Tell a line of a guitar's tablature: dashes for a string, figures for frets.

    >>> is_tablature("e|---0---2--3-|"), is_tablature("--- Verse ---"), is_tablature("G - - - D")
    (True, False, False)
    """
    return (
        len(text) >= 8
        and text.count("-") >= 5
        and _TABLATURE.fullmatch(text) is not None
        and any(c in "|0123456789" for c in text)
    )


def _named(
    line: SheetLine, after: Sequence[SheetLine], habits: Habits, *, under_chords: bool, lettered_parts: bool
) -> tuple[LineMeaning, ...] | None:
    """Tell a heading, with what stands behind it on its line."""
    text = line.text.strip()
    found = _heading_in(text, lettered_parts)
    if found is None:
        return None
    heading, rest = found
    if not rest:
        sung = under_chords and not _signed(text) and (text.islower() or is_short(text))
        return None if sung else (LineMeaning(line, "heading", heading=heading),)
    behind = line.cut(_column_of(line, rest))
    reading = read_chords(behind, habits)
    head = LineMeaning(line, "heading", heading=heading)
    if reading.certain or reading.possible:
        return head, LineMeaning(behind, "chords", reading)
    if number_of(text) is not None:
        return None  # a verse's number before its words: for those who gather
    ended = not after or not after[0].cells
    if rest[0] in ",;-–" and len(rest.split()) <= MOST_WORDS and ended and not under_chords:  # Chorus, then fade
        return (LineMeaning(line, "heading", heading=replace(heading, remark=rest.strip(",;-– "))),)
    if reference_of(rest) or (again_of(rest) is not None and ":" in text):
        return (LineMeaning(line, "heading", heading=replace(heading, remark=rest)),)
    if any(sign in text[: text.rfind(rest)] for sign in ":])}"):
        return head, LineMeaning(behind, "words")
    return None


def _heading_in(text: str, lettered_parts: bool) -> tuple[Heading, str] | None:
    """Take a heading and what stands behind it: a known name, the number of a verse, a letter where parts have them."""
    lettered = _LETTERED.fullmatch(text) if lettered_parts else None
    if lettered is not None:
        return Heading(f"Part {lettered[1]}"), lettered[2]
    found = heading_of(text)
    number = number_of(text)
    if found is None and number is not None:
        return Heading(f"Verse {number[0]}"), text[number[1] :]
    return found


def _signed(text: str) -> bool:
    """Return whether signs, a number or capitals make a name a heading, even right under chords."""
    return any(c in text for c in "[]:()#*-=") or text[-1:].isdigit() or text.isupper()


def _column_of(line: SheetLine, rest: str) -> int:
    """Return the column at which the last part of a line starts."""
    columns = range(len(line.cells) - 1, -1, -1)
    return next((c for c in columns if line.cells[c] != " " and line.part(c).startswith(rest)), 0)


def _starts(line: SheetLine) -> list[int]:
    """Return the columns in which words start."""
    text = f" {padded(line)}"
    return [i for i in range(len(text) - 1) if text[i] == " " and text[i + 1] != " "]


def _among_chords(told: Sequence[LineMeaning], place: int) -> bool:
    """Decide by its neighbours whether a line that may be both is of chords."""
    above = told[place - 1] if place else None
    below = told[place + 1].kind if place + 1 < len(told) else "blank"
    if above is not None and above.chords is not None and below != "words":
        columns = {mark.column for mark in above.chords.chords}
        if all(start in columns for start in _starts(told[place].line)):
            return False  # each word stands right under a chord
    if "   " in told[place].line.text.strip():
        return True  # nobody types words so far apart
    if below == "words":
        # Chords stand over words; but one chord above may be sung to this one word.
        return above is None or above.chords is None or len(above.chords.chords) > 1
    return above is None or above.kind not in ("chords", "words")
