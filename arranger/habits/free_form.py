"""Read key, capo, tempo, meter, feel and dynamics in people's own words: German keys, tempos with their unit, hairpins.

`FREE_FORMS` takes what stands after a word of the notation and does not parse; it gives a hint (which may be empty)
and, where that is certain, what the text means. `facts_in` finds facts in a line of a sheet: `Key of G`, `Capo 2nd
fret`, `♩ = 72`, `E-Dur`. Patterns are texts, compiled when first used: see slips.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from typing import Any

from arranger.habits.bounds import FASTEST, MOST_BEATS, MOST_FRETS, SLOWEST
from arranger.habits.key_names import (
    IN_KEY,
    KEY,
    KEY_ALONE,
    KEY_BESIDE,
    MODE,
    NAMED_KEY,
    NOTE,
    SHAPES_KEY,
    SUNG_KEY,
    key,
    key_of,
    sung_key_of,
)
from arranger.habits.signs import Guess, with_own_signs
from arranger.text.problems import Problems

SIGNS = " \t,;|•·-–—/()[].:"  # what parts facts on one line

# Meters.

_METER_WORDS = {
    "common time": "4/4", "cut time": "2/2", "cut common": "2/2", "alla breve": "2/2", "waltz": "3/4",
    "waltz time": "3/4", "walzer": "3/4", "walzer takt": "3/4",
}  # fmt: skip
_SHORT_METERS = {"c": "4/4", "common": "4/4", "cut": "2/2", "¢": "2/2"}  # meters only after the word `meter`
_LOOSE_METER = r"([0-9]{1,2})\s*(?:/|[:\-. ])\s*(2|4|8)(?:\s+time)?"
_METER = (
    r"(?i)(?:\b(?:time(?: signature)?|meter|metre|signature|sig\.?|takt(?:art)?|beat|maat(?:soort)?|mesure|compás|"
    r"compasso|battuta|nhịp|размер|розмір|tahtilaji|metrum|birama|ölçü|ütem)\s*[:=\-]?\s*(?:is\s+|in\s+)?)?"
    r"\b(?P<beats>[0-9]{1,2})\s?/\s?(?P<unit>[248])\b(?:[- ]?(?:time|takt|beat))?"
)
_BEFORE_METER = r"(?i)(?:time\s*[:=]\s*)?(?:in )?"


def _meter_named(text: str) -> str | None:
    return _METER_WORDS.get(" ".join(text.lower().replace("-", " ").split()))


def meter(text: str, problems: Problems) -> Guess:
    """Return what a meter is in words, or with another sign than the slash.

    >>> meter("6:8", Problems())
    ('write `meter 6/8`', '6/8')
    """
    loose = re.fullmatch(_LOOSE_METER, text)
    better = f"{loose[1]}/{loose[2]}" if loose else _SHORT_METERS.get(text.lower()) or _meter_named(text)
    if better is None and text in ("2", "3", "4", "5"):
        return f"write `meter {text}/4` for {text} quarters in a bar", None
    return (f"write `meter {better}`" if better else "", better)


# Tempos.

_UNIT = r"(?P<unit>(?:\bdotted )?(?:♩|\bquarter(?: note)?|\bcrotchet|\bq)\s?\.?|\b(?:dotted )?(?:half(?: note)?|minim))"
_ABOUT = r"(?:about|around|roughly|approx\.?|c(?:a|irca)?\.?|~)?\s*"
_BPM = r"(?:bpm|b\.p\.m\.|beats(?: (?:a|per) minute)?)"
_TEMPO = (
    rf"(?i)(?:\b(?:tempo|speed|bpm)\s*[:=]?\s*)?{_UNIT}\s*=\s*{_ABOUT}(?P<bpm>[0-9]{{2,3}})(?:\s*{_BPM})?",
    rf"(?i)\b(?:tempo|speed|bpm|темп|vitesse|velocidade?|テンポ|速度)\s*(?:[:=\-]|is|of)?\s*{_ABOUT}(?P<bpm>[0-9]{{2,3}})\b(?:\s*{_BPM})?",
    rf"(?i)(?:\b(?:about|around|ca?\.?)\s*|~\s*)?\b(?P<bpm>[0-9]{{2,3}})\s*{_BPM}",
    rf"\b(?:M\.\s?M\.|MM)\s*[:=]?\s*{_ABOUT}(?P<bpm>[0-9]{{2,3}})\b",
)
_TEMPO_BESIDE = (
    r"(?i)\b(?:about|around|roughly|approx\.|ca\.|circa|etwa|environ)\s*(?P<bpm>[0-9]{2,3})\W*$"  # among other facts
)
_TEMPO_ALONE_BESIDE = r"(?:^|[,;(\[]|\s{2,})\s*(?P<bpm>[4-9][0-9]|1[0-9]{2}|2[0-2][0-9])\W*$"  # A, 4/4, 116
_KEY_AND_TEMPO = rf"{NOTE}{MODE}\s*[,;|/]\s*(?:[4-9][0-9]|1[0-9]{{2}}|2[0-2][0-9])"  # Em, 88
# A word of manner before the number: `Tempo - Slow (66)`, `Speed: medium, 104`.
_TEMPO_WITH_MANNER = (
    r"(?i)\b(tempo|speed)\s*[:=\-–—]?\s*((?:[^\W\d_]+[ \-]?){1,3}?)\s*[(\[,:;\-–—~=]*"
    rf"\s*{_ABOUT}([0-9]{{2,3}})\b(?!\s*/)\s*(?:bpm)?[)\]]?"
)
# Behind a word of manner that is no title: `Bossa, 120`.
_MANNER = (
    r"(?i)(?:[^\W\d_]+[ \-])?(?:slow|slowly|moderate|moderately|medium|fast|lively|upbeat|ballad|bossa(?: nova)?|waltz|"
    r"swing|shuffle|rock|folk|latin|march|samba|reggae|langsam|ruhig|mäßig|schnell|rustig|lento|andante|moderato|"
    r"allegro|"
    r"allegretto|adagio|vivace|presto)(?:[ \-][^\W\d_]+)?\s*[,:\-–]?\s*[(]?([0-9]{2,3})[)]?"
)
_TEMPO_ALONE = rf"(?i)(?:{_UNIT}\s*=\s*)?{_ABOUT}[0-9]{{2,3}}\s*{_BPM}?"


def _unit(match: re.Match[str]) -> str:
    """Return the unit that a tempo counts, where it is not a plain quarter."""
    unit = (match.groupdict().get("unit") or "").lower()
    return "dotted " if "." in unit or "dotted" in unit else "half " if unit.startswith(("half", "minim")) else ""


def tempo_of_manner(text: str) -> str:
    """Return the tempo that stands behind a word of manner alone; empty where none does.

    >>> tempo_of_manner("Bossa, 120"), tempo_of_manner("Route 66")
    ('120', '')
    """
    match = re.fullmatch(_MANNER, text.strip(SIGNS))
    return match[1] if match is not None and SLOWEST <= int(match[1]) <= FASTEST else ""


def tempo(text: str, problems: Problems) -> Guess:
    """Return what a tempo with its unit is.

    >>> tempo("♩. = 60", Problems())
    ('write `tempo dotted 60`: the number counts beats a minute', 'dotted 60')
    """
    numbers = re.findall("[0-9]+", text)
    if len(numbers) > 1:
        return f"one number: `tempo {numbers[0]}`", None
    if not numbers:
        if text.lower().startswith(("rit", "rall", "accel", "slower", "slowing", "slow down", "faster")):
            return "say to what tempo it comes: `rit to 60`", None
        why = "write a number of beats a minute, such as `tempo 60`, or `tempo free`; words of manner stand in `cue`"
        return (why if text else ""), None
    known = re.fullmatch(_TEMPO_ALONE, text)
    unit = _unit(known) if known else next((f"{u} " for u in ("dotted", "half") if u in text.lower()), "")
    better = f"{unit}{numbers[0]}"
    return f"write `tempo {better}`: the number counts beats a minute", better if known else None


# Feels, dynamics, switches, capos.

_FEELS = {"swung": "swing", "shuffle": "swing", "half time": "half-time", "halftime": "half-time", "even": "straight"}


_FEEL = r"(?i)\b(?:feel|style|groove)\s*[:=]\s*(swing|swung|shuffle|straight|half[- ]time)\b|^(swing|swung)(?: feel)?$"


def feel(text: str, problems: Problems) -> Guess:
    """Return which of the three feels other words mean."""
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


def dynamic(text: str, problems: Problems) -> Guess:
    """Return what Italian and English words mean, and hairpins between two levels.

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


