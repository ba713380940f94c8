"""Settle what lines are that stand apart from the rest: a call of a section, or a chorus that stands further in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from arranger.convert.typed_lines import MOST_WORDS, LineMeaning
from arranger.habits.calls import calls_within
from arranger.habits.headings import Heading, base_of

INDENTED = 3  # columns by which a chorus stands further in
FEWEST_VERSES = 2  # beside which it does


def settled(lines: Sequence[LineMeaning]) -> list[LineMeaning]:
    """Return the lines of a sheet, with calls and headings where only the sheet as a whole tells them."""
    found = [_as_call(lines, i) if line.kind == "words" else line for i, line in enumerate(lines)]
    names = {line.heading.name for line in found if line.heading is not None}
    return _with_indented_refrains(found) if all(base_of(name) == "verse" for name in names) else found


def _with_indented_refrains(lines: Sequence[LineMeaning]) -> list[LineMeaning]:
    """Name the stanzas that stand further in than the others where a sheet names none: they are the chorus."""
    blocks = [list(block) for blank, block in groupby(lines, lambda line: line.kind == "blank") if not blank]
    stanzas = [block for block in blocks if any(line.chords is not None for line in block)]
    depths = {id(block): min(_indent(line) for line in block) for block in stanzas}
    inner = [block for block in stanzas if depths[id(block)] >= INDENTED]
    if not inner or len(stanzas) - len(inner) < len(inner) or len(stanzas) - len(inner) < FEWEST_VERSES:
        return list(lines)
    if stanzas[0] in inner or any(0 < depth < INDENTED for depth in depths.values()):
        return list(lines)
    firsts = {id(block[0]) for block in inner}
    found: list[LineMeaning] = []
    for line in lines:
        found += [LineMeaning(line.line.up_to(0), "heading", heading=Heading("Chorus"))] if id(line) in firsts else []
        found.append(line)
    return found


def _indent(line: LineMeaning) -> int:
    return len(line.line.padded) - len(line.line.padded.lstrip())


def _as_call(lines: Sequence[LineMeaning], place: int) -> LineMeaning:
    """Return a line that stands alone, and names sections of the sheet, as a call of these; others as they are."""
    item = lines[place]
    ended = place + 1 == len(lines) or lines[place + 1].kind == "blank"
    alone = ended and place > 0 and lines[place - 1].kind == "blank"
    before = {line.heading.name for line in lines[:place] if line.heading is not None}
    if not alone or not before or len(item.line.text.split()) > MOST_WORDS:
        return item
    steps = calls_within(item.line.text, before)
    return replace(item, kind="again", again=steps) if steps else item
