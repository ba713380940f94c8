"""Figures of how full the keys play, refrain against verse, held against those of pianists in open data.

`python -m tests.harmony.arc_figures [SONGS]` measures all samples and so many generated songs (200) with an mp verse
and an f refrain, and prints each figure's median and range by who plays, with how many songs keep within the bounds.

The bounds are made from POP909 (Wang et al., ISMIR 2020): a refrain has 1.44 times the notes a bar of the first verse,
1.18 times the attacks, 1.14 times the notes an attack, and lies 0.6 semitones higher (medians of 813 songs). Its piano
has a bass of its own, as keys alone have; beside a bass player a verse has fewer notes to begin with, and more to grow.
"""

from __future__ import annotations

import random
import statistics
import sys
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from arranger.harmony.arrange import work_out
from arranger.harmony.measures import Figures, figures
from arranger.harmony.model import Arrangement
from arranger.harmony.textures import LEVELS
from arranger.song.model import Song
from arranger.song.players import plays_bass
from arranger.song.read import read
from arranger.text.source import Source

SAMPLES = Path(__file__).parents[2] / "samples"
SONGS = 200
SEED = 909
SHARE = Fraction(9, 10)  # of the songs are within the bounds
PITCH = 3  # semitones between the mean pitches of verse and refrain


class Bounds(NamedTuple):
    """From what to what a refrain's figure may be, as a share of the verse's."""

    notes: tuple[float, float]
    attacks: tuple[float, float]
    together: tuple[float, float]


BOUNDS = {
    "keys alone": Bounds((1.2, 1.7), (1.0, 1.4), (1.05, 1.4)),
    "with a bass player": Bounds((1.2, 2.6), (1.0, 2.0), (1.05, 1.4)),
    "with a bass player, verse held": Bounds((1.0, 99), (1.0, 99), (0, 99)),
}


class Measured(NamedTuple):
    """One song: who plays, and what its refrain has of its verse's figures; `pitch` is how much higher it lies."""

    name: str
    kind: str
    notes: float
    attacks: float
    together: float
    pitch: float

    @property
    def fits(self) -> bool:
        """Whether all of it is within the bounds."""
        pairs = zip((self.notes, self.attacks, self.together), BOUNDS[self.kind], strict=True)
        return all(low - 1e-9 <= value <= high + 1e-9 for value, (low, high) in pairs) and abs(self.pitch) <= PITCH


# --- songs ---------------------------------------------------------------------------------------------------------

METERS = (
    ("4/4", 12, (60, 132)),
    ("3/4", 3, (76, 132)),
    ("6/8", 3, (46, 76)),
    ("12/8", 1, (46, 70)),
    ("2/4", 1, (60, 110)),
)
KEYS = {  # I ii iii IV V vi, and I and V over their thirds
    "C": "C Dm Em F G Am C/E G/B",
    "D": "D Em F#m G A Bm D/F# A/C#",
    "Eb": "Eb Fm Gm Ab Bb Cm Eb/G Bb/D",
    "E": "E F#m G#m A B C#m E/G# B/D#",
    "F": "F Gm Am Bb C Dm F/A C/E",
    "G": "G Am Bm C D Em G/B D/F#",
    "Ab": "Ab Bbm Cm Db Eb Fm Ab/C Eb/G",
    "A": "A Bm C#m D E F#m A/C# E/G#",
    "Bb": "Bb Cm Dm Eb F Gm Bb/D F/A",
}
FOLLOWS = ((1, 3, 4, 5, 7), (3, 4), (3, 5), (0, 4, 6, 1), (0, 5, 3), (3, 1, 4, 7), (3, 1), (0, 5))
SEVENTH, TWO = 0.15, 0.2  # shares of chords with a seventh, and of bars with two chords


def song_text(chance: random.Random) -> str:
    """Return the text of a song with an mp verse and an f refrain."""
    meter, _, tempos = chance.choices(METERS, [weight for _, weight, _ in METERS])[0]
    key = chance.choice(list(KEYS))
    tempo = chance.randint(*tempos)
    band = chance.choice(("", "", "bass, drums, guitar", "bass", "bass and drums"))
    lines = ["song Made Up", f"key {key}", f"tempo {'dotted ' if meter.endswith('8') else ''}{tempo}", f"meter {meter}"]
    lines += [f"band {band}"] if band else []
    lines += ["roadmap Verse, Refrain, Verse, Refrain x2"]
    for name, level, start in (("Verse", "mp", 0), ("Refrain", "f", chance.choice((0, 3, 5)))):
        lines += [f"section {name}", f"dynamic {level}"]
        degree = start
        for _ in range(2):
            bars = []
            for _ in range(4):
                chords = []
                for _ in range(1 + (meter != "2/4" and chance.random() < TWO)):
                    chords.append(_chord(key, degree, chance))
                    degree = chance.choice(FOLLOWS[degree])
                bars.append((" / " if meter == "3/4" else " ").join(chords))
            lines += [f"| {' | '.join(bars)} |", "sing | la | la | la | la |"]
    return "\n".join(lines) + "\n"