def switch(word: str, text: str) -> Guess:
    """Return whether other words mean on or off; `word` is the fact's."""
    if "|" in text:
        return "a row of notes begins with `octave`: `octave | A3 F# |`", None
    better = {"yes": "on", "no": "off", "none": "off", "true": "on", "false": "off"}.get(text.lower())
    return (f"write `{word} {better}`" if better else "", better)


_CAPO = (
    r"(?i)\b(?:capo(?:dastro|traste|tasto|\.)?|cejilla|kapo(?:daster)?|каподастр|капо)\s*(?:is\s+)?"
    r"(?:at|on|in|en|im|na|no|à|a|al|au|op|på|på|на|[:=\-–])?\s*(?:(?:the|el|la|le|den|de)\s+)?"
    r"(?:(?:fret|traste|casa|case|tasto|bund|vak|band|лад)\s*)?(?P<fret>[0-9]{1,2}|"
    r"[ivx]{1,4}\b|first|second|third|fourth|fifth|sixth|seventh)(?:st|nd|rd|th|[ªº°]|a|o|e|ème|er|ère|:[ae]|-?й|"
    r"-?м)?\.?"
    r"(?:\s*(?:fret|bund|traste|casa|case|tasto|vak|band(?:et)?|bånd|próg|progu|pražec|ладу?)\b)?"
)
_NO_CAPO = (
    r"(?i)\b(?:(?:no|sin|sem|sans|senza|ohne|zonder|utan|uten|bez) (?:capo\w*|cejilla|kapo\w*)|"
    r"(?:capo\w*|cejilla|kapo\w*)\s*[:=]?\s*(?:none|no|0|off|keiner|keine?s?|geen|ninguna?|nenhum|aucun|nessuno|"
    r"ingen|brak))\b"
)
_FRETS = {
    "first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "i": 1, "ii": 2, "iii": 3,
    "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9, "x": 10,
}  # fmt: skip
_LOOSE_CAPO = r"(?i)([0-9]{1,2})(?:st|nd|rd|th)?(?: fret)?,? +(?:in +)?(?:key of +)?([A-Ga-g])([#b]?m?)"


