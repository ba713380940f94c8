"""Set the thin rows between two songs of a book: at the foot of one how it leads on, over the next what was before.

Hands stand as pictures, or as letters where the part has letters or notes; beside them what has to be known, in the
order in which it is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from arranger.evening.model import EveningBreak, EveningSong, KeyWay, SongEnd, SongJoin
from arranger.layout import style
from arranger.layout.content.margin_text import key_words, sound_words, tempo_words
from arranger.layout.content.pictures import LEFT, OCTAVE_BELOW, in_octaves, marks, shown_range, white_count
from arranger.layout.model import Item, Keyboard, KeyMark, Line
from arranger.layout.pages.around import PlacedRow, RowBuilder
from arranger.layout.pages.head_and_foot import SEPARATOR
from arranger.layout.text import Metrics, Run, place, printed_name, printed_shape, runs, width_of, wrap
from arranger.song.model import Meter, Tempo
from arranger.song.running_order import Onward
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName, Pitch

Piece = tuple[Run, ...]
UNDER, OVER = "leads on", "comes from"  # roles of the items of the two rows
ARROW = " → "
RULE_GAP = 4.0  # between the rule and the row
PICTURES_GAP = 14.0  # between two pictures, and before the text
PICTURES_SHARE = 0.55  # of the width, that pictures may take; wider ones are letters
LABEL_GAP = 2.5
MOST_COUNTED = 12  # beats of a bar that are counted out
FEW_NOTES = 4  # common notes of two scales that are listed


class RowLook(NamedTuple):
    """How rows are set: the size of type and the way from line to line (pt); hands as pictures or letters; patches."""

    size: float
    leading: float
    pictures: bool
    patches: Mapping[str, str]


class _Hand(NamedTuple):
    """A hand of the way: the chord over it, the keys with what moves, the left hand's notes."""

    chord: str
    right: tuple[Pitch, ...]
    played: tuple[KeyMark, ...]
    left: tuple[Pitch, ...]


def foot_row(join: SongJoin, look: RowLook, metrics: Metrics) -> RowBuilder:
    """Return the row under the song that ends."""

    def build(left: float, width: float) -> PlacedRow:
        return _row(hands_between(join), _foot_pieces(join, look, metrics), look, metrics, (left, width), over=True)

    return build


def brief(join: SongJoin) -> str:
    """Return how a song leads on in few words: `attacca → 5 Slow Boats, B♭ major`."""
    return f"{_goes_on(join.onward, join.breaks)}{ARROW}{named(join.after)}, {key_words(join.after.first.key)}"


def briefest(join: SongJoin) -> str:
    """Return the same in the fewest words: `attacca → 5`."""
    return f"{onward_words(join.onward)}{ARROW}{join.after.number}"


def head_row(join: SongJoin, look: RowLook, metrics: Metrics) -> RowBuilder:
    """Return the row over the song that begins."""

    def build(left: float, width: float) -> PlacedRow:
        hands = hands_between(join) if join.goes_on else ()
        return _row(hands, _head_pieces(join, look, metrics), look, metrics, (left, width), over=False)

    return build


def hands_between(join: SongJoin) -> tuple[_Hand, ...]:
    """Return the hands from the last of a song to the first of the next; that one alone where a hand is free."""
    first = join.after.first
    if not join.goes_on or join.before is None:
        return tuple(_chain([(first.chord, first.right, first.left)]))
    last = join.before.last
    between = [(str(one.chord), one.right, one.left) for one in join.written]
    return tuple(_chain([_taken(last), *between, _taken(first)]))


def _taken(end: SongEnd) -> tuple[str, tuple[Pitch, ...], tuple[Pitch, ...]]:
    return end.chord, end.right, end.left


def _chain(taken: Sequence[tuple[str, tuple[Pitch, ...], tuple[Pitch, ...]]]) -> Iterable[_Hand]:
    before: tuple[int, ...] = ()
    for chord, right, left in taken:
        keys = tuple(pitch.midi for pitch in right)
        yield _Hand(chord, right, marks(before, keys), left)
        before = keys or before


# Words.


def onward_words(onward: Onward) -> str:
    """Return how something goes on, in words: `attacca`, `pad holds`, `talk 30 s`, `stop`."""
    if onward.kind == "talk":
        return f"talk {onward.seconds} s"
    return "pad holds" if onward.kind == "pad" else onward.kind


def then_words(onward: Onward) -> str:
    """Return how something goes on, as the running order has it."""
    return f"then {onward.kind}{f' {onward.seconds} s' if onward.kind == 'talk' else ''}"


