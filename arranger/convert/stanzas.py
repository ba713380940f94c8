"""Put the lines of a sheet together to its head and its sections, in order.

A section is a heading with what follows it; in a sheet without headings, what blank lines set apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from arranger.convert.model import ChordLine, Remark, SheetLine
from arranger.convert.typed_lines import LineMeaning
from arranger.habits.free_form import key_change_of
from arranger.habits.headings import Again, Heading, base_of, number_of
from arranger.theory.key import Key

SIGNATURE = 2  # words of a name under a mail
_PLAYED = frozenset(("intro", "solo", "interlude", "instrumental", "break", "outro", "vorspiel", "zwischenspiel"))
# What ends the head.
_OPENS = ("chords", "heading", "again", "tablature")


@dataclass(slots=True)
class RawRow:
    """A line of chords with the lines of words under it; either may be missing. Filled while the sheet is gathered."""

    chords: ChordLine | None
    words: list[SheetLine] = field(default_factory=list)
    cues: list[str] = field(default_factory=list)
    notes: list[Remark] = field(default_factory=list)
    apart: bool = False  # a blank line stands above it


@dataclass(slots=True)
class RawSection:
    """A section as gathered. `named`: the sheet has a heading for it. Filled while the sheet is gathered."""

    heading: Heading
    line: int
    named: bool
    rows: list[RawRow] = field(default_factory=list)
    cues: list[str] = field(default_factory=list)
    notes: list[Remark] = field(default_factory=list)
    number: int = 0
    key: Key | None = None  # another than the song's, stated in the sheet


Body = tuple[RawSection | tuple[int, Again], ...]  # sections, and lines that call some again


def sections_in(lines: Sequence[LineMeaning]) -> tuple[tuple[SheetLine, ...], Body]:
    """Return the lines of the head, and the sections in the order of the sheet."""
    first = next((i for i, line in enumerate(lines) if line.kind in _OPENS), len(lines))
    head = tuple(meaning.line for meaning in lines[:first] if meaning.kind != "blank")
    named = any(meaning.kind == "heading" for meaning in lines)
    paired = not named and _in_pairs(lines[first:])
    reader = _SectionReader(named, paired, any(key_change_of(line.text) for line in head))
    for meaning in lines[first:]:
        reader.take(meaning)
    reader.close()
    reader.part_farewell()
    return (*head, *reader.facts), tuple(_with_stacked_verses(reader.body))


def _in_pairs(lines: Sequence[LineMeaning]) -> bool:
    """Return whether blank lines part all pairs of chords and words: then one blank line parts no sections."""
    blocks = [len(list(block)) for blank, block in groupby(lines, lambda line: line.kind == "blank") if not blank]
    return len(blocks) > 2 and sum(size <= 2 for size in blocks) >= 0.9 * len(blocks)


class _SectionReader:
    """Takes lines one by one. Mutable; lives in `sections_in`."""

    def __init__(self, named: bool, paired: bool, key_known: bool) -> None:
        self._key_known = key_known
        self._key: Key | None = None  # to which the sheet has changed
        self.facts: list[SheetLine] = []  # below the head: they hold for the song all the same
        self.body: list[RawSection | tuple[int, Again]] = []
        self._named = named
        self._paired = paired
        self._section: RawSection | None = None
        self._blanks = 0
        self._cues: list[str] = []
        self._notes: list[Remark] = []
        self._last = ""  # the kind of the last line that was not blank

    def take(self, item: LineMeaning) -> None:
        """Take a line."""
        if item.kind == "blank":
            self._blanks += 1
            return
        getattr(self, f"_{item.kind}")(item)
        self._blanks = 0
        self._last = item.kind

    def close(self) -> None:
        """Leave remarks that are left over to the last section."""
        section = self._section
        if section is not None:
            section.cues += self._cues
            section.notes += self._notes
        elif self._notes or self._cues:
            self.body.append(RawSection(Heading("Part"), 0, False, cues=self._cues, notes=self._notes))
        self._cues, self._notes = [], []

    def part_farewell(self) -> None:
        """Make remarks of the last lines where they stand apart behind a section that has its chords.

        `See you on Friday!`, and a name. As many lines of words as the section has are for its chords.
        """
        section = self._section
        if section is None or not section.named:
            return
        chorded = sum(row.chords is not None for row in section.rows)
        last = section.rows[chorded:]
        if not chorded or not last or not last[0].apart or any(row.chords for row in last):
            return
        signed = any(len(word.text.split()) <= SIGNATURE for row in last for word in row.words)
        if len(last) >= chorded and not signed:
            return
        section.rows = section.rows[:chorded]
        section.notes += [Remark("left", word.number, word.text.strip()) for row in last for word in row.words]

    def _heading(self, item: LineMeaning) -> None:
        assert item.heading is not None
        self._begin(item.heading, item.line.number, True)

    def _begin(self, heading: Heading, line: int, named: bool, number: int = 0) -> RawSection:
        if self._section is not None and named and not (self._last == "cue" and self._blanks == 0):
            self.close()  # a word for the player right above a heading is for what follows
        self._section = RawSection(heading, line, named, number=number, key=self._key)
        self.body.append(self._section)
        return self._section

    def _open(self, line: int, number: int = 0) -> RawSection:
        """Return the section that a line of chords or words belongs to."""
        section = self._section
        apart = self._blanks >= (2 if self._paired else 1)
        other_verse = section is not None and number not in (0, section.number)
        if section is None or (
            section.rows
            and (
                (number and not section.named)
                or (apart and not self._named)
                or (other_verse and (section.number or not self._named or self._blanks))
            )
        ):
            return self._begin(_verse(number), line, False, number)
        return section

    def _chords(self, item: LineMeaning) -> None:
        assert item.chords is not None
        self._add(self._open(item.line.number), RawRow(item.chords, cues=list(item.chords.cues)))

    def _words(self, item: LineMeaning) -> None:
        found = number_of(item.line.text.lstrip())
        number, line = 0, item.line
        if found is not None:  # the number is no word that is sung
            number, line = found[0], line.cut(len(line.text) - len(line.text.lstrip()) + found[1])
        section = self._section
        if section is None or not section.rows or section.rows[-1].chords is None:
            self._add(self._open(line.number, number), RawRow(None, [line]))
            return
        last = section.rows[-1]
        if self._last == "chords" and self._blanks <= 1:
            if number and not section.number and len(section.rows) == 1:
                section.number = number
                if not section.named:
                    section.heading = _verse(number)
            elif len(section.rows) > 1 and number != section.number if number else self._begins_after_solo(section):
                section.rows.pop()  # a verse begins at its number, which stands in the words under the chords
                assert last.chords is not None
                self._begin(_verse(number), last.chords.number, False, number).rows.append(last)
            last.words.append(line)
        elif last.words and self._last == "words" and not self._blanks and number == len(last.words) + 1:
            last.words.append(line)  # the verses are stacked
        else:
            self._add(self._open(line.number, number), RawRow(None, [line]))

    def _begins_after_solo(self, section: RawSection) -> bool:
        """Return whether words begin, behind a blank line, in a section that is played and not sung."""
        earlier = section.rows[:-1]
        played = section.named and base_of(section.heading.name) in _PLAYED
        return played and bool(earlier) and section.rows[-1].apart and not any(row.words for row in earlier)

    def _add(self, section: RawSection, row: RawRow) -> None:
        row.apart = self._blanks > 0
        row.cues = self._cues + row.cues
        row.notes = self._notes + row.notes
        self._cues, self._notes = [], []
        section.rows.append(row)

    def _again(self, item: LineMeaning) -> None:
        assert item.again is not None
        self.body.append((item.line.number, item.again))
        if not self._named:
            self._section = None if self._section is None or item.again.steps[0].name else self._section

    def _cue(self, item: LineMeaning) -> None:
        self._cues.append(item.aside)
        key = key_change_of(item.aside)
        if key is not None:
            self._change(key)

    def _fact(self, item: LineMeaning) -> None:
        key = key_change_of(item.line.text)
        if key is not None and self._key_known:
            self._change(key)
        else:
            self._key_known = self._key_known or key is not None
            self.facts.append(item.line)

    def _change(self, key: Key) -> None:
        """Go to another key, with this section if nothing of it is typed yet, else with the next one."""
        self._key = key
        if self._section is not None and not self._section.rows:
            self._section.key = key

    def _remark(self, item: LineMeaning) -> None:
        self._notes.append(Remark("left", item.line.number, " ".join(item.line.text.strip("#/;%* \t").split())))

    def _tablature(self, item: LineMeaning) -> None:
        self._notes.append(Remark("left", item.line.number, item.line.text.strip()))


def _verse(number: int) -> Heading:
    """Return the heading of a verse by its number; one without a name where there is none."""
    return Heading(f"Verse {number}" if number else "")


def _with_stacked_verses(
    body: Sequence[RawSection | tuple[int, Again]],
) -> Iterator[RawSection | tuple[int, Again]]:
    """Make a section of each verse where several stand under the same chords."""
    for item in body:
        if not isinstance(item, RawSection):
            yield item
            continue
        item = _stacked_without_numbers(item)
        most = max((len(row.words) for row in item.rows), default=0)
        if most <= 1:
            yield item
            continue
        for verse in range(most):
            name = item.heading.name if item.named else "Verse"
            rows = [
                RawRow(r.chords, r.words[verse : verse + 1], r.cues, r.notes if verse == 0 else []) for r in item.rows
            ]
            rows = [r for r in rows if r.chords is not None or r.words]
            digits = name[len(name.rstrip("0123456789")) :]
            base = name.removesuffix(digits).rstrip() if digits.isascii() else name
            first = int(digits or 1) if digits.isascii() else 1
            heading = replace(item.heading, name=f"{base} {first + verse}".strip())
            notes = item.notes if verse == 0 else []
            yield RawSection(heading, item.line, True, rows, item.cues, notes, key=item.key)


def _stacked_without_numbers(section: RawSection) -> RawSection:
    """Take lines of words that follow each line of chords in the same number for verses, if there are rows of them."""
    groups: list[list[RawRow]] = []
    for row in section.rows:
        if row.chords is not None:
            groups.append([row])
        elif groups:
            groups[-1].append(row)
        else:
            return section
    sizes = {len(group) for group in groups}
    if len(groups) < 2 or len(sizes) != 1 or sizes == {1} or not all(g[0].words for g in groups):
        return section
    for group in groups:
        for extra in group[1:]:
            group[0].words += extra.words
    section.rows = [group[0] for group in groups]
    return section
