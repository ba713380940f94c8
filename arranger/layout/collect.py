"""First room: an arrangement -> the content of its lines, section by section. Nothing has a place yet."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

from arranger.harmony.model import Arrangement, ChordId, ChordPart
from arranger.layout.content import (
    BarContent,
    Column,
    FillMark,
    MarginEntry,
    Picture,
    RowContent,
    SectionContent,
    Symbol,
    Words,
)
from arranger.layout.facts import closing_margin, pickup_margin, row_margin, section_margin
from arranger.layout.keyboard import marks
from arranger.layout.metrics import Metrics
from arranger.layout.style import CHORD, MARGIN, OCTAVE, SMALL, WORDS
from arranger.layout.symbols import FERMATA, chord_runs, rest_runs, symbol
from arranger.layout.text import Run, printed_name, printed_shape, runs
from arranger.song.model import Bar, Mark, Piece, Row
from arranger.source import Span
from arranger.theory.pitch import Pitch

BarPlace = tuple[int, int]  # the row and the bar in it
REPEAT_SIZE, REPEAT_RISE = 22.0, -5.2  # the sign is half its size high, around its middle: as high as capitals
IN_OCTAVES, SINGLE = "OCT", "single"  # what stands before a fill: doubled at the octave, or not (a small hand)
FERMATA_RISE = -4.0  # it is drawn for a place over a stave; so its top is that of the chord


@dataclass(frozen=True, slots=True)
class _Lookup:
    """What the bars of one section ask for.

    `chords`: by bar, in order of time, with their ids. `fills`: by bar and time. `resolutions`: by the written bar's
    number and time, the chord that a suspension resolves to there. `fresh`: chords whose hand is shown for the first
    time. `changes`: the number of each chord's change of hands, the same for equal ones.
    """

    arrangement: Arrangement
    metrics: Metrics
    chords: dict[BarPlace, dict[Fraction, tuple[ChordId, ChordPart]]]
    fills: dict[BarPlace, dict[Fraction, FillMark]]
    resolutions: dict[tuple[int, Fraction], ChordPart]
    fresh: frozenset[ChordId]
    changes: dict[ChordId, int]


def collect(arrangement: Arrangement, metrics: Metrics) -> tuple[SectionContent, ...]:
    """Give the content of every section in the order written."""
    fresh = _first_showings(arrangement)
    return tuple(_section(arrangement, index, metrics, fresh) for index in range(len(arrangement.song.sections)))


def _first_showings(arrangement: Arrangement) -> frozenset[ChordId]:
    """Give the chords at which a hand is shown for the first time in the song."""
    seen: set[tuple[Pitch, ...]] = set()
    first = []
    for number, section in enumerate(arrangement.sections):
        for place, chord in enumerate(section.chords):
            if chord.right and chord.right not in seen:
                seen.add(chord.right)
                first.append((number, place))
    return frozenset(first)


def _section(arrangement: Arrangement, index: int, metrics: Metrics, fresh: frozenset[ChordId]) -> SectionContent:
    written, part = arrangement.song.sections[index], arrangement.sections[index]
    tacet = written.tacet and not any(chord.kind == "chord" for chord in part.chords)
    chords: defaultdict[BarPlace, dict[Fraction, tuple[ChordId, ChordPart]]] = defaultdict(dict)
    for place, chord in enumerate(part.chords):
        chords[chord.row, chord.bar_index][chord.start] = ((index, place), chord)
    resolutions = {}
    for chord in part.chords:
        settled = chord.suspension
        if settled is not None and settled.bar is not None and settled.start is not None:
            resolutions[settled.bar, settled.start] = chord
    lookup = _Lookup(
        arrangement,
        metrics,
        chords=dict(chords),
        fills=_fills(arrangement, index, metrics),
        resolutions=resolutions,
        fresh=fresh,
        changes=_changes(arrangement, index),
    )
    head = section_margin(arrangement, index)
    rows = []
    for number, row in enumerate(() if tacet else written.rows):
        margin = (*head, *pickup_margin(written)) if number == 0 else row_margin(row)
        rows.append(_row(lookup, number, row, margin))
    first = next((chord for chord in part.chords if chord.chord is not None), None)
    return SectionContent(
        name=written.name,
        index=index,
        rows=tuple(rows) or (RowContent((), 0, (*head, *pickup_margin(written))),),
        first_chord="".join(run.text for run in symbol(first, metrics)) if first else "",
        tacet_bars=len(written.bars) if tacet else None,
        closing=closing_margin(written),
        span=written.span,
    )


def _changes(arrangement: Arrangement, index: int) -> dict[ChordId, int]:
    """Number the changes of hands in a section: equal hands that come from equal hands have one number."""
    numbers: dict[object, int] = {}
    found = {}
    for place, chord in enumerate(arrangement.sections[index].chords):
        resolution = chord.suspension.resolves_to if chord.suspension else None
        change = (_hand_before(arrangement, chord), chord.right, chord.left, chord.shape, resolution)
        found[index, place] = numbers.setdefault(change, len(numbers))
    return found


def _fills(arrangement: Arrangement, index: int, metrics: Metrics) -> dict[BarPlace, dict[Fraction, FillMark]]:
    by_bar: defaultdict[BarPlace, dict[Fraction, FillMark]] = defaultdict(dict)
    for line, fill in enumerate(arrangement.sections[index].octaves):
        label = runs(IN_OCTAVES if fill.doubled else SINGLE, "bold", SMALL, metrics)
        span = arrangement.chord(fill.before).span
        for number, note in enumerate(fill.notes):
            name = runs(printed_name(note.pitch.name), "bold", OCTAVE, metrics)
            mark = FillMark(name, label if number == 0 else (), line, fill.to, number == len(fill.notes) - 1, span)
            by_bar[note.row, note.bar_index][note.start] = mark
    return dict(by_bar)


def _row(lookup: _Lookup, number: int, row: Row, margin: tuple[MarginEntry, ...]) -> RowContent:
    bars = []
    inside = False  # an ending is going on
    for place, bar in enumerate(row.bars):
        inside = inside or bool(bar.ending)
        following = row.bars[place + 1] if place + 1 < len(row.bars) else None
        last = following is None or bool(following.ending)
        stops = inside and (last or bar.ending_close or bar.repeat_times > 0)
        bars.append(_bar(lookup, (number, place), row, bar, inside, stops))
        inside = inside and not stops
    return RowContent(tuple(bars), len(row.words), margin)


def _bar(lookup: _Lookup, place: BarPlace, row: Row, bar: Bar, in_ending: bool, ending_stops: bool) -> BarContent:
    return BarContent(
        number=bar.number,
        meter=bar.meter,
        start=Fraction(0),
        length=bar.length,
        columns=_columns(lookup, place, row, bar),
        meter_shown=bar.meter_shown,
        repeat_start=bar.repeat_start,
        repeat_times=bar.repeat_times,
        ending=", ".join(f"{n}." for n in bar.ending),
        in_ending=in_ending,
        ending_stops=ending_stops,
        double=bar.double,
        span=bar.span,
    )


def _columns(lookup: _Lookup, place: BarPlace, row: Row, bar: Bar) -> tuple[Column, ...]:
    """Give a bar's columns in order of time; there is always one at its start."""
    symbols = _symbols(lookup, place, bar)
    chords = lookup.chords.get(place, {})
    fills = lookup.fills.get(place, {})
    words = _words(lookup, place, row, bar)
    times = sorted({Fraction(0), *symbols, *chords, *fills, *words})
    columns = []
    for time in times:
        chord_id, chord = chords.get(time, (None, None))
        columns.append(
            Column(
                time=time,
                symbol=symbols.get(time),
                picture=_picture(lookup, chord_id, chord) if chord_id is not None and chord is not None else None,
                words=words.get(time, ()),
                fill=fills.get(time),
                chord=chord_id,
            )
        )
    return tuple(columns)


