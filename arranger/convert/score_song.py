"""Write the text of a song from the bars of a score: head, sections, rows of chords, words and tune."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from arranger.convert.model import DraftRow, Remark
from arranger.convert.score_lead import LeadBar
from arranger.convert.score_model import Score
from arranger.convert.score_roadmap import RepeatedBars
from arranger.convert.score_rows import ChordWriter, TuneWriter, WrittenBar, drafted
from arranger.convert.score_sections import ScoreOrder, ScoreSection
from arranger.convert.score_words import SungBar, Unsung, linked
from arranger.convert.song_text import chord_row, fact_lines, respelled_mark, roadmap_lines, words_cell
from arranger.habits.bounds import FASTEST, SLOWEST
from arranger.habits.headings import Heading
from arranger.song.model import Meter
from arranger.song.song_lines import LONGEST_LINE
from arranger.theory.key import Key

ROW = 4  # bars of a row
LONGEST_ROW = 6  # with its endings
LONGEST_CUE = 120  # characters of words for the player


@dataclass(frozen=True, slots=True)
class Written:
    """A song's text, and what there is to say of it."""

    text: str
    notes: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class LeadSheet:
    """All that a song is written from.

    Attributes:
        score: its head.
        bars: of the lead sheet.
        keys: of each bar.
        order: the bars as they are played.
        sung: what is sung in each of these.
        unsung: words that are never sung.
        sections: the bars in sections.
        notes: what there is to say of the whole.
        cues: words for the players are written as cues; else as remarks.
    """

    score: Score
    bars: tuple[LeadBar, ...]
    keys: tuple[Key, ...]
    order: tuple[int, ...]
    sung: tuple[SungBar, ...]
    unsung: tuple[Unsung, ...]
    sections: ScoreOrder
    notes: tuple[Remark, ...]
    cues: bool = True


def respelled_bars(bars: Sequence[LeadBar], keys: Sequence[Key]) -> tuple[tuple[LeadBar, ...], tuple[Remark, ...]]:
    """Spell the chords as their keys have them, and say which were spelled otherwise."""
    found: list[LeadBar] = []
    changed: dict[str, None] = {}
    for bar, key in zip(bars, keys, strict=True):
        chords = tuple(replace(chord, text=respelled_mark(chord.text, key)) for chord in bar.chords)
        for old, new in zip(bar.chords, chords, strict=True):
            if old.text != new.text:
                changed[f"{old.text} is {new.text}"] = None
        found.append(replace(bar, chords=chords))
    said = f"chords are spelled as their keys have them: {', '.join(changed)}"
    return tuple(found), (Remark("assumed", 0, said),) if changed else ()


def song_of(sheet: LeadSheet) -> Written:
    """Write the song."""
    first = sheet.bars[0]
    key, meter = sheet.keys[0], first.meter
    pace = _paces(sheet.bars)
    lines = [*fact_lines("song", sheet.score.title)]
    for word, text in (
        ("words", sheet.score.words),
        ("music", sheet.score.music),
        ("rights", sheet.score.rights),
        ("key", str(key)),
        ("tempo", tempo_text(pace[0][0], meter)),
        ("meter", str(meter)),
        ("feel", pace[0][1]),
    ):
        lines += fact_lines(word, text)
    lines += _roadmap(sheet)
    lines += [remark(note) for note in sheet.notes]
    said: list[Remark] = []
    for section in sheet.sections.sections:
        written, notes = _SectionWriter(sheet, section, pace).lines()
        lines += ["", *written]
        said += notes
    return Written("\n".join(lines) + "\n", (*sheet.notes, *said))


def remark(note: Remark) -> str:
    """Return a note as a remark of the song."""
    kind = "score" if note.kind == "left" else note.kind
    between = ", " if note.text.startswith("bar ") else ": "
    return f"# {kind}{between}{' '.join(note.text.split())}"[:LONGEST_LINE]


def _paces(bars: Sequence[LeadBar]) -> list[tuple[Fraction | None, str]]:
    """Return tempo and feel of each bar; what stands in the first section's first bars holds from the start."""
    tempo = next((bar.tempo for bar in bars[:2] if bar.tempo is not None), None)
    feel = next((bar.feel for bar in bars[:2] if bar.feel), "")
    found = []
    for bar in bars:
        tempo, feel = bar.tempo or tempo, bar.feel or feel
        found.append((tempo, feel))
    return found


