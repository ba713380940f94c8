"""Read keys in people's own words: German names, Do Re Mi, small letters, with a mode; and where a key changes.

Patterns are texts, compiled when first used: see slips.py.
"""

from __future__ import annotations

import re

from arranger.habits.signs import ACCIDENTALS, Guess, with_own_signs
from arranger.text.problems import Problems
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

NOTE = r"(?P<note>[A-Ha-h])(?P<sign>#|b|is|es|s(?=[ \-]|$|dur|moll)|[ -](?:sharp|flat))?"
MODE = (
    r"(?P<mode>[ \-]?(?:maj(?:or|eur)?|ma[iy]or|maggiore|min(?:or|eur|ore)?|menor|moll[ei]?|dur|duuri|dúr|mażor|"
    r"мажор|минор|мінор)\b|m\b)?"
)
_MAJOR = ("maj", "may", "mai", "mag", "maż", "маж")  # how its words begin; all others with an m are minor
KEY = (
    rf"(?i)\b(?:(?:original |song )?key(?: of| is|:of)?|tone?art|toonsoort|toonaard|sävellaji|hangnem|tónina|"
    rf"tonacja|tonality|tonalidade?|tonalità|nada dasar|тональность|тональність|τόνος|τονικότητα|tông|tonalitate|"
    rf"キー|调|調|"
    rf"ton(?:alité)?|to[nm]o?(?=\s*:))\s*[:=\-–]?\s*(?:of\s+|in\s+)?"
    rf"{NOTE}{MODE}(?![\w#])"
)
_CHANGE = (
    rf"(?i)\b(?:key change|change (?:of )?key|new key|modulates?|modulation|key)\s*(?:(?:up|down)\s+)?"
    rf"(?:to|of|[:=\-–>→]+)?\s*[(]?(?:to\s+)?{NOTE}{MODE}(?![\w#'])"
)
IN_KEY = rf"(?i)(?:^|[(\[,;|]|\s{{2,}})\s*in (?:the key of )?{NOTE}{MODE}\s*(?=$|[)\],;|]|\s{{2,}})"
SUNG_KEY = (
    r"(?i)\b(?:ton[oe]?|tom|tonalit[éà]|tonalidade?)\s*:\s*(?P<sung>do|ré|re|mi|fa|sol|la|si)(?P<sign>#|b)?"
    r"(?:\s+(?P<mode>ma(?:yor|jeur|ggiore)|me?i?n(?:or|eur|ore)))?(?!\w)"
)
KEY_BESIDE = rf"[(\[]{NOTE}{MODE}[)\]]\s*$"  # behind a title: Tin Roof [Bb]
NAMED_KEY = rf"(?i)(?:^|[\s(]){NOTE}[ \-](?P<mode>dur|moll|major|minor)\b"
KEY_ALONE = rf"(?:^|[(\[])\s*{NOTE}{MODE}\s*(?=[,;|)\]]|\s{{2,}}|$)"  # among other facts: `C, 4/4, 104 bpm`
# What the guitarist's hands play under a capo, or the whole sheet without one: `play in G`, `G shapes`.
SHAPES_KEY = (
    r"(?i)\b(?:play(?:s|ed|ing)?|shapes?|chords?|spela|spill?|spielen?|gespielt|speel|jou(?:er|ez)|toca[rn]?|suona)"
    rf"(?:\s+shapes?)?\s*(?:in|of|i|en|[:=])\s*(?:the key of\s+)?"
    rf"{NOTE}{MODE}(?![\w#'])",
    rf"(?i)(?<![\w#]){NOTE}{MODE}\s+shapes?\b",
)
_GERMAN_KEY = r"(?i)[Hh](?:[ -]?(?:dur|(moll))|(m)?)\b"
_LOWER_KEY = r"[a-g][#b]?(?: ?maj(?:or)?)?"
_MODES = r"(?i)([A-G][#b]?) (dorian|phrygian|lydian|mixolydian|aeolian|locrian|ionian)"
_SHARPS = r"(?i)[0-9] (?:sharps?|flats?|#|b)"


def _parts(match: re.Match[str]) -> tuple[str, str, bool]:
    """Return the letter of a note, its sign, and whether its mode is minor."""
    sign, mode = (match["sign"] or "").strip(" -").lower(), (match["mode"] or "").strip(" -").lower()
    letter = match["note"].upper()
    return (
        "B" if letter == "H" else letter,
        ACCIDENTALS.get(sign, sign),
        mode[:1] in ("m", "м") and mode[:3] not in _MAJOR,
    )


_SUNG_NOTES = {"do": "C", "ré": "D", "re": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B"}


def sung_key_of(match: re.Match[str]) -> Key | None:
    """Return a key named Do Re Mi: `Sol mayor`."""
    minor = (match["mode"] or "").lower().startswith(("me", "mi"))
    key = Key(NoteName.parse(_SUNG_NOTES[match["sung"].lower()] + (match["sign"] or "").lower()), minor)
    return key if key.exists else key.enharmonic()


def key_of(match: re.Match[str]) -> Key | None:
    """Return the key that was found; None where there is no such key."""
    letter, sign, minor = _parts(match)
    # A small letter is a minor key where no mode is named.
    key = Key(NoteName.parse(letter + sign), minor or (match["note"].islower() and not match["mode"]))
    return key if key.exists else key.enharmonic()


def key(text: str, problems: Problems) -> Guess:
    """Return what a key is in words, in German, with small letters; and what is no key.

    >>> key("B flat", Problems())
    ('write `key Bb`', 'Bb')
    """
    german = re.match(_GERMAN_KEY, text)
    if german:
        return f"the note H is called B here: write `key B{'m' if german[1] or german[2] else ''}`", None
    better = _key_meant(text)
    if better:
        return f"write `key {better}`", better
    if re.fullmatch(_LOWER_KEY, text):
        return f"begin with a capital letter: `{text[0].upper()}{text[1:]}`", None
    if re.fullmatch(_MODES, text):
        return "write the major or minor key that has the same sharps or flats: `key C` for D dorian", None
    if re.fullmatch(_SHARPS, text):
        return "write the name of the key: two sharps are `key D` or `key Bm`", None
    if "," in text or " to " in text or "/" in text:
        return "a key that changes stands in the section where it changes", None
    return "", None


def _key_meant(text: str) -> str:
    """Return the key that a text names in words, in German, or with a small letter and its mode."""
    match = re.fullmatch(NOTE + MODE, text, re.IGNORECASE)
    if match is None:
        return ""
    letter, sign, minor = _parts(match)
    german = (match["mode"] or "").strip(" -").lower() in ("dur", "moll")
    if german and letter + sign == "B":  # the German B is B flat, or was typed by who calls it so
        return ""
    spelled = (match["sign"] or "") not in ("", "#", "b") or german or (match["note"].islower() and minor)
    return f"{letter}{sign}{'m' if minor else ''}" if spelled else ""


def key_change_of(text: str) -> Key | None:
    """Return the key that music goes to: `Key change: A`, `modulate to Bb`, `Key: E`; None where a line says none.

    >>> str(key_change_of("(key change to A)")), key_change_of("key of the house")
    ('A', None)
    """
    bare = with_own_signs(text)
    match = re.search(_CHANGE, bare) or re.fullmatch(IN_KEY, bare.strip(" ()[].,;"))
    return key_of(match) if match is not None else None