def _symbols(lookup: _Lookup, place: BarPlace, bar: Bar) -> dict[Fraction, Symbol]:
    """Give what stands in the chord row, by time."""
    metrics = lookup.metrics
    if bar.repeats_last:
        return {Fraction(0): Symbol(runs("𝄎", "music", REPEAT_SIZE, metrics, REPEAT_RISE), "repeat", span=bar.span)}
    chords = lookup.chords.get(place, {})
    symbols = {}
    for mark in bar.marks:
        _, chord = chords.get(mark.start, (None, None))
        if mark.kind == "rest":
            # A silent bar has the rest of a whole bar, whatever the meter, as in print.
            length = Fraction(4) if _sounding(bar, mark) == bar.length else _sounding(bar, mark)
            symbols[mark.start] = Symbol(rest_runs(length, metrics), "rest", span=mark.span)
        elif chord is not None and mark.kind in ("chord", "none"):
            symbols[mark.start] = _chord_symbol(chord, mark, metrics)
    if _slashes_needed(bar):
        slash = runs("/", "regular", CHORD, metrics)
        symbols |= {m.start: Symbol(slash, "slash", span=m.span) for m in bar.marks if m.kind == "slash"}
    for (number, time), chord in lookup.resolutions.items():
        if number == bar.number and chord.chord is not None:
            symbols[time] = Symbol(chord_runs(chord.chord, metrics), "resolution", span=chord.span)
    return symbols


