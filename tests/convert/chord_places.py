"""Measure how many chords are laid over the right word and syllable, where a typist's columns are not exact.

    python -m tests.convert.chord_places [HOW MANY] [SEED]

Lines of words, some of which songs shorten (`ev'ry`, `'til`, `waitin'`), are typed with chords in several habits: to
the column; now and then one or two columns beside; a whole line that has slipped; words shortened after the chords
stood over the full ones. What a typist means is known, so each chord of the converted song is right or not. How parts
of words are sung is our own list, by ear.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from dataclasses import dataclass

from arranger.convert.conversion import convert
from arranger.song.read import read
from arranger.text.source import Source
from tests.convert.typing_out import found

# The full word and the one that is sung, in syllables; one form where none is shortened.
PAIRS = (
    "ev-er-y ev'-ry", "un-til 'til", "be-cause 'cause", "o-ver o'er", "and an'", "wait-ing wait-in'",
    "a-round 'round", "heav-en heav'n", "wan-der-ing wand'-ring", "I_am I'm", "you_are you're", "it_is it's",
    "them 'em", "nev-er ne'er", "flow-er flow'r", "go-ing_to gon-na", "be-neath 'neath", "of_the o'the",
)  # fmt: skip
PLAIN = (
    "to-night the a I for of in my on win-dow rain light home boat salt wind bell down bread road lamp late slow "
    "friend lan-terns har-bour gar-den sum-mer a-way a-cross moun-tain sil-ver stone some-bod-y no-bod-y morn-ing"
)
WORDS = tuple(PLAIN.split())
CHORDS = ("G", "D", "Em", "C", "Am", "D7", "Bm", "G/B")
HABITS = ("exact", "a column beside", "two columns beside", "slipped", "shortened later")


@dataclass(frozen=True, slots=True)
class Word:
    """A word: its syllables as sung, and as they were typed first."""

    sung: tuple[str, ...]
    first: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A typed sheet, with the letters before each chord and those before each word, and the line of each chord."""

    text: str
    chords: tuple[int, ...]
    words: tuple[int, ...]
    lines: tuple[int, ...]


def _word(chance: random.Random) -> Word:
    if chance.random() < 0.3:
        full, short = (tuple(form.replace("_", " ").split("-")) for form in chance.choice(PAIRS).split())
        return Word(short, full)
    plain = tuple(chance.choice(WORDS).split("-"))
    return Word(plain, plain)


def _letters(text: str) -> int:
    return sum(c.isalnum() for c in text)


def typed(chance: random.Random, habit: str) -> Sheet:
    """Make a sheet in a habit."""
    lines = ["Low Tide", "Key: G", "", "Verse 1"]
    chords: list[int] = []
    words: list[int] = []
    typed_in: list[int] = []
    letters = 0
    for _ in range(4):
        row, text = "", ""
        full = ""
        slip = chance.choice((-2, -1, 1, 2)) if habit == "slipped" else 0
        for place in range(chance.randint(6, 9)):
            word = _word(chance)
            text, full = (text + " " if place else text), (full + " " if place else full)
            words.append(letters)
            begins = len(text)
            for inside, syllable in enumerate(word.sung):
                often = 0.12 if inside else 0.85 if place == 0 else 0.35
                free = len(row) + 1 if row else 0
                base = len(full) if habit == "shortened later" else len(text)
                column = base + _beside(chance, habit, base, inside) + (slip if base + slip >= 0 else 0)
                wanted = chance.random() < often or (not row and place > 3)
                if wanted and column >= free and column < begins + 12:
                    row = row.ljust(column) + chance.choice(CHORDS)
                    chords.append(letters)
                    typed_in.append(len(lines) + 1)
                text += syllable
                full += word.first[inside] if inside < len(word.first) else ""
                letters += _letters(syllable)
            full += "".join(word.first[len(word.sung) :])
        lines += [row, text] if row else [text]
    return Sheet("\n".join(lines) + "\n", tuple(chords), tuple(words), tuple(typed_in))


def _beside(chance: random.Random, habit: str, base: int, inside: int) -> int:
    if habit == "a column beside" and chance.random() < 0.4:
        return chance.choice((-1, 1)) if base and not inside else 0
    if habit == "two columns beside" and chance.random() < 0.3:
        return chance.choice((-2, -1, 1, 2)) if base > 1 and not inside else 0
    return 0


def measured(sheet: Sheet) -> Counter[str]:
    """Convert a sheet; count chords, those over the right word and syllable, and rows.

    A row with a chord over a wrong word is told where a `# check` stands at that very row, else untold; a row that has
    one though its chords stand over their words has a needless one.
    """
    made, _ = convert(Source.of("sheet.txt", sheet.text))
    counts: Counter[str] = Counter(chords=len(sheet.chords))
    if made is None:
        return counts
    song, problems = read(Source.of("made.song.txt", made.text))
    assert song is not None, problems
    places: list[int] = []
    letters = 0
    for chord, text in (token for _, tokens in found(song) for token in tokens):
        if chord is not None:
            places.append(letters)
        letters += _letters(text)
    if len(places) != len(sheet.chords):
        return counts
    starts = (*sheet.words, letters + 1)

    def word_of(place: int) -> int:
        return max(i for i, start in enumerate(starts) if start <= place)

    wrong: Counter[int] = Counter()
    for wanted, place, line in zip(sheet.chords, places, sheet.lines, strict=True):
        counts["word"] += word_of(wanted) == word_of(place)
        counts["syllable"] += wanted == place
        wrong[line] += word_of(wanted) != word_of(place)
    checked = {note.line for note in made.notes if note.kind == "check"}
    for line, count in wrong.items():
        told = line in checked or line + 1 in checked  # at its chords or its words
        counts["rows"] += 1
        counts["told"] += count > 0 and told
        counts["untold"] += count > 0 and not told
        counts["untold chords"] += 0 if told else count
        counts["needless"] += not count and told
    return counts


def measure(count: int, seed: int) -> dict[str, Counter[str]]:
    """Measure some sheets in each habit."""
    totals: dict[str, Counter[str]] = {}
    for habit in HABITS:
        totals[habit] = Counter()
        for number in range(count):
            totals[habit].update(measured(typed(random.Random(f"{seed}/{habit}/{number}"), habit)))
    return totals


def report(totals: dict[str, Counter[str]]) -> list[str]:
    """Put the shares in words, habit by habit and in all."""
    lines = []
    for habit, counts in (*totals.items(), ("in all", sum(totals.values(), Counter()))):
        word, syllable = (100 * counts[what] / max(counts["chords"], 1) for what in ("word", "syllable"))
        lines.append(
            f"{habit}: {counts['chords']:,} chords, {word:.1f} % over the right word, {syllable:.1f} % syllable; "
            f"{counts['rows']:,} rows, {counts['told']} wrong and told, {counts['untold']} wrong and untold, "
            f"{counts['needless']} right with a needless check"
        )
    return lines


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    results = measure(*numbers, *(200, 1)[len(numbers) :])
    print("\n".join(report(results)))
    print({habit: dict(counts) for habit, counts in results.items()})
