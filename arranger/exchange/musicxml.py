"""Write an Arrangement as MusicXML 4.0 (W3C Community Group): a piano on two staves, a voice where one is known, a pad.

What the staves of the page show is what this has: bars in note values (`sounding.notation`), chord symbols as they are
printed, words, names of sections. The song stands in the order of its roadmap.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from arranger.digests import sealed
from arranger.exchange.musicxml_bars import ScoreBar, score_bars
from arranger.exchange.musicxml_chords import Symbol, harmony, symbols_heard
from arranger.exchange.musicxml_directions import (
    feel_direction,
    hairpin,
    levels,
    loudness,
    own_words,
    reached,
    said,
    section_begins,
    tempo_directions,
)
from arranger.exchange.musicxml_notes import ScoreVoice, note_elements, verses_of
from arranger.exchange.musicxml_words import Lyric, lyrics_of, on_notes
from arranger.harmony.model import Arrangement
from arranger.song.model import Bar, Facts, Meter, Row, Section
from arranger.sounding.notation import NotatedBar, WrittenNote, written_bars, written_line
from arranger.sounding.staff_places import pad_staff
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch

DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
SOFTWARE = "arranger"
DIGEST = "0" * 64  # what stands for the digest until the other bytes are known
VOICE, PIANO, PAD = "P1", "P2", "P3"
NAMES = {VOICE: "Voice", PIANO: "Piano", PAD: "Pad"}
CLEFS = (("G", "2"), ("F", "4"))  # of the upper and the lower staff


@dataclass(frozen=True, slots=True)
class _Score:
    """All that the parts of a score are written from.

    `symbols` has the chord symbols of each of `Arrangement.bars`, `tunes` the melody of each bar of the score that has
    one.
    """

    arrangement: Arrangement
    bars: tuple[ScoreBar, ...]
    written: tuple[NotatedBar, ...]
    symbols: Mapping[int, tuple[Symbol, ...]]
    tunes: Mapping[int, tuple[WrittenNote, ...]]
    pad: int | None  # the staff on which a pad is written
    divisions: int

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts of the score in their order."""
        return (*([VOICE] if self.tunes else []), PIANO, *([PAD] if self.pad is not None else []))

    def section(self, bar: ScoreBar) -> Section:
        return self.arrangement.song.sections[self.arrangement.bars[bar.heard].section]

    def row(self, bar: ScoreBar) -> Row:
        return self.section(bar).rows[self.arrangement.bars[bar.heard].row]

    def printed(self, bar: ScoreBar) -> Bar:
        return self.row(bar).bars[self.arrangement.bars[bar.heard].bar_index]


def to_musicxml(arrangement: Arrangement) -> bytes:
    """Return a song's part as MusicXML, the same bytes each time, with the digest of its bytes."""
    score = _score(arrangement)
    root = Element("score-partwise", {"version": "4.0"})
    _head(root, arrangement, score.parts)
    for kind in score.parts:
        _measures(SubElement(root, "part", {"id": kind}), score, kind)
    ElementTree.indent(root, " ")
    return sealed((DOCTYPE + ElementTree.tostring(root, encoding="unicode") + "\n").encode("utf-8"))


def _score(arrangement: Arrangement) -> _Score:
    written = written_bars(arrangement)
    bars = score_bars(arrangement, written)
    symbols = symbols_heard(arrangement)
    tunes = {}
    for bar in bars:
        heard = arrangement.bars[bar.heard]
        section = arrangement.song.sections[heard.section]
        row = section.rows[heard.row]
        if row.tune is not None:
            notes = _tune(row, heard.bar_index)
            meter = row.bars[heard.bar_index].meter
            tunes[bar.heard] = written_line(arrangement, notes, meter, heard.length, section.facts.key)
    values = [note.value for bar in bars for voice in written[bar.heard].voices for note in voice]
    values += [note.value for bar in bars for note in written[bar.heard].pad]
    values += [note.value for line in tunes.values() for note in line]
    times = {time for value in values for time in (value.start, value.length)}
    times |= {time for some in symbols.values() for time, _, _ in some}
    divisions = math.lcm(*(time.denominator for time in times))
    return _Score(arrangement, bars, written, symbols, tunes, pad_staff(arrangement), divisions)


def _tune(row: Row, bar_index: int) -> list[tuple[Pitch, Fraction, Fraction]]:
    """Return the notes of a row's melody that sound in one of its bars, from its start; some begin before it."""
    assert row.tune is not None
    found = []
    at = Fraction(0)
    start = sum((bar.length for bar in row.bars[:bar_index]), Fraction(0))
    end = start + row.bars[bar_index].length
    for bar, notes in zip(row.bars, row.tune.bars, strict=False):
        for note in notes:
            begins, ends = at + note.start, at + note.start + note.length
            if note.pitch is not None and begins < end and ends > start:
                found.append((note.pitch, begins - start, ends - start))
        at += bar.length
    return found


# --- the head --------------------------------------------------------------------------------------------------


