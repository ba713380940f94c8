"""Write a Song as text, one item a line: what the golden files hold.

Times are quarters from the start of the bar, as `start+length`. Places are `line:column` of the source.
"""

from __future__ import annotations

from collections.abc import Iterator

from arranger.song.model import BandChange, Bar, BarWords, Mark, NoteLine, Pin, Row, Section, Song, Sound, Step, Tempo
from arranger.text.source import Source, Span


def dump(song: Song) -> str:
    """Return a song as text, one item a line."""
    return "\n".join([*_header(song), *_sections(song), *_steps(song)]) + "\n"


def _header(song: Song) -> Iterator[str]:
    yield f"song {song.title.value!r} {_at(song.source, song.title.span)}"
    yield f"key {song.key}" + (f" (written {song.written_key})" if song.written_key else "")
    yield f"meter {song.meter}"
    if song.tempo:
        yield f"tempo {_tempo(song.tempo)}"
    yield f"feel {song.feel}"
    if song.capo:
        yield f"capo {song.capo.fret} shapes {song.capo.shapes}"
    if song.band:
        yield f"band {' | '.join(song.band)}"
    for name, text in (
        ("start", song.start),
        ("words", song.words_by),
        ("music", song.music_by),
        ("rights", song.rights),
        ("language", song.language),
        ("copyist", song.copyist),
    ):
        if text:
            yield f"{name} {text.value!r} {_at(song.source, text.span)}"


def _sections(song: Song) -> Iterator[str]:
    for index, section in enumerate(song.sections):
        yield f"section {index} {section.name!r} {_at(song.source, section.span)}"
        yield from (f"  {line}" for line in _section(section, song))


def _section(section: Section, song: Song) -> Iterator[str]:
    if section.model is not None:
        without = " without words" if section.without_words else ""
        yield f"like {section.like!r} = section {section.model}{without}"
    if section.tacet:
        yield "tacet"
    yield f"facts {_facts(section, song)}"
    if section.own:
        yield f"own {' '.join(section.own)}"
    if section.pickup:
        yield f"pickup {section.pickup.value!r}"
    for index, row in enumerate(section.rows):
        yield f"row {index} {_at(song.source, row.span)}"
        yield from (f"  {line}" for line in _row(row, song.source))
    yield from (f"cue {cue.value!r} at the end" for cue in section.closing_cues)


def _facts(section: Section, song: Song) -> str:
    facts = section.facts
    parts = [f"key {facts.key}", f"meter {facts.meter}", f"feel {facts.feel}"]
    if facts.tempo:
        parts.append(f"tempo {_tempo(facts.tempo)}")
    if facts.sound:
        parts.append(f"sound {_sound(facts.sound)}")
    if facts.play:
        parts.append(f"play {facts.play.value!r}")
    if facts.dynamic:
        parts.append(f"dynamic {facts.dynamic.text!r} level {facts.dynamic.level}")
    parts += [f"suspensions {'on' if facts.suspensions else 'off'}", f"octaves {'on' if facts.octaves else 'off'}"]
    if facts.texture:
        parts.append(
            f"texture {facts.texture.level}" + (f" to {facts.texture.rises_to}" if facts.texture.rises_to else "")
        )
    if facts.drone:
        parts.append(f"drone {facts.drone.text!r} {' '.join(map(str, facts.drone.notes))}")
    if facts.band != song.band:
        parts.append(f"band {' | '.join(facts.band) or '(none)'}")
    return ", ".join(parts)


def _change(change: BandChange) -> str:
    """Return what changes in the band, one word or list for each thing that is said."""
    said = [name for name in ("keys_out", "alone", "all_in", "keys_in") if getattr(change, name)]
    said += [f"{name} {' | '.join(who)}" for name, who in (("out", change.out), ("back", change.back)) if who]
    return f"change {', '.join(said)}"


def _tempo(tempo: Tempo) -> str:
    if tempo.bpm is None:
        return "free"
    return f"{'to ' if tempo.gradual else ''}{tempo.bpm} of {tempo.unit}"


