"""Songs made by chance, typed out as sheets in many ways, and converted again: the chords must come back.

    python -m tests.convert.typing_out [HOW MANY] [SEED]

A song is sections of lines; a line is words in syllables, each with or without a chord; chords can stand alone. It is
typed out in one of many habits (headings, spacing, quoting, barlines, chords a column off), and the converter's
song is unrolled by its roadmap: the same chords must stand over the same syllables, in order, section by section. How
long chords last is not compared: a sheet does not say it. Nor is spelling: C# may come back as Db, by the key.
"""

from __future__ import annotations

import difflib
import random
import re
import sys
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

from arranger.convert.conversion import convert
from arranger.song.cells import ChordWord, read_mark
from arranger.song.model import Section, Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.chord import Chord
from arranger.theory.key import Key

# Words in their sung syllables, as dictionaries part them; those of one syllable are the most, as in songs.
_ONE = (
    "the and we you stone rain light home boat salt wind bell down through bread road lamp late out slow night friend "
    "come turn strange thought bright ground cold bring wait long shore years hands"
)
_MORE = (
    "lan-terns har-bour win-dow can-dle gar-den sum-mer a-way a-cross be-side un-til to-mor-row re-mem-ber Sep-tem-ber "
    "yes-ter-day car-pen-ter sil-ver sis-ter moun-tain for-got-ten in-side un-der-neath chim-ney mid-night rain-coat "
    "Gar-ten Wol-ken mon-tagne"
)
SHORT_WORDS, LONG_WORDS = tuple(_ONE.split()), tuple(_MORE.split())
SIGNS = ("", "", "", "", "", ",", ",", "!", "?", ".", ";")

SHAPES = {  # on the degrees of a major scale, counted from 0
    0: ("", "", "", "maj7", "sus4", "add9", "6"),
    1: ("m", "m", "m7", "m9", "7"),
    2: ("m", "m7"),
    3: ("", "", "maj7", "add9", "6/9", "m6"),
    4: ("", "", "7", "sus4", "7sus4", "9", "13"),
    5: ("m", "m", "m7", "7"),
    6: ("m7b5", "dim"),
}
KEYS = ("C", "G", "D", "A", "E", "F", "Bb", "Eb", "Ab")


@dataclass(frozen=True, slots=True)
class Syllable:
    """A sung syllable (with the signs that follow it), its chord, and whether it goes on inside a word."""

    text: str
    chord: str = ""
    inside: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """A section: its lines; a syllable without text is a chord alone."""

    name: str
    lines: tuple[tuple[Syllable, ...], ...]


@dataclass(frozen=True, slots=True)
class Made:
    """A song to be typed: its parts in the order of playing. A part that comes again is the same object."""

    title: str
    key: str
    parts: tuple[Part, ...]


def make(chance: random.Random) -> Made:
    """Make a song."""
    key = Key.parse(chance.choice(KEYS))
    chorus = _part(chance, key, "Chorus")
    shape = _part(chance, key, "Verse 1")
    verses = [shape, _part(chance, key, "Verse 2") if chance.random() < 0.4 else _other_words(chance, shape, "Verse 2")]
    intro = Part("Intro", (tuple(Syllable("", _chord(chance, key)) for _ in range(chance.randint(2, 6))),))
    parts = [verses[0], chorus, verses[1], chorus]
    parts = [intro, *parts] if chance.random() < 0.5 else parts
    parts += [_part(chance, key, "Bridge"), chorus] if chance.random() < 0.5 else []
    return Made(" ".join(chance.sample(SHORT_WORDS, 3)).capitalize(), str(key), tuple(parts))


def _part(chance: random.Random, key: Key, name: str) -> Part:
    return Part(name, tuple(_line(chance, key) for _ in range(chance.randint(2, 4))))


