"""A song as what a sheet can say of it, for comparing: one thing a line. Takes a Song; gives the lines.

What is music and words counts: title, authors, key, meter, tempo, capo, sections with their models, pickups, rows, bars
(a bar with `%` as the bar before; slashes melted into what sounds), chords by what they mean, repeats and endings,
words and where chords fall on them, the roadmap. What is only said beside it does not: remarks, cues, the roadmap's
remarks, whether a chord stood in parentheses. Capitals of titles and names of sections are the typist's habit, and do
not count.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from arranger.song.model import Bar, BarWords, Row, Section, Song


def lines_of(song: Song) -> list[str]:
    """Give all that counts of a song."""
    return [*_head(song), *(line for s in song.sections for line in _section(s, song)), *_roadmap(song)]


def _head(song: Song) -> Iterator[str]:
    yield f"song {song.title.value.casefold()}"
    for name, text in (("words", song.words_by), ("music", song.music_by)):
        yield f"{name} {text.value.casefold() if text else '?'}"
    yield f"key {song.key}"
    yield f"meter {song.meter}"
    yield f"tempo {song.tempo.bpm if song.tempo else None} of {song.tempo.unit if song.tempo else None}"
    yield f"capo {song.capo.fret} in {song.capo.shapes}" if song.capo else "no capo"


def _section(section: Section, song: Song) -> Iterator[str]:
    yield f"section {section.name.casefold()}"
    if section.model is not None:
        yield f"  like {song.sections[section.model].name.casefold()}"
    if section.facts.key != song.key:
        yield f"  key {section.facts.key}"
    if section.pickup:
        yield f"  pickup {section.pickup.value}"
    for row in section.rows:
        yield f"  {_chords(row)}"
        yield from (
            f"    sing {' | '.join(map(_words, line.bars))}" for line in row.words if any(b.pieces for b in line.bars)
        )


def _chords(row: Row) -> str:
    """Give the bars of a row; a chord that does not fill the bar with its start and length in quarters."""
    text = ""
    before = ""
    for bar in row.bars:
        ending = "".join(f"{number}." for number in bar.ending)
        content = before if bar.repeats_last else _content(bar)
        text += f"|{':' if bar.repeat_start else ''}{ending} {content} "
        text += f":x{bar.repeat_times}" if bar.repeat_times else ""
        before = content
    return text + "|"


def _content(bar: Bar) -> str:
    sounding: list[tuple[str, Fraction, Fraction]] = []
    for mark in bar.marks:
        if mark.kind == "slash" and sounding:
            name, start, length = sounding[-1]
            sounding[-1] = name, start, length + mark.length
        else:
            name = str(mark.chord.chord) if mark.chord else mark.kind
            sounding.append((name, mark.start, mark.length))
    if len(sounding) == 1 and sounding[0][2] == bar.meter.length:
        return sounding[0][0]
    return " ".join(f"{name}({start}+{length})" for name, start, length in sounding)


def _words(words: BarWords) -> str:
    text = ""
    for piece in words.pieces:
        text += ("" if piece.glued or not text else " ") + (f"[{piece.chord}]" if piece.chord else "") + piece.text
    return text + ("-" if words.joins else "")


def _roadmap(song: Song) -> Iterator[str]:
    """Give the sections as they are played; `Chorus x2` is the same as Chorus twice."""
    for step in song.roadmap:
        bars = f" bars {step.from_bar}-{step.to_bar}" if step.from_bar else ""
        until = f" until {step.until}" if step.until else ""
        yield from [f"play {song.sections[step.section].name.casefold()}{bars}{until}"] * step.times
