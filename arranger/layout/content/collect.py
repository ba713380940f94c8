"""Gather what each section of a part prints (symbols, hands, words, notes), before anything has a place."""

import re
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from operator import is_
from typing import NamedTuple

from arranger.harmony.model import Arrangement, ChordId, ChordPart, LeadIn
from arranger.layout.content.how_played import drawn_order, ends_the_song, verses_under
from arranger.layout.content.margin_text import changes_of, closing_margin, pickup_margin, row_margin, section_margin
from arranger.layout.content.model import (
    BarContent,
    Column,
    FillMark,
    HookMark,
    RowContent,
    SectionContent,
    Symbol,
    Words,
)
from arranger.layout.content.on_staves import NO_BARS, is_repeated, labelled_lines, signs_in, with_notes
from arranger.layout.content.pictures import picture as hand_picture
from arranger.layout.content.symbols import (
    FERMATA,
    BarPlace,
    LabelledFill,
    chord_runs,
    fill_marks,
    hook_marks,
    lead_in_runs,
    rest_runs,
    symbol,
)
from arranger.layout.style import CHORD, DEFAULT_LOOK, Look, Sizes
from arranger.layout.text import Metrics, Run, runs
from arranger.song.model import Bar, BarWords, Mark, Meter, Piece, Row, Song
from arranger.sounding.notation import BarKey, NotatedBar
from arranger.text.source import Span
from arranger.theory.pitch import Pitch

NO_PATCHES: Mapping[str, str] = {}
REPEAT_SIZE, REPEAT_RISE = 22.0, -5.2  # the sign is half its size high, around its middle: as high as capitals
FERMATA_RISE = -4.0  # it is drawn for a place over a stave; so its top is that of the chord


class _Lookup(NamedTuple):
    """What the bars of one section ask for.

    `chords`: by bar, in order of time, with their ids. `fills`, `hooks`: by bar and time. `resolutions`: by the
    written bar's number and time, the chord that a suspension resolves to there. `first_shown`: the chord at which
    each hand is shown for the first time. `written`: by bar, its notes on staves. `signed`: the signs at these.
    `lead_in`: what is offered to lead into another key.
    """

    arrangement: Arrangement
    look: Look
    metrics: Metrics
    chords: Mapping[BarPlace, dict[Fraction, tuple[ChordId, ChordPart]]]
    fills: dict[BarPlace, dict[Fraction, FillMark]]
    hooks: dict[BarPlace, dict[Fraction, HookMark]]
    resolutions: dict[tuple[int, Fraction], ChordPart]
    first_shown: Mapping[tuple[Pitch, ...], ChordId]
    written: Mapping[BarPlace, NotatedBar]
    signed: frozenset[tuple[ChordId, str]]
    lead_in: LeadIn | None = None


def collect(
    arrangement: Arrangement,
    metrics: Metrics,
    look: Look = DEFAULT_LOOK,
    patches: Mapping[str, str] = NO_PATCHES,
    some: Mapping[int, Sequence[LabelledFill]] | None = None,
    written: Mapping[BarKey, NotatedBar] = NO_BARS,
) -> tuple[SectionContent, ...]:
    """Return the content of every section in the order written, or of some by index, with the fills that they show.

    `patches` are as `section_margin` has them, `written` the bars as `staff_bars` has them.
    """
    shown: dict[tuple[Pitch, ...], ChordId] = {}
    for number in drawn_order(arrangement):
        for place, chord in enumerate(arrangement.sections[number].chords):
            if chord.right:
                shown.setdefault(chord.right, (number, place))
    if some is None:
        some = {index: [(line, "") for line in part.octaves] for index, part in enumerate(arrangement.sections)}
    found = []
    for index, fills in some.items():
        marks = fill_marks(arrangement, fills, metrics, look.sizes)
        here = {(row, bar): notes for (section, row, bar), notes in written.items() if section == index}
        found.append(_section(arrangement, index, marks, look, patches, metrics, shown, here))
    return tuple(found)


