"""Lend chords that a sheet types once, behind a name, to the words that it types further down without any.

`Verses:  G  Em  C  D` over a song whose verses are words alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from arranger.convert.compare import Body, BodyItem
from arranger.convert.model import DraftRow, DraftSection, Remark
from arranger.convert.underlay import shared_under
from arranger.habits.headings import base_of


def with_lent_chords(items: Body) -> Body:
    """Return a body in which words alone have the chords that stand before them behind a name of their kind.

    What stands over all words and lends its chords is no section that is played.
    """
    sections = [item for item in items if isinstance(item, DraftSection)]
    first_words = next((i for i, s in enumerate(sections) if s.words or any(r.sung for r in s.rows)), len(sections))
    lenders = {base_of(s.name): s for s in reversed(sections) if s.rows and not s.words}
    sung = {base_of(s.name) for s in sections if any(row.sung for row in s.rows)}
    needy = {base_of(s.name) for s in sections if s.words}
    lenders = {base: s for base, s in lenders.items() if base not in sung and base in needy}
    over_all = {id(s) for s in sections[:first_words]}
    found: list[BodyItem] = []
    told: set[str] = set()  # lenders whose remarks the first section over their chords has
    for item in items:
        lender = lenders.get(base_of(item.name)) if isinstance(item, DraftSection) else None
        if not isinstance(item, DraftSection) or lender is None:
            found.append(item)
        elif item.words:
            kept = id(lender) not in over_all or base_of(lender.name) in told
            found.append(_over(item, lender, with_remarks=not kept))
            told.add(base_of(lender.name))
        elif item is not lender or id(item) not in over_all:
            found.append(item)
    return found


def _over(section: DraftSection, lender: DraftSection, *, with_remarks: bool) -> DraftSection:
    """Return words alone over the rows of another section, by turns, and what was said of that one if it is gone."""
    rows: Sequence[DraftRow] = [
        replace(r, bars=tuple(replace(b, sign="|") for b in r.bars), end="|", notes=(), cues=()) for r in lender.rows
    ]
    said = f"no chords over these words: they are shared out to those of {lender.name}, line {lender.line}"
    laid = [shared_under(rows[i % len(rows)], words) for i, words in enumerate(section.words)]
    laid[0] = replace(laid[0], notes=(Remark("check", section.words[0].number, said), *laid[0].notes))
    section = replace(section, rows=tuple(laid), words=())
    if not with_remarks:
        return section
    notes = (*lender.notes, *(note for row in lender.rows for note in row.notes), *lender.closing)
    cues = (*([lender.remark] if lender.remark else ()), *lender.cues, *(c for row in lender.rows for c in row.cues))
    return replace(section, notes=(*notes, *section.notes), cues=(*cues, *lender.closing_cues, *section.cues))
