"""Facts that are written otherwise: German keys, tempos with their units, hairpins, Italian words.

Each function takes the text of a fact that does not parse; gives a hint (which may be empty) and, where that is
certain, what the text means. None is asked while all is well.
Patterns are texts, compiled when first used: see slips.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from arranger.song.problems import Problems

Otherwise = tuple[str, str | None]
Guess = Callable[[str, Problems], Otherwise]

_GERMAN_KEY = r"(?i)[Hh](?:[ -]?(?:dur|(moll))|(m)?)\b"
_LOWER_MINOR = r"([a-g])([#b]?) ?(m|min|minor)"
_LOWER_KEY = r"[a-g][#b]?(?: ?maj(?:or)?)?"
_SPELLED_KEY = r"(?i)([A-G])[ -](flat|sharp)(?:[ -](?:(major|maj)|(minor|min|m)))?"
_DUR_MOLL = r"(?i)([A-G])(is|es|s)?[ -]?(?:dur|(moll))"
_MODES = r"(?i)([A-G][#b]?) (dorian|phrygian|lydian|mixolydian|aeolian|locrian|ionian)"
_SIGNS = r"(?i)[0-9] (?:sharps?|flats?|#|b)"


def nothing(text: str, problems: Problems) -> Otherwise:
    """Know no other way."""
    return "", None


def key(text: str, problems: Problems) -> Otherwise:
    """Know keys in words, in German, with small letters; and what is no key.

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
    if re.fullmatch(_SIGNS, text):
        return "write the name of the key: two sharps are `key D` or `key Bm`", None
    if "," in text or " to " in text or "/" in text:
        return "a key that changes stands in the section where it changes", None
    return "", None


def _key_meant(text: str) -> str:
    lower = re.fullmatch(_LOWER_MINOR, text)
    if lower:
        return f"{lower[1].upper()}{lower[2]}m"
    spelled = re.fullmatch(_SPELLED_KEY, text)
    if spelled:
        return f"{spelled[1].upper()}{'b' if spelled[2].lower() == 'flat' else '#'}{'m' if spelled[4] else ''}"
    german = re.fullmatch(_DUR_MOLL, text)
    if german and german[1].upper() != "B":  # the German B is B flat, or was typed by who calls it so
        sign = {"": "", "is": "#", "es": "b", "s": "b"}[(german[2] or "").lower()]
        return f"{german[1].upper()}{sign}{'m' if german[3] else ''}"
    return ""


_METERS = {
    "c": "4/4", "common": "4/4", "common time": "4/4", "¢": "2/2", "cut": "2/2", "cut time": "2/2",
    "alla breve": "2/2", "waltz": "3/4", "waltz time": "3/4",
}  # fmt: skip
_LOOSE_METER = r"([0-9]{1,2})\s*(?:/|[:\-. ])\s*(2|4|8)(?:\s+time)?"


def meter(text: str, problems: Problems) -> Otherwise:
    """Know meters in words, and with another sign than the slash.

    >>> meter("6:8", Problems())
    ('write `meter 6/8`', '6/8')
    """
    loose = re.fullmatch(_LOOSE_METER, text)
    better = f"{loose[1]}/{loose[2]}" if loose else _METERS.get(" ".join(text.lower().split()))
    if better is None and text in ("2", "3", "4", "5"):
        return f"write `meter {text}/4` for {text} quarters in a bar", None
    return (f"write `meter {better}`" if better else "", better)


_NUMBER = r"[0-9]+"
# 72 bpm, ♩ = 72, quarter = 72, q. = 60, ca. 72: numbers of beats with their unit in other words.
_OTHER_TEMPO = (
    r"(?i)(?:(?P<unit>♩|quarter|crotchet|half|minim|q)\s*(?P<dot>\.?)\s*=\s*)?(?:ca?\.?\s*)?"
    r"[0-9]{2,3}\s*(?:bpm|b\.p\.m\.|beats(?: a minute)?)?"
)


