"""A Song becomes an Arrangement: hands are found, moved to today's key, spelled, and joined with all else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from arranger.harmony.fingers import inversion, shape
from arranger.harmony.model import Arrangement, ChordId, ChordPart, End, Hand, Movement, SectionPart, Suspension
from arranger.harmony.octaves import fills
from arranger.harmony.singer import next_bar
from arranger.harmony.solve import Solved, solve_song
from arranger.harmony.suspensions import SUS, Neighbours, Offer, neighbours, standing, suspended_key
from arranger.harmony.taste import DEFAULT, Taste
from arranger.harmony.texture import manner, pad_notes, sound_changes
from arranger.harmony.timeline import Printed, beats_text
from arranger.harmony.voicings import OCTAVE, Candidate, hand_movement, kept_keys, moved, new_keys
from arranger.song.model import Section, Song, WrittenChord
from arranger.song.transpose import transposed
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.theory.key import Key, Transposition, all_keys
from arranger.theory.pitch import NoteName, Pitch, is_black


@dataclass(frozen=True, slots=True)
class WorkedOut:
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
    solved, problems = solve_song(song, taste, figures=figures)
    if solved is None:
        return None, problems
    if key is None or key == song.key:
        return WorkedOut(joined(song, solved, taste, 0), solved, 0), problems
    other = transposed(song, key)
    shift = Transposition(song.key, key).semitones
    if _fits(solved, shift, taste):
        return WorkedOut(joined(other, solved, taste, shift), solved, shift), problems
    changed = warning(
        "hands-changed",
        f"the hands of {song.key.words} do not fit the keyboard window in {key.words}; they are worked out again",
        song.title.span,
    )
    solved, problems = solve_song(other, taste, figures=figures)
    worked = WorkedOut(joined(other, solved, taste, 0), solved, 0) if solved else None
    return worked, (changed, *problems)


def for_transposing_keyboard(
    song: Song, taste: Taste = DEFAULT, key: Key | None = None, *, figures: bool = True
) -> tuple[WorkedOut | None, tuple[Diagnostic, ...]]:
    """Work out the part in the easiest key for the hands, for a keyboard that is set to sound in the song's key.

    Args:
        song: as read.
        taste: ranges and weights.
        key: the key that is to sound; None for the song's own.
        figures: as `work_out`.

    Returns:
        As `work_out`; `Arrangement.transpose` says how to set the keyboard.
    """
    sounding = key or song.key
    easy = easiest_key(transposed(song, sounding) if sounding != song.key else song, taste)
    worked, problems = work_out(song, taste, easy, figures=figures)
    if worked is None:
        return None, problems
    set_by = Transposition(easy, sounding).semitones
    return replace(worked, arrangement=replace(worked.arrangement, transpose=set_by)), problems


def easiest_key(song: Song, taste: Taste = DEFAULT) -> Key:
    """Return the key, of the song's mode, in which the hands press the fewest black keys, counted as heard.

    For a keyboard that transposes: of equal keys the one nearest to the song's own wins.
    """
    solved, _ = solve_song(song, taste, figures=False)
    if solved is None:
        return song.key

    def black(semitones: int) -> int:
        count = 0
        for hand, left, unknown in zip(solved.hands, solved.scene.lefts, solved.scene.uses.unknowns, strict=True):
            for shift in unknown.shifts:
                keys = (*hand.first, *left)
                count += unknown.times * sum(is_black(k + shift + semitones) for k in keys)
        return count

    nearest = sorted(range(-5, 7), key=lambda s: (black(s), abs(s), s))[0]
    place = (song.key.tonic.pitch_class + nearest) % OCTAVE
    keys = [k for k in all_keys() if k.minor == song.key.minor and k.tonic.pitch_class == place]
    return min(keys, key=lambda k: (abs(k.signature), k.signature))


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
    came = _came_from(solved)
    near = neighbours(solved.timeline, solved.scene)
    octave = _left_octave(solved, shift)
    sections = []
    for index, part in enumerate(solved.timeline.printed):
        section = song.sections[index]
        chords = tuple(
            _chord(song, solved, near, (shift, octave), (index, i), came.get((index, i)), one)
            for i, one in enumerate(_as_it_sounds(part, section))
        )
        sections.append(
            SectionPart(
                chords,
                pad=pad_notes(section, chords, taste.split),
                play=manner(song, section),
                solved_alone=index in solved.timeline.alone,
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
    )
    lines = fills(arrangement, taste)
    changes = sound_changes(song, sections, arrangement.heard)
    return replace(
        arrangement,
        sections=tuple(
            replace(part, octaves=lines[i], sound_change=changes.get(i)) for i, part in enumerate(arrangement.sections)
        ),
    )


def _written(one: Printed, section: Section) -> WrittenChord | None:
    return section.rows[one.row].bars[one.bar_index].marks[one.mark].chord


def _as_it_sounds(part: Sequence[Printed], section: Section) -> list[Printed]:
    """Return a section's printed chords as they stand in the song that sounds, which may be another key's.

    A chord that repeats a pinned one keeps its hand, and so the names of its notes.
    """
    found: list[Printed] = []
    for one in part:
        written = _written(one, section)
        before = found[-1].written if found else None
        if one.repeats and written is not None and before is not None:
            written = replace(written, pins=before.pins)
        found.append(replace(one, written=written))
    return found


def _came_from(solved: Solved) -> dict[ChordId, ChordId]:
    """Return, for each printed chord, the chord heard before it the first time, where no cut is between."""
    found: dict[ChordId, ChordId] = {}
    seen: set[ChordId] = set()
    before: ChordId | None = None
    for heard in solved.timeline.heard:
        if heard.chord not in seen:
            seen.add(heard.chord)
            if before is not None and not heard.cut:
                found[heard.chord] = before
        before = heard.chord
    return found


def _goes_on(solved: Solved, where: ChordId) -> bool:
    """Return whether the hand is down already wherever a chord is heard: it comes from the same chord each time."""
    timeline = solved.timeline
    one = timeline.at(where)
    for before, after in pairwise(timeline.heard):
        if after.chord == where:
            last = timeline.at(before.chord)
            if after.cut or (last.unknown, last.shift) != (one.unknown, one.shift):
                return False
    return True


def _hand(solved: Solved, one: Printed, shift: int) -> Candidate:
    assert one.unknown is not None
    hand = solved.hands[one.unknown]
    return Candidate(moved(hand.first, one.shift + shift), moved(hand.last, one.shift + shift))


def _spelled(notes: Sequence[int], names: Sequence[NoteName]) -> tuple[Pitch, ...]:
    by_class = {name.pitch_class: name for name in reversed(names)}
    return tuple(Pitch.at(n, by_class[n % 12]) for n in notes)


def _chord(
    song: Song,
    solved: Solved,
    near: Sequence[Neighbours],
    moves: tuple[int, int],
    where: ChordId,
    before: ChordId | None,
    one: Printed,
) -> ChordPart:
    place = ChordPart(
        kind=one.kind,
        row=one.row,
        bar_index=one.bar_index,
        mark=one.mark,
        place=one.place,
        bar=one.bar,
        start=one.start,
        length=one.length,
        repeats=one.repeats and _goes_on(solved, where),
        came_from=before,
        span=one.span,
    )
    if one.unknown is None or one.written is None:
        return place
    shift, octave = moves  # of all hands; of the left hand's line on top of that
    chord, hand = one.chord, _hand(solved, one, shift)
    offer = solved.suspensions[one.unknown]
    names = [pin.name for pin in one.written.pins] + list(chord.names)
    sus_names = names + ([SUS[offer.kind].above(chord.root)] if offer else [])
    right = _spelled(hand.first, sus_names)
    home = solved.hands[one.unknown]
    without = moved(_plain(solved, home, offer), one.shift + shift) if offer else hand.last
    plain = _spelled(without, names)
    last = _hand(solved, solved.timeline.at(before), shift).last if before is not None else None
    return replace(
        place,
        chord=chord,
        written=one.written,
        right=right,
        plain=plain,
        shape=shape(chord, plain, always=solved.scene.taste.easy),
        fingers=solved.fingers[one.unknown],
        left=_left(solved, one, shift, octave),
        inversion=inversion(chord, hand.first),
        movement=hand_movement(last, hand.first) if last else 0,
        moved=new_keys(last, hand.first) if last else 0,
        common=kept_keys(last, hand.first) if last else 0,
        suspension=_suspension(song, solved, near[one.unknown], shift, where, one, offer) if offer else None,
    )


def _plain(solved: Solved, hand: Candidate, offer: Offer) -> tuple[int, ...]:
    """Return the hand without its suspension: the suspended note back on the third."""
    if offer.resolve_after is not None:
        return hand.last
    key = suspended_key(hand, offer, solved.scene)
    return tuple(sorted(n - offer.step if n == key else n for n in hand.first))


def _left(solved: Solved, one: Printed, shift: int, octave: int) -> tuple[Pitch, ...]:
    """Spell the left hand. In another key for today the whole line moves with the song, and by an octave if it must."""
    assert one.unknown is not None
    notes = moved(solved.scene.lefts[one.unknown], one.shift + shift + octave)
    taste = solved.scene.taste
    if len(notes) > 1 and notes[0] < taste.left_octave_low:
        notes = notes[1:]  # an octave that would growl is left to its upper note
    return _spelled(notes, (one.chord.bass_name, *one.chord.names))


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


def _suspension(
    song: Song,
    solved: Solved,
    near: Neighbours,
    shift: int,
    where: ChordId,
    one: Printed,
    offer: Offer,
) -> Suspension:
    assert one.unknown is not None
    home = solved.hands[one.unknown]
    stands = standing(offer, home, solved.hands, near, solved.scene)
    key = suspended_key(home, offer, solved.scene) + one.shift + shift
    name = SUS[offer.kind].above(one.chord.root)
    section = song.sections[where[0]]
    bar, start = _resolution(section, one, offer.resolve_after)
    end: End = "colour"
    if offer.resolve_after is not None:
        end = "resolves" if stands.prepared else "colour"
    elif stands.prepared:
        end = "held over" if stands.held_over else "left"
    third = one.chord.member_on(3)
    assert third is not None
    return Suspension(
        kind=offer.kind,
        note=Pitch.at(key, name),
        prepared=stands.prepared,
        end=end,
        resolves_to=Pitch.at(key - offer.step, third.above(one.chord.root))
        if offer.resolve_after is not None
        else None,
        bar=bar,
        start=start,
        for_all=offer.for_all,
        reason=_reason(song, solved, where, one, offer, stands.prepared, stands.held_over, bar, start),
    )


def _resolution(section: Section, one: Printed, after: Fraction | None) -> tuple[int | None, Fraction | None]:
    if after is None:
        return None, None
    row, bar_index, place = one.row, one.bar_index, one.start + after
    while place >= section.rows[row].bars[bar_index].length:
        following = next_bar(section, row, bar_index)
        if following is None:
            break
        place -= section.rows[row].bars[bar_index].length
        row, bar_index = following
    return section.rows[row].bars[bar_index].number, place


def _reason(
    song: Song,
    solved: Solved,
    where: ChordId,
    one: Printed,
    offer: Offer,
    prepared: bool,
    held_over: bool,
    bar: int | None,
    start: Fraction | None,
) -> str:
    parts = []
    note = SUS[offer.kind].above(one.chord.root)
    if prepared:
        before = _symbols_before(song, solved, where)
        parts.append(f"prepared by the {note} of {' and '.join(before)}" if before else f"prepared by {note}")
    else:
        parts.append(f"{note} as a colour")
    if start is not None and bar is not None:
        section = song.sections[where[0]]
        meter = next(b.meter for b in section.bars if b.number == bar)
        place = f" of bar {bar}" if bar != one.bar else ""
        parts.append(f"resolves at beat {beats_text(start, meter.beat)}{place}")
    elif held_over:
        parts.append("stays as a note of the next chord")
    else:
        parts.append("moves on with the chord")
    if offer.singer_rests:
        parts.append("singer rests")
    if offer.for_all:
        parts.append("the guitar takes it too")
    return "; ".join(parts)


def _symbols_before(song: Song, solved: Solved, where: ChordId) -> list[str]:
    """Return the symbols of the chords heard just before a printed chord, as they stand in the song that sounds."""
    found: set[str] = set()
    for before, after in pairwise(solved.timeline.heard):
        if after.chord == where and not after.cut:
            section, index = before.chord
            written = _written(solved.timeline.printed[section][index], song.sections[section])
            chord = written.chord if written else None
            found.add(str(chord))
    return sorted(found)


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
    )