def tempo_text(quarters: Fraction | None, meter: Meter) -> str:
    """Return a tempo in the beats that are felt; empty where there is none, or one that nobody plays.

    >>> tempo_text(Fraction(90), Meter(6, 8)), tempo_text(Fraction(9000), Meter(4, 4))
    ('dotted 60', '')
    """
    if quarters is None:
        return ""
    unit, word = Fraction(1), ""
    if meter.felt_beat == Fraction(3, 2):
        unit, word = Fraction(3, 2), "dotted "
    elif meter.unit == 2:
        unit, word = Fraction(2), "half "
    beats = round(quarters / unit)
    return f"{word}{beats}" if SLOWEST <= beats <= FASTEST else ""


def _roadmap(sheet: LeadSheet) -> Iterator[str]:
    sections, steps = sheet.sections.sections, sheet.sections.steps
    if steps == tuple(range(len(sections))):
        return
    order: list[Heading] = []
    for step in steps:
        name = sections[step].name
        repeated = any((r.first, r.last) == (sections[step].first, sections[step].last) for r in sections[step].repeats)
        if order and order[-1].name == name and not repeated and order[-1].times < 99:
            order[-1] = Heading(name, order[-1].times + 1)
        else:
            order.append(Heading(name))
    yield from roadmap_lines(order)


