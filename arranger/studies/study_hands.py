"""Make hands to practise: of chords as they are arranged, and of chords alone within the player's limits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.demands import held
from arranger.harmony.fingers import CHANGED, Fingers, changed, fingerings, inversion, strain
from arranger.harmony.model import Arrangement, ChordId, ChordPart
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import ASSUMED_QUARTERS
from arranger.harmony.voicings import OCTAVE, Voicing, bass_way, change_cost, hand_movement, voicings
from arranger.song.model import Facts, Tempo
from arranger.studies.model import StudyHand
from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName, Pitch

INVERSIONS = {
    "root": "root position",
    "first": "first inversion",
    "second": "second inversion",
    "third": "third inversion",
    "none": "another position",  # what lies lowest is no note of the triad, nor the seventh
}
LEAST_FIRST = 10**6  # a semitone of movement outweighs all that chooses among equal paths


class ArrangedSong(NamedTuple):
    """A song to practise, with its title as the page has it."""

    title: str
    arrangement: Arrangement

    def facts(self, section: int) -> Facts:
        """Return the facts of a section as it is played."""
        return self.arrangement.song.sections[section].facts

    def place(self, where: ChordId, alone: bool) -> str:
        """Return where a printed chord stands, in words; `alone`: no other song is practised with this one."""
        section = self.arrangement.song.sections[where[0]]
        place = f"{section.name}, bar {self.arrangement.chord(where).bar}"
        return place if alone else f"{self.title}: {place}"


def tempo_of(facts: Facts) -> Tempo:
    """Return a section's tempo; 80, which is reckoned with, where it has none of its own (`free`)."""
    tempo = facts.tempo
    if tempo is not None and tempo.bpm:
        return Tempo(tempo.text, tempo.bpm, tempo.unit)
    return Tempo(str(ASSUMED_QUARTERS), int(ASSUMED_QUARTERS))


def left_behind(part: ChordPart) -> StudyHand:
    """Return an arranged chord's hands as they are when the next chord comes."""
    kept = part.suspension is not None and part.suspension.resolves_to is None
    return _arranged(part, held(part), part.suggested if kept else "")


def gone_to(part: ChordPart) -> StudyHand:
    """Return an arranged chord's hands as they are struck."""
    return _arranged(part, part.right, part.suggested)


def _arranged(part: ChordPart, right: tuple[Pitch, ...], added: str) -> StudyHand:
    fingers = part.fingers if len(part.fingers) == len(right) else ()
    return StudyHand(part.chord, right, fingers, part.left, added, part.length, span=part.span)


def spelled(keys: Iterable[int], names: Sequence[NoteName]) -> tuple[Pitch, ...]:
    """Spell keys (MIDI) with the first name that each has."""
    by_class = {name.pitch_class: name for name in reversed(names)}
    return tuple(Pitch.at(key, by_class[key % OCTAVE]) for key in keys)


def bass_key(chord: Chord, taste: Taste) -> Pitch:
    """Return the left hand's one note for a chord practised alone: the lowest from the left hand's lowest key up."""
    name = chord.bass_name
    return Pitch.at(taste.left_low + (name.pitch_class - taste.left_low) % OCTAVE, name)


def close_hands(chord: Chord, taste: Taste, *, root_lowest: bool = False) -> tuple[Voicing, ...]:
    """Return the hands of a chord practised alone within the player's limits, over the left hand's one note.

    Of three keys and more; of fewer only where the chord has no others.
    """
    low = max(taste.low, bass_key(chord, taste).midi + taste.clear_of_left)
    found = voicings(chord, taste, low, taste.high, root_lowest=root_lowest)
    whole = tuple(v for v in found if len(v) >= min(3, len(chord.members)))
    return whole or found


def inversions_of(chord: Chord, hands: Sequence[Voicing], taste: Taste) -> dict[str, tuple[Voicing, ...]]:
    """Return for each inversion, in words, those of some hands, nearest first to where the player likes the hand."""
    target = 2 * taste.target_for(None)
    found: dict[str, tuple[Voicing, ...]] = dict.fromkeys(INVERSIONS.values(), ())
    for hand in sorted(hands, key=lambda v: (abs(v[0] + v[-1] - target), v)):
        found[INVERSIONS[inversion(chord, hand)]] += (hand,)
    return {name: some for name, some in found.items() if some}


def least_path(
    choices: Sequence[Sequence[Voicing]], start: Voicing, basses: Sequence[int], taste: Taste, *, closed: bool
) -> tuple[Voicing, ...]:
    """Return the path of least hand movement; among equals the one of least cost by the weights of `taste`.

    Args:
        choices: the hands of each chord after the first.
        start: the hand of the first chord.
        basses: the left hand's note on each chord, the first among them (MIDI).
        taste: weights, and where the hand is liked.
        closed: it comes back to the start, and the way back counts.
    """
    target = 2 * taste.target_for(None)

    def cost(one: Voicing, two: Voicing, bass: int) -> int:
        own = taste.register * 3 * abs(two[0] + two[-1] - target) // 6
        return LEAST_FIRST * hand_movement(one, two) + change_cost(one, two, bass_way(bass), taste) + own

    ways: dict[Voicing, tuple[int, tuple[Voicing, ...]]] = {start: (0, (start,))}
    for some, (low, high) in zip(choices, pairwise(basses), strict=True):
        ways = {
            hand: min((total + cost(last, hand, high - low), (*path, hand)) for last, (total, path) in ways.items())
            for hand in some
        }
    if closed:
        back = basses[0] - basses[-1]
        return min((total + cost(last, start, back), path) for last, (total, path) in ways.items())[1]
    return min(ways.values())[1]


def fingers_along(path: Sequence[Voicing]) -> tuple[Fingers, ...]:
    """Return a fingering for each hand of a path, the easiest over all of it; keys that stay keep their finger.

    A path that ends in the hand with which it begins goes round: both have the same fingers.
    """
    round_again = len(path) > 1 and path[0] == path[-1]
    found = []
    for start in fingerings(path[0]):
        ways: dict[Fingers, tuple[int, tuple[Fingers, ...]]] = {start: (strain(path[0], start), (start,))}
        for last, hand in pairwise(path):
            ways = {
                fingers: min(
                    (cost + CHANGED * changed(last, before, hand, fingers) + strain(hand, fingers), (*way, fingers))
                    for before, (cost, way) in ways.items()
                )
                for fingers in fingerings(hand)
            }
        found += [ways[start]] if round_again else list(ways.values())
    return min(found)[1]


def times_words(number: int) -> str:
    """Return how often something is heard, in words: `once`, `twice`, `12 times`."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def bar_length(facts: Facts) -> Fraction:
    """Return how long a hand lasts that is practised alone: a bar of its song."""
    return facts.meter.length


def place_in_bar(start: Fraction, beat: Fraction) -> str:
    """Return a place in a bar as players count it: `beat 4`, `beat 4&`; others in parts of a beat.

    >>> place_in_bar(Fraction(3), Fraction(1)), place_in_bar(Fraction(7, 2), Fraction(1))
    ('beat 4', '4&')
    """
    whole, rest = divmod(start / beat, 1)
    count = str(whole + 1)
    if not rest:
        return f"beat {count}"
    return f"{count}&" if rest == Fraction(1, 2) else f"{count} {rest}"
