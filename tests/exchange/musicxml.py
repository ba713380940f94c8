"""MusicXML of songs, checked from outside: by the schema of the standard, and as music21 reads it.

    python -m tests.exchange.musicxml [HOW MANY]

checks all samples and so many songs made by chance; a twentieth of 500 are in the tests.

The schema is `musicxml_4_0.xsd` of the W3C (Community Final Specification Agreement), as the package `musicxml` on PyPI
carries it; of the two schemas that it imports a stub each is enough. It is run by lxml.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from importlib import resources
from pathlib import Path

import music21
from lxml import etree

from arranger.exchange.musicxml import to_musicxml
from arranger.harmony.model import Arrangement, ChordPart
from arranger.harmony.strokes import resolves_after
from arranger.sounding.staff_places import printable
from arranger.sounding.strikes import lead_ins_heard, written_notes
from arranger.theory.chord import Chord
from tests.sounding.songs import all_songs

HOW_MANY = 500
_XLINK = b"""<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
<xs:attribute name="type" type="xs:string"/><xs:attribute name="href" type="xs:anyURI"/>
<xs:attribute name="role" type="xs:string"/><xs:attribute name="title" type="xs:string"/>
<xs:attribute name="show" type="xs:string"/><xs:attribute name="actuate" type="xs:string"/></xs:schema>"""
_XML = b"""<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
targetNamespace="http://www.w3.org/XML/1998/namespace">
<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/></xs:schema>"""


@cache
def schema() -> etree.XMLSchema:
    """Return the schema of MusicXML 4.0."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        place.joinpath("xlink.xsd").write_bytes(_XLINK)
        place.joinpath("xml.xsd").write_bytes(_XML)
        text = resources.files("musicxml").joinpath("generate_classes", "musicxml_4_0.xsd").read_bytes()
        whole = text.replace(b"http://www.musicxml.org/xsd/", b"")
        place.joinpath("musicxml_4_0.xsd").write_bytes(whole)
        return etree.XMLSchema(etree.parse(str(place / "musicxml_4_0.xsd"), etree.XMLParser(no_network=True)))


def schema_faults(data: bytes) -> list[str]:
    """Return what the schema finds wrong."""
    parsed = etree.parse(io.BytesIO(data), etree.XMLParser(no_network=True, load_dtd=False))
    validator = schema()
    return [] if validator.validate(parsed) else [str(error) for error in validator.error_log][:5]


def played(data: bytes) -> list[music21.stream.Part]:
    """Return the parts as music21 reads them, repeats played."""
    score = music21.converter.parseData(data, format="musicxml")
    return [_expanded(part) for part in score.parts]


def _expanded(part: music21.stream.Part) -> music21.stream.Part:
    """Return a part with its repeats played; each of its measures is in a group of the measure as written."""
    for place, bar in enumerate(_measures(part)):
        bar.groups.append(f"written {place}")
    repeats = any(
        isinstance(line, music21.bar.Repeat)
        for bar in _measures(part)
        for line in (bar.leftBarline, bar.rightBarline)
        if line is not None
    )
    return part.expandRepeats() if repeats else part


def _measures(part: music21.stream.Part) -> list[music21.stream.Measure]:
    return list(part.getElementsByClass("Measure"))


Sounding = tuple[str, Fraction, Fraction]  # the pitch, where it starts and where it ends


def _exact(time: object) -> Fraction:
    return Fraction(time).limit_denominator(100_000)


def notes_of(part: music21.stream.Part) -> list[Sounding]:
    """Return the notes of a part in time, those that are tied as one."""
    found: list[Sounding] = []
    open_notes: dict[str, Fraction] = {}
    at = Fraction(0)
    for measure in _measures(part):
        for one in measure.recurse().getElementsByClass(("Note", "Chord")):
            if isinstance(one, music21.harmony.Harmony):
                continue
            start = at + _exact(one.getOffsetInHierarchy(measure))
            end = start + _exact(one.quarterLength)
            for note in one.notes if isinstance(one, music21.chord.Chord) else (one,):
                name = note.pitch.nameWithOctave.replace("-", "b")
                tie = note.tie.type if note.tie is not None else ""
                begins = open_notes.pop(name, start) if tie in ("stop", "continue") else start
                if tie in ("start", "continue"):
                    open_notes[name] = begins
                else:
                    found.append((name, begins, end))
        at += _exact(measure.duration.quarterLength)
    return sorted(found)