def _chord(chance: random.Random, key: Key) -> str:
    degree = chance.choice((0, 0, 3, 4, 4, 5, 5, 1, 2, 6) if chance.random() < 0.5 else (0, 3, 4, 5))
    text = str(key.scale[degree]) + chance.choice(SHAPES[degree])
    return text + (f"/{chance.choice(key.scale)}" if chance.random() < 0.1 else "")


def _line(chance: random.Random, key: Key) -> tuple[Syllable, ...]:
    syllables: list[Syllable] = []
    for place in range(chance.randint(4, 9)):
        word = chance.choice(SHORT_WORDS) if chance.random() < 0.65 else chance.choice(LONG_WORDS)
        pieces = word.split("-")
        pieces[-1] += chance.choice(SIGNS)
        for inside, text in enumerate(pieces):
            often = 0.12 if inside else 0.8 if place == 0 else 0.35
            syllables.append(Syllable(text, _chord(chance, key) if chance.random() < often else "", inside > 0))
    if not any(s.chord for s in syllables):
        syllables[0] = Syllable(syllables[0].text, _chord(chance, key))
    if chance.random() < 0.15:
        syllables += [Syllable("", _chord(chance, key)) for _ in range(chance.randint(1, 2))]
    return tuple(syllables)


def _other_words(chance: random.Random, model: Part, name: str) -> Part:
    """Give other words of as many syllables to the same chords."""
    counts = {n: [w for w in (*SHORT_WORDS, *LONG_WORDS) if w.count("-") == n] for n in range(3)}
    lines = []
    for line in model.lines:
        other: list[Syllable] = []
        at = 0
        while at < len(line):
            end = at + 1
            while end < len(line) and line[end].inside:
                end += 1
            words = chance.choice(counts[end - at - 1]).split("-") if line[at].text else [""] * (end - at)
            other += [Syllable(w, s.chord, s.inside) for w, s in zip(words, line[at:end], strict=True)]
            at = end
        lines.append(tuple(other))
    return Part(name, tuple(lines))


# --- typing -----------------------------------------------------------------------------------------------------

HEADINGS = (
    "[{}]", "{}:", "{}", "({})", "- {} -", "--- {} ---", "<{}>", "{}:  ", "*{}*", "== {} ==", "{{{}}}",
)  # fmt: skip
SHORT = {"Verse 1": "V1", "Verse 2": "V2", "Chorus": "Ch", "Bridge": "Br", "Intro": "Intro"}


@dataclass(frozen=True, slots=True)
class Habits:
    """How somebody types."""

    heading: str
    capitals: bool
    short: bool
    key_said: bool
    again: str  # how a part that came before is named again; empty: typed out once more
    indent: str
    beside: float  # how often a chord stands a column beside its place
    barlines: bool
    blank: str  # what blanks are made of
    between: str  # between lines
    quoted: str
    ends: str


def habits(chance: random.Random) -> Habits:
    """Choose how a sheet is typed."""
    doubled = chance.random() < 0.1
    return Habits(
        heading=chance.choice(HEADINGS),
        capitals=chance.random() < 0.2,
        short=chance.random() < 0.15,
        key_said=chance.random() < 0.6,
        again=chance.choice(("", "", "{}", "Repeat {}", "{} again")),
        indent=chance.choice(("", "", "", "  ", "      ")),
        beside=chance.choice((0.0, 0.0, 0.3)),
        barlines=chance.random() < 0.2,
        blank="\u00a0" if chance.random() < 0.1 else " ",
        between="\n\n" if doubled else "\n",
        quoted="> " if chance.random() < 0.1 else "",
        ends="\r\n" if chance.random() < 0.1 else "\n",
    )


def type_out(song: Made, how: Habits, chance: random.Random) -> str:
    """Type a song out as a sheet."""
    lines = [song.title, *([f"Key: {song.key}"] if how.key_said else []), ""]
    typed: set[str] = set()
    for part in song.parts:
        if part.name in typed and how.again:
            name = how.again.format(part.name)
            lines += [name if how.again != "{}" else _heading(part.name, how), ""]
            continue
        typed.add(part.name)
        lines.append(_heading(part.name, how))
        for line in part.lines:
            chords, words = _typed(line, how, chance)
            lines += [how.indent + text for text in (chords, words) if text.strip()]
        lines.append("")
    text = how.between.join((how.quoted + line).rstrip() for line in lines)
    return text.replace(" ", how.blank).replace("\n", how.ends)


