"""Lines put together to sections. Takes the lines with their kinds; gives the head's lines, and sections in order.

A section is a heading with what follows it; in a sheet without headings, what blank lines set apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from arranger.convert.model import ChordLine, Note, SheetLine
from arranger.convert.typed_lines import Told
from arranger.habits.free_form import key_change_of
from arranger.habits.headings import Again, Heading, base_of, number_of
from arranger.theory.key import Key

SIGNATURE = 2  # words of a name under a mail
_PLAYED = frozenset(("intro", "solo", "interlude", "instrumental", "break", "outro", "vorspiel", "zwischenspiel"))
_OPENS = ("chords", "heading", "again", "tablature")


@dataclass(slots=True)
class RawRow:
    """A line of chords with the lines of words under it; either may be missing. Filled while the sheet is gathered."""

    chords: ChordLine | None
    words: list[SheetLine] = field(default_factory=list)
    cues: list[str] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    apart: bool = False  # a blank line stands above it


@dataclass(slots=True)
class RawSection:
    """A section as gathered. `named`: the sheet has a heading for it. Filled while the sheet is gathered."""

    heading: Heading
    line: int
    named: bool
    rows: list[RawRow] = field(default_factory=list)
    cues: list[str] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    number: int = 0
    key: Key | None = None  # another than the song's, stated in the sheet

    def row(self) -> RawRow | None:
        """Return the row that the next words may belong to."""
        return self.rows[-1] if self.rows else None


@dataclass(frozen=True, slots=True)
class Gathered:
    """The head's lines, and the body in order."""

    head: tuple[SheetLine, ...]
    body: tuple[RawSection | tuple[int, Again], ...]


def gather(told: Sequence[Told]) -> Gathered:
    """Put lines together."""
    first = _first_of_body(told)
    head = tuple(t.line for t in told[:first] if t.kind != "blank")
    named = any(t.kind == "heading" for t in told)
    paired = not named and _in_pairs(told[first:])
    gatherer = _Gatherer(named, paired, any(key_change_of(line.text) for line in head))
    for item in told[first:]:
        gatherer.take(item)
    gatherer.close()
    gatherer.farewell()
    return Gathered((*head, *gatherer.facts), tuple(_with_stacked_verses(gatherer.body)))


def _first_of_body(told: Sequence[Told]) -> int:
    """Find where the head ends: at the first chords, heading or call of a section."""
    return next((i for i, t in enumerate(told) if t.kind in _OPENS), len(told))


def _in_pairs(told: Sequence[Told]) -> bool:
    """Return whether blank lines part all pairs of chords and words: then one blank line parts no sections."""
    blocks = [len(block) for block in _blocks(told)]
    return len(blocks) > 2 and sum(size <= 2 for size in blocks) >= 0.9 * len(blocks)


def _blocks(told: Sequence[Told]) -> Iterator[list[Told]]:
    block: list[Told] = []
    for item in told:
        if item.kind == "blank":
            if block:
                yield block
            block = []
        else:
            block.append(item)
    if block:
        yield block


