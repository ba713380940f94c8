"""Where lines of a song come to rest: its cadences, and whether its suspensions have to resolve.

Takes the song with its timeline; gives the unknowns that are the I or the V of a cadence. Common practice, no source.
"""

from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.model import ChordId
from arranger.harmony.timeline import Timeline, bars_heard
from arranger.song.model import Section, Song
from arranger.theory.chord import Chord
from arranger.theory.key import Key


class Landing(NamedTuple):
    """The unknowns that have a part in cadences, anywhere that they are heard.

    Attributes:
        tonics: the I of a cadence, at the end of a line.
        dominants: its V.
        line_ends: a V that ends a line itself (a half cadence, or the V before a line that begins with I).
        hymn: chords change faster than the bars of a given tune: there is no time for a suspension that stays open.
    """

    tonics: frozenset[int]
    dominants: frozenset[int]
    line_ends: frozenset[int]
    hymn: bool


def landing_of(song: Song, timeline: Timeline) -> Landing:
    """Find the cadences of a song: V to I at the end of a line, and lines that end on V."""
    tonics: set[int] = set()
    dominants: set[int] = set()
    line_ends: set[int] = set()
    for before, after in pairwise(timeline.heard):
        one, two = timeline.at(before.chord), timeline.at(after.chord)
        key = song.sections[after.chord[0]].facts.key
        if two.chord.root != key.tonic or not is_dominant(one.chord, key):
            continue
        landed = _to_line_end(song, timeline, after.chord, key)
        if landed and one.unknown is not None:
            tonics |= landed
            dominants.add(one.unknown)
    for index, part in enumerate(timeline.printed):
        section = song.sections[index]
        for place, chord in enumerate(part):
            if chord.unknown is not None and is_dominant(chord.chord, section.facts.key):
                line_ends |= {chord.unknown} if ends_line(section, timeline, (index, place)) else set()
    return Landing(frozenset(tonics), frozenset(dominants), frozenset(line_ends), is_hymn(song, timeline))


def is_dominant(chord: Chord, key: Key) -> bool:
    """Return whether a chord leads to I as V does: V, V7, also with 4, over any bass; in minor v too.

    IV or ii over the fifth of the key is V with 4 by another name (F/G in C).

    >>> from arranger.theory.qualities import BY_NAME
    >>> five = Key.parse("C").scale[4]
    >>> is_dominant(Chord(five, BY_NAME["7sus4"]), Key.parse("C"))
    True
    """
    scale = key.scale
    third = chord.member_on(3)
    if chord.root == scale[4]:
        return key.minor or third is None or third.semitones != 3
    return chord.bass == scale[4] and chord.root in (scale[1], scale[3])


def _to_line_end(song: Song, timeline: Timeline, where: ChordId, key: Key) -> frozenset[int]:
    """Return the unknowns from a chord to the end of its line where all of them are I; none where others follow."""
    section, part = song.sections[where[0]], timeline.printed[where[0]]
    found: set[int] = set()
    for place in range(where[1], len(part)):
        one = part[place]
        if one.kind == "chord":
            if one.chord.root != key.tonic or one.unknown is None:
                return frozenset()
            found.add(one.unknown)
        if ends_line(section, timeline, (where[0], place)):
            break
    return frozenset(found)


def ends_line(section: Section, timeline: Timeline, where: ChordId) -> bool:
    """Return whether a chord is the last of a line: of its row, of a repeat or an ending, or before a double bar."""
    part = timeline.printed[where[0]]
    one, bars = part[where[1]], section.rows[part[where[1]].row].bars
    if where[1] + 1 == len(part) or part[where[1] + 1].row != one.row:
        return True
    following = part[where[1] + 1].bar_index
    return any(bar.repeat_times or bar.ending_close or bar.double for bar in bars[one.bar_index : following])


def line_left(section: Section, row: int, bar_index: int, start: Fraction) -> Fraction:
    """Return the quarters from a place to the end of its row."""
    return sum((bar.length for bar in section.rows[row].bars[bar_index:]), Fraction(0)) - start


def is_hymn(song: Song, timeline: Timeline) -> bool:
    """Return whether chords change faster than one a bar on average, in a song whose rows have a tune.

    The rows that are sung count; all rows where no words are written.
    """
    sections = [song.sections[i] for i in sorted({step.section for step in song.roadmap})]
    rows = [row for section in sections if not section.tacet for row in section.rows]
    sung = [row for row in rows if any(piece.text for line in row.words for bar in line.bars for piece in bar.pieces)]
    if not timeline.heard or not all(row.tune is not None for row in sung or rows):
        return False
    heard = timeline.heard
    starts = bars_heard(song, heard)
    bars = starts[-1] + heard[-1].length / song.sections[heard[-1].chord[0]].facts.meter.length
    changes = 1
    for before, after in pairwise(heard):
        changes += timeline.at(before.chord).chord != timeline.at(after.chord).chord or after.cut
    return changes > bars


def keeps_third(chord: Chord, key: Key) -> bool:
    """Return whether a chord's third is chromatic in the key: it is what the chord is for, and stays.

    Not that of V in minor, whose leading note a 4 may wait for.
    """
    third = chord.member_on(3)
    if third is None or key.holds(third.above(chord.root)):
        return False
    return not is_minor_dominant(chord, key)


def is_minor_dominant(chord: Chord, key: Key) -> bool:
    """Return whether a chord is the major V or the V7 of a minor key."""
    return key.minor and chord.root == key.scale[4] and chord.quality.name in ("", "7")