def _chord(key: str, degree: int, chance: random.Random) -> str:
    name = KEYS[key].split()[degree]
    if "/" in name or chance.random() >= SEVENTH:
        return name
    return name + ("7" if name.endswith("m") or degree == 4 else "maj7")


def generated(count: int, seed: int = SEED) -> Iterator[tuple[str, Song]]:
    """Yield made-up songs by their numbers."""
    for number in range(count):
        yield f"{number}", song_of(song_text(random.Random(f"{seed}-{number}")))


def samples() -> Iterator[tuple[str, Song]]:
    """Yield the songs of the samples."""
    for path in sorted(SAMPLES.glob("*.song.txt")):
        yield path.stem, song_of(path.read_text(encoding="utf-8"))


def song_of(text: str) -> Song:
    """Return the song of a text that has no mistakes."""
    song, problems = read(Source("test", text))
    assert song is not None, problems
    return song


def arranged(song: Song) -> Arrangement:
    """Return the arrangement of a song."""
    worked, problems = work_out(song, figures=False)
    assert worked is not None, problems
    return worked.arrangement


# --- figures -------------------------------------------------------------------------------------------------------


def measured(name: str, arrangement: Arrangement) -> Measured | None:
    """Return the figures of the first f section against those of the first mp section; None without the two.

    Sections that come in different ways are compared as they come first.
    """
    sections = arrangement.song.sections
    levels = [section.facts.dynamic.text if section.facts.dynamic else "" for section in sections]
    if "mp" not in levels or "f" not in levels or "f" not in levels[levels.index("mp") :]:
        return None
    verse, refrain = levels.index("mp"), levels.index("f", levels.index("mp"))
    if not any(row.words for row in sections[verse].rows):
        verse = next((i for i, s in enumerate(sections) if levels[i] == "mp" and any(r.words for r in s.rows)), verse)
    one, two = (_first_time(arrangement, index) for index in (verse, refrain))
    kind = "keys alone"
    if plays_bass(arrangement.sections[verse].band):
        held = arrangement.sections[verse].play == "held"
        kind = f"with a bass player{', verse held' if held else ''}"
    return Measured(name, kind, *_against(one, two), float(two.mean_pitch - one.mean_pitch))


def _first_time(arrangement: Arrangement, index: int) -> Figures:
    first = next(bar for bar in arrangement.bars if bar.section == index)
    bars = [bar for bar in arrangement.bars if (bar.step, bar.time) == (first.step, first.time)]
    return figures(arrangement, first.at, bars[-1].at + bars[-1].length)[0][index]


def _against(one: Figures, two: Figures) -> tuple[float, float, float]:
    pairs = [(one.notes_a_bar, two.notes_a_bar), (one.attacks_a_bar, two.attacks_a_bar)]
    pairs += [(one.notes_an_attack, two.notes_an_attack)]
    notes, attacks, together = (float(b / a) for a, b in pairs)
    return notes, attacks, together


def thin_hands(arrangement: Arrangement) -> list[str]:
    """Return where a hand has under three keys from `light` on, though neither pins nor limits ask for it."""
    found = []
    for section, part in zip(arrangement.song.sections, arrangement.sections, strict=True):
        if not part.texture or any(word == LEVELS[0] for word in part.texture.split()):
            continue
        for chord in part.chords:
            pinned = chord.written is not None and chord.written.pins
            whole = chord.chord is not None and len(chord.chord.pitch_classes) > 2  # a power chord has two notes
            if chord.chord is not None and len(chord.right) < 3 and whole and not pinned:
                found.append(f"{section.name}, bar {chord.bar}: {chord.chord} is {len(chord.right)} keys")
    return found


def main(count: int) -> int:
    """Measure and print; return 1 where the bounds are not kept, or a hand is thin."""
    groups: dict[str, list[Measured]] = defaultdict(list)
    thin, songs = [], 0
    for of, source in (("samples", samples()), ("generated", generated(count))):
        for name, song in source:
            arrangement = arranged(song)
            songs += 1
            thin += [f"{of} {name}: {place}" for place in thin_hands(arrangement)]
            found = measured(f"{of} {name} {song.meter}", arrangement)
            if found:
                groups[found.kind].append(found)
    every = [one for some in groups.values() for one in some]
    for kind, some in sorted(groups.items()):
        print(f"{kind}: {sum(one.fits for one in some)} of {len(some)} songs within the bounds")
        for field in ("notes", "attacks", "together", "pitch"):
            values = sorted(getattr(one, field) for one in some)
            print(f"  {field:10} median {statistics.median(values):5.2f}, from {values[0]:5.2f} to {values[-1]:5.2f}")
        for one in some:
            if not one.fits:
                print(f"  outside: {one.name}: notes {one.notes:.2f}, attacks {one.attacks:.2f}, ", end="")
                print(f"together {one.together:.2f}, pitch {one.pitch:+.1f}")
    fit = sum(one.fits for one in every)
    print(f"in all: {fit} of {len(every)}; hands under three keys from `light` on: {len(thin)} in {songs} songs")
    for place in thin:
        print(f"  {place}")
    return int(bool(thin) or fit < SHARE * len(every))


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else SONGS))
