"""Write bars of a score in our notation: marks of chords that share a bar, marks of the tune, words at their chords."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm

from arranger.convert.model import DraftBar, SungText
from arranger.convert.score_harmony import NO_CHORD
from arranger.convert.score_lead import LeadBar, LeadChord, LeadNote, meter_of_length
from arranger.convert.score_words import SungBar
from arranger.song.chord_rows import allowed_counts, felt_beats
from arranger.song.model import Meter
from arranger.song.words_and_notes import MOST_IN_GROUP, nearest_pitch
from arranger.theory.pitch import Pitch

REST = "rest"


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """The chords of a bar as they are written.

    Attributes:
        marks: of the chord row, its meter among them.
        starts: where its chords begin as the score has them, for the words.
        begins: a chord stands at its start.
        meter: that is in force behind it.
        counts: how many marks a row of notes may have in it.
        checks: what was moved.
    """

    marks: tuple[str, ...]
    starts: tuple[Fraction, ...]
    begins: bool
    meter: Meter
    length: Fraction
    counts: tuple[int, ...]
    checks: tuple[str, ...] = ()


@dataclass(slots=True)
class ChordWriter:
    """Writes the chords of a section bar by bar. Mutable; lives while its section is written.

    `meter` is in force, `sounding` the chord that goes on, empty at the start of a song.
    """

    meter: Meter
    sounding: str
    _first: bool = True
    _before: tuple[str, Fraction] | None = None  # the bar before, if one mark fills it, with its length

    def bar(self, bar: LeadBar, *, after_jump: bool = False) -> WrittenBar:
        """Write one bar.

        Args:
            bar: the bar.
            after_jump: the bar that is written before it is not the one that is played before it.
        """
        lead, meter = self._lead(bar)
        counts = tuple(allowed_counts(bar.length, felt_beats(meter, bar.length)))
        marks, placed, checks = _shared(bar.chords, bar.length, counts)
        silent = not self.sounding
        if not marks:
            same = self._before is not None and self._before[1] == bar.length and not after_jump
            marks = [self.sounding or REST] if self._first or silent else ["%" if same and not lead else "/"]
            if marks != ["%"]:  # a short bar may have no single mark
                marks += ["/"] * (counts[0] - 1)
            begins = marks[0] not in ("/", REST)
            starts: tuple[Fraction, ...] = (Fraction(0),) if begins else ()
        else:
            begins = placed[0].start == 0 or marks[0] != "/"
            starts = tuple(chord.start for chord in bar.chords)
            if marks[0] == "/" and (self._first or silent):
                marks[0] = self.sounding or REST
                begins = marks[0] != REST
                starts = (Fraction(0), *starts) if begins else starts
            self.sounding = bar.chords[-1].text
        single = len(marks) == 1 and marks[0] not in ("/", REST)
        if marks == ["%"]:
            pass  # as the bar before
        else:
            self._before = (marks[0], bar.length) if single else None
        self._first = False
        self.meter = meter
        return WrittenBar((*lead, *marks), starts, begins, meter, bar.length, counts, checks)

    def _lead(self, bar: LeadBar) -> tuple[tuple[str, ...], Meter]:
        """Return what stands before the marks, a meter or a short bar's length, and the meter that is in force."""
        if bar.whole and bar.meter == self.meter:
            return (), self.meter
        if self._first and bar.length < bar.meter.length:
            short = meter_of_length(bar.length)
            lead = () if bar.meter == self.meter else (str(bar.meter),)
            return (*lead, "short", str(short)), bar.meter
        meter = bar.meter if bar.whole else meter_of_length(bar.length)
        return (() if meter == self.meter else (str(meter),)), meter


def _shared(
    chords: Sequence[LeadChord], length: Fraction, counts: Sequence[int]
) -> tuple[list[str], list[LeadChord], tuple[str, ...]]:
    """Return the marks of a bar's chords, and the chords where they are written; none for a bar without chords."""
    if not chords:
        return [], [], ()
    count = next((n for n in counts if all((chord.start * n / length).denominator == 1 for chord in chords)), None)
    checks: list[str] = []
    count_or_most = count or counts[-1]
    each = length / count_or_most
    marks = ["/"] * count_or_most
    placed: list[LeadChord] = []
    for place, chord in enumerate(chords):
        slot = min(round(chord.start / each), count_or_most - 1)
        if placed and slot * each <= placed[-1].start:
            slot = int(placed[-1].start / each) + 1
        room = count_or_most - (len(chords) - place - 1)
        slot = min(slot, max(room - 1, 0))
        if slot >= count_or_most or (placed and slot * each <= placed[-1].start):
            checks.append(f"the bar has more chords than can be written: {chord.text} is left out")
            continue
        if slot * each != chord.start:
            checks.append(f"{chord.text} stands between the eighths, and is written at the nearest")
        marks[slot] = f"{chord.text} hold" if chord.hold and chord.text != NO_CHORD else chord.text
        placed.append(LeadChord(slot * each, chord.text, chord.hold))
    return marks, placed, tuple(checks)


