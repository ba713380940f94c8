"""Octave fills: where a figure in right-hand octaves leads into the next chord, and when its notes come.

Takes an Arrangement without fills; gives the fills of each section. Rules without a source are common practice.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from arranger.harmony import singer
from arranger.harmony.authored import written_lines
from arranger.harmony.clock import felt_beats_a_minute, seconds
from arranger.harmony.figures import Change, Figure, ranked
from arranger.harmony.model import Arrangement, ChordId, ChordPart, FillNote, OctaveLine
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import bars_heard
from arranger.song.model import Section, Song
from arranger.theory.pitch import Pitch

OCTAVE = 12

# Words of a cue that give the gap to another player, unless it names the keys.
_GIVEN_AWAY = re.compile(r"\b(fills?|solo|answers?|lick|riff|runs?|lead line)\b", re.IGNORECASE)
# Players who hold no harmony under a fill.
_NO_HARMONY = re.compile(
    r"\b(drums?|percussion|caj[oó]n|tambourine|shaker|congas?|bongos?|voices?|vocals?|singers?|choir)\b", re.IGNORECASE
)
_OURS = re.compile(r"\b(keys|keyboard|piano|organ)\b", re.IGNORECASE)
# The keys named only to say that they are silent: `no keys`, `without piano`, `keys out`, `keys tacet`.
_DENIED = re.compile(
    r"\b(?:no|not|without|minus|except|but not)\s+(?:the\s+)?(?:keys|keyboard|piano|organ)\b"
    r"|\b(?:keys|keyboard|piano|organ)\s+(?:are\s+|is\s+|drop\s+|drops\s+|lay\s+|lays\s+)?(?:out|tacet|silent|off)\b",
    re.IGNORECASE,
)


def gives_away(cue: str) -> bool:
    """Tell whether a cue gives the gap to another player, or says that the keys are silent.

    >>> gives_away("guitar fill"), gives_away("keys fill"), gives_away("no keys, guitar fill"), gives_away("keys out")
    (True, False, True, True)
    """
    said = _DENIED.sub("", cue)
    return said != cue or bool(_GIVEN_AWAY.search(said) and not _OURS.search(said))


@dataclass(frozen=True, slots=True)
class Fill:
    """A figure in its octave: lower keys, how far the hand travels (half semitones), and whether it is doubled."""

    figure: Figure
    notes: tuple[Pitch, ...]
    travel: int
    doubled: bool


def fills(arrangement: Arrangement, taste: Taste) -> tuple[tuple[OctaveLine, ...], ...]:
    """Suggest the fills of each section; rows written by hand take the place of what would be suggested."""
    song = arrangement.song
    following = _following(arrangement)
    first_sung = _first_sung(song)
    phrases = _Phrases(arrangement, following, taste)
    found: dict[int, tuple[OctaveLine, ...]] = {}
    played = dict.fromkeys(step.section for step in song.roadmap)
    for index in (*played, *(i for i in range(len(song.sections)) if i not in played)):  # in order of time
        section = song.sections[index]
        lines = list(written_lines(arrangement, index, following, doubled=taste.span >= OCTAVE))
        if taste.octaves != "none" and section.facts.octaves and not _is_free(section):
            if taste.octaves == "every":
                lines += _every(arrangement, index, following, taste)
            elif _model(song, index) != first_sung:
                lines += phrases.of_section(index)
        found[index] = tuple(sorted(lines, key=lambda o: (o.notes[0].row, o.notes[0].bar_index, o.notes[0].start)))
    return tuple(found[i] for i in range(len(song.sections)))


def _model(song: Song, index: int) -> int:
    model = song.sections[index].model
    return index if model is None else model


def _is_free(section: Section) -> bool:
    return section.facts.tempo is not None and section.facts.tempo.bpm is None


def _first_sung(song: Song) -> int | None:
    """Give the first section of the roadmap in which somebody sings (its model, where it is a copy)."""
    sung = (s.section for s in song.roadmap if any(row.words for row in song.sections[s.section].rows))
    first = next(sung, None)
    return None if first is None else _model(song, first)


def _following(arrangement: Arrangement) -> dict[ChordId, ChordId]:
    """Give the chord that each printed chord leads to, where all that are ever heard after it lie alike in the hand."""
    after: dict[ChordId, list[ChordId]] = {}
    for one, two in zip(arrangement.heard, arrangement.heard[1:], strict=False):
        after.setdefault(one.chord, []).append(two.chord)
        if two.cut or two.at > one.at + one.length:
            after[one.chord].append(one.chord)  # silence follows: nothing to lead to there
    return {
        one: others[0]
        for one, others in after.items()
        if len({arrangement.chord(o).right for o in others}) == 1 and others[0] != one
    }


def change_at(arrangement: Arrangement, before: ChordId, after: ChordId) -> Change | None:
    """Give the change between two printed chords as figures see it; None where it is none."""
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
    return Change(key, one.chord, two.chord, held, two.right, owed)


def placed(figure: Figure, change: Change, left: Sequence[Pitch], taste: Taste) -> Fill | None:
    """Put a figure into the octave with the least travel of the hand; None where no octave fits.

    The lower note lies clear of the left hand, both inside the window; single notes in a hand that reaches no octave.
    """
    doubled = taste.span >= OCTAVE
    width = OCTAVE if doubled else 0
    floor = max(taste.low, max((p.midi for p in left), default=0) + taste.clear_of_left)
    best: Fill | None = None
    for octave in (-2, -1, 0, 1):
        notes = tuple(_plainly(Pitch(p.name, p.octave + octave)) for p in figure.notes)
        keys = [p.midi for p in notes]
        if min(keys) < floor or max(keys) + width > taste.high:
            continue
        middles = [_middle(change.held), *(2 * k + width for k in keys), _middle(change.coming)]
        travel = sum(abs(b - a) for a, b in itertools.pairwise(middles))
        if best is None or travel < best.travel:
            best = Fill(figure, notes, travel, doubled)
    return best


def _plainly(pitch: Pitch) -> Pitch:
    """Name a key to press with one accidental at most: A for B double flat."""
    return Pitch.at(pitch.midi, pitch.name.simplest())


def _middle(hand: Sequence[Pitch]) -> int:
    """Give twice the middle of a hand, a whole number."""
    return hand[0].midi + hand[-1].midi


@lru_cache(maxsize=256)  # those of a song or two: other songs seldom have them, and each is 2 KiB
def ranked_fills(change: Change, left: tuple[Pitch, ...], taste: Taste, count: int = 2) -> tuple[Fill, ...]:
    """Rank the fills of `count` notes for one change, best first: by the figure's points, then by the hand's travel."""
    found = [fill for figure in ranked(change, count) if (fill := placed(figure, change, left, taste)) is not None]
    return tuple(sorted(found, key=lambda f: (f.figure.points, f.travel)))


def _line(
    arrangement: Arrangement, before: ChordId, following: Mapping[ChordId, ChordId], taste: Taste
) -> OctaveLine | None:
    """Give the best fill over one chord; None where nothing leads on, there is no time, or a row by hand stands."""
    to = following.get(before)
    change = change_at(arrangement, before, to) if to is not None else None
    if change is None or to is None or _stops(arrangement.chord(before)):
        return None
    section, one = arrangement.song.sections[before[0]], arrangement.chord(before)
    alone = _nothing_else_holds(arrangement.song, section)
    for count in _counts(section, one, taste):
        for fill in ranked_fills(change, one.left, taste, count)[:MOST_TRIED]:
            if alone and not all(note.name in change.before.names for note in fill.notes):
                continue
            notes = _timed(section, one, arrangement.chord(to), fill, taste)
            if notes:
                line = OctaveLine(to, before, fill.figure.name, notes, fill.doubled)
                return None if _covered(section, line) else line
    return None


def choices(arrangement: Arrangement, before: ChordId, taste: Taste, most: int) -> tuple[OctaveLine, ...]:
    """Give the best fills that there is time for over one chord, best first, for a player to choose from."""
    to = _following(arrangement).get(before)
    change = change_at(arrangement, before, to) if to is not None else None
    if change is None or to is None:
        return ()
    section, one = arrangement.song.sections[before[0]], arrangement.chord(before)
    alone = _nothing_else_holds(arrangement.song, section)
    found = []
    for count in dict.fromkeys((*_counts(section, one, taste), 2, 1, 3, 4)):
        for fill in ranked_fills(change, one.left, taste, count):
            if alone and not all(note.name in change.before.names for note in fill.notes):
                continue
            notes = _timed(section, one, arrangement.chord(to), fill, taste)
            if notes and len({n.row for n in notes}) == 1:  # a row written by hand stays in its row
                found.append(OctaveLine(to, before, fill.figure.name, notes, fill.doubled))
            if len(found) == most:
                return tuple(found)
    return tuple(found)


def _nothing_else_holds(song: Song, section: Section) -> bool:
    """Tell whether the keys alone hold the harmony, without a pad: under the pedal only chord notes stay clean."""
    sound = section.facts.sound
    harmonic = [player for player in song.band if not _NO_HARMONY.search(player)]
    return not harmonic and not (sound and "pad" in sound.text.lower())


MOST_TRIED = 8  # figures tried for one change before a shorter one: the ninth best is no longer a good one


def _counts(section: Section, one: ChordPart, taste: Taste) -> tuple[int, ...]:
    """Give how many notes to try, first choice first: one in a chord of two quarters, two in a bar, four in two."""
    meter = section.rows[one.row].bars[one.bar_index].meter
    fast = felt_beats_a_minute(section.facts, meter.felt_beat) > taste.one_note_over
    if fast or (meter.felt_beat in (1, 2) and one.length <= 2 * meter.felt_beat):
        return (1,)
    return (4, 3, 2, 1) if one.length >= 2 * meter.length else (2, 1)


def _stops(part: ChordPart) -> bool:
    """Tell whether a chord is held out of time or cut off: no place for a line."""
    return part.written is not None and bool({"hold", "stop"} & set(part.written.manner))


def _every(
    arrangement: Arrangement, index: int, following: Mapping[ChordId, ChordId], taste: Taste
) -> Iterator[OctaveLine]:
    for place in range(len(arrangement.sections[index].chords)):
        line = _line(arrangement, (index, place), following, taste)
        if line is not None:
            yield line


def _timed(section: Section, one: ChordPart, to: ChordPart, fill: Fill, taste: Taste) -> tuple[FillNote, ...]:
    """Place a fill's notes in the last beats of a chord.

    One on the last beat; two on the last beat and its half, or on the last two beats; three and four in eighths; all in
    eighths where the felt beat is a dotted quarter or an eighth. Empty where there is no time: between attacks the hand
    needs time for its way, and the chord sounds a felt beat first (a beat after a resolution).
    """
    felt = section.rows[one.row].bars[one.bar_index].meter.felt_beat
    end = one.length - (to.written.push if to.written else 0)
    earliest = felt
    suspension = one.suspension
    if suspension is not None and suspension.start is not None and suspension.resolves_to is not None:
        earliest = _since(section, one, suspension.bar, suspension.start) + felt
    count, keys = len(fill.notes), [p.midi for p in fill.notes]
    width = OCTAVE if fill.doubled else 0
    arrival = abs(2 * keys[-1] + width - _middle(to.right)) / 2 if to.right else 0
    way = max([abs(b - a) for a, b in pairwise(keys)] + [arrival])
    needed = max(taste.attack_seconds_least, taste.attack_seconds + taste.attack_seconds_each * Fraction(way))
    for gap in _gaps(section, felt, count, taste):
        if end - count * gap >= earliest and seconds(gap, section.facts) >= needed:
            starts = [end - (count - i) * gap for i in range(count)]
            return tuple(_note(section, one, p, at, gap) for p, at in zip(fill.notes, starts, strict=True))
    return ()


def _gaps(section: Section, felt: Fraction, count: int, taste: Taste) -> tuple[Fraction, ...]:
    """Give the times between attacks to try, in quarters."""
    if felt not in (1, 2) or count > 2:
        return (EIGHTH,)
    if count == 1 or felt_beats_a_minute(section.facts, felt) >= taste.eighths_under:
        return (Fraction(1),)
    return (EIGHTH, Fraction(1))


EIGHTH = Fraction(1, 2)


def _since(section: Section, one: ChordPart, bar: int | None, start: Fraction) -> Fraction:
    """Give the quarters from a chord's start to a place in this bar or a later one that it reaches."""
    passed = Fraction(0)
    row, bar_index = one.row, one.bar_index
    while section.rows[row].bars[bar_index].number != bar:
        passed += section.rows[row].bars[bar_index].length
        following = singer.next_bar(section, row, bar_index)
        if following is None:
            break
        row, bar_index = following
    return passed + start - one.start