def tempo(text: str, problems: Problems) -> Otherwise:
    """Know tempos with their unit.

    >>> tempo("♩. = 60", Problems())
    ('write `tempo dotted 60`: the number counts beats a minute', 'dotted 60')
    """
    numbers = re.findall(_NUMBER, text)
    if len(numbers) > 1:
        return f"one number: `tempo {numbers[0]}`", None
    if not numbers:
        if text.lower().startswith(("rit", "rall", "accel", "slower", "slowing", "slow down", "faster")):
            return "say to what tempo it comes: `rit to 60`", None
        why = "write a number of beats a minute, such as `tempo 60`, or `tempo free`; words of manner stand in `cue`"
        return (why if text else ""), None
    known = re.fullmatch(_OTHER_TEMPO, text)
    unit = next((f"{u} " for u in ("dotted", "half") if u in text.lower()), "")
    if known and known["unit"]:
        unit = "dotted " if known["dot"] else "half " if known["unit"].lower() in ("half", "minim") else ""
    better = f"{unit}{numbers[0]}"
    return f"write `tempo {better}`: the number counts beats a minute", better if known else None


_FEELS = {"swung": "swing", "shuffle": "swing", "half time": "half-time", "halftime": "half-time", "even": "straight"}


def feel(text: str, problems: Problems) -> Otherwise:
    """Know other words for the three feels."""
    word = text.lower()
    guess = _FEELS.get(word) or next(iter(problems.nearest(text, ("straight", "swing", "half-time"))), "")
    certain = word in ("swung", "half time", "halftime")
    return (f"write `feel {guess}`" if guess else "", guess if certain else None)


_LEVELS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
_DYNAMICS = {
    "soft": "p", "quiet": "p", "softly": "p", "piano": "p", "medium": "mf", "mezzo forte": "mf", "mezzo piano": "mp",
    "loud": "f", "forte": "f", "crescendo": "cresc", "cresc.": "cresc", "diminuendo": "dim", "dim.": "dim",
    "decresc": "dim", "decrescendo": "dim", "sf": "sfz", "fz": "sfz", "sforzando": "sfz", "m": "mf",
}  # fmt: skip
# Of these, words and signs that have but one printed form.
_CERTAIN = frozenset(("mezzo forte", "mezzo piano", "forte", "crescendo", "cresc.", "diminuendo", "dim.", "sforzando"))
_HAIRPIN = r"(?i)[mpf]{1,3}\s*(?:[<>]|->|→)\s*[mpf]{1,3}"


def dynamic(text: str, problems: Problems) -> Otherwise:
    """Know Italian and English words, and hairpins between two levels.

    >>> dynamic("p < f", Problems())
    ('write `dynamic p to f`', 'p to f')
    """
    written = text.lower().strip()
    word = _DYNAMICS.get(written, "")
    ends = [w for w in re.split(r"[\s<>\-–→]+|to", written) if w in _LEVELS]
    if not word and len(ends) == 2:
        word = " to ".join(ends)
    if not word:
        word = next(iter(problems.nearest(text, ("cresc", "dim", "sfz", *_LEVELS))), "")
    certain = bool(word) and (written in _CERTAIN or (re.fullmatch(_HAIRPIN, written) is not None and len(ends) == 2))
    return (f"write `dynamic {word}`" if word else "", word if certain else None)


def switch(word: str, text: str) -> Otherwise:
    """Know other words for on and off; `word` is the fact's."""
    if "|" in text:
        return "a row of notes begins with `octave`: `octave | A3 F# |`", None
    better = {"yes": "on", "no": "off", "none": "off", "true": "on", "false": "off"}.get(text.lower())
    return (f"write `{word} {better}`" if better else "", better)


_LOOSE_CAPO = r"(?i)([0-9]{1,2})(?:st|nd|rd|th)?(?: fret)?,? +(?:in +)?(?:key of +)?([A-Ga-g])([#b]?m?)"


def capo(text: str, problems: Problems) -> Otherwise:
    """Know a fret and a key with other words between them."""
    loose = re.fullmatch(_LOOSE_CAPO, text)
    if loose is not None:
        better = f"{loose[1]} in {loose[2].upper()}{loose[3].lower()}"
        return f"write `capo {better}`", better
    numbers = re.findall(_NUMBER, text)
    if numbers:
        return f"write `capo {numbers[0]} in C`, with the key of the chords as they are written", None
    return "", None