def count_words(tempo: Tempo | None, meter: Meter) -> str:
    """Return the count before a song: the felt beats of a bar; nothing where the tempo is free.

    >>> count_words(Tempo("dotted 56", 56), Meter(6, 8)), count_words(None, Meter(4, 4))
    ('count 1 2', '')
    """
    beats = meter.length / meter.felt_beat
    if tempo is None or tempo.bpm is None or beats.denominator != 1 or beats > MOST_COUNTED:
        return ""
    return f"count {' '.join(str(number + 1) for number in range(int(beats)))}"


def tempo_and_count(tempo: Tempo | None, meter: Meter) -> str:
    """Return the tempo of a song with its count: `♩ = 72, count 1 2 3 4`."""
    return ", ".join(filter(None, (tempo_words(tempo) if tempo is not None else "", count_words(tempo, meter))))


def chord_words(chord: Chord) -> str:
    """Return a chord's name as it is printed: `B♭m7`."""
    return printed_shape(str(chord))


def way_words(way: KeyWay) -> str:
    """Return a way by chords: a pivot, and the V with its 4 that resolves: `Em, Asus4 A`."""
    if not way.chords:
        return f"hold {printed_name(way.held)}"
    *pivot, dominant = map(chord_words, way.chords)
    held = f" over a held {printed_name(way.held)}" if way.held is not None else ""
    return ", ".join([*pivot, f"{dominant}sus4 {dominant}"]) + held


def _names(names: Iterable[NoteName]) -> str:
    return " ".join(map(printed_name, names))


def _goes_on(onward: Onward, breaks: Sequence[EveningBreak]) -> str:
    parts = [onward_words(onward)]
    for one in breaks:
        parts += [one.text, *([onward_words(one.onward)] if one.onward.written else [])]
    return SEPARATOR.join(parts)


def named(song: EveningSong) -> str:
    """Return a song with its number."""
    return f"{song.number} {song.title}"


def _foot_pieces(join: SongJoin, look: RowLook, metrics: Metrics) -> list[Piece]:
    """Return what stands at the foot of the song that ends, in the order in which it is needed."""
    after = join.after
    bold = (f"{_goes_on(join.onward, join.breaks)}{ARROW}{named(after)}", key_words(after.first.key))
    plain = [tempo_and_count(after.first.tempo, after.first.meter), join.tempo, *_pad(join), *_ways(join)]
    if join.call and after.first.sound is not None:
        plain.append(f"sound: {sound_words(after.first.sound, look.patches)}, {join.call_time}")
    if after.first.bars:
        plain.append(f"the keys enter after {after.first.bars} bar{'' if after.first.bars == 1 else 's'}")
    return [*_set(bold, "bold", look, metrics), *_set(plain, "regular", look, metrics)]


def _head_pieces(join: SongJoin, look: RowLook, metrics: Metrics) -> list[Piece]:
    """Return what stands over the song that begins: from what it comes."""
    assert join.before is not None
    bold = (f"after {named(join.before)}", _goes_on(join.onward, join.breaks))
    plain = [count_words(join.after.first.tempo, join.after.first.meter), join.tempo]
    if join.call and join.after.first.sound is not None:
        plain.append(f"sound: {sound_words(join.after.first.sound, look.patches)}")
    return [*_set(bold, "bold", look, metrics), *_set(plain, "regular", look, metrics)]


def _set(texts: Iterable[str], face: str, look: RowLook, metrics: Metrics) -> list[Piece]:
    return [runs(text, "bold" if face == "bold" else "regular", look.size, metrics) for text in texts if text]


def _pad(join: SongJoin) -> list[str]:
    """Return what stays: common notes, what the pad holds, what is played under somebody who speaks."""
    if join.before is None:
        return []
    said = []
    if join.triads:
        said.append(f"in both chords: {_names(join.triads)}")
    elif 0 < len(join.scales) <= FEW_NOTES:
        said.append(f"in both keys: {_names(join.scales)}")
    kinds = {join.onward.kind, *(one.onward.kind for one in join.breaks)}
    if "pad" in kinds and join.goes_on:
        said.append(
            f"pad: {printed_name(join.pad)}" if join.pad is not None else "pad: no note fits both keys, it moves"
        )
    elif join.pad is not None and "talk" not in kinds:
        said.append(f"a pad may hold {printed_name(join.pad)}")
    if join.vamp:
        chords = " ".join(map(chord_words, join.vamp))
        said.append(f"under the talk: {chords}, bare, pad {printed_name(join.vamp_pad)}")
    return said


def _ways(join: SongJoin) -> list[str]:
    """Return the way by chords: those of the set; else the best that is offered."""
    if join.written:
        chords = " ".join(chord_words(one.chord) for one in join.written)
        return [f"by {chords}"]
    if not join.ways or join.before is None:
        return []
    way, others = join.ways[0], join.before.others or join.after.others
    return [f"all: {way_words(way)}, if agreed" if others and way.chords else f"way: {way_words(way)}"]