def expected_notes(arrangement: Arrangement, staff: int) -> list[Sounding]:
    """Return the notes of a staff as the arrangement has them: 0 the right hand's, 1 the left's, 2 the pad's."""
    return sorted(
        (str(printable(note.pitch)), note.start, note.end)
        for note in written_notes(arrangement)
        if (2 if note.part == "pad" else note.part == "left") == staff
    )


Symbol = tuple[Fraction, str, frozenset[int]]  # where it stands, how it is printed, its pitch classes


def symbols_of(part: music21.stream.Part) -> list[Symbol]:
    """Return the chord symbols of a part in time, as printed and as music21 understands them."""
    found: list[Symbol] = []
    at = Fraction(0)
    for measure in _measures(part):
        for one in measure.recurse().getElementsByClass("Harmony"):
            start = at + _exact(one.getOffsetInHierarchy(measure))
            if isinstance(one, music21.harmony.NoChord):
                found.append((start, "N.C.", frozenset()))
                continue
            bass = one.bass().name if one.bass() is not None else one.root().name
            over = "" if bass == one.root().name else f"/{bass}"
            name = f"{one.root().name}{one.chordKindStr}{over}".replace("-", "b")
            found.append((start, name, frozenset(pitch.pitchClass for pitch in one.pitches)))
        at += _exact(measure.duration.quarterLength)
    return sorted(found, key=lambda symbol: (symbol[0], symbol[1]))


def expected_symbols(arrangement: Arrangement) -> list[tuple[Fraction, str, frozenset[int] | None]]:
    """Return the chord symbols as the page has them; pitch classes None where a suspension is suggested."""
    found: list[tuple[Fraction, str, frozenset[int] | None]] = []

    def named(chord: Chord, suffix: str) -> str:
        bass = f"/{chord.bass}" if chord.bass is not None and chord.bass != chord.root else ""
        return f"{chord.root}{suffix}{bass}"

    def whole(chord: Chord) -> frozenset[int]:
        return chord.pitch_classes | {chord.bass_name.pitch_class}

    for number, heard in enumerate(arrangement.heard):
        part: ChordPart = arrangement.chord(heard.chord)
        at = heard.at + (part.written.push if part.written and number else 0)
        suspended = part.suspension is not None
        found.append(
            (at, named(part.chord, part.chord.suffix + part.suggested), None if suspended else whole(part.chord))
        )
        later = resolves_after(arrangement, heard, part)
        if later is not None:
            found.append((at + later, named(part.chord, part.chord.suffix), whole(part.chord)))
    for bar in arrangement.bars:
        for part in () if bar.silent else arrangement.sections[bar.section].chords:
            if part.kind == "none" and (part.row, part.bar_index) == (bar.row, bar.bar_index):
                found.append((bar.at + part.start, "N.C.", frozenset()))
    for lead_in, bar in lead_ins_heard(arrangement):
        if lead_in.resolves is not None:
            found.append((bar.at + lead_in.start, f"{lead_in.chord.root}sus4", None))
        at = bar.at + (lead_in.start if lead_in.resolves is None else lead_in.resolves)
        found.append((at, named(lead_in.chord, lead_in.chord.suffix), whole(lead_in.chord)))
    return sorted(found, key=lambda symbol: (symbol[0], symbol[1]))


