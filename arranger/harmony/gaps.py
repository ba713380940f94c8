"""Gaps, where nobody sings: before which changes an octave fill is suggested.

Takes an Arrangement without fills; gives those of each section, suggested or written by hand. Rules without a source
are common practice.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import cache, partial
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony import singer
from arranger.harmony.figures import OCTAVE
from arranger.harmony.form import refrain_of
from arranger.harmony.model import Arrangement, ChordId, ChordPart, OctaveLine
from arranger.harmony.octaves import (
    ChordEnds,
    Known,
    chord_ends,
    chords_led_to,
    line_over,
    sounding_length,
    written_lines,
)
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import bars_counted
from arranger.song.model import Section, Song

# Words of a cue that give the gap to another player, unless it names the keys.
_GIVEN_AWAY = re.compile(r"\b(fills?|solo|answers?|lick|riff|runs?|lead line)\b", re.IGNORECASE)
_OURS = re.compile(r"\b(keys|keyboard|piano|organ)\b", re.IGNORECASE)

# The keys named only to say that they are silent: `no keys`, `without piano`, `keys out`, `keys tacet`.
_DENIED = re.compile(
    r"\b(?:no|not|without|minus|except|but not)\s+(?:the\s+)?(?:keys|keyboard|piano|organ)\b"
    r"|\b(?:keys|keyboard|piano|organ)\s+(?:are\s+|is\s+|drop\s+|drops\s+|lay\s+|lays\s+)?(?:out|tacet|silent|off)\b",
    re.IGNORECASE,
)


def gives_away(cue: str) -> bool:
    """Return whether a cue gives the gap to another player, or says that the keys are silent.

    >>> gives_away("guitar fill"), gives_away("keys fill"), gives_away("no keys, guitar fill"), gives_away("keys out")
    (True, False, True, True)
    """
    said = _DENIED.sub("", cue)
    return said != cue or bool(_GIVEN_AWAY.search(said) and not _OURS.search(said))


def leaves_out_keys(remark: str) -> bool:
    """Return whether a remark in the roadmap leaves the keys no fill: it gives the gap away, or others play alone.

    >>> leaves_out_keys("guitar alone"), leaves_out_keys("keys alone"), leaves_out_keys("build")
    (True, False, False)
    """
    alone = re.search(r"\b(alone|only)\b", remark, re.IGNORECASE)
    return gives_away(remark) or bool(alone and not _OURS.search(remark))


def fills(arrangement: Arrangement, taste: Taste) -> tuple[tuple[OctaveLine, ...], ...]:
    """Suggest the fills of each section; rows written by hand take the place of what would be suggested.

    Those that fit every time that a section is played; where none does, those that fit the last time; and one more in
    the last refrain.
    """
    song = arrangement.song
    ends = chord_ends(arrangement)
    following = chords_led_to(arrangement, ends)
    # Under a drone nothing is suggested: its notes stay down in the hand that would play the fill.
    open_to = [
        i
        for i, section in enumerate(song.sections)
        if section.facts.octaves and section.facts.drone is None and not _is_free(section)
    ]
    found: dict[int, list[OctaveLine]] = {i: [] for i in open_to}
    if taste.octaves == "every":
        for index in open_to:
            known: Known = {}
            chords = range(len(arrangement.sections[index].chords))
            every = (line_over(arrangement, (index, chord), following, taste, known) for chord in chords)
            found[index] = [line for line in every if line is not None]
    elif taste.octaves == "phrase":
        _suggest(found, arrangement, following, ends, taste)
    joined = []
    for index in range(len(song.sections)):
        lines = list(written_lines(arrangement, index, following, doubled=taste.span >= OCTAVE)) + found.get(index, [])
        joined.append(tuple(sorted(lines, key=lambda o: (o.notes[0].row, o.notes[0].bar_index, o.notes[0].start))))
    return tuple(joined)


def _suggest(
    found: dict[int, list[OctaveLine]],
    arrangement: Arrangement,
    following: Mapping[ChordId, ChordId],
    ends: ChordEnds,
    taste: Taste,
) -> None:
    """Add to the lines of sections those that are suggested now and then, in order of time."""
    first, refrain = _first_sung(arrangement), _played_last(arrangement, last_refrain(arrangement.song))
    order = [visit.section for visit in arrangement.visits if visit.section is not None]
    visits = Counter(order)
    phrases = _Phrases(arrangement, taste)
    counted = bars_counted(arrangement.song, arrangement.heard)
    always = cache(partial(_always, arrangement, following, ends, counted))
    last = cache(partial(_last_time, arrangement, ends, counted))
    apart = [index for index in found if index not in first or len(first) == 1]  # verses are played alike
    begun: Counter[int] = Counter()
    for index in order:
        before = begun[index]
        begun[index] += 1
        if index not in found:
            continue
        if not before and index not in first:
            found[index] += phrases.of_section(index, always(), taste.octave_bars)
        if index in apart and not found[index] and begun[index] == visits[index] > 1:
            found[index] += phrases.of_section(index, last(), taste.octave_bars)
    planned = sum(step.times for step in arrangement.song.roadmap if step.section == refrain)
    if refrain in apart and (visits[refrain] > 1 or planned <= 1):  # not where all but one time others play
        when = last() if visits[refrain] > 1 else always()
        found[refrain] += phrases.of_section(refrain, when, taste.octave_bars_more, most=1)


def _is_free(section: Section) -> bool:
    return section.facts.tempo is not None and section.facts.tempo.bpm is None


def _is_sung(section: Section) -> bool:
    return any(piece.text for row in section.rows for line in row.words for bar in line.bars for piece in bar.pieces)


def _first_sung(arrangement: Arrangement) -> frozenset[int]:
    """Return the first section in which somebody sings, with all that are sung to its chords.

    They are played alike, and a stage copy shows them once.
    """
    song = arrangement.song
    played = (visit.section for visit in arrangement.visits)
    sung = [index for index in played if index is not None and _is_sung(song.sections[index])]
    return frozenset(index for index in sung if _model_of(song, index) == _model_of(song, sung[0]))


def _played_last(arrangement: Arrangement, section: int | None) -> int | None:
    """Return what is played the last time that a section comes: itself, or the part for some of its visits."""
    if section is None:
        return None
    parts = arrangement.sections
    played = [v.section for v in arrangement.visits if v.section is not None]
    return next((i for i in reversed(played) if section in (i, parts[i].of)), section)


def _model_of(song: Song, index: int) -> int:
    model = song.sections[index].model
    return index if model is None else model


def last_refrain(song: Song) -> int | None:
    """Return the section that is the last refrain, as it is sung; None where there is none."""
    refrain = refrain_of(song)
    sung = [s.section for s in song.roadmap if s.section in refrain and _is_sung(song.sections[s.section])]
    return sung[-1] if sung else None


class _When(NamedTuple):
    """The times that a fill is for: all times that its section is played, or the last alone.

    Attributes:
        bars: for each chord where it is heard, in parts of a bar.
        bar: how many parts a bar has.
        following: the chord that each leads to.
        pickups: the sections into whose last bar a pickup is sung.
        last: only the last time.
    """

    bars: Mapping[ChordId, Sequence[int]]
    bar: int
    following: Mapping[ChordId, ChordId]
    pickups: frozenset[int]
    last: bool


def _always(
    arrangement: Arrangement, following: Mapping[ChordId, ChordId], ends: ChordEnds, counted: tuple[list[int], int]
) -> _When:
    pickups = singer.pickups_after(arrangement.song, _order(arrangement))
    heard = range(len(arrangement.heard))
    return _When(*_bars(arrangement, heard, ends, counted), following, pickups, last=False)


def _last_time(arrangement: Arrangement, ends: ChordEnds, counted: tuple[list[int], int]) -> _When:
    """Return the last time of each section.

    None of those that are played on until a sign, for nobody knows it before; nor where the roadmap gives the last time
    to others (`guitar alone`).
    """
    song = arrangement.song
    ours = {n for n, s in enumerate(song.roadmap) if s.until is None and not leaves_out_keys(s.remark or "")}
    passes = {visit.section: (visit.step, visit.time) for visit in arrangement.visits}
    last = {
        index
        for index, one in enumerate(arrangement.heard)
        if one.step in ours and passes[one.chord[0]] == (one.step, one.time)
    }
    pickups = singer.pickups_after(song, _order(arrangement), last_time=True)
    following = chords_led_to(arrangement, ends, frozenset(last))
    return _When(*_bars(arrangement, sorted(last), ends, counted), following, pickups, last=True)


def _order(arrangement: Arrangement) -> list[int | None]:
    return [visit.section for visit in arrangement.visits]


def _bars(
    arrangement: Arrangement, places: Sequence[int], ends: ChordEnds, counted: tuple[list[int], int]
) -> tuple[dict[ChordId, list[int]], int]:
    """Return for each chord when it is heard, in some places of what is heard, in parts of a bar; how many it has.

    `counted`: when each chord is heard, and the parts of a bar, as `bars_counted` has them.
    """
    found: dict[ChordId, list[int]] = {}
    bars, parts = counted
    for index in places:
        if index not in ends.going_on:  # the fill is in the last of the bars that repeat a chord
            found.setdefault(arrangement.heard[index].chord, []).append(bars[index])
    return found, parts


class _Phrases:
    """Chooses at most one fill in so many bars as heard: at ends of sections and rows first, while nobody sings.

    Mutable: it remembers where fills are heard already; lives in one call of `fills`.
    """

    def __init__(self, arrangement: Arrangement, taste: Taste) -> None:
        self.arrangement, self.taste = arrangement, taste
        self.taken: list[int] = []
        self.known: dict[int, Known] = {}

    def of_section(self, index: int, when: _When, least: int, most: int | None = None) -> list[OctaveLine]:
        """Choose fills of one section, `least` bars from each other and from those that are taken already."""
        song = self.arrangement.song
        chords = self.arrangement.sections[index].chords

        def order(place: int) -> tuple[int, int]:
            last = place + 1 == len(chords)
            rank = 0 if last else 1 if chords[place + 1].row != chords[place].row else 2
            return rank, -place  # among equals the later one: a phrase is led out of, not into

        chosen: list[OctaveLine] = []
        known = self.known.setdefault(index, {})
        for place in sorted(range(len(chords)), key=order):
            if len(chosen) == most:
                break
            bars = when.bars.get((index, place), [])
            if self._crowded(bars, least * when.bar) or not _may_be_clear(song, index, chords[place]):
                continue
            line = line_over(self.arrangement, (index, place), when.following, self.taste, known)
            if line is not None and _is_clear(song, index, line, when.pickups):
                chosen.append(line._replace(last_time=when.last))
                self.taken += bars
        return chosen

    def _crowded(self, bars: Sequence[int], least: int) -> bool:
        """Return whether a fill heard at these times is too near another, or to itself when it comes again."""
        near = any(abs(bar - other) < least for bar in bars for other in self.taken)
        return near or any(b - a < least for a, b in pairwise(bars))


def _may_be_clear(song: Song, index: int, one: ChordPart) -> bool:
    """Return, from a glance, whether the singer could rest at the end of a chord, before a figure is looked for."""
    section = song.sections[index]
    bar = section.rows[one.row].bars[one.bar_index]
    end = one.start + sounding_length(section, one)
    if one.kind != "chord" or end > bar.length:
        return one.kind == "chord"
    return singer.rests_in(section, singer.BarStretch(one.row, one.bar_index, end - bar.meter.felt_beat, end))


def _is_clear(song: Song, index: int, line: OctaveLine, pickups: frozenset[int]) -> bool:
    """Return whether nobody sings under a fill, no pickup follows it, and no cue gives the gap to another player."""
    section = song.sections[index]
    for note in line.notes:
        row = section.rows[note.row]
        cues = row.cues + (section.closing_cues if note.row + 1 == len(section.rows) else ())
        if any(gives_away(c.value) for c in cues):
            return False
        stretch = singer.BarStretch(note.row, note.bar_index, note.start, note.start + note.length)
        if not singer.rests_in(section, stretch) or (index in pickups and singer.in_last_bar(section, stretch)):
            return False
    return True
