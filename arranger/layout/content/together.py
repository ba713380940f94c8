"""Join what is printed of several sections that are drawn once: their names, what the margin says, their words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from arranger.layout.content.margin_text import KNOWN
from arranger.layout.content.model import BarContent, MarginEntry, SectionContent


def stated_together(group: Sequence[SectionContent]) -> tuple[MarginEntry, ...]:
    """Return cues and facts of sections that are drawn once: what holds for all, then for each what is its own."""
    margins = [section.rows[0].margin for section in group]
    shared = set.intersection(*({entry.said for entry in margin} for margin in margins))
    news = {entry.said: entry for margin in margins for entry in margin if entry.role != KNOWN}
    stated = [news[entry.said] for entry in margins[0] if entry.said in shared and entry.said in news]
    differs: list[MarginEntry] = []
    pickups: list[MarginEntry] = []
    verse = 1
    for label, section, margin in zip(short_names([one.name for one in group]), group, margins, strict=True):
        own = [entry for entry in margin if entry.said not in shared and entry.role != "pickup"]
        if own:
            role = "change" if any(entry.role in ("cue", "change") for entry in own) else "fact"
            text = f"{label}: {', '.join(entry.said for entry in own)}"
            differs.append(MarginEntry(text, role, own[0].span.to(own[-1].span)))
        pickups += [replace(entry, text=f"{verse}. {entry.text}") for entry in margin if entry.role == "pickup"]
        verse += section.rows[0].verses
    stated = [entry for entry in stated if entry.role != "pickup"]
    return (*stated, *in_one(differs, " / "), *in_one(pickups, " "))


def in_one(entries: Sequence[MarginEntry], between: str) -> tuple[MarginEntry, ...]:
    """Return one entry of several that stay together."""
    if not entries:
        return ()
    role = next((entry.role for entry in entries if entry.role == "change"), entries[0].role)
    return (MarginEntry(between.join(entry.text for entry in entries), role, entries[0].span.to(entries[-1].span)),)


def verses_together(rows: Sequence[tuple[Sequence[BarContent], int]]) -> tuple[BarContent, ...]:
    """Put the words of equal bars under each other; each row comes with the number of its verses."""
    counts = [count for _, count in rows]
    joined = []
    for bars in zip(*(bars for bars, _ in rows), strict=True):
        columns = []
        for same in zip(*(bar.columns for bar in bars), strict=True):
            sung = [(*column.words, *[None] * count)[:count] for column, count in zip(same, counts, strict=True)]
            columns.append(same[0]._replace(words=tuple(words for verses in sung for words in verses)))
        joined.append(replace(bars[0], columns=tuple(columns)))
    return tuple(joined)


def short_names(names: Sequence[str]) -> list[str]:
    """Name each of several sections by what sets it apart from the others, where that is their last word.

    >>> short_names(["Verse 1", "Verse 2"]), short_names(["Chorus", "Last Chorus"])
    (['1', '2'], ['Chorus', 'Last Chorus'])
    """
    heads = {name.rpartition(" ")[0] for name in names}
    alike = len(heads) == 1 and "" not in heads
    return [name.rpartition(" ")[2] if alike else name for name in names]


def common_name(names: Sequence[str]) -> str:
    """Join the names of several sections that are drawn as one.

    >>> common_name(["Verse 1", "Verse 2"]), common_name(["Chorus", "Last Chorus"])
    ('Verse 1, 2', 'Chorus, Last Chorus')
    """
    _, *others = short_names(names)
    return ", ".join((names[0], *others))