def _section(
    arrangement: Arrangement,
    index: int,
    fills: dict[BarPlace, dict[Fraction, FillMark]],
    look: Look,
    patches: Mapping[str, str],
    metrics: Metrics,
    shown: Mapping[tuple[Pitch, ...], ChordId],
    notes: Mapping[BarPlace, NotatedBar],
) -> SectionContent:
    song, part = arrangement.song, arrangement.sections[index]
    written = song.sections[index]
    under = verses_under(arrangement, index)
    if part.of is not None:  # it stands for visits of a section whose cues are there
        bare = tuple(replace(row, cues=()) for row in written.rows)
        written = replace(written, rows=bare, pickup=None, closing_cues=())
    if under is not None:
        written = replace(written, rows=tuple(with_verses(row, under) for row in written.rows))
    labels = tuple(f"{verse + 1}." for verse in under) if under and part.of is not None else ()
    tacet = written.tacet and not any(chord.kind == "chord" for chord in part.chords)
    chords: defaultdict[BarPlace, dict[Fraction, tuple[ChordId, ChordPart]]] = defaultdict(dict)
    resolutions = {}
    for place, chord in enumerate(part.chords):
        chords[chord.row, chord.bar_index][chord.start] = ((index, place), chord)
        settled = chord.suspension
        if settled is not None and settled.bar is not None and settled.start is not None:
            resolutions[settled.bar, settled.start] = chord
    hooks = hook_marks(written, metrics, look.sizes)
    signed = signs_in(notes.values())
    lookup = _Lookup(arrangement, look, metrics, chords, fills, hooks, resolutions, shown, notes, signed, part.lead_in)
    head = (*section_margin(arrangement, index, patches, look), *pickup_margin(written))
    # On staves the song begins with its meter.
    opening = look.hands == "staff" and not any(before.rows for before in song.sections[:index])
    rows = []
    for number, row in enumerate(() if tacet else written.rows):
        meter = number == 0 and (opening or changes_of(song, index).meter)
        numbers = labels if len(labels) == len(row.words) else ()
        margin = row_margin(row) if number else head
        rows.append(RowContent(_bars(lookup, number, row, meter), len(row.words), margin, labels=numbers))
    if rows and ends_the_song(arrangement, index):
        *bars, last = rows[-1].bars
        rows[-1] = rows[-1]._replace(bars=(*bars, replace(last, final=True)))
    return SectionContent(
        name=written.name,
        indices=(index,),
        rows=tuple(rows) or (RowContent((), 0, head),),
        tacet_bars=len(written.bars) if tacet else None,
        closing=closing_margin(written),
        key=written.facts.key,
        span=written.span,
    )


def _bars(lookup: _Lookup, number: int, row: Row, meter_shown: bool) -> tuple[BarContent, ...]:
    """Return the bars of a row; `meter_shown`: the meter is printed in the first, whatever the song says."""
    bars = []
    inside = False  # an ending is going on
    words = words_of(lookup.arrangement.song, row)
    for place, bar in enumerate(row.bars):
        inside = inside or bool(bar.ending)
        following = row.bars[place + 1] if place + 1 < len(row.bars) else None
        stops = inside and (following is None or bool(following.ending) or bar.ending_close or bar.repeat_times > 0)
        columns = _columns(lookup, (number, place), bar, [line[place] for line in words])
        times = [column.time for column in columns if column.symbol is not None]
        after_pickup = place == 1 and row.bars[0].number == 0
        made = BarContent(
            number=bar.number,
            meter=_printed_meter(bar),
            start=Fraction(0),
            length=bar.length,
            columns=columns,
            uneven=len({end - start for start, end in pairwise((*times, bar.length))}) > 1,
            meter_shown=bar.meter_shown or bar.number == 0 or (meter_shown and place == 0) or after_pickup,
            repeat_start=bar.repeat_start,
            repeat_times=bar.repeat_times,
            ending=" ".join(f"{n}." for n in bar.ending),
            in_ending=inside,
            ending_stops=stops,
            double=bar.double,
            span=bar.span,
        )
        bars.append(made)
        inside = inside and not stops
    return tuple(bars)


def _printed_meter(bar: Bar) -> Meter:
    """Return the meter that is printed for a bar: a short first bar has its own, else it would pass for a whole one."""
    if bar.number != 0 or bar.length == bar.meter.length:
        return bar.meter
    beats, unit = bar.length * bar.meter.unit / 4, bar.meter.unit
    while beats.denominator > 1:
        beats, unit = beats * 2, unit * 2
    return Meter(int(beats), unit)


