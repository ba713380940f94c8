"""Edit songs at random, as who writes one does, and compare what is settled for each with what is found from nothing.

    python -m tests.harmony.edits 500

Chains of edits go on from the samples: words and their syllables, joins, pickups, cues, titles, ways to play, sounds,
and also chords, tempi, dynamics, the band, tunes and the order of sections, so that both kinds follow each other.
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Callable, Iterator
from typing import NamedTuple

from arranger.harmony.settled import settled
from arranger.harmony.solve import solve_song
from arranger.harmony.taste import DEFAULT
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from tests.library.many import SAMPLES

CHAIN = 25  # edits of one song before the next is taken
WORDS = ("sea", "over", "lantern", "oh", "everywhere", "to-mor-row", "_", "home,", "café", "hm", "and", "another")
CHORDS = ("C", "Dm7", "F#m", "Bb", "G7", "A/C#", "Esus4", "N.C.", "Dmaj7", "Bm", "E")
CUES = ("drums out", "guitar fill", "no keys", "softly now", "bass walks", "all stop")
FACTS = ("tempo 58", "tempo 132", "tempo free", "dynamic pp", "dynamic ff", "suspensions off", "play held",
         "sound piano", "sound piano + pad", "octaves off", "tempo dotted 60")  # fmt: skip
TUNES = ("tune | A4 B4 | D5 / |", "tune | rest | E4 / F#4 G4 |", "tune | C5 |")
HEADS = ("rights nobody", "words A. Writer", "start count of two", "band bass, drums", "band guitar", "language fr")


class Edited(NamedTuple):
    """A song that an edit has led to, and what kind of edit it was."""

    song: Song
    kind: str


def _lines_of(text: str, first: str) -> list[int]:
    return [i for i, line in enumerate(text.split("\n")) if line.startswith(first)]


def _in_line(text: str, first: str, chance: random.Random, change: Callable[[str], str]) -> str:
    """Change one of the lines that begin so; the text as it was where there is none."""
    places = _lines_of(text, first)
    if not places:
        return text
    lines = text.split("\n")
    place = chance.choice(places)
    lines[place] = first + change(lines[place][len(first) :])
    return "\n".join(lines)


def _after(text: str, first: str, chance: random.Random, line: str) -> str:
    places = _lines_of(text, first)
    if not places:
        return text
    lines = text.split("\n")
    lines.insert(chance.choice(places) + 1, line)
    return "\n".join(lines)


def _one_of(pattern: str, line: str, new: str, chance: random.Random) -> str:
    found = list(re.finditer(pattern, line))
    if not found:
        return line
    match = chance.choice(found)
    return line[: match.start()] + new + line[match.end() :]


_WORD = r"[^\s|*-]+"
_CHORD = r"(?<![\w/#])[A-G][#b]?(?:m7?|maj7|7|sus[24])?(?:/[A-G][#b]?)?(?![\w#/=(])"
EDITS: dict[str, Callable[[str, random.Random], str]] = {
    "word": lambda t, c: _in_line(t, "sing ", c, lambda line: _one_of(_WORD, line, c.choice(WORDS), c)),
    "no word": lambda t, c: _in_line(t, "sing ", c, lambda line: _one_of(_WORD, line, "", c)),
    "more words": lambda t, c: _in_line(t, "sing ", c, lambda line: _one_of(r"\|", line, f"| {c.choice(WORDS)}", c)),
    "silent bar": lambda t, c: _in_line(t, "sing ", c, lambda line: _one_of(r"[^|]+", line, " ", c)),
    "join": lambda t, c: _in_line(t, "sing ", c, lambda line: _one_of(r" \|", line, "- |", c)),
    "no star": lambda t, c: _in_line(t, "sing ", c, lambda line: _one_of(r"\*", line, "", c)),
    "pickup": lambda t, c: _after(t, "section ", c, f"pickup {c.choice(WORDS)}"),
    "no pickup": lambda t, c: re.sub(r"(?m)^pickup .*\n", "", t, count=1),
    "cue": lambda t, c: _after(t, "section ", c, f"cue {c.choice(CUES)}"),
    "title": lambda t, c: _in_line(t, "song ", c, lambda line: f"{line} {c.choice(WORDS)}"),
    "head": lambda t, c: _after(t, "song ", c, c.choice(HEADS)),
    "remark": lambda t, c: _after(t, "section ", c, f"# {c.choice(CUES)}"),
    "fact": lambda t, c: _after(t, "section ", c, c.choice(FACTS)),
    "chord": lambda t, c: _in_line(t, "|", c, lambda line: _one_of(_CHORD, line, c.choice(CHORDS), c)),
    "hold": lambda t, c: _in_line(t, "|", c, lambda line: _one_of(_CHORD, line, f"{c.choice(CHORDS)} hold", c)),
    "tune": lambda t, c: _after(t, "sing ", c, c.choice(TUNES)),
    "no tune": lambda t, c: re.sub(r"(?m)^tune .*\n", "", t, count=1),
    "order": lambda t, c: _in_line(t, "roadmap ", c, lambda line: _one_of(r"(?: x[0-9])?(?=,|$)", line, " x3", c)),
    "vamp": lambda t, c: _in_line(t, "roadmap ", c, lambda line: _one_of("(?=,|$)", line, " until all are in", c)),
    "section's name": lambda t, c: re.sub(r"\bVerse\b", c.choice(("Story", "Strophe")), t),
}  # fmt: skip
OF_WORDS = frozenset(("title", "cue", "remark", "section's name"))  # edits that no hand depends on, whatever they put


def edited(seed: int, number: int) -> Iterator[Edited]:
    """Return so many songs, each an edit away from the one before it or from a sample; what is no song is undone."""
    chance = random.Random(seed)
    done = 0
    text = ""
    while done < number:
        if done % CHAIN == 0 or not text:
            text = chance.choice(SAMPLES).read_text(encoding="utf-8")
        kind = chance.choice(list(EDITS))
        after = EDITS[kind](text, chance)
        song = read(Source.of("edited.song.txt", after))[0]
        if after == text or song is None:
            continue
        text = after
        done += 1
        yield Edited(song, kind)


def differing(seed: int, number: int) -> Iterator[str]:
    """Return the kind of each edit after which what is settled is not what is found from nothing, to the last span."""
    for song, kind in edited(seed, number):
        if repr(settled(song, DEFAULT, figures=False)) != repr(solve_song(song, DEFAULT, figures=False)):
            yield kind


def main(words: list[str]) -> int:
    """Compare so many edits; print how many differ."""
    number = int(words[0]) if words else 500
    wrong = list(differing(11, number))
    print(f"{number:,} edits, {len(wrong)} of them settled otherwise than from nothing", *wrong)
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
