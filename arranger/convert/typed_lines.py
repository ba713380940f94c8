"""Find what each line of a sheet is: heading, chords, words, remark.

A line of chords is one whose marks parse as chords. Where these are words as well (`A`, `Am`), the lines around decide:
chords stand over words, and words under chords.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.convert.chord_lines import read_chords
from arranger.convert.marks import (
    Habits,
    chord_candidates,
    habits_of,
)
from arranger.convert.model import ChordLine, LineKind, SheetLine
from arranger.convert.sheet_head import PAGE, PRINTED, states_order, states_rights
from arranger.convert.short_names import ShortNames, short_names_of
from arranger.convert.tablature import is_tablature
from arranger.habits.calls import again_of, called_again, chain_of, reference_of
from arranger.habits.endings import ending_of
from arranger.habits.free_form import is_fact
from arranger.habits.headings import (
    Heading,
    heading_of,
    is_length,
    is_short,
    number_of,
    own_name,
    said_behind,
)
from arranger.habits.jumps import Jump, jump_of, landmark_of, names_jump
from arranger.habits.slides import slide_of

_DIRECTION = re.compile(
    r"(?:repeat (?:to|and|until|till)|fade|rit\.|rall\.|accel|slow(?:ing)? down|speed up|ad lib|a tempo|key change|"
    r"modulate|segue|all stop|(?:end|stop|finish)s? on (?:the |an? )?(?-i:[A-H](?:#|b)?m?7?)|"
    r"band (?:in|out)|drums (?:in|out)|bass (?:in|out))(?!\w).*",
    re.I,
)
MOST_WORDS = 8  # of a line that tells the player something; a longer one is sung
_COLONED = re.compile(
    r"([^\W\d_][\w' \-]{1,24})\s*:(?:\s*\(([^()]+)\))?"
)  # a name in any language over a line of chords
_DOTTED = re.compile(r"(?:refr?|zwr|chor|cho|ch|kv)\.\s+[^\W\d_]\S*\s+\S", re.I)  # Ref. Out on the water
_BEFORE_CHORDS = re.compile(r"\s*([^\W\d_][^\W\d_' \-]{2,24})\s*:\s+(?=\S)")
_LETTER = re.compile(r"[\[(]([A-H])[\])]:?")  # over a line of chords it names a part, and is no chord itself
_RITORNELLO = re.compile(
    r"[(\[]?rit\.?(?![^\W\d_])[)\]]?:?(?P<rest>.*)", re.I
)  # over a line of chords; elsewhere it is a word for slowing down
_REMARK = re.compile(r"(?:#|//|;|%|/\*|<!--|(?:https?|file)://|www\.).*", re.I)
_CHORD_LIST = re.compile(r"(?:the )?(?:chords?(?: used| needed)?|akkorde|accords|acordes|accordi)\s*:.*", re.I)
_FRAMED = re.compile(r"(?:-{2,}|={2,}|~{2,}|_{2,})\s*([^\W_].*?)\s*(?:-{2,}|={2,}|~{2,}|_{2,})")
_PLAYED_HERE = re.compile(
    r"\((?:riff|fill|break|drop|hook|build|lick|solo|stop|pause)\)"
)  # among lines, without capitals
_SAME = re.compile(
    r"\(?(?:ditto|dto\.?|dito|idem|same|as before|same as before|(?:same|the same) chords?(?: as before)?)\)?", re.I
)
_ASIDE = re.compile(
    r"\((?P<a>[^()]*)\)|\*+(?P<b>[^*]+)\*+|\[(?P<c>[^\[\]]*)\]|(?:note|nb|n\.b\.|hint)\s*:\s*(?P<d>.+)|"
    r"(?:[-=]+>|→|⇒)\s*(?P<e>.+)|(?-i:NB|N\.B\.)\s+(?P<f>.+)",
    re.I,
)
_AT_MARGIN = re.compile(r"\s*((?:[A-Z][a-z]{1,3}|[A-Z]{2,4})\.?\s?[1-9]?:?)\s{2,}(?=\S)")  # a short name before chords
_BULLET = re.compile(r"[-*•‣◦–]\s+")


@dataclass(frozen=True, slots=True)
class LineMeaning:
    """A line with its kind; `chords`, `heading`, `again`, `aside`, `jump` or `ending` say what it means."""

    line: SheetLine
    kind: LineKind
    chords: ChordLine | None = None
    heading: Heading | None = None
    again: tuple[Heading, ...] | None = None  # as in `again_of`
    aside: str = ""
    jump: Jump | None = None
    ending: int = 0


def meanings_of(lines: tuple[SheetLine, ...], habits: Habits | None = None) -> tuple[tuple[LineMeaning, ...], Habits]:
    """Return what each line is, and how the sheet writes chords. A heading with chords behind it becomes two lines."""
    habits = habits_of(chord_candidates(lines)) if habits is None else habits
    short = short_names_of(lines, habits)
    found: list[LineMeaning] = []
    names: set[str] = set()
    open_places: list[int] = []
    for index, line in enumerate(lines):
        under_chords = bool(found) and found[-1].kind == "chords"
        if line.number in short.alone:
            found.append(_heading(line, short.alone[line.number]))
            names.add(short.alone[line.number].name)
            continue
        again = called_again(line.text, sorted(names)) if names and not under_chords else None
        if again is not None:
            found.append(_heading(line, again))
            continue
        new = _meanings(line, lines[index + 1 :], found, habits, short)
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
    line: SheetLine, after: Sequence[SheetLine], before: Sequence[LineMeaning], habits: Habits, short: ShortNames
) -> tuple[LineMeaning, ...] | None:
    """Return what one line is, or the two things on it; None where its neighbours must decide."""
    text = line.text.strip()
    if not text:
        return (LineMeaning(line, "blank"),)
    under_chords = before[-1].kind == "chords" if before else False
    reading = read_chords(line, habits)
    opened = text[:1] in ("[", "(") and reading.certain and bool(reading.cues)
    named = _named(line, after, habits, short, under_chords=False) if opened else None
    if named is not None and [m.kind for m in named] == ["heading", "chords"]:  # [Outro] [G] [D] (once)
        return named
    letter = _LETTER.fullmatch(text)
    if letter is not None and _begins_with_chords(after, habits):
        return (_heading(line, Heading(f"Part {letter[1]}")),)
    known = any(m.heading is not None and m.heading.name == "Ritornello" for m in before)
    refrain = _RITORNELLO.fullmatch(text)
    if refrain is not None and not under_chords and (known or _begins_with_chords(after, habits)):
        named_so = heading_of(f"Ritornello {refrain['rest']}")
        if named_so is not None and (known or not refrain["rest"]):
            return (_heading(line, replace(named_so[0], remark=named_so[1] or named_so[0].remark)),)
    if (
        (PAGE.search(text) or PRINTED.fullmatch(text))
        and not under_chords
        and any(meaning.kind != "blank" for meaning in before)
    ):
        return (LineMeaning(line, "remark"),)
    if states_order(text):
        return (LineMeaning(line, "fact"),)
    if _CHORD_LIST.fullmatch(text) and _is_said_in_head(before, after, habits):
        return (LineMeaning(line, "words"),)  # which chords the song has
    if is_tablature(text):
        return (LineMeaning(line, "tablature"),)
    if reading.cues and text[:3].lower() == "in " and is_fact(text):
        return (LineMeaning(line, "fact"),)  # In F
    if reading.certain and not reading.strays and not (text.endswith(":") and len(text) <= 3):
        return (_chords(line, reading),)
    if _PLAYED_HERE.fullmatch(text) and before and before[-1].kind not in ("blank", "heading"):
        return (LineMeaning(line, "cue", aside=text.strip("() ")),)
    led = () if under_chords else _leading(line, text, after, habits)
    if led:
        return led
    named = _named(line, after, habits, short, under_chords=under_chords) or _coloned(line, habits)
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


def _leading(line: SheetLine, text: str, after: Sequence[SheetLine], habits: Habits) -> tuple[LineMeaning, ...]:
    """Return what a line says of the way through the song: a jump, an ending, a sign, a chain; else nothing."""
    if not _begins_with_chords(after, habits) and (jump := jump_of(text)) is not None:
        return (LineMeaning(line, "jump", jump=jump),)
    ending = ending_of(line.padded)
    if ending is not None:
        behind = line.cut(ending[1])
        label = LineMeaning(line.up_to(ending[1]), "ending", aside=text, ending=ending[0])
        if not behind.text.strip() and _begins_with_chords(after, habits):
            return (label,)
        if behind.text.strip() and (said := read_chords(behind, habits)).certain and not said.strays:
            return label, _chords(behind, said)
    if landmark_of(text) is not None:
        return (LineMeaning(line, "cue", aside=text.strip("()[] ")),)
    chain = () if _begins_with_chords(after, habits) else chain_of(text)
    if chain:
        return tuple(
            _heading(line, step) if reference_of(step.remark) else LineMeaning(line, "again", again=(step,))
            for step in chain
        )
    return ()


def _is_said_in_head(before: Sequence[LineMeaning], after: Sequence[SheetLine], habits: Habits) -> bool:
    """Return whether chords stand behind a line of the sheet, and neither chords nor names before it."""
    return all(m.kind in ("blank", "fact", "words") for m in before) and any(
        read_chords(line, habits).certain for line in after
    )


def _coloned(line: SheetLine, habits: Habits) -> tuple[LineMeaning, ...] | None:
    """Return a name in any language with nothing but chords behind its colon: `Amen:  Bb  F`."""
    match = _BEFORE_CHORDS.match(line.padded)
    if match is None or is_fact(line.text):
        return None
    behind = line.cut(match.end())
    reading = read_chords(behind, habits)
    if not reading.certain or reading.strays or len(reading.marks) < 2:
        return None
    return _heading(line, Heading(own_name(f"[{match[1]}]") or match[1])), _chords(behind, reading)


def _begins_with_chords(lines: Sequence[SheetLine], habits: Habits) -> bool:
    return bool(lines) and read_chords(lines[0], habits).certain


def _plain_meaning(line: SheetLine, text: str) -> LineMeaning:
    """Return what a line is that has neither chords nor a name, and stands under no chords."""
    if is_fact(text) or states_rights(text):
        return LineMeaning(line, "fact")
    if _REMARK.fullmatch(text) or names_jump(text):
        return LineMeaning(line, "remark")
    if _DIRECTION.fullmatch(text) and len(text.split()) <= MOST_WORDS:
        return LineMeaning(line, "cue", aside=text.strip("*-= "))
    framed = _FRAMED.fullmatch(text)
    if framed is not None:  # -- end on C --
        return LineMeaning(line, "cue", aside=framed[1])
    aside = _ASIDE.fullmatch(text) or _ASIDE.fullmatch(_BULLET.sub("", text))
    if aside is not None:
        said = next(g for g in aside.groups() if g is not None).strip()
        return LineMeaning(line, "cue", aside=said) if said else LineMeaning(line, "blank")
    return LineMeaning(line, "words" if any(c.isalnum() for c in text) else "blank")


def _named(
    line: SheetLine, after: Sequence[SheetLine], habits: Habits, short: ShortNames, *, under_chords: bool
) -> tuple[LineMeaning, ...] | None:
    """Return a heading, with what stands behind it on its line."""
    text = line.text.strip()
    numbered = slide_of(text)
    if numbered:  # Slide 2 - Chorus
        start = len(line.text) - len(line.text.lstrip()) + numbered
        slide = LineMeaning(line.up_to(start), "remark")
        if numbered == len(text):
            return None if under_chords else (slide,)
        named = _named(line.cut(start), after, habits, short, under_chords=under_chords)
        return None if named is None else (slide, *named)
    margin = _AT_MARGIN.match(line.padded)
    found = _at_margin(line, margin, habits) or _heading_in(text, short)
    if found is None:
        return None
    heading, rest = found
    inside = None if under_chords else _chords_in_remark(line, rest or heading.remark, habits)
    if inside is not None:  # Intro - piano alone (G C/G x2)
        remark = rest[: rest.rfind("(")].strip(" -–—:,;") if rest else ""
        return _heading(line, replace(heading, remark=remark)), inside
    if not rest:
        sung = under_chords and not _signed(text) and (text.islower() or is_short(text))
        return None if sung else (_heading(line, heading),)
    behind = line.cut(_column_of(line, rest))
    reading = read_chords(behind, habits)
    head = _heading(line, heading)
    if reading.certain or reading.possible:
        return head, _chords(behind, _from_first_column(reading, after))
    own = heading_of(rest)
    parted = any(c in text[: len(text) - len(rest)] for c in ":=")
    if own is not None and not own[1] and parted and not under_chords:  # Interlude: = Intro
        return (_heading(line, replace(heading, remark=f"= {rest}")),)
    if number_of(text) is not None:
        return None  # a verse's number before its words: for those who gather
    ended = not after or not after[0].cells
    followed = ended or heading.times > 1 or (rest[0] not in ",;" and _begins_with_chords(after, habits))
    if _SAME.fullmatch(rest) and not under_chords and _signed(text.removesuffix(rest).strip()):  # V2 same chords
        return (_heading(line, replace(heading, remark=rest)),)
    apart = not under_chords or (heading.times > 1 and text.split()[0].isupper())  # CHORUS x4, out on Am
    if len(rest.split()) <= MOST_WORDS and followed and apart and _set_apart(text, heading, rest):
        times, remark = said_behind(rest.strip(",;-–* "))  # Chorus, then fade; Last chorus - up a tone
        return (_heading(line, replace(heading, times=times or heading.times, remark=remark)),)
    if any(reference_of(part) or is_length(part) for part in re.split(r"[,;]\s*", rest)) or (
        again_of(rest) is not None and ":" in text
    ):
        return (_heading(line, replace(heading, remark=rest)),)
    if any(sign in text[: text.rfind(rest)] for sign in ":])}") or _DOTTED.match(text):
        return head, LineMeaning(behind, "words")
    return None


def _at_margin(line: SheetLine, margin: re.Match[str] | None, habits: Habits) -> tuple[Heading, str] | None:
    """Return a short name at the margin of a line of chords, and the chords: `Ch   C   G`."""
    if margin is None:
        return None
    reading = read_chords(line.cut(margin.end()), habits)
    found = heading_of(f"{margin[1].rstrip(':.')}:")
    if found is None or found[1] or not reading.certain or reading.strays:
        return None
    return found[0], line.part(margin.end()).strip()


def _chords_in_remark(line: SheetLine, remark: str, habits: Habits) -> LineMeaning | None:
    """Return the chords, two or more, that what is said of a section ends with, in parentheses."""
    said = remark.rstrip(" .:")
    inner = said[said.rfind("(") + 1 :].rstrip(")") if "(" in said and said.endswith(")") else said
    start = line.padded.rfind(inner) if inner else -1
    if start < 1 or not any(c in line.padded[:start] for c in "(["):
        return None
    behind = line.cut(start).up_to(start + len(inner))
    reading = read_chords(behind, habits)
    return _chords(behind, reading) if reading.certain and not reading.strays and len(reading.chords) > 1 else None


def _from_first_column(reading: ChordLine, after: Sequence[SheetLine]) -> ChordLine:
    """Move chords side by side to the left where the words under them begin under the name before the chords."""
    first = reading.marks[0].column if reading.marks else 0
    begins = len(after[0].text) - len(after[0].text.lstrip()) if after and after[0].cells else first
    if not reading.packed or begins >= first:
        return reading
    return replace(reading, marks=tuple(replace(m, column=m.column - first + begins) for m in reading.marks))


def _heading_in(text: str, short: ShortNames) -> tuple[Heading, str] | None:
    """Take a heading and what stands behind it: a known name, the number of a verse, a letter where parts have them."""
    lettered = short.behind(text)
    if lettered is not None:
        return lettered
    found = heading_of(text)
    number = number_of(text)
    if found is None and number is not None:
        return Heading(f"Verse {number[0]}"), text[number[1] :]
    return found


def _set_apart(text: str, heading: Heading, rest: str) -> bool:
    """Return whether a comma, a dash or a count stands between a name and what is said of it."""
    before = text[: text.rfind(rest)].rstrip()
    apart = before[-1:] in ("-", "–", "—", ",", ";", "*") or heading.times > 1
    return apart or rest[0] in ",;-–" or text[: text.rfind(rest)].endswith("   ")


def _signed(text: str) -> bool:
    """Return whether signs, a number or capitals make a name a heading, even right under chords."""
    return any(c in text for c in "[]:()#*-=") or text[-1:].isdigit() or text[:1].isdigit() or text.isupper()


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
