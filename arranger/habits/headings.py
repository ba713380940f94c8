"""Read names of sections as sheets write them.

`Verse 1`, `VERSE 1:`, `[Chorus]`, `--- Bridge ---`, `V2.`, `Ch (x2)`, `Strophe 3`, `Final chorus`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from arranger.habits.section_names import NAMES, VERSES, cut_short
from arranger.habits.signs import COUNTS_TIMES, TIMES_WORDS, times_in_words, times_of


@dataclass(frozen=True, slots=True)
class Heading:
    """The name of a section as the sheet has it, how often it is played, what is said of it."""

    name: str
    times: int = 1
    remark: str = ""


# Short forms; they stand for the first word of the names.
SHORT_FORMS = {
    "v": "Verse", "vs": "Verse", "vrs": "Verse", "ch": "Chorus", "cho": "Chorus", "chor": "Chorus", "br": "Bridge",
    "pc": "Prechorus", "pre": "Prechorus", "int": "Intro", "inst": "Instrumental", "instr": "Instrumental",
    "ref": "Refrain", "r": "Refrain", "str": "Strophe", "out": "Outro", "c": "Chorus", "b": "Bridge",
    "refr": "Refrain", "zwr": "Zwrotka", "kv": "Kehrvers", "estr": "Estrofa",
}  # fmt: skip
SPARE_LETTERS = {"I": "Intro", "O": "Outro", "E": "Ending", "T": "Tag"}  # in an order of letters: I V C V C B C O
_ALONE = frozenset(("c", "b", "r", "v"))  # letters that need brackets, a colon or a number to be a name: or are chords
_BEFORE = (
    "last|final|first|second|third|1st|2nd|3rd|double|half|short|long|quiet|soft|loud|big|slow|guitar|piano|keys?|"
    "keyboard|sax|drum|bass|fiddle|violin|organ|flute|trumpet|band|instrumental|acoustic|a ?cappella|letzter|letzte"
)
_FIGURES = r"[#№]?\s?[0-9]{1,2}(?![0-9]|\s*(?:bars?|measures?|beats?|takte?)\b)[ab]?"
_NUMBER = (
    rf"(?:{_FIGURES}|(?<=[\s.\-])(?:[ivIV]{{1,4}}|one|two|three|four|five|[a-dA-D](?=\s*(?:$|[\])}}:(])))(?![a-zA-Z]))"
)
_OPEN, _CLOSE = r"[\[({<*#=\-–—_~|>•\s\"']*", r"[\])}>*#=\-–—_~|<\s:.\"']*"
COUNT = rf"\(?(?:[xX×]\s?[0-9]{{1,2}}|[0-9]{{1,2}}\s?[xX×](?![^\W\d_])|{TIMES_WORDS})\)?"
_HEADING = re.compile(
    rf"(?P<open>{_OPEN})(?P<name>(?:(?:{_BEFORE})\s+)?(?:{NAMES})(?:\s*[&+/]\s*{_NUMBER})?(?:[ .\-]*{_NUMBER}"
    rf"(?:\s*(?:[&+/,]|and)\s*{_NUMBER})*)?)(?![^\W\d_]|['’])(?P<after>.*)",
    re.IGNORECASE,
)
_ORDINALS = {"first": "1", "second": "2", "third": "3", "fourth": "4", "fifth": "5", "erste": "1", "zweite": "2"}
_NUMBER_FIRST = re.compile(
    rf"(?P<open>{_OPEN})(?P<number>(?<!#)[0-9]{{1,2}}(?:\.|st|nd|rd|th|er|ère|ème|e)?|{'|'.join(_ORDINALS)})\s+"
    rf"(?P<name>{VERSES}|chorus|refrain|bridge)(?P<after>(?![^\W\d_]).*)",
    re.IGNORECASE,
)
_SHORTENED = re.compile(
    rf"(?P<open>{_OPEN})(?P<name>{'|'.join(sorted(SHORT_FORMS, key=len, reverse=True))})(?P<dot>\.?)\s?"
    rf"(?P<number>[0-9]{{1,2}}(?!{COUNTS_TIMES}))?(?P<mark>[\])}}>:.*=~_\s\-–—]*)(?P<after>.*)",
    re.IGNORECASE,
)
# A name cut short with a dot: `Omkv.`, `Säk. 2:`.
_CUT = re.compile(
    rf"(?P<open>{_OPEN})(?P<name>[^\W\d_]{{3,12}})\.\s?(?P<number>[0-9]{{1,2}}(?!{COUNTS_TIMES}))?"
    rf"(?P<after>[\])}}>:.*=~_\s\-–—]*(?:\W*{COUNT}.*|\(.*|[:\-–—=].*)?)",
    re.IGNORECASE,
)
_LETTERED = re.compile(r"[\[(]?\s*([A-H])\s*(?:[\])]\s*:?|[:)])\s*(.*)")
_PART = re.compile(
    rf"(?P<open>{_OPEN})(?:the\s+)?(?P<letter>[A-H])[\s\-](?P<word>part|section|strain|teil)"
    r"(?=\s*(?:$|[\])}>:*=~_.(\[\-–—,]|[xX×]\s?[0-9]|[0-9]\s?[xX×]))(?P<after>.*)",
    re.IGNORECASE,
)
_ROMAN_NUMBER = re.compile(r"[\[(]?(I{1,3}|IV|VI{0,3}|IX|X)[.):\]]+")
_LENGTH = re.compile(r"\(?[0-9]{1,2}\s*(?:bars?|measures?|beats?|takte?)\b.*", re.IGNORECASE)
_PARTED = re.compile(r"\s*[,;]\s*|\s+[-–—/]\s+")
_NUMBERED = re.compile(r"[\[(]?([1-9][0-9]?)\s*[.):\]]+\s*")
_OWN = re.compile(r"\[([^\[\]|]{2,40})\]\s*:?\s*")
_FRAMED = re.compile(
    r"(?:-{2,}|={2,}|\*{2,}|_{2,}|~{2,}|#{2,})\s*([^\-=*_~#|]{2,40}?)\s*(?:-{2,}|={2,}|\*{2,}|_{2,}|~{2,}|#{2,})"
)
_SAME = frozenset(
    (
        "ditto",
        "dto.",
        "dto",
        "dito",
        "idem",
        "again",
        "repeat",
        "once more",
        "as before",
        "same as before",
        "as above",
        "reprise",
    )
)
_SAID = r"[(\[]([^()\[\]]*)[)\]]\s*[:\]*=\-]*"  # what is said of a section, in brackets behind its name
_NUMERALS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5"}
_ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4", "v": "5", "vi": "6"}


def heading_of(text: str) -> tuple[Heading, str] | None:
    """Return a heading and what stands behind it on its line; None where a line is no heading.

    What stands behind is not judged here: `Verse 1: G  D` has chords there, `Bridge over the river` is no heading,
    which the one who asks sees from the rest.

    >>> heading_of("[VERSE 1]"), heading_of("Ch. (x2)")
    ((Heading(name='Verse 1', times=1, remark=''), ''), (Heading(name='Chorus', times=2, remark=''), ''))
    """
    line = _with_number_last(text.strip())
    match = _HEADING.fullmatch(line)
    if match is not None:
        return _headed(_cased(match["name"]), match["after"], bool(match["open"].strip()))
    cut = _CUT.fullmatch(line)
    if cut is not None and cut["name"].lower() not in SHORT_FORMS and (whole := cut_short(cut["name"])):
        name = f"{whole.capitalize()} {cut['number'] or ''}".strip()
        return _headed(name, cut["after"], bool(cut["open"].strip()))
    short = _SHORTENED.fullmatch(line)
    if short is None or not _is_short_name(
        short["name"], short["number"], short["dot"] + short["mark"], short["after"]
    ):
        return _framed_or_lettered(line)
    name = f"{SHORT_FORMS[short['name'].lower()]} {short['number'] or ''}".strip()
    return _headed(name, short["mark"] + short["after"], bool(short["open"].strip()))


def _is_short_name(name: str, number: str | None, mark: str, after: str) -> bool:
    """Return whether a short form is a name: by its number, by the signs or the count behind it, or alone."""
    chord_like = name.lower() in _ALONE and not number and not mark.startswith(":")
    may_be_chord = chord_like and not (name == "R" and mark.startswith(".") and not after)
    counted = re.match(rf"{COUNT}(?![\w#])", after, re.IGNORECASE) is not None
    said = re.fullmatch(_SAID, after.strip()) is not None  # Ch (in A)
    signed = counted or said or mark.strip() or number or not after.strip()
    ended = counted or mark or not after[:1].isalpha()
    return bool(signed and ended and not may_be_chord)


def is_short(text: str) -> bool:
    """Return whether a name is a short form without a sign around it: `Ch`, or the word `Out`."""
    return text.strip().lower() in SHORT_FORMS


def _with_number_last(line: str) -> str:
    """Set the number behind the name: `1. Strophe`, `2nd Verse`, `First verse`."""
    match = _NUMBER_FIRST.fullmatch(line)
    if match is None:
        return line
    number = _ORDINALS.get(match["number"].lower(), re.sub(r"\D", "", match["number"]))
    return f"{match['open']}{match['name']} {number}{match['after']}"


def _framed_or_lettered(line: str) -> tuple[Heading, str] | None:
    """Return a letter that is a name (`A:`), or any name in a frame of signs, and what stands behind it."""
    part = _PART.fullmatch(line)
    if part is not None:  # A part
        return _headed(f"{part['letter'].upper()} {part['word'].lower()}", part["after"], bool(part["open"].strip()))
    framed = _FRAMED.fullmatch(line)
    if framed is not None:
        return Heading(_cased(_without_signs(framed[1]))), ""
    lettered = _LETTERED.fullmatch(line)
    if lettered is not None and ":" in line:
        return Heading(f"Part {lettered[1]}"), lettered[2]
    return None


def own_name(text: str) -> str | None:
    """Return a name in square brackets that no list knows: `[Bit with the fiddle]`."""
    match = _OWN.fullmatch(text.strip())
    if match is None or not any(c.isalpha() for c in match[1]):
        return None
    return _cased(_without_signs(match[1]))


def number_of(text: str) -> tuple[int, int] | None:
    """Return a verse's number at the start of a line, and how many characters it takes.

    >>> number_of("2. Out on the water")
    (2, 3)
    """
    match = _NUMBERED.match(text)
    if match is None and (roman := _ROMAN_NUMBER.fullmatch(text.strip())) is not None:
        return ("I II III IV V VI VII VIII IX X".split().index(roman[1]) + 1, len(text))  # noqa: SIM905
    return (int(match[1]), match.end()) if match else None


def _headed(name: str, after: str, opened: bool) -> tuple[Heading, str]:
    """Return a name with how often and what is said of it, and what else stands on the line."""
    rest = after.strip()
    lead = re.match(r"[\])}>*#=\-–—_~|<\s:.\"']+", rest)
    signed = lead is not None and any(c in lead[0] for c in ":])}")
    if lead is not None:
        rest = rest[lead.end() :] if "|" not in lead[0] else rest[lead[0].index("|") :]
    rest = rest.strip()
    times = 1
    whole = re.fullmatch(_SAID, rest)  # CHORUS (x2, all in)
    count = re.match(rf"\s*({COUNT})(?![\w#])\s*[,;:]?(?:\s*[-–—])?", rest, re.IGNORECASE) if whole is None else None
    if count is not None:
        times = times_said(count[1]) or 1
        rest = rest[count.end() :].strip()
    end = re.fullmatch(_CLOSE, rest)
    if end is not None:
        return Heading(name, times), ""
    said = whole or re.fullmatch(_SAID, rest)
    if said is not None:
        more, remark = said_behind(said[1])
        return Heading(name, more or times, remark), ""
    shut = lead is not None and any(c in lead[0] for c in "])}")
    if opened and not (signed and shut):
        closed = re.fullmatch(r"([^\])}|]*)[\])}]+\s*:?(.*)", rest)
        if closed is not None:  # [Verse 1 - softly]
            more, remark = said_behind(closed[1].strip(" -–—:,"))
            return Heading(name, more or times, remark), closed[2].strip()
    return Heading(name, times), rest


def said_behind(text: str) -> tuple[int, str]:
    """Part what is said behind a name into how often it is played (0: not said) and a remark for the player.

    >>> said_behind("x2, drop out 1st time"), said_behind("softly"), said_behind("again")
    ((2, 'drop out 1st time'), (0, 'softly'), (0, ''))
    """
    times = 0
    said: list[str] = []
    for piece in _PARTED.split(text.strip(" ()[]")):
        count = re.match(rf"(?:(?:sing|play|repeat)\s+)?({COUNT})(?![\w#])[\s:]*", piece, re.IGNORECASE)
        if count is not None and not times:
            times, piece = times_said(count[1]), piece[count.end() :]
        if piece.strip() and piece.strip().lower() not in _SAME:
            said.append(piece.strip())
    return times, ", ".join(said) if times or not said else text.strip()


def is_length(text: str) -> bool:
    """Return whether a text says how long a section is: `4 bars`."""
    return _LENGTH.fullmatch(text.strip()) is not None


def times_said(text: str) -> int:
    """Return how often something is played, in figures or words; 0 where nothing says so."""
    word = text.strip(" ()[]").lower()
    return times_of(word) or times_in_words(word)


def _without_signs(name: str) -> str:
    """Take out of a name what has a meaning in a roadmap."""
    return " ".join(re.sub(r"[,()|:]+", " ", name).split())


def _cased(name: str) -> str:
    """Return a name as it is printed: not all in capitals, its number in figures, one blank before it."""
    name = " ".join(_without_signs(name).split())
    match = re.fullmatch(rf"(.*?[^\W\d_])[ .\-]*({_NUMBER})", name, re.IGNORECASE)
    number = ""
    if match is not None and not re.fullmatch(rf"(?:{NAMES})", name, re.IGNORECASE):
        number = match[2].strip("#№ ")
        number = _NUMERALS.get(
            number.lower(), _ROMAN.get(number.lower(), number.upper() if number.isalpha() else number)
        )
        name = match[1].strip()
    if name.isupper():
        name = " ".join(word.capitalize() for word in name.split())
    elif name.islower():
        name = name.capitalize()
    return f"{name} {number}".strip()


def base_of(name: str) -> str:
    """Return a name without its number and without case: `Verse 2` and `verse` are of one kind.

    >>> base_of("Verse 2"), base_of("Final Chorus")
    ('verse', 'chorus')
    """
    folded = re.sub(rf"^(?:{_BEFORE})\s+", "", " ".join(name.split()).casefold())
    folded = re.sub(r"(?:\s+again|\s*[0-9]+[ab]?(?![0-9]))+$", "", folded)
    return {"verses": "verse", "pre-chorus": "prechorus", "pre chorus": "prechorus"}.get(folded, folded)
