"""Lines that no known word begins, told by their look: words with chords in them, remarks, jumps, titles, people.

Takes such a line; gives what it most likely is, or nothing.
Patterns are texts, compiled when first used: see slips.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from arranger.song.cells import ChordWord, read_mark
from arranger.song.problems import Problems, shown
from arranger.text.diagnostics import Fix
from arranger.text.source import Span

_IN_BRACKETS = r"\[([^\[\]\s]{1,12})\]"
_REMARK_SIGNS = ("//", "--", ";", "/*", "%", "<!--", "* ", "—")
_JUMP = r"(?i)(?:to\s+)?(?:d\.?\s?[cs]\.?|da capo|dal segno|coda|fine)\b.*"
_AGAIN = r"(?i)(?:repeat|again|then|back to|go to)\b.*"
_BY = r"(?i)(?:by|words and music|music and words|lyrics by|music by|words by|written by|arr\.?)\b.*"
_CHANGE = r"(?i)(?:modulat\w*|key change|transpose|change key|up a|down a)\b.*"
_SAME = r"(?i)(?:the )?(?:same(?: chords?)?|chords?) (?:as|like|of|from)(?: in)?(?: the)? (\S.{0,60})"
_COUNT = r"(?i)(?:[0-9]+\s*[x×]|[x×]\s*[0-9]+)\.?"


@dataclass(frozen=True, slots=True)
class Mislaid:
    """What a line is: code, what it was found to be, hints, the text that is certain, the section that it names."""

    code: str
    what: str
    hints: tuple[str, ...]
    better: str | None = None
    name: str = ""

    def tell(self, body: str, span: Span, problems: Problems) -> None:
        """Put it among the problems."""
        fix = None if self.better is None else Fix(span, self.better)
        message = f"expected a word that says what the line is, found {self.what} {shown(body)}".replace("  ", " ")
        problems.error(self.code, message, span, *self.hints, fix=fix)


def told(body: str, begun: bool) -> Mislaid | None:
    """Return what a line is by its look.

    Args:
        body: the line without outer blanks.
        begun: another line of the song stands above, or its first word is near to one of ours: it is no title.
    """
    chords = [m[1] for m in re.finditer(_IN_BRACKETS, body)]
    if chords and any(isinstance(read_mark(c), ChordWord) for c in chords):
        first = chords[0]
        return Mislaid(
            "chords-in-words",
            "words with chords among them",
            (
                f"chords have a row of their own: `| {' | '.join(chords[:4])} |`",
                f"the words stand below it, with `|` where the next bar begins: `sing | {_between(body, first)} | … |`",
            ),
        )
    if body.startswith(_REMARK_SIGNS):
        sign = next(s for s in _REMARK_SIGNS if body.startswith(s))
        rest = body[len(sign) :].strip()
        return Mislaid("remark-sign", "", ("a remark begins with `#`",), f"# {rest}" if sign in ("//", ";") else None)
    if re.fullmatch(_JUMP, body):
        hint = "there are no jumps: the `roadmap` at the top names the sections in the order in which they are played"
        return Mislaid("jump-line", "", (hint, "`roadmap Verse, Chorus, Verse bars 1-4, Ending`"))
    if re.fullmatch(_AGAIN, body) or re.fullmatch(_COUNT, body):
        hint = "how often and in what order is said by the `roadmap` at the top: `roadmap Verse, Chorus x2`"
        return Mislaid("jump-line", "", (hint, "to repeat some bars of a row write `|: … :|`"))
    same = re.fullmatch(_SAME, body)
    if same is not None and begun:
        return Mislaid("like-line", "", (f"write `like {same[1]}`",), name=same[1])
    if re.fullmatch(_BY, body):
        return Mislaid(
            "people-line", "", ("who wrote the words stands after `words`, who wrote the music after `music`",)
        )
    if re.fullmatch(_CHANGE, body):
        return Mislaid(
            "key-line", "", ("another key is a `section` of its own with its `key`; `like` moves the chords",)
        )
    if not begun and "|" not in body:
        return Mislaid(
            "title-line", "", (f"if this is the title, write `song {body[:40]}`", "a remark begins with `#`")
        )
    return None


def _between(body: str, chord: str) -> str:
    """Return the words from one chord in brackets to the next."""
    after = body.split(f"[{chord}]", 1)[-1]
    return " ".join(after.split("[")[0].split()[:4]) or "…"
