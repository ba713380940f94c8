"""Gather the lines of a sheet into its head and its sections, in order.

A section is a heading with what follows it; in a sheet without headings, what blank lines set apart.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

from arranger.convert.model import ChordLine, Remark, SheetLine
from arranger.convert.sheet_head import states_rights
from arranger.convert.syllables import columns_under
from arranger.convert.typed_lines import LineMeaning
from arranger.habits.headings import Heading, base_of, number_of
from arranger.habits.jumps import Jump, landmark_of
from arranger.habits.key_names import key_change_of
from arranger.habits.raised import raised_by
from arranger.habits.section_names import is_played, is_refrain
from arranger.theory.key import Key

SIGNATURE = 2  # words of a name under a mail
# What ends the head.
_OPENS = ("chords", "heading", "again", "tablature")


@dataclass(frozen=True, slots=True)
class RawRow:
    """A line of chords with the lines of words under it; either may be missing. `apart`: a blank line stands above."""

    chords: ChordLine | None
    words: tuple[SheetLine, ...] = ()
    cues: tuple[str, ...] = ()
    notes: tuple[Remark, ...] = ()
    apart: bool = False
    ending: int = 0  # that it is in


@dataclass(frozen=True, slots=True)
class RawSection:
    """A section as it is typed.

    Attributes:
        heading: its name; of a verse by its number; empty where neither is known.
        line: where it begins.
        named: the sheet has a heading for it.
        rows: its lines of chords and words.
        cues: what is said for the player behind them.
        notes: what else there is to say at its end.
        number: of the verse, as it stands before its words.
        key: another than the song's, stated in the sheet.
        raised: semitones that it is to be played higher than the song's key; `raised_here`: its own heading says so.
    """

    heading: Heading
    line: int
    named: bool
    rows: tuple[RawRow, ...] = ()
    cues: tuple[str, ...] = ()
    notes: tuple[Remark, ...] = ()
    number: int = 0
    key: Key | None = None
    raised: int = 0
    raised_here: bool = False


# A section, a line that calls some again, or a jump.
RawItem = RawSection | tuple[int, tuple[Heading, ...]] | tuple[int, Jump]


def sections_in(lines: Sequence[LineMeaning]) -> tuple[tuple[SheetLine, ...], tuple[RawItem, ...]]:
    """Return the lines of the head, and the sections in the order of the sheet."""
    first = next((i for i, line in enumerate(lines) if line.kind in _OPENS), len(lines))
    head = tuple(meaning.line for meaning in lines[:first] if meaning.kind != "blank")
    named = any(meaning.kind == "heading" for meaning in lines)
    paired = not named and _in_pairs(lines[first:])
    reader = _SectionReader(named, paired, any(key_change_of(line.text) for line in head))
    reader.strays = _strays(lines[first:])
    reader.verses_unnamed = named and _has_verses_unnamed(lines[first:])
    for meaning in lines[first:]:
        reader.take(meaning)
    reader.close()
    reader.part_farewell()
    first_section = next((i for i, item in enumerate(reader.body) if isinstance(item, RawSection)), -1)
    if first_section >= 0 and reader.verses_unnamed:
        opening = reader.body[first_section]
        assert isinstance(opening, RawSection)
        if not opening.named and not opening.number and opening.rows and not any(row.words for row in opening.rows):
            reader.body[first_section] = replace(opening, heading=Heading("Intro"))
    names = {item.heading.name for item in reader.body if isinstance(item, RawSection)}
    stacked = (part for item in reader.body for part in _stacked_verses(item, names))
    return (*head, *reader.facts), tuple(stacked)


def _in_pairs(lines: Sequence[LineMeaning]) -> bool:
    """Return whether blank lines part all pairs of chords and words: then one blank line parts no sections."""
    blocks = [len(list(block)) for blank, block in groupby(lines, lambda line: line.kind == "blank") if not blank]
    return len(blocks) > 2 and sum(size <= 2 for size in blocks) >= 0.9 * len(blocks)


def _has_verses_unnamed(lines: Sequence[LineMeaning]) -> bool:
    """Return whether a sheet names its chorus and no verse, and begins with words that have no name."""
    names = [(i, base_of(line.heading.name)) for i, line in enumerate(lines) if line.heading is not None]
    first = next((i for i, name in names if not is_played(name)), 0)
    sung = any(line.kind == "words" for line in lines[:first])
    return sung and all(is_played(name) or is_refrain(name) for _, name in names)


MOST_STRAY_WORDS = 8  # of a line that is not sung
SUNG_LINES = 4  # with chords for each line that stands alone without


def _strays(lines: Sequence[LineMeaning]) -> frozenset[int]:
    """Return the numbers of lines of words that stand alone between blank lines, where all others have chords."""
    words = [i for i, line in enumerate(lines) if line.kind == "words"]
    bare = [i for i in words if not i or lines[i - 1].kind not in ("chords", "words")]
    alone = [
        i for i in bare if i and lines[i - 1].kind == "blank" and (i + 1 == len(lines) or lines[i + 1].kind == "blank")
    ]
    first = next((i for i, line in enumerate(lines) if line.kind == "chords"), len(lines))
    under = sum(bool(i) and lines[i - 1].kind == "chords" for i in words)
    short = [i for i in alone if i > first and len(lines[i].line.text.split()) <= MOST_STRAY_WORDS]
    if len(alone) < len(bare) or SUNG_LINES * len(alone) > under or under < len(words) - len(alone):
        return frozenset()
    return frozenset(lines[i].line.number for i in short if number_of(lines[i].line.text.lstrip()) is None)


class _SectionReader:
    """Takes lines one by one. Mutable; lives in `sections_in`."""

    def __init__(self, named: bool, paired: bool, key_known: bool) -> None:
        self.facts: list[SheetLine] = []  # below the head: they hold for the song all the same
        self.body: list[RawItem] = []
        self._named, self._paired, self._key_known = named, paired, key_known
        self._key: Key | None = None  # to which the sheet has changed
        self._raised = 0  # semitones by which it has gone up
        self._place: int | None = None  # of the section, in the body, that lines belong to
        self._blanks = 0
        self._cues: tuple[str, ...] = ()  # these and the remarks wait for what they are about
        self._notes: tuple[Remark, ...] = ()
        self.verses_unnamed = False
        self.strays: frozenset[int] = frozenset()  # lines of words that are hardly sung
        self._behind_rights = False  # words behind a line of rights are a page's foot
        self._ending = 0  # that the next lines are in
        self._last = ""  # the kind of the last line that was not blank

    @property
    def _section(self) -> RawSection | None:
        found = None if self._place is None else self.body[self._place]
        return found if isinstance(found, RawSection) else None

    def _change(self, section: RawSection, **changes: Any) -> None:
        """Put a section with some changes in the place of the one that lines belong to."""
        assert self._place is not None
        self.body[self._place] = replace(section, **changes)

    def take(self, item: LineMeaning) -> None:
        """Take a line."""
        if item.kind == "blank":
            self._blanks += 1
            self._ending = self._ending if self._last == "ending" else 0
            return
        line, text = item.line, item.line.text.strip()
        if item.heading is not None:
            self._begin(item.heading, line.number, True)
        elif item.chords is not None:
            self._add(line.number, 0, RawRow(item.chords, cues=item.chords.cues))
        elif item.again is not None:
            self.body.append((line.number, item.again))
            if not self._named and item.again[0].name:
                self._place = None
        elif item.ending:
            self._ending, self._cues = item.ending, (*self._cues, item.aside.strip(":()[] "))
        elif item.jump is not None:
            self.body.append((line.number, item.jump))
        elif (item.kind == "words" and self._behind_rights) or (
            line.number in self.strays and self._section is not None
        ):
            self._notes += (Remark("left", line.number, text),)
        elif item.kind == "words":
            self._words(line)
        elif item.kind == "cue" and landmark_of(item.aside) in ("fine", "coda") and self._section is not None:
            self._change(self._section, cues=(*self._section.cues, item.aside))  # of what is above
        elif item.kind == "cue":
            self._cues += (item.aside,)
            self._change_key(key_change_of(item.aside), raised_by(item.aside))
        elif item.kind == "fact":
            self._fact(line)
            self._behind_rights = self._behind_rights or states_rights(text)
        else:  # a remark, or tablature
            text = " ".join(text.strip("#/;%* \t").split()) if item.kind == "remark" else text
            self._notes += (Remark("left", line.number, text),)
        self._blanks, self._last = 0, item.kind
        self._behind_rights = self._behind_rights and item.kind not in _OPENS

    def close(self) -> None:
        """Put remarks that nothing has followed at the end of the last section."""
        section = self._section
        if section is not None:
            self._change(section, cues=section.cues + self._cues, notes=section.notes + self._notes)
        elif self._notes or self._cues:
            self.body.append(RawSection(Heading("Part"), 0, False, cues=self._cues, notes=self._notes))
        self._cues, self._notes = (), ()

    def part_farewell(self) -> None:
        """Turn a farewell behind the last section into remarks: words apart, where each line has had its chords.

        `See you on Friday!`, and a name. As many lines of words as the section has are for its chords.
        """
        section = self._section
        if section is None or not section.named:
            return
        chorded = sum(row.chords is not None for row in section.rows)
        last = section.rows[chorded:]
        if not chorded or not last or not last[0].apart or any(row.chords for row in last):
            return
        words = [word for row in last for word in row.words]
        if len(last) >= chorded and not any(len(word.text.split()) <= SIGNATURE for word in words):
            return
        farewell = (Remark("left", word.number, word.text.strip()) for word in words)
        self._change(section, rows=section.rows[:chorded], notes=(*section.notes, *farewell))

    def _begin(
        self, heading: Heading, line: int, named: bool, number: int = 0, rows: tuple[RawRow, ...] = ()
    ) -> RawSection:
        if self._section is not None and named and not (self._last == "cue" and self._blanks == 0):
            self.close()  # a word for the player right above a heading is for what follows
        own = key_change_of(heading.remark)
        up = raised_by(heading.remark) if own is None else 0
        # A word for the player right above the heading is for what follows it.
        waiting = any(map(raised_by, self._cues))
        self._key, self._raised = (own, 0) if own is not None else (self._key, self._raised + up)
        section = RawSection(
            heading,
            line,
            named,
            rows,
            number=number,
            key=self._key,
            raised=self._raised,
            raised_here=bool(up or waiting),
        )
        self._place, self._ending = len(self.body), 0
        self.body.append(section)
        return section

    def _open(self, line: int, number: int, *, chords: bool) -> RawSection:
        """Return the section that a line of chords or words belongs to."""
        section = self._section
        apart = self._blanks >= (2 if self._paired else 1)
        other_verse = section is not None and number not in (0, section.number)
        if section is None or (
            section.rows
            and (
                (number and not section.named)
                or (apart and (not self._named or (self.verses_unnamed and (chords or self._sung_so_far(section)))))
                or (other_verse and (section.number or not self._named or self._blanks))
            )
        ):
            heading = Heading("Verse") if self.verses_unnamed and not number else _verse(number)
            return self._begin(heading, line, False, number)
        return section

    @staticmethod
    def _sung_so_far(section: RawSection) -> bool:
        return any(row.words for row in section.rows) or is_played(base_of(section.heading.name))

    def _add(self, line: int, number: int, row: RawRow) -> None:
        section = self._open(line, number, chords=row.chords is not None)
        cues, notes = self._cues + row.cues, self._notes + row.notes
        row = replace(row, cues=cues, notes=notes, apart=self._blanks > 0, ending=self._ending)
        self._cues, self._notes = (), ()
        self._change(section, rows=(*section.rows, row))

    def _words(self, line: SheetLine) -> None:
        found = number_of(line.text.lstrip())
        number = 0
        if found is not None:  # the number is no word that is sung
            number, line = found[0], line.cut(len(line.text) - len(line.text.lstrip()) + found[1])
        section = self._section
        last = section.rows[-1] if section is not None and section.rows else None
        if section is None or last is None or last.chords is None:
            self._add(line.number, number, RawRow(None, (line,)))
            return
        *before, _ = section.rows
        with_words = replace(last, words=(*last.words, line))
        if self._last == "chords" and self._blanks <= 1:
            listed = section.named and self._blanks and section.line == last.chords.number
            if number and listed:  # Verses: G  D, and the first verse below
                self._add_apart(line, number)
            elif number and not section.number and not before:
                heading = section.heading if section.named else _verse(number)
                self._change(section, heading=heading, number=number, rows=(with_words,))
            elif before and number != section.number if number else _begins_after_solo(section):
                # A verse begins at its number, which stands in the words under the chords.
                self._change(section, rows=tuple(before))
                self._begin(_verse(number), last.chords.number, False, number, (with_words,))
            else:
                self._change(section, rows=(*before, with_words))
        elif last.words and self._last == "words" and not self._blanks and number == len(last.words) + 1:
            self._change(section, rows=(*before, with_words))  # the verses are stacked
        else:
            self._add(line.number, number, RawRow(None, (line,)))

    def _add_apart(self, line: SheetLine, number: int) -> None:
        """Begin a verse whose words stand apart from chords that were only listed."""
        self._begin(_verse(number), line.number, False, number)
        self._add(line.number, number, RawRow(None, (line,)))

    def _fact(self, line: SheetLine) -> None:
        key = key_change_of(line.text)
        if key is not None and self._key_known:
            self._change_key(key)
        else:
            self._key_known = self._key_known or key is not None
            self.facts.append(line)

    def _change_key(self, key: Key | None, raised: int = 0) -> None:
        """Go to another key, with this section if nothing of it is typed yet, else with the next one."""
        section = self._section
        self._key, self._raised = (key, 0) if key is not None else (self._key, self._raised + raised)
        if (key is not None or raised) and section is not None and not section.rows:
            self._change(section, key=self._key, raised=self._raised, raised_here=bool(raised))


def _begins_after_solo(section: RawSection) -> bool:
    """Return whether words begin, behind a blank line, in a section that is played and not sung."""
    *earlier, last = section.rows
    played = section.named and is_played(base_of(section.heading.name))
    return played and bool(earlier) and last.apart and not any(row.words for row in earlier)


def _verse(number: int) -> Heading:
    """Return the heading of a verse by its number; one without a name where there is none."""
    return Heading(f"Verse {number}" if number else "")


def _stacked_verses(item: RawItem, names: Collection[str]) -> Iterator[RawItem]:
    """Make a section of each verse where several stand under the same chords.

    A sheet that names the next verse has no other verse under these chords: its lines go on without new chords.
    """
    rows = _stacked_rows(item.rows) if isinstance(item, RawSection) else ()
    most = max((len(row.words) for row in rows), default=0)
    if not isinstance(item, RawSection) or most <= 1:
        yield item
        return
    name = item.heading.name if item.named else "Verse"
    digits = name[len(name.rstrip("0123456789")) :]
    base, first = name.removesuffix(digits).rstrip(), int(digits or 1)
    beside = {f"{base} {first + 1}", f"{base} {first - 1}"}
    if item.named and digits and beside & set(names):
        yield item
        return
    for verse in range(most):
        heading = replace(item.heading, name=f"{base} {first + verse}".strip())
        own = (_row_of_verse(row, verse) for row in rows)
        sung = tuple(row for row in own if row.chords is not None or row.words)
        notes = () if verse else item.notes
        yield replace(item, heading=heading, named=True, rows=sung, notes=notes, number=0)


def _row_of_verse(row: RawRow, verse: int) -> RawRow:
    """Return one verse's words under its chords: by syllables where it has as many as the first one."""
    own = replace(row, words=row.words[verse : verse + 1], notes=() if verse else row.notes, apart=False)
    if not verse or row.chords is None or not own.words:
        return own
    columns = columns_under([mark.column for mark in row.chords.marks], row.words[0], own.words[0])
    marks = tuple(replace(m, column=c) for m, c in zip(row.chords.marks, columns, strict=True))
    return replace(own, chords=replace(row.chords, marks=marks))


def _stacked_rows(rows: tuple[RawRow, ...]) -> tuple[RawRow, ...]:
    """Read lines of words as verses where the same number of them, more than one, stands under each line of chords."""
    groups: list[list[RawRow]] = []
    for row in rows:
        if row.chords is not None:
            groups.append([row])
        elif groups:
            groups[-1].append(row)
        else:
            return rows
    sizes = {len(group) for group in groups}
    if len(groups) < 2 or len(sizes) != 1 or sizes == {1} or not all(group[0].words for group in groups):
        return rows
    return tuple(replace(group[0], words=tuple(word for row in group for word in row.words)) for group in groups)