def _note(section: Section, one: ChordPart, pitch: Pitch, after: Fraction, length: Fraction) -> FillNote:
    row, bar_index, place = one.row, one.bar_index, one.start + after
    while place >= section.rows[row].bars[bar_index].length:
        following = singer.next_bar(section, row, bar_index)
        if following is None:
            break
        place -= section.rows[row].bars[bar_index].length
        row, bar_index = following
    return FillNote(pitch, row, bar_index, section.rows[row].bars[bar_index].number, place, length)


def _covered(section: Section, line: OctaveLine) -> bool:
    """Tell whether a row written by hand has bars where this fill would stand."""
    for note in line.notes:
        row = section.rows[note.row]
        if any(one is not None and note.bar_index < len(one.bars) for one in (row.octave, row.hook)):
            return True
    return False


class _Phrases:
    """Chooses at most one fill in so many bars as heard: at ends of sections and rows first, while nobody sings.

    Mutable: it remembers where fills are heard already; lives in one call of `fills`.
    """

    def __init__(self, arrangement: Arrangement, following: Mapping[ChordId, ChordId], taste: Taste) -> None:
        self.arrangement, self.following, self.taste = arrangement, following, taste
        self.pickups = singer.pickups_after(arrangement.song)
        self.bars: dict[ChordId, list[Fraction]] = {}
        for heard, bar in zip(arrangement.heard, bars_heard(arrangement.song, arrangement.heard), strict=True):
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
        for place in sorted(range(len(chords)), key=order):
            bars = self.bars.get((index, place), [])
            if self._crowded(bars) or not _may_be_clear(song, index, chords[place]):
                continue
            line = _line(self.arrangement, (index, place), self.following, self.taste)
            if line is not None and _is_clear(song, index, line, self.pickups):
                chosen.append(line)
                self.taken += bars
        return chosen

    def _crowded(self, bars: Sequence[Fraction]) -> bool:
        """Tell whether a fill heard in these bars is too near another, or to itself when it comes again."""
        least = self.taste.octave_bars
        near = any(abs(bar - other) < least for bar in bars for other in self.taken)
        return near or any(b - a < least for a, b in pairwise(bars))


def _may_be_clear(song: Song, index: int, one: ChordPart) -> bool:
    """Tell at a glance whether the singer could rest at the end of a chord, before a figure is looked for."""
    section = song.sections[index]
    bar = section.rows[one.row].bars[one.bar_index]
    end = one.start + one.length
    if one.kind != "chord" or end > bar.length:
        return one.kind == "chord"
    return singer.rests_in(section, singer.Stretch(one.row, one.bar_index, end - bar.meter.felt_beat, end))


def _is_clear(song: Song, index: int, line: OctaveLine, pickups: frozenset[int]) -> bool:
    """Tell whether nobody sings under a fill, no pickup follows it, and no cue gives the gap to another player."""
    section = song.sections[index]
    for note in line.notes:
        row = section.rows[note.row]
        cues = row.cues + (section.closing_cues if note.row + 1 == len(section.rows) else ())
        if any(gives_away(c.value) for c in cues):
            return False
        stretch = singer.Stretch(note.row, note.bar_index, note.start, note.start + note.length)
        if not singer.rests_in(section, stretch) or (index in pickups and singer.in_last_bar(section, stretch)):
            return False
    return True
