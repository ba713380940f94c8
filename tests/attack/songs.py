"""Songs that are right and wild, sheets that people might type, and damage to any text: made by chance."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence

from arranger.theory.qualities import QUALITIES
from tests.fuzz import KEYS, METERS, SLIPS

ROOTS = [letter + sign for letter in "ABCDEFG" for sign in ("", "", "#", "b", "##", "bb")]
KINDS = [quality.name for quality in QUALITIES] + ["aug", "m7-5", "(no3)", "7(b9,#5)", "13(b9)", "add4", "m(add9)", "°"]
PRINTED = [
    "la", "oh", "water", "home-", "_", "hold_", "\\*", "\\-", "\\|", "É", "çà", "straße", "ру́сский", "песня", "αγάπη",
    "l'eau,", "“so”", "–", "…", "x" * 40, "50", "(hey)", "e\u0301", "\u00a0", "ﬁ", "№", "Ω", "ÅÅÅ",
]  # fmt: skip
UNPRINTED = ["שלום", "مرحبا", "नमस्ते", "日本語", "🎹", "👩‍🎤", "\u202e", "\u200d", "\ufa19", "\ue000", "ก็็็็็", "\U0010ffff"]
NAMES = ["Verse", "Chorus", "Bridge", "Intro", "Refrain", "Coda", "Étude", "Куплет", "Ρεφρέν", "Bit with the fiddle"]
REMARKS = ["softer", "keys out", "up a tone", "é" * 30, "# of times", "100 %", "a; b", '"quoted"', "\\", "<b>", "[1]"]
FACTS = [
    "tempo 72", "tempo dotted 60", "tempo half 60", "tempo free", "tempo rit to 50", "dynamic ppp to fff",
    "dynamic cresc", "dynamic sfz", "play eighths", "play broken", "play my way", "sound piano + pad",
    "sound bass / piano split C4", "sound " + " + ".join(["organ"] * 12), "suspensions off", "octaves off",
    "suspensions on", "cue wait for the drum fill", "cue " + "é" * 200, "pickup Oh, and", "pickup _",
]  # fmt: skip
HEAD = [
    "tempo 20", "tempo 400", "tempo free", "feel swing", "feel half-time", "words Nell Tarrant", "music Ivo Quill",
    "rights © us", "band bass, drums", "start keys alone, 1 bar", "language fr", "language zh-Hant", "copyist me",
    "dynamic mp", "sound piano", "play quarters", "suspensions off", "octaves off", "rights " + "long " * 120,
]  # fmt: skip
ODD = [
    "\0", "\x1b[2J", "\x07", "\r", "\x0b", "\u2028", "\u202e", "\ufeff", "\x85", "\ud800", "%", "%s", "{}", "{0}", "\\",
    "'", '"', "`", "$(x)", "../", "/", "9" * 5000, "1e999999", "-1", "0", "\t", "￿", "🎹", "x" * 5000, "[" * 500,
    "(" * 500,
]  # fmt: skip


class Wild:
    """Makes songs that keep to the rules of the notation and go to their ends. Mutable: draws from a stream of chance.

    Args:
        chance: the stream.
        odd: how likely a word is one that the program's fonts cannot print.
    """

    def __init__(self, chance: random.Random, odd: float = 0.0) -> None:
        self._chance = chance
        self._odd = odd
        self._meter = chance.choice([*METERS, "24/2", "24/8", "13/8", "1/8"] if chance.random() < 0.1 else METERS)
        self._key = chance.choice(KEYS)
        self._counts: list[int] = []  # the chords of each bar of the last row

    def word(self) -> str:
        return self._chance.choice(UNPRINTED if self._chance.random() < self._odd else PRINTED)

    def chord(self, push: bool = False) -> str:
        roll = self._chance.random
        text = self._chance.choice(ROOTS) + (self._chance.choice(KINDS) if roll() < 0.7 else "")
        text += "/" + self._chance.choice(ROOTS) if roll() < 0.2 and "/" not in text else ""
        if roll() < 0.05:
            text += "=" + self._chance.choice(["", "ADF#", "B3DG", "C4", "C", "C3E4G5", "CEGBD"])
        else:
            text = f"({text})" if roll() < 0.05 else text
        text = "<" + text if push and roll() < 0.15 else text
        return text + (" " + self._chance.choice(["hold", "stop", "accent", "roll"]) if roll() < 0.05 else "")

    def bar(self, first: bool) -> str:
        roll = self._chance.random
        if not first and roll() < 0.08:
            self._counts.append(0)
            return self._chance.choice(["%", "N.C.", "rest"])
        beats, unit = map(int, self._meter.split("/"))
        eighths = beats * 8 // unit
        felt = beats // 3 if unit == 8 and beats % 3 == 0 else beats
        count = self._chance.choice([1, 1, felt, felt, eighths])
        if count * 2 > 60:  # a line of the file has an end
            count = felt if felt <= 30 else 1
        push = count < eighths  # each mark is longer than the eighth by which a push comes early
        marks = [self.chord(push and n > 0) if not n or roll() < 0.5 else "/" for n in range(count)]
        self._counts.append(sum(mark != "/" for mark in marks))
        return " ".join(marks)

    def row(self, first: bool) -> str:
        self._counts = []
        bars = [self.bar(first and not n) for n in range(self._chance.randint(1, 5))]
        lines = ["|"] * (len(bars) + 1)
        if self._chance.random() < 0.2:
            lines[0], lines[-1] = "|:", self._chance.choice([":|", ":| x3", ":| x99" if self._coin(0.05) else ":|"])
        elif self._chance.random() < 0.15 and len(bars) > 2:
            lines[0], lines[-3], lines[-2], lines[-1] = "|:", self._chance.choice(["|1.", "|1.2.", "|1,2."]), "", "||"
            lines[-2] = ":|2." if lines[-3] == "|1." else ":|3."
        return "".join(f"{line} {bar} " for line, bar in zip(lines, [*bars, ""], strict=True)).rstrip()

    def sung(self) -> str:
        cells = []
        for count in self._counts:
            words = [self.word() for _ in range(self._chance.randrange(6))]
            for _ in range(self._chance.randint(0, max(0, count - 1)) if words else 0):
                words.insert(self._chance.randint(1, len(words)), "*")
            cells.append(" ".join(words) or " ")
        return f"sing | {' | '.join(cells)} |"

    def notes(self) -> str:
        word = self._chance.choice(["tune", "hook", "octave"])
        choices = ["C4", "(C4 D4 E4)", "rest", "(D4 E)", "(C4 G3 C F# Bb4)"]
        choices += ["C4 / / /", "B3 (C D E F) / /", "rest D4 / E", "D4 E"] if self._meter == "4/4" else []
        low, high = ["A0", "E2"], ["C8", "G#6"]
        choices += low if word == "octave" else high
        return f"{word} | {' | '.join(self._chance.choice(choices) for _ in self._counts)} |"

    def name(self, taken: Sequence[str]) -> str:
        name = self._chance.choice(NAMES)
        if self._chance.random() < 0.05:
            name = " ".join([self.word() for _ in range(self._chance.randint(1, 30))])
            name = re.sub(r"[,()|\\*_]", "", name).strip() or "A"
        return f"{name} {len(taken) + 1}"

    def sections(self, count: int) -> tuple[list[str], list[str]]:
        """Return the lines of so many sections, and their names."""
        chance, lines, names, models = self._chance, [], [], []
        for _ in range(count):
            name = self.name(names)
            lines += ["", f"section {name}"]
            if models and chance.random() < 0.3:
                lines += [f"like {chance.choice(models)}"]
                keys = [key for key in KEYS if key.endswith("m") == self._key.endswith("m")]
                lines += [f"key {chance.choice(keys)}"] if chance.random() < 0.4 else []
            else:
                models.append(name)
                lines += some(chance, FACTS, 4) if chance.random() < 0.4 else []
                lines += ["tacet"] if chance.random() < 0.04 else []
                for number in range(chance.randint(1, 2)):
                    lines.append(self.row(not number))
                    lines += [self.sung() for _ in range(chance.choice([0, 0, 1, 1, 2]))]
                    lines += [self.notes()] if chance.random() < 0.15 else []
            names.append(name)
        return lines, names

    def roadmap(self, names: Sequence[str], steps: int) -> str:
        tails = ["", "", " x2", " x99" if self._coin(0.05) else " x3", " until the end", " until " + "la " * 30]
        told = [
            chance_name + self._chance.choice(tails) + (f" ({self._chance.choice(REMARKS)})" if self._coin(0.2) else "")
            for chance_name in (self._chance.choice(names) for _ in range(steps))
        ]
        return "roadmap " + ", ".join(told)

    def _coin(self, share: float) -> bool:
        return self._chance.random() < share

    def song(self) -> str:
        chance = self._chance
        head = [
            f"song {' '.join(self.word() for _ in range(chance.choice([1, 2, 3, 40])))}", f"key {self._key}",
            f"meter {self._meter}", *some(chance, HEAD, 5),
        ]  # fmt: skip
        lines, names = self.sections(chance.choice([1, 1, 1, 2, 2, 3, 5]))
        if self._coin(0.4):
            head.append(self.roadmap(names, chance.choice([1, 1, 3, 6])))
        return "\n".join([*head, *lines, ""])

    def large(self) -> str:
        """Return a song near the limits of what a song may be."""
        chance = self._chance
        head = ["song Large", f"key {chance.choice(KEYS)}", "meter 4/4"]
        match chance.randrange(4):
            case 0:  # a roadmap that lets every section follow every other
                count = chance.choice([12, 30, 60])
                lines = [line for n in range(count) for line in (f"section S{n}", f"| {self.chord()} |")]
                order = [f"S{n}" for a in range(count) for n in (a, (a * 7 + 3) % count, chance.randrange(count))]
                head += [f"roadmap {', '.join(order[n : n + 100])}," for n in range(0, len(order), 100)]
            case 1:  # one long section
                self._meter = "4/4"
                rows = [
                    " ".join(f"| {self.chord()} {self.chord()}" for _ in range(8))
                    for _ in range(chance.choice([20, 60, 150]))
                ]
                lines = ["section Long", *rows]
            case 2:  # many sections
                count = chance.choice([100, 300, 1000])
                lines = [line for n in range(count) for line in (f"section S{n}", f"| {chance.choice('CDEFGA')} | G |")]
            case _:  # few chords, heard often
                lines = ["section A", "|: " + " | ".join(self.chord() for _ in range(4)) + " :| x99"]
                head += [f"roadmap A x{chance.choice([5, 12, 24])}"]
        return "\n".join([*head, *lines, ""])


def some(chance: random.Random, lines: Sequence[str], fewer_than: int) -> list[str]:
    """Return some of the lines, no two that begin with the same word."""
    return list({line.split()[0]: line for line in chance.sample(lines, chance.randrange(fewer_than))}.values())


class Typist:
    """Types sheets: chords in a line above the words, in the many ways of people. Mutable, as `Wild`."""

    HEADINGS = (
        "{}:",
        "[{}]",
        "{}",
        "({})",
        "{} 1",
        "{}\n{}",
        "{} x2",
        "— {} —",
        "{}1",
        "{}: (softly)",
        "1. {}",
        "{} {}",
    )
    CHORDS = (
        "C", "G", "Am", "F", "Dm7", "G7", "E", "Bb", "F#m", "H", "C/E", "Gsus4", "NC", "N.C.", "D⏎", "i", "｜", "am",
        "x2",
        "|", "||:", ":||", "%", "-", "(2x)", "Cmaj7", "C#dim", "B°", "A5", "|C", "[C]", "C-", "*", "/", "Do", "es",
        "G..",
    )  # fmt: skip
    HEADS = (
        "Title: {}", "{}", "by {}", "Key: G", "Key of Bb", "Tempo: 92", "4/4", "Capo 3", "capo: 2nd fret", "Time: 6/8",
        "(c) 1931 {}", "Tuning: DADGAD", "Am = x02210", "ORDER: V1 C V2 C", "> mail", "---", "Page 1 of 2",
    )  # fmt: skip

    def __init__(self, chance: random.Random, odd: float = 0.0) -> None:
        self._chance = chance
        self._wild = Wild(chance, odd)

    def sheet(self) -> str:
        chance = self._chance
        words = self._wild.word
        lines = [head.replace("{}", words()) for head in chance.sample(self.HEADS, chance.randrange(4))]
        plain = chance.choice([20, 37])  # of the signs above; the further ones are seldom typed
        for _ in range(chance.randint(1, 6)):
            name = chance.choice(["Verse", "Chorus", "VERSE", "Bridge", "Intro", "Refrain", "Strophe", "Pre-Chorus"])
            lines += ["", chance.choice(self.HEADINGS).replace("{}", name)] if chance.random() < 0.8 else [""]
            for _ in range(chance.randint(1, 4)):
                sung = " ".join(words() for _ in range(chance.randrange(9)))
                above = ""
                for _ in range(chance.randrange(1, 6)):
                    above += " " * chance.randrange(9) + chance.choice(self.CHORDS[:plain]) + " "
                lines += [above.replace("    ", "\t") if chance.random() < 0.05 else above]
                lines += [sung] if chance.random() < 0.85 else []
        return "\n".join(lines)


def damaged(chance: random.Random, data: bytes, other: bytes) -> bytes:
    """Return a text with a few things broken: lines, words, letters, bytes, its end; words may be those of another."""
    for _ in range(chance.choice([1, 1, 2, 3, 6])):
        lines = data.split(b"\n")
        at = chance.randrange(len(lines))
        match chance.randrange(10):
            case 0:
                lines.insert(at, lines[chance.randrange(len(lines))])
            case 1:
                del lines[at]
            case 2:
                to = chance.randrange(len(lines))
                lines[at], lines[to] = lines[to], lines[at]
            case 3:
                lines[at] = chance.choice(other.split(b"\n"))
            case 4 | 5:
                words = lines[at].split(b" ")
                more = [*other.split()[:400], *(text.encode("utf-8", "surrogatepass") for text in (*SLIPS, *ODD))]
                words[chance.randrange(len(words))] = chance.choice(more)
                lines[at] = b" ".join(words)
            case 6:
                lines[at] = re.sub(
                    rb"\d+", lambda m: chance.choice([b"0", b"9" * 30, b"9" * 5000, m[0] * 9]), lines[at]
                )
            case 7:
                place = chance.randrange(len(lines[at]) + 1)
                odd = chance.choice(ODD).encode("utf-8", "surrogatepass")
                lines[at] = lines[at][:place] + odd + lines[at][place:]
            case 8 if chance.random() < 0.3:
                lines[at:] = [lines[at][: chance.randrange(len(lines[at]) + 1)]]
            case 9 if chance.random() < 0.2:
                lines = [flipped(chance, b"\n".join(lines), chance.randint(1, 8))]
            case _:
                lines[at] = lines[at].swapcase()
        data = b"\n".join(lines)
    return data


def flipped(chance: random.Random, data: bytes, count: int) -> bytes:
    """Return bytes of which so many are others."""
    broken = bytearray(data)
    for _ in range(count if broken else 0):
        broken[chance.randrange(len(broken))] = chance.choice([0, 0xFF, 0x7F, 0x80, chance.randrange(256)])
    return bytes(broken)
