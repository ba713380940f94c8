"""Why a mark of a chord row is not understood, in a musician's words, and what to write instead."""

from __future__ import annotations

import re

from arranger.song.cells import FINGERS, MANNERS, BadMark, ChordWord, read_mark
from arranger.song.problems import Problems, shown
from arranger.song.spelling import suffixes
from arranger.source import Span

_LOWER_ROOT = re.compile(r"[a-g](?![a-z]{3})")  # am, f#m7, bb; not a word such as "gently"
_LOWER_BASS = re.compile(r"/[a-g]")
_GERMAN = re.compile(r"H(?![a-z]{3})")
_BAR_LETTERS = frozenset("Il!")  # typed for the bar sign
_AMBIGUOUS = re.compile(r"([A-G](?:##?|bb?)?)([+-])(5|9|11|13)(.*)")
_SYLLABLES = {"do": "C", "re": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B"}
_TIMES = re.compile(r"[xX×]\s*([0-9]+)|([0-9]+)\s*[xX×]")
_NUMERAL = re.compile(r"[b#]?(?:[1-7]|[IViv]{1,3})(?:m|maj|dim|sus|7|°)?[0-9]*")
_ROOT = re.compile(r"[A-G](?:##?|bb?)?")
_SHORT_FORM = re.compile(r"[0-9]{1,2}/[0-9]{1,2}")
_END_OF_SENTENCE = ",.;:"


def report(bad: BadMark, span: Span, problems: Problems) -> None:
    """Put a mark that is not understood among the problems. `span` is the mark's."""
    fixed = _FIXED.get(bad.trouble)
    if fixed is not None:
        problems.error(bad.trouble, fixed[0].format(found=shown(bad.text)), span, *fixed[1])
        return
    code, message, *hints = _explain(bad, problems)
    at = Span(span.start + min(bad.at, span.end - span.start - 1), span.end) if code == "bad-chord" else span
    problems.error(code, message, at, *hints)


_FIXED: dict[str, tuple[str, tuple[str, ...]]] = {
    "manner-without-chord": (
        "expected a chord before {found}",
        (f"the words {', '.join(f'`{m}`' for m in MANNERS)} come after a chord: `D hold`",),
    ),
    "repeat-not-alone": (
        "expected `%` alone in its bar",
        ("`%` repeats the whole bar before; to go on with the same chord write `/`",),
    ),
    "meter-not-first": (
        "expected a meter only at the start of a bar, found {found}",
        ("write the meter right after the barline where it changes: `| 2/4 A | 4/4 Bm |`",),
    ),
    "bad-short": (
        "expected the length of the short bar after `short`, found {found}",
        ("write `| short 1/4 D |` for a first bar of one quarter",),
    ),
    "too-many-pins": (
        f"expected {FINGERS} notes at most after `=`, found more in {{found}}",
        ("the notes after `=` are those of the right hand alone",),
    ),
    "pins-not-rising": (
        "expected the notes after `=` from the lowest to the highest, found {found}",
        ("write the lowest first, each higher than the one before, or leave the octave numbers out",),
    ),
}


def _explain(bad: BadMark, problems: Problems) -> tuple[str, ...]:
    """Give code, message and hints for a mark that is no chord."""
    text = bad.text
    for rule in (_slips_of_the_hand, _other_alphabets, _loose_ends, _two_meanings):
        found = rule(text)
        if found:
            return found
    root = _ROOT.match(text)
    if root and bad.at > 0:
        return _bad_suffix(text, root[0], bad.at, problems)
    if text.isalpha() and len(text) > 2:
        return (
            "words-in-chords",
            f"expected a chord, found the word {shown(text)}",
            "words that are sung stand in a line that begins with `sing`, anything else in one that begins with `cue`",
            *(f"did you mean `{w}`?" for w in problems.nearest(text, (*MANNERS, "rest", "short"))),
        )
    return ("bad-chord", f"expected a chord, `/`, `rest`, `N.C.` or `%`, found {shown(text)}")


def _understood(text: str) -> bool:
    return isinstance(read_mark(text), ChordWord)


def _slips_of_the_hand(text: str) -> tuple[str, ...] | None:
    """Tell letters typed for the bar sign, lower-case roots, and counts of repeats."""
    if text in _BAR_LETTERS:
        return ("bar-letter", f"expected a chord, found {shown(text)}", "if this is a barline, type `|`")
    if _LOWER_ROOT.match(text):
        better = text[0].upper() + text[1:]
        if not _understood(better):
            better = _LOWER_BASS.sub(lambda m: m[0].upper(), better)
        if _understood(better):
            return (
                "lower-case-chord",
                f"expected a capital letter for the chord, found {shown(text)}",
                f"write `{better}`" + ("" if "m" in better or "/" in better else f", or `{better}m` if it is minor"),
            )
    times = _TIMES.fullmatch(text)
    if times:
        number = times[1] or times[2]
        return (
            "loose-times",
            f"expected a chord, found {shown(text)}",
            f"to repeat, put `|:` before and `:| x{number}` after",
        )
    return None


def _other_alphabets(text: str) -> tuple[str, ...] | None:
    """Tell German, Romance and numbered chord names."""
    if _GERMAN.match(text) and _understood("B" + text[1:]):
        return (
            "german-h",
            f"expected a chord, found {shown(text)}",
            f"the note H is called B here: write `B{text[1:]}`",
            "the German B is written `Bb`",
        )
    if text.lower() in _SYLLABLES:
        name = _SYLLABLES[text.lower()]
        return ("syllable-name", f"expected a chord, found {shown(text)}", f"chords have letter names: write `{name}`")
    if _NUMERAL.fullmatch(text):
        return (
            "numbered-chord",
            f"expected a chord by its name, found {shown(text)}",
            "write the chord's letter, such as `D` or `Bm`; the program moves it to any key",
        )
    return None


def _loose_ends(text: str) -> tuple[str, ...] | None:
    """Tell basses set apart, stray punctuation, lone parentheses, pushes before silence."""
    if text[0] == "/" and _ROOT.fullmatch(text[1:]):
        return (
            "loose-bass",
            f"expected the bass right after its chord, found {shown(text)} apart",
            f"write it without a space: `D{text}`",
            "a rhythm slash has a space on both sides",
        )
    if len(text) > 1 and text[-1] == "/" and _understood(text[:-1]):
        return (
            "loose-bass",
            f"expected a bass right after the slash, found a space after {shown(text)}",
            f"write `{text}F#` without a space for a bass, or `{text[:-1]} /` to go on for one mark more",
        )
    if text[0] == "<" and text[1:].lower() in ("rest", "nc", "n.c.", "/", "%", ""):
        return (
            "push-without-chord",
            f"expected a chord after `<`, found {shown(text)}",
            "only a chord can come early; write `<` right before it: `<G`",
        )
    if text.count("(") != text.count(")"):
        return (
            "open-parenthesis",
            f"expected parentheses in pairs, found {shown(text)}",
            "close what is open, in the same bar: `C7(b9)`, `(G)`",
        )
    if text[0] == "(" and " " in text:
        return (
            "two-in-parentheses",
            f"expected one chord in parentheses, found {shown(text)}",
            "put each chord that may be left out into its own: `(D) (G)`",
        )
    if text in ("-", ".", "_", "~", "//", "'"):
        return ("bad-chord", f"expected a chord, found {shown(text)}", "to go on for one mark more write `/`")
    if text[-1] in _END_OF_SENTENCE and _understood(text[:-1]):
        return (
            "stray-punctuation",
            f"expected nothing after the chord, found `{text[-1]}`",
            f"write `{text[:-1]}`; chords of one bar are set apart by spaces alone",
        )
    if len(text) > 1 and text[-1] == "*" and _understood(text[:-1]):
        return ("stray-punctuation", f"expected a chord, found {shown(text)}", "`*` stands in the words, not in chords")
    return None


def _two_meanings(text: str) -> tuple[str, ...] | None:
    """Tell `C-5` and `C+9`, and basses with a small letter."""
    match = _AMBIGUOUS.match(text)
    if match and match[2] + match[3] != "+5" and (match[2] == "+" or match[3] == "5"):
        root, sign, number, _ = match.groups()
        if sign == "-":
            means = f"`{root}(b5)` for a major chord with a lowered fifth, `{root}m` for a minor one, or `{root}5`"
        else:
            sharp = f"`{root}7(#{number})` for a raised note on a seventh chord, " if number != "13" else ""
            means = f"{sharp}`{root}add{number}` for an added one, or `{root}{number}(#5)`"
        return ("two-meanings", f"expected one meaning, found {shown(root + sign + number)}", f"write {means}")
    head, slash, bass = text.rpartition("/")
    if slash and bass[:1] in "abcdefgh" and bass and len(bass) <= 3 and _understood(head):
        capital = ("B" if bass[0] == "h" else bass[0].upper()) + bass[1:]
        if _understood(f"{head}/{capital}"):
            return (
                "lower-case-chord",
                f"expected a capital letter for the bass, found `{bass}`",
                f"write `{head}/{capital}`",
            )
    return None


def _bad_suffix(text: str, root: str, at: int, problems: Problems) -> tuple[str, ...]:
    """Tell a root that is followed by what no chord has."""
    head, _, bass = text.partition("/")
    hints = []
    if bass and _ROOT.fullmatch(bass.split("/")[0]) and "/" in bass:
        hints.append("a chord has one bass")
    suffix = head[len(root) :].partition("=")[0]
    for near in problems.nearest(suffix, suffixes(), 2):
        hints.append(f"did you mean `{root}{near}{'/' + bass if bass and not hints else ''}`?")
    if "=" in text:
        hints.append("after `=` stand the right hand's notes, lowest first: `G=BDG` or `G=B3DG`")
    if not hints:
        hints.append(f"`{root}` alone is a chord; what follows it is not known here")
    found = text[at:] or "the end"
    return ("bad-chord", f"expected a chord, found {shown(text)}: no chord goes on with {shown(found)}", *hints)