def _columns(lookup: _Lookup, place: BarPlace, bar: Bar, sung: Sequence[BarWords]) -> tuple[Column, ...]:
    """Return a bar's columns in order of time; there is always one at its start."""
    symbols = _symbols(lookup, place, bar)
    chords = lookup.chords.get(place, {})
    fills = lookup.fills.get(place, {})
    hooks = lookup.hooks.get(place, {})
    words = words_by_time(bar, sung, lookup.look, lookup.metrics)
    times = sorted({Fraction(0), *symbols, *chords, *fills, *hooks, *words})
    columns = []
    for time in times:
        found = chords.get(time)
        picture = None
        if found is not None:
            fresh = lookup.first_shown.get(found[1].right) == found[0]
            picture = hand_picture(lookup.arrangement, found[0], fresh, lookup.look, lookup.metrics)
        texts = words.get(time, ())
        chord_id = found[0] if found is not None else None
        columns.append(Column(time, symbols.get(time), picture, texts, fills.get(time), hooks.get(time), chord_id))
    written = lookup.written.get(place)
    if written is None or (bar.repeats_last and is_repeated(written, _before(lookup, place))):
        return tuple(columns)
    return with_notes(tuple(columns), written, labelled_lines(lookup.fills))


def _before(lookup: _Lookup, place: BarPlace) -> NotatedBar | None:
    """Return the notes of the bar before one of the section."""
    earlier = [other for other in lookup.written if other < place]
    return lookup.written[max(earlier)] if earlier else None


def _symbols(lookup: _Lookup, place: BarPlace, bar: Bar) -> dict[Fraction, Symbol]:
    """Return what stands in the chord row, by time."""
    metrics, sizes = lookup.metrics, lookup.look.sizes
    if bar.repeats_last:
        larger = sizes.chord / CHORD
        sign = runs("𝄎", "music", REPEAT_SIZE * larger, metrics, REPEAT_RISE * larger)
        return {Fraction(0): Symbol(sign, "repeat", span=bar.span)}
    chords = lookup.chords.get(place, {})
    symbols = {}
    for mark in bar.marks:
        which, chord = chords.get(mark.start, (None, None))
        if mark.kind == "rest":
            # A silent bar has the rest of a whole bar, whatever the meter, as in print.
            length = Fraction(4) if _sounding(bar, mark) == bar.length else _sounding(bar, mark)
            symbols[mark.start] = Symbol(rest_runs(length, metrics, sizes), "rest", span=mark.span)
        elif chord is not None and mark.kind in ("chord", "none"):
            signed = {sign for of, sign in lookup.signed if of == which}
            symbols[mark.start] = _chord_symbol(chord, mark, signed, metrics, sizes)
    if bar.marks and bar.marks[0].kind == "slash":  # the chord before goes on; other slashes only count beats
        slash = runs("/", "regular", sizes.chord, metrics)
        symbols[bar.marks[0].start] = Symbol(slash, "slash", span=bar.marks[0].span)
    for (number, time), chord in lookup.resolutions.items():
        if number == bar.number and chord.chord is not None:
            name = chord_runs(chord.chord, metrics, sizes)
            if chord.written is not None and chord.written.optional:
                name += runs(")", "bold", sizes.chord, metrics)
            symbols[time] = Symbol(name, "resolution", span=chord.span)
    lead_in = lookup.lead_in
    if lead_in is not None and place == (lead_in.row, lead_in.bar_index):
        name = lead_in_runs(lead_in, metrics, sizes)
        symbols[lead_in.start] = Symbol(name, "lead-in", span=bar.span)
    return symbols


def _chord_symbol(chord: ChordPart, mark: Mark, signed: Collection[str], metrics: Metrics, sizes: Sizes) -> Symbol:
    """Return a chord's symbol; of its manner, what notes show by their signs is `signed`."""
    every: list[Run] = []
    manner: list[Run] = []
    for word in mark.chord.manner if mark.chord else ():
        if word == "hold":
            said = runs(FERMATA, "music", sizes.chord, metrics, FERMATA_RISE * sizes.chord / CHORD)
        else:
            said = runs(f" {word}", "regular", sizes.manner, metrics)
        every += said
        manner += () if word in signed else said
    push = mark.chord is not None and mark.chord.push > 0
    resolves = chord.suspension is not None and chord.suspension.start is not None
    shown = symbol(chord, metrics, sizes, goes_on=resolves)
    return Symbol(shown, "chord", push, tuple(manner), tuple(every) if signed else (), mark.span)


