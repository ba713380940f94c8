"""The strokes of a part in time: each chord as it is heard, struck as the manner of its bars is (`patterns`).

Takes an Arrangement, or one chord with its bars; gives strokes, with the keys of each. Common practice, no source.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import Literal, NamedTuple

from arranger.harmony.model import Arrangement, ChordPart, Heard, HeardBar
from arranger.harmony.patterns import HELD, IN_TURN, PARTS, Part, Stroke, pattern
from arranger.harmony.voicings import OCTAVE
from arranger.song.model import Bar

STOPPED = Fraction(1, 2)  # quarters that a chord sounds which is cut (`stop`): an eighth
TENTH_CLEAR = 3  # semitones between a roll and the right hand: a minor third, as between the hands everywhere
_TURNS = frozenset(PARTS[letter] for letter in IN_TURN)


class BarInTime(NamedTuple):
    """A bar as it is heard: when it begins, how long it is (quarters from the start of the song), how it is struck."""

    at: Fraction
    length: Fraction
    strokes: tuple[Stroke, ...]
    held: bool


class Struck(NamedTuple):
    """Keys (MIDI, lowest first) that one hand strikes together: when, in quarters from the start, and how long."""

    at: Fraction
    length: Fraction
    hand: Literal["right", "left"]
    keys: tuple[int, ...]


def struck(
    part: ChordPart, at: Fraction, length: Fraction, bars: Sequence[BarInTime], resolves: Fraction | None = None
) -> tuple[Struck, ...]:
    """Return the strokes of a chord as it is heard, in order of time.

    It is struck where it begins, before its bar where it is pushed, and then as its bars are struck until it ends.
    Chords with `hold` and `stop` are struck once. A hand that plays its notes in turn begins anew with the chord.

    Args:
        part: the chord with its hands.
        at: when it is struck, in quarters from the start of the song; a push is in it.
        length: how long it sounds, in quarters.
        bars: the bars in which it sounds, in order, the first the one in which it is written.
        resolves: when its suspension goes to its resolution; None where it has none.
    """
    found: list[Struck] = []
    for right in (True, False):
        for start, lasting, which, turn in _in_time(part, at, length, bars, right=right):
            if right:
                found += _right(part, start, lasting, which, turn, resolves)
            elif part.left:
                found.append(Struck(start, lasting, "left", _left_keys(part, which)))
    return tuple(sorted(found))


class _Moment(NamedTuple):
    start: Fraction
    length: Fraction
    part: Part
    turn: int  # the place among the strokes of its hand that are played in turn, from 0


def _in_time(
    part: ChordPart, at: Fraction, length: Fraction, bars: Sequence[BarInTime], *, right: bool
) -> Iterator[_Moment]:
    """Yield the strokes of one hand in time."""
    whole: Part = "right hand" if right else "left hand"
    signs = part.written.manner if part.written else ()
    if "stop" in signs or "hold" in signs:
        yield _Moment(at, min(length, STOPPED) if "stop" in signs else length, whole, 0)
        return
    end, nominal = at + length, bars[0].at + part.start
    moments: list[tuple[Fraction, Fraction, Part, int]] = []
    for number, bar in enumerate(bars):
        own = [stroke for stroke in bar.strokes if stroke.is_right == right]
        anew = number == 0 and at != bar.at  # it begins inside its bar, or before it
        in_turn = any(stroke.part in _TURNS for stroke in own)
        if anew and in_turn:
            moments += _turns(own, at, bar.at + bar.length)
            continue
        if anew or (bar.held and not (number and bars[number - 1].held)):
            begins = bar.at if number else at
            moments.append((begins, end - begins, whole, 0))
        if bar.held:
            continue
        after = nominal if anew else bar.at - 1
        moments += [m for m in _turns(own, bar.at, bar.at + bar.length) if m[0] > after]
    moments = [m for m in moments if at <= m[0] < end]
    if not moments:  # the hand waits for a beat that the chord does not reach
        return
    for (start, lasting, which, turn), following in zip(moments, [*(m[0] for m in moments[1:]), end], strict=True):
        yield _Moment(start, min(lasting, following - start, end - start), which, turn)


def _turns(own: Sequence[Stroke], at: Fraction, end: Fraction) -> list[tuple[Fraction, Fraction, Part, int]]:
    found, turn = [], 0
    for stroke in own:
        if at + stroke.start < end:
            found.append((at + stroke.start, stroke.length, stroke.part, turn))
            turn += stroke.part == "next key"
    return found


def _right(
    part: ChordPart, start: Fraction, length: Fraction, which: Part, turn: int, resolves: Fraction | None
) -> Iterator[Struck]:
    """Yield what the right hand strikes: where a suspension resolves meanwhile, the one key goes to the other."""
    first, last = ([p.midi for p in pitches] for pitches in (part.right, part.plain))
    if not first:
        return
    if resolves is None or resolves >= start + length:
        yield Struck(start, length, "right", _right_keys(first, which, turn))
    elif resolves <= start:
        yield Struck(start, length, "right", _right_keys(last, which, turn))
    else:
        before, after = _right_keys(first, which, turn), _right_keys(last, which, turn)
        groups = (
            (start, length, set(before) & set(after)),
            (start, resolves - start, set(before) - set(after)),
            (resolves, start + length - resolves, set(after) - set(before)),
        )
        for begins, lasts, keys in groups:
            if keys:
                yield Struck(begins, lasts, "right", tuple(sorted(keys)))


def _right_keys(keys: Sequence[int], which: Part, turn: int) -> tuple[int, ...]:
    if which == "next key":
        there_and_back = [*keys, *keys[-2:0:-1]]
        return (there_and_back[turn % len(there_and_back)],)
    if which == "lower keys":
        return tuple(keys[:-1] or keys)
    return tuple(keys)


def _left_keys(part: ChordPart, which: Part) -> tuple[int, ...]:
    keys = tuple(p.midi for p in part.left)
    if which == "left hand":
        return keys
    if which == "highest note":
        return keys[-1:]
    if which == "lowest note":
        return keys[:1]
    return (rolled(part, which),)


def rolled(part: ChordPart, which: Part) -> int:
    """Return the key of a roll over the left hand's lowest note (MIDI), always clear of the right hand.

    The fifth is the note of the chord that lies nearest to one. The tenth is played in root position only; where it
    is not to be had, the octave is played again, and without that the fifth and the lowest note.
    """
    assert part.chord is not None
    low = part.left[0].midi
    highest = min((p.midi for p in (*part.right, *part.plain)), default=low + 3 * OCTAVE) - TENTH_CLEAR
    places = [n for n in range(low + 5, low + 10) if n % OCTAVE in part.chord.pitch_classes]
    fifth = min(places, key=lambda n: (abs(n - low - 7), n), default=low)
    fifth = fifth if fifth <= highest else low
    octave = low + OCTAVE if low + OCTAVE <= highest else None
    if which == "fifth":
        return fifth
    if which == "octave":
        return fifth if octave is None else octave
    third = part.chord.member_on(3)
    tenth = low + OCTAVE + third.semitones if third is not None else highest + 1
    if part.chord.bass_name == part.chord.root and tenth <= highest:
        return tenth
    return low if octave is None else octave


# --- of a whole part -------------------------------------------------------------------------------------------------


def written_bar(arrangement: Arrangement, bar: HeardBar) -> Bar:
    """Return the bar of the song that is heard."""
    return arrangement.song.sections[bar.section].rows[bar.row].bars[bar.bar_index]


def all_struck(arrangement: Arrangement) -> Iterator[tuple[Heard, tuple[Struck, ...]]]:
    """Yield each chord as it is heard, with its strokes in time."""
    bars = [_bar(arrangement, bar) for bar in arrangement.bars]
    first = 0
    for number, heard in enumerate(arrangement.heard):
        part = arrangement.chord(heard.chord)
        # Its own beat: nothing comes before the start of the song.
        begins = heard.at + (part.written.push if part.written and number else 0)
        while bars[first].at + bars[first].length <= begins:
            first += 1
        sounding = tuple(_until(bars, first, heard.at + heard.length))
        resolves = resolves_after(arrangement, heard, part)
        yield heard, struck(part, heard.at, heard.length, sounding, None if resolves is None else begins + resolves)


def _until(bars: list[BarInTime], first: int, end: Fraction) -> Iterable[BarInTime]:
    yield bars[first]
    for bar in bars[first + 1 :]:
        if bar.at >= end:
            return
        yield bar


def _bar(arrangement: Arrangement, bar: HeardBar) -> BarInTime:
    strokes = pattern(bar.how.manner, written_bar(arrangement, bar).meter, bass_player=bar.how.bass_player)
    return BarInTime(bar.at, bar.length, strokes, bar.how.manner == HELD)


def resolves_after(arrangement: Arrangement, heard: Heard, part: ChordPart) -> Fraction | None:
    """Return how long after its own beat a chord's suspension resolves, in quarters; None where it does not."""
    suspension = part.suspension
    if suspension is None or suspension.bar is None or suspension.start is None:
        return None
    bars = arrangement.song.sections[heard.chord[0]].bars
    between = sum((bar.length for bar in bars if part.bar <= bar.number < suspension.bar), Fraction(0))
    return between + suspension.start - part.start
