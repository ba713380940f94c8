"""What is odd in a song: marks that are not understood; what each code means.

The rules that know a slip by its look stand in the room of habits; what none of them knows is reported by the place
where the chord stops making sense. The codes are explained by the page grammar/mistakes.md.
"""

from __future__ import annotations

import re
from functools import cache

from arranger.habits.slips import Slip, slip_of
from arranger.resources import grammar_text
from arranger.song.cells import FINGERS, MANNERS, BadMark, is_chord
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Span
from arranger.theory.qualities import BY_NAME

_ROOT = re.compile(r"[A-G](?:##?|bb?)?")


def report_mark(bad: BadMark, cell: str, where: int, start: int, problems: Problems) -> None:
    """Put a mark that is not understood among the problems.

    Args:
        bad: the mark.
        cell: the text between the barlines.
        where: where the mark starts in the cell.
        start: where the cell starts in the file.
        problems: takes what is told.
    """
    span = Span(start + where, start + where + len(bad.text))
    fixed = _FIXED.get(bad.trouble)
    if fixed is not None:
        problems.error(bad.trouble, fixed[0].format(found=shown(bad.text)), span, *fixed[1])
        return
    before = cell[:where].rstrip()
    slip = slip_of(bad.text, before, cell[where + len(bad.text) :].strip(), is_chord) or _unknown(bad, problems)
    fix = None
    if slip.better is not None:
        fix = Fix(Span(start + len(before), span.end) if slip.joins else span, slip.better)
    place = Span(span.start + min(bad.at, len(bad.text) - 1), span.end) if slip.code == "bad-chord" else span
    problems.error(slip.code, slip.message, place, *slip.hints, fix=fix)


_SUNG_WORD = re.compile(r"[^\W\d_]{3,}[,.;:!?'’…-]*|[^\W\d_A-H][^\W\d_][,.;:!?'’-]*")


def is_word(bad: BadMark) -> bool:
    """Return whether a mark that is not understood is a word as it is sung or said."""
    return (
        bad.trouble == "bad-chord"
        and _SUNG_WORD.fullmatch(bad.text) is not None
        and slip_of(bad.text, "", "", is_chord) is None
    )


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


def _unknown(bad: BadMark, problems: Problems) -> Slip:
    """Return what is said of a mark that no rule knows."""
    text = bad.text
    root = _ROOT.match(text)
    if root and bad.at > 0:
        return _bad_suffix(text, root[0], bad.at, problems)
    if text.isalpha() and len(text) > 2:
        hints = [
            "words that are sung stand in a line that begins with `sing`, anything else in one that begins with `cue`",
            *(f"did you mean `{word}`?" for word in problems.nearest(text, (*MANNERS, "rest", "short"))),
        ]
        return Slip("words-in-chords", f"expected a chord, found the word {shown(text)}", tuple(hints))
    return Slip("bad-chord", f"expected a chord, `/`, `rest`, `N.C.` or `%`, found {shown(text)}")


def _bad_suffix(text: str, root: str, at: int, problems: Problems) -> Slip:
    """Return what is said of a root that is followed by what no chord has."""
    head, _, bass = text.partition("/")
    hints = []
    if bass and _ROOT.fullmatch(bass.split("/")[0]) and "/" in bass:
        hints.append("a chord has one bass")
    suffix = head[len(root) :].partition("=")[0]
    for near in problems.nearest(suffix, filter(None, BY_NAME), 2):
        hints.append(f"did you mean `{root}{near}{'/' + bass if bass and not hints else ''}`?")
    if "=" in text:
        hints.append("after `=` stand the right hand's notes, lowest first: `G=BDG` or `G=B3DG`")
    if not hints:
        hints.append(f"`{root}` alone is a chord; what follows it is not known here")
    found = text[at:] or "the end"
    message = f"expected a chord, found {shown(text)}: no chord goes on with {shown(found)}"
    return Slip("bad-chord", message, tuple(hints))


_HEADING = re.compile(r"^### ([a-z0-9-]+)$", re.MULTILINE)


@cache
def _parts() -> dict[str, str]:
    """Return the part of the page under each code, without what belongs to the next chapter."""
    _, *found = _HEADING.split(grammar_text("mistakes.md"))
    return {code: text.split("\n## ")[0].strip() for code, text in zip(found[::2], found[1::2], strict=True)}


def known_codes() -> tuple[str, ...]:
    """List the codes that are explained, in the order of the page."""
    return tuple(_parts())


def explanation(code: str) -> str:
    """Return what a code means: its name, a text, and in most cases what was typed and what is right.

    Raises:
        KeyError: there is no such code.
    """
    return f"{code}\n\n{_parts()[code]}"
