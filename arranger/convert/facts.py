"""Key, capo, tempo, meter and feel in plain words. Takes a line; gives the facts, and what is left of the line.

`Key of G`, `Capo 2nd fret`, `♩ = 72`, `Time: 3/4`, `E-Dur`, `about 100 bpm`.
"""

from __future__ import annotations

import re
from dataclasses import replace

from arranger.convert.model import Facts
from arranger.song.bars import MOST_BEATS
from arranger.song.facts import FASTEST, MOST_FRETS, SLOWEST
from arranger.song.grammar import with_own_signs
from arranger.song.model import Meter
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

_NOTE = r"(?P<note>[A-Ha-h])(?P<sign>#|b|is|es|s(?=[ \-]|$)|[ -](?:sharp|flat))?"
_MODE = r"(?P<mode>[ \-]?(?:maj(?:or)?|min(?:or)?|moll|dur)\b|m\b)?"
_KEY = re.compile(
    rf"\b(?:(?:original |song )?key(?: of| is|:of)?|tonart|tonality|ton(?:alité)?)\s*[:=\-–]?\s*(?:of\s+|in\s+)?"
    rf"{_NOTE}{_MODE}(?![\w#])",
    re.I,
)
_CHANGE = re.compile(
    rf"\b(?:key change|change (?:of )?key|new key|modulates?|modulation|key)\s*(?:(?:up|down)\s+)?"
    rf"(?:to|of|[:=\-–>→]+)?\s*(?:to\s+)?{_NOTE}{_MODE}(?![\w#'])",
    re.I,
)
_IN_KEY = re.compile(rf"(?:^|[(\[,;|]|\s{{2,}})\s*in (?:the key of )?{_NOTE}{_MODE}\s*(?=$|[)\],;|]|\s{{2,}})", re.I)
_BESIDE = re.compile(rf"[(\[]{_NOTE}{_MODE}[)\]]\s*$")  # behind a title: Tin Roof [Bb]
_NAMED_KEY = re.compile(rf"(?:^|[\s(]){_NOTE}[ \-](?P<mode>dur|moll|major|minor)\b", re.I)
_ALONE = re.compile(rf"^\s*{_NOTE}{_MODE}\s*(?=[,;|]|\s{{2,}}|$)")  # among other facts: `C, 4/4, 104 bpm`
_CAPO = re.compile(
    r"\bcapo(?:dastro|\.)?\s*(?:is\s+)?(?:at|on|in|[:=\-–])?\s*(?:the\s+)?(?:fret\s*)?(?P<fret>[0-9]{1,2}|"
    r"[ivx]{1,4}\b|first|second|third|fourth|fifth|sixth|seventh)(?:st|nd|rd|th)?\.?(?:\s*(?:fret|bund))?",
    re.I,
)
# What the guitarist's hands play under a capo, or the whole sheet without one: `play in G`, `G shapes`.
_SHAPES = (
    re.compile(
        rf"\b(?:play(?:s|ed|ing)?|shapes?|chords?)(?:\s+shapes?)?\s*(?:in|of|[:=])\s*(?:the key of\s+)?"
        rf"{_NOTE}{_MODE}(?![\w#'])",
        re.I,
    ),
    re.compile(rf"(?<![\w#]){_NOTE}{_MODE}\s+shapes?\b", re.I),
)
_NO_CAPO = re.compile(r"\b(?:no capo|capo\s*[:=]?\s*(?:none|no|0|off))\b", re.I)
_FRETS = {
    "first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "i": 1, "ii": 2, "iii": 3,
    "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9, "x": 10,
}  # fmt: skip
_UNIT = (
    r"(?P<unit>♩\s?\.?|\bdotted quarter|\bhalf(?: note)?|\bminim|\bquarter(?: note)?|\bdotted crotchet|"
    r"\bcrotchet|\bq\.?)"
)
_ABOUT = r"(?:about|around|c(?:a|irca)?\.?|~)?\s*"
_BPM = r"(?:bpm|b\.p\.m\.|beats(?: (?:a|per) minute)?)"
_TEMPO = (
    re.compile(
        rf"(?:\b(?:tempo|speed|bpm)\s*[:=]?\s*)?{_UNIT}\s*=\s*{_ABOUT}(?P<bpm>[0-9]{{2,3}})(?:\s*{_BPM})?", re.I
    ),
    re.compile(rf"\b(?:tempo|speed|bpm)\s*(?:[:=\-]|is|of)?\s*{_ABOUT}(?P<bpm>[0-9]{{2,3}})\b(?:\s*{_BPM})?", re.I),
    re.compile(rf"(?:\b(?:about|around|ca?\.?)\s*|~\s*)?\b(?P<bpm>[0-9]{{2,3}})\s*{_BPM}", re.I),
)
_METER = re.compile(
    r"(?:\b(?:time(?: signature)?|meter|metre|signature|sig\.?|takt|beat)\s*[:=\-]?\s*(?:is\s+|in\s+)?)?"
    r"\b(?P<beats>[0-9]{1,2})\s?/\s?(?P<unit>[248])\b(?:[- ]?(?:time|takt|beat))?",
    re.I,
)
_METER_WORDS = (  # only alone: a title may have a waltz in it
    (re.compile(r"(?:time\s*[:=]\s*)?(?:in )?(?:waltz|walzer)(?:[ -](?:time|takt))?", re.I), (3, 4)),
    (re.compile(r"(?:time\s*[:=]\s*)?common time", re.I), (4, 4)),
    (re.compile(r"(?:time\s*[:=]\s*)?cut (?:time|common)", re.I), (2, 2)),
)
_FEEL = re.compile(
    r"\b(?:feel|style|groove)\s*[:=]\s*(swing|swung|shuffle|straight|half[- ]time)\b|^(swing|swung)(?: feel)?$", re.I
)