def _head(root: Element, arrangement: Arrangement, kinds: Sequence[str]) -> None:
    song = arrangement.song
    SubElement(SubElement(root, "work"), "work-title").text = song.title.value
    identification = SubElement(root, "identification")
    for kind, text in (("composer", song.music_by), ("lyricist", song.words_by)):
        if text is not None:
            SubElement(identification, "creator", {"type": kind}).text = text.value
    if song.rights is not None:
        SubElement(identification, "rights").text = song.rights.value
    SubElement(SubElement(identification, "encoding"), "software").text = SOFTWARE
    miscellaneous = SubElement(identification, "miscellaneous")
    SubElement(miscellaneous, "miscellaneous-field", {"name": "digest"}).text = DIGEST
    parts = SubElement(root, "part-list")
    for kind in kinds:
        SubElement(SubElement(parts, "score-part", {"id": kind}), "part-name").text = NAMES[kind]


# --- the bars of a part ----------------------------------------------------------------------------------------


@dataclass(slots=True)
class _InForce:
    """What was said last in a part. Mutable, lives in `_measures` only."""

    key: Key | None = None
    meter: Meter | None = None
    tempo: str = ""
    feel: str = "straight"
    sound: str = ""
    play: str = ""
    level: str = ""
    number: int = 0
    short: int = 0


def _measures(part: Element, score: _Score, kind: str) -> None:
    in_force = _InForce()
    fingered: set[tuple[Pitch, ...]] = set()
    for place, bar in enumerate(score.bars):
        short = score.printed(bar).length != score.printed(bar).meter.length
        measure = SubElement(part, "measure", _number(in_force, place, short=short))
        _left_barline(measure, bar)
        _attributes(measure, score, bar, in_force, kind, first=place == 0)
        if kind == PIANO:
            measure.extend(_begins(score, bar, in_force, first=place == 0))
            _piano_notes(measure, score, bar, fingered)
            measure.extend(_ends(score, bar, in_force))
        else:
            _line(measure, score, bar, kind)
        _right_barline(measure, bar, last=place == len(score.bars) - 1)


def _line(measure: Element, score: _Score, bar: ScoreBar, kind: str) -> None:
    """Add the notes of a part that has one line: the voice, with the words of its tune, or the pad."""
    notes = score.written[bar.heard].pad if kind == PAD else score.tunes.get(bar.heard)
    printed = score.printed(bar)
    notes = notes or written_line(score.arrangement, (), printed.meter, printed.length, score.section(bar).facts.key)
    words = _words(score, bar, notes) if kind == VOICE and bar.heard in score.tunes else {}
    for index in range(len(notes)):
        measure.extend(note_elements(notes, index, ScoreVoice(1, 0, score.divisions), verses_of(words, index)))


def _number(in_force: _InForce, place: int, *, short: bool) -> dict[str, str]:
    """Return the number of a measure; a short one is not counted, as in print."""
    if not short:
        in_force.number += 1
        return {"number": str(in_force.number)}
    in_force.short += 1
    return {"number": "0" if place == 0 else f"X{in_force.short}", "implicit": "yes"}


def _attributes(measure: Element, score: _Score, bar: ScoreBar, in_force: _InForce, kind: str, *, first: bool) -> None:
    key, meter = score.section(bar).facts.key, score.printed(bar).meter
    attributes = Element("attributes")
    if first:
        SubElement(attributes, "divisions").text = str(score.divisions)
    if key != in_force.key:
        signature = SubElement(attributes, "key")
        SubElement(signature, "fifths").text = str(key.signature)
        SubElement(signature, "mode").text = key.mode
    if meter != in_force.meter:
        time = SubElement(attributes, "time")
        SubElement(time, "beats").text = str(meter.beats)
        SubElement(time, "beat-type").text = str(meter.unit)
    in_force.key, in_force.meter = key, meter
    if first:
        if kind == PIANO:
            SubElement(attributes, "staves").text = "2"
        for staff in (0, 1) if kind == PIANO else (score.pad or 0,) if kind == PAD else (0,):
            sign, line = CLEFS[staff]
            clef = SubElement(attributes, "clef", {"number": str(staff + 1)} if kind == PIANO else {})
            SubElement(clef, "sign").text = sign
            SubElement(clef, "line").text = line
    if len(attributes):
        measure.append(attributes)


def _begins(score: _Score, bar: ScoreBar, in_force: _InForce, *, first: bool) -> Iterator[Element]:
    """Yield what is said before the notes of a bar."""
    heard, song = score.arrangement.bars[bar.heard], score.arrangement.song
    section = score.section(bar)
    if bar.begins:
        named = song.sections[song.roadmap[heard.step].section]
        yield from section_begins(named, song.roadmap[heard.step] if heard.time == 0 else None, song if first else None)
        yield from _facts(section.facts, in_force)
        if heard.silent:
            yield said("tacet")
    if heard.bar_index == 0:
        yield from (said(cue.value) for cue in score.row(bar).cues)


