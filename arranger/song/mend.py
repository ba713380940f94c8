"""Songs put right where nothing else can have been meant. Takes a source; gives it with the certain fixes made."""

from __future__ import annotations

from dataclasses import dataclass

from arranger.song.read import read
from arranger.text.diagnostics import Diagnostic, Fix
from arranger.text.source import Source


@dataclass(frozen=True, slots=True)
class Mend:
    """A fix that was made: its line (from 1; fixes never part or join lines), its code, and what became what.

    `before` is empty where something was put in, `after` where something was taken out.
    """

    line: int
    code: str
    before: str
    after: str


ROUNDS = 8  # one fix can bring the next to light (a title's word, then its colon); more than a few never do


def mended(source: Source) -> tuple[Source, tuple[Mend, ...]]:
    """Make the certain fixes of a song; all that they do not touch stays to the letter.

    Gives the source with them made (the same one where there are none), and each of them. Fixes are made in
    rounds until none is left; a round that would leave the song with more errors than before is not made.
    """
    done: list[Mend] = []
    found = read(source)[1]
    for _ in range(ROUNDS):
        chosen = _apart(found)
        if not chosen:
            break
        after = Source(source.name, _changed(source.text, [fix for fix, _ in chosen]))
        left = read(after)[1]
        if _errors(left) > _errors(found):
            break
        done += [
            Mend(source.line_column(fix.span.start)[0], one.code, source[fix.span], fix.text) for fix, one in chosen
        ]
        source, found = after, left
    return source, tuple(done)


def _errors(found: tuple[Diagnostic, ...]) -> int:
    return sum(one.severity == "error" for one in found)


def _apart(found: tuple[Diagnostic, ...]) -> list[tuple[Fix, Diagnostic]]:
    """Choose fixes that do not touch each other, in the order of their places; the others come in the next round."""
    chosen: list[tuple[Fix, Diagnostic]] = []
    end = -1
    with_fix = [(one.fix, one) for one in found if one.fix is not None]
    for fix, one in sorted(with_fix, key=lambda pair: (pair[0].span.start, pair[0].span.end)):
        if fix.span.start > end:
            chosen.append((fix, one))
            end = fix.span.end
    return chosen


def _changed(text: str, fixes: list[Fix]) -> str:
    pieces = []
    at = 0
    for fix in fixes:
        pieces += [text[at : fix.span.start], fix.text]
        at = fix.span.end
    return "".join([*pieces, text[at:]])
