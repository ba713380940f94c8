"""List the signs that people type in place of the notation's own: look-alikes, barlines, repeats, rests, German names.

One table of each, for the checking of songs and for the converting of sheets. This room stands before `song`, which
alone can say what a chord is: what has to know that takes `is_chord` as an argument.
"""

from __future__ import annotations

import re

# Characters that look like others in fonts and phone keyboards, and what they stand for. One for one: places stay.
LOOKALIKES = str.maketrans(
    {
        **dict.fromkeys("♯＃", "#"), "♭": "b", **dict.fromkeys("∆△▵", "Δ"), **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("Ø∅⌀", "ø"), **dict.fromkeys("–−‐‑—", "-"), **dict.fromkeys("｜│┃∣¦", "|"), "：": ":",
        "％": "%", **dict.fromkeys("／⁄∕", "/"), "＝": "=", "＜": "<", "（": "(", "）": ")",
        **dict(zip("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", "01234567890123456789", strict=True)), "⁺": "+", "⁻": "-", "ᵐ": "m",
        **dict.fromkeys("\u00a0\u3000", " "),
    }
)  # fmt: skip


def with_own_signs(text: str) -> str:
    """Replace the characters that look like others by what they stand for; places stay.

    >>> with_own_signs("｜ F♯–7 ｜")
    '| F#-7 |'
    """
    return text if text.isascii() else text.translate(LOOKALIKES)


BAR_LETTERS = frozenset("Il!")  # typed for the bar sign
PRINTED_BARS = {"‖": "||", "𝄀": "|", "𝄁": "||", "𝄂": "||", "𝄆": "|:", "𝄇": ":|"}
SIMILE = frozenset(("./.", "·/·", ".//.", "//.", "•/•", "٪", "𝄎"))  # the bar before once more
NO_CHORD = frozenset(("n.c.", "nc", "n/c", "nc.", "n.c", "n-c", "(nc)", "(n.c.)", "nochord", "no-chord"))
RESTS = frozenset(("rest", "pause", "-rest-", "𝄽", "𝄾", "𝄻"))
REST_WORDS = RESTS | {"rests", "silence", "r", "z", "tacet"}  # in a row; in a sheet these may be sung
DOTS, DASHES = frozenset(".·•"), frozenset("-–—_~'")  # alone: what sounds goes on
BETWEEN = frozenset(("->", "→", ">", "=>", "–>", "&", "+", ",", ";", "and", "to"))  # set between chords
_AROUND = frozenset(("...", "…", "..", "--", "---", "(", ")"))  # mean nothing among the chords of a sheet
_COUNTED = {
    **dict.fromkeys("2 two dos dues deux due zwei twee två to dwa два iki dua hai kaksi dois duas dvě két".split(), 2),  # noqa: SIM905
    **dict.fromkeys("3 three tres trois tre drei drie trzy три üç tiga kolme três tri három".split(), 3),  # noqa: SIM905
    **dict.fromkeys("4 four cuatro quatre quattro vier fyra fire cztery dört empat quatro čtyři".split(), 4),  # noqa: SIM905
}  # fmt: skip
_TIMES_AFTER = (
    "times|mal|fois|veces|vezes|vegades|volte|keer|maal|gånger|ggr|ganger|gange|kertaa|razy|raz|раза|рази|разів|krát|krat|kez|kere|"
    "kali|lần|回|번|φορές|ori|puta|alkalommal"
)
_TIMES_CUT = r"(?:[rvfgkр]|ggr|gg|t)\."  # cut short, behind a figure
_TIMES_ALONE = {
    "twice": 2, "bis": 2, "zweimal": 2, "dreimal": 3, "thrice": 3, "dvakrát": 2, "třikrát": 3, "dwukrotnie": 2,
    "kétszer": 2, "háromszor": 3, "дважды": 2, "двічі": 2, "kahdesti": 2,
}  # fmt: skip
# Behind a figure: it counts times, and is no number of a section.
COUNTS_TIMES = rf"\s?(?:(?:{_TIMES_AFTER})(?![^\W\d_])|[xX×](?![^\W\d_]))"
# How often something is played, in words.
TIMES_WORDS = (
    rf"(?:(?:{'|'.join(_COUNTED)})\s?(?:{_TIMES_AFTER})(?![^\W\d_])|(?:{'|'.join(_TIMES_ALONE)})(?![^\W\d_])|"
    rf"[2-9]\s?{_TIMES_CUT})"
)
JUMP = r"(?i)(?:to\s+)?(?:d\.?\s?[cs]\.?|da capo|dal segno|segno|coda|fine)\b.*"  # compiled when first used, as below
NO_JUMPS = "there are no jumps: the `roadmap` at the top names the sections in the order in which they are played"
_TIMES = r"\(?\[?(?:[xX×*]\s*([0-9]{1,5})|([0-9]{1,5})\s*[xX×])[\])]?\.?"
_BARLINE = r"(:?)(\|+)(:?)(?:([1-9])\.?)?"