# Setting.


def _row(
    hands: Sequence[_Hand],
    pieces: list[Piece],
    look: RowLook,
    metrics: Metrics,
    across: tuple[float, float],
    over: bool,
) -> PlacedRow:
    """Set a row: pictures at its left, the pieces beside them in as many lines as they need; with a rule."""
    (left, width), role = across, UNDER if over else OVER
    shown = [hand for hand in hands if hand.right]
    items: list[Item] = []
    top, x, low = (RULE_GAP if over else 0.0), left, 0.0
    pictures = _pictures(shown, (left, top), role, look, metrics) if look.pictures else None
    if pictures is not None and pictures[1] - left <= PICTURES_SHARE * width:
        placed, x, low = pictures
        items += placed
    elif shown:
        pieces = [*pieces[:1], _letters(shown, look, metrics), *pieces[1:]]
    y = top
    for line in _lines(pieces, left + width - x, look, metrics):
        y += look.leading
        items += place(line, x, y - metrics.descent("regular", look.size), role)
    bottom = max(low, y)
    rule = 0.0 if over else bottom + RULE_GAP
    items.append(Line(left, rule, left + width, rule, style.HAIR, role, style.LINE_GREY))
    return PlacedRow(tuple(items), bottom + (0.0 if over else 2 * RULE_GAP))


def _lines(pieces: Sequence[Piece], width: float, look: RowLook, metrics: Metrics) -> list[list[Run]]:
    """Break pieces into lines: between two of them, and inside one that is wider than a line."""
    apart = runs(SEPARATOR, "regular", look.size, metrics)
    lines: list[list[Run]] = []
    for piece in pieces:
        if not piece:
            continue
        if lines and width_of(lines[-1]) + width_of(apart) + width_of(piece) <= width:
            lines[-1] += (*apart, *piece)
        elif width_of(piece) <= width:
            lines.append(list(piece))
        else:
            text = "".join(run.text for run in piece)
            lines += [
                list(runs(part, piece[0].face, look.size, metrics))
                for part in wrap(text, piece[0].face, look.size, width, metrics)
            ]
    return lines


def _left(hand: _Hand) -> str:
    if in_octaves(hand.left):
        return f"{LEFT} {printed_name(hand.left[0].name.plain())} {OCTAVE_BELOW}"
    names = " ".join(printed_name(pitch.name.plain()) for pitch in hand.left)
    return f"{LEFT} {names}" if names else ""


def _letters(hands: Sequence[_Hand], look: RowLook, metrics: Metrics) -> Piece:
    """Set hands as letters: what moves is bold, what stays is light."""
    parts: list[Run] = []
    for number, hand in enumerate(hands):
        if number:
            parts += runs(ARROW, "regular", look.size, metrics)
        for place_of, (pitch, mark) in enumerate(zip(hand.right, hand.played, strict=True)):
            face = "regular" if mark.kind == "held" else "bold"
            dot = "·" if place_of else ""
            parts += runs(dot, "regular", look.size, metrics) if dot else ()
            parts += _set((printed_name(pitch.name.plain()),), face, look, metrics)[0]
        left = _left(hand)
        parts += runs(f" {left}", "regular", look.size, metrics) if left else ()
    return tuple(parts)


def _pictures(
    hands: Sequence[_Hand], corner: tuple[float, float], role: str, look: RowLook, metrics: Metrics
) -> tuple[list[Item], float, float] | None:
    """Place the pictures; return them with where the text begins and how far down they reach."""
    if not hands:
        return None
    left, top = corner
    keys = {mark.key for hand in hands for mark in hand.played}
    low, high = shown_range(sorted(keys))
    key_width, height = style.KEY_WIDTHS[-1], style.KEY_HEIGHT_LEAST
    wide = white_count(low, high) * key_width
    small = style.SMALL
    y = top + metrics.rise("B♭", "bold", look.size) + LABEL_GAP
    below = y + height + LABEL_GAP + metrics.rise("B", "regular", small)
    items: list[Item] = []
    x = left
    for number, hand in enumerate(hands):
        if number:
            arrow = runs("→", "regular", look.size, metrics)
            items += place(arrow, x - PICTURES_GAP + (PICTURES_GAP - width_of(arrow)) / 2, y + height * 0.6, role)
        label = runs(printed_shape(hand.chord), "bold", look.size, metrics)
        items += place(label, x, y - LABEL_GAP - 1.0, role)
        items.append(Keyboard(x, y, low, high, key_width, height, hand.played, role=role))
        items += place(runs(_left(hand), "regular", small, metrics), x, below, role)
        x += max(wide, width_of(label)) + PICTURES_GAP
    return items, x, below + metrics.descent("regular", small)
