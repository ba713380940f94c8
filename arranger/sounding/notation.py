"""Write the notes of a part in note values: what the staves of the page show, and MusicXML.

Takes an Arrangement; gives bars. Each staff has one voice, in which notes that begin or end apart are tied: the right
hand and its lines on the upper staff, the left hand on the lower. A pad with keys of its own has a staff of its own,
which scores print and the page says in words. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from arranger.harmony.model import Arrangement, ChordId, HeardBar
from arranger.harmony.strokes import written_bar
from arranger.late import load
from arranger.song.model import Meter, Section
from arranger.sounding.note_values import Grid, Value, beamed, common_scale, grid_of, in_ticks, values
from arranger.sounding.staff_places import pad_staff, printable, sign_of, stems_up, step_of
from arranger.text.source import NOWHERE, Span
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch

if TYPE_CHECKING:  # most parts have no notes: they know what these are, and make none
    from arranger.sounding.model import SoundingNote

BarKey = tuple[int, int, int]  # section, row, bar in it
EIGHTH = Fraction(1, 2)
SIXTEENTH = Fraction(1, 4)
HOLD = "hold"
ROLL = "roll"  # the sign of a chord that is broken from its lowest key up


class WrittenHead(NamedTuple):
    """A pitch of a note or chord, as staves can show it.

    Attributes:
        pitch: spelled with two sharps or flats at most.
        tied_back, tied_on: tied to the one before it, to the one after it.
        small: of a fill.
        sign: the alteration that the sign before it shows, 0 a natural; None where it has none.
    """

    pitch: Pitch
    tied_back: bool = False
    tied_on: bool = False
    small: bool = False
    sign: int | None = None


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """A note, a chord or, without heads, a rest.

    Attributes:
        value: its place from the start of the bar, its length and its value.
        heads: lowest first.
        beams: for each of its beams, the eighth's first: `begin`, `continue`, `end`, or a hook `forward`, `backward`.
            Empty where it has a flag, or needs none.
        signs: `hold`, `stop`, `accent`, `roll`, where they stand.
        chord: the printed chord over which it sounds; None for a rest.
        whole_bar: a rest of the whole bar.
        begins: it is the first stroke of its chord.
        stem_up: which way its stem points, where it has one.
    """

    value: Value
    heads: tuple[WrittenHead, ...] = ()
    beams: tuple[str, ...] = ()
    signs: tuple[str, ...] = ()
    chord: ChordId | None = None
    whole_bar: bool = False
    begins: bool = False
    stem_up: bool = True
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def start(self) -> Fraction:
        """From the start of the bar, in quarters."""
        return self.value.start

    @property
    def end(self) -> Fraction:
        """Where it ends, from the start of the bar, in quarters."""
        return self.value.start + self.value.length

    @property
    def small(self) -> bool:
        """Whether it is printed small."""
        return bool(self.heads) and all(head.small for head in self.heads)

    @property
    def struck(self) -> bool:
        """Whether a key is struck in it."""
        return any(not head.tied_back for head in self.heads)


class NotatedBar(NamedTuple):
    """A bar in note values: the voice of each staff fills it exactly; `pad` is empty where no pad has keys."""

    meter: Meter
    length: Fraction
    right: tuple[WrittenNote, ...]
    left: tuple[WrittenNote, ...]
    pad: tuple[WrittenNote, ...] = ()

    @property
    def voices(self) -> tuple[tuple[WrittenNote, ...], tuple[WrittenNote, ...]]:
        """The voices of the upper and the lower staff."""
        return self.right, self.left


class _Sounding(NamedTuple):
    """A note with its times, asked for again and again."""

    start: Fraction
    end: Fraction
    note: SoundingNote


def written_bars(arrangement: Arrangement) -> tuple[NotatedBar, ...]:
    """Return each of `Arrangement.bars`, as it is heard, in note values."""
    return tuple(written for _, written in _some_bars(arrangement, range(len(arrangement.bars))))


def _some_bars(arrangement: Arrangement, wanted: Iterable[int]) -> Iterator[tuple[HeardBar, NotatedBar]]:
    """Yield some of the bars that are heard, by their index, in note values."""
    sounding = _by_bar(arrangement)
    begun = _begun(arrangement)
    staves = (0, 1, pad_staff(arrangement))
    for index in wanted:
        bar = arrangement.bars[index]
        written = written_bar(arrangement, bar)
        grid = grid_of(written.meter, bar.length)
        key = arrangement.song.sections[bar.section].facts.key
        hooks = _hook_pitches(arrangement, bar)
        right, left, *pad = (
            _finished(_voice(arrangement, some, bar.at, grid, hooks, begun), grid, key, staff=staff)
            for staff, some in zip(staves, sounding[index], strict=True)
            if staff is not None
        )
        hands = rolled_together(right, left), rolled_together(left, right)
        yield bar, NotatedBar(written.meter, bar.length, *hands, _of_pad(pad[0], (*right, *left)) if pad else ())


def _of_pad(notes: Sequence[WrittenNote], hands: Sequence[WrittenNote]) -> tuple[WrittenNote, ...]:
    """Return the notes of a pad: of all signs of playing it has the fermatas, where the hands have them."""
    held = {note.end for note in hands if HOLD in note.signs}
    return tuple(
        replace(note, signs=(HOLD,) if any(note.start < end <= note.end for end in held) else ()) for note in notes
    )


def rolled_together(notes: Sequence[WrittenNote], others: Sequence[WrittenNote]) -> tuple[WrittenNote, ...]:
    """Return the notes of one staff, with the sign of a roll only where there is more than one key to roll."""
    keys = {note.start: len(note.heads) for note in others if ROLL in note.signs}
    return tuple(
        replace(note, signs=tuple(sign for sign in note.signs if sign != ROLL))
        if ROLL in note.signs and len(note.heads) + keys.get(note.start, 0) < 2
        else note
        for note in notes
    )


def printed_bars(arrangement: Arrangement) -> dict[BarKey, NotatedBar]:
    """Return the printed bars in note values, as each is played when the keys first play it.

    Bars that the roadmap leaves out, or in which the keys are always out, have their chords held.
    """
    first: dict[BarKey, int] = {}
    for index, bar in enumerate(arrangement.bars):
        if not bar.silent:
            first.setdefault((bar.section, bar.row, bar.bar_index), index)
    found = {(bar.section, bar.row, bar.bar_index): written for bar, written in _some_bars(arrangement, first.values())}
    for index, section in enumerate(arrangement.song.sections):
        if any((index, *place) not in found for place in _places(section)):
            for key, written in _never_played(arrangement, index):
                found.setdefault(key, written)
    return found


def _places(section: Section) -> Iterator[tuple[int, int]]:
    return ((row, bar) for row, each in enumerate(section.rows) for bar in range(len(each.bars)))


def _never_played(arrangement: Arrangement, index: int) -> Iterator[tuple[BarKey, NotatedBar]]:
    """Yield the bars of a section with its chords held, each as long as it lasts."""
    note_of = load("arranger.sounding.model").SoundingNote
    section = arrangement.song.sections[index]
    starts: dict[tuple[int, int], Fraction] = {}
    at = Fraction(0)
    for (row, bar), written in zip(_places(section), section.bars, strict=True):
        starts[row, bar] = at
        at += written.length
    notes = []
    for place, part in enumerate(arrangement.sections[index].chords):
        begins = starts[part.row, part.bar_index] + part.start
        for hand, pitches in (("right", part.right), ("left", part.left)):
            notes += [(hand, pitch, begins, begins + part.length, (index, place), part.span) for pitch in pitches]
    for (row, bar), start in starts.items():
        written = section.rows[row].bars[bar]
        grid = grid_of(written.meter, written.length)
        voices = []
        for staff, hand in enumerate(("right", "left")):
            here = [
                _Sounding(begins, ends, note_of("right", pitch, begins, ends - begins, 1, chord, 0, span))
                for whose, pitch, begins, ends, chord, span in notes
                if whose == hand and begins < start + written.length and ends > start
            ]
            voice = _voice(arrangement, here, start, grid, frozenset(), set())
            voices.append(_finished(voice, grid, section.facts.key, staff=staff))
        yield (index, row, bar), NotatedBar(written.meter, written.length, voices[0], voices[1])


def _by_bar(arrangement: Arrangement) -> list[tuple[list[_Sounding], list[_Sounding], list[_Sounding]]]:
    """Return the notes of the right hand, the left hand and the pad that sound in each bar."""
    notes = [_Sounding(n.start, n.end, n) for n in load("arranger.sounding.strikes").written_notes(arrangement)]
    scale = common_scale([*(bar.at for bar in arrangement.bars), *(note.end for note in notes)])
    starts = [in_ticks(bar.at, scale) for bar in arrangement.bars]
    found: list[tuple[list[_Sounding], list[_Sounding], list[_Sounding]]] = [([], [], []) for _ in starts]
    for sounding in notes:
        note, end = sounding.note, in_ticks(sounding.end, scale)
        index = note.bar
        while index < len(starts) and (index == note.bar or starts[index] < end):
            found[index][2 if note.part == "pad" else note.part == "left"].append(sounding)
            index += 1
    return found


def _begun(arrangement: Arrangement) -> set[tuple[ChordId, Fraction]]:
    """Return when each chord begins, as it is written: a swung push is the second eighth of its beat."""
    return {
        (heard.chord, heard.at if heard.at.denominator % 3 else heard.at // EIGHTH * EIGHTH)
        for heard in arrangement.heard
    }


def written_line(
    arrangement: Arrangement,
    notes: Sequence[tuple[Pitch, Fraction, Fraction]],
    meter: Meter,
    length: Fraction,
    key: Key,
) -> tuple[WrittenNote, ...]:
    """Return a line of single notes in a bar: each a pitch, where it starts and ends, from the start of the bar."""
    note_of = load("arranger.sounding.model").SoundingNote
    sounding = [
        _Sounding(start, end, note_of("right", pitch, start, end - start, 1, None, 0)) for pitch, start, end in notes
    ]
    grid = grid_of(meter, length)
    return _finished(_voice(arrangement, sounding, Fraction(0), grid, frozenset(), set()), grid, key, staff=0)


def _finished(notes: Sequence[WrittenNote], grid: Grid, key: Key, *, staff: int) -> tuple[WrittenNote, ...]:
    return _with_stems(_with_beams(_with_signs(notes, key), grid), staff)


def _voice(
    arrangement: Arrangement,
    notes: Sequence[_Sounding],
    at: Fraction,
    grid: Grid,
    hooks: frozenset[tuple[Fraction, int]],
    begun: set[tuple[ChordId, Fraction]],
) -> tuple[WrittenNote, ...]:
    """Write the notes of one staff that sound in a bar, which begins at `at`."""
    scale = common_scale([at, grid.length, *(time for note in notes for time in (note.start, note.end))])
    first = in_ticks(at, scale)
    length = in_ticks(grid.length, scale)
    timed = [(in_ticks(note.start, scale) - first, in_ticks(note.end, scale) - first, note) for note in notes]
    places = {0, length, *(time for start, end, _ in timed for time in (start, end) if 0 < time < length)}
    made: list[WrittenNote] = []
    silent_from = Fraction(0)
    for start, end in pairwise(sorted(places)):
        sounding = [note for begun_at, ended_at, note in timed if begun_at <= start < ended_at]
        if sounding:
            begins, ends = Fraction(start, scale), Fraction(end, scale)
            made += _rests(silent_from, begins, grid)
            made += _notes(arrangement, at, sounding, (begins, ends), grid, hooks, begun)
            silent_from = ends
    made += _rests(silent_from, grid.length, grid)
    return tuple(made)


def _rests(start: Fraction, end: Fraction, grid: Grid) -> Iterator[WrittenNote]:
    if start == 0 and end == grid.length:
        yield WrittenNote(Value(start, end, Fraction(4), dotted=False), whole_bar=True)
    elif start < end:
        yield from (WrittenNote(value) for value in values(start, end, grid, rest=True))


def _notes(
    arrangement: Arrangement,
    at: Fraction,
    sounding: Sequence[_Sounding],
    time: tuple[Fraction, Fraction],
    grid: Grid,
    hooks: frozenset[tuple[Fraction, int]],
    begun: set[tuple[ChordId, Fraction]],
) -> Iterator[WrittenNote]:
    """Yield what sounds together from one place of a bar to another, as one note or more that are tied."""
    by_key = sorted({one.note.pitch.midi: one for one in sounding}.items())
    chord = max(sounding, key=lambda one: one.start).note.chord
    part = arrangement.chord(chord) if chord is not None else None
    signs = part.written.manner if part is not None and part.written is not None else ()
    for value in values(*time, grid):
        start, end = at + value.start, at + value.start + value.length
        heads = tuple(
            WrittenHead(
                printable(one.note.pitch),
                tied_back=one.start < start,
                tied_on=one.end > end,
                small=one.note.part == "octaves" and (one.start - at, key) not in hooks,
            )
            for key, one in by_key
        )
        small = all(head.small for head in heads)
        struck = any(not head.tied_back for head in heads)
        begins = chord is not None and (chord, start) in begun and struck and not small
        ends = not small and not any(head.tied_on for head in heads)
        shown = tuple(sign for sign in signs if (ends if sign == "hold" else begins))
        span = part.span if part is not None else NOWHERE
        yield WrittenNote(value, heads, (), shown, chord, begins=begins, span=span)


def _hook_pitches(arrangement: Arrangement, bar: HeardBar) -> frozenset[tuple[Fraction, int]]:
    """Return the notes that a hook row has in a bar, which are no fill: their places and keys."""
    hook = arrangement.song.sections[bar.section].rows[bar.row].hook
    if hook is None or bar.bar_index >= len(hook.bars):
        return frozenset()
    return frozenset((note.start, note.pitch.midi) for note in hook.bars[bar.bar_index] if note.pitch is not None)


def _with_signs(notes: Sequence[WrittenNote], key: Key) -> tuple[WrittenNote, ...]:
    """Add the signs of a bar: each once for its line or space; what is tied has none."""
    before: dict[int, int] = {}
    found = []
    for note in notes:
        signs = [None if head.tied_back else sign_of(head.pitch, key, before) for head in note.heads]
        if any(sign is not None for sign in signs):
            heads = tuple(head._replace(sign=sign) for head, sign in zip(note.heads, signs, strict=True))
            note = replace(note, heads=heads)
        found.append(note)
    return tuple(found)


def _with_stems(notes: Sequence[WrittenNote], staff: int) -> tuple[WrittenNote, ...]:
    """Turn the stems of a voice: those that a beam joins all one way."""
    found: list[WrittenNote] = []
    joined: list[WrittenNote] = []
    for note in notes:
        joined.append(note)
        if note.beams[:1] not in (("begin",), ("continue",)):
            steps = [step_of(head.pitch) for one in joined for head in one.heads]
            up = not steps or stems_up(steps, staff)
            found += joined if up else [replace(one, stem_up=False) for one in joined]
            joined = []
    return tuple(found)


def _with_beams(notes: Sequence[WrittenNote], grid: Grid) -> tuple[WrittenNote, ...]:
    """Join notes by beams; those of a fill have beams of their own."""
    found = list(notes)
    if sum(note.value.plain < 1 for note in notes) < 2:
        return tuple(found)
    sizes = [[_short(note) if note.small == small else None for note in notes] for small in (False, True)]
    for group in (group for some in sizes for group in beamed(some, grid)):
        depths = [_flags(notes[index].value.plain) for index in group]
        for place, index in enumerate(group):
            beams = tuple(_beam(depths, place, level, notes, group) for level in range(depths[place]))
            found[index] = replace(notes[index], beams=beams)
    return tuple(found)


def _short(note: WrittenNote) -> tuple[Fraction, Fraction] | None:
    """Return the place and value of a note, None of a rest; one of a tuplet is joined by the beat."""
    plain = note.value.plain
    return (note.start, min(plain, SIXTEENTH) if note.value.tuplet and plain < 1 else plain) if note.heads else None


def _flags(plain: Fraction) -> int:
    """Return how many beams a value has: one for an eighth, two for a sixteenth."""
    return (Fraction(1, 2) / plain).numerator.bit_length()


def _beam(depths: Sequence[int], place: int, level: int, notes: Sequence[WrittenNote], group: Sequence[int]) -> str:
    before = place > 0 and depths[place - 1] > level
    after = place + 1 < len(depths) and depths[place + 1] > level
    if before and after:
        return "continue"
    if before or after:
        return "end" if before else "begin"
    # A hook points into the beat: forward from the first of a group and from a note on an eighth.
    on_eighth = (notes[group[place]].start * 2).denominator == 1
    return "forward" if place == 0 or (on_eighth and place + 1 < len(depths)) else "backward"
