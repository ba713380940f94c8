"""Names of sections. Takes sections as they stand in the sheet; gives each a name that no other one has.

Which are the same once more is told here too: what has the same chords and words needs one name only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from arranger.convert.model import DraftSection, Note
from arranger.convert.syllables import laid_over
from arranger.habits.headings import Again, Heading, base_of, reference_of
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


MOST_TIMES = 99  # of a step of a roadmap


@dataclass(frozen=True, slots=True)
class Ordered:
    """The sections to be written, the playing order, and what there is to say about it."""

    sections: tuple[DraftSection, ...]
    order: tuple[Heading, ...]
    notes: tuple[Note, ...]

    @property
    def plain(self) -> bool:
        """Whether the order is that of the sections, each once."""
        return [step.name for step in self.order] == [s.name for s in self.sections] and all(
            step.times == 1 and not step.remark for step in self.order
        )


@dataclass(slots=True)
class _Book:
    """What was found so far. Mutable; lives in `in_order`."""

    sections: list[DraftSection] = field(default_factory=list)
    typed: dict[str, DraftSection] = field(default_factory=dict)  # by name, before they became `like` others
    order: list[Heading] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def find(self, name: str) -> DraftSection | None:
        return next((s for s in self.sections if folded(s.name) == folded(name)), None)

    def kind(self, name: str) -> list[DraftSection]:
        return [s for s in self.sections if base_of(s.name) == base_of(name)]


def in_order(items: Sequence[Item | tuple[int, Again]], chordless: Callable[[DraftSection], DraftSection]) -> Ordered:
    """Put sections in order.

    Args:
        items: sections and calls of them, as they stand in the sheet.
        chordless: makes bars for a section of words alone that no other section lends chords.
    """
    book = _Book()
    items = numbered(items)
    later = [i.section for i in items if isinstance(i, Item) and i.section.rows]
    for item in items:
        if isinstance(item, Item):
            _take(item, book, later, chordless)
        else:
            _call(*item, book, later)
    for step in book.order:
        if book.find(step.name) is None:
            raise AssertionError(step.name)
    _place_remarks(book)
    return Ordered(tuple(book.sections), tuple(merged(book.order)), tuple(book.notes))


def _place_remarks(book: _Book) -> None:
    """Let what a heading says for the player stand in its section, or in the roadmap where others take that along."""
    models = {section.like for section in book.sections}
    for index, section in enumerate(book.sections):
        if not section.remark:
            continue
        places = [place for place, step in enumerate(book.order) if step.name == section.name]
        if section.name not in models and len(places) == 1:
            book.sections[index] = replace(section, cues=(section.remark, *section.cues))
        elif not book.order[places[0]].remark:
            book.order[places[0]] = replace(book.order[places[0]], remark=section.remark)


def merged(order: Sequence[Heading]) -> list[Heading]:
    """Make one step of a section that is played several times in a row, where nothing is said of each time."""
    found: list[Heading] = []
    for step in order:
        last = found[-1] if found else None
        if last is not None and last.name == step.name and not last.remark and not step.remark:
            found[-1] = replace(last, times=min(last.times + step.times, MOST_TIMES))
        else:
            found.append(step)
    return found


def _take(
    item: Item, book: _Book, later: Sequence[DraftSection], chordless: Callable[[DraftSection], DraftSection]
) -> None:
    """Take one section of the sheet."""
    section = item.section
    if not section.rows and not section.words:
        _named(section, item.times, book, later)
        return
    known = book.typed.get(folded(section.name))
    if known is not None and same(section, known):
        _step(book, known.name, item.times, section)
        return
    book.typed[folded(section.name)] = section
    if section.words:
        model = next(
            (s for s in book.kind(section.name) if not s.like and s.rows and any(r.sung for r in s.rows)), None
        )
        model = model or next(
            (
                s
                for s in later
                if base_of(s.name) == base_of(section.name)
                and any(r.sung for r in s.rows)
                and not any(made.like for made in book.sections if made.name == s.name)
            ),
            None,
        )
        laid = laid_over(section, model) if model is not None else None
        section = laid if laid is not None else chordless(section)
    elif all(s.like != section.name for s in book.sections):  # a model of words before it keeps its own chords
        model = _model(section, book)
        if model is not None:
            section = _like(section, model)
    name, number = section.name, 2
    while book.find(name) is not None:  # a section over the chords of another has the name already
        name, number = f"{section.name} {number}", number + 1
    section = replace(section, name=name)
    book.sections.append(section)
    _step(book, section.name, item.times, None)


def _step(book: _Book, name: str, times: int, again: DraftSection | None) -> None:
    """Add a step; what a repeated section says for the player goes along as its remark."""
    remark = ""
    if again is not None:
        cues = [again.remark, *again.cues, *(cue for row in again.rows for cue in row.cues), *again.closing_cues]
        remark = "; ".join(c for c in cues).replace("(", "").replace(")", "")
        said = (*again.notes, *(n for row in again.rows for n in row.notes), *again.closing)
        book.notes += [n for n in said if n.kind == "left"]
    book.order.append(Heading(name, min(times, MOST_TIMES), remark))


def _named(section: DraftSection, times: int, book: _Book, later: Sequence[DraftSection]) -> None:
    """Take a name without chords or words: a call of a section, or one over the chords of another."""
    meant = next(
        (called for cue in (section.remark, *section.cues, *section.closing_cues) if (called := reference_of(cue))), ""
    )
    model = book.find(_called(meant, book, later) or "") if meant else None
    if model is not None and book.find(section.name) is None:
        cues = tuple(cue for cue in section.cues if not reference_of(cue))
        closing = tuple(cue for cue in section.closing_cues if not reference_of(cue))
        remark = "" if reference_of(section.remark) else section.remark
        section = replace(section, remark=remark, cues=cues, closing_cues=closing)
        book.sections.append(_named_like(section, model, book))
        _step(book, section.name, times, None)
        return
    known = _called(section.name, book, later)
    if known is None:
        said = f"`{section.name}` has neither chords nor words in the sheet, and is left out"
        book.notes.append(Note("left", section.line, said))
        book.notes += section.closing
        return
    original = book.find(known)
    if section.key is not None and original is not None and section.key != original.key:
        moved = f"{known} in {section.key}"
        if book.find(moved) is None:
            book.sections.append(_named_like(replace(section, name=moved), original, book))
        known = moved
        section = replace(section, remark="", cues=(), closing_cues=())
    _step(book, known, times, section)


def _named_like(section: DraftSection, called: DraftSection, book: _Book) -> DraftSection:
    """Let a name alone take the chords of the section that it calls; its words too where both are of one kind."""
    original = (book.find(called.like) if called.like else None) or called
    sung = base_of(section.name) == base_of(called.name) and "instrumental" not in folded(section.name)
    own = called.like != "" and sung  # words of the called section over another's chords
    return replace(
        section,
        like=original.name,
        rows=tuple(replace(row, notes=(), cues=()) for row in called.rows) if own else (),
        pickup=called.pickup if own else "",
        without_words=_has_words(original) and (called.without_words if own else not sung),
    )


def _called(name: str, book: _Book, later: Sequence[DraftSection]) -> str | None:
    """Find the section that a name calls: of that name, or the last of its kind; if need be, one that comes later."""
    known = book.find(name)
    if known is not None:
        return known.name
    kind = book.kind(name)
    numbered = name[-1:].isdigit()
    if kind and (not numbered or base_of(name) != "verse"):
        return kind[-1].name
    ahead = [s.name for s in later if folded(s.name) == folded(name)]
    return ahead[0] if ahead else None


def _call(line: int, again: Again, book: _Book, later: Sequence[DraftSection]) -> None:
    """Take a line that calls sections again."""
    for step in again.steps:
        if not step.name:
            if book.order:
                last = book.order[-1]
                book.order[-1] = replace(last, times=min(max(last.times, step.times), MOST_TIMES))
            continue
        known = _called(step.name, book, later)
        if known is None:
            book.notes.append(Note("left", line, f"`{step.name}` is to be played again, but is no section here"))
        else:
            book.order.append(Heading(known, step.times, step.remark))


def _model(section: DraftSection, book: _Book) -> DraftSection | None:
    """Find a section whose bars are the same, of the same kind first."""
    shape = [row.chords for row in section.rows]
    alike = [
        s
        for s in book.sections
        if not s.like and s.key == section.key and [row.chords for row in s.rows] == shape
        and all(m.sung or not c.sung for m, c in zip(s.rows, section.rows, strict=True))
    ]  # fmt: skip
    if sum(len(row.bars) for row in section.rows) < 2:
        return None
    return min(alike, key=lambda s: base_of(s.name) != base_of(section.name), default=None)


def _like(section: DraftSection, model: DraftSection) -> DraftSection:
    """Keep of a section what its model does not have: its words, row by row of those that have words there."""
    rows = [row for row, other in zip(section.rows, model.rows, strict=True) if other.sung]
    while rows and not rows[-1].sung:
        rows.pop()
    # What is said at rows that are not written here stands at the head.
    dropped = [row for row in section.rows if not any(row is kept for kept in rows)]
    left = [note for row in dropped for note in row.notes if note.kind == "left"]
    cues = [cue for row in dropped for cue in row.cues]
    rows = [replace(row, notes=tuple(n for n in row.notes if n.kind == "left")) for row in rows]
    return replace(
        section,
        rows=tuple(rows),
        like=model.name,
        without_words=not rows and _has_words(model),
        notes=(*section.notes, *left),
        cues=(*section.cues, *cues),
    )


def _has_words(section: DraftSection) -> bool:
    return bool(section.pickup) or any(row.sung for row in section.rows)
