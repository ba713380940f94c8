"""The song's text. Takes the head's facts and the sections; gives lines, with remarks where something was assumed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from arranger.convert.compare import SongOrder
from arranger.convert.model import DraftBar, DraftRow, DraftSection, Facts, Remark
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
_LEADS = {"assumed": "assumed", "check": "check", "left": "sheet"}


def text_of(facts: Facts, key: Key, capo: Capo | None, ordered: SongOrder, notes: Sequence[Remark]) -> str:
    """Write a song with its facts, its key that sounds, its sections, and the remarks that belong to its head."""
    lines = list(_fact("song", facts.title)) or ["song Untitled"]
    for word, value in (("words", facts.words), ("music", facts.music), ("rights", facts.rights)):
        lines += _fact(word, value)
    lines.append(f"key {key}")
    if capo is not None:
        lines.append(f"capo {capo.fret} in {capo.shapes}")
    lines += [
        f"{w} {value}" for w, value in (("tempo", facts.tempo), ("meter", facts.meter), ("feel", facts.feel)) if value
    ]
    if not ordered.plain:
        lines += _roadmap(ordered.order)
    lines += map(remark, notes)
    for section in ordered.sections:
        lines += ["", *_section(section)]
    return "\n".join(lines) + "\n"


def remark(note: Remark) -> str:
    """Return a note as a remark of the song."""
    where = f", line {note.line}" if note.line else ""
    return f"# {_LEADS[note.kind]}{where}: {_one_line(note.text)}"[:LONGEST_LINE]


def _fact(word: str, text: str) -> Iterator[str]:
    """Write a fact in plain words; nothing where none are left. A colon at its start would belong to the word."""
    value = _one_line(text).lstrip(":= ")
    if value:
        yield f"{word} {value}"[:LONGEST_LINE]


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _roadmap(order: Iterable[Heading]) -> Iterator[str]:
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
    yield from _fact("pickup", section.pickup.replace("|", ""))
    yield from map(remark, section.notes)
    for cue in section.cues:
        yield from _fact("cue", cue)
    for row in section.rows:
        for cue in row.cues:
            yield from _fact("cue", cue)
        yield from map(remark, row.notes)
        if not section.like:
            yield chord_row(row)
        if row.sung or section.like:
            yield sung_row(row)
    yield from map(remark, section.closing)
    for cue in section.closing_cues:
        yield from _fact("cue", cue)


def chord_row(row: DraftRow) -> str:
    """Write a row of chords."""
    return " ".join(f"{bar.sign} {' '.join(bar.marks)}" for bar in row.bars) + f" {row.end}"


def sung_row(row: DraftRow) -> str:
    """Write a row of words."""
    return "sing " + " ".join(f"| {_cell(bar)}".rstrip() for bar in row.bars) + " |"


def _cell(bar: DraftBar) -> str:
    """Write the words of a bar: a star for each chord after the first, before the words that are sung to it."""
    segments = list(bar.segments)
    while segments and not segments[-1].text:
        segments.pop()
    text = ""
    for index, segment in enumerate(segments):
        words = _plain(segment.text)
        if index == 0:
            text = words
        elif segment.glued and text and not text.endswith(("*", " ")):
            text = f"{text}*{words}"
        elif text.endswith("*") or not words:
            text = f"{text}*{words}" if not text or text.endswith("*") else f"{text} *{words}"
        else:
            text = f"{text} * {words}" if text else f"* {words}"
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
        own = section.key
        if own is not None and capo is not None:
            note = Remark("check", section.line, f"the key changes to {own.words} here; the capo's shapes are kept")
            section = replace(section, key=None, notes=(*section.notes, note))
        elif own is not None and section.like and keys[section.like].minor is not own.minor:
            note = Remark(
                "check", section.line, f"the key is {own.words} here, but the chords are those of {section.like}"
            )
            section = replace(section, key=None, notes=(*section.notes, note))
        elif own == key:
            section = replace(section, key=None if not section.like or keys[section.like] == key else own)
        written = section.key or (capo.shapes if capo is not None else key)
        found.append(respelled_section(section, written))
    return tuple(found)


def respelled_section(section: DraftSection, key: Key) -> DraftSection:
    """Spell the chords of a section as its key has them: A# in F is Bb."""
    return replace(section, rows=tuple(_respelled_row(row, key) for row in section.rows))


def _respelled_row(row: DraftRow, key: Key) -> DraftRow:
    bars = tuple(replace(bar, marks=tuple(_respelled(mark, key) for mark in bar.marks)) for bar in row.bars)
    changed = [
        f"{old} is {new}"
        for bar, other in zip(row.bars, bars, strict=True)
        for old, new in zip(bar.marks, other.marks, strict=True)
        if old != new
    ]
    if not changed:
        return row
    note = Remark("check", row.line, f"spelled as {key.words} has it: {', '.join(dict.fromkeys(changed))}")
    return replace(row, bars=bars, notes=(*row.notes, note))


def _respelled(mark: str, key: Key) -> str:
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