def capo(text: str, problems: Problems) -> Guess:
    """Return what a fret and a key with other words between them are."""
    loose = re.fullmatch(_LOOSE_CAPO, text)
    if loose is not None:
        better = f"{loose[1]} in {loose[2].upper()}{loose[3].lower()}"
        return f"write `capo {better}`", better
    numbers = re.findall("[0-9]+", text)
    if numbers:
        return f"write `capo {numbers[0]} in C`, with the key of the chords as they are written", None
    return "", None


FREE_FORMS: dict[str, Callable[[str, Problems], Guess]] = {
    "key": key, "meter": meter, "tempo": tempo, "feel": feel, "dynamic": dynamic, "capo": capo,
}  # fmt: skip


# Facts in the lines of a sheet.


def facts_in(text: str, known: Collection[str] = ()) -> tuple[dict[str, Any], str]:
    """Take key, capo, tempo, meter and feel out of a line; return them by name, and what is left of the text.

    A meter is its two numbers; `shapes` is the key that is played under a capo.

    Args:
        text: the line.
        known: names of facts that are not sought, for they were found before.

    >>> facts_in("Slow Boats  (Capo 2, 3/4, 72 bpm)")
    ({'capo': 2, 'tempo': '72', 'meter': (3, 4)}, 'Slow Boats')
    """
    rest = with_own_signs(text)
    found: dict[str, Any] = {}

    def take(name: str, patterns: Iterable[str], meaning: Callable[[re.Match[str]], Any]) -> None:
        """Take a fact that is not known yet out of the text, by the first pattern that finds one with a meaning."""
        nonlocal rest
        for pattern in patterns if name not in known else ():
            match = re.search(pattern, rest)
            if match is not None and (meant := meaning(match)):
                found[name], rest = meant, _without(rest, match)
                return

    take("capo", (_CAPO,), _fret)
    match = re.search(_NO_CAPO, rest)
    if match is not None:
        rest = _without(rest, match)
    take("tempo", _TEMPO, _tempo_found)
    if "tempo" not in (*known, *found):
        turned = re.sub(_TEMPO_WITH_MANNER, r"\2;  \1 \3", rest, count=1)
        if turned != rest and not re.match(_UNIT, turned):
            rest = turned
            take("tempo", _TEMPO, _tempo_found)
    if "meter" not in known:
        rest = _take_meter(rest, found)
    take("shapes", SHAPES_KEY if "capo" in (*known, *found) else (), key_of)
    take("tempo", (_TEMPO_BESIDE,) if re.search(_TEMPO_BESIDE, rest) and "tempo" not in found else (), _tempo_found)
    if ("meter" in found or re.fullmatch(_KEY_AND_TEMPO, rest.strip(SIGNS))) and "tempo" not in found:
        take("tempo", (_TEMPO_ALONE_BESIDE,), _tempo_found)
    take("key", (SUNG_KEY,), sung_key_of)
    take(
        "key", () if "key" in found else (KEY, IN_KEY, NAMED_KEY, KEY_BESIDE, *((KEY_ALONE,) if found else ())), key_of
    )
    match = re.search(_FEEL, rest.strip(SIGNS))
    if match is not None and "feel" not in known:
        word = (match[1] or match[2]).lower()
        found["feel"], rest = _FEELS.get(word, word), _without(rest.strip(SIGNS), match)
    return (found, " ".join(rest.strip(SIGNS).split())) if rest != with_own_signs(text) else (found, text)


