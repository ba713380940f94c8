"""Find out what a line most likely is that no word of the notation begins, and what to write instead.

Names of sections without `section`, rows without their barline, words with chords in them, remarks, jumps, titles,
people, and words that are typed for ours. Patterns are texts, compiled when first used: see slips.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from arranger.habits.signs import BAR_LETTERS, JUMP, NO_JUMPS, with_own_signs
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Span

# What sections are mostly called: a line of one of these alone lacks its `section`.
SECTION_NAMES = frozenset(
    (
        "intro", "introduction", "verse", "verses", "chorus", "refrain", "bridge", "prechorus", "pre-chorus",
        "interlude", "instrumental", "solo", "outro", "ending", "tag", "coda", "vamp", "turnaround", "link", "break",
        "middle",
    )
)  # fmt: skip
# Words that people type for ours.
_OTHER_WORDS = {
    "title": "song", "name": "song", "composer": "music", "author": "words", "lyrics": "sing", "lyric": "sing",
    "text": "sing", "copyright": "rights", "time": "meter", "signature": "meter", "bpm": "tempo", "speed": "tempo",
    "order": "roadmap", "structure": "roadmap", "form": "roadmap", "instrument": "sound", "sounds": "sound",
    "volume": "dynamic", "dynamics": "dynamic", "part": "section", "sections": "section", "note": "cue",
    "melody": "tune", "players": "band", "metre": "meter", "lang": "language",
    "density": "texture", "thickness": "texture", "bourdon": "drone",
}  # fmt: skip
# Of these, words that can mean nothing else in a song's file.
_SURELY = frozenset(("title", "composer", "copyright", "metre", "structure", "dynamics"))

_METER = r"[0-9]{1,2}/[0-9]{1,2}"
_LETTERS = r"[^\W\d_]+"
_TOKEN = r"[^\s|]+"
_LOOKED_AT = 32  # marks of a line that are tried as chords before it is taken for a row
_IN_BRACKETS = r"\[([^\[\]\s]{1,12})\]"
_REMARK_SIGNS = ("//", "--", ";", "/*", "%", "<!--", "* ", "—")
_AGAIN = r"(?i)(?:repeat|again|then|back to|go to)\b.*|(?:[0-9]+\s*[x×]|[x×]\s*[0-9]+)\.?"
_BY = r"(?i)(?:by|words and music|music and words|lyrics by|music by|words by|written by|arr\.?)\b.*"
_CHANGE = r"(?i)(?:modulat\w*|key change|transpose|change key|up a|down a)\b.*"
_SAME = r"(?i)(?:the )?(?:same(?: chords?)?|chords?) (?:as|like|of|from)(?: in)?(?: the)? (\S.{0,60})"

# Lines that say how full the keys play, who plays and what stays, with what is written instead.
_PLAYER = r"(?:the )?(?:keys|keyboard|piano|bass|drums|guitar|band|everybody|everyone|all)"
_OF_THE_ARC = (
    (r"(?i)[^\W\d_]+ texture", "the word `texture` comes first: `texture bare`, `light`, `full` or `wide`"),
    (
        rf"(?i)(?:just |only )?{_PLAYER}(?: and {_PLAYER})? (?:alone|only|out|in)|(?:just|only) {_PLAYER}|tutti"
        "|full band",
        "who plays in a section stands after `band`: `band keys alone`, `band bass`, `band all`; from a row on, `cue` "
        "says it",
    ),
    (
        r"(?i)pedal(?: (?:point|note|tone))?(?: on)?(?: [A-G][#b]?)*",
        "notes that stay through the chords stand after `drone`: `drone D`; what the foot does is said with `cue`",
    ),
)


class Notation(NamedTuple):
    """What is asked of the notation: whether a text is a chord, any mark of a row; the words that begin lines."""

    is_chord: Callable[[str], bool]
    is_mark: Callable[[str], bool]
    words: frozenset[str]


class TakenFor(NamedTuple):
    """What a line is taken for: a word of the notation (`|` for a row of chords), and what follows it with its place.

    The word `song` is for a line that is likely the title.
    """

    word: str
    text: str
    span: Span


class _Look(NamedTuple):
    """What the look of a line shows: code, hints, what it was found to be, the text that is certain, a section."""

    code: str
    hints: tuple[str, ...]
    what: str = ""
    better: str | None = None
    name: str = ""


def unknown_line(
    body: str, span: Span, in_section: bool, above: str, notation: Notation, problems: Problems
) -> TakenFor | None:
    """Report a line that no word of the notation begins; return what it is taken for, if anything.

    Args:
        body: the line without outer blanks.
        span: its place.
        in_section: a section was begun above.
        above: the word of the line above in its section, or at the top of the file; `|` for a row of chords.
        notation: what this room cannot know.
        problems: takes what is wrong.
    """
    name = body.strip("[](){}<>*#:= \t")
    first = re.match(_LETTERS, name)
    word = first[0].casefold() if first else ""
    names = (word, name.casefold().split(" ")[0])  # the second with its hyphen
    if "|" not in body and len(name) <= 40 and not SECTION_NAMES.isdisjoint(names):
        at = span.start + body.index(name)
        problems.error(
            "section-missing",
            f"expected `section` before the name of a section, found {shown(body)}",
            span,
            f"write `section {name}`",
            fix=Fix(span, f"section {name}"),
        )
        return TakenFor("section", name, Span(at, at + len(name)))
    if _is_row(body, span, notation, problems):
        return TakenFor("|", body, span)
    known = sorted({*notation.words, *_OTHER_WORDS})
    near = word if word in _OTHER_WORDS else next(iter(problems.nearest(word, known)), "")
    near = _OTHER_WORDS.get(near, near)
    look = _by_look(body, in_section or bool(above) or bool(near), notation)
    if look is not None:
        fix = None if look.better is None else Fix(span, look.better)
        message = f"expected a word that says what the line is, found {look.what} {shown(body)}".replace("  ", " ")
        problems.error(look.code, message, span, *look.hints, fix=fix)
        if look.code == "title-line":
            return TakenFor("song", body, span)
        if look.code == "like-line" and in_section:
            return TakenFor("like", look.name, Span(span.end - len(look.name), span.end))
        return TakenFor("|", body, span) if look.code == "chords-in-words" and in_section else None
    _report_word(body, span, word, near, _hints(body, in_section, above, near), problems)
    rest = body[len(word) :].strip()
    return TakenFor(near, rest, span) if near in ("section", "song") else None


def _hints(body: str, in_section: bool, above: str, near: str) -> list[str]:
    """Return hints for a line whose look does not show what it is."""
    hints = [f"did you mean `{near}`?"] if near else []
    arc = next((hint for pattern, hint in _OF_THE_ARC if re.fullmatch(pattern, body)), None)
    if arc is not None:
        return [arc]
    if not in_section:
        top = "the lines at the top begin with `song`, `key`, `tempo` and their like; a remark begins with `#`"
        return [*hints, top]
    if "|" in body:
        hints.append("a row of words begins with `sing`: `sing | …`")
    elif above == "|" and not near:
        few = " ".join(body.split()[:3])
        hints.append(f"if this is sung to the chords above, write `sing | {few} …`, with `|` where a bar begins")
    return [*hints, "words that are sung begin with `sing`, chords with `|`, words for the player with `cue`"]


def _report_word(body: str, span: Span, word: str, near: str, hints: list[str], problems: Problems) -> None:
    """Report a line whose first word is unknown."""
    typed = body.split()[0]
    rest = body[len(word) :].strip(": \t")
    certain = word == typed.casefold().rstrip(":") and (
        word in _SURELY or (word == "time" and re.fullmatch(_METER, rest) is not None)
    )
    problems.error(
        "unknown-word",
        f"expected a word that says what the line is, found {shown(typed)}",
        Span(span.start, span.start + len(typed)),
        *hints,
        fix=Fix(Span(span.start, span.start + len(word)), near) if certain else None,
    )


def _is_row(body: str, span: Span, notation: Notation, problems: Problems) -> bool:
    """Report a row of chords that does not begin with its barline; return whether the line is one."""
    letters = BAR_LETTERS | {"1"}
    tokens = re.findall(_TOKEN, with_own_signs(body))[:_LOOKED_AT]
    others = [t for t in tokens if t not in letters]
    marks = sum(map(notation.is_mark, others))
    # One slip among many chords does not make a row anything else; a name such as "A B" must not become one.
    if not others or (marks < len(others) and (marks < 2 or 3 * marks < 2 * len(others))):
        return False
    found = f"expected `|` at the start of a row of chords, found {shown(tokens[0])}"
    if tokens[0] in letters:
        hint = "type the barline `|`: on many keyboards it is with the backslash, on phones under the symbols"
        better = re.sub(_TOKEN, lambda m: "|" if m[0] in letters else m[0], body)
        problems.error("bar-letter", found, Span(span.start, span.start + 1), hint, fix=Fix(span, better))
    else:
        hint = f"begin with the barline and set one between the bars: `| {' | '.join(others[:4])} |`"
        fix = Fix(Span(span.start, span.start), "| ") if "|" in body else None
        problems.error("row-start", found, Span(span.start, span.start + len(tokens[0])), hint, fix=fix)
    return True


def _by_look(body: str, begun: bool, notation: Notation) -> _Look | None:
    """Return what a line is by its look; None where that shows nothing.

    Args:
        body: the line without outer blanks.
        begun: another line of the song stands above, or its first word is near to one of ours: it is no title.
        notation: what a chord is.
    """
    chords = [m[1] for m in re.finditer(_IN_BRACKETS, body)]
    if chords and any(map(notation.is_chord, chords)):
        words = " ".join(body.split(f"[{chords[0]}]", 1)[-1].split("[")[0].split()[:4]) or "…"
        above = f"chords have a row of their own: `| {' | '.join(chords[:4])} |`"
        below = f"the words stand below it, with `|` where the next bar begins: `sing | {words} | … |`"
        return _Look("chords-in-words", (above, below), "words with chords among them")
    sign = next((s for s in _REMARK_SIGNS if body.startswith(s)), None)
    if sign is not None:
        better = f"# {body[len(sign) :].strip()}" if sign in ("//", ";") else None
        return _Look("remark-sign", ("a remark begins with `#`",), better=better)
    if re.fullmatch(JUMP, body):
        return _Look("jump-line", (NO_JUMPS, "`roadmap Verse, Chorus, Verse bars 1-4, Ending`"))
    if re.fullmatch(_AGAIN, body):
        hint = "how often and in what order is said by the `roadmap` at the top: `roadmap Verse, Chorus x2`"
        return _Look("jump-line", (hint, "to repeat some bars of a row write `|: … :|`"))
    same = re.fullmatch(_SAME, body)
    if same is not None and begun:
        return _Look("like-line", (f"write `like {same[1]}`",), name=same[1])
    if re.fullmatch(_BY, body):
        return _Look("people-line", ("who wrote the words stands after `words`, who wrote the music after `music`",))
    if re.fullmatch(_CHANGE, body):
        return _Look("key-line", ("another key is a `section` of its own with its `key`; `like` moves the chords",))
    if not begun and "|" not in body:
        hint = f"if this is the title, write `song {body[:40]}`"
        return _Look("title-line", (hint, "a remark begins with `#`"))
    return None