SIGNS = " \t,;|•·-–—/()[].:"  # what parts facts on one line


def key_named(note: str, sign: str, mode: str) -> Key | None:
    """Make a key of a letter, its sign and its mode as typed; None where there is no such key."""
    letter = note.upper()
    sign = sign.strip(" -").lower()
    mark = {"is": "#", "sharp": "#", "es": "b", "s": "b", "flat": "b"}.get(sign, sign)
    mode = mode.strip(" -").lower()
    minor = mode.startswith("m") and not mode.startswith("maj")
    if note.islower() and mode not in ("maj", "major", "dur") and not mode:
        minor = True  # a small letter is a minor key where no mode is named
    key = Key(NoteName.parse(("B" if letter == "H" else letter) + mark), minor)
    return key if key.exists else key.enharmonic()


def _key_in(text: str, *, among: bool) -> tuple[Key, re.Match[str]] | None:
    signed = with_own_signs(text)
    for pattern in (_KEY, _IN_KEY, _NAMED_KEY, _BESIDE, *((_ALONE,) if among else ())):
        match = pattern.search(signed)
        if match is not None:
            key = key_named(match["note"], match["sign"] or "", match["mode"] or "")
            if key is not None:
                return key, match
    return None


def key_change_of(text: str) -> Key | None:
    """Return the key that music goes to: `Key change: A`, `modulate to Bb`, `Key: E`; None where a line says none.

    >>> str(key_change_of("(key change to A)")), key_change_of("key of the house")
    ('A', None)
    """
    match = _CHANGE.search(with_own_signs(text))
    return key_named(match["note"], match["sign"] or "", match["mode"] or "") if match is not None else None


def eat(text: str, facts: Facts, line: int) -> tuple[Facts, str]:
    """Take key, capo, tempo, meter and feel out of a line. Gives the facts and what is left of the text.

    >>> eat("Slow Boats  (Key: G, 3/4, 72 bpm)", Facts(), 1)[1]
    'Slow Boats'
    """
    rest = with_own_signs(text)
    found = facts
    capo = _CAPO.search(rest)
    if capo is not None:
        fret = _fret(capo["fret"])
        if fret is not None and not facts.capo:
            found = replace(found, capo=fret, capo_line=line)
            rest = _without(rest, capo)
    none = _NO_CAPO.search(rest)
    if none is not None:
        rest = _without(rest, none)
    for pattern in _TEMPO:
        tempo = pattern.search(rest)
        if tempo is not None and not found.tempo and SLOWEST <= int(tempo["bpm"]) <= FASTEST:
            found = replace(found, tempo=_unit(tempo) + str(int(tempo["bpm"])))
            rest = _without(rest, tempo)
    found, rest = _meter(found, rest)
    for pattern in _SHAPES if found.capo else ():
        shapes = pattern.search(rest)
        if shapes is not None and found.shapes is None:
            played = key_named(shapes["note"], shapes["sign"] or "", shapes["mode"] or "")
            found, rest = replace(found, shapes=played), _without(rest, shapes)
    key = _key_in(rest, among=found != facts)
    if key is not None and found.key is None:
        found = replace(found, key=key[0], key_line=line)
        rest = _without(rest, key[1])
    feel = _FEEL.search(rest.strip(SIGNS))
    if feel is not None and not found.feel:
        word = (feel[1] or feel[2]).lower()
        named = {"swung": "swing", "shuffle": "swing", "half time": "half-time"}.get(word, word)
        found, rest = replace(found, feel=named), _without(rest.strip(SIGNS), feel)
    if rest == with_own_signs(text):
        return facts, text
    return found, " ".join(rest.strip(SIGNS).split())


def _meter(found: Facts, rest: str) -> tuple[Facts, str]:
    meter = _METER.search(rest)
    if meter is not None and found.meter is None and 1 <= int(meter["beats"]) <= MOST_BEATS:
        return replace(found, meter=Meter(int(meter["beats"]), int(meter["unit"]))), _without(rest, meter)
    for pattern, (beats, unit) in _METER_WORDS:
        match = pattern.fullmatch(rest.strip(SIGNS))
        if match is not None and found.meter is None:
            return replace(found, meter=Meter(beats, unit)), ""
    return found, rest


def _unit(match: re.Match[str]) -> str:
    unit = (match.groupdict().get("unit") or "").lower()
    if "." in unit or "dotted" in unit:
        return "dotted "
    return "half " if unit.startswith(("half", "minim")) else ""


def _fret(text: str) -> int | None:
    number = int(text) if text.isdigit() else _FRETS.get(text.lower(), 0)
    return number if 1 <= number <= MOST_FRETS else None


def _without(text: str, match: re.Match[str]) -> str:
    before, after = text[: match.start()], text[match.end() :]
    return f"{before.rstrip(SIGNS)}  {after.lstrip(SIGNS)}".strip()


def is_fact(text: str) -> bool:
    """Return whether a line says nothing but facts: `Key: G  Capo 2`."""
    found, rest = eat(text, Facts(), 1)
    return found != Facts() and not rest.strip(SIGNS)