def _sound(sound: Sound) -> str:
    at = f" at {sound.split_at}" if sound.split_at else ""
    return f"{sound.kind} {' | '.join(sound.parts)}{at}"


def _row(row: Row, source: Source) -> Iterator[str]:
    yield from (f"cue {cue.value!r}" for cue in row.cues)
    if row.band_change is not None:
        yield _change(row.band_change)
    for bar in row.bars:
        yield f"bar {bar.number} {bar.meter}{_signs(bar)} {_at(source, bar.span)}"
        yield from (f"  {_mark(mark, source)}" for mark in bar.marks)
    for number, line in enumerate(row.words, start=1):
        yield f"sing {number} {_at(source, line.span)}"
        yield from (f"  {_words(words, source)}" for words in line.bars)
    for name, notes in (("octave", row.octave), ("hook", row.hook), ("tune", row.tune)):
        if notes is not None:
            yield f"{name} {_at(source, notes.span)}"
            yield from (f"  {line}" for line in _notes(notes, source))


def _signs(bar: Bar) -> str:
    signs = []
    if bar.length != bar.meter.length:
        signs.append(f"length {bar.length}")
    signs += [name for name in ("repeats_last", "meter_shown", "short", "repeat_start") if getattr(bar, name)]
    if bar.repeat_times:
        signs.append(f"times {bar.repeat_times}")
    if bar.ending:
        signs.append(f"ending {','.join(map(str, bar.ending))}")
    signs += [name for name in ("ending_close", "double") if getattr(bar, name)]
    return "".join(f" {sign}" for sign in signs)


def _mark(mark: Mark, source: Source) -> str:
    time = f"{mark.start}+{mark.length}"
    if mark.chord is None:
        return f"{time} {mark.kind} {_at(source, mark.span)}"
    chord = mark.chord
    parts = [time, str(chord.chord), repr(chord.written)]
    if chord.push:
        parts.append(f"push {chord.push}")
    parts += [name for name in ("optional", "as_written") if getattr(chord, name)]
    if chord.pins:
        parts.append("pins " + " ".join(map(_pin, chord.pins)))
    parts += chord.manner
    return " ".join([*parts, _at(source, mark.span)])


def _pin(pin: Pin) -> str:
    return f"{pin.name}{'' if pin.octave is None else pin.octave}"


def _words(words: BarWords, source: Source) -> str:
    pieces = [f"{'~' if p.glued else ''}{p.text!r}@{'-' if p.chord is None else p.chord}" for p in words.pieces]
    return " ".join([*(pieces or ["(none)"]), *(["joins"] if words.joins else []), _at(source, words.span)])


def _notes(line: NoteLine, source: Source) -> Iterator[str]:
    for bar in line.bars:
        notes = [f"{n.start}+{n.length} {n.pitch or 'rest'} {_at(source, n.span)}" for n in bar]
        yield "; ".join(notes) or "(none)"


def _steps(song: Song) -> Iterator[str]:
    yield f"roadmap {'written' if song.roadmap_written else 'as the sections stand'}"
    yield from (f"  {_step(step, song)}" for step in song.roadmap)


def _step(step: Step, song: Song) -> str:
    parts = [f"section {step.section} {song.sections[step.section].name!r}"]
    if step.from_bar is not None:
        parts.append(f"bars {step.from_bar}-{step.to_bar}")
    if step.until is not None:
        parts.append(f"until {step.until!r}")
    elif step.times != 1:
        parts.append(f"x{step.times}")
    if step.remark is not None:
        parts.append(f"({step.remark})")
    if step.textures:
        parts.append(f"textures {','.join(step.textures)}")
    if step.band_change is not None:
        parts.append(_change(step.band_change))
    return " ".join([*parts, _at(song.source, step.span)])


def _at(source: Source, span: Span) -> str:
    line, column = source.line_column(span.start)
    return f"{line}:{column}"