def times_of(text: str) -> int:
    """Return how often something is played: `x2`, `(3x)`; 0 where nothing says so.

    >>> times_of("(2x)"), times_of("x 3"), times_of("G")
    (2, 3, 0)
    """
    match = re.fullmatch(_TIMES, text.strip())
    number = int(match[1] or match[2]) if match else 0
    return number if number <= 99 else 0


def times_in_words(text: str) -> int:
    """Return how often something is played, said in words; 0 where nothing says so.

    >>> times_in_words("twice"), times_in_words("3 fois"), times_in_words("time")
    (2, 3, 0)
    """
    word = text.strip().lower()
    match = re.fullmatch(rf"(\w+?)\s?(?:{_TIMES_AFTER})", word)
    cut = re.fullmatch(rf"([2-9])\s?{_TIMES_CUT}", word)
    if cut is not None:
        return int(cut[1])
    return _TIMES_ALONE.get(word, 0) or (_COUNTED.get(match[1], 0) if match is not None else 0)


def bar_sign(text: str) -> str | None:
    """Return a barline in our spelling, with a number of an ending; None where a text is none.

    >>> bar_sign("||:"), bar_sign("|1."), bar_sign("G")
    ('|:', '|1.', None)
    """
    text = PRINTED_BARS.get(text, with_own_signs(text).replace("‖", "||").replace("[", "|").replace("]", "|"))
    match = re.fullmatch(_BARLINE, text)
    if match is None:
        return None
    closes, strokes, opens, ending = match.groups()
    sign = f"{closes}|{opens}" if closes or opens else "||" if len(strokes) == 2 else "|"
    return f"{sign}{ending}." if ending else sign


def sign_of(text: str) -> str:
    """Return the kind of another sign among chords: `none`, `rest`, `slash`, `slashes`, `simile`, `glue`, or empty.

    `glue` is nothing by itself.
    """
    word = text.lower()
    if text == "%" or text in SIMILE:
        return "simile"
    if text == "/" or text in DOTS or text in DASHES:
        return "slash"
    if word in NO_CHORD or word == "tacet":
        return "none"
    if word in RESTS:
        return "rest"
    if set(text) == {"/"}:
        return "slashes"
    return "glue" if word in BETWEEN or word in _AROUND or (len(text) > 1 and set(text) <= set("-–—_.~=*")) else ""


Guess = tuple[str, str | None]  # what a text in free form means: a hint, and what it is for certain

ACCIDENTALS = {"is": "#", "sharp": "#", "es": "b", "s": "b", "flat": "b"}
_GERMAN = r"([CDFGAHcdfgah])(is)|([CDGBcdg])(es)|([EAea])(s)(?!us)"


def from_german(mark: str) -> str:
    """Respell the German name of a sharp or flat at the start of a chord.

    >>> from_german("Fism7"), from_german("Es"), from_german("Esus4")
    ('F#m7', 'Eb', 'Esus4')
    """
    match = re.match(_GERMAN, mark)
    if match is None:
        return mark
    letter, sign = (group for group in match.groups() if group)
    natural = {"H": "B", "h": "b"}.get(letter, letter)
    return f"{natural}{ACCIDENTALS[sign]}{mark[match.end() :]}"
