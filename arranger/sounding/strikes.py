"""List the notes of a part as they are written: on the grid, before swing and loudness, in the order of the roadmap.

Takes an Arrangement; gives notes. Chords are struck by the one table of rhythms (`harmony.strokes`); lines in octaves
and hooks take the right hand for their beats; a pad with keys of its own holds its notes from chord to chord. What
leads into another key sounds where the page gives it hands. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from arranger.harmony.manners import may_hold
from arranger.harmony.model import Arrangement, ChordId, ChordPart, Heard, HeardBar, LeadIn, PadNote, Visit
from arranger.harmony.patterns import pattern
from arranger.harmony.strokes import STOPPED, BarInTime, Struck, all_struck, struck, written_bar
from arranger.harmony.voicings import OCTAVE
from arranger.sounding.model import SoundingNote, SoundingPart
from arranger.sounding.note_values import common_scale, in_ticks
from arranger.text.source import NOWHERE
from arranger.theory.pitch import Pitch

AS_WRITTEN = 64  # the velocity of notes before their loudness is known: the middle, as the MIDI standard advises
ORDER: tuple[SoundingPart, ...] = ("right", "left", "octaves", "pad")


class _Line(NamedTuple):
    """A note of a line that takes the right hand, with the time for which the line of its bar takes it."""

    note: SoundingNote
    start: Fraction
    end: Fraction


def written_notes(arrangement: Arrangement) -> tuple[SoundingNote, ...]:
    """Return the notes of both hands, lines and pad as written, in order of start, part and pitch.

    Pushed chords begin early, as written; `stop` and `hold` are in the lengths; no key of a part is struck again before
    it has ended. The velocity of all of them is `AS_WRITTEN`.
    """
    clock = WrittenClock(arrangement)
    hands = list(_hands(arrangement, clock))
    lines = sorted(_lines(arrangement, clock), key=lambda line: line.start)
    hands = list(_with_lead_ins(arrangement, clock, hands))
    notes = [*_without_lines(hands, lines), *(line.note for line in lines), *_pad(arrangement, clock)]
    return ended(notes)


def hand_of(note: SoundingNote) -> str:
    """Return who plays a note: the `right` hand plays the lines in octaves too."""
    return "right" if note.part == "octaves" else note.part


def in_order(notes: Iterable[SoundingNote]) -> list[SoundingNote]:
    """Return notes in order of start, part (right, left, octaves, pad) and pitch."""
    notes = list(notes)
    scale = common_scale([time for note in notes for time in (note.start, note.length)])

    def place(note: SoundingNote) -> tuple[int, int, int, int]:
        start, length = in_ticks(note.start, scale), in_ticks(note.length, scale)
        return start, ORDER.index(note.part), note.pitch.midi, length

    return sorted(notes, key=place)


def ended(notes: Iterable[SoundingNote]) -> tuple[SoundingNote, ...]:
    """Return notes in order, each ended where its hand strikes its key again; of two at once the longer stays."""
    found: list[SoundingNote | None] = []
    last: dict[
        tuple[str, int], tuple[int, int, int]
    ] = {}  # of each hand's key: its place in `found`, its start and end
    ordered = in_order(notes)
    scale = common_scale([time for note in ordered for time in (note.start, note.length)])
    for note in ordered:
        key, start = (hand_of(note), note.pitch.midi), in_ticks(note.start, scale)
        place, begun, until = last.get(key, (0, start, start))
        before = found[place] if until > start else None
        if before is not None:
            found[place] = replace(before, length=note.start - before.start) if begun < start else None
        last[key] = len(found), start, start + in_ticks(note.length, scale)
        found.append(note)
    return tuple(note for note in found if note is not None)


class WrittenClock:
    """Finds, for a moment, the bar and the chord in which it is. Times in writing are on the grid."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.bars = [bar.at for bar in arrangement.bars]
        self.heard = arrangement.heard
        # As floats, which are found much sooner: two times of a song are far more apart than a float's last place.
        self._bars = list(map(float, self.bars))
        self._begins = [float(heard.at) for heard in arrangement.heard]
        self._swung = [_is_swung(arrangement, bar) for bar in arrangement.bars]
        self._any_swung = any(self._swung)

    def bar(self, at: Fraction) -> int:
        """Return the index of the bar that is heard at a moment."""
        return max(bisect_right(self._bars, float(at)) - 1, 0)

    def chord(self, at: Fraction) -> Heard | None:
        """Return the chord that is heard at a moment; None in a silence."""
        index = bisect_right(self._begins, float(at)) - 1
        if index < 0 or self.heard[index].at + self.heard[index].length <= at:
            return None
        return self.heard[index]

    def written(self, at: Fraction) -> Fraction:
        """Return the place of a moment in writing: in swing a push is an eighth, though it sounds as a third."""
        if not self._any_swung or at.denominator % 3:
            return at
        index = self.bar(at)
        into = (at - self.bars[index]) % 1
        if not self._swung[index] or into not in _SHORT_NOTES:
            return at
        return at - into + _SHORT_NOTES[into]


