"""What each line of a sheet is. Takes all lines; gives each with its kind and what it means.

A line of chords is one whose marks parse as chords. Where these are words as well (`A`, `Am`), the lines around decide:
chords stand over words, and words under chords.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.convert.chordlines import Reading, chord_candidates, padded, read_chords
from arranger.convert.facts import is_fact
from arranger.convert.head import PAGE, states_order
from arranger.convert.headings import again_of, called_again, heading_of, is_short, number_of, own_name, reference_of
from arranger.convert.marks import Habits, habits_of
from arranger.convert.model import Again, ChordLine, Heading, LineKind, SheetLine

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
class Told:
    """A line with its kind; `chords`, `heading`, `again` or `aside` say what it means."""

    line: SheetLine
    kind: LineKind
    chords: ChordLine | None = None
    heading: Heading | None = None
    again: Again | None = None
    aside: str = ""


def tell(lines: tuple[SheetLine, ...]) -> tuple[tuple[Told, ...], Habits]:
    """Return what each line is. A heading with chords behind it becomes two lines of one number."""
    habits = habits_of(chord_candidates(lines))
    lettered_parts = any(line.text.strip().startswith(("A:", "[A]:", "A)")) for line in lines)
    told: list[Told] = []
    open_ones: list[tuple[int, Reading]] = []
    for index, line in enumerate(lines):
        under_chords = bool(told) and told[-1].kind == "chords"
        names = {t.heading.name for t in told if t.heading is not None}
        again = called_again(line.text, sorted(names)) if names and not under_chords else None
        if again is not None:
            told.append(Told(line, "heading", heading=again))
            continue
        found = _told(line, lines[index + 1 :], told, habits, lettered_parts=lettered_parts)
        if found is None:
            open_ones.append((len(told), read_chords(line, habits)))
            found = (Told(line, "words"),)
        told += found
    for place, reading in open_ones:
        if _among_chords(told, place):
            told[place] = Told(told[place].line, "chords", reading.line)
    return tuple(told), habits


def _told(
    line: SheetLine, after: Sequence[SheetLine], before: Sequence[Told], habits: Habits, *, lettered_parts: bool
) -> tuple[Told, ...] | None:
    """Tell one line; None where its neighbours must decide."""
    under_chords = bool(before) and before[-1].kind == "chords"
    first = all(told.kind == "blank" for told in before)
    text = line.text.strip()
    if not text:
        return (Told(line, "blank"),)
    reading = read_chords(line, habits)
    letter = _LETTER.fullmatch(text)
    if letter is not None and after and after[0].cells and read_chords(after[0], habits).certain:
        return (Told(line, "heading", heading=Heading(f"Part {letter[1]}")),)
    if PAGE.search(text) and not under_chords and not first:
        return (Told(line, "remark"),)
    if states_order(text):
        return (Told(line, "fact"),)
    if is_tablature(text):
        return (Told(line, "tablature"),)
    if reading.certain and not reading.others and not (text.endswith(":") and len(text) <= 3):
        return (Told(line, "chords", reading.line),)
    named = _named(line, after, habits, under_chords=under_chords, lettered_parts=lettered_parts)
    if named is not None:
        return named
    if reading.certain:
        return (Told(line, "chords", reading.line),)
    if reading.possible:
        return None
    again = again_of(text)
    if again is not None:
        return (Told(line, "again", again=again),)
    own = own_name(text)
    if (
        own is None
        and not under_chords
        and _COLONED.fullmatch(text)
        and after
        and read_chords(after[0], habits).certain
    ):
        return (Told(line, "heading", heading=Heading(own_name(f"[{text.rstrip(': ')}]") or text)),)
    if own is not None and not under_chords:
        follows = next((other for other in after if other.cells), None)
        if after and after[0].cells and follows is not None and not own_name(follows.text):
            return (Told(line, "heading", heading=Heading(own)),)
    if not under_chords:
        if is_fact(text):
            return (Told(line, "fact"),)
        if _REMARK.fullmatch(text) or _JUMP.fullmatch(text):
            return (Told(line, "remark"),)
        if _DIRECTION.fullmatch(text) and len(text.split()) <= MOST_WORDS:
            return (Told(line, "cue", aside=text.strip("*-= ")),)
        aside = _ASIDE.fullmatch(text)
        if aside is not None:
            said = next(g for g in aside.groups() if g is not None).strip()
            return (Told(line, "cue", aside=said),) if said else (Told(line, "blank"),)
        if not any(c.isalnum() for c in text):
            return (Told(line, "blank"),)
    return (Told(line, "words"),)


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
) -> tuple[Told, ...] | None:
    """Tell a heading, with what stands behind it on its line."""
    text = line.text.strip()
    found = _heading_in(text, lettered_parts)
    if found is None:
        return None
    heading, rest = found
    if not rest:
        sung = under_chords and not _signed(text) and (text.islower() or is_short(text))
        return None if sung else (Told(line, "heading", heading=heading),)
    behind = line.cut(_column_of(line, rest))
    reading = read_chords(behind, habits)
    head = Told(line, "heading", heading=heading)
    if reading.certain or reading.possible:
        return head, Told(behind, "chords", reading.line)
    if number_of(text) is not None:
        return None  # a verse's number before its words: for those who gather
    ended = not after or not after[0].cells
    if rest[0] in ",;-–" and len(rest.split()) <= MOST_WORDS and ended and not under_chords:  # Chorus, then fade
        return (Told(line, "heading", heading=replace(heading, remark=rest.strip(",;-– "))),)
    if reference_of(rest) or (again_of(rest) is not None and ":" in text):
        return (Told(line, "heading", heading=replace(heading, remark=rest)),)
    if any(sign in text[: text.rfind(rest)] for sign in ":])}"):
        return head, Told(behind, "words")
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


def _among_chords(told: Sequence[Told], place: int) -> bool:
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