def words_of(parts: list[music21.stream.Part]) -> list[dict[int, str]]:
    """Return, for each bar as it is played, the words of each verse number, without blanks."""
    found: list[dict[int, str]] = []
    for place, measures in enumerate(zip(*map(_measures, parts), strict=True)):
        found.append({})
        for measure in measures:
            for one in measure.recurse().notesAndRests:
                for lyric in one.lyrics:
                    text = "".join((lyric.text or "").split())
                    found[place][lyric.number] = found[place].get(lyric.number, "") + text
    return found


def expected_words(arrangement: Arrangement) -> Iterator[tuple[int, str]]:
    """Yield, for each bar as it is heard, its verse (from 1) and its words, without blanks and held syllables."""
    begun: Counter[tuple[int, int]] = Counter()
    last: tuple[int, int, int] | None = None
    for bar in arrangement.bars:
        here = bar.step, bar.time, bar.row
        begun[here[0], here[2]] += here != last or bar.bar_index == 0
        last = here
        row = arrangement.song.sections[bar.section].rows[bar.row]
        if not row.words:
            yield 1, ""
            continue
        verse = min(begun[bar.step, bar.row], len(row.words))
        line = row.words[verse - 1].bars
        text = ""
        for piece in line[bar.bar_index].pieces if bar.bar_index < len(line) else ():
            held = piece.text.endswith("_") and len(piece.text) - 1 not in piece.plain
            text += "".join((piece.text[:-1] if held else piece.text).split())
        yield verse, text


def faults(arrangement: Arrangement) -> list[str]:
    """Return what is wrong with a song's MusicXML: by the schema, and as music21 reads it."""
    data = to_musicxml(arrangement)
    found = schema_faults(data)
    parts = played(data)
    padded = any(section.pad for section in arrangement.sections)
    staves = parts[-3:] if padded else parts[-2:]
    for staff, part in enumerate(staves):
        notes, wanted = notes_of(part), expected_notes(arrangement, staff)
        if notes != wanted:
            odd = sorted(set(notes) ^ set(wanted), key=lambda note: note[1])[:4]
            found.append(f"staff {staff}: {len(notes)} notes of {len(wanted)}: {odd}")
    symbols, names = symbols_of(staves[0]), expected_symbols(arrangement)
    if [symbol[:2] for symbol in symbols] != [name[:2] for name in names]:
        odd_names = sorted({s[:2] for s in symbols} ^ {n[:2] for n in names})[:4]
        found.append(f"symbols: {len(symbols)} of {len(names)}: {odd_names}")
    else:
        for (_, name, classes), (_, _, wanted_classes) in zip(symbols, names, strict=True):
            if wanted_classes is not None and classes != wanted_classes:
                found.append(f"{name} is {sorted(classes)}, not {sorted(wanted_classes)}")
    words = words_of(parts)
    sung = list(expected_words(arrangement))
    if len(words) != len(sung):
        found.append(f"{len(words)} bars of {len(sung)}")
    printed = [measure.groups[-1] for measure in _measures(staves[0])]
    times = Counter(printed)
    passes = [(bar.step, bar.time) for bar in arrangement.bars]
    repeated = {one for one, number in zip(passes, printed, strict=False) if times[number] > 1}
    for place, (one, verses, (verse, text)) in enumerate(zip(passes, words, sung, strict=False)):
        here = verses.get(verse if one in repeated else 1, "")  # where bars are repeated verses have numbers
        if here != text:
            found.append(f"bar {place} as heard, verse {verse}: {here!r}, not {text!r}")
    return found


def main(count: int) -> int:
    """Check all samples and so many songs; return how many have faults."""
    began, bad, songs = time.monotonic(), 0, 0
    kinds: Counter[str] = Counter()
    for text, arrangement in all_songs(count):
        songs += 1
        wrong = faults(arrangement)
        if wrong:
            bad += 1
            kinds.update(one.split(":")[0] for one in wrong)
            print(f"{text.splitlines()[0]}: {wrong[:3]}")
    print(f"{songs} songs, {bad} with faults, {time.monotonic() - began:.0f} s")
    return bad


if __name__ == "__main__":
    sys.exit(bool(main(int(sys.argv[1]) if sys.argv[1:] else HOW_MANY)))
