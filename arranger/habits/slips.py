"""Find out what is wrong with a mark in a row of chords, by its look, and what it must mean.

Each rule takes the mark, with what stands before and after it in its bar, and gives a `Slip` or nothing. Patterns are
texts, which `re` compiles when they are first used: a song without slips does not pay for them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from arranger.habits.signs import (
    BAR_LETTERS,
    BETWEEN,
    DASHES,
    DOTS,
    NO_CHORD,
    NO_JUMPS,
    PRINTED_BARS,
    REST_WORDS,
    SIMILE,
    from_german,
    times_of,
)
from arranger.text.problems import shown


class Slip(NamedTuple):
    """What is said of a mark.

    Attributes:
        code: of the diagnostic.
        message: what was found, and what was expected.
        hints: what would be right.
        better: what the mark means for certain, to be put in its place; None where that is not certain.
        joins: the blanks before the mark go with it.
    """

    code: str
    message: str
    hints: tuple[str, ...] = ()
    better: str | None = None
    joins: bool = False


class _Place(NamedTuple):
    """A mark with its surroundings: `before` and `after` are the rest of its bar, without outer blanks."""

    text: str
    before: str
    after: str
    is_chord: Callable[[str], bool]

    @property
    def last(self) -> str:
        """The mark before this one."""
        return self.before.split()[-1] if self.before else ""


def slip_of(text: str, before: str, after: str, is_chord: Callable[[str], bool]) -> Slip | None:
    """Return what is wrong with a mark, by the first rule that finds something; None where none does.

    Args:
        text: the mark, which is none of the notation.
        before: what stands before it in its bar, without outer blanks.
        after: what stands behind it, likewise.
        is_chord: whether a text is a chord of the notation.
    """
    place = _Place(text, before, after, is_chord)
    return next((slip for rule in _RULES if (slip := rule(place)) is not None), None)


def _instead(
    code: str, text: str, *hints: str, wanted: str = "a chord", better: str | None = None, joins: bool = False
) -> Slip:
    """Make a slip of a mark that was found where something else was expected."""
    return Slip(code, f"expected {wanted}, found {shown(text)}", hints, better, joins)


# Barlines, repeats and endings that look otherwise.

_JUMP = r"(?i)d\.?[sc]\.?|al|fine|coda|segno|to|𝄋|𝄌|tocoda"
_ENDING = r"\[?([1-9])[.)]?"


def _bars(at: _Place) -> Slip | None:
    text = at.text
    if text in BAR_LETTERS:
        certain = "|" if at.before or at.after else None  # alone it may be meant as the numeral of a chord
        return _instead("bar-letter", text, "if this is a barline, type `|`", better=certain)
    if text in PRINTED_BARS:
        sign = PRINTED_BARS[text]
        return _instead("bar-letter", text, f"type `{sign}`", better=sign)
    if times_of(text):
        return _instead("loose-times", text, f"to repeat, put `|:` before and `:| x{times_of(text)}` after")
    if re.fullmatch(_JUMP, text):
        return _instead("jump-in-row", text, NO_JUMPS, "`roadmap Verse, Chorus, Verse bars 1-4, Ending`")
    ending = re.fullmatch(_ENDING, text)
    if ending and not at.before and at.after:
        right = f"an ending has its number right after the barline, with a dot: `|{ending[1]}. {at.after.split()[0]}`"
        return _instead("numbered-chord", text, right, "a chord is written by its letter, such as `D` or `Bm`")
    return None


# Slashes, signs of repetition, silences.

_MANNER_WORDS = {
    "fermata": "hold", "fermate": "hold", "𝄐": "hold", "arpeggio": "roll", "arpeggiato": "roll", "arpeggiated": "roll",
    "accented": "accent", "marcato": "accent", "holds": "hold", "stops": "stop", "rolled": "roll",
}  # fmt: skip
_SPACES_ALONE = "chords of one bar are set apart by spaces alone: `| D G |`"


def _signs(at: _Place) -> Slip | None:
    text, word = at.text, at.text.lower()
    if len(text) > 1 and set(text) == {"/"}:
        better = " ".join(text)
        return _instead("slashes-joined", text, f"set spaces between rhythm slashes: `{better}`", better=better)
    if text in SIMILE:
        return _instead("repeat-sign", text, "the bar before once more is `%`, alone in its bar", better="%")
    if set(text) == {"%"}:
        return _instead("repeat-sign", text, "`%` repeats one bar; write it in each bar: `| % | % |`")
    if word in NO_CHORD:
        return _instead("no-chord-sign", text, "no chord is written `N.C.`", better="N.C.")
    if word in REST_WORDS and (len(text) > 1 or text.islower() or not text.isalpha()):
        return _instead("silence-word", text, "a silence that is counted is `rest`; no chord is `N.C.`")
    manner = _MANNER_WORDS.get(word.strip("()"))
    if manner is not None:
        certain = manner if at.is_chord(at.last) else None
        return _instead("manner-word", text, f"write `{manner}` after the chord: `D {manner}`", better=certain)
    if text in DOTS:
        return _instead("slash-sign", text, "to go on for one mark more write `/`", better="/")
    if text in DASHES:
        hints = [_SPACES_ALONE] if at.before and at.after else []
        return _instead("slash-sign", text, "to go on for one mark more write `/`", *hints)
    return _instead("stray-punctuation", text, _SPACES_ALONE) if text in BETWEEN else None


# What is set apart from its chord, or stuck to it.

_ROOT = r"[A-G](?:##?|bb?)?"
_PARTS = r"[mM+°øo2-9(#b-]|min|maj|dim|aug|sus|add|alt|no[35]|1[13]"
_WORDY = {
    "minor": "m", "major": "", "flat": "b", "sharp": "#", "dominant": "7", "diminished": "dim", "augmented": "aug",
}  # fmt: skip


def _apart(at: _Place) -> Slip | None:
    text, last, joined = at.text, at.last, at.last + at.text
    if text.lower() in _WORDY and at.is_chord(last):
        sign = _WORDY[text.lower()]
        message = f"expected the whole chord in signs, found the word {shown(text)}"
        certain = sign if at.is_chord(last + sign) else None
        return Slip("quality-apart", message, (f"write `{last + sign}`",), certain, True)
    if re.match(_PARTS, text) and last and at.is_chord(last) and at.is_chord(joined):
        signed = text[0] not in "b#" or last[-1].isdigit()
        if signed and not text.isdigit():
            message = f"expected the chord in one piece, found {shown(text)} apart"
            return Slip("quality-apart", message, (f"write it without a space: `{joined}`",), text, True)
    if last.endswith("=") and at.is_chord(joined):
        message = f"expected the notes of the right hand right after `=`, found {shown(text)} apart"
        hints = (f"write it without a space: `{joined}`",)
        return Slip("notes-apart", message, hints, None if at.after else text, True)
    if text[0] == "/" and re.fullmatch(_ROOT, text[1:]):
        sits = at.is_chord(last) and "/" not in last and "=" not in last
        message = f"expected the bass right after its chord, found {shown(text)} apart"
        hint = f"write it without a space: `{last if sits else 'D'}{text}`"
        slash = "a rhythm slash has a space on both sides"
        return Slip("loose-bass", message, (hint, slash), text if sits else None, True)
    if len(text) > 1 and text[-1] == "/" and at.is_chord(text[:-1]):
        message = f"expected a bass right after the slash, found a space after {shown(text)}"
        better = f"write `{text}F#` without a space for a bass, or `{text[:-1]} /` to go on for one mark more"
        return Slip("loose-bass", message, (better,))
    return None


_AROUND = ",.;:'\"`’”“…*!"  # what ends a sentence, and quotes


def _stuck(at: _Place) -> Slip | None:
    text = at.text
    if text[0] == "<" and text[1:].lower() in ("rest", "nc", "n.c.", "/", "%", ""):
        hint = "only a chord can come early; write `<` right before it: `<G`"
        return _instead("push-without-chord", text, hint, wanted="a chord after `<`")
    if text[0] in ">^" and at.is_chord(text[1:]):
        hint = f"a chord that comes early is `<{text[1:]}`; one with an accent is `{text[1:]} accent`"
        return _instead("push-sign", text, hint)
    if text[-1] == "<" and at.is_chord(text[:-1]):
        better = "<" + text[:-1]
        return _instead("push-sign", text, f"`<` stands before the chord: `{better}`", better=better)
    if text[0] in "[{" or text[-1] in "]}":
        inner = text.strip("[]{}")
        if at.is_chord(inner):
            hint = f"write `{inner}`, or `({inner})` where the chord may be left out"
            return _instead("chord-in-brackets", text, hint, wanted="a chord without brackets")
    if text.count("(") != text.count(")"):
        hint = "close what is open, in the same bar: `C7(b9)`, `(G)`"
        return _instead("open-parenthesis", text, hint, wanted="parentheses in pairs")
    if text[0] == "(" and " " in text:
        hint = "put each chord that may be left out into its own: `(D) (G)`"
        return _instead("two-in-parentheses", text, hint, wanted="one chord in parentheses")
    bare = text.strip(_AROUND)
    if bare == text or not at.is_chord(bare):
        return _two_in_one(at)
    if "*" in text:
        return _instead("stray-punctuation", text, "`*` stands in the words, not in chords")
    message = f"expected the chord alone, found {shown(text.replace(bare, '', 1))} with it"
    hints = (f"write `{bare}`; chords of one bar are set apart by spaces alone",)
    return Slip("stray-punctuation", message, hints, bare)


def _two_in_one(at: _Place) -> Slip | None:
    """Find two chords with a sign between them instead of a space: `D-G`, `D>G`, `D,G`."""
    text = at.text
    parts = re.split(r"[,;>–—~&|]+|-(?=[A-G])|->", text)
    if len(parts) > 1 and all(parts) and all(map(at.is_chord, parts)):
        better = " ".join(parts)
        hint = f"chords of one bar are set apart by spaces alone: `{better}`"
        return _instead("stray-punctuation", text, hint, wanted="one chord", better=better)
    if text[0] == "#":
        return _instead("remark-in-row", text, "a remark has a line of its own, and `#` is its first mark")
    return None


# Other alphabets and other habits.

_LOWER_ROOT = r"[a-g](?![a-z]{3})"  # am, f#m7, bb; not a word such as "gently"
_LOWER_BASS = r"/[a-g]"
_GERMAN_H = r"H(?![a-z]{3})"
_SYLLABLE = r"(?is)(do|ut|re|ré|mi|fa|sol|la|si)([#b♯♭]?)(.*)"
_SYLLABLES = {"do": "C", "ut": "C", "re": "D", "ré": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B"}
_NUMERAL = r"[b#]?(?:[1-7]|[IViv]{1,3})(?:m|maj|dim|sus|7|°|-)?[0-9]*(?:/[1-7])?"


def _small_letters(at: _Place) -> Slip | None:
    text = at.text
    if re.match(_LOWER_ROOT, text):
        better = text[0].upper() + text[1:]
        if not at.is_chord(better):
            better = re.sub(_LOWER_BASS, lambda m: m[0].upper(), better)
        if at.is_chord(better):
            minor = "m" in better and "maj" not in better.lower()
            hint = f"write `{better}`" + ("" if "m" in better or "/" in better else f", or `{better}m` if it is minor")
            certain = better if minor else None  # for some, a small letter alone is a minor chord
            return _instead("lower-case-chord", text, hint, wanted="a capital letter for the chord", better=certain)
    head, slash, bass = text.rpartition("/")
    if slash and bass[:1] in "abcdefgh" and bass and len(bass) <= 3 and at.is_chord(head):
        better = f"{head}/{'B' if bass[0] == 'h' else bass[0].upper()}{bass[1:]}"
        if at.is_chord(better):
            message = f"expected a capital letter for the bass, found `{bass}`"
            return Slip("lower-case-chord", message, (f"write `{better}`",), better)
    return None


def _other_alphabets(at: _Place) -> Slip | None:
    """Find German, Romance and numbered chord names."""
    text = at.text
    better = from_german("H" + text[1:] if text[0] == "h" else text)
    if better != text and at.is_chord(better):
        hints = (f"write the sharp or flat as a sign: `{better}`", "the German B is `Bb` here, the German H is `B`")
        return _instead("german-name", text, *hints, better=better)
    if re.match(_GERMAN_H, text) and at.is_chord("B" + text[1:]):
        hint = f"the note H is called B here: write `B{text[1:]}`"
        return _instead("german-h", text, hint, "the German B is written `Bb`")
    syllable = re.fullmatch(_SYLLABLE, text)
    if syllable:
        better = _SYLLABLES[syllable[1].lower()] + syllable[2] + syllable[3]
        if at.is_chord(better):
            return _instead("syllable-name", text, f"chords have letter names: write `{better}`")
    if re.fullmatch(_NUMERAL, text):
        hint = "write the chord's letter, such as `D` or `Bm`; the program moves it to any key"
        return _instead("numbered-chord", text, hint, wanted="a chord by its name")
    return None


# Chords that may mean two things, and spellings of elsewhere.

_AMBIGUOUS = r"([A-G](?:##?|bb?)?)([+-])(5|9|11|13)(.*)"
_RESPELLED = (
    (r"([A-G](?:##?|bb?)?)mj(7|9|11|13)?(?=$|/)", r"\1maj\2", "major is `maj`: `mj` would be read as minor"),
    (r"([A-G](?:##?|bb?)?m?)(?:\^|j)(7|9|)(?=$|/)", r"\1maj7", "the major seventh is `maj7`"),
    (r"([A-G](?:##?|bb?)?m)\+(?=$|/)", r"\1#5", "a minor chord with a raised fifth is `m#5`"),
    (r"([A-G](?:##?|bb?)?)dom(7|9|13)", r"\1\2", "the dominant seventh is the plain `7`"),
    (r"([A-G](?:##?|bb?)?m?)0(7?)$", r"\1°\2", "the diminished sign is `°` or `dim`, not the figure 0"),
    (r"([A-G](?:##?|bb?)?m?)/(6|7|9)$", r"\1\2", "after the slash stands a bass note"),
    (r"([A-G](?:##?|bb?)?[^/]*)\\([A-G](?:##?|bb?)?)$", r"\1/\2", "the slash of a bass is `/`"),
    (r"([A-G](?:##?|bb?)?)(?:sus)?4-3$", r"\1sus4 \1", "write a suspension and its end as two chords"),
    (r"([A-G](?:##?|bb?)?.*)♮(.*)", r"\1\2", "no sign is needed for a natural"),
    (r"([A-G])(?:is|-sharp|sharp)(.*)", r"\1#\2", "a sharp is `#`"),
    (r"([A-G])(?:-flat|flat)(.*)", r"\1b\2", "a flat is `b`"),
)


def _two_meanings(at: _Place) -> Slip | None:
    """Find `C-5` and `C+9`."""
    match = re.match(_AMBIGUOUS, at.text)
    if match is None or match[2] + match[3] == "+5" or (match[2] == "-" and match[3] != "5"):
        return None
    root, sign, number, _ = match.groups()
    if sign == "-":
        means = f"`{root}(b5)` for a major chord with a lowered fifth, `{root}m` for a minor one, or `{root}5`"
    else:
        sharp = f"`{root}7(#{number})` for a raised note on a seventh chord, " if number != "13" else ""
        means = f"{sharp}`{root}add{number}` for an added one, or `{root}{number}(#5)`"
    return _instead("two-meanings", root + sign + number, f"write {means}", wanted="one meaning")


def _respelled(at: _Place) -> Slip | None:
    for pattern, template, why in _RESPELLED:
        if re.match(pattern, at.text) is None:
            continue
        better = re.sub(pattern, template, at.text)
        if all(map(at.is_chord, better.split())):
            certain = ("/" not in at.text and "4-3" not in at.text) or "\\" in at.text
            hint = f"{why}: write `{better}`"
            return _instead("other-spelling", at.text, hint, better=better if certain else None)
    return None


_RULES = (_bars, _signs, _apart, _small_letters, _other_alphabets, _stuck, _two_meanings, _respelled)
