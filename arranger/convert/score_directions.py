"""Read the signs round the notes of a bar: repeats, jumps, headings, tempo, words for the players.

Jumps are written twice or once: as words for the players (`D.S. al Coda`), as signs, and as attributes of `sound`
(MusicXML 4.0). What is said twice counts once.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction

from arranger.convert.marks import chord_of
from arranger.convert.score_file import Element, bare
from arranger.convert.score_model import NO_JUMPS, Jumps, ScoreText
from arranger.convert.score_values import TYPES, child, decimal, dotted, integer, text_of_child
from arranger.habits.headings import heading_of
from arranger.habits.signs import NO_CHORD
from arranger.song.read import without_controls

_CAPO = re.compile(r"\b(?:d\.?\s?c\.?|da\s+capo)(?![a-z])", re.I)
_SEGNO = re.compile(r"\b(?:d\.?\s?s\.?|da[l']?\s*segno)(?![a-z])", re.I)
_TO_CODA = re.compile(r"\b(?:to|alla|zur|à\s+la|→)\s+(?:the\s+)?coda\b", re.I)
_AL_CODA = re.compile(r"\b(?:al(?:la)?|a|e\s+poi\s+la|then|and)\s+(?:the\s+)?(?:⊕|𝄌|coda)\b|\bcoda\b", re.I)
_AL_FINE = re.compile(r"\bal(?:la)?\s+fine\b|\bfine\b", re.I)
_LETTER = re.compile(r"[A-H]")
_FINE = re.compile(r"fine\.?|\(fine\)", re.I)
_CODA = re.compile(r"(?:the\s+)?coda(?:\s?\d)?[.:]?|⊕|𝄌", re.I)
_SIGN = re.compile(r"segno|𝄋", re.I)
_WITH_REPEATS = re.compile(r"with\s+(?:all\s+)?repeats?|con\s+(?:le\s+)?rep", re.I)
_SWING = re.compile(r"\bswing|\bswung|\bshuffle", re.I)
_STRAIGHT = re.compile(r"\bstraight\b", re.I)
_TEMPO_WORDS = re.compile(r"(?:[♩𝅘𝅥]|\bM\.?M\.?|\bbpm)\s*=?\s*(\d{2,3})", re.I)
_NUMBERS = re.compile(r"\d{1,2}")
_DYNAMICS = frozenset(("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"))
LONGEST_NAME = 40  # characters of a section's name
MOST_ENDING = 9  # the notation has endings of one figure


@dataclass(slots=True)
class BarSigns:
    """The signs of a bar. Mutable; lives while its bar is read."""

    headings: list[ScoreText] = field(default_factory=list)
    words: list[ScoreText] = field(default_factory=list)
    tempo: Fraction | None = None
    feel: str = ""
    dynamic: str = ""
    troubles: list[str] = field(default_factory=list)
    found: list[Jumps] = field(default_factory=list)
    no_chord: list[Fraction] = field(default_factory=list)  # where `N.C.` is printed as words
    chord_like: list[ScoreText] = field(default_factory=list)  # words that may be chords: `D/F#`, or a part called A

    def jumps(self) -> Jumps:
        """Return what all signs say together."""
        whole = NO_JUMPS
        for one in self.found:
            whole = whole.with_those_of(one)
        leaves = whole.to_coda or bool(whole.back_to)
        # A coda sign beside the words `To Coda` or `al Coda` belongs to them.
        return replace(whole, coda_signs=0 if leaves or whole.coda else whole.coda_signs)


def take_sound(element: Element, signs: BarSigns) -> None:
    """Take what a `sound` says for playing."""
    tempo = decimal(element.get("tempo"))
    if tempo is not None and tempo > 0:
        signs.tempo = signs.tempo or tempo
    elif element.get("tempo") is not None:
        signs.troubles.append(f"a tempo of `{(element.get('tempo') or '')[:20]}`")
    yes = {name for name in ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda") if element.get(name)}
    yes -= {"dacapo"} if element.get("dacapo") == "no" else set()
    yes -= {"fine"} if element.get("fine") == "no" else set()
    signs.found.append(
        Jumps(
            segno="segno" in yes,
            coda="coda" in yes,
            to_coda="tocoda" in yes,
            back_to="capo" if "dacapo" in yes else "segno" if "dalsegno" in yes else "",
            with_repeats=element.get("forward-repeat") == "yes" and bool(yes & {"dacapo", "dalsegno"}),
            fine="fine" in yes,
        )
    )
    swing = child(element, "swing")
    if swing is not None:
        signs.feel = "straight" if child(swing, "straight") is not None else "swing"


def take_barline(element: Element, signs: BarSigns) -> None:
    """Take a barline with its repeat and ending."""
    style = text_of_child(element, "bar-style")
    right = element.get("location", "right") == "right"
    found = Jumps(double=right and style in ("light-light", "light-heavy", "heavy-light", "heavy-heavy"))
    repeat, ending = child(element, "repeat"), child(element, "ending")
    if repeat is not None:
        times = integer(repeat.get("times"))
        if repeat.get("direction") == "forward":
            found = replace(found, forward=True)
        elif repeat.get("direction") == "backward":
            found = replace(found, times=times if times is not None and 2 <= times <= 99 else -1)
    if ending is not None:
        if ending.get("type") == "start":
            numbers = _ending_numbers(ending.get("number", "") or (ending.text or ""))
            found = replace(found, ending=numbers or _ending_numbers(ending.text or "") or (1,))
        else:
            found = replace(found, ending_stops=True)
    signs.found.append(found)
    for one in element:
        if bare(one) in ("segno", "coda") and element.get("location") != "right":
            signs.found.append(Jumps(segno=bare(one) == "segno", coda_signs=int(bare(one) == "coda")))


def _ending_numbers(text: str) -> tuple[int, ...]:
    r"""Read numbers of an ending: `1`, `1, 2`, `1.-3.`.

    >>> _ending_numbers("1, 2"), _ending_numbers("1.-3."), _ending_numbers(" ")
    ((1, 2), (1, 2, 3), ())
    """
    numbers = [int(n) for n in _NUMBERS.findall(text)]
    if len(numbers) == 2 and re.search(r"\d\.?\s*[-–]\s*\d", text) and numbers[0] < numbers[1]:
        numbers = list(range(numbers[0], numbers[1] + 1))
    return tuple(dict.fromkeys(n for n in numbers if 1 <= n <= MOST_ENDING))


def take_direction(element: Element, start: Fraction, signs: BarSigns) -> None:
    """Take a direction: its words, its signs, its tempo, its sound."""
    texts: list[str] = []
    kinds: list[str] = []
    for kind in (one for one in element if bare(one) == "direction-type"):
        for one in kind:
            name = bare(one)
            kinds.append(name)
            if name == "words":
                texts.append(one.text or "")
            elif name == "rehearsal":
                mark = _one_line(one.text or "")
                if mark:
                    signs.headings.append(ScoreText(start, mark[:LONGEST_NAME]))
            elif name == "metronome":
                _take_metronome(one, signs)
            elif name == "dynamics":
                _take_dynamics(one, start, signs)
    text = _one_line(" ".join(texts))
    _take_words(text, kinds, start, signs)
    for one in element:
        if bare(one) == "sound":
            take_sound(one, signs)


def _one_line(text: str) -> str:
    return " ".join(without_controls(text.replace("\n", " ").replace("\r", " ").replace("\t", " ")).split())


def _take_dynamics(element: Element, start: Fraction, signs: BarSigns) -> None:
    levels = [bare(one) for one in element if bare(one) in _DYNAMICS]
    if levels and start == 0:
        signs.dynamic = levels[0]


def _take_metronome(element: Element, signs: BarSigns) -> None:
    """Take a tempo: the beat that counts, its dots, and how many a minute."""
    unit = TYPES.get(text_of_child(element, "beat-unit"))
    number = re.search(r"\d{1,4}(?:\.\d{1,3})?", text_of_child(element, "per-minute"))
    if unit is None or number is None or child(element, "metronome-note") is not None:
        return  # two beats that are alike, or no number
    beat = dotted(unit, sum(bare(one) == "beat-unit-dot" for one in element))
    tempo = Fraction(number[0]) * beat
    if tempo > 0:
        signs.tempo = tempo


def _take_words(text: str, kinds: list[str], start: Fraction, signs: BarSigns) -> None:
    """Take words: jumps, names of sections, how it is played, and others for the players."""
    jumps = _jumps_in(text, kinds)
    signs.found.append(jumps)
    if _SWING.search(text):
        signs.feel = "swing"
    elif _STRAIGHT.search(text):
        signs.feel = "straight"
    number = _TEMPO_WORDS.search(text)
    if number is not None and signs.tempo is None:
        signs.tempo = Fraction(number[1])
    if not text or jumps != NO_JUMPS:
        return
    if text.lower() in NO_CHORD:
        signs.no_chord.append(start)
        return
    if text[:1].isupper() and chord_of(text) is not None:
        signs.chord_like.append(ScoreText(start, text))
    if _LETTER.fullmatch(text) and start == 0:
        signs.headings.append(ScoreText(start, text))
        return
    heading = heading_of(text)
    if heading is not None and not heading[1].strip(" .:-") and len(text) <= LONGEST_NAME:
        signs.headings.append(ScoreText(start, heading[0].name))
        return
    signs.words.append(ScoreText(start, text))


def _jumps_in(text: str, kinds: list[str]) -> Jumps:
    back = "segno" if _SEGNO.search(text) else "capo" if _CAPO.search(text) else ""
    if back:
        until = "coda" if _AL_CODA.search(text) or "coda" in kinds else "fine" if _AL_FINE.search(text) else ""
        return Jumps(back_to=back, until=until, with_repeats=bool(_WITH_REPEATS.search(text)))
    to_coda = bool(_TO_CODA.search(text)) or ("coda" in kinds and text.lower() in ("to", "al", "alla", "to coda"))
    return Jumps(
        segno="segno" in kinds or bool(_SIGN.fullmatch(text)),
        coda=bool(_CODA.fullmatch(text)),
        to_coda=to_coda,
        coda_signs=int("coda" in kinds and not to_coda),
        fine=bool(_FINE.fullmatch(text)),
    )
