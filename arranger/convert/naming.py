"""Names of sections. Takes sections as they stand in the sheet; gives each a name that no other one has.

Which are the same once more is told here too: what has the same chords and words needs one name only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.convert.headings import base_of
from arranger.convert.model import Again, DraftSection
from arranger.song.roadmap import folded


@dataclass(frozen=True, slots=True)
class Item:
    """A section of the sheet in its place, with how often its heading says that it is played."""

    section: DraftSection
    times: int = 1


def with_names(items: Sequence[Item | tuple[int, Again]]) -> list[Item | tuple[int, Again]]:
    """Name the sections that have no heading by what they are.

    Words that come again are a chorus, all others verses; chords alone are an intro, an ending, or an interlude. Beside
    sections with headings they are only parts: what has no name there may be anything.
    """
    sections = [item.section for item in items if isinstance(item, Item)]
    unnamed = [section for section in sections if not section.name]
    partly = len(unnamed) < len(sections)
    found: list[Item | tuple[int, Again]] = []
    place = 0
    for item in items:
        if isinstance(item, Item):
            if not item.section.name:
                name = _part_name(place, unnamed) if partly else _guessed_name(item.section, place, sections)
                item = replace(item, section=replace(item.section, name=name))
            place += 1
        found.append(item)
    return found


def _part_name(place: int, unnamed: Sequence[DraftSection]) -> str:
    return "Part" if len(unnamed) == 1 else f"Part {place + 1}"


def _guessed_name(section: DraftSection, place: int, sections: Sequence[DraftSection]) -> str:
    if not section.words and not any(row.sung for row in section.rows):
        return (
            "Intro" if place == 0 and len(sections) > 1 else "Ending" if place == len(sections) - 1 > 0 else "Interlude"
        )
    alike = sum(same(section, other) and same(other, section) for other in sections)
    return "Chorus" if alike > 1 else "Verse"


def numbered(items: Sequence[Item | tuple[int, Again]]) -> list[Item | tuple[int, Again]]:
    """Number sections of one name that are not the same: `Verse`, `Verse` are `Verse 1`, `Verse 2`."""
    seen: dict[str, list[DraftSection]] = {}
    for item in items:
        if isinstance(item, Item) and (item.section.rows or item.section.words):
            alike = seen.setdefault(folded(item.section.name), [])
            if not any(same(item.section, other) for other in alike):
                alike.append(item.section)
    taken = {name for name, alike in seen.items() if len(alike) == 1}
    names: dict[tuple[str, int], str] = {}
    for folded_name, alike in seen.items():
        for place, section in enumerate(alike):
            name = section.name if len(alike) == 1 else _free_name(section.name, place + 1, taken)
            names[folded_name, place] = name
            taken.add(folded(name))
    found: list[Item | tuple[int, Again]] = []
    for item in items:
        if isinstance(item, Item):
            typed = folded(item.section.name)
            place = next((i for i, other in enumerate(seen.get(typed, ())) if same(item.section, other)), 0)
            name = names.get((typed, place), item.section.name)
            item = replace(item, section=replace(item.section, name=name))
        found.append(item)
    return found


def _free_name(name: str, number: int, taken: set[str]) -> str:
    """Return a name with its number; the first keeps a name that has one already, or that is called `Chorus`."""
    numbered = name[-1:].isdigit()
    if number == 1 and (numbered or base_of(name) != "verse") and folded(name) not in taken:
        return name
    stem = f"{name} again" if numbered else name
    if numbered and folded(stem) not in taken:
        return stem
    while folded(f"{stem} {number}") in taken:
        number += 1
    return f"{stem} {number}"


def same(one: DraftSection, other: DraftSection) -> bool:
    """Return whether a section is another once more: chords and words, or one of them where the other is not typed."""
    if not one.rows and not one.words:
        return True
    if one.key != other.key:
        return False
    if one.words:
        typed = _letters(" ".join(w.text for w in one.words))
        whole = _letters(" ".join(w.text for w in other.words)) if other.words else _letters(_text(other))
        return bool(typed) and whole.startswith(typed)
    if [row.chords for row in one.rows] != [row.chords for row in other.rows]:
        return False
    return not any(row.sung for row in one.rows) or _letters(_text(one)) == _letters(_text(other))


def _text(section: DraftSection) -> str:
    parts = [section.pickup]
    for row in section.rows:
        for bar in row.bars:
            for segment in bar.segments:
                parts.append(segment.text)
    return " ".join(parts)


def _letters(text: str) -> str:
    """Return the letters alone: punctuation and the parting of words do not make other words."""
    return "".join(c for c in text.casefold() if c.isalnum())