class _Gatherer:
    """Takes lines one by one. Mutable; lives in `gather`."""

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
        self._notes: list[Note] = []
        self._last = ""  # the kind of the last line that was not blank

    def take(self, item: Told) -> None:
        """Take a line."""
        if item.kind == "blank":
            self._blanks += 1
            return
        getattr(self, f"_{item.kind}")(item)
        self._blanks = 0
        self._last = item.kind

    def close(self) -> None:
        """Return what is left over to the last section."""
        section = self._section
        if section is not None:
            section.cues += self._cues
            section.notes += self._notes
        elif self._notes or self._cues:
            self.body.append(RawSection(Heading("Part"), 0, False, cues=self._cues, notes=self._notes))
        self._cues, self._notes = [], []

    def farewell(self) -> None:
        """Take the last lines for no words of the song, where they stand apart behind a section that has its chords.

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
        section.notes += [Note("left", word.number, word.text.strip()) for row in last for word in row.words]

    def _heading(self, item: Told) -> None:
        assert item.heading is not None
        self._begin(item.heading, item.line.number, True)

    def _begin(self, heading: Heading, line: int, named: bool) -> RawSection:
        if self._section is not None and named and not (self._last == "cue" and self._blanks == 0):
            self.close()  # a word for the player right above a heading is for what follows
        self._section = RawSection(heading, line, named, key=self._key)
        self.body.append(self._section)
        return self._section

    def _open(self, line: int, number: int = 0) -> RawSection:
        """Return the section that a line of chords or words belongs to."""
        section = self._section
        apart = self._blanks >= (2 if self._paired else 1)
        fresh = section is None or (number and section.rows and not section.named)
        if not self._named and apart and section is not None and section.rows:
            fresh = True
        if number and section is not None and section.rows and (section.number or not self._named or self._blanks):
            fresh = fresh or number != section.number
        if fresh:
            section = self._begin(Heading(f"Verse {number}" if number else ""), line, False)
            section.number = number
        assert section is not None
        return section

    def _chords(self, item: Told) -> None:
        assert item.chords is not None
        section = self._open(item.line.number)
        self._add(section, RawRow(item.chords, cues=list(item.chords.cues)))

    def _words(self, item: Told) -> None:
        number = number_of(item.line.text.lstrip())
        line = _without_number(item.line) if number else item.line
        last = self._section.row() if self._section is not None else None
        under = last is not None and last.chords is not None and self._last == "chords" and self._blanks <= 1
        if under and last is not None and self._section is not None:
            if number and not self._section.number and len(self._section.rows) == 1:
                self._section.number = number[0]
                if not self._section.named:
                    self._section.heading = Heading(f"Verse {number[0]}")
            elif number and len(self._section.rows) > 1 and number[0] != self._section.number:
                self._split_off(number[0])
            elif not number and self._begins_after_solo():
                self._split_off(0)
            last.words.append(line)
            return
        stacked = (
            last is not None and last.chords is not None and last.words and self._last == "words" and self._blanks == 0
            and number is not None and self._section is not None and number[0] == len(last.words) + 1
        )  # fmt: skip
        if stacked and last is not None:
            last.words.append(line)
            return
        section = self._open(item.line.number, number[0] if number else 0)
        self._add(section, RawRow(None, [line]))

    def _begins_after_solo(self) -> bool:
        """Return whether words begin, behind a blank line, in a section that is played and not sung."""
        section = self._section
        assert section is not None
        earlier = section.rows[:-1]
        played = section.named and base_of(section.heading.name) in _PLAYED
        return played and bool(earlier) and section.rows[-1].apart and not any(row.words for row in earlier)

    def _split_off(self, number: int) -> None:
        """Begin a section at the last row: a verse at its number, which stands in the words under the chords."""
        section = self._section
        assert section is not None
        row = section.rows.pop()
        fresh = self._begin(
            Heading(f"Verse {number}" if number else ""), row.chords.number if row.chords else section.line, False
        )
        fresh.number = number
        fresh.rows.append(row)

    def _add(self, section: RawSection, row: RawRow) -> None:
        row.apart = self._blanks > 0
        row.cues = self._cues + row.cues
        row.notes = self._notes + row.notes
        self._cues, self._notes = [], []
        section.rows.append(row)

    def _again(self, item: Told) -> None:
        assert item.again is not None
        self.body.append((item.line.number, item.again))
        if not self._named:
            self._section = None if self._section is None or item.again.steps[0].name else self._section

    def _cue(self, item: Told) -> None:
        self._cues.append(item.aside)
        key = key_change_of(item.aside)
        if key is not None:
            self._change(key)

    def _fact(self, item: Told) -> None:
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

    def _remark(self, item: Told) -> None:
        self._notes.append(Note("left", item.line.number, " ".join(item.line.text.strip("#/;%* \t").split())))

    def _tablature(self, item: Told) -> None:
        self._notes.append(Note("left", item.line.number, item.line.text.strip()))


def _without_number(line: SheetLine) -> SheetLine:
    """Blank out a verse's number; columns stay."""
    found = number_of(line.text.lstrip())
    assert found is not None
    indent = len(line.text) - len(line.text.lstrip())
    return line.cut(indent + found[1])


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
