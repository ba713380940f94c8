"""How long an edit takes to new pages, beside the same from nothing, measured side by side in one run.

    python -m tests.bench.edits

A song of 80 printed chords and one of 320 are edited ten times each, as who writes one does: a word, a title, a cue; a
chord. Each edit is taken from its text to the bytes of its PDF, once with what this process has settled before and once
with that forgotten. Given is CPU time, the median over the edits; the goal is for edits of words.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from statistics import median

from arranger.harmony.settled import forget as forget_hands
from arranger.layout.setting.known_bars import KEPT
from arranger.pipeline import Wishes, to_arrangement, to_part, to_song
from arranger.text.source import Source

EDITS = 10
GOALS = {80: (45, 20), 320: (500, 200)}  # milliseconds: committed, stretch
CHORDS = ("C", "F", "G", "Am", "Dm7", "G7", "C/E", "Fmaj7", "Em", "Am7", "F/A")
WORDS = ("river", "over", "low", "lantern", "salt", "and", "evening", "home", "again", "we", "carry", "slowly")
WISHES = Wishes(figures=False)  # as `arranger part` has it


def song(chords: int) -> str:
    """Make the text of a song of 20 chords a section."""
    chance = random.Random(chords)
    lines = ["song A Song of Edits", "key C", "tempo 76"]
    for section in range(chords // 20):
        lines.append(f"section Part {section + 1}")
        lines.append("cue softly")
        for _ in range(2):
            bars = [f"{chance.choice(CHORDS)} {chance.choice(CHORDS)}" for _ in range(5)]
            lines.append(f"| {' | '.join(bars)} |")
            words = [f"{chance.choice(WORDS)} {chance.choice(WORDS)} * {chance.choice(WORDS)}" for _ in range(5)]
            lines.append(f"sing | {' | '.join(words)} |")
    return "\n".join([*lines, ""])


def words_of(text: str) -> Iterator[str]:
    """Return texts that are each a word, the title or a cue away from the one before."""
    chance = random.Random(1)
    for number in range(EDITS):
        if number % 3 == 0:
            text = text.replace("song A", f"song A{number}", 1)
        elif number % 3 == 1:
            text = text.replace("cue soft", f"cue very {number} soft", 1)
        else:
            old = chance.choice(WORDS)
            text = text.replace(f" {old} ", f" {old}, ", 1)
        yield text


def chords_of(text: str) -> Iterator[str]:
    """Return texts that are each a chord away from the one before."""
    chance = random.Random(2)
    lines = text.split("\n")
    rows = [number for number, line in enumerate(lines) if line.startswith("|")]
    for number in range(EDITS):
        row = chance.choice(rows)
        marks = lines[row].split(" ")
        marks[1] = ("Dm", "Bb", "E7", "A", "Gsus4")[number % 5]
        lines[row] = " ".join(marks)
        yield "\n".join(lines)


def pages(text: str) -> bytes:
    """Take a text to the bytes of its PDF."""
    read, problems = to_song(Source.of("edits.song.txt", text))
    assert read is not None, problems
    arrangement, _ = to_arrangement(read, WISHES)
    assert arrangement is not None
    part, problems = to_part(arrangement, WISHES)
    assert part is not None, problems
    return part.pdf


def forget() -> None:
    """Drop what was settled before."""
    forget_hands()
    KEPT.forget()


def processor(text: str) -> tuple[float, bytes]:
    """Return the CPU milliseconds of an edit, and its PDF."""
    start = time.process_time()
    made = pages(text)
    return 1000 * (time.process_time() - start), made


def measure(text: str, edits: Callable[[str], Iterator[str]]) -> tuple[float, float]:
    """Return the median of the edits of a song with what was settled before, and without."""
    kept, anew = [], []
    before = text
    for after in edits(text):
        forget()
        alone = processor(after)
        forget()
        pages(before)
        following = processor(after)
        assert following[1] == alone[1], "an edit gives other pages than the same song from nothing"
        anew.append(alone[0])
        kept.append(following[0])
        before = after
    return median(kept), median(anew)


def main() -> None:
    """Print an edit's time for each length of song, and its ratio to the same from nothing."""
    pages(song(80))  # loads fonts and compiles patterns
    print(f"{'an edit to new pages':34}{'ms':>8}{'from nothing':>14}{'ratio':>8}   goal, stretch")
    for chords, goals in GOALS.items():
        text = song(chords)
        for what, edits in (("words", words_of), ("a chord", chords_of)):
            kept, anew = measure(text, edits)
            row = f"{chords} chords, {what}"
            print(f"{row:34}{kept:8.1f}{anew:14.1f}{kept / anew:8.2f}   {goals[0]}, {goals[1]}")


if __name__ == "__main__":
    main()
