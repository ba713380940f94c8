"""Octave fills, lines in right-hand octaves that lead into the next chord: what leads where, and when its notes come.

Takes an Arrangement without fills; gives the best line over a chord, those to choose from, and those written by hand
(`octave` rows). Before which changes they are suggested is found in `gaps`. Rules without a source are common practice.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony import singer
from arranger.harmony.figures import OCTAVE, ChordChange, Fill, ranked_fills, twice_middle
from arranger.harmony.model import Arrangement, ChordId, ChordPart, FillNote, OctaveLine
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import felt_beats_a_minute, seconds
from arranger.song.model import Section
from arranger.song.players import holds_harmony
from arranger.theory.pitch import Pitch


def written_lines(
    arrangement: Arrangement, index: int, following: Mapping[ChordId, ChordId], *, doubled: bool
) -> tuple[OctaveLine, ...]:
    """Return one line for each chord that notes of an `octave` row are played over; `doubled` where the hand can."""
    section = arrangement.song.sections[index]
    chords = arrangement.sections[index].chords
    lines: dict[int, list[FillNote]] = {}
    for row_index, row in enumerate(section.rows):
        for bar_index, notes in enumerate(row.octave.bars if row.octave else ()):
            number = row.bars[bar_index].number
            for note in notes:
                if note.pitch is None:
                    continue
                over = _chord_over(chords, row_index, bar_index, note.start)
                if over is not None:
                    fill = FillNote(note.pitch, row_index, bar_index, number, note.start, note.length)
                    lines.setdefault(over, []).append(fill)
    made = []
    for over, fills in sorted(lines.items()):
        here = (index, over)
        made.append(OctaveLine(following.get(here, here), here, "written", tuple(fills), doubled, written=True))
    return tuple(made)


def _chord_over(chords: tuple[ChordPart, ...], row: int, bar_index: int, start: Fraction) -> int | None:
    """Return the index of the chord that sounds at a place, or None before the first."""
    places = [i for i, one in enumerate(chords) if (one.row, one.bar_index, one.start) <= (row, bar_index, start)]
    return max(places, default=None)


EIGHTH = Fraction(1, 2)  # in quarters
MOST_TRIED = 8  # figures tried for one change before a shorter one: the ninth best is no longer a good one

Known = dict[tuple[ChordChange, tuple[Pitch, ...]], Fill]  # by the change and the left hand's notes under it


class ChordEnds(NamedTuple):
    """How each chord ends as it is heard, by its place.

    Attributes:
        going_on: the chord only goes on in a `%`: it leads to nothing yet.
        into_silence: silence follows.
    """

    going_on: frozenset[int]
    into_silence: frozenset[int]


def chords_led_to(
    arrangement: Arrangement, ends: ChordEnds, among: frozenset[int] | None = None
) -> dict[ChordId, ChordId]:
    """Return the chord that each printed chord leads to, where all chords heard after it lie alike in the hand.

    Only the places `among` what is heard count, all where it is None.
    """
    after: dict[ChordId, list[ChordId]] = {}
    for index, (one, two) in enumerate(pairwise(arrangement.heard)):
        if index in ends.going_on or (among is not None and index not in among):
            continue
        after.setdefault(one.chord, []).append(two.chord)
        if index in ends.into_silence:
            after[one.chord].append(one.chord)  # nothing to lead to there
    return {
        one: others[0]
        for one, others in after.items()
        if len({arrangement.chord(o).right for o in others}) == 1 and others[0] != one
    }


def chord_ends(arrangement: Arrangement) -> ChordEnds:
    """Return how each chord ends as it is heard."""
    found, silence = set(), set()
    passed = 0  # bars of the chord before this one, in its bar and the signs after it
    sections = arrangement.song.sections
    for index, (one, two) in enumerate(pairwise(arrangement.heard)):
        end = one.at + one.length
        if two.cut or two.at > end:
            silence.add(index)
        goes_on = two.chord == one.chord and not two.cut and two.at == end
        goes_on = goes_on and passed < len(_repeating(sections[one.chord[0]], arrangement.chord(one.chord)))
        if goes_on:
            found.add(index)
        passed = passed + 1 if goes_on else 0
    return ChordEnds(frozenset(found), frozenset(silence))


def _repeating(section: Section, one: ChordPart) -> tuple[Fraction, ...]:
    """Return the lengths of the bars after a chord that only repeat it (`%`): it is then all that its bar has."""
    bar = section.rows[one.row].bars[one.bar_index]
    if one.start or one.length != bar.length or bar.repeat_times:
        return ()
    lengths: list[Fraction] = []
    place = singer.next_bar(section, one.row, one.bar_index)
    while place is not None:
        bar = section.rows[place[0]].bars[place[1]]
        if not bar.repeats_last or bar.repeat_start or bar.ending:
            break
        lengths.append(bar.length)
        place = singer.next_bar(section, *place) if not bar.repeat_times else None
    return tuple(lengths)


def sounding_length(section: Section, one: ChordPart) -> Fraction:
    """Return how long a chord sounds as it is printed, in quarters, with the bars that repeat it."""
    return sum(_repeating(section, one), one.length)


def change_at(arrangement: Arrangement, before: ChordId, after: ChordId) -> ChordChange | None:
    """Return the change between two printed chords as figures see it; None where it is none."""
    one, two = arrangement.chord(before), arrangement.chord(after)
    if one.chord is None or two.chord is None or not one.right or not two.right:
        return None
    suspension = one.suspension
    resolves = suspension is not None and suspension.resolves_to is not None
    held = one.plain if resolves or suspension is None else one.right
    if held == two.right or one.chord.root == two.chord.root:
        return None
    owed = None
    if suspension is not None and not resolves and suspension.kind == "sus4":  # a 2 owes nothing: it is a colour
        third = one.chord.member_on(3)
        owed = third.above(one.chord.root) if third else None
    key = arrangement.song.sections[before[0]].facts.key
    return ChordChange(key, one.chord, two.chord, held, two.right, owed)


def line_over(
    arrangement: Arrangement, before: ChordId, following: Mapping[ChordId, ChordId], taste: Taste, known: Known
) -> OctaveLine | None:
    """Return the best fill over one chord; None where nothing leads on, there is no time, or a row by hand stands.

    `known` are the fills that changes of the section have already: a change has the same again where there is time for
    it. What is chosen here is added.
    """
    section, one = arrangement.song.sections[before[0]], arrangement.chord(before)
    if one.written is not None and {"hold", "stop"} & set(one.written.manner):
        return None  # held out of time or cut off: no place for a line
    counts = _counts(section, one, taste) if before in following else ()
    for key, fill, line in _lines(arrangement, before, following, taste, counts, MOST_TRIED, known):
        known.setdefault(key, fill)
        return None if _covered(section, line) else line
    return None


def choices(arrangement: Arrangement, before: ChordId, taste: Taste, most: int) -> tuple[OctaveLine, ...]:
    """Return the best fills that there is time for over one chord, best first, for a player to choose from."""
    section, one = arrangement.song.sections[before[0]], arrangement.chord(before)
    counts = tuple(dict.fromkeys((*_counts(section, one, taste), 2, 1, 3, 4)))
    following = chords_led_to(arrangement, chord_ends(arrangement))
    lines = (line for _, _, line in _lines(arrangement, before, following, taste, counts, None, {}))
    in_one_row = (line for line in lines if len({n.row for n in line.notes}) == 1)  # as a row written by hand is
    return tuple(itertools.islice(in_one_row, most))


def _lines(
    arrangement: Arrangement,
    before: ChordId,
    following: Mapping[ChordId, ChordId],
    taste: Taste,
    counts: Sequence[int],
    most: int | None,
    known: Known,
) -> Iterator[tuple[tuple[ChordChange, tuple[Pitch, ...]], Fill, OctaveLine]]:
    """Yield the fills that there is time for over one chord, best first: the known one, then so many of each count."""
    to = following.get(before)
    change = change_at(arrangement, before, to) if to is not None else None
    if change is None or to is None:
        return
    section, one = arrangement.song.sections[before[0]], arrangement.chord(before)
    alone = _nothing_else_holds(section)
    key = change, one.left
    felt = section.rows[one.row].bars[one.bar_index].meter.felt_beat
    slow = felt_beats_a_minute(section.facts, felt) < taste.ballad_under
    ranked_ones = (
        itertools.islice(ranked_fills(change, one.left, taste, count, stepwise=slow), most) for count in counts
    )
    for fill in itertools.chain([known[key]] if key in known else [], itertools.chain.from_iterable(ranked_ones)):
        if alone and not all(note.name in change.before.names for note in fill.notes):
            continue
        notes = _timed(section, one, arrangement.chord(to), fill, taste)
        if notes:
            yield key, fill, OctaveLine(to, before, fill.figure.name, notes, fill.doubled)


def _nothing_else_holds(section: Section) -> bool:
    """Return whether the keys alone hold the harmony, without a pad: under the pedal only chord notes stay clean."""
    sound = section.facts.sound
    return not any(map(holds_harmony, section.facts.band)) and not (sound and "pad" in sound.text.lower())


def _counts(section: Section, one: ChordPart, taste: Taste) -> tuple[int, ...]:
    """Return how many notes to try, first choice first: one in a chord of two quarters, two in a bar, four in two."""
    meter = section.rows[one.row].bars[one.bar_index].meter
    fast = felt_beats_a_minute(section.facts, meter.felt_beat) > taste.one_note_over
    length = sounding_length(section, one)
    if fast or (meter.felt_beat in (1, 2) and length <= 2 * meter.felt_beat):
        return (1,)
    return (4, 3, 2, 1) if length >= 2 * meter.length else (2, 1)


def _timed(section: Section, one: ChordPart, to: ChordPart, fill: Fill, taste: Taste) -> tuple[FillNote, ...]:
    """Place a fill's notes in the last beats of a chord.

    One on the last beat; two on the last beat and its half, or on the last two beats; three and four in eighths; all in
    eighths where the felt beat is a dotted quarter or an eighth. Empty where there is no time: between attacks the hand
    needs time for its way, and the chord sounds a felt beat first (a beat after a resolution).
    """
    felt = section.rows[one.row].bars[one.bar_index].meter.felt_beat
    # Before a push everything comes an eighth earlier: as written, for in swing the player swings the line too.
    end = sounding_length(section, one) - (EIGHTH if to.written and to.written.push else 0)
    earliest = felt
    suspension = one.suspension
    if suspension is not None and suspension.start is not None and suspension.resolves_to is not None:
        earliest = _since(section, one, suspension.bar, suspension.start) + felt
    count, keys = len(fill.notes), [p.midi for p in fill.notes]
    width = OCTAVE if fill.doubled else 0
    arrival = abs(2 * keys[-1] + width - twice_middle(to.right)) / 2 if to.right else 0
    way = max([abs(b - a) for a, b in pairwise(keys)] + [arrival])
    needed = max(taste.attack_seconds_least, taste.attack_seconds + taste.attack_seconds_each * Fraction(way))
    for gap in _gaps(section, felt, count, taste):
        if end - count * gap >= earliest and seconds(gap, section.facts) >= needed:
            starts = [end - (count - i) * gap for i in range(count)]
            return tuple(_fill_note(section, one, p, at, gap) for p, at in zip(fill.notes, starts, strict=True))
    return ()


def _gaps(section: Section, felt: Fraction, count: int, taste: Taste) -> tuple[Fraction, ...]:
    """Return the times between attacks to try, in quarters."""
    if felt not in (1, 2) or count > 2:
        return (EIGHTH,)
    if count == 1 or felt_beats_a_minute(section.facts, felt) >= taste.eighths_under:
        return (Fraction(1),)
    return (EIGHTH, Fraction(1))


def _since(section: Section, one: ChordPart, bar: int | None, start: Fraction) -> Fraction:
    """Return the quarters from a chord's start to a place in this bar or a later one that it reaches."""
    passed = Fraction(0)
    row, bar_index = one.row, one.bar_index
    while section.rows[row].bars[bar_index].number != bar:
        passed += section.rows[row].bars[bar_index].length
        following = singer.next_bar(section, row, bar_index)
        if following is None:
            break
        row, bar_index = following
    return passed + start - one.start


def _fill_note(section: Section, one: ChordPart, pitch: Pitch, after: Fraction, length: Fraction) -> FillNote:
    row, bar_index, place = singer.place_after(section, one.row, one.bar_index, one.start + after)
    return FillNote(pitch, row, bar_index, section.rows[row].bars[bar_index].number, place, length)


def _covered(section: Section, line: OctaveLine) -> bool:
    """Return whether a row written by hand has bars where this fill would stand."""
    rows = [
        (note.bar_index, one)
        for note in line.notes
        for one in (section.rows[note.row].octave, section.rows[note.row].hook)
    ]
    return any(one is not None and bar_index < len(one.bars) for bar_index, one in rows)
