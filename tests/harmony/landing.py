"""The rules of suspensions that land, stated once more from the songs alone, over songs made by chance.

    python -m tests.harmony.landing [HOW MANY] [SEED]

makes so many songs (2,000), takes as many suspensions as the rules allow in each, and prints how many there were, by
kind and end, and each that breaks a rule. 200 songs are in the tests. Nothing here asks the rooms how they know.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from arranger.harmony.arrange import work_out
from arranger.harmony.model import Arrangement, ChordPart, Suspension
from arranger.song.model import Section, Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.qualities import BY_NAME
from tests.harmony import songs

ALL = songs.TODAY._replace(suspensions=Fraction(1), suspensions_open_bars=0, octaves="none")
EAGER = ALL._replace(sus_any=-3000, sus_colour=0, sus_left=0, sus_clash=0)  # whatever the rules let through, it takes

# Chords on each degree of the scale, the plain ones oftener; with a chromatic third, and over other basses.
MAJOR = "1 1 1 1 2m 2m 3m 4 4 4 5 5 5 57 57 6m 6m 1/3 4/6 5/7 1/5 4/5 2m/5 2 3 37 6 4m 1/4 57/1 5sus4 57sus4"
MINOR = "1m 1m 1m 1m 2m7b5 3 3 4m 4m 5 5 57 57 5m 6 6 7 7 1m/3 3/5 5/7 4 1m/5 57sus4 57/1"
DEGREES = "1234567"
WORDS = ("la", "come home", "and then we", "lantern", "over the water", "so", "on, and")


class SongMaker:
    """Writes one song by chance. Mutable: it draws from its own stream of chance."""

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.key = Key.parse(chance.choice(["C", "G", "F", "Bb", "D", "A", "Eb", "Am", "Em", "Dm", "Gm", "Cm"]))
        self.meter = chance.choice(["4/4", "4/4", "4/4", "3/4", "2/2", "6/8", "2/4"])
        self.tunes = chance.choice([0.0, 0.6, 1.0, 1.0])  # how many of the rows have a tune
        self.sung = chance.random() < 0.7
        self.fast = chance.choice([1, 1, 2])  # chords a bar at most

    def chord(self) -> str:
        """Write a chord of the key, seldom early."""
        written = self.chance.choice((MINOR if self.key.minor else MAJOR).split())
        scale = list(self.key.scale)
        name, _, bass = written.partition("/")
        leading = self.key.minor and bass == "7"
        text = f"{scale[DEGREES.index(name[0])]}{name[1:]}"
        if bass:
            low = Chord(scale[4], BY_NAME[""]).names[1] if leading else scale[DEGREES.index(bass)]
            text += f"/{low}"
        return f"<{text}" if self.chance.random() < 0.05 else text

    def row(self, first: bool) -> list[str]:
        """Write a row of chords with what stands under it; lines often end in a cadence."""
        between = " / " if self.meter == "3/4" else " "
        bars = [between.join(self.chord() for _ in range(self.chance.randint(1, self.fast))) for _ in range(4)]
        scale, minor = self.key.scale, "m" if self.key.minor else ""
        end = self.chance.random()
        if end < 0.5:
            bars[2:] = [f"{scale[4]}{self.chance.choice(['', '7'])}", f"{scale[0]}{minor}"]
        elif end < 0.65:
            bars[3] = f"{scale[4]}{self.chance.choice(['', '7'])}"
        for index in (1, 2, 3):
            if self.chance.random() < 0.07:
                bars[index] = self.chance.choice(["%", "/", bars[index - 1]])
        if first:
            bars[0] = f"{scale[0]}{minor}"
        lines = [f"| {' | '.join(bars)} |"]
        if self.sung:
            lines.append(f"sing | {' | '.join(self.chance.choice(('', *WORDS)) for _ in bars)} |")
        if self.chance.random() < self.tunes:
            lines.append(f"tune | {' | '.join(self.tune(index == 0) for index in range(4))} |")
        return lines

    def tune(self, first: bool) -> str:
        """Write a bar of tune in felt beats, some of them two notes."""
        beats = {"4/4": 4, "3/4": 3, "2/2": 2, "6/8": 2, "2/4": 2}[self.meter]
        marks = [self.mark() for _ in range(beats)]
        if first:
            marks[0] = f"{self.key.scale[0]}4"
        return " ".join(marks)

    def mark(self) -> str:
        """Write a note, a rest, a note that goes on, or two short ones."""
        pick = self.chance.random()
        if pick < 0.35:
            return self.chance.choice(["/", "rest"])
        return f"({self.note()} {self.note()})" if pick < 0.55 else self.note()

    def note(self) -> str:
        """Write a note of the scale, seldom another."""
        if self.chance.random() < 0.15:
            return self.chance.choice(["C#", "Eb", "F#", "Ab", "Bb"]) + "4"
        return f"{self.chance.choice(self.key.scale)}4"

    def text(self) -> str:
        """Write the song."""
        tempo = {"2/2": "half ", "6/8": "dotted "}.get(self.meter, "") + str(self.chance.choice([50, 66, 84, 104]))
        band = self.chance.choice(["bass, guitar", "bass", "bass, drums, guitar"])
        lines = ["song Chance", f"key {self.key}", f"meter {self.meter}", f"tempo {tempo}", f"band {band}"]
        names = ["Verse", "Chorus", "Bridge"][: self.chance.randint(1, 3)]
        if self.chance.random() < 0.5:
            lines.append(f"roadmap {', '.join(self.chance.choice(names) for _ in range(4))}")
        for name in names:
            lines += ["", f"section {name}"]
            for number in range(self.chance.randint(1, 3)):
                lines += self.row(first=not number)
        return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class Found:
    """A suspension among all that is said of its song."""

    part: Arrangement
    section: int
    index: int
    chord: ChordPart
    suspension: Suspension

    @property
    def key(self) -> Key:
        return self.part.song.sections[self.section].facts.key

    @property
    def lasts(self) -> Fraction | None:
        """How long it sounds from the written beat, in quarters; None where it does not resolve."""
        one = self.suspension
        if one.bar is None or one.start is None:
            return None
        bars = self.part.song.sections[self.section].bars
        numbers = [b.number for b in bars]
        between = bars[numbers.index(self.chord.bar) : numbers.index(one.bar)]
        return sum((b.length for b in between), Fraction(0)) + one.start - self.chord.start

    @property
    def name(self) -> str:
        return f"{self.part.song.sections[self.section].name} bar {self.chord.bar} {self.chord.chord} {self.suspension}"


def suspensions_of(part: Arrangement) -> Iterator[Found]:
    for section, one in enumerate(part.sections):
        for index, chord in enumerate(one.chords):
            if chord.suspension is not None:
                yield Found(part, section, index, chord, chord.suspension)


def third_of(chord: Chord) -> int | None:
    """Semitones from the root to the third."""
    return next((i.semitones for i in chord.members if i.degree == 3), None)


def is_five(chord: Chord, key: Key) -> bool:
    """V: on the fifth degree, its third major or held back."""
    fifth = (key.tonic.pitch_class + 7) % 12
    return chord.root.pitch_class == fifth and third_of(chord) in (4, None)


def is_one(chord: Chord, key: Key) -> bool:
    return chord.root == key.tonic


def landings(found: Found) -> bool:
    """Whether a chord is the I of a cadence somewhere: after V, and only I follows to the end of its row."""
    part, chords = found.part, found.part.sections[found.section].chords
    row = [c for c in chords[found.index :] if c.row == found.chord.row and c.chord is not None]
    if not all(is_one(c.chord, found.key) for c in row if c.chord):
        return False
    here = (found.section, found.index)
    pairs = zip(part.heard, part.heard[1:], strict=False)
    return any(two.chord == here and is_five(part.chord(one.chord).chord, found.key) for one, two in pairs)  # type: ignore[arg-type]


def leads_home(found: Found) -> bool:
    """Whether a V goes to a I that only I follows to the end of its row, or ends its row itself."""
    part, chords = found.part, found.part.sections[found.section].chords
    last = found.index + 1 == len(chords) or chords[found.index + 1].row != found.chord.row
    if last:
        return True
    for one, two in zip(part.heard, part.heard[1:], strict=False):
        if one.chord != (found.section, found.index) or two.chord[0] != found.section:
            continue
        after = part.sections[two.chord[0]].chords[two.chord[1] :]
        row = [c for c in after if c.row == after[0].row and c.chord is not None]
        if all(is_one(c.chord, found.key) for c in row if c.chord):
            return True
    return False


def starts(found: Found) -> list[Fraction]:
    """Where a chord is played, in quarters from the start of its section: itself, and each `%` of its bar."""
    bars = found.part.song.sections[found.section].bars
    rows = found.part.song.sections[found.section].rows
    flat = sum(len(r.bars) for r in rows[: found.chord.row]) + found.chord.bar_index
    places = [flat]
    while places[-1] + 1 < len(bars) and bars[places[-1] + 1].repeats_last:
        places.append(places[-1] + 1)
    return [sum((b.length for b in bars[:p]), Fraction(0)) + found.chord.start for p in places]


def tune_of(section: Section) -> list[tuple[Fraction, Fraction, int | None]]:
    """All notes of the tune: start, end in quarters from the start of the section, MIDI number."""
    notes = []
    now = Fraction(0)
    for row in section.rows:
        for index, bar in enumerate(row.bars):
            for note in row.tune.bars[index] if row.tune is not None and index < len(row.tune.bars) else ():
                begin = now + note.start
                notes.append((begin, begin + note.length, note.pitch.midi if note.pitch else None))
            now += bar.length
    return notes


def sounding(found: Found, wanted: set[int]) -> Fraction:
    """How long the tune sounds some pitch classes while the suspended note does, at most, wherever it is played."""
    lasts = found.lasts if found.lasts is not None else found.chord.length
    push = found.chord.written.push if found.chord.written else Fraction(0)
    notes = tune_of(found.part.song.sections[found.section])
    totals = []
    for start in starts(found):
        inside = (
            max(Fraction(0), min(end, start + lasts) - max(begin, start - push))
            for begin, end, midi in notes
            if midi is not None and midi % 12 in wanted
        )
        totals.append(sum(inside, Fraction(0)))
    return max(totals)


def is_blind_and_sung(found: Found) -> bool:
    """Whether words begin with the chord's bar, no tune is written for them, and it begins in the bar's first half."""
    section = found.part.song.sections[found.section]
    row, bar = section.rows[found.chord.row], section.rows[found.chord.row].bars[found.chord.bar_index]
    words = any(p.text for line in row.words for p in line.bars[found.chord.bar_index].pieces)
    return row.tune is None and words and found.chord.start < bar.length / 2


def is_hymn(part: Arrangement) -> bool:
    """Whether there are more changes of chord than bars, and a tune in all rows that are sung (in all, if none is)."""
    song = part.song
    rows = [r for i in {s.section for s in song.roadmap} for r in song.sections[i].rows]
    sung = [r for r in rows if any(p.text for line in r.words for bar in line.bars for p in bar.pieces)]
    if not all(r.tune is not None for r in sung or rows):
        return False
    bars = sum((h.length / song.meter.length for h in part.heard), Fraction(0))
    pairs = zip(part.heard, part.heard[1:], strict=False)
    changes = 1 + sum(part.chord(a.chord).chord != part.chord(b.chord).chord for a, b in pairs)
    return changes > bars


def broken(found: Found) -> Iterator[str]:
    """Name the rules that a suspension breaks."""
    chord, kind, lasts, key = found.chord.chord, found.suspension.kind, found.lasts, found.key
    assert chord is not None and found.chord.written is not None
    third = third_of(chord)
    assert third is not None
    section = found.part.song.sections[found.section]
    bar = section.rows[found.chord.row].bars[found.chord.bar_index]
    felt = bar.meter.felt_beat
    if landings(found) and (lasts is None or 2 * lasts > found.chord.length):
        yield "open on the I of a cadence, or past its half"
    if kind == "sus4" and is_one(chord, key) and lasts is None:
        yield "a 4 on I is left or held over"
    if kind == "sus4" and is_five(chord, key):
        rest = section.rows[found.chord.row].bars[found.chord.bar_index :]
        left = sum((b.length for b in rest), Fraction(0)) - found.chord.start
        if leads_home(found) and (lasts is None or lasts >= left):
            yield "the 4 of a V at the end of a line is not resolved in it"
    if kind == "sus2" and third == 4 and is_five(chord, key) and leads_home(found):
        yield "a 2 on the V of a cadence"
    root = chord.root.pitch_class
    note = found.suspension.note.midi
    if sounding(found, {(root + third) % 12}) > 0:
        yield "the tune sounds the third"
    if sounding(found, {(note + 1) % 12, (note - 1) % 12}) >= felt:
        yield "the tune sounds a semitone from it for a beat"
    if is_blind_and_sung(found) and (kind, third) in (("sus4", 4), ("sus2", 3)):
        yield "a 4 over a sung major or a 2 over a sung minor chord, without a tune"
    in_scale = {n.pitch_class for n in key.scale}
    if (root + third) % 12 not in in_scale and not (key.minor and is_five(chord, key) and kind == "sus4" and lasts):
        yield "a chromatic third is taken away"
    if lasts is None and found.chord.length > bar.meter.length:
        yield "open for more than a bar"
    if lasts is None and is_hymn(found.part):
        yield "open in a hymn"
    for one, two in zip(found.part.heard, found.part.heard[1:], strict=False):
        if (found.section, found.index) in (one.chord, two.chord) and not two.cut:
            a, b = found.part.chord(one.chord).chord, found.part.chord(two.chord).chord
            if a is not None and b is not None and a.root == b.root:
                yield "on a chord that the song stays on"
    must = "guitar" in found.part.song.band and (kind, third) == ("sus4", 4) and (lasts is None or lasts > 2 * felt)
    if found.suspension.for_all != must:
        yield "told the guitarist for nothing, or not told"
    if found.chord.written.chord != chord:
        yield "not the song's own chord"


def made(seed: int, number: int) -> Song:
    """Make a song; the same seed and number make the same one."""
    text = SongMaker(random.Random((seed << 32) + number)).text()
    song, said = read(Source.of("chance", text))
    assert song is not None, (text, [d.message for d in said])
    return song


def run(seed: int, numbers: range) -> tuple[Counter[str], list[str]]:
    """Arrange songs made by chance; give how many suspensions of each kind there were, and the rules broken."""
    count: Counter[str] = Counter()
    faults = []
    for number in numbers:
        worked, _ = work_out(made(seed, number), EAGER, figures=False)
        assert worked is not None
        for found in suspensions_of(worked.arrangement):
            count[f"{found.suspension.kind} {found.suspension.end}"] += 1
            faults += [f"song {number}: {rule}: {found.name}" for rule in broken(found)]
    return count, faults


def main(words: list[str]) -> int:
    """Run and print the figures; give 1 where a rule is broken."""
    count, seed = int(words[0]) if words else 2000, int(words[1]) if len(words) > 1 else 1
    kinds, faults = run(seed, range(count))
    print(
        f"{count:,} songs, {kinds.total():,} suspensions ({', '.join(f'{n:,} {k}' for k, n in sorted(kinds.items()))})"
    )
    print(f"{len(faults)} against the rules")
    for fault in faults[:20]:
        print(fault)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