def _chord_symbol(chord: ChordPart, mark: Mark, metrics: Metrics) -> Symbol:
    manner: list[Run] = []
    for word in mark.chord.manner if mark.chord else ():
        if word == "hold":
            manner += runs(FERMATA, "music", CHORD, metrics, FERMATA_RISE)
        else:
            manner += runs(f" {word}", "regular", MARGIN, metrics)
    push = mark.chord is not None and mark.chord.push > 0
    return Symbol(symbol(chord, metrics), "chord", push, tuple(manner), mark.span)


def _sounding(bar: Bar, mark: Mark) -> Fraction:
    """Give how long a mark goes on inside its bar: to the next mark that is no slash."""
    later = [m.start for m in bar.marks if m.start > mark.start and m.kind != "slash"]
    return (later[0] if later else bar.length) - mark.start


def _slashes_needed(bar: Bar) -> bool:
    """Tell whether the beats must be shown: the bar begins with a slash, or its chords are not equally long."""
    if not bar.marks:
        return False
    if bar.marks[0].kind == "slash":
        return True
    lengths = {_sounding(bar, mark) for mark in bar.marks if mark.kind != "slash"}
    return len(lengths) > 1


def _picture(lookup: _Lookup, where: ChordId, chord: ChordPart) -> Picture | None:
    if not chord.right and not chord.left:
        return None
    before = _hand_before(lookup.arrangement, chord)
    now = tuple(pitch.midi for pitch in chord.right)
    settled = chord.suspension
    resolves = (settled.note.midi, settled.resolves_to.midi) if settled and settled.resolves_to else None
    played = marks(before, now)
    shown = {*now, *(mark.origin for mark in played if mark.origin is not None), *(resolves or ())}
    left = " ".join(printed_name(pitch.name) for pitch in chord.left)
    return Picture(
        number=lookup.changes[where],
        marks=played,
        resolves=resolves,
        shown=tuple(sorted(shown)),
        fingers=chord.fingers if where in lookup.fresh else (),
        left=runs(f"L: {left}", "regular", SMALL, lookup.metrics) if left else (),
        shape=runs(printed_shape(chord.shape), "regular", SMALL, lookup.metrics),
        restated=chord.repeats,
        span=chord.span,
    )


def _hand_before(arrangement: Arrangement, chord: ChordPart) -> tuple[int, ...]:
    """Give the keys that are down when a chord comes; none where the hand is free."""
    if chord.came_from is None:
        return ()
    before = arrangement.chord(chord.came_from)
    resolved = before.suspension is not None and before.suspension.resolves_to is not None
    return tuple(pitch.midi for pitch in (before.plain if resolved else before.right))


def _words(lookup: _Lookup, place: BarPlace, row: Row, bar: Bar) -> dict[Fraction, tuple[Words | None, ...]]:
    """Give the words by the time at which they stand: a place for each verse."""
    _, index = place
    starts = [mark.start for mark in bar.marks if mark.kind in ("chord", "none")]
    by_time: defaultdict[Fraction, list[Words | None]] = defaultdict(lambda: [None] * len(row.words))
    for verse, line in enumerate(row.words):
        sung = line.bars[index]
        for number, (time, text, glued, span) in enumerate(_anchored(sung.pieces, starts)):
            joins = sung.joins and number == len(sung.pieces) - 1
            text = f"{text}-" if joins and not text.endswith("-") else text
            by_time[time][verse] = Words(runs(text, "regular", WORDS, lookup.metrics), glued, span)
    return {time: tuple(words) for time, words in by_time.items()}


def _anchored(pieces: tuple[Piece, ...], starts: list[Fraction]) -> list[tuple[Fraction, str, bool, Span]]:
    """Give each piece its time; pieces at one time are joined with a blank, empty ones are left out."""
    placed: list[tuple[Fraction, str, bool, Span]] = []
    for piece in pieces:
        if not piece.text:
            continue
        time = starts[piece.chord] if piece.chord is not None and piece.chord < len(starts) else Fraction(0)
        if placed and placed[-1][0] == time:
            _, text, glued, span = placed[-1]
            placed[-1] = (time, f"{text}{'' if piece.glued else ' '}{piece.text}", glued, span.to(piece.span))
        else:
            placed.append((time, piece.text, piece.glued, piece.span))
    return placed
