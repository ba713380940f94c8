"""A Song becomes an Arrangement: hands are found, moved to today's key, spelled, and joined with all else."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

from arranger.harmony.arc import SectionPlan, plan_arc
from arranger.harmony.drone_words import drone_four
from arranger.harmony.fingers import inversion, shape
from arranger.harmony.gaps import fills
from arranger.harmony.lead_ins import lead_ins, with_lead_in
from arranger.harmony.manners import bar_manners, manner, pad_notes, sound_changes
from arranger.harmony.model import (
    Arrangement,
    BarManner,
    ChordId,
    ChordPart,
    End,
    Hand,
    HeardBar,
    Movement,
    SectionPart,
    Suspension,
)
from arranger.harmony.settled import settled
from arranger.harmony.singer import place_after
from arranger.harmony.sites import SUS
from arranger.harmony.solve import Solved
from arranger.harmony.suspensions import Offer, neighbours, standing, suspended_key
from arranger.harmony.taste import DEFAULT, Taste
from arranger.harmony.timeline import Printed
from arranger.harmony.voicings import OCTAVE, Candidate, Voicing, hand_movement, kept_keys, moved, new_keys
from arranger.song.model import Section, Song, WrittenChord
from arranger.song.transpose import transposed
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.theory.key import Key, Transposition
from arranger.theory.pitch import Pitch, spelled_by


class WorkedOut(NamedTuple):
    """An arrangement with what it was made from; the hands were found `shift` semitones away from where it sounds."""

    arrangement: Arrangement
    solved: Solved
    shift: int


def work_out(
    song: Song, taste: Taste = DEFAULT, key: Key | None = None, *, figures: bool = True
) -> tuple[WorkedOut | None, tuple[Diagnostic, ...]]:
    """Return the worked-out part, with what it was made from.

    Args:
        song: as read.
        taste: ranges and weights.
        key: another key for today, of the song's own mode. The hands learnt at home are moved as a whole where the
            window allows it; else the song is solved again and a warning says so.
        figures: without it the least movement and that of root position are not reckoned; pages do not show them.

    Returns:
        The part and what there is to say; None where there is no chord to play, or no hand for one.
    """
    if not any(mark.kind == "chord" for s in song.sections if not s.tacet for bar in s.bars for mark in bar.marks):
        return None, (error("no-chords", "expected a row of chords, found none to play", song.title.span),)
    solved, problems = settled(song, taste, figures=figures)
    if solved is None:
        return None, problems
    if key is None or key == song.key:
        return WorkedOut(joined(solved.arc.song, solved, taste, 0), solved, 0), problems
    other = transposed(song, key)
    shift = Transposition(song.key, key).semitones
    if _fits(solved, shift, taste):
        return WorkedOut(joined(plan_arc(other, taste).song, solved, taste, shift), solved, shift), problems
    changed = warning(
        "hands-changed",
        f"the hands of {song.key.words} do not fit the keyboard window in {key.words}; they are worked out again",
        song.title.span,
    )
    solved, problems = settled(other, taste, figures=figures)
    worked = WorkedOut(joined(solved.arc.song, solved, taste, 0), solved, 0) if solved else None
    return worked, (changed, *problems)


def _fits(solved: Solved, shift: int, taste: Taste) -> bool:
    """Return whether all hands, moved as a whole, stay in the wider window for moved songs."""
    unknowns = solved.scene.uses.unknowns
    for hand, unknown in zip(solved.hands, unknowns, strict=True):
        for voicing in {hand.first, hand.last}:
            if voicing[0] + shift + min(unknown.shifts) < taste.moved_low:
                return False
            if voicing[-1] + shift + max(unknown.shifts) > taste.high:
                return False
    return True


def joined(song: Song, solved: Solved, taste: Taste, shift: int) -> Arrangement:
    """Join all values; `song` is the one that sounds, `shift` how far it lies from where the hands were found."""
    joining = _Joining(song, solved, shift)
    sections = []
    manners = _manners(song, solved)
    how = _visits_play(song, solved, manners)
    for index, (section, part) in enumerate(zip(song.sections, solved.timeline.printed, strict=True)):
        chords = tuple(joining.chord((index, i), one) for i, one in enumerate(as_it_sounds(part, section)))
        pad = pad_notes(section, chords, taste.split)
        alone = index in solved.timeline.alone
        plan = solved.arc.plans[index]
        visits = solved.arc.told[index] if plan.of is None else ()
        visits_play = how[index] if plan.of is None and len(set(how[index])) > 1 else ()
        sections.append(
            SectionPart(
                chords,
                pad=pad,
                play=manners[index, plan],
                solved_alone=alone,
                texture=plan.words,
                texture_from=plan.source,
                visits=visits,
                visits_play=visits_play,
                times=plan.times,
                of=plan.of,
                band=plan.band,
                bars=bar_manners(section, plan, manners[index, plan]),
            )
        )
    arrangement = Arrangement(
        song=song,
        key=song.key,
        meter=song.meter,
        hand=Hand(taste.low, taste.high, taste.span, taste.notes),
        sections=tuple(sections),
        heard=solved.timeline.heard,
        movement=_movement(solved),
        visits=solved.arc.visits,
        bars=tuple(_struck(song, solved, manners)),
    )
    changes = sound_changes(song, sections, arrangement.heard)
    leading = lead_ins(song, solved, sections, taste, shift)
    filled = [
        with_lead_in(part._replace(octaves=lines, sound_change=changes.get(i)), leading.get(i))
        for i, (part, lines) in enumerate(zip(sections, fills(arrangement, taste), strict=True))
    ]
    return arrangement._replace(sections=tuple(filled))


Manners = dict[tuple[int, SectionPlan], str]  # of each section, for each way in which it is planned


def _manners(song: Song, solved: Solved) -> Manners:
    ways = set(enumerate(solved.arc.plans))
    for visit, plan in zip(solved.arc.visits, solved.arc.ways, strict=True):
        if plan is not None:
            ways.add((song.roadmap[visit.step].section, plan))
    return {(index, plan): manner(song, song.sections[index], plan) for index, plan in ways}


def _visits_play(song: Song, solved: Solved, manners: Manners) -> dict[int, tuple[str, ...]]:
    """Return, for each section of the song, its manner each time that it comes; empty where the keys are out."""
    found: dict[int, tuple[str, ...]] = dict.fromkeys(range(len(song.sections)), ())
    for visit, plan in zip(solved.arc.visits, solved.arc.ways, strict=True):
        index = song.roadmap[visit.step].section
        found[index] += (manners[index, plan] if plan else "",)
    return found


def _struck(song: Song, solved: Solved, manners: Manners) -> Iterator[HeardBar]:
    """Yield all bars as they are heard, with how each is struck that time."""
    made: dict[tuple[int, int], tuple[tuple[BarManner, ...], ...]] = {}
    alike: dict[tuple[int, SectionPlan], tuple[tuple[BarManner, ...], ...]] = {}  # most visits of a section are
    ways = {(v.step, v.time): way for v, way in zip(solved.arc.visits, solved.arc.ways, strict=True)}
    for bar in solved.timeline.bars:
        visit = bar.step, bar.time
        plan = ways[visit]
        if plan is None:
            yield bar
            continue
        if visit not in made:
            index = song.roadmap[bar.step].section
            if (index, plan) not in alike:
                section = song.sections[index]
                alike[index, plan] = bar_manners(section, plan, manners[index, plan])
            made[visit] = alike[index, plan]
        yield bar._replace(how=made[visit][bar.row][bar.bar_index])


def _written(one: Printed, section: Section) -> WrittenChord | None:
    return section.rows[one.row].bars[one.bar_index].marks[one.mark].chord


def as_it_sounds(part: Sequence[Printed], section: Section) -> list[Printed]:
    """Return a section's printed chords as they stand in the song that sounds, which may be another key's.

    A chord that repeats a pinned one keeps its hand, and so the names of its notes.
    """
    found: list[Printed] = []
    for one in part:
        written = _written(one, section)
        before = found[-1].written if found else None
        if one.repeats and written is not None and before is not None:
            written = replace(written, pins=before.pins)
        found.append(one if written is one.written else replace(one, written=written))
    return found


class _Joining:
    """Joins printed chords to their hands in the key that sounds. Lives in `joined` only."""

    def __init__(self, song: Song, solved: Solved, shift: int) -> None:
        self.song, self.solved, self.shift = song, solved, shift
        self.timeline, self.scene = solved.timeline, solved.scene
        self.near = neighbours(solved.timeline, solved.scene)
        self.left_octave = _left_octave(solved, shift)
        self.before: dict[ChordId, list[tuple[ChordId | None, bool]]] = {}  # the chords heard before; is a cut between
        for before, heard in zip((None, *solved.timeline.heard), solved.timeline.heard, strict=False):
            self.before.setdefault(heard.chord, []).append((before.chord if before else None, heard.cut))

    def chord(self, where: ChordId, one: Printed) -> ChordPart:
        """Return what both hands do on a printed chord."""
        before, cut = self.before.get(where, [(None, True)])[0]
        came_from = None if cut else before
        place = partial(
            ChordPart,
            kind=one.kind,
            row=one.row,
            bar_index=one.bar_index,
            mark=one.mark,
            place=one.place,
            bar=one.bar,
            start=one.start,
            length=one.length,
            repeats=one.repeats and self._goes_on(where),
            came_from=came_from,
            span=one.span,
        )
        if one.unknown is None or one.written is None:
            return place()
        chord, home, shift = one.chord, self.solved.hands[one.unknown], one.shift + self.shift
        section = self.song.sections[where[0]]
        four = drone_four(self.solved, one, section)
        offer = four[0] if four else self.solved.suspensions[one.unknown]
        names = (*[pin.name for pin in one.written.pins], *chord.names)
        if section.facts.drone:
            names += section.facts.drone.notes
        plain = spelled_by(moved(self._plain(home, offer), shift), names)
        first, right = moved(home.first, shift), plain
        if offer or home.first != home.last:
            right = spelled_by(first, (*names, SUS[offer.kind].above(chord.root)) if offer else names)
        last = self._last(self.timeline.at(came_from)) if came_from is not None else None
        return place(
            chord=chord,
            written=one.written,
            right=right,
            plain=plain,
            shape=shape(chord, plain, always=self.scene.taste.easy),
            fingers=self.solved.fingers[one.unknown],
            left=self._left(one),
            inversion=inversion(chord, first),
            movement=hand_movement(last, first) if last else 0,
            moved=new_keys(last, first) if last else 0,
            common=kept_keys(last, first) if last else 0,
            suspension=self._suspension(where, one, offer, four[1] if four else None) if offer else None,
        )

    def _goes_on(self, where: ChordId) -> bool:
        """Return whether the hand is down already wherever a chord is heard: it comes from the same chord each time."""
        one = self.timeline.at(where)
        for before, cut in self.before.get(where, ()):
            last = self.timeline.at(before) if before is not None else one
            if before is not None and (cut or (last.unknown, last.shift) != (one.unknown, one.shift)):
                return False
        return True

    def _last(self, one: Printed) -> Voicing:
        assert one.unknown is not None
        return moved(self.solved.hands[one.unknown].last, one.shift + self.shift)

    def _plain(self, hand: Candidate, offer: Offer | None) -> Voicing:
        """Return the hand without its suspension: the suspended note back on the third, doubled where it is doubled."""
        if offer is None or offer.resolve_after is not None:
            return hand.last
        key = suspended_key(hand, offer, self.scene)
        return tuple(sorted(n - offer.step if n % OCTAVE == key % OCTAVE else n for n in hand.first))

    def _left(self, one: Printed) -> tuple[Pitch, ...]:
        """Spell the left hand. In another key for today its line moves with the song, and by an octave if it must."""
        assert one.unknown is not None
        notes = moved(self.scene.lefts[one.unknown], one.shift + self.shift + self.left_octave)
        if len(notes) > 1 and notes[0] < self.scene.taste.left_octave_low:
            notes = notes[1:]  # an octave that would growl is left to its upper note
        return spelled_by(notes, (one.chord.bass_name, *one.chord.names))

    def _suspension(self, where: ChordId, one: Printed, offer: Offer, drone_key: int | None) -> Suspension:
        assert one.unknown is not None
        home, section = self.solved.hands[one.unknown], self.song.sections[where[0]]
        stands = standing(offer, home, self.solved.hands, self.near[one.unknown], self.scene, drone_key)
        key = suspended_key(home, offer, self.scene) if drone_key is None else drone_key
        key += one.shift + self.shift
        name, third = SUS[offer.kind].above(one.chord.root), one.chord.member_on(3)
        assert third is not None
        end: End = "colour"
        resolves_to, bar, start = None, None, None
        if offer.resolve_after is not None:
            row, bar_index, start = place_after(section, one.row, one.bar_index, one.start + offer.resolve_after)
            bar = section.rows[row].bars[bar_index]
            resolves_to = Pitch.at(key - offer.step, third.above(one.chord.root))
            end = "resolves" if stands.prepared else "colour"
        elif stands.prepared:
            end = "held over" if stands.held_over else "left"
        parts = [f"{name} as a colour"]
        if stands.prepared:
            before = self._symbols_before(where)
            parts = [f"prepared by the {name} of {' and '.join(before)}" if before else f"prepared by {name}"]
        if bar is not None and start is not None:
            away = f" of bar {bar.number}" if bar.number != one.bar else ""
            parts.append(f"resolves at beat {start / bar.meter.beat + 1}{away}")
        else:
            parts.append("stays as a note of the next chord" if stands.held_over else "moves on with the chord")
        parts = ["the drone stays", *parts] if drone_key is not None else parts
        parts += ["singer rests"] if offer.singer_rests else []
        parts += ["the guitar takes it too"] if offer.for_all else []
        return Suspension(
            kind=offer.kind,
            note=Pitch.at(key, name),
            prepared=stands.prepared,
            end=end,
            resolves_to=resolves_to,
            bar=bar.number if bar else None,
            start=start,
            for_all=offer.for_all,
            of_drone=drone_key is not None,
            reason="; ".join(parts),
        )

    def _symbols_before(self, where: ChordId) -> list[str]:
        """Return the symbols of the chords heard just before a printed chord, as they stand in the song that sounds."""
        places = {before for before, cut in self.before.get(where, ()) if before is not None and not cut}
        found = set()
        for section, index in places:
            written = _written(self.timeline.printed[section][index], self.song.sections[section])
            found.add(str(written.chord if written else None))
        return sorted(found)


def _left_octave(solved: Solved, shift: int) -> int:
    """Return by how many semitones (-12, 0, 12) the left hand's line moves on top of the song, to stay near home.

    Never over the right hand. The line keeps its steps: all of it moves, or nothing.
    """
    taste, unknowns = solved.scene.taste, solved.scene.uses.unknowns
    if not shift:
        return 0

    def outside(octave: int) -> int:
        total = 0
        for bass, unknown in zip(solved.scene.basses, unknowns, strict=True):
            for own in unknown.shifts:
                note = bass + own + shift + octave
                total += max(0, taste.left_low - note) + max(0, note - taste.left_high)
        return total

    def clear(octave: int) -> bool:
        return octave <= 0 or all(
            min(hand.first[0], hand.last[0]) >= left[-1] + octave + taste.clear_of_left
            for hand, left in zip(solved.hands, solved.scene.lefts, strict=True)
        )

    return min((o for o in (0, -OCTAVE, OCTAVE) if clear(o)), key=outside)


def _movement(solved: Solved) -> Movement:
    timeline, hands = solved.timeline, solved.hands
    arranged = changes = 0
    last: tuple[int, int] | None = None
    for heard in timeline.heard:
        one = timeline.at(heard.chord)
        assert one.unknown is not None
        arranged += hands[one.unknown].within
        if last is not None and not heard.cut:
            before = moved(hands[last[0]].last, last[1])
            arranged += hand_movement(before, moved(hands[one.unknown].first, one.shift))
            changes += last != (one.unknown, one.shift)
        last = (one.unknown, one.shift)
    return Movement(
        arranged=arranged,
        minimum=solved.minimum,
        root_position=solved.root_position,
        changes=changes,
        objective=solved.objective,
        whole=solved.whole,
        bound=solved.bound,
        proven=solved.whole == solved.bound and solved.scene.basses_proven,
        lines=len(solved.scene.lines),
    )