def _facts(facts: Facts, in_force: _InForce) -> Iterator[Element]:
    if facts.tempo is not None and facts.tempo.text != in_force.tempo:
        in_force.tempo = facts.tempo.text
        yield from tempo_directions(facts.tempo)
    if facts.feel != in_force.feel:
        in_force.feel = facts.feel
        yield feel_direction(facts.feel)
    sound, play = facts.sound.text if facts.sound else "", own_words(facts)
    if sound != in_force.sound:
        in_force.sound = sound
        yield said(sound or "piano")
    if play != in_force.play:
        in_force.play = play
        if play:
            yield said(play)
    level, wedge, _ = levels(facts)
    if level and level != in_force.level:
        in_force.level = level
        yield loudness(level)
    if wedge:
        yield hairpin(wedge)


def _ends(score: _Score, bar: ScoreBar, in_force: _InForce) -> Iterator[Element]:
    """Yield what stands at the end of a section."""
    if not bar.ends:
        return
    section = score.section(bar)
    _, wedge, level = levels(section.facts)
    if wedge:
        yield hairpin("stop")
        in_force.level = level
        if level:
            yield loudness(level)
    tempo = section.facts.tempo
    if tempo is not None and tempo.gradual:
        yield reached(tempo)
    if score.printed(bar) == section.bars[-1]:
        yield from (said(cue.value) for cue in section.closing_cues)


def _piano_notes(measure: Element, score: _Score, bar: ScoreBar, fingered: set[tuple[Pitch, ...]]) -> None:
    written = score.written[bar.heard]
    words = _words(score, bar, written.right) if bar.heard not in score.tunes else {}
    voices = ScoreVoice(1, 1, score.divisions), ScoreVoice(5, 2, score.divisions)
    symbols = list(score.symbols.get(bar.heard, ()))
    for index, note in enumerate(written.right):
        while symbols and symbols[0][0] < note.end:
            time, chord, text = symbols.pop(0)
            measure.append(harmony(chord, text, int((time - note.start) * score.divisions)))
        verses = verses_of(words, index)
        fingers = _fingers(score.arrangement, note, fingered)
        measure.extend(note_elements(written.right, index, voices[0], verses, fingers))
    backup = SubElement(measure, "backup")
    SubElement(backup, "duration").text = str(int(written.length * score.divisions))
    for index in range(len(written.left)):
        measure.extend(note_elements(written.left, index, voices[1]))


def _fingers(arrangement: Arrangement, note: WrittenNote, fingered: set[tuple[Pitch, ...]]) -> tuple[int, ...]:
    """Return the fingers of a hand that is struck whole for the first time."""
    if not note.begins or note.chord is None:
        return ()
    part = arrangement.chord(note.chord)
    if part.right in fingered or [head.pitch.midi for head in note.heads] != [pitch.midi for pitch in part.right]:
        return ()
    fingered.add(part.right)
    return part.fingers


def _words(score: _Score, bar: ScoreBar, notes: Sequence[WrittenNote]) -> dict[int, dict[int, Lyric]]:
    """Return the words of each verse that is sung in a bar, by the place of their note."""
    row = score.row(bar)
    if not row.words:
        return {}
    verses = sorted({min(number, len(row.words)) for number in bar.passes})
    places = [(note.start, note.struck) for note in notes]
    bar_index = score.arrangement.bars[bar.heard].bar_index
    return {
        verse if bar.folded else 1: on_notes(
            lyrics_of(row, bar_index, verse - 1), places, sung=bar.heard in score.tunes
        )
        for verse in verses
    }


# --- barlines --------------------------------------------------------------------------------------------------


def _left_barline(measure: Element, bar: ScoreBar) -> None:
    if not bar.repeat_start and not bar.ending:
        return
    barline = SubElement(measure, "barline", {"location": "left"})
    if bar.repeat_start:
        SubElement(barline, "bar-style").text = "heavy-light"
    if bar.ending:
        SubElement(barline, "ending", {"number": _numbers(bar.ending), "type": "start"})
    if bar.repeat_start:
        SubElement(barline, "repeat", {"direction": "forward"})


def _right_barline(measure: Element, bar: ScoreBar, *, last: bool) -> None:
    style = "light-heavy" if last or bar.repeat_times else "light-light" if bar.ends or bar.double else ""
    if not style and not bar.ending_stops:
        return
    barline = SubElement(measure, "barline", {"location": "right"})
    if style:
        SubElement(barline, "bar-style").text = style
    if bar.ending_stops:
        kind = "stop" if bar.repeat_times else "discontinue"
        SubElement(barline, "ending", {"number": _numbers(bar.ending_stops), "type": kind})
    if bar.repeat_times:
        times = {"times": str(bar.repeat_times)} if bar.repeat_times > 2 else {}
        SubElement(barline, "repeat", {"direction": "backward", **times})


def _numbers(ending: Sequence[int]) -> str:
    return ", ".join(map(str, ending))
