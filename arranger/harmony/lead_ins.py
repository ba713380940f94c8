"""What leads into another key: the new key's V, offered in the last bar before a section that stands in another key.

Takes a solved song and its sections; gives for each at most one such chord. It is offered where the song leaves room:
its last chord lasts a bar, and nobody sings in the second half of it. Where the keys are the only harmony it comes with
hands; where others hold chords or the bass it is for all of them, and nothing until the song has it. Common practice,
no source.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import ceil
from typing import NamedTuple

from arranger.harmony import singer
from arranger.harmony.left_hand import bass_choices, left_notes
from arranger.harmony.model import ChordId, Heard, LeadIn, SectionPart
from arranger.harmony.repeats import played_bars
from arranger.harmony.sites import SUS
from arranger.harmony.solve import Solved
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Printed, seconds
from arranger.harmony.voicings import OCTAVE, Voicing, bass_way, change_cost, frames, moved, sound_cost, voicings
from arranger.song.model import Section, Song, WrittenChord
from arranger.song.players import band_with, holds_harmony
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch
from arranger.theory.qualities import BY_NAME

FIFTH = Interval(5, 7)
ROOM = Fraction(1, 2)  # of a bar, in which nobody sings


class _Change(NamedTuple):
    """A change of key as heard: the last chord before it, the first after it, after which visit of its section."""

    last: Heard
    first: Heard
    visit: int


def dominant_of(key: Key) -> Chord:
    """Return the V of a key, major in minor too: what leads there."""
    return Chord(FIFTH.above(key.tonic), BY_NAME[""])


def lead_ins(
    song: Song, solved: Solved, sections: Sequence[SectionPart], taste: Taste, shift: int
) -> dict[int, LeadIn]:
    """Return what leads into another key at the end of each section that has room for it.

    Args:
        song: the one that sounds.
        solved: its hands, `shift` semitones lower.
        sections: its parts.
        taste: without `arc` nothing is offered.
        shift: from where the hands were found.
    """
    if not taste.arc:
        return {}
    found: dict[int, LeadIn] = {}
    for change in _changes(song, solved.timeline.heard, sections):
        index = change.last.chord[0]
        known = found.get(index)
        if known is not None:
            same = (known.over, song.sections[known.to].facts.key) == (change.last.chord, _key(song, change.first))
            if same:
                found[index] = known._replace(times=(*known.times, change.visit))
            continue
        lead_in = _lead_in(song, solved, sections[index], change, taste, shift)
        if lead_in is not None:
            found[index] = lead_in
    return found


def _key(song: Song, heard: Heard) -> Key:
    return song.sections[heard.chord[0]].facts.key


def _changes(song: Song, heard: Sequence[Heard], sections: Sequence[SectionPart]) -> Iterator[_Change]:
    """Yield the changes of key between two steps of the roadmap that follow each other without a silence."""
    for last, first in pairwise(heard):
        section = song.sections[last.chord[0]]
        together = first.step == last.step + 1 and first.at == last.at + last.length and not first.cut
        if together and section.facts.key != _key(song, first):
            own = song.roadmap[last.step].section
            before = [step for step in song.roadmap[: last.step + 1] if step.section == own]
            yield _Change(last, first, sum(step.times if step.until is None else 2 for step in before))


def _lead_in(song: Song, solved: Solved, part: SectionPart, change: _Change, taste: Taste, shift: int) -> LeadIn | None:
    """Return the chord that leads over one change of key; None where there is no room for it, or it is there."""
    section, following = song.sections[change.last.chord[0]], song.sections[change.first.chord[0]]
    printed, chord = solved.timeline.at(change.last.chord), dominant_of(following.facts.key)
    step = song.roadmap[change.last.step]
    written = section.rows[printed.row].bars[printed.bar_index].marks[printed.mark].chord
    *_, stretch = singer.stretches(section, printed)
    bar = section.rows[stretch.row].bars[stretch.bar_index]
    felt = bar.length / bar.meter.felt_beat
    if (
        written is None
        or written.as_written
        or written.manner
        or written.chord.root.pitch_class == chord.root.pitch_class
        or section.facts.drone is not None
        or stretch.start != 0
        or stretch.end != bar.length
        or (stretch.row, stretch.bar_index) != played_bars(section, step.from_bar, step.to_bar)[-1]
        or felt.denominator != 1
        or felt < 2
    ):
        return None
    start = bar.meter.felt_beat * (int(felt) // 2)
    free = stretch._replace(start=min(start, bar.length * ROOM))
    if following.pickup is not None or not singer.rests_in(section, free):
        return None
    length = bar.length - start
    slow = seconds(length, section.facts) >= taste.sus_seconds
    resolves = start + Fraction(ceil(length), 2) if slow and taste.suspensions and section.facts.suspensions else None
    lead_in = LeadIn(
        chord=chord,
        to=change.first.chord[0],
        over=change.last.chord,
        row=stretch.row,
        bar_index=stretch.bar_index,
        bar=bar.number,
        start=start,
        length=length,
        resolves=resolves,
        for_all=any(map(holds_harmony, _last_band(song, section, part))),
        times=(change.visit,),
    )
    return lead_in if lead_in.for_all else _with_hands(lead_in, solved, change, section, taste, shift)


def _last_band(song: Song, section: Section, part: SectionPart) -> tuple[str, ...]:
    """Return who plays with the keys in the last row of a section."""
    band = part.band
    for row in section.rows:
        if row.band_change is not None:
            band = band_with(row.band_change, band, song.band)
    return band


def _with_hands(
    lead_in: LeadIn, solved: Solved, change: _Change, section: Section, taste: Taste, shift: int
) -> LeadIn | None:
    """Return it with the hands that lie best between those before and after it; None where no hand has room for it.

    They are found where the song was solved, and moved with it.
    """
    home = solved.arc.song.sections[lead_in.to].facts.key
    chord = dominant_of(home)
    printed = solved.timeline.at(change.last.chord)
    assert printed.written is not None
    as_it_is = replace(printed, written=WrittenChord(chord, str(chord)), start=lead_in.start, length=lead_in.length)
    before, bass_before = _hand(solved, change.last.chord, last=True)
    after, bass_after = _hand(solved, change.first.chord, last=False)
    bass = min(bass_choices(as_it_is, (0,), taste), key=lambda b: (abs(b - bass_before) + abs(b - bass_after), b))
    dynamic = section.facts.dynamic
    left = left_notes(bass, as_it_is, dynamic.level if dynamic else None, taste)
    best: tuple[int, Voicing, Voicing] | None = None
    for plain in _plain(chord, as_it_is, len(before), left[-1] + taste.clear_of_left, taste):
        third = Interval(3, 4).above(chord.root).pitch_class
        first = plain if lead_in.resolves is None else tuple(k + (k % OCTAVE == third) for k in plain)
        cost = change_cost(before, first, bass_way(bass - bass_before), taste)
        cost += change_cost(first, plain, 0, taste) if first != plain else 0
        cost += change_cost(plain, after, bass_way(bass_after - bass), taste) + sound_cost(first, left[-1], taste)
        cost += taste.register * abs(first[0] + first[-1] - 2 * printed.plan.goal) // 2
        if best is None or (cost, first) < best[:2]:
            best = cost, first, plain
    if best is None:
        return None
    names = (*lead_in.chord.names, SUS["sus4"].above(lead_in.chord.root))
    return lead_in._replace(
        right=_spelled(moved(best[1], shift), names),
        plain=_spelled(moved(best[2], shift), names),
        left=_spelled(moved(left, shift), names),
    )


def _plain(chord: Chord, printed: Printed, size: int, floor: int, taste: Taste) -> tuple[Voicing, ...]:
    """Return the hands of the chord over the left hand, of as many keys as the hand before has if there are such."""
    low = max(taste.low, floor, printed.plan.split or 0)
    some = (*voicings(chord, taste, low, taste.high), *(frames(chord, low, taste.high) if size > 3 else ()))
    return tuple(v for v in some if len(v) == size) or some


def _hand(solved: Solved, where: ChordId, *, last: bool) -> tuple[Voicing, int]:
    """Return the right hand of a printed chord, as it is taken or left, and its bass note (MIDI, as solved)."""
    one = solved.timeline.at(where)
    assert one.unknown is not None
    hand = solved.hands[one.unknown]
    return moved(hand.last if last else hand.first, one.shift), solved.scene.basses[one.unknown] + one.shift


def _spelled(keys: Sequence[int], names: Sequence[NoteName]) -> tuple[Pitch, ...]:
    by_class = {name.pitch_class: name for name in names}
    return tuple(Pitch.at(key, by_class[key % OCTAVE]) for key in keys)


def with_lead_in(part: SectionPart, lead_in: LeadIn | None) -> SectionPart:
    """Return a section's part with what leads on from it: in place of fills that are suggested there.

    A fill that is written by hand stands, and where one takes its time nothing else is offered.
    """
    if lead_in is None:
        return part
    bar = lead_in.row, lead_in.bar_index
    there = [
        line
        for line in part.octaves
        if any((n.row, n.bar_index) == bar and n.start + n.length > lead_in.start for n in line.notes)
    ]
    if any(line.written for line in there):
        return part
    if lead_in.for_all:
        return part._replace(lead_in=lead_in)
    return part._replace(octaves=tuple(line for line in part.octaves if line not in there), lead_in=lead_in)
