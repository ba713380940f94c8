"""Slips that a mark of a chord row shows by its look: what was typed, and what it must mean.

Each rule takes the mark, with what stands before and after it in its bar, and gives a `Reason` or nothing. Patterns are
texts, which `re` compiles when they are first used: a song without slips does not pay for them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from arranger.song.cells import ChordWord, read_mark
from arranger.song.problems import shown


@dataclass(frozen=True, slots=True)
class Reason:
    """What is told of a mark.

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


@dataclass(frozen=True, slots=True)
class Place:
    """A mark with its surroundings: `before` and `after` are the rest of its bar, without outer blanks."""

    text: str
    before: str
    after: str

    @property
    def last(self) -> str:
        """The mark before this one."""
        return self.before.split()[-1] if self.before else ""

    @property
    def alone(self) -> bool:
        """Nothing else stands in the bar."""
        return not self.before and not self.after


def understood(text: str) -> bool:
    """Return whether a text is a chord mark."""
    return isinstance(read_mark(text), ChordWord)


def known(text: str, before: str, after: str) -> Reason | None:
    """Return the first reason that a rule knows for a mark."""
    place = Place(text, before, after)
    return next((reason for rule in _RULES if (reason := rule(place)) is not None), None)


def _expected_chord(code: str, text: str, *hints: str, better: str | None = None, joins: bool = False) -> Reason:
    return Reason(code, f"expected a chord, found {shown(text)}", hints, better, joins)


# Barlines, repeats and endings that look otherwise.

_BAR_LETTERS = frozenset("Il!")  # typed for the bar sign
_PRINTED_BARS = {"‖": "||", "𝄀": "|", "𝄁": "||", "𝄂": "||", "𝄆": "|:", "𝄇": ":|"}
_TIMES = r"\(?(?:[xX×*]\s*([0-9]+)|([0-9]+)\s*[xX×])\)?"
_JUMP = r"(?i)d\.?[sc]\.?|al|fine|coda|segno|to|𝄋|𝄌|tocoda"
_ENDING = r"\[?([1-9])[.)]?"


def _bars(at: Place) -> Reason | None:
    if at.text in _BAR_LETTERS:
        better = None if at.alone else "|"  # alone it may be meant as the numeral of a chord
        return Reason(
            "bar-letter", f"expected a chord, found {shown(at.text)}", ("if this is a barline, type `|`",), better
        )
    if at.text in _PRINTED_BARS:
        sign = _PRINTED_BARS[at.text]
        return _expected_chord("bar-letter", at.text, f"type `{sign}`", better=sign)
    times = re.fullmatch(_TIMES, at.text)
    if times:
        hint = f"to repeat, put `|:` before and `:| x{times[1] or times[2]}` after"
        return _expected_chord("loose-times", at.text, hint)
    if re.fullmatch(_JUMP, at.text):
        return _expected_chord(
            "jump-in-row",
            at.text,
            "there are no jumps: the `roadmap` at the top names the sections in the order in which they are played",
            "`roadmap Verse, Chorus, Verse bars 1-4, Ending`",
        )
    ending = re.fullmatch(_ENDING, at.text)
    if ending and not at.before and at.after:
        return _expected_chord(
            "numbered-chord",
            at.text,
            f"an ending has its number right after the barline, with a dot: `|{ending[1]}. {at.after.split()[0]}`",
            "a chord is written by its letter, such as `D` or `Bm`",
        )
    return None


# Slashes, signs of repetition, silences.

_SIMILE = frozenset(("./.", "·/·", ".//.", "//.", "•/•", "٪", "𝄎"))
_NO_CHORD = frozenset(("n/c", "nc.", "n.c", "n-c", "(nc)", "(n.c.)", "nochord", "no-chord"))
_SILENCE = frozenset(("pause", "silence", "rests", "r", "z", "tacet", "𝄽", "𝄾", "𝄻", "-rest-"))
_MANNER_WORDS = {
    "fermata": "hold", "fermate": "hold", "𝄐": "hold", "arpeggio": "roll", "arpeggiato": "roll", "arpeggiated": "roll",
    "accented": "accent", "marcato": "accent", "holds": "hold", "stops": "stop", "rolled": "roll",
}  # fmt: skip