def _take_meter(rest: str, found: dict[str, Any]) -> str:
    match = re.search(_METER, rest)
    if match is not None and 1 <= int(match["beats"]) <= MOST_BEATS:
        found["meter"] = (int(match["beats"]), int(match["unit"]))
        return _without(rest, match)
    named = _meter_named(re.sub(_BEFORE_METER, "", rest.strip(SIGNS), count=1))  # alone: a title may have a waltz in it
    if named is None:
        return rest
    found["meter"] = tuple(map(int, named.split("/")))
    return ""


def _tempo_found(match: re.Match[str]) -> str:
    number = int(match["bpm"])
    if re.match(r"(?i)dotted (?:half|minim)", match.groupdict().get("unit") or ""):
        number *= 3  # a bar of three quarters: the notation counts quarters
        return f"{number}" if SLOWEST <= number <= FASTEST else ""
    return f"{_unit(match)}{number}" if SLOWEST <= number <= FASTEST else ""


def _fret(match: re.Match[str]) -> int:
    text = match["fret"]
    number = int(text) if text.isdigit() else _FRETS.get(text.lower(), 0)
    return number if 1 <= number <= MOST_FRETS else 0


def _without(text: str, match: re.Match[str]) -> str:
    before, after = text[: match.start()], text[match.end() :]
    return f"{before.rstrip(SIGNS)}  {after.lstrip(SIGNS)}".strip()


def is_fact(text: str) -> bool:
    """Return whether a line says nothing but facts: `Key: G  Capo 2`."""
    found, rest = facts_in(text)
    return bool(found) and not rest.strip(SIGNS)