class _SectionWriter:
    """Writes one section. Mutable; lives while it is written."""

    def __init__(self, sheet: LeadSheet, section: ScoreSection, pace: Sequence[tuple[Fraction | None, str]]) -> None:
        self._sheet, self._section = sheet, section
        self._pace = pace
        self._notes: list[Remark] = []
        self._closes = {e.last: r for r in section.repeats for e in r.endings}
        self._closes |= {r.body_last: r for r in section.repeats if not r.endings}
        self._opens = {r.first: r for r in section.repeats}
        self._endings = {e.first: e for r in section.repeats for e in r.endings}

    def lines(self) -> tuple[list[str], list[Remark]]:
        """Return the section's lines, and what is said in them."""
        sheet, first = self._sheet, self._section.first
        bar = sheet.bars[first]
        home = sheet.bars[0].meter
        lines = [f"section {self._section.name}"]
        tempo, feel = self._pace[first]
        if sheet.keys[first] != sheet.keys[0]:
            lines.append(f"key {sheet.keys[first]}")
        if bar.meter != home:
            lines.append(f"meter {bar.meter}")
        if (tempo, feel) != self._pace[0] or bar.meter != home:
            here, stated = tempo_text(tempo, bar.meter), tempo_text(self._pace[0][0], home)
            lines += fact_lines("tempo", here if here != stated else "")
        if feel != self._pace[0][1]:
            lines += fact_lines("feel", feel)
        lines += fact_lines("dynamic", bar.dynamic)
        writer = ChordWriter(bar.meter, self._sounding_before(first))
        for row in self._rows():
            lines += self._row(row, writer)
        return lines, self._notes

    def _sounding_before(self, index: int) -> str:
        """Return the chord that goes on into a bar: from the bar before, or from before the first ending."""
        for before in range(self._bar_before(index), -1, -1):
            if self._sheet.bars[before].chords:
                return self._sheet.bars[before].chords[-1].text
        return ""

    def _bar_before(self, index: int) -> int:
        """Return the bar that is played before a bar, the first time."""
        place = self._sheet.order.index(index) if index in self._sheet.order else 0
        return self._sheet.order[place - 1] if place else -1

    def _rows(self) -> Iterator[list[int]]:
        """Return the bars of each row."""
        row: list[int] = []
        counted = 0
        for index in range(self._section.first, self._section.last + 1):
            most = LONGEST_ROW if self._in_ending(index) else ROW
            after_repeat = (
                bool(row) and row[-1] in self._closes
            )  # each later ending has its words in its own first line
            if row and (counted >= most or index in self._opens or after_repeat):
                yield row
                row, counted = [], 0
            row.append(index)
            counted += self._sheet.bars[index].length > self._sheet.bars[index].meter.length / 2
        if row:
            yield row

    def _in_ending(self, index: int) -> bool:
        return any(e.first <= index <= e.last for e in self._endings.values())

    def _row(self, row: Sequence[int], writer: ChordWriter) -> Iterator[str]:
        """Write a row with what stands below it."""
        bars = [self._sheet.bars[index] for index in row]
        written: list[WrittenBar] = []
        for index, bar in zip(row, bars, strict=True):
            later = index in self._endings and 1 not in self._endings[index].numbers
            written.append(writer.bar(bar, after_jump=later))
        tune, checks = self._tune(bars, written)
        yield from self._said(row, written, checks)
        signs = [self._sign(index, place > 0) for place, index in enumerate(row)]
        lines = self._sung_lines(row)
        drafts = [
            [drafted(sign, one, sung) for sign, one, sung in zip(signs, written, line, strict=True)] for line in lines
        ] or [[drafted(sign, one, SungBar()) for sign, one in zip(signs, written, strict=True)]]
        yield chord_row(DraftRow(0, tuple(drafts[0]), self._end(row[-1])))
        for draft in drafts if lines else ():
            yield "sing " + " ".join(f"| {words_cell(bar)}".rstrip() for bar in draft) + " |"
        if tune:
            yield f"tune | {' | '.join(tune)} |"

    def _tune(self, bars: Sequence[LeadBar], written: Sequence[WrittenBar]) -> tuple[list[str], list[tuple[str, ...]]]:
        """Return the tune of a row, bar by bar, and what is to be said of each; no bars where none is known."""
        if not any(note.pitch is not None for bar in bars for note in bar.tune):
            return [], [() for _ in bars]
        writer = TuneWriter()
        cells: list[str] = []
        checks: list[tuple[str, ...]] = []
        for bar, one in zip(bars, written, strict=True):
            writer.checks = ()
            cells.append(writer.bar(bar.tune, one))
            checks.append(writer.checks)
        return cells, checks

    def _said(
        self, row: Sequence[int], written: Sequence[WrittenBar], of_tune: Sequence[tuple[str, ...]]
    ) -> Iterator[str]:
        """Write cues and remarks above a row."""
        for index, one, tune_checks in zip(row, written, of_tune, strict=True):
            bar = self._sheet.bars[index]
            notes = [Remark("check", 0, said) for said in dict.fromkeys((*bar.checks, *one.checks, *tune_checks))]
            notes += [Remark("left", 0, said) for said in bar.left]
            tempo = tempo_text(bar.tempo, bar.meter)
            if tempo and index > max(1, self._section.first):
                notes.append(Remark("left", 0, f"tempo {tempo} from here"))
            for text in bar.words:
                if self._sheet.cues:
                    yield from fact_lines("cue", text[:LONGEST_CUE])
                else:
                    notes.append(Remark("left", 0, text))
            for left in self._sheet.unsung:
                if left.first == index:
                    lines = f"{len(left.verses)} more line{'s' if len(left.verses) > 1 else ''} of words"
                    notes.append(Remark("check", 0, f"{lines} than times that it is played ({left.times})"))
            for note in notes:
                self._notes.append(Remark(note.kind, 0, f"bar {bar.label}: {note.text}"))
                yield remark(self._notes[-1])

    def _sign(self, index: int, within: bool) -> str:
        """Return the barline on the left of a bar."""
        before = ":" if within and self._closing(index - 1) else ""
        ending = self._endings.get(index)
        numbers = "".join(f"{number}." for number in ending.numbers) if ending is not None else ""
        return f"{before}|{':' if index in self._opens else ''}{numbers}"

    def _closing(self, index: int) -> bool:
        """Return whether a repeat goes back after a bar: not after the last of its endings."""
        repeat = self._closes.get(index)
        return repeat is not None and (not repeat.endings or index != repeat.last)

    def _end(self, index: int) -> str:
        """Return the barline on the right of a row's last bar."""
        repeat: RepeatedBars | None = self._closes.get(index)
        if repeat is not None and not repeat.endings:
            return f":| x{repeat.times}" if repeat.times > 2 else ":|"
        if repeat is not None:
            return "||" if index == repeat.last else ":|"
        return "||" if index == self._section.last else "|"

    def _sung_lines(self, row: Sequence[int]) -> list[list[SungBar]]:
        """Return the words of a row for each time that it is played; none where nobody sings."""
        times: list[dict[int, SungBar]] = []
        last = len(self._sheet.bars)
        for index, sung in zip(self._sheet.order, self._sheet.sung, strict=True):
            if row[0] <= index <= row[-1]:
                if index <= last:
                    times.append({})
                times[-1][index] = sung
                last = index
        lines = [[time.get(index, SungBar()) for index in row] for time in times]
        while len(lines) > 1 and lines[-1] == lines[-2]:
            lines.pop()
        lines += self._extra_lines(row)
        return lines if any(bar.syllables for line in lines for bar in line) else []

    def _extra_lines(self, row: Sequence[int]) -> Iterator[list[SungBar]]:
        """Return the words that the score has beyond the times that it is played: they are kept."""
        for left in self._sheet.unsung:
            inside = [index for index in row if left.first <= index <= left.last]
            for verse in left.verses if inside else ():
                chosen = [
                    tuple(s for s in self._sheet.bars[i].syllables if s.sung.verse == verse) if i in inside else ()
                    for i in row
                ]
                if any(chosen):
                    yield list(linked(chosen))