def _signs(at: Place) -> Reason | None:
    text, word = at.text, at.text.lower()
    if len(text) > 1 and set(text) == {"/"}:
        better = " ".join(text)
        return _expected_chord("slashes-joined", text, f"set spaces between rhythm slashes: `{better}`", better=better)
    if text in _SIMILE:
        return _expected_chord("repeat-sign", text, "the bar before once more is `%`, alone in its bar", better="%")
    if set(text) == {"%"}:
        return _expected_chord("repeat-sign", text, "`%` repeats one bar; write it in each bar: `| % | % |`")
    if word in _NO_CHORD:
        return _expected_chord("no-chord-sign", text, "no chord is written `N.C.`", better="N.C.")
    if word in _SILENCE and (len(text) > 1 or text.islower() or not text.isalpha()):
        return _expected_chord("silence-word", text, "a silence that is counted is `rest`; no chord is `N.C.`")
    manner = _MANNER_WORDS.get(word.strip("()"))
    if manner is not None:
        hint = f"write `{manner}` after the chord: `D {manner}`"
        return _expected_chord("manner-word", text, hint, better=manner if understood(at.last) else None)
    if text in (".", "·", "•"):
        return _expected_chord("slash-sign", text, "to go on for one mark more write `/`", better="/")
    if text in ("-", "_", "~", "'"):
        hints = ["to go on for one mark more write `/`"]
        if at.before and at.after:
            hints.append("chords of one bar are set apart by spaces alone: `| D G |`")
        return _expected_chord("slash-sign", text, *hints)
    if text in ("->", "→", ">", "&", "+", "and", "to", "–>", "=>", ","):
        return _expected_chord("stray-punctuation", text, "chords of one bar are set apart by spaces alone: `| D G |`")
    return None


# What is set apart from its chord, or stuck to it.

_ROOT = r"[A-G](?:##?|bb?)?"
_PARTS = r"[mM+°øo2-9(#b-]|min|maj|dim|aug|sus|add|alt|no[35]|1[13]"
_WORDY = {
    "minor": "m",
    "major": "",
    "flat": "b",
    "sharp": "#",
    "dominant": "7",
    "diminished": "dim",
    "augmented": "aug",
}


def _apart(at: Place) -> Reason | None:
    text, last = at.text, at.last
    if text.lower() in _WORDY and understood(last):
        better = last + _WORDY[text.lower()]
        return Reason(
            "quality-apart",
            f"expected the whole chord in signs, found the word {shown(text)}",
            (f"write `{better}`",),
            _WORDY[text.lower()] if understood(better) else None,
            True,
        )
    if re.match(_PARTS, text) and last and understood(last) and understood(last + text):
        signed = text[0] not in "b#" or last[-1].isdigit()
        if signed and not at.text.isdigit():
            better = last + text
            hint = f"write it without a space: `{better}`"
            message = f"expected the chord in one piece, found {shown(text)} apart"
            return Reason("quality-apart", message, (hint,), text, True)
    if last.endswith("=") and understood(last + text):
        return Reason(
            "notes-apart",
            f"expected the notes of the right hand right after `=`, found {shown(text)} apart",
            (f"write it without a space: `{last}{text}`",),
            None if at.after else text,
            True,
        )
    if text[0] == "/" and re.fullmatch(_ROOT, text[1:]):
        sits = understood(last) and "/" not in last and "=" not in last
        return Reason(
            "loose-bass",
            f"expected the bass right after its chord, found {shown(text)} apart",
            (f"write it without a space: `{last if sits else 'D'}{text}`", "a rhythm slash has a space on both sides"),
            text if sits else None,
            True,
        )
    if len(text) > 1 and text[-1] == "/" and understood(text[:-1]):
        return Reason(
            "loose-bass",
            f"expected a bass right after the slash, found a space after {shown(text)}",
            (f"write `{text}F#` without a space for a bass, or `{text[:-1]} /` to go on for one mark more",),
        )
    return None


