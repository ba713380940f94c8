"""Find how a section is played: in which rhythm, what the pad holds, and when there is time to switch to its sound.

Takes sections with their worked-out chords; gives words, held notes and places. A pad is given notes only where it has
keys of its own: a split in the song (`pad / piano split C4`) or in the player's settings. Common practice, no source;
what is smooth is measured (`theory.roughness`).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache

from arranger.harmony.arc import BarPlan, SectionPlan, split_of
from arranger.harmony.model import BarManner, ChordPart, Heard, PadNote, SectionPart, SoundChange
from arranger.harmony.patterns import known_manner
from arranger.harmony.textures import COMPOUND, COMPOUND_ALONE, MANNERS, MANNERS_ALONE, STEPS
from arranger.harmony.timeline import felt_beats_a_minute, seconds
from arranger.harmony.voicings import OCTAVE
from arranger.song.model import Facts, Meter, Section, Song
from arranger.song.players import has_drums
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch
from arranger.theory.roughness import roughness_of

BALLAD = 76  # felt beats a minute up to which held chords carry a song
LOUD = ("f", "ff", "fff", "sfz")
QUIET = ("ppp", "pp", "p")
ROLLED = ("broken", "rolling")  # as soft as one likes
EIGHTH = Fraction(1, 2)  # in quarters
LONG = {"halves": 2, "dotted halves": 3}  # in quarters
FASTEST = Fraction(1, 5)  # seconds between two strokes of one hand; as between two attacks of a fill


def manner(song: Song, section: Section, plan: SectionPlan) -> str:
    """Return how a section is played: a manner of `patterns.WORDS`, or the writer's own words.

    By the texture where there is one; `halves to quarters` where it rises.
    """
    facts = section.facts
    if facts.play is not None:
        return facts.play.value
    bars = [bar for row in plan.rows for bar in row if bar.texture is not None]
    if bars:
        if changes_with_the_beat(section):
            return "held"
        ends = [manner_at(bar, facts, busier=plan.busier) for bar in (bars[0], bars[-1])]
        return " to ".join(dict.fromkeys(ends))
    if _is_compound(facts.meter):
        return "broken"
    level = facts.dynamic.level if facts.dynamic else None
    if level in LOUD:
        return "quarters"
    if felt_beats_a_minute(facts, facts.meter.felt_beat) <= BALLAD:
        return "held"
    return "held" if has_drums(facts.band) else "quarters"


def manner_at(bar: BarPlan, facts: Facts, *, busier: bool = False) -> str:
    """Return how the hands strike a bar that has a texture, where the song does not say: `held`, `dotted quarters`.

    Where nobody plays bass the keys keep the beat. A later verse is struck busier, but never busier than a refrain.
    """
    texture, meter = bar.texture or "light", facts.meter
    compound = _is_compound(meter)
    table = (COMPOUND if compound else MANNERS) if bar.bass_player else (COMPOUND_ALONE if compound else MANNERS_ALONE)
    level = facts.dynamic.level if facts.dynamic else None
    found = "held" if texture == "light" and level in QUIET and table[texture] not in ROLLED else table[texture]
    if busier and found in STEPS and table["full"] in STEPS:
        found = STEPS[min(STEPS.index(found) + 1, max(STEPS.index(found), STEPS.index(table["full"])))]
    if found in LONG and meter.length % LONG[found]:
        found = "held"  # a bar of three beats has no two halves
    if found == "eighths" and seconds(EIGHTH, facts) < FASTEST:
        found = table["full"]
    return found


def bar_manners(section: Section, plan: SectionPlan, words: str) -> tuple[tuple[BarManner, ...], ...]:
    """Return, for each row, how each of its bars is struck; `words` are the manner of the section."""
    by_texture = section.facts.play is None and not changes_with_the_beat(section)

    @cache  # most bars of a section are planned alike
    def one(bar: BarPlan) -> BarManner:
        if by_texture and bar.texture is not None:
            return BarManner(manner_at(bar, section.facts, busier=plan.busier), bar.bass_player)
        return BarManner(known_manner(words), bar.bass_player)

    return tuple([tuple(map(one, row)) for row in plan.rows])


def changes_with_the_beat(section: Section) -> bool:
    """Return whether a section is a hymn's: its tune is written, and most of its chords last a felt beat or less.

    Both hands strike each as it comes: a pattern would pass over basses, or chatter between them.
    """
    if all(row.tune is None for row in section.rows):
        return False
    beats = [mark.length <= bar.meter.felt_beat for bar in section.bars for mark in bar.marks if mark.chord is not None]
    return 2 * sum(beats) > len(beats)


def _is_compound(meter: Meter) -> bool:
    return meter.unit == 8 and meter.beats in (6, 9, 12)


SEMITONES = (1, 11)
FIFTH = 7  # semitones
CONSONANT = (3, 4, 5, 7, 8, 9)  # semitones between two held notes
_Played = tuple[ChordPart, Chord]  # a chord with its hands, and its name


def may_hold(pitch_class: int, chord: Chord) -> bool:
    """Return whether a note may lie over a chord: never a semitone from its third or from an altered note.

    A major seventh above the root is allowed; any other semitone against the root, or against the fifth, is not.
    """
    for member in chord.members:
        apart = (pitch_class - chord.root.pitch_class - member.semitones) % OCTAVE
        if apart not in SEMITONES:
            continue
        if member.degree == 1 and apart == OCTAVE - 1:
            continue
        return False
    bass = (pitch_class - chord.bass_name.pitch_class) % OCTAVE
    return bass not in SEMITONES or bass == OCTAVE - 1


def pad_notes(section: Section, chords: Sequence[ChordPart], split: int | None) -> tuple[PadNote, ...]:
    """Return the notes to hold, each from its place on; as few changes as can be, and the least rough of equals.

    They lie in the octave beside the split, on the side of the pad's sound, on keys that neither hand strikes.
    """
    at, pad_hand = split_of(section.facts.sound, split)
    played = [(c, c.chord) for c in chords if c.chord is not None]
    if at is None or not pad_hand or not played:
        return ()
    low = at - OCTAVE if pad_hand == "left" else at
    found: list[PadNote] = []
    start = 0
    while start < len(played):
        end, notes = _longest(played, start, low, section.facts.key)
        if notes:
            here = played[start][0]
            found += [_pad_note(section, here, n) for n in notes]
            start = end
        else:
            start += 1
    return tuple(found)


def _longest(played: Sequence[_Played], start: int, low: int, key: Key) -> tuple[int, tuple[int, ...]]:
    """Return how far the best note from a chord on may lie, and it alone or with a second that lies as far.

    Of those that lie as far the fifth or the tonic of the key comes first, then the least rough.
    """
    tonic = key.tonic.pitch_class
    first = (tonic, (tonic + FIFTH) % OCTAVE)
    reach = {n: _reach(played, start, n) for n in range(low, low + OCTAVE)}
    end = max(reach.values())
    if end == start:
        return start, ()
    stretch = played[start:end]
    able = sorted(
        (n for n, far in reach.items() if far == end), key=lambda n: (n % OCTAVE not in first, _rough(stretch, (n,)), n)
    )
    one = able[0]
    pairs = [n for n in able[1:] if abs(n - one) in CONSONANT and _rough(stretch, (one, n)) <= PAIR * len(stretch)]
    return end, tuple(sorted((one, *pairs[:1])))


# Mean roughness (Hutchinson-Knopoff) that a second held note may add up to: that of a close minor triad with a
# seventh, which nobody hears as harsh on a pad.
PAIR = 0.25


def _reach(played: Sequence[_Played], start: int, note: int) -> int:
    end = start
    while end < len(played) and may_hold(note % OCTAVE, played[end][1]) and not _struck(note, played[end][0]):
        end += 1
    return end


def _struck(note: int, part: ChordPart) -> bool:
    return any(pitch.midi == note for pitch in (*part.left, *part.right, *part.plain))


def _rough(stretch: Sequence[_Played], notes: tuple[int, ...]) -> float:
    """Return the roughness of held notes with both hands, summed over a stretch of chords."""
    hands = [tuple(sorted({*notes, *(p.midi for p in c.plain + c.left)})) for c, _ in stretch]
    return sum(roughness_of(keys) for keys in hands)


def _pad_note(section: Section, part: ChordPart, midi: int) -> PadNote:
    return PadNote(Pitch.at(midi, section.facts.key.spelled(midi % OCTAVE)), part.bar, part.start)


TIME_NEEDED = Fraction(3, 2)  # seconds to let go, press, and be back
LOOK_BACK = 4  # chords before the section in which a place is looked for: earlier ones want the old sound


def sound_changes(song: Song, parts: Sequence[SectionPart], heard: Sequence[Heard]) -> dict[int, SoundChange]:
    """Return, for each section, where the player can switch to its sound when it first comes after another sound.

    The place is the last chord before it, of the last few, that is long enough to leave it; else the longest of them.
    """
    found: dict[int, SoundChange] = {}
    for index, here in enumerate(heard):
        before = heard[index - 1] if index else None
        if before is None or before.step == here.step or here.chord[0] in found:
            continue
        section = song.sections[here.chord[0]]
        if _text(section) == _text(song.sections[before.chord[0]]) or not _text(section):
            continue
        options = [h for h in heard[max(0, index - LOOK_BACK) : index] if h.step == before.step]
        timed = [(_time_until(song, h, _end(heard, h, index)), h) for h in options]
        enough = [(time, h) for time, h in timed if time >= TIME_NEEDED]
        time, at = enough[-1] if enough else max(timed, key=lambda pair: pair[0])
        part = parts[at.chord[0]].chords[at.chord[1]]
        found[here.chord[0]] = SoundChange(_text(section), at.chord, part.bar, part.start, time, bool(enough))
    return found


def _text(section: Section) -> str:
    return section.facts.sound.text if section.facts.sound else ""


def _end(heard: Sequence[Heard], one: Heard, until: int) -> Fraction:
    """Return when the next chord is struck, in quarters from the start."""
    return next((h.at for h in heard[: until + 1] if h.at > one.at), one.at + one.length)


def _time_until(song: Song, one: Heard, end: Fraction) -> Fraction:
    return seconds(end - one.at, song.sections[one.chord[0]].facts)