def _heading(name: str, how: Habits) -> str:
    text = how.heading.format(SHORT[name] if how.short else name)
    return text.upper() if how.capitals else text


def _typed(line: tuple[Syllable, ...], how: Habits, chance: random.Random) -> tuple[str, str]:
    """Give the line of chords and the line of words. Where a chord needs room, the words make it."""
    chords = ""
    sign = "| " if how.barlines else ""
    words = " " * len(sign)
    begins = len(words)  # of the word
    for place, syllable in enumerate(line):
        if not syllable.inside:
            words += " " if place else ""
            begins = len(words)
        if syllable.chord:
            need = len(chords) + (1 if chords else 0) + len(sign)
            if syllable.inside and sign:  # a word that begins under a barline is sung from the barline on
                need = max(need, begins + len(sign) + 1)
            if syllable.inside and how.beside:  # a-cross: a column from its beginning, where chords stand a column off
                need = max(need, begins + 2)
            if len(words) < need:
                words = words.ljust(need, "-" if syllable.inside else " ")
            column = _beside(len(words), len(chords), syllable, how, chance) - len(sign)
            chords = chords.ljust(column) + sign + syllable.chord
        words += syllable.text
    return chords, words.rstrip()


def _beside(column: int, free: int, syllable: Syllable, how: Habits, chance: random.Random) -> int:
    """Move a chord a column where it can still be meant for one syllable only."""
    if syllable.inside or not syllable.text or how.barlines or chance.random() >= how.beside:
        return column
    if column >= free + 2 and chance.random() < 0.5:
        return column - 1
    return column + 1 if len(re.sub(r"\W", "", syllable.text)) > 2 else column


# --- comparing --------------------------------------------------------------------------------------------------

Token = tuple[object, str]  # a chord as it sounds (or None), and the letters up to the next chord


@lru_cache(maxsize=4096)
def _chord_of(text: str) -> Chord:
    word = read_mark(text)
    assert isinstance(word, ChordWord), text
    return word.chord


def _sound(chord: Chord) -> tuple[object, ...]:
    """Give what a chord is without its spelling."""
    return chord.root.pitch_class, chord.pitch_classes, chord.bass_name.pitch_class


def wanted(song: Made) -> list[tuple[str, list[Token]]]:
    """Give the parts in the order of playing: the name, and what is sung from each chord on."""
    return [(part.name.casefold(), _tokens(part)) for part in song.parts]


def _tokens(part: Part) -> list[Token]:
    tokens: list[Token] = [(None, "")]
    for line in part.lines:
        for place, syllable in enumerate(line):
            if syllable.chord:
                parted = "" if syllable.inside else " "
                tokens[-1] = tokens[-1][0], tokens[-1][1] + parted
                tokens.append((_sound(_chord_of(syllable.chord)), syllable.text))
            else:
                parted = " " if place == 0 or not syllable.inside else ""
                tokens[-1] = tokens[-1][0], tokens[-1][1] + parted + syllable.text
    return _plain(tokens)


def found(song: Song) -> list[tuple[str, list[Token]]]:
    """Give the same of a converted song."""
    return [
        (song.sections[step.section].name.casefold(), _section(song.sections[step.section]))
        for step in song.roadmap
        for _ in range(step.times)
    ]