_END_OF_SENTENCE = ",.;:"
_QUOTES = "'\"`’”“"


def _stuck(at: Place) -> Reason | None:
    text = at.text
    if text[0] == "<" and text[1:].lower() in ("rest", "nc", "n.c.", "/", "%", ""):
        return Reason(
            "push-without-chord",
            f"expected a chord after `<`, found {shown(text)}",
            ("only a chord can come early; write `<` right before it: `<G`",),
        )
    if text[0] in ">^" and understood(text[1:]):
        return _expected_chord(
            "push-sign",
            text,
            f"a chord that comes early is `<{text[1:]}`; one with an accent is `{text[1:]} accent`",
        )
    if text[-1] == "<" and understood(text[:-1]):
        return _expected_chord(
            "push-sign", text, f"`<` stands before the chord: `<{text[:-1]}`", better="<" + text[:-1]
        )
    if text[0] in "[{" or text[-1] in "]}":
        inner = text.strip("[]{}")
        if understood(inner):
            hint = f"write `{inner}`, or `({inner})` where the chord may be left out"
            return Reason("chord-in-brackets", f"expected a chord without brackets, found {shown(text)}", (hint,))
    if text.count("(") != text.count(")"):
        return Reason(
            "open-parenthesis",
            f"expected parentheses in pairs, found {shown(text)}",
            ("close what is open, in the same bar: `C7(b9)`, `(G)`",),
        )
    if text[0] == "(" and " " in text:
        return Reason(
            "two-in-parentheses",
            f"expected one chord in parentheses, found {shown(text)}",
            ("put each chord that may be left out into its own: `(D) (G)`",),
        )
    bare = text.strip(_END_OF_SENTENCE + _QUOTES + "…*!")
    if bare != text and understood(bare):
        if "*" in text:
            hint = "`*` stands in the words, not in chords"
            return Reason("stray-punctuation", f"expected a chord, found {shown(text)}", (hint,))
        signs = text.replace(bare, "", 1)
        return Reason(
            "stray-punctuation",
            f"expected the chord alone, found {shown(signs)} with it",
            (f"write `{bare}`; chords of one bar are set apart by spaces alone",),
            bare,
        )
    return _two_in_one(text)


def _two_in_one(text: str) -> Reason | None:
    """Tell two chords with a sign between them instead of a space: `D-G`, `D>G`, `D,G`."""
    parts = re.split(r"[,;>–—~&|]+|-(?=[A-G])|->", text)
    if len(parts) > 1 and all(parts) and all(map(understood, parts)):
        better = " ".join(parts)
        return Reason(
            "stray-punctuation",
            f"expected one chord, found {shown(text)}",
            (f"chords of one bar are set apart by spaces alone: `{better}`",),
            better,
        )
    if text[0] == "#":
        return _expected_chord("remark-in-row", text, "a remark has a line of its own, and `#` is its first mark")
    return None


# Other alphabets and other habits.

