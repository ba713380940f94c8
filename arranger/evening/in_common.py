"""Find what two keys and two tempi have in common: notes, what a pad may hold, ways by chords, note values.

All of it is reckoned from the scales and triads, none looked up. Notes are compared by sound and named as the new key
names them. What a pivot is: Wikipedia, "Common chord (music)"; which ways are better is common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

from arranger.evening.model import KeyWay
from arranger.harmony.lead_ins import dominant_of
from arranger.song.model import Meter, Tempo
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import BY_NAME

OCTAVE = 12
SEMITONES = (1, 11)
MAJOR, MINOR = BY_NAME[""], BY_NAME["m"]
TRIAD = {(4, 7): MAJOR, (3, 7): MINOR}  # semitones of third and fifth above a root

# The degrees of the new key, in semitones above its tonic, on which a pivot stands, the best first: what prepares the V
# (ii and IV, iv in minor), then what is neutral, last the tonic itself, which comes too early.
PIVOT_DEGREES = {False: (2, 5, 9, 4, 0), True: (5, 8, 3, 10, 0)}
FOURTH = Interval(4, 5)


def tonic_triad(key: Key) -> Chord:
    """Return the triad on a key's tonic."""
    return Chord(key.tonic, MINOR if key.minor else MAJOR)


def triads(key: Key, *, with_dominant: bool = False) -> tuple[Chord, ...]:
    """Return the major and minor triads of a key's scale (natural minor), from the tonic up.

    Args:
        key: the key.
        with_dominant: with the major V of a minor key too.
    """
    scale = key.scale
    found = []
    for number, root in enumerate(scale):
        third, fifth = scale[(number + 2) % 7], scale[(number + 4) % 7]
        steps = tuple((name.pitch_class - root.pitch_class) % OCTAVE for name in (third, fifth))
        if steps in TRIAD:
            found.append(Chord(root, TRIAD[steps]))
    return (*found, dominant_of(key)) if with_dominant and key.minor else tuple(found)


def _classes(names: tuple[NoteName, ...]) -> frozenset[int]:
    return frozenset(name.pitch_class for name in names)


def common_scale_notes(one: Key, two: Key) -> tuple[NoteName, ...]:
    """Return the notes that two keys' scales share, in the order of the second scale.

    >>> [len(common_scale_notes(Key.parse("C"), Key.parse(key))) for key in ("C", "G", "D", "A", "E", "B", "F#")]
    [7, 6, 5, 4, 3, 2, 2]
    """
    known = _classes(one.scale)
    return tuple(name for name in two.scale if name.pitch_class in known)


def common_triad_notes(one: Key, two: Key) -> tuple[NoteName, ...]:
    """Return the notes that two keys' tonic triads share.

    >>> [[str(name) for name in common_triad_notes(Key.parse("C"), Key.parse(key))] for key in ("Eb", "Ab", "D")]
    [['G'], ['C'], []]
    """
    known = tonic_triad(one).pitch_classes
    return tuple(name for name in tonic_triad(two).names if name.pitch_class in known)


def pad_choices(one: Key, two: Key) -> tuple[NoteName, ...]:
    """Return the notes that a pad may hold through two keys: in both scales, no semitone from either tonic triad.

    Those of both tonic triads come first, then the tonic and the fifth of the new key, then those of the old.
    """
    struck = tonic_triad(one).pitch_classes | tonic_triad(two).pitch_classes
    clear = [
        name
        for name in common_scale_notes(one, two)
        if not any((name.pitch_class - other) % OCTAVE in SEMITONES for other in struck)
    ]
    both = [name.pitch_class for name in common_triad_notes(one, two)]
    liked = [*both, *((key.tonic.pitch_class + step) % OCTAVE for key in (two, one) for step in (0, 7))]
    order = {pitch_class: place for place, pitch_class in reversed(list(enumerate(liked)))}
    return tuple(sorted(clear, key=lambda name: order.get(name.pitch_class, len(liked))))


def pivots(one: Key, two: Key) -> tuple[Chord, ...]:
    """Return the triads that stand in both keys, as the second spells them.

    >>> [str(chord) for chord in pivots(Key.parse("G"), Key.parse("D"))]
    ['D', 'Em', 'G', 'Bm']
    """
    known = {chord.pitch_classes for chord in triads(one)}
    return tuple(chord for chord in triads(two) if chord.pitch_classes in known)