# In a swung beat: where a push comes, and where a chord ends that comes early and is cut after an eighth.
_SHORT_NOTES = {Fraction(2, 3): Fraction(1, 2), Fraction(1, 6): Fraction(0)}


def _is_swung(arrangement: Arrangement, bar: HeardBar) -> bool:
    section = arrangement.song.sections[bar.section]
    return section.facts.feel == "swing" and written_bar(arrangement, bar).meter.unit != 8


# --- both hands ------------------------------------------------------------------------------------------------


def _hands(arrangement: Arrangement, clock: WrittenClock) -> Iterator[SoundingNote]:
    for heard, strokes in all_struck(arrangement):
        part = arrangement.chord(heard.chord)
        yield from _notes(strokes, part, heard.chord, clock)


def _notes(strokes: Iterable[Struck], part: ChordPart, chord: ChordId, clock: WrittenClock) -> Iterator[SoundingNote]:
    """Yield the notes of a chord's strokes, spelled as its hands are."""
    names = _spelling(part)
    for stroke in strokes:
        start, end = clock.written(stroke.at), clock.written(stroke.at + stroke.length)
        if end == start:  # in swing, an off-beat eighth where the next chord comes early: that is struck in its place
            continue
        bar, own = clock.bar(start), names[stroke.hand]
        for key in stroke.keys:
            pitch = own[key] if key in own else _spelled(part, key)
            yield SoundingNote(stroke.hand, pitch, start, end - start, AS_WRITTEN, chord, bar, part.span)


def _spelling(part: ChordPart) -> dict[str, dict[int, Pitch]]:
    return {
        "right": {pitch.midi: pitch for pitch in (*part.plain, *part.right)},
        "left": {pitch.midi: pitch for pitch in part.left},
    }


def _spelled(part: ChordPart, key: int) -> Pitch:
    """Spell a key that a roll adds to the left hand: it is a note of the chord or an octave of the bass."""
    assert part.chord is not None
    names = (*(pitch.name for pitch in part.left), part.chord.bass_name, *part.chord.names)
    return Pitch.at(key, next(name for name in names if name.pitch_class == key % OCTAVE))


# --- lines in octaves, and hooks ---------------------------------------------------------------------------------


def _lines(arrangement: Arrangement, clock: WrittenClock) -> Iterator[_Line]:
    """Yield the notes of all lines that the right hand plays in place of chords, as each bar is heard."""
    last = {visit.section: (visit.step, visit.time) for visit in arrangement.visits}
    pushed = (h.at for h in arrangement.heard if (w := arrangement.chord(h.chord).written) and w.push)
    pushes = sorted(map(clock.written, pushed))
    for bar in arrangement.bars:
        if bar.silent:
            continue
        for line in arrangement.sections[bar.section].octaves:
            if line.last_time and last[bar.section] != (bar.step, bar.time):
                continue
            notes = [n for n in line.notes if (n.row, n.bar_index) == (bar.row, bar.bar_index)]
            times = [(bar.at + n.start, bar.at + n.start + n.length) for n in notes]
            keys = [(n.pitch, Pitch(n.pitch.name, n.pitch.octave + 1)) if line.doubled else (n.pitch,) for n in notes]
            yield from _line(times, keys, pushes, clock, arrangement)
        row = arrangement.song.sections[bar.section].rows[bar.row]
        if row.hook is not None and bar.bar_index < len(row.hook.bars):
            sung = [(n.pitch, n) for n in row.hook.bars[bar.bar_index] if n.pitch is not None]
            times = [(bar.at + n.start, bar.at + n.start + n.length) for _, n in sung]
            yield from _line(times, [(pitch,) for pitch, _ in sung], pushes, clock, arrangement)


def _line(
    times: Sequence[tuple[Fraction, Fraction]],
    keys: Sequence[tuple[Pitch, ...]],
    pushes: Sequence[Fraction],
    clock: WrittenClock,
    arrangement: Arrangement,
) -> Iterator[_Line]:
    """Yield what one bar has of a line: its notes in time, each of one key or two."""
    for (start, end), pitches in zip(times, keys, strict=True):
        pushed = bisect_right(pushes, start)
        if pushed < len(pushes):  # the hand must be free for a chord that comes early
            end = min(end, pushes[pushed])
        heard = clock.chord(start)
        span = arrangement.chord(heard.chord).span if heard else NOWHERE
        chord = heard.chord if heard else None
        for pitch in pitches:
            note = SoundingNote("octaves", pitch, start, end - start, AS_WRITTEN, chord, clock.bar(start), span)
            yield _Line(note, start, end)