_LOWER_ROOT = r"[a-g](?![a-z]{3})"  # am, f#m7, bb; not a word such as "gently"
_LOWER_BASS = r"/[a-g]"
_GERMAN = r"H(?![a-z]{3})"
_GERMAN_NAME = r"([CDFGA]|[Hh])is|([CDG])es|([EA])s(?!us)|Bes"
_SYLLABLE = r"(?is)(do|ut|re|ré|mi|fa|sol|la|si)([#b♯♭]?)(.*)"
_SYLLABLES = {"do": "C", "ut": "C", "re": "D", "ré": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B"}
_NUMERAL = r"[b#]?(?:[1-7]|[IViv]{1,3})(?:m|maj|dim|sus|7|°|-)?[0-9]*(?:/[1-7])?"


def _small_letters(at: Place) -> Reason | None:
    text = at.text
    if re.match(_LOWER_ROOT, text):
        better = text[0].upper() + text[1:]
        if not understood(better):
            better = re.sub(_LOWER_BASS, lambda m: m[0].upper(), better)
        if understood(better):
            minor = "m" in better and "maj" not in better.lower()
            return Reason(
                "lower-case-chord",
                f"expected a capital letter for the chord, found {shown(text)}",
                (f"write `{better}`" + ("" if "m" in better or "/" in better else f", or `{better}m` if it is minor"),),
                better if minor else None,  # for some, a small letter alone is a minor chord
            )
    head, slash, bass = text.rpartition("/")
    if slash and bass[:1] in "abcdefgh" and bass and len(bass) <= 3 and understood(head):
        capital = ("B" if bass[0] == "h" else bass[0].upper()) + bass[1:]
        if understood(f"{head}/{capital}"):
            return Reason(
                "lower-case-chord",
                f"expected a capital letter for the bass, found `{bass}`",
                (f"write `{head}/{capital}`",),
                f"{head}/{capital}",
            )
    return None


def _other_alphabets(at: Place) -> Reason | None:
    """Tell German, Romance and numbered chord names."""
    text = at.text
    german = re.match(_GERMAN_NAME, text)
    if german:
        name = (german[1] or "").upper().replace("H", "B") + "#" if german[1] else f"{german[2] or german[3] or 'B'}b"
        better = name + text[german.end() :]
        if understood(better):
            hints = (f"write the sharp or flat as a sign: `{better}`", "the German B is `Bb` here, the German H is `B`")
            return _expected_chord("german-name", text, *hints, better=better)
    if re.match(_GERMAN, text) and understood("B" + text[1:]):
        hint = f"the note H is called B here: write `B{text[1:]}`"
        return _expected_chord("german-h", text, hint, "the German B is written `Bb`")
    syllable = re.fullmatch(_SYLLABLE, text)
    if syllable:
        better = _SYLLABLES[syllable[1].lower()] + syllable[2] + syllable[3]
        if understood(better):
            return _expected_chord("syllable-name", text, f"chords have letter names: write `{better}`")
    if re.fullmatch(_NUMERAL, text):
        return Reason(
            "numbered-chord",
            f"expected a chord by its name, found {shown(text)}",
            ("write the chord's letter, such as `D` or `Bm`; the program moves it to any key",),
        )
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


def _two_meanings(at: Place) -> Reason | None:
    """Tell `C-5` and `C+9`."""
    match = re.match(_AMBIGUOUS, at.text)
    if match is None or match[2] + match[3] == "+5" or (match[2] == "-" and match[3] != "5"):
        return None
    root, sign, number, _ = match.groups()
    if sign == "-":
        means = f"`{root}(b5)` for a major chord with a lowered fifth, `{root}m` for a minor one, or `{root}5`"
    else:
        sharp = f"`{root}7(#{number})` for a raised note on a seventh chord, " if number != "13" else ""
        means = f"{sharp}`{root}add{number}` for an added one, or `{root}{number}(#5)`"
    return Reason("two-meanings", f"expected one meaning, found {shown(root + sign + number)}", (f"write {means}",))


def _respelled(at: Place) -> Reason | None:
    for pattern, template, why in _RESPELLED:
        match = re.match(pattern, at.text)
        if match is None:
            continue
        better = re.sub(pattern, template, at.text)
        if all(map(understood, better.split())):
            certain = "/" not in at.text and "4-3" not in at.text
            fix = better if certain or "\\" in at.text else None
            return _expected_chord("other-spelling", at.text, f"{why}: write `{better}`", better=fix)
    return None


_RULES = (
    _bars,
    _signs,
    _apart,
    _small_letters,
    _other_alphabets,
    _stuck,
    _two_meanings,
    _respelled,
)
