"""Sections compared. Takes sections with their bars, in the order of the sheet; gives each once, and the playing order.

A section that comes again as it was is a step of the roadmap; one with the same chords under other words is `like` the
first; a name alone is a step. Words alone take the chords of the section of their kind.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from arranger.convert.headings import base_of, reference_of
from arranger.convert.model import Again, DraftBar, DraftRow, DraftSection, Heading, Note, Segment, SheetLine
from arranger.convert.naming import Item, numbered, same
from arranger.convert.syllables import FILLER, starts_in
from arranger.song.roadmap import folded

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


def laid_over(section: DraftSection, model: DraftSection) -> DraftSection | None:
    """Lay words without chords over the bars of a model by syllables; None where there are more lines than rows."""
    sung = [row for row in model.rows if row.sung]
    if not sung or len(section.words) > len(sung):
        return None
    rows = []
    pickup = ""
    for line, row in zip(section.words, sung, strict=False):
        laid, before = _line_over(line, row, model.pickup if row is sung[0] else "")
        pickup = pickup or before
        rows.append(laid)
    first = Note(
        "check", section.words[0].number, f"no chords over these words: laid over those of {model.name} by syllables"
    )
    rows[0] = replace(rows[0], notes=(first, *rows[0].notes))
    return replace(section, rows=tuple(rows), words=(), like=model.name, pickup=pickup)


def _line_over(line: SheetLine, row: DraftRow, pickup: str) -> tuple[DraftRow, str]:
    """Lay one line of words over a row."""
    beats = _beats(line)
    counts = [_syllables(s.text) for bar in row.bars for s in bar.segments]
    lead = _syllables(pickup.rstrip("-"))
    total, have = lead + sum(counts), len(beats)
    exact = total == have
    cells = line.cells
    cuts: list[int] = []
    sofar = lead
    for count in counts:
        cuts.append(_cut(line, beats, sofar if exact else round(sofar * have / max(total, 1)), exact=exact))
        sofar += count
    cuts = [max(cuts[: i + 1]) for i in range(len(cuts))]
    if not lead and cuts:
        cuts[0] = 0
    ends = [*cuts[1:], len(cells)]
    segments = [
        Segment(" ".join(line.part(a, b).replace(FILLER, "").split()), _glued(cells, a))
        for a, b in zip(cuts, ends, strict=True)
    ]
    bars: list[DraftBar] = []
    for bar in row.bars:
        size = len(bar.segments)
        mine, segments = segments[:size], segments[size:]
        joins = bool(mine) and bool(mine[-1].text) and bool(segments) and segments[0].glued
        bars.append(replace(bar, segments=tuple(mine), joins=joins))
    before = " ".join(line.part(0, cuts[0]).replace(FILLER, "").split()) if cuts else ""
    if before and _glued(cells, cuts[0]):
        before += "-"
    return replace(row, line=line.number, bars=tuple(bars), notes=(), cues=()), before


def _glued(cells: Sequence[str], place: int) -> bool:
    return 0 < place < len(cells) and cells[place - 1] != " " and cells[place] != " "


def _words(line: SheetLine) -> list[tuple[int, tuple[str, ...]]]:
    found: list[tuple[int, tuple[str, ...]]] = []
    start: int | None = None
    for i, cell in enumerate((*line.cells, " ")):
        if cell == " ":
            if start is not None:
                found.append((start, line.cells[start:i]))
            start = None
        elif start is None:
            start = i
    return found


def _beats(line: SheetLine) -> list[int]:
    """Return the columns at which the syllables of a line start."""
    return [at + s for at, word in _words(line) if any(c[:1].isalnum() for c in word) for s in starts_in(word)]


def _syllables(text: str) -> int:
    return len(_beats(SheetLine(0, tuple(text.replace("_", " ")))))


def _cut(line: SheetLine, beats: Sequence[int], number: int, *, exact: bool) -> int:
    """Return the column of a syllable by its number; where counts differ, that of the nearest word."""
    if number >= len(beats):
        return len(line.cells)
    if exact:
        return beats[number]
    starts = [at for at, _ in _words(line)]
    return min(starts, key=lambda s: (abs(s - beats[number]), s))