def drafted(sign: str, written: WrittenBar, sung: SungBar) -> DraftBar:
    """Return a bar with its words, each at the chord under which it is sung."""
    places = len(written.starts) if written.begins else len(written.starts) + 1
    texts = [""] * max(places, 1)
    glued = [False] * len(texts)
    open_word = False
    for syllable in sung.syllables:
        place = sum(start <= syllable.start for start in written.starts) - int(written.begins)
        place = max(0, min(place, len(texts) - 1))
        inside = open_word
        if not texts[place]:
            glued[place] = inside
        elif not inside:
            texts[place] += " "
        texts[place] += syllable.sung.text
        open_word = syllable.sung.goes_on
    segments = tuple(SungText(text, glue) for text, glue in zip(texts, glued, strict=True))
    return DraftBar(sign, written.marks, segments=segments, joins=sung.joins)


@dataclass(slots=True)
class TuneWriter:
    """Writes the tune of a row bar by bar. Mutable; lives while its row is written."""

    last: Pitch | None = None
    sounds: bool = False
    checks: tuple[str, ...] = ()

    def bar(self, tune: Sequence[LeadNote], written: WrittenBar) -> str:
        """Write one bar; notes between what can be written are moved, and that is told in `checks`."""
        length = written.length
        events = _without_gaps(tune, length)
        found = _best(tuple((n.start, n.length) for n in events), length, written.counts)
        if found is None:
            self.checks = ("the tune's rhythm is finer than can be written, and is rounded",)
            events = _rounded(events, length, written.counts[-1] * MOST_IN_GROUP)
            found = _best(tuple((n.start, n.length) for n in events), length, written.counts)
        assert found is not None
        return " ".join(self._mark(events, length / len(found), place, parts) for place, parts in enumerate(found))

    def _mark(self, events: Sequence[LeadNote], each: Fraction, place: int, parts: int) -> str:
        """Write what shares one mark."""
        words = [self._at(events, each * place + each * part / parts) for part in range(parts)]
        return f"({' '.join(words)})" if parts > 1 else words[0]

    def _at(self, events: Sequence[LeadNote], at: Fraction) -> str:
        note = next((one for one in events if one.start == at), None)
        if note is None or (note.held and self.sounds and self.last == note.pitch):
            return "/"
        self.sounds = note.pitch is not None
        if note.pitch is None:
            return REST
        plain = self.last is not None and nearest_pitch(note.pitch.name, self.last) == note.pitch
        self.last = note.pitch
        return str(note.pitch.name) if plain else str(note.pitch)


def _without_gaps(tune: Sequence[LeadNote], length: Fraction) -> list[LeadNote]:
    """Return the notes of a bar with rests where nothing is."""
    events: list[LeadNote] = []
    at = Fraction(0)
    for note in tune:
        if note.length <= 0 or note.start < at:
            continue
        if note.start > at:
            events.append(LeadNote(at, note.start - at, None))
        if note.pitch is None and events and events[-1].pitch is None:
            events[-1] = LeadNote(events[-1].start, note.start + note.length - events[-1].start, None)
        else:
            events.append(note)
        at = note.start + note.length
    if at < length:
        events.append(LeadNote(at, length - at, None))
    return events


def _rounded(events: Sequence[LeadNote], length: Fraction, grid: int) -> list[LeadNote]:
    each = length / grid
    found: list[LeadNote] = []
    for note in events:
        start, end = (each * round(place / each) for place in (note.start, note.start + note.length))
        if start < end:
            found.append(LeadNote(start, end - start, note.pitch, note.held))
    return found


@lru_cache(maxsize=1024)
def _best(
    places: tuple[tuple[Fraction, Fraction], ...], length: Fraction, counts: tuple[int, ...]
) -> tuple[int, ...] | None:
    """Return how many parts each mark of a bar has, with the fewest groups; None where notes do not fall on any."""
    starts = [start for start, _ in places]
    found: list[tuple[int, int, tuple[int, ...]]] = []
    for count in counts:
        each = length / count
        parts = tuple(
            lcm(*((start / each).denominator for start in starts if each * place <= start < each * (place + 1)))
            for place in range(count)
        )
        if max(parts) <= MOST_IN_GROUP:
            found.append((sum(part > 1 for part in parts), count, parts))
    return min(found)[2] if found else None