def _without_lines(hands: Iterable[SoundingNote], lines: list[_Line]) -> Iterator[SoundingNote]:
    """Yield the notes of both hands, the right hand's ended where a line takes it over."""
    taken: list[tuple[Fraction, Fraction]] = []
    for line in lines:  # in order of their starts; those that overlap or touch are one
        if taken and line.start <= taken[-1][1]:
            taken[-1] = taken[-1][0], max(taken[-1][1], line.end)
        else:
            taken.append((line.start, line.end))
    starts = [float(start) for start, _ in taken]
    for note in hands:
        if note.part != "right":
            yield note
            continue
        first = bisect_right(starts, float(note.start))
        if first and taken[first - 1][1] > note.start:
            continue
        if first < len(taken) and taken[first][0] < note.end:
            yield replace(note, length=taken[first][0] - note.start)
        else:
            yield note


# --- what leads into another key ---------------------------------------------------------------------------------


def lead_ins_heard(arrangement: Arrangement) -> Iterator[tuple[LeadIn, HeardBar]]:
    """Yield what leads into another key and has hands, with the bar as it is heard."""
    meant = _lead_in_visits(arrangement)
    for bar in arrangement.bars:
        lead_in = None if bar.silent else arrangement.sections[bar.section].lead_in
        if lead_in is None or lead_in.for_all or not lead_in.right:
            continue
        there = (bar.row, bar.bar_index) == (lead_in.row, lead_in.bar_index)
        if there and meant.get((bar.step, bar.time)) in lead_in.times:
            yield lead_in, bar


def _lead_in_visits(arrangement: Arrangement) -> dict[tuple[int, int], int]:
    """Return, for the last pass of each step, how often its section has been visited by then, a vamp twice."""
    last: dict[int, Visit] = {visit.step: visit for visit in arrangement.visits}
    count: Counter[int] = Counter()
    found = {}
    for index, step in enumerate(arrangement.song.roadmap):
        count[step.section] += step.times if step.until is None else 2
        if index in last:
            found[index, last[index].time] = count[step.section]
    return found


def _with_lead_ins(
    arrangement: Arrangement, clock: WrittenClock, hands: Iterable[SoundingNote]
) -> Iterator[SoundingNote]:
    """Yield the notes of both hands with what leads into another key in place of the end of the chord before it."""
    leading: dict[Fraction, list[SoundingNote]] = {}
    spans: list[tuple[Fraction, Fraction]] = []
    for lead_in, bar in lead_ins_heard(arrangement):
        start = bar.at + lead_in.start
        part = replace(
            arrangement.chord(lead_in.over),
            chord=lead_in.chord,
            written=None,
            right=lead_in.right,
            plain=lead_in.plain,
            left=lead_in.left,
            row=lead_in.row,
            bar_index=lead_in.bar_index,
            start=lead_in.start,
            length=lead_in.length,
            suspension=None,
        )
        how = pattern(bar.how.manner, written_bar(arrangement, bar).meter, bass_player=bar.how.bass_player)
        bars = (BarInTime(bar.at, bar.length, how, bar.how.manner == "held"),)
        resolves = None if lead_in.resolves is None else bar.at + lead_in.resolves
        strokes = struck(part, start, lead_in.length, bars, resolves)
        leading[start] = list(_notes(strokes, part, lead_in.over, clock))
        spans.append((start, start + lead_in.length))
    for note in hands:
        over = next((span for span in spans if span[0] < note.end and note.start < span[1]), None)
        if over is None:
            yield note
        elif note.start < over[0]:
            yield replace(note, length=over[0] - note.start)
    for notes in leading.values():
        yield from notes


# --- the pad -----------------------------------------------------------------------------------------------------


def _pad(arrangement: Arrangement, clock: WrittenClock) -> Iterator[SoundingNote]:
    """Yield the notes that a pad with keys of its own holds; one that goes on is one note."""
    held: dict[tuple[int, int], SoundingNote] = {}  # by section and key
    for heard in arrangement.heard:
        section = heard.chord[0]
        part = arrangement.chord(heard.chord)
        signs = part.written.manner if part.written else ()
        start = clock.written(heard.at)
        length = STOPPED if "stop" in signs else clock.written(heard.at + heard.length) - start
        for pitch in _padded(arrangement.sections[section].pad, part):
            before = held.pop((section, pitch.midi), None)
            if before is not None and before.end == start:
                held[section, pitch.midi] = replace(before, length=before.length + length)
                continue
            if before is not None:
                yield before
            note = SoundingNote("pad", pitch, start, length, AS_WRITTEN, heard.chord, clock.bar(start), part.span)
            held[section, pitch.midi] = note
    yield from held.values()


def _padded(notes: tuple[PadNote, ...], part: ChordPart) -> Iterator[Pitch]:
    """Yield the pad's notes over a chord: those of the last change of the pad before it, as far as they fit it."""
    places = [(note.bar, note.start) for note in notes if (note.bar, note.start) <= (part.bar, part.start)]
    struck_keys = {pitch.midi for pitch in (*part.left, *part.right, *part.plain)}
    for note in notes:
        fits = part.chord is not None and may_hold(note.pitch.midi % OCTAVE, part.chord)
        if places and (note.bar, note.start) == max(places) and fits and note.pitch.midi not in struck_keys:
            yield note.pitch