def _section(section: Section) -> list[Token]:
    pickup = section.pickup.value if section.pickup else ""
    tokens: list[Token] = [(None, pickup[:-1] if pickup.endswith("-") else pickup + " ")]
    for row in section.rows:
        for index, bar in enumerate(row.bars):
            words = row.words[0].bars[index] if row.words else None
            pieces = words.pieces if words else ()
            sung = {p.chord: p for p in pieces}
            if None in sung:
                tokens[-1] = tokens[-1][0], tokens[-1][1] + sung[None].text + " "
            for place, mark in enumerate(m for m in bar.marks if m.chord):
                assert mark.chord
                if place in sung and sung[place].glued:
                    tokens[-1] = tokens[-1][0], tokens[-1][1].rstrip()
                text = sung[place].text if place in sung else ""
                tokens.append((_sound(mark.chord.chord), text + " "))
            if words and words.joins:
                tokens[-1] = tokens[-1][0], tokens[-1][1].rstrip()
    return _plain(tokens)


def _plain(tokens: list[Token]) -> list[Token]:
    """Leave what counts: letters and signs, one blank between words, one at the end where a word ends there."""
    return [(chord, re.sub(r"\s+", " ", text).lstrip()) for chord, text in _closed(tokens)]


def _closed(tokens: list[Token]) -> list[Token]:
    chord, text = tokens[-1]
    closed = [*tokens[:-1], (chord, text + " ")]
    return closed if closed[0][1].strip() else closed[1:]


@dataclass(slots=True)
class Outcome:
    """What came of one song: chords and syllables in all, and those that came back in their place."""

    sheet: str
    made: str
    chords: int = 0
    chords_right: int = 0
    syllables: int = 0
    right: bool = False
    difference: str = ""


def there_and_back(chance: random.Random) -> Outcome:
    """Make a song, type it out, convert the sheet, and compare."""
    song = make(chance)
    sheet = type_out(song, habits(chance), chance)
    converted, problems = convert(Source.of("sheet.txt", sheet))
    want = wanted(song)
    outcome = Outcome(sheet, "", sum(len(tokens) for _, tokens in want))
    outcome.syllables = sum(bool(s.text) for part in song.parts for line in part.lines for s in line)
    if converted is None:
        outcome.difference = "; ".join(p.message for p in problems)
        return outcome
    outcome.made = converted.text
    back, problems = read(Source.of("made.song.txt", converted.text))
    assert back is not None, problems
    got = found(back)
    matcher = difflib.SequenceMatcher(None, _flat(want), _flat(got), autojunk=False)
    outcome.chords_right = sum(block.size for block in matcher.get_matching_blocks())
    outcome.right = want == got
    outcome.difference = "\n".join(
        line for line in difflib.unified_diff(_shown(want), _shown(got), "wanted", "found", lineterm="", n=0)
    )
    return outcome


def _flat(parts: list[tuple[str, list[Token]]]) -> list[Token]:
    return [token for _, tokens in parts for token in tokens]


def _shown(parts: list[tuple[str, list[Token]]]) -> list[str]:
    return [f"{name}: {chord} {text!r}" for name, tokens in parts for chord, text in tokens]


def main(count: int, seed: int) -> int:
    """Try many songs; print the counts and the first failures."""
    tally: Counter[str] = Counter()
    failed = []
    for number in range(count):
        outcome = there_and_back(random.Random(f"{seed}/{number}"))
        tally.update(
            songs=1,
            right=outcome.right,
            chords=outcome.chords,
            chords_right=outcome.chords_right,
            syllables=outcome.syllables,
        )
        if not outcome.right:
            failed.append((number, outcome))
    print(f"{tally['songs']:,} songs, {tally['right']:,} come back as they were")
    print(f"{tally['chords']:,} chords over {tally['syllables']:,} syllables, {tally['chords_right']:,} in their place")
    print(f"failures: {' '.join(str(number) for number, _ in failed) or 'none'}", flush=True)
    for number, outcome in failed[:3]:
        print(f"\n--- song {number} of seed {seed}\n{outcome.sheet}\n---\n{outcome.made}\n---\n{outcome.difference}")
    return 1 if failed else 0


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*numbers, *(1000, 1)[len(numbers) :]))
