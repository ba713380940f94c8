"""Gaps, where nobody sings: before which changes an octave fill is suggested.

Takes an Arrangement without fills; gives those of each section, suggested or written by hand. Rules without a source
are common practice.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from arranger.harmony import singer
from arranger.harmony.figures import OCTAVE
from arranger.harmony.model import Arrangement, ChordId, ChordPart, OctaveLine
from arranger.harmony.octaves import (
    Known,
    chords_led_to,
    line_over,
    places_going_on,
    sounding_length,
    written_lines,
)
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import bars_heard
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


def fills(arrangement: Arrangement, taste: Taste) -> tuple[tuple[OctaveLine, ...], ...]:
    """Suggest the fills of each section; rows written by hand take the place of what would be suggested."""
    song = arrangement.song
    following = chords_led_to(arrangement)
    first_sung = _first_sung(song)
    phrases = _Phrases(arrangement, following, taste)
    found: dict[int, tuple[OctaveLine, ...]] = {}
    played = dict.fromkeys(step.section for step in song.roadmap)
    for index in (*played, *(i for i in range(len(song.sections)) if i not in played)):  # in order of time
        section = song.sections[index]
        lines = list(written_lines(arrangement, index, following, doubled=taste.span >= OCTAVE))
        if taste.octaves != "none" and section.facts.octaves and not _is_free(section):
            if taste.octaves == "every":
                known: Known = {}
                chords = range(len(arrangement.sections[index].chords))
                every = (line_over(arrangement, (index, chord), following, taste, known) for chord in chords)
                lines += [line for line in every if line is not None]
            elif _model_of(song, index) != first_sung:
                lines += phrases.of_section(index)
        found[index] = tuple(sorted(lines, key=lambda o: (o.notes[0].row, o.notes[0].bar_index, o.notes[0].start)))
    return tuple(found[i] for i in range(len(song.sections)))


def _model_of(song: Song, index: int) -> int:
    model = song.sections[index].model
    return index if model is None else model


def _is_free(section: Section) -> bool:
    return section.facts.tempo is not None and section.facts.tempo.bpm is None


def _first_sung(song: Song) -> int | None:
    """Return the first section of the roadmap in which somebody sings (its model, where it is a copy)."""
    sung = (s.section for s in song.roadmap if any(row.words for row in song.sections[s.section].rows))
    first = next(sung, None)
    return None if first is None else _model_of(song, first)


class _Phrases:
    """Chooses at most one fill in so many bars as heard: at ends of sections and rows first, while nobody sings.

    Mutable: it remembers where fills are heard already; lives in one call of `fills`.
    """

    def __init__(self, arrangement: Arrangement, following: Mapping[ChordId, ChordId], taste: Taste) -> None:
        self.arrangement, self.following, self.taste = arrangement, following, taste
        self.pickups = singer.pickups_after(arrangement.song)
        self.bars: dict[ChordId, list[Fraction]] = {}
        going_on = places_going_on(arrangement)
        bars = bars_heard(arrangement.song, arrangement.heard)
        for index, (heard, bar) in enumerate(zip(arrangement.heard, bars, strict=True)):
            if index not in going_on:  # the fill is in the last of the bars that repeat a chord
                self.bars.setdefault(heard.chord, []).append(bar)
        self.taken: list[Fraction] = []

    def of_section(self, index: int) -> list[OctaveLine]:
        """Choose the fills of one section."""
        song = self.arrangement.song
        chords = self.arrangement.sections[index].chords

        def order(place: int) -> tuple[int, int]:
            last = place + 1 == len(chords)
            rank = 0 if last else 1 if chords[place + 1].row != chords[place].row else 2
            return rank, -place  # among equals the later one: a phrase is led out of, not into

        chosen: list[OctaveLine] = []
        known: Known = {}
        for place in sorted(range(len(chords)), key=order):
            bars = self.bars.get((index, place), [])
            if self._crowded(bars) or not _may_be_clear(song, index, chords[place]):
                continue
            line = line_over(self.arrangement, (index, place), self.following, self.taste, known)
            if line is not None and _is_clear(song, index, line, self.pickups):
                chosen.append(line)
                self.taken += bars
        return chosen

    def _crowded(self, bars: Sequence[Fraction]) -> bool:
        """Return whether a fill heard in these bars is too near another, or to itself when it comes again."""
        least = self.taste.octave_bars
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
