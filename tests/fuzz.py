"""Songs that nobody would type, by the million: every one must end in a Song or in diagnostics.

    python -m tests.fuzz [HOW MANY] [SEED]

Half of the inputs are songs made by the rules of the notation with slips strewn in; the others are whole songs that
were damaged: lines lost, doubled, exchanged, letters changed, bytes broken. Each input has a number, and the
input of a seed and a number is always the same: `python -m tests.fuzz --one NUMBER SEED` makes it again.

    python -m tests.fuzz attack [HOW MANY] [SEED]

attacks the whole program (tests/attack): its commands, with such songs and with other inputs.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path

from arranger.song.dump import dump
from arranger.song.model import Song
from arranger.song.read import decode, read
from arranger.text.diagnostics import Diagnostic, has_errors, render
from arranger.text.terminal import steers

ROOT = Path(__file__).parents[1]
LARGEST = 6000  # bytes of a song that is damaged; larger ones are read elsewhere

KEYS = [
    "C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F", "Am", "Em", "Bm", "F#m", "Dm", "Gm",
    "Cm", "Fm",
]  # fmt: skip
ROOTS = [
    "C", "D", "E", "F", "G", "A", "B", "C#", "Db", "Eb", "F#", "G#", "Ab", "Bb",
]  # fmt: skip
QUALITIES = [
    "m", "7", "m7", "maj7", "sus4", "sus", "7sus4", "m7b5", "dim", "dim7", "aug", "6", "6/9", "9", "m9", "11",
    "13", "add9", "7(b9)", "7(b9,#5)", "7+", "5", "2", "4", "no3", "mMaj7", "7alt", "Δ", "ø", "°",
]  # fmt: skip
METERS = [
    "4/4", "4/4", "3/4", "6/8", "2/4", "2/2", "12/8", "9/8", "5/4", "7/8", "3/8", "5/8", "1/4",
]  # fmt: skip
SLIPS = [
    "am", "H", "/F#", "I", "l", "D,", "(", ")", "C-5", "C+9", "x2", "2x", "?", "fermata", "hold", "=", "G=H",
    "G=", "<", "<rest", "short", "short 1/4", "3/4", "9/16", "%", "Do", "iv", "-", ".", "*", "\\", "｜",
    "Ｄ", "♯", "D♭♭♭", "🎹", "\u202e", "\u200d", "e\u0301", "((((", "C7(b9", "N.C", "\t", ":", "1.", "D/",
    "D/H", "D/f#",
]  # fmt: skip
WORDS = [
    "la", "oh", "came", "a-", "_", "hold_", "\\*", "\\-", "\\|", "שלום", "ру́сский", "नमस्ते", "日本語", "é", "x",
]  # fmt: skip
ODD_WORDS = [*WORDS, "lan*terns", "*", "-", "***", "\\q", "in||to"]
NAMES = [
    "Verse",
    "Verse 1",
    "Verse 2",
    "Chorus",
    "Bridge",
    "Intro",
    "Ending",
    "Couplet",
    "Tag, x",
    "Vamp x2",
    "Étude",
    "",
]
FACTS = [
    "tempo 72", "tempo dotted 60", "tempo free", "tempo rit to 50", "tempo fast", "tempo 9999999999", "feel swing",
    "feel shuffle", "dynamic p to f", "dynamic cresc", "dynamic loud", "sound piano + pad",
    "sound pad / piano split C4", "sound a split", "play eighths", "play", "capo 2 in C", "capo 14 in C",
    "band bass, drums,,",
    "texture light", "texture light to full", "texture loud", "texture light to light", "drone D A", "drone both",
    "drone H", "drone", "band keys alone", "band all", "band bass", "band everybody", "feel half-time", "cue keys out",
    "start keys alone", "words A", "music", "rights ©", "copyist me", "suspensions off", "octaves maybe", "tacet",
    "tacet now", "cue drums in", "cue", "pickup Oh", "title: X", "key H", "key D dorian", "meter C", "song Other",
    "# a remark", "", "Verse 3", "[Chorus]", "D | G | A", "I D I G I", "some words", "set Supper",
    "break tea", "=", ":",
]  # fmt: skip


@dataclass(slots=True)
class Tally:
    """What came out of many inputs: how many of each kind, the slowest in seconds, and the codes that were seen."""

    inputs: int = 0
    songs: int = 0
    slowest: float = 0.0
    slowest_number: int = 0
    largest: int = 0
    codes: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


class Maker:
    """Makes inputs by chance. Mutable: it draws from its own stream of chance."""

    def __init__(self, chance: random.Random, slips: float) -> None:
        self._chance = chance
        self._slips = slips
        self._meter = self.one(METERS)
        self._bars = 1  # of the last row

    def slips(self) -> bool:
        return self._chance.random() < self._slips

    def one(self, of: list[str]) -> str:
        return of[int(self._chance.random() * len(of))]

    def chord(self) -> str:
        chance = self._chance.random
        text = self.one(ROOTS) + (self.one(QUALITIES) if chance() < 0.5 else "")
        text += "/" + self.one(ROOTS) if chance() < 0.15 else ""
        text = f"({text})" if chance() < 0.04 else text
        text = "<" + text if chance() < 0.06 else text
        if chance() < 0.05:
            text += "=" + "".join(self.one(ROOTS) for _ in range(self._chance.randrange(5)))
        return text + (" " + self.one(["hold", "stop", "accent", "roll"]) if chance() < 0.04 else "")

    def mark(self) -> str:
        if self.slips():
            return self.one(SLIPS)
        return self.one(["/", "/", "rest", "N.C."]) if self._chance.random() < 0.25 else self.chord()

    def cell(self, first: bool = False) -> str:
        if not first and self._chance.random() < 0.06:
            return "%"
        beats, _, unit = self._meter.partition("/")
        felt = int(beats) // 3 if unit == "8" and beats in ("6", "9", "12") else int(beats)
        count = self._chance.choice((1, 1, felt, 2, 3, 4, 8) if self.slips() else (1, 1, felt, felt))
        marks = [self.mark() for _ in range(count)]
        if not self.slips():
            marks[0] = self.chord().lstrip("<")
        return " ".join(marks)

    def row(self, first: bool) -> str:
        bars = [self.cell(first and not n) for n in range(self._chance.randint(1, 6))]
        lines = ["|"] * (len(bars) + 1)
        if self._chance.random() < 0.2:
            lines[0], lines[-1] = "|:", self.one([":|", ":| x3", ":|"])
        elif self._chance.random() < 0.1 and len(bars) > 2:
            lines[0], lines[-3], lines[-2], lines[-1] = "|:", "|1.", ":|2.", "||"
        if self.slips():
            lines[self._chance.randrange(len(lines))] = self.one(["||", ":|", "|:", "", "|||", "|3.", ":| x100", "| |"])
        self._bars = len(bars)
        return "".join(f"{line} {bar} " for line, bar in zip(lines, [*bars, ""], strict=True)).rstrip()

    def under(self) -> str:
        kind = self.one(["sing", "sing", "sing", "hook", "octave", "tune"])
        bars = range(self._chance.randint(1, 6) if self.slips() else self._bars)
        if kind == "sing" or self.slips():
            words = ODD_WORDS if self.slips() else WORDS
            cells = [" ".join(self.one(words) for _ in range(self._chance.randrange(5))) for _ in bars]
        else:
            notes = ["D4", "E", "(D4 E4 F)", "rest", "d4", "D4 / E F#", "/ D5"] if self.slips() else ["D4", "(D4 E4)"]
            cells = [self.one(notes) for _ in bars]
        return f"{kind} | {' | '.join(cells)} |" if not self.slips() else f"{kind} {'||'.join(cells)}"

    def song(self) -> str:
        lines = [f"song {self.one(WORDS)}", f"key {self.one(KEYS)}", f"meter {self._meter}"]
        if self.slips():
            del lines[self._chance.randrange(len(lines))]
        lines += [self.one(FACTS[:20]) for _ in range(self._chance.randrange(3))] if self.slips() else []
        names: list[str] = []
        for number in range(self._chance.randint(1, 4)):
            name = self.one(NAMES) if self.slips() else f"Part {number + 1}"
            lines += ["", f"section {name}"]
            if names and self._chance.random() < 0.3:
                lines += [f"like {self.one(names)}{self.one(('', ' without words'))}"]
                lines += [f"key {self.one(KEYS)}"] if self._chance.random() < 0.4 else []
                lines += [self.under()] if self._chance.random() < 0.5 else []
            else:
                for row in range(self._chance.randint(1, 3)):
                    lines.append(self.row(not row))
                    lines += [self.under() for _ in range(self._chance.randrange(3))]
            if self.slips():
                lines.insert(self._chance.randrange(len(lines)), self.one(FACTS))
            names.append(name)
        if self._chance.random() < 0.4:
            tails = ["", " x2", " bars 1", " until the end", " (soft)"] + (
                [" 2x", ",", " bars 9"] if self.slips() else []
            )
            steps = [self.one(names) + self.one(tails) for _ in names]
            lines.insert(2, f"roadmap {', '.join(steps)}")
        return "\n".join(lines)

    def damaged(self, text: str) -> bytes:
        lines = text.split("\n")
        for _ in range(self._chance.randint(1, 5)):
            at = self._chance.randrange(len(lines))
            match self._chance.randrange(6):
                case 0:
                    lines[at] = self.one(FACTS)
                case 1:
                    lines.insert(at, self._chance.choice(lines))
                case 2:
                    del lines[at]
                    lines = lines or [""]
                case 3:
                    lines[at] += " " + self.mark()
                case 4:
                    other = self._chance.randrange(len(lines))
                    lines[at], lines[other] = lines[other], lines[at]
                case _:
                    lines[at] = self._letters(lines[at])
        data = "\n".join(lines).encode("utf-8", errors="replace")
        if self._chance.random() < 0.02:
            at = self._chance.randrange(len(data) + 1)
            data = data[:at] + bytes([self._chance.randrange(256)]) + data[at + self._chance.randrange(3) :]
        return data

    def _letters(self, line: str) -> str:
        letters = list(line or " ")
        for _ in range(self._chance.randint(1, 4)):
            at = self._chance.randrange(len(letters))
            letters[at] = self._chance.choice(
                ("", letters[at] * 2, self.one(SLIPS), letters[at].swapcase(), " ", "|", "\n")
            )
        return "".join(letters)


def material() -> list[str]:
    """Give the songs that are damaged: samples, whole songs of the tests, and those that were typed badly."""
    folders = ("samples", "tests/song", "tests/diagnostics")
    texts = []
    for path in (p for folder in folders for p in sorted((ROOT / folder).glob("*.song.txt"))):
        data = path.read_bytes()
        if len(data) <= LARGEST:
            texts.append(data.decode("utf-8", errors="ignore"))
    return texts


def made(seed: int, number: int, songs: list[str]) -> bytes:
    """Make one input; the same seed and number make the same one."""
    chance = random.Random((seed << 32) + number)
    maker = Maker(chance, chance.choice((0.0, 0.02, 0.08, 0.3)))
    return (
        maker.song().encode("utf-8", errors="replace") if chance.random() < 0.5 else maker.damaged(chance.choice(songs))
    )


def ends_well(data: bytes) -> tuple[Song | None, tuple[Diagnostic, ...]]:
    """Read one input and hold that it ends in a Song or in diagnostics that can be printed.

    Raises:
        AssertionError: it does not.
    """
    source, said = decode("a.song.txt", data)
    song = None
    if not said:
        song, said = read(source)
    assert (song is None) == has_errors(said)
    for one in said:
        assert one.message and "\n" not in one.message
        if one.span is not None:
            assert 0 <= one.span.start <= one.span.end <= len(source.text)
            assert "\n" not in source[one.span]
        assert not any(steers(c) for c in render(one, source) if c != "\n")
    if song is not None:
        assert song.sections and song.roadmap
        assert dump(song)
    return song, said


def run(seed: int, numbers: range, progress: Callable[[Tally], None] | None = None) -> Tally:
    """Read many inputs; faults are gathered, not raised."""
    tally = Tally()
    songs = material()
    for number in numbers:
        data = made(seed, number, songs)
        begun = time.process_time()
        try:
            song, said = ends_well(data)
        except Exception as fault:
            tally.faults.append(f"input {number}: {type(fault).__name__}: {fault}")
            song, said = None, ()
        taken = time.process_time() - begun  # of this process alone, whatever else runs
        tally.inputs += 1
        tally.songs += song is not None
        tally.largest = max(tally.largest, len(data))
        tally.codes.update({one.code for one in said})
        if taken > tally.slowest:
            tally.slowest, tally.slowest_number = taken, number
        if progress is not None and tally.inputs % 50_000 == 0:
            progress(tally)
    return tally


def report(tally: Tally) -> str:
    """Give the figures as text."""
    lines = [
        f"{tally.inputs:,} inputs: {tally.songs:,} songs, {tally.inputs - tally.songs - len(tally.faults):,} refused"
        f" with diagnostics, {len(tally.faults)} exceptions; {len(tally.codes)} codes seen",
        f"slowest {1000 * tally.slowest:.0f} ms (input {tally.slowest_number}), largest {tally.largest:,} bytes",
    ]
    return "\n".join([*lines, *tally.faults[:20]])


def main(words: list[str]) -> int:
    """Run and print the figures; give 1 where an input did not end well."""
    if words[:1] == ["attack"]:
        return int(import_module("tests.attack.attack").main(words[1:]))
    if words[:1] == ["--one"]:
        number, seed = int(words[1]), int(words[2]) if len(words) > 2 else 1
        data = made(seed, number, material())
        print(data.decode("utf-8", errors="replace"))
        print(ends_well(data)[1])
        return 0
    count, seed = int(words[0]) if words else 1_000_000, int(words[1]) if len(words) > 1 else 1
    tally = run(seed, range(count), lambda so_far: print(report(so_far), flush=True))
    print(report(tally))
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