def _sounding(bar: Bar, mark: Mark) -> Fraction:
    """Return how long a mark goes on inside its bar: to the next mark that is no slash."""
    later = [m.start for m in bar.marks if m.start > mark.start and m.kind != "slash"]
    return (later[0] if later else bar.length) - mark.start


def with_verses(row: Row, verses: Sequence[int]) -> Row:
    """Return a row with some of its verses of words; where it has fewer than the others its last one stays."""
    kept = dict.fromkeys(min(verse, len(row.words) - 1) for verse in verses) if row.words else {}
    return replace(row, words=tuple(row.words[verse] for verse in kept))


HELD = "____"  # under a chord over which a syllable is held: a line, as after the last syllable in vocal scores


def words_of(song: Song, row: Row) -> list[Sequence[BarWords]]:
    """Return the words of each verse of a row, by the bar, as they are printed."""
    english = song.language is None or song.language.value.lower().startswith("en")
    return [_with_silent_e(line.bars) if english else line.bars for line in row.words]


def words_by_time(
    bar: Bar, verses: Sequence[BarWords], look: Look, metrics: Metrics
) -> dict[Fraction, tuple[Words | None, ...]]:
    """Return the words of a bar by the time at which they stand: a place for each verse."""
    starts = [mark.start for mark in bar.marks if mark.kind in ("chord", "none")]
    by_time: defaultdict[Fraction, list[Words | None]] = defaultdict(lambda: [None] * len(verses))
    for verse, line in enumerate(verses):
        placed = _anchored(line.pieces, starts)
        for number, (time, text, glued, span) in enumerate(placed):
            joins = line.joins and number == len(placed) - 1
            text = f"{text}-" if joins and not text.endswith("-") else text
            by_time[time][verse] = Words(runs(text, "regular", look.words, metrics), glued, span)
    return {time: tuple(words) for time, words in by_time.items()}


_SILENT_E = re.compile(r"e(?![^\W\d_])[^\w\s]*")


def goes_on(piece: Piece) -> bool:
    """Return whether the word of a piece goes on in the next one of the bar: `a-` before `long`."""
    text = piece.text
    return len(text) > 1 and text[-1] == "-" and text[-2].isalpha() and len(text) - 1 not in piece.plain


def _with_silent_e(bars: Sequence[BarWords]) -> list[BarWords]:
    """Return the words of a line with a lone e at the end of the word that it ends: `by- | e` is no two syllables.

    In English a last e after a consonant or a y is silent, and words are parted by their sound in music (common
    practice, no source).
    """
    kept: list[BarWords] = []
    for bar in bars:
        pieces: list[Piece] = []
        for piece in bar.pieces:
            carried = not pieces and kept and kept[-1].joins
            before = kept[-1].pieces if carried else tuple(pieces) if piece.glued else ()
            silent = _SILENT_E.match(piece.text)
            stem = before[-1].text[-1:].lower() if before else ""
            if not silent or not stem.isalpha() or stem in "aeiou":
                pieces.append(piece)
                continue
            whole = replace(before[-1], text=f"{before[-1].text}{silent[0]}")
            if carried:
                kept[-1] = replace(kept[-1], pieces=(*before[:-1], whole), joins=False)
            else:
                pieces[-1] = whole
            pieces.append(replace(piece, text=piece.text[silent.end() :].strip(), glued=False))
        same = len(pieces) == len(bar.pieces) and all(map(is_, pieces, bar.pieces))
        kept.append(bar if same else replace(bar, pieces=tuple(pieces)))
    return kept


def _anchored(pieces: tuple[Piece, ...], starts: list[Fraction]) -> list[tuple[Fraction, str, bool, Span]]:
    """Return pieces with their times; pieces at one time are joined with a blank, empty ones are left out."""
    placed: list[tuple[Fraction, str, bool, Span]] = []
    for piece in pieces:
        if not piece.text:
            continue
        time = starts[piece.chord] if piece.chord is not None and piece.chord < len(starts) else Fraction(0)
        written = HELD if piece.text == "_" and not piece.plain else piece.text
        if placed and placed[-1][0] == time:
            _, text, glued, span = placed[-1]
            placed[-1] = (time, f"{text}{'' if piece.glued else ' '}{written}", glued, span.to(piece.span))
        else:
            placed.append((time, written, piece.glued, piece.span))
    return placed
