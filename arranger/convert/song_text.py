"""Write the text of a song, its chords spelled in their key, with remarks where something was assumed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from arranger.convert.compare import SongOrder
from arranger.convert.model import DraftBar, DraftRow, DraftSection, Remark, SheetFacts
from arranger.habits.headings import Heading
from arranger.song.cells import ChordWord, read_mark
from arranger.song.model import Capo
from arranger.song.sections import WIDE_BAR
from arranger.song.song_lines import LONGEST_LINE
from arranger.song.transpose import respelled
from arranger.song.words_and_notes import ESCAPED
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

ROADMAP_WIDTH = 100  # characters of one `roadmap` line


def text_of(facts: SheetFacts, key: Key, capo: Capo | None, ordered: SongOrder, notes: Sequence[Remark]) -> str:
    """Write a song with its facts, its key that sounds, its sections, and the remarks that belong to its head."""
    lines = list(fact_lines("song", facts.title)) or ["song Untitled"]
    for word, text in (
        ("words", facts.words),
        ("music", facts.music),
        ("rights", facts.rights),
        ("key", str(key)),
        ("capo", f"{capo.fret} in {capo.shapes}" if capo is not None else ""),
        ("tempo", facts.tempo),
        ("meter", str(facts.meter or "")),
        ("feel", facts.feel),
    ):
        lines += fact_lines(word, text)
    if not ordered.plain:
        lines += roadmap_lines(ordered.order)
    lines += map(_remark, notes)
    for section in ordered.sections:
        lines += ["", *_section(section)]
    return "\n".join(lines) + "\n"


def _remark(note: Remark) -> str:
    """Return a note as a remark of the song."""
    where = f", line {note.line}" if note.line else ""
    return f"# {'sheet' if note.kind == 'left' else note.kind}{where}: {_one_line(note.text)}"[:LONGEST_LINE]


def fact_lines(word: str, *texts: str) -> Iterator[str]:
    """Write facts in plain words, but for empty ones. A colon at the start of one would belong to the word."""
    for value in (_one_line(text).lstrip(":= ") for text in texts):
        if value:
            yield f"{word} {value}"[:LONGEST_LINE]


def _one_line(text: str) -> str:
    return " ".join(text.split())


def roadmap_lines(order: Iterable[Heading]) -> Iterator[str]:
    """Write the order in which sections are played, in lines that can be read."""
    line = ""
    for step in order:
        times = f" x{step.times}" if step.times > 1 else ""
        said = _one_line(re.sub(r"[()|]", " ", step.remark.replace(",", ";")))
        text = f"{step.name}{times}{f' ({said})' if said else ''}"
        if line and len(line) + len(text) > ROADMAP_WIDTH:
            yield f"roadmap {line},"
            line = ""
        line = f"{line}, {text}" if line else text
    if line:
        yield f"roadmap {line}"


def _section(section: DraftSection) -> Iterator[str]:
    yield f"section {section.name}"
    if section.like:
        yield f"like {section.like}{' without words' if section.without_words else ''}"
    if section.key is not None:
        yield f"key {section.key}"
    yield from fact_lines("pickup", section.pickup.replace("|", ""))
    yield from map(_remark, section.notes)
    yield from fact_lines("cue", *section.cues)
    for row in section.rows:
        yield from fact_lines("cue", *row.cues)
        yield from map(_remark, row.notes)
        if not section.like:
            yield chord_row(row)
        if row.sung or section.like:
            yield "sing " + " ".join(f"| {words_cell(bar)}".rstrip() for bar in row.bars) + " |"
    yield from map(_remark, section.closing)
    yield from fact_lines("cue", *section.closing_cues)


def chord_row(row: DraftRow) -> str:
    """Write a row of chords."""
    return " ".join(f"{bar.sign} {' '.join(bar.marks)}" for bar in row.bars) + f" {row.end}"


def words_cell(bar: DraftBar) -> str:
    """Write the words of a bar: a star for each chord after the first, before the words that are sung to it."""
    segments = list(bar.segments)
    while segments and not segments[-1].text:
        segments.pop()
    text = ""
    for index, segment in enumerate(segments):
        words = _plain(segment.text)
        if not index:
            text = words
        elif not text:
            text = f"* {words}".rstrip()
        elif segment.glued or text.endswith("*"):
            text += f"*{words}"
        else:
            text += f" * {words}".rstrip()
    if bar.joins:
        return text if text.endswith("-") else f"{text}-"
    if text.endswith("-") and len(text) > 1 and text[-2] == "-":
        return f"{text[:-1]}\\-"
    return text


_SIGNS = frozenset((*ESCAPED, *map(chr, WIDE_BAR))) - set("-_")


def _plain(text: str) -> str:
    """Escape what has a meaning in words; a held syllable keeps its sign, a hyphen its meaning at the end of a bar."""
    found = "".join(f"\\{c}" if c in _SIGNS else c for c in text)
    return re.sub(r"(?<=\S)_", r"\\_", found)


_PASSING = ("dim", "dim7")  # named by where they lead, whatever the key


def spelled_sections(sections: Sequence[DraftSection], key: Key, capo: Capo | None) -> tuple[DraftSection, ...]:
    """Spell the chords of all sections, each in its key. A section's key stays where the song can state it."""
    found = []
    keys = {section.name: section.key or key for section in sections}
    for section in sections:
        own, said = section.key, ""
        if own is not None and capo is not None:
            said = f"the key changes to {own.words} here; the capo's shapes are kept"
        elif own is not None and section.like and keys[section.like].minor is not own.minor:
            said = f"the key is {own.words} here, but the chords are those of {section.like}"
        elif own == key:
            section = replace(section, key=None if not section.like or keys[section.like] == key else own)
        if said:
            section = replace(section, key=None, notes=(*section.notes, Remark("check", section.line, said)))
        written = section.key or (capo.shapes if capo is not None else key)
        found.append(replace(section, rows=tuple(_respelled_row(row, written) for row in section.rows)))
    return tuple(found)


def _respelled_row(row: DraftRow, key: Key) -> DraftRow:
    """Spell the chords of a row as a key has them: A# in F is Bb."""
    bars = tuple(replace(bar, marks=tuple(respelled_mark(mark, key) for mark in bar.marks)) for bar in row.bars)
    pairs = [pair for old, new in zip(row.bars, bars, strict=True) for pair in zip(old.marks, new.marks, strict=True)]
    changed = dict.fromkeys(f"{old} is {new}" for old, new in pairs if old != new)
    if not changed:
        return row
    note = Remark("check", row.line, f"spelled as {key.words} has it: {', '.join(changed)}")
    return replace(row, bars=bars, notes=(*row.notes, note))


def respelled_mark(mark: str, key: Key) -> str:
    """Return a chord's mark spelled as a key has it; other marks as they are."""
    word = read_mark(mark)
    if not isinstance(word, ChordWord):
        return mark
    chord = word.chord
    root = _better(chord.root, key) if chord.quality.name not in _PASSING else chord.root
    bass = chord.bass
    if bass is not None and (bass not in chord.names or root != chord.root):
        bass = _better(bass, key)
    if root == chord.root and bass == chord.bass:
        return mark
    new = respelled(word.written, root, bass)
    return f"({new})" if word.optional else new


def _better(name: NoteName, key: Key) -> NoteName:
    """Return the scale's own name of a note that is typed with the other kind of sign."""
    scale = {n.pitch_class: n for n in key.scale}
    better = scale.get(name.pitch_class)
    other_sign = name.alter != 0 and name.alter * key.signature <= 0
    return better if better is not None and other_sign else name
