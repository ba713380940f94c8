"""Compare sections: name each, write each once, and find the order in which they are played.

A section that comes again as it was is a step of the roadmap; one with the same chords under other words is `like` the
first; a name alone is a step. Words alone take the chords of the section of their kind.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import compress

from arranger.convert.model import DraftSection, Remark
from arranger.convert.syllables import laid_over
from arranger.habits.calls import reference_of
from arranger.habits.headings import Heading, base_of
from arranger.habits.jumps import Jump, Landmark, landmark_of
from arranger.habits.key_names import key_change_of
from arranger.song.roadmap import folded

MOST_TIMES = 99  # of a step of a roadmap

# Sections, lines that call some again, and jumps.
BodyItem = DraftSection | tuple[int, tuple[Heading, ...]] | tuple[int, Jump]
Body = Sequence[BodyItem]


def with_names(items: Body) -> Body:
    """Name the sections that have no heading by what they are.

    Words that come again are a chorus, all others verses; chords alone are an intro, an ending, or an interlude. Beside
    sections with headings they are only parts: what has no name there may be anything.
    """
    sections = [item for item in items if isinstance(item, DraftSection)]
    unnamed = sum(not section.name for section in sections)
    if unnamed == len(sections):
        return _named(items, [_guessed_name(section, place, sections) for place, section in enumerate(sections)])
    parts = ["Part" if unnamed == 1 else f"Part {place + 1}" for place in range(len(sections))]
    named = _named(items, [section.name or part for section, part in zip(sections, parts, strict=True)])
    nameless = {section.line for section in sections if not section.name}
    return [_told(s) if isinstance(s, DraftSection) and s.line in nameless else s for s in named]


def _told(section: DraftSection) -> DraftSection:
    """Return a section with a remark that it has no name in the sheet, beside others that have one."""
    said = Remark("check", section.line, f"no name stands here: the section is called {section.name}")
    return replace(section, notes=(said, *section.notes))


def _named(items: Body, names: Sequence[str]) -> Body:
    """Return a body whose sections have other names."""
    left = iter(names)
    return [replace(item, name=next(left)) if isinstance(item, DraftSection) else item for item in items]


def _guessed_name(section: DraftSection, place: int, sections: Sequence[DraftSection]) -> str:
    if not section.words and not any(row.sung for row in section.rows):
        first, last = place == 0 and len(sections) > 1, place == len(sections) - 1 > 0
        return "Intro" if first else "Ending" if last else "Interlude"
    alike = sum(_same(section, other) and _same(other, section) for other in sections)
    return "Chorus" if alike > 1 else "Verse"


def _numbered(items: Body) -> Body:
    """Number sections of one name that are not the same: `Verse`, `Verse` are `Verse 1`, `Verse 2`."""
    sections = [item for item in items if isinstance(item, DraftSection)]
    different: dict[str, list[DraftSection]] = {}
    for section in sections:
        if section.rows or section.words:
            known = different.setdefault(folded(section.name), [])
            if not any(_same(section, other) for other in known):
                known.append(section)
    numbered = {name: [section.name for section in known] for name, known in different.items()}
    taken = {name for name, known in different.items() if len(known) == 1}
    for names in numbered.values():
        for index, name in enumerate(names if len(names) > 1 else ()):
            names[index] = _free_name(name, index + 1, taken)
            taken.add(folded(names[index]))
    found = []
    for section in sections:
        typed = folded(section.name)
        place = next((i for i, other in enumerate(different.get(typed, ())) if _same(section, other)), 0)
        found.append(numbered[typed][place] if typed in numbered else section.name)
    return _named(items, found)


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


def _same(one: DraftSection, other: DraftSection) -> bool:
    """Return whether a section repeats another, in chords and words, as far as both of these are typed."""
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
    return " ".join([section.pickup, *(s.text for row in section.rows for bar in row.bars for s in bar.segments)])


def _letters(text: str) -> str:
    """Return the letters alone: punctuation and the parting of words do not make other words."""
    return "".join(c for c in text.casefold() if c.isalnum())


@dataclass(frozen=True, slots=True)
class SongOrder:
    """The sections to be written, the playing order, and what there is to say about it."""

    sections: tuple[DraftSection, ...]
    order: tuple[Heading, ...]
    notes: tuple[Remark, ...]

    @property
    def plain(self) -> bool:
        """Whether the order is that of the sections, each once."""
        return list(self.order) == [Heading(section.name) for section in self.sections]


def in_order(items: Body, chordless: Callable[[DraftSection], DraftSection]) -> SongOrder:
    """Put sections in order.

    Args:
        items: sections and calls of them, as they stand in the sheet.
        chordless: makes bars for a section of words alone that no other section lends chords.
    """
    items = _numbered(items)
    found = _Order([item for item in items if isinstance(item, DraftSection) and item.rows], chordless)
    for item in items:
        if isinstance(item, DraftSection):
            found.take(item)
        elif isinstance(item[1], Jump):
            found.jump(item[0], item[1])
        else:
            found.call(item[0], item[1])
    found.place_remarks()
    return SongOrder(tuple(found.sections), tuple(merged(found.order)), tuple(found.notes))


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


class _Order:
    """Takes sections one by one. Mutable; lives in `in_order`."""

    def __init__(self, later: Sequence[DraftSection], chordless: Callable[[DraftSection], DraftSection]) -> None:
        self._later = later  # all sections with chords, also those that were not taken yet
        self._chordless = chordless
        self._typed: dict[str, DraftSection] = {}  # by name, before they became `like` others
        self.sections: list[DraftSection] = []
        self.order: list[Heading] = []
        self.notes: list[Remark] = []
        self._landmarks: dict[str, frozenset[Landmark]] = {}  # of sections, by name

    def take(self, section: DraftSection) -> None:
        """Take one section of the sheet."""
        if not section.rows and not section.words:
            self._take_name(section)
            return
        known = self._typed.get(folded(section.name))
        if known is not None and _same(section, known):
            self._step(known.name, section, again=True)
            return
        self._typed[folded(section.name)] = section
        if section.words:
            model = self._model_of_words(section)
            section = (laid_over(section, model) if model is not None else None) or self._chordless(section)
        elif all(s.like != section.name for s in self.sections):  # a model of words before it keeps its own chords
            model = self._model_of_bars(section)
            section = _like(section, model) if model is not None else section
        name, number = section.name, 2
        while self._find(name) is not None:  # a section over the chords of another has the name already
            name, number = f"{section.name} {number}", number + 1
        self.sections.append(replace(section, name=name))
        self._step(name, section)

    def call(self, line: int, steps: Sequence[Heading]) -> None:
        """Take a line that calls sections again."""
        for step in steps:
            known = self._called(step.name) if step.name else None
            if known is not None:
                self.order.append(Heading(known, step.times, step.remark))
            elif step.name:
                beside = f" ({step.remark})" if step.remark else ""
                said = f"`{step.name}`{beside} is to be played again, but is no section here"
                self.notes.append(Remark("left", line, said))
            elif self.order:
                last = self.order[-1]
                self.order[-1] = replace(last, times=min(max(last.times, step.times), MOST_TIMES))

    def jump(self, line: int, jump: Jump) -> None:
        """Write a jump out: the sections from where it leads back to, up to where it ends."""
        marks = [self._landmarks.get(folded(step.name), frozenset()) for step in self.order]
        start = 0 if jump.back == "top" else next((i for i, found in enumerate(marks) if "sign" in found), None)
        ends = (i for i in range(start or 0, len(marks)) if jump.until in marks[i])
        end = len(marks) if not jump.until else next(ends, -1) + 1
        if start is None or not end:
            place = "sign" if start is None else "Fine" if jump.until == "fine" else "leap to the coda"
            said = f"`{jump.said}` is not in the roadmap: no {place} is marked at any section"
            self.notes.append(Remark("check", line, said))
            return
        self.order += [replace(step, remark="") for step in self.order[start:end]]
        said = f"`{jump.said}` is written out in the roadmap, section by section"
        self.notes.append(Remark("check", line, said))

    def place_remarks(self) -> None:
        """Put what a heading says for the player into its section, or into the roadmap where others are like it."""
        models = {section.like for section in self.sections}
        for index, section in enumerate(self.sections):
            places = [place for place, step in enumerate(self.order) if step.name == section.name]
            if section.remark and section.name not in models and len(places) == 1:
                self.sections[index] = replace(section, cues=(section.remark, *section.cues))
            elif section.remark and not self.order[places[0]].remark:
                self.order[places[0]] = replace(self.order[places[0]], remark=section.remark)

    def _find(self, name: str) -> DraftSection | None:
        return next((s for s in self.sections if folded(s.name) == folded(name)), None)

    def _kind(self, name: str) -> list[DraftSection]:
        return [s for s in self.sections if base_of(s.name) == base_of(name)]

    def _called(self, name: str) -> str | None:
        """Find the section that a name calls: of that name, or the last of its kind; else one that comes later."""
        known = self._find(name)
        if known is not None:
            return known.name
        kind = self._kind(name)
        if kind and (not name[-1:].isdigit() or base_of(name) != "verse"):
            return kind[-1].name
        return next((s.name for s in self._later if folded(s.name) == folded(name)), None)

    def _step(self, name: str, section: DraftSection, *, again: bool = False) -> None:
        """Add a step; what a repeated section says for the player goes along as its remark."""
        remark = ""
        if again:
            row_cues = (cue for row in section.rows for cue in row.cues)
            remark = "; ".join((section.remark, *section.cues, *row_cues, *section.closing_cues))
            remark = remark.replace("(", "").replace(")", "")
            said = (*section.notes, *(n for row in section.rows for n in row.notes), *section.closing)
            self.notes += [n for n in said if n.kind == "left"]
        self.order.append(Heading(name, min(section.times, MOST_TIMES), remark))
        self._landmarks[folded(name)] = self._landmarks.get(folded(name), frozenset()) | _landmarks(section)

    def _take_name(self, section: DraftSection) -> None:
        """Take a name without chords or words: a call of a section, or one over the chords of another."""
        said = (*re.split(r"[,;]\s*", section.remark), *section.cues, *section.closing_cues)
        meant = next((called for cue in said if (called := reference_of(cue))), "")
        model = self._find(self._called(meant) or "") if meant else None
        if model is not None and self._find(section.name) is None:
            section = replace(
                section,
                remark="" if reference_of(section.remark) else section.remark,
                cues=tuple(cue for cue in section.cues if not reference_of(cue)),
                closing_cues=tuple(cue for cue in section.closing_cues if not reference_of(cue)),
            )
            self.sections.append(self._over_chords_of(model, section))
            self._step(section.name, section)
            return
        known = self._called(section.name)
        if known is None:
            remark = f" ({section.remark})" if section.remark else ""
            left_out = f"`{section.name}`{remark} has neither chords nor words in the sheet, and is left out"
            cues = (Remark("left", section.line, cue) for cue in (*section.cues, *section.closing_cues))
            self.notes += [Remark("left", section.line, left_out), *cues, *section.closing]
            return
        original = self._find(known)
        if section.key is not None and original is not None and section.key != original.key:
            own = folded(section.name) != folded(known) and self._find(section.name) is None
            known = section.name if own else f"{known} in {section.key}"
            if self._find(known) is None:
                bare = replace(section, name=known, remark="" if key_change_of(section.remark) else section.remark)
                self.sections.append(self._over_chords_of(original, bare, section.name))
            section = replace(section, remark="", cues=(), closing_cues=())
        self._step(known, section, again=True)

    def _over_chords_of(self, called: DraftSection, section: DraftSection, kind: str = "") -> DraftSection:
        """Return a section of a name alone over the chords of another, with its words where both are of one kind."""
        original = (self._find(called.like) if called.like else None) or called
        kind = kind or section.name
        sung = base_of(kind) == base_of(called.name) and "instrumental" not in folded(kind)
        own = called.like != "" and sung  # words of the called section over another's chords
        return replace(
            section,
            like=original.name,
            rows=tuple(replace(row, notes=(), cues=()) for row in called.rows) if own else (),
            pickup=called.pickup if own else "",
            without_words=_has_words(original) and (called.without_words if own else not sung),
        )

    def _model_of_words(self, section: DraftSection) -> DraftSection | None:
        """Find a section of the same kind whose chords words alone can take; if need be, one that comes later."""
        said = self._find(self._called(reference_of(section.remark)) or "") if section.remark else None
        if said is not None:
            model = self._find(said.like) if said.like else said
            if model is not None and any(row.sung for row in model.rows):
                return model
        here = [s for s in self._kind(section.name) if not s.like]
        likes = {made.name for made in self.sections if made.like}
        later = [s for s in self._later if base_of(s.name) == base_of(section.name) and s.name not in likes]
        return next((s for s in (*here, *later) if any(row.sung for row in s.rows)), None)

    def _model_of_bars(self, section: DraftSection) -> DraftSection | None:
        """Find a section whose bars are the same, of the same kind first."""
        if sum(len(row.bars) for row in section.rows) < 2:
            return None
        shape = [row.chords for row in section.rows]
        own = (s for s in self.sections if not s.like and s.key == section.key)
        same = (s for s in own if [row.chords for row in s.rows] == shape)
        alike = (s for s in same if all(m.sung or not c.sung for m, c in zip(s.rows, section.rows, strict=True)))
        return min(alike, key=lambda s: base_of(s.name) != base_of(section.name), default=None)


def _landmarks(section: DraftSection) -> frozenset[Landmark]:
    """Return where jumps lead to or from in a section, as its remarks and cues say."""
    said = (section.remark, *section.cues, *(cue for row in section.rows for cue in row.cues), *section.closing_cues)
    found = (landmark_of(part) for text in said for part in re.split("[,;]", text))
    return frozenset(mark for mark in found if mark is not None)


def _like(section: DraftSection, model: DraftSection) -> DraftSection:
    """Return a section without the chords of its model: with the words of those rows that have words in the model."""
    bare = [replace(row, notes=tuple(n for n in row.notes if n.kind == "left")) for row in section.rows]
    last = max((i for i, row in enumerate(bare) if row.sung), default=-1)
    kept = [i <= last and other.sung for i, other in enumerate(model.rows)]
    rows = tuple(compress(bare, kept))
    dropped = [row for row, stays in zip(bare, kept, strict=True) if not stays]
    return replace(
        section,
        rows=rows,
        like=model.name,
        without_words=not rows and _has_words(model),
        # What is said at rows that are not written here stands at the head.
        notes=(*section.notes, *(note for row in dropped for note in row.notes)),
        cues=(*section.cues, *(cue for row in dropped for cue in row.cues)),
    )


def _has_words(section: DraftSection) -> bool:
    return bool(section.pickup) or any(row.sung for row in section.rows)
