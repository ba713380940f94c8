"""Gather what a part prints with sections that are played alike drawn once: their verses stand under one drawing.

Up to three verses are stacked (in 464 lead sheets with words, 68 % have one verse, 23 % two, 6 % three, 3 % more:
OpenEWLD); further ones stand as text after the song.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.layout.content.alike import played, row_played, shared_fills
from arranger.layout.content.collect import collect, goes_on, words_by_time, words_of
from arranger.layout.content.how_played import apart_onward, drawn_order, in_pairs, one_by_one
from arranger.layout.content.margin_text import (
    closing_margin,
    onward_of,
    pickup_margin,
    row_margin,
    section_margin,
)
from arranger.layout.content.model import BarContent, MarginEntry, RowContent, SectionContent, VerseText, Words
from arranger.layout.content.on_staves import NO_BARS
from arranger.layout.content.symbols import LabelledFill
from arranger.layout.content.together import common_name, in_one, short_names
from arranger.layout.style import Look
from arranger.layout.text import Metrics
from arranger.song.model import Row, Section, Song, SungLine
from arranger.sounding.notation import BarKey, NotatedBar

MOST_STACKED = 3  # verses under one drawing of several sections
BETWEEN = " / "  # between what is said of one section and of the next

Group = tuple[int, ...]  # sections that are drawn once, by index
SungBar = Mapping[Fraction, tuple[Words | None, ...]]


class Folded(NamedTuple):
    """The sections of a part as they are drawn, and the verses that stand as text after them."""

    sections: tuple[SectionContent, ...]
    texts: tuple[VerseText, ...]


def groups_of(arrangement: Arrangement) -> tuple[Group, ...]:
    """Return the sections that are played alike, in the order in which their first ones are written."""
    groups: list[list[int]] = []
    by_what: dict[object, list[list[int]]] = {}
    for index in drawn_order(arrangement):
        what = played(arrangement.song.sections[index], arrangement.sections[index])
        known = by_what.setdefault(what, []) if what is not None else []
        group = next((one for one in known if shared_fills(arrangement, (*one, index)) is not None), None)
        if group is None:
            group = []
            groups.append(group)
            known.append(group)
        group.append(index)
    return tuple(map(tuple, groups))


def folded(
    arrangement: Arrangement,
    groups: Sequence[Group],
    metrics: Metrics,
    look: Look,
    patches: Mapping[str, str],
    written: Mapping[BarKey, NotatedBar] = NO_BARS,
) -> Folded:
    """Return the content of a part whose sections are drawn in groups.

    `patches` are as `section_margin` has them, `written` the bars as `staff_bars` has them.
    """
    song = arrangement.song
    told = replace(song, roadmap_written=True)  # what is drawn once leads to several places, in the order written too
    fills = {group[0]: _labelled(arrangement, group) for group in groups}
    drawn = collect(arrangement, metrics, look, patches, fills, written)
    sections, texts = [], []
    for number, (group, content) in enumerate(zip(groups, drawn, strict=True)):
        stacked, later = _stacked(song, group)
        made = _joined(arrangement, group, stacked, content, metrics, look, patches) if len(group) > 1 else content
        span = song.sections[group[0]].span
        following = groups[number + 1] if number + 1 < len(groups) else ()
        if arrangement.sections[group[0]].of is None:
            leads = onward_of(told, groups, number)
        else:
            leads = apart_onward(arrangement, group[0], following)
        onward = tuple(MarginEntry(text, "onward", span) for text in leads)
        first, *others = _hands_known(arrangement, group[0], made.rows)
        rows = (first._replace(margin=_before_pickup(first.margin, onward)), *others)
        sections.append(replace(made, rows=rows))
        labels = _numbers(song, group)
        texts += [_as_text(song.sections[index], index, labels[group.index(index)]) for index in later]
    return Folded(tuple(sections), tuple(texts))


def _labelled(arrangement: Arrangement, group: Group) -> list[LabelledFill]:
    """Return the fills of sections that are drawn once; one that not all have with the numbers of those that do."""
    numbers = dict(zip(group, _numbers(arrangement.song, group), strict=True))
    fills = shared_fills(arrangement, group) or ()
    return [
        (line, "" if len(having) == len(group) else ", ".join(numbers[index] for index in having))
        for line, having in fills
    ]


def _before_pickup(margin: Sequence[MarginEntry], onward: Sequence[MarginEntry]) -> tuple[MarginEntry, ...]:
    """Put where the roadmap leads after all that is said of a section, before the words sung before its first bar."""
    facts = [entry for entry in margin if entry.role != "pickup"]
    return (*facts, *onward, *(entry for entry in margin if entry.role == "pickup"))


def _stacked(song: Song, group: Group) -> tuple[list[int], list[int]]:
    """Divide sections that are drawn once into those whose words stand under the drawing, and those after the song.

    Of sections that all have the same words those of the first stand for all.
    """
    words = [_words_of(song.sections[index]) for index in group]
    if all(one == words[0] for one in words):
        return [group[0]], []
    stacked: list[int] = []
    later: list[int] = []
    verses = 0
    for index in group:
        count = max((len(row.words) for row in song.sections[index].rows), default=0)
        if later or (stacked and count and verses + count > MOST_STACKED):
            if count:
                later.append(index)
            continue
        stacked.append(index)
        verses += count
    return stacked, later


def _words_of(section: Section) -> object:
    return section.pickup, tuple(row.words for row in section.rows)


def _numbers(song: Song, group: Group) -> list[str]:
    """Return for each section what its verse is called: its number, where names end in one; else its place."""
    short = short_names([song.sections[index].name for index in group])
    if all(name.isdecimal() for name in short) and len(set(short)) == len(short):
        return short
    return [str(place) for place in range(1, len(group) + 1)]


def _joined(
    arrangement: Arrangement,
    group: Group,
    stacked: Sequence[int],
    content: SectionContent,
    metrics: Metrics,
    look: Look,
    patches: Mapping[str, str],
) -> SectionContent:
    """Make one section of several that are played alike."""
    song = arrangement.song
    written = [song.sections[index] for index in group]
    names = short_names([one.name for one in written])
    name = together([one.name for one in written])
    labels = dict(zip(group, _numbers(song, group), strict=True))
    rows = []
    for number, row in enumerate(content.rows):
        under = [song.sections[index].rows[number] for index in stacked]
        bars = _under_each_other(row.bars, under, look, song, metrics)
        verse_labels = [labels[i] for i, one in zip(stacked, under, strict=True) for _ in one.words]
        plain = len(set(verse_labels)) < len(verse_labels)  # a section with several verses of its own: they are counted
        margins = [[*row_margin(one.rows[number])] if number else _head(arrangement, i, patches, look)
                   for i, one in zip(group, written, strict=True)]  # fmt: skip
        margin = _said_of_all(margins, names)
        if number == 0:
            pickups = _pickups(song, stacked, labels)
            margin = (MarginEntry(name, "section", content.span), *margin, *pickups)
        made = row._replace(
            bars=bars,
            verses=len(verse_labels),
            labels=() if plain or len(stacked) == 1 else tuple(f"{label}." for label in verse_labels),
            margin=margin,
        )
        rows.append(made)
    end = song.roadmap[-1]
    if end.section in group and end.to_bar is None and rows[-1].bars:
        *before, last = rows[-1].bars
        rows[-1] = rows[-1]._replace(bars=(*before, replace(last, final=True)))
    closing = _said_of_all([[*closing_margin(one)] for one in written], names)
    return replace(content, name=name, indices=group, rows=tuple(rows), closing=closing)


def _head(arrangement: Arrangement, index: int, patches: Mapping[str, str], look: Look) -> list[MarginEntry]:
    """Return what is said of a section, its name and pickup apart."""
    return [entry for entry in section_margin(arrangement, index, patches, look) if entry.role != "section"]


def _pickups(song: Song, stacked: Sequence[int], labels: Mapping[int, str]) -> list[MarginEntry]:
    """Return the words sung before the first bar in each verse that stands under the drawing."""
    found = []
    verse = 0
    for index in stacked:
        label = f"{labels[index]}." if len(stacked) > 1 else ""
        found += [replace(entry, verse=verse, label=label) for entry in pickup_margin(song.sections[index])]
        verse += len(song.sections[index].rows[0].words)
    return found


def _said_of_all(margins: Sequence[Sequence[MarginEntry]], names: Sequence[str]) -> tuple[MarginEntry, ...]:
    """Return what is said of sections that are drawn once: what holds for all, then for each what is its own.

    Of a fact that every section has, a dynamic, that of the first is said plainly, and by number where it is another.
    """
    rhythms = [entry for entry in margins[0] if entry.rhythm]  # of the others the manner is said in words
    margins = [[one for entry in margin if not entry.rhythm for one in one_by_one(entry)] for margin in margins]
    shared = set.intersection(*({entry.said for entry in margin} for margin in margins))
    everywhere = set.intersection(*({entry.kind for entry in margin} for margin in margins)) - {""}
    stated = [entry for entry in margins[0] if entry.said in shared or entry.kind in everywhere]
    plainly = {entry.said for entry in stated}
    own: dict[str, list[tuple[str, MarginEntry]]] = {}  # by what is said, of which sections
    for name, margin in zip(names, margins, strict=True):
        for entry in margin:
            if entry.said not in plainly:
                own.setdefault(entry.said, []).append((name, entry))
    said: dict[tuple[str, ...], list[MarginEntry]] = {}  # by sections, what is said of just these
    for whose in own.values():
        said.setdefault(tuple(name for name, _ in whose), []).append(whose[0][1])
    differs = []
    for whose_names, entries in said.items():
        role = next((entry.role for entry in entries if entry.role in ("cue", "change")), "fact")
        text = f"{', '.join(whose_names)}: {', '.join(entry.said for entry in entries)}"
        differs.append(MarginEntry(text, role, entries[0].span.to(entries[-1].span)))
    return (*in_pairs(stated), *rhythms, *in_one(differs, BETWEEN))


def _under_each_other(
    bars: Sequence[BarContent], rows: Sequence[Row], look: Look, song: Song, metrics: Metrics
) -> tuple[BarContent, ...]:
    """Put the words of several rows with the same chords under bars that have them already, without their words."""
    made = []
    lines = [words_of(song, row) for row in rows]
    for place, bar in enumerate(bars):
        verses = [
            (words_by_time(row.bars[place], [line[place] for line in of], look, metrics), len(of))
            for row, of in zip(rows, lines, strict=True)
        ]
        columns = []
        for column in bar.columns:
            words = tuple(one for found, count in verses for one in found.get(column.time, (None,) * count))
            columns.append(column._replace(words=words))
        made.append(replace(bar, columns=tuple(columns)))
    return tuple(made)


def _hands_known(arrangement: Arrangement, index: int, rows: Sequence[RowContent]) -> tuple[RowContent, ...]:
    """Mark rows whose chords and hands come again in their section with the first that has them."""
    section, part = arrangement.song.sections[index], arrangement.sections[index]
    if section.tacet or len(rows) < 2:
        return tuple(rows)
    first: dict[object, int] = {}
    places = [first.setdefault(row_played(section, part, number), number) for number in range(len(rows))]
    return tuple(
        row._replace(hands_of=place) if places.count(place) > 1 else row
        for row, place in zip(rows, places, strict=True)
    )


def _as_text(section: Section, index: int, label: str) -> VerseText:
    """Return the words of a section as text, a line for each of its rows; those of one row are parted by a stroke."""
    rows = []
    for number, row in enumerate(section.rows):
        pickup = section.pickup.value if number == 0 and section.pickup is not None else ""
        rows.append(BETWEEN.join(_line_of(line, "" if verse else pickup) for verse, line in enumerate(row.words)))
    return VerseText(f"{label}.", tuple(filter(None, rows)), index, section.span)


def _line_of(line: SungLine, text: str) -> str:
    """Return the words of a row after those that are sung before it; what goes on in the next row ends in a hyphen."""
    joins = text.endswith("-")
    for bar in line.bars:
        for piece in bar.pieces:
            if not piece.text or piece.text == "_":
                continue
            text = text.removesuffix("-") if joins else text
            text += piece.text if not text or piece.glued or joins else f" {piece.text}"
            joins = goes_on(piece)
        joins = joins or bar.joins
    return f"{text}-" if joins and not text.endswith("-") else text


def together(names: Sequence[str]) -> str:
    """Join the names of sections that are drawn once, those that are counted by their first and last number.

    >>> together(["Verse 1", "Verse 2", "Verse 3"]), together(["Verse 1", "Verse 3"]), together(["Chorus", "Tag"])
    ('Verse 1–3', 'Verse 1, 3', 'Chorus, Tag')
    """
    short = short_names(names)
    counted = all(name.isdecimal() for name in short)
    if (
        counted
        and len(names) > 2
        and [int(name) for name in short] == [*range(int(short[0]), int(short[0]) + len(names))]
    ):
        return f"{names[0]}–{short[-1]}"
    return common_name(names)