def ways(one: Key, two: Key) -> tuple[KeyWay, ...]:
    """Return the ways from one key to another by two chords at most, best first; none between keys that sound alike.

    A pivot and the new key's V, for each pivot that is not that V itself. Where there is none: by a note that both
    tonic triads have, held alone, and by the V alone, with what it has of the old tonic triad held.
    """
    if (one.tonic.pitch_class, one.minor) == (two.tonic.pitch_class, two.minor):
        return ()
    dominant = dominant_of(two)
    order = PIVOT_DEGREES[two.minor]
    found = []
    for chord in pivots(one, two):
        step = (chord.root.pitch_class - two.tonic.pitch_class) % OCTAVE
        if step in order:
            sounding = chord.pitch_classes == tonic_triad(one).pitch_classes  # it is there already
            found.append((sounding, order.index(step), KeyWay((chord, dominant), pivot=True)))
    if found:
        return tuple(way for *_, way in sorted(found, key=lambda each: each[:2]))
    held = common_triad_notes(one, two)
    alone = (KeyWay((), held[0]),) if held else ()
    names = (*dominant.names, FOURTH.above(dominant.root))
    through = [name for name in names if name.pitch_class in tonic_triad(one).pitch_classes]
    return (*alone, KeyWay((dominant,), through[0] if through else None))


def vamp(key: Key) -> tuple[Chord, Chord]:
    """Return two chords to go on under somebody who speaks: the tonic and the fourth degree, which share the tonic.

    >>> [str(chord) for chord in vamp(Key.parse("Dm"))]
    ['Dm', 'Gm']
    """
    return tonic_triad(key), Chord(FOURTH.above(key.tonic), MINOR if key.minor else MAJOR)


# Tempi. Our own rule: what is nearer than 3 % is felt as the same.
NEAR = Fraction(3, 100)
_VALUES = {
    Fraction(1, 4): "sixteenth", Fraction(1, 2): "eighth", Fraction(3, 4): "dotted eighth", Fraction(1): "quarter",
    Fraction(3, 2): "dotted quarter", Fraction(2): "half", Fraction(3): "dotted half", Fraction(4): "whole",
}  # fmt: skip


def _is_compound(meter: Meter) -> bool:
    return meter.felt_beat == Fraction(3, 2)


def _near(quotient: Fraction, wanted: Fraction) -> bool:
    return abs(quotient / wanted - 1) <= NEAR


def tempo_relation(old: Tempo | None, old_meter: Meter, new: Tempo | None, new_meter: Meter) -> str:
    """Return what of the old tempo the new one is, in words; empty where that is nothing simple, or one is free.

    Felt beats are compared: as quick (within 3 %), twice or half as quick; three to two between a simple and a compound
    meter.

    >>> tempo_relation(Tempo("72", 72), Meter(4, 4), Tempo("dotted 72", 72, Fraction(3, 2)), Meter(6, 8))
    'the old quarter is the new dotted quarter'
    """
    before, after = old and old.quarters_a_minute, new and new.quarters_a_minute
    if not before or not after:
        return ""
    one, two = old_meter.felt_beat, new_meter.felt_beat
    quotient = (after / two) / (before / one)
    if _near(quotient, Fraction(1)):
        return "the tempo stays" if one == two else _is_now(one, two)
    if _near(quotient, Fraction(2)):
        return _is_now(one, two * 2) or _is_now(one / 2, two)
    if _near(quotient, Fraction(1, 2)):
        return _is_now(one * 2, two) or _is_now(one, two / 2)
    if _is_compound(old_meter) == _is_compound(new_meter):
        return ""
    if _near(quotient, Fraction(3, 2)):
        return _is_now(one / 3, two / 2) if _is_compound(old_meter) else "three new beats in the time of two old ones"
    if _near(quotient, Fraction(2, 3)):
        return _is_now(one / 2, two / 3) if _is_compound(new_meter) else "two new beats in the time of three old ones"
    return ""


def _is_now(old: Fraction, new: Fraction) -> str:
    """Return that an old note value is a new one, in words; empty where one has no name."""
    if old == new and old in _VALUES:
        return f"the {_VALUES[old]} stays"
    return f"the old {_VALUES[old]} is the new {_VALUES[new]}" if old in _VALUES and new in _VALUES else ""
