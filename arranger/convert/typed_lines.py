"""Find what each line of a sheet is (heading, chords, words, remark), and split lines of chords into their marks.

A line of chords is one whose marks parse as chords. Where these are words as well (`A`, `Am`), the lines around decide:
chords stand over words, and words under chords.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.convert.marks import (
    WORDY,
    Habits,
    chord_candidates,
    chord_of,
    habits_of,
    is_bass,
    marks_in,
    over_bass,
)
from arranger.convert.model import ChordLine, LineKind, MarkKind, SheetLine, TypedMark
from arranger.convert.parting import is_packed, is_signed, parted, sharing_bars
from arranger.convert.sheet_head import PAGE, states_order
from arranger.convert.tablature import is_tablature
from arranger.habits.free_form import is_fact
from arranger.habits.headings import (
    Heading,
    again_of,
    called_again,
    heading_of,
    is_length,
    is_short,
    number_of,
    own_name,
    reference_of,
    said_behind,
    slide_of,
)
from arranger.habits.signs import bar_sign, sign_of, times_of, with_own_signs

_GROUP = re.compile(r"(?<!\S)[(\[]([^()\[\]]*)[)\]](?!\S)")
_BEATS_BEHIND = re.compile(r"([^()]+)\(([1-8])\)")  # G(2)
_TIMES_APART = re.compile(r"(?<!\S)[xX×] ([0-9]{1,2})(?!\S)")
_PIECE = re.compile(r":?\|+:?(?:\s?[1-9]\.(?=\s|$))?|(?:[^|\s:]|:(?!\|))+")
_SAID = frozenset(
    (
        "riff", "fill", "solo", "hold", "stop", "let", "ring", "tacet", "break", "pause", "fermata", "build", "fade",
        "slow", "slowly", "softly", "muted", "strum", "only", "out", "in", "drums", "bass", "guitar", "piano", "keys",
        "once", "last", "time", "end", "fine", "rit.", "rit", "etc.", "etc", "repeat", "twice",
    )
)  # fmt: skip
_SIGNS: dict[str, tuple[MarkKind, str]] = {
    "none": ("none", "N.C."), "rest": ("rest", "rest"), "slash": ("slash", "/"), "simile": ("simile", "%"),
}  # fmt: skip
_TWICE = frozenset(("repeat", "twice"))


def read_chords(line: SheetLine, habits: Habits) -> ChordLine:
    """Read a line as one of chords, whatever it is."""
    text, cues, times = _without_groups(with_own_signs(line.padded), habits)
    marks: list[TypedMark] = []
    strays: list[str] = []
    sure = loose = 0
    ends: list[tuple[int, int]] = []  # where each run of chords stands
    for match in _PIECE.finditer(text):
        piece, column = match[0], match.start()
        sign = bar_sign(piece.replace(" ", "")) if "|" in piece else None
        if sign is None and habits.bar_letters and piece in ("I", "l"):
            sign = "|"
        if sign is not None:
            marks.append(TypedMark("bar", sign, column))
            continue
        if times_of(piece):
            times = times_of(piece)
            continue
        if re.fullmatch(r"[1-9]\.", piece) and marks and marks[-1].text == "|":
            marks[-1] = TypedMark("bar", "|" + piece, marks[-1].column)
            continue
        beats = _BEATS_BEHIND.fullmatch(piece) if habits.beats_behind else None
        if beats is not None and (chord := chord_of(beats[1], habits)) is not None:
            marks.append(TypedMark("chord", chord, column))
            marks += [TypedMark("slash", "/", column + len(beats[1]))] * (int(beats[2]) - 1)
            ends.append(match.span())
            sure += 1
            continue
        found, replaced = _chords_at(piece, column, marks, text, habits)
        if found:
            marks[len(marks) - replaced :] = found
            ends.append(match.span())
            if piece.strip("().,") in WORDY or piece[:1].islower() or (habits.sung_names and piece == text.strip()):
                loose += 1
            else:
                sure += 1
            continue
        kind = sign_of(piece)
        if kind == "slashes":
            marks += [TypedMark("slash", "/", column + i) for i in range(len(piece))]
        elif kind in _SIGNS:
            marks.append(TypedMark(*_SIGNS[kind], column))
        elif piece.lower().strip("()*.,!-") in _TWICE:
            times = 2
        elif kind != "glue":
            strays.append(piece)
    guess = ""
    packed = is_packed(text, ends)
    if not any(mark.kind == "bar" for mark in marks):
        groups = [m.span() for m in _GROUP.finditer(with_own_signs(line.padded))]
        shared = sharing_bars(marks, groups)
        marks, guess = shared if shared is not None else parted(marks, text, packed=packed)
    said = [s for s in strays if not s.endswith(":") and s.lower().strip("()*.,!-:") in _SAID]
    if said and len(said) == len(strays) and sure:
        cues, strays = (*cues, " ".join(said).strip("()* ")), []
    return ChordLine(
        line.number,
        tuple(marks),
        max(times, 1),
        cues,
        tuple(strays),
        sure,
        loose,
        packed,
        guess=guess,
        signed=is_signed(text, ends),
    )


def _chords_at(
    piece: str, column: int, marks: list[TypedMark], text: str, habits: Habits
) -> tuple[list[TypedMark], int]:
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
        return [TypedMark("chord", chord, mark.column if near else column)], int(near)
    at = column
    placed: list[TypedMark] = []
    for name in marks_in(piece, habits) or ():
        if placed:  # the first stands where its parentheses or brackets do
            at = max(at, text.find(name, at, column + len(piece)))
        placed.append(TypedMark("slash" if name == "/" else "chord", name, at))
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
            return match[0] if match[0][0] == "(" and " " not in inner else f" {match[1]} "
        else:
            cues.append(" ".join(inner.split()))
        return " " * len(match[0])

    text = _GROUP.sub(blank, text)
    apart = _TIMES_APART.search(text)
    if apart is not None:
        times = int(apart[1])
        text = text[: apart.start()] + " " * len(apart[0]) + text[apart.end() :]
    return text, tuple(cues), times


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
_COLONED = re.compile(
    r"([^\W\d_][\w' \-]{1,24})\s*:(?:\s*\(([^()]+)\))?"
)  # a name in any language over a line of chords
_LETTERED = re.compile(r"[\[(]?([A-H])[\])]?[:)]\s*(.*)")  # where a part is called A, B is no bridge
_LETTER = re.compile(r"[\[(]([A-H])[\])]:?")  # over a line of chords it names a part, and is no chord itself
_RITORNELLO = re.compile(
    r"[(\[]?rit\.?[)\]]?:?", re.I
)  # over a line of chords; elsewhere it is a word for slowing down
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
    again: tuple[Heading, ...] | None = None  # as in `again_of`
    aside: str = ""


def meanings_of(lines: tuple[SheetLine, ...], habits: Habits | None = None) -> tuple[tuple[LineMeaning, ...], Habits]:
    """Return what each line is, and how the sheet writes chords. A heading with chords behind it becomes two lines."""
    habits = habits_of(chord_candidates(lines)) if habits is None else habits
    lettered_parts = any(line.text.strip().startswith(("A:", "[A]:", "A)")) for line in lines)
    found: list[LineMeaning] = []
    names: set[str] = set()
    open_places: list[int] = []
    for index, line in enumerate(lines):
        under_chords = bool(found) and found[-1].kind == "chords"
        again = called_again(line.text, sorted(names)) if names and not under_chords else None
        if again is not None:
            found.append(_heading(line, again))
            continue
        new = _meanings(line, lines[index + 1 :], found, habits, lettered_parts=lettered_parts)
        if new is None:  # its neighbours must decide
            open_places.append(len(found))
        if under_chords and new is not None and [m.kind for m in new] == ["heading", "words"]:
            found.insert(len(found) - 1, new[0])  # Ch) Out on the water: the name stands in the words under the chords
            new = new[1:]
        found += new or (LineMeaning(line, "words"),)
        names.update(meaning.heading.name for meaning in found[-2:] if meaning.heading is not None)
    for place in open_places:
        if _among_chords(found, place):
            found[place] = _chords(found[place].line, read_chords(found[place].line, habits))
    return tuple(found), habits


def _heading(line: SheetLine, heading: Heading) -> LineMeaning:
    return LineMeaning(line, "heading", heading=heading)


def _chords(line: SheetLine, chords: ChordLine) -> LineMeaning:
    return LineMeaning(line, "chords", chords)


def _meanings(
    line: SheetLine, after: Sequence[SheetLine], before: Sequence[LineMeaning], habits: Habits, *, lettered_parts: bool
) -> tuple[LineMeaning, ...] | None:
    """Return what one line is, or the two things on it; None where its neighbours must decide."""
    text = line.text.strip()
    if not text:
        return (LineMeaning(line, "blank"),)
    under_chords = before[-1].kind == "chords" if before else False
    reading = read_chords(line, habits)
    letter = _LETTER.fullmatch(text)
    if letter is not None and _begins_with_chords(after, habits):
        return (_heading(line, Heading(f"Part {letter[1]}")),)
    if _RITORNELLO.fullmatch(text) and not under_chords and _begins_with_chords(after, habits):
        return (_heading(line, Heading("Ritornello")),)
    if PAGE.search(text) and not under_chords and any(meaning.kind != "blank" for meaning in before):
        return (LineMeaning(line, "remark"),)
    if states_order(text):
        return (LineMeaning(line, "fact"),)
    if is_tablature(text):
        return (LineMeaning(line, "tablature"),)
    if reading.cues and text[:3].lower() == "in " and is_fact(text):
        return (LineMeaning(line, "fact"),)  # In F
    if reading.certain and not reading.strays and not (text.endswith(":") and len(text) <= 3):
        return (_chords(line, reading),)
    named = _named(line, after, habits, under_chords=under_chords, lettered_parts=lettered_parts)
    if named is not None:
        return named
    if reading.certain:
        return (_chords(line, reading),)
    if reading.possible:
        return None
    again = again_of(text)
    if again is not None:
        return (LineMeaning(line, "again", again=again),)
    if under_chords:
        return (LineMeaning(line, "words"),)
    own = own_name(text)
    coloned = _COLONED.fullmatch(text)
    if own is None and coloned is not None and _begins_with_chords(after, habits):
        return (_heading(line, Heading(own_name(f"[{coloned[1]}]") or text, remark=coloned[2] or "")),)
    if own is not None and after and after[0].cells and not own_name(after[0].text):
        return (_heading(line, Heading(own)),)
    return (_plain_meaning(line, text),)


def _begins_with_chords(lines: Sequence[SheetLine], habits: Habits) -> bool:
    return bool(lines) and read_chords(lines[0], habits).certain


def _plain_meaning(line: SheetLine, text: str) -> LineMeaning:
    """Return what a line is that has neither chords nor a name, and stands under no chords."""
    if is_fact(text):
        return LineMeaning(line, "fact")
    if _REMARK.fullmatch(text) or _JUMP.fullmatch(text):
        return LineMeaning(line, "remark")
    if _DIRECTION.fullmatch(text) and len(text.split()) <= MOST_WORDS:
        return LineMeaning(line, "cue", aside=text.strip("*-= "))
    aside = _ASIDE.fullmatch(text)
    if aside is not None:
        said = next(g for g in aside.groups() if g is not None).strip()
        return LineMeaning(line, "cue", aside=said) if said else LineMeaning(line, "blank")
    return LineMeaning(line, "words" if any(c.isalnum() for c in text) else "blank")


def _named(
    line: SheetLine, after: Sequence[SheetLine], habits: Habits, *, under_chords: bool, lettered_parts: bool
) -> tuple[LineMeaning, ...] | None:
    """Return a heading, with what stands behind it on its line."""
    text = line.text.strip()
    numbered = slide_of(text)
    if numbered:  # Slide 2 - Chorus
        start = len(line.text) - len(line.text.lstrip()) + numbered
        slide = LineMeaning(line.up_to(start), "remark")
        if numbered == len(text):
            return None if under_chords else (slide,)
        named = _named(line.cut(start), after, habits, under_chords=under_chords, lettered_parts=lettered_parts)
        return None if named is None else (slide, *named)
    found = _heading_in(text, lettered_parts)
    if found is None:
        return None
    heading, rest = found
    if not rest:
        sung = under_chords and not _signed(text) and (text.islower() or is_short(text))
        return None if sung else (_heading(line, heading),)
    behind = line.cut(_column_of(line, rest))
    reading = read_chords(behind, habits)
    head = _heading(line, heading)
    if reading.certain or reading.possible:
        return head, _chords(behind, reading)
    if number_of(text) is not None:
        return None  # a verse's number before its words: for those who gather
    ended = not after or not after[0].cells
    followed = ended or (rest[0] not in ",;" and _begins_with_chords(after, habits))
    if len(rest.split()) <= MOST_WORDS and followed and not under_chords and _set_apart(text, heading, rest):
        times, remark = said_behind(rest.strip(",;-– "))  # Chorus, then fade; Last chorus - up a tone
        return (_heading(line, replace(heading, times=times or heading.times, remark=remark)),)
    if reference_of(rest) or is_length(rest) or (again_of(rest) is not None and ":" in text):
        return (_heading(line, replace(heading, remark=rest)),)
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


def _set_apart(text: str, heading: Heading, rest: str) -> bool:
    """Return whether a comma, a dash or a count stands between a name and what is said of it."""
    before = text[: text.rfind(rest)].rstrip()
    return rest[0] in ",;-–" or before[-1:] in ("-", "–", "—", ",", ";") or heading.times > 1


def _signed(text: str) -> bool:
    """Return whether signs, a number or capitals make a name a heading, even right under chords."""
    return any(c in text for c in "[]:()#*-=") or text[-1:].isdigit() or text.isupper()


def _column_of(line: SheetLine, rest: str) -> int:
    """Return the column at which the last part of a line starts."""
    columns = range(len(line.cells) - 1, -1, -1)
    return next((c for c in columns if line.cells[c] != " " and line.part(c).startswith(rest)), 0)


def _among_chords(lines: Sequence[LineMeaning], place: int) -> bool:
    """Return whether a line that may be of words too is of chords, by the lines around it."""
    above = lines[place - 1] if place else None
    below = lines[place + 1].kind if place + 1 < len(lines) else "blank"
    if above is not None and above.chords is not None and below != "words":
        text = f" {lines[place].line.padded}"
        starts = {i for i in range(len(text) - 1) if text[i] == " " and text[i + 1] != " "}
        if starts <= {mark.column for mark in above.chords.chords}:
            return False  # each word stands right under a chord
    if "   " in lines[place].line.text.strip():
        return True  # nobody types words so far apart
    if below == "words":
        # Chords stand over words; but one chord above may be sung to this one word.
        return above is None or above.chords is None or len(above.chords.chords) > 1
    return above is None or above.kind not in ("chords", "words")
