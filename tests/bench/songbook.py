"""Two hundred songs of verses, refrain and bridge, as text, always the same: what the counting of pages is made on.

They differ in what decides how many pages a song needs: verses (1 to 5), how long sections are, how many letters a bar
sings, whether there is a bridge, whether further verses are `like` the first or written out, and whether rows of a
section come again. Chords are common ones of the key; words are strung together from a list of our own.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import NamedTuple

SEED = 20_261_130
COUNT = 200
LETTERS_SHORT, LETTERS_LONG = (4, 12), (14, 26)  # that a bar sings: held notes, or a line told
BARS = 4  # in a row

TEXT = """
a an and at by do go he I in it me my no of on or so the to up we all and are bay bell bird blue boat bread bright calm
candle cold come dark day deep door down dust early echo ember every fall far field fire for from garden glow gold grey
ground harbour heart hill hold home hour house into kettle ladder lamp land lantern late leaf light linger little long
low meadow mill mine moon morning near never night north oar old open orchard over paper path quiet rain river road roof
rope rye sail salt sand shore silver sing sleep slow snow song south spring star stay stone summer table tall tell that
there thin tide town under valley wall water way west when where while wind window winter wood year yellow you
"""
WORDS = tuple(TEXT.split())

# Degrees of a major key, each with what follows the name; rows are such fours, as in songs of many kinds.
FOURS = (
    ("1", "5", "6m", "4"), ("1", "6m", "4", "5"), ("6m", "4", "1", "5"), ("4", "1", "5", "6m"), ("1", "4", "1", "5"),
    ("1", "1/3", "4", "5"), ("4", "5", "6m", "6m"), ("2m7", "5", "1", "6m"), ("1", "3m", "4", "5sus4 5"),
    ("4", "5/7", "6m", "1"), ("2m", "4", "1", "5"), ("6m", "3m", "4", "5"), ("1", "5/7", "6m 5", "4"),
    ("4maj7", "3m7", "2m7", "5"), ("1", "2m", "4", "1"), ("6m", "5", "4", "4 5"),
)  # fmt: skip
KEYS = {
    "C": "C D E F G A B", "D": "D E F# G A B C#", "E": "E F# G# A B C# D#", "F": "F G A Bb C D E",
    "G": "G A B C D E F#", "A": "A B C# D E F# G#", "Bb": "Bb C D Eb F G A", "Eb": "Eb F G Ab Bb C D",
}  # fmt: skip


class Made(NamedTuple):
    """A song of the book: its name, its text, how many verses it has."""

    name: str
    text: str
    verses: int


def songbook(count: int = COUNT, seed: int = SEED) -> Iterator[Made]:
    """Yield so many songs; each depends on the seed and its number alone."""
    for number in range(count):
        yield _Writer(random.Random(f"{seed} {number}"), number).song()


class _Writer:
    """Writes one song."""

    def __init__(self, chance: random.Random, number: int) -> None:
        self.chance = chance
        self.number = number
        self.key = chance.choice(list(KEYS))
        self.letters = chance.choice((LETTERS_SHORT, LETTERS_LONG))
        self.verses = number % 5 + 1
        self.loops = chance.random() < 0.4  # rows of a section come again

    def song(self) -> Made:
        chance, name = self.chance, f"Song {self.number + 1}"
        verse, refrain = self._rows(chance.choice((2, 2, 3, 4))), self._rows(chance.choice((2, 2, 3, 4)))
        bridge = self._rows(chance.choice((1, 2))) if chance.random() < 0.6 else ()
        copies = chance.random() < 0.6
        names = [f"Verse {number}" for number in range(1, self.verses + 1)]
        steps = [step for name in names for step in (name, "Chorus")]
        steps = ["Intro", *steps, *(["Bridge", "Chorus x2 (build)"] if bridge else []), "Ending"]
        lines = [
            f"song    {name}",
            f"key     {self.key}",
            f"tempo   {chance.randrange(60, 132, 4)}",
            "band    bass, drums, guitar",
            f"roadmap {', '.join(steps)}",
            "",
            *self._section("Intro", [verse[0]], "p", sung=False),
            *self._section("Verse 1", verse, "mp"),
            *self._section("Chorus", refrain, "f"),
        ]
        for number, name in enumerate(names[1:], 2):
            level = "mf" if number == self.verses else "mp"
            lines += self._section(name, verse, level, like="Verse 1" if copies else "")
        if bridge:
            lines += self._section("Bridge", bridge, "mf")
        lines += self._section("Ending", [(*verse[-1][:3], self._chord("1"))], "p", sung=False)
        return Made(f"{self.number + 1:03}", "\n".join(lines) + "\n", self.verses)

    def _rows(self, count: int) -> tuple[tuple[str, ...], ...]:
        """Return rows of chords: all alike, or in pairs, where the section is a loop."""
        some = [self._four() for _ in range(self.chance.choice((1, 2)) if self.loops else count)]
        return tuple(some[place % len(some)] for place in range(count))

    def _four(self) -> tuple[str, ...]:
        return tuple(" ".join(map(self._chord, bar.split())) for bar in self.chance.choice(FOURS))

    def _chord(self, degree: str) -> str:
        """Return the chord of a degree in the key: `6m` is Bm in D, `1/3` D/F#."""
        scale = KEYS[self.key].split()
        root, _, bass = degree.partition("/")
        return scale[int(root[0]) - 1] + root[1:] + (f"/{scale[int(bass) - 1]}" if bass else "")

    def _section(
        self, name: str, rows: list[tuple[str, ...]] | tuple[tuple[str, ...], ...], level: str, like: str = "",
        sung: bool = True,
    ) -> list[str]:  # fmt: skip
        lines = [f"section {name}", *([f"like    {like}"] if like else []), f"dynamic {level}"]
        for row in rows:
            lines += [] if like else [f"| {' | '.join(row)} |"]
            lines += [f"sing | {' | '.join(self._words() for _ in row)} |"] if sung else []
        return [*lines, ""]

    def _words(self) -> str:
        """Return what a bar sings: as many letters as the song's bars have, more or less."""
        least, most = self.letters
        wanted, text = self.chance.randint(least, most), ""
        while len(text) < wanted:
            text = f"{text} {self.chance.choice(WORDS)}" if text else self.chance.choice(WORDS)
        return text if len(text) <= most or " " not in text else text.rpartition(" ")[0]
