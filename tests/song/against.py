"""Compares how songs are read here with how another checkout of the program reads them, to the last place.

    python -m tests.song.against CHECKOUT [HOW MANY] [SEED]

The samples and goldens come first. Then three inputs of four are those of `tests.fuzz`: songs by the rules with slips
strewn in, and the samples, goldens and songs of the tests, damaged. The fourth is rows of signs of the notation in any
order. What is compared is the Song with every span, every diagnostic with its place, hints and fix, and the tidied text
of songs without errors; and what texts mean as chords. Each reader is a process of its own.
"""

from __future__ import annotations

import os
import pickle
import random
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests import fuzz

ROOT = Path(__file__).parents[2]
ALPHABET = "AABCDEFGGHabdijmnostu#b♯Δ°ø+-/()0123456789=<x ,|:[]"
MARKS_EACH = 5  # marks that are tried as chords for each song
MARK = re.compile(r"(?:[^\s(]|\((?:[^()]|\([^()]*\))*\)|\()+")  # blanks stand in parentheses alone
CHORD_SIGNS = (
    *" " * 20, *"||||:::()=<</%x.,\t\u3000\u2003｜", "|:", ":|", "||", "x3", "×2", "1.", "1,2.", "3/4", "short",
    "short 1/4", "Rest", "N.C.", "hold", "Accent", "%", "/", "C", "D", "Am7", "G/B", "=BDG", "(b9)", "7", "la", "H",
)  # fmt: skip
WORD_SIGNS = (*" " * 8, *"||||***---___\\\\\\ab:\t\u00a0\u3000\u2003｜#", "la", "1.", "||")
NOTE_SIGNS = (
    *" " * 12, *"||||(())((:/\t\u3000\u2003", "D4", "E", "F#5", "Bb", "rest", "R", "d4", "H", "D5#", "x", "/", "||",
    "D9",
)  # fmt: skip
SHOWN = 10  # differences that are printed whole
EVERY = 20_000  # inputs between two lines of figures

ANSWER = """
import hashlib, pickle, sys
from arranger.song.cells import read_mark
from arranger.song.read import decode, read
from arranger.song.tidy import tidied

def told(data, marks):
    source, said = decode("a.song.txt", data)
    song = None
    if not said:
        song, said = read(source)
    tidy = tidied(source) if song is not None else ""
    return repr((song, said, tidy, [read_mark(mark) for mark in marks]))

while True:
    whole, asked = pickle.load(sys.stdin.buffer)
    answers = [told(*one) for one in asked]
    if not whole:
        answers = [hashlib.blake2b(answer.encode("utf-8", "surrogatepass")).digest() for answer in answers]
    pickle.dump(answers, sys.stdout.buffer)
    sys.stdout.buffer.flush()
"""

Asked = list[tuple[bytes, list[str]]]


class Reader:
    """The reader of a checkout, in a process of its own. Mutable."""

    def __init__(self, checkout: Path) -> None:
        environment = {**os.environ, "PYTHONPATH": str(checkout)}
        self._process = subprocess.Popen(
            [sys.executable, "-c", ANSWER], env=environment, cwd=checkout, stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )

    def ask(self, whole: bool, asked: Asked) -> None:
        assert self._process.stdin is not None
        pickle.dump((whole, asked), self._process.stdin)
        self._process.stdin.flush()

    def answers(self) -> list[Any]:
        assert self._process.stdout is not None
        found: list[Any] = pickle.load(self._process.stdout)
        return found

    def end(self) -> None:
        self._process.kill()
        self._process.communicate()


def inputs(count: int, seed: int) -> Iterator[bytes]:
    """Return the samples and goldens, then inputs of the fuzzer, until there are enough."""
    for folder in ("samples", "tests/song", "tests/diagnostics"):
        for path in sorted((ROOT / folder).glob("*.song.txt")):
            yield path.read_bytes()
    songs = fuzz.material()
    for number in range(count):
        yield fuzz.made(seed, number, songs) if number % 4 else rows(random.Random((seed << 32) + number)).encode()


def rows(chance: random.Random) -> str:
    """Return a song whose rows are any signs of the notation, one after the other."""
    lines = ["song A", "key C", "section A", "| C G | D |"]
    for _ in range(chance.randrange(1, 6)):
        word, signs = chance.choice((("", CHORD_SIGNS), ("sing", WORD_SIGNS), ("hook", NOTE_SIGNS)))
        row = "".join(chance.choices(signs, k=chance.randrange(1, 25)))
        lines.append(f"{word} {row}" if word else f"|{row}")
    return "\n".join(lines)


def bundles(count: int, seed: int) -> Iterator[Asked]:
    chance = random.Random(seed)
    bundle: Asked = []
    for data in inputs(count, seed):
        texts = ("".join(chance.choices(ALPHABET, k=chance.randrange(1, 9))) for _ in range(MARKS_EACH))
        marks = [found[0] if (found := MARK.search(text)) else "" for text in texts]
        bundle.append((data, marks))
        if len(bundle) == 100:
            yield bundle
            bundle = []
    yield bundle


def main(words: list[str]) -> int:
    """Compare and print the figures; give 1 where anything differs."""
    checkout, count, seed = Path(words[0]), int((words[1:] or ["100000"])[0]), int((words[2:] or ["1"])[0])
    readers = [Reader(ROOT), Reader(checkout)]
    done = differing = 0
    begun = time.monotonic()
    for bundle in bundles(count, seed):
        for reader in readers:
            reader.ask(False, bundle)
        ours, theirs = (reader.answers() for reader in readers)
        for one, mine, other in zip(bundle, ours, theirs, strict=True):
            if mine == other:
                continue
            differing += 1
            if differing <= SHOWN:
                for reader in readers:
                    reader.ask(True, [one])
                show(one, *(reader.answers()[0] for reader in readers))
        if done // EVERY != (done + len(bundle)) // EVERY:
            print(f"{done + len(bundle):,} inputs, {differing} differ, {time.monotonic() - begun:.0f} s", flush=True)
        done += len(bundle)
    for reader in readers:
        reader.end()
    print(f"{done:,} inputs and {done * MARKS_EACH:,} marks, {differing} differ, {time.monotonic() - begun:.0f} s")
    return 1 if differing else 0


def show(asked: tuple[bytes, list[str]], ours: str, theirs: str) -> None:
    """Print an input and where the answers part."""
    at = next((i for i, (a, b) in enumerate(zip(ours, theirs, strict=False)) if a != b), 0)
    print(f"----\n{asked[0].decode('utf-8', 'replace')}\n{asked[1]}")
    print(f"here:  …{ours[max(0, at - 300) : at + 300]}\nthere: …{theirs[max(0, at - 300) : at + 300]}", flush=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
