"""Write notes and rests as MusicXML: values, ties, beams, signs of playing, fingers, words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from arranger.exchange.musicxml_words import Lyric
from arranger.sounding.notation import ROLL, WrittenHead, WrittenNote

TYPES = {  # quarters without a dot: MusicXML 4.0, `note-type-value`
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    **{Fraction(4, part): f"{part}{'nd' if part == 32 else 'th'}" for part in (16, 32, 64, 128, 256, 512, 1024)},
}
SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
BEAMS = {"begin": "begin", "continue": "continue", "end": "end", "forward": "forward hook", "backward": "backward hook"}
LOWER = 2  # the number of the lower staff
WHOLE = Fraction(4)  # quarters: values from here on have no stem


@dataclass(frozen=True, slots=True)
class ScoreVoice:
    """Where a voice is written: its number, its staff (0 where a part has one alone), divisions of a quarter."""

    number: int
    staff: int
    divisions: int


Verses = Sequence[tuple[int, Lyric]]  # the number of the verse, the words


def note_elements(
    notes: Sequence[WrittenNote], index: int, voice: ScoreVoice, verses: Verses = (), fingers: Sequence[int] = ()
) -> Iterator[Element]:
    """Yield the elements of one note, chord or rest of a voice; words go with the first of a chord's notes."""
    note = notes[index]
    bracket = _bracket(notes, index)
    for number, head in enumerate(note.heads or (None,)):
        element = Element("note")
        if number:
            SubElement(element, "chord")
        if head is None:
            SubElement(element, "rest", {"measure": "yes"} if note.whole_bar else {})
        else:
            pitch = SubElement(element, "pitch")
            SubElement(pitch, "step").text = head.pitch.name.letter
            if head.pitch.name.alter:
                SubElement(pitch, "alter").text = str(head.pitch.name.alter)
            SubElement(pitch, "octave").text = str(head.pitch.octave)
        SubElement(element, "duration").text = str(int(note.value.length * voice.divisions))
        _ties(element, head, "tie")
        SubElement(element, "voice").text = str(voice.number)
        if not note.whole_bar:
            _type(element, note)
        if head is not None and head.sign is not None:
            SubElement(element, "accidental").text = SIGNS[head.sign]
        if note.value.tuplet is not None:
            time = SubElement(element, "time-modification")
            SubElement(time, "actual-notes").text = str(note.value.tuplet[0])
            SubElement(time, "normal-notes").text = str(note.value.tuplet[1])
        if head is not None and note.value.plain < WHOLE:
            SubElement(element, "stem").text = "up" if note.stem_up else "down"
        if voice.staff:
            SubElement(element, "staff").text = str(voice.staff)
        if number == 0:
            for level, beam in enumerate(note.beams, 1):
                SubElement(element, "beam", {"number": str(level)}).text = BEAMS[beam]
        finger = fingers[number] if fingers else None
        _notations(element, note, head, (finger, voice.staff), bracket if number == 0 else ())
        if number == 0:
            for verse, lyric in verses:
                element.append(lyric_element(verse, lyric))
        yield element


def _type(element: Element, note: WrittenNote) -> None:
    SubElement(element, "type", {"size": "cue"} if note.small else {}).text = TYPES[note.value.plain]
    if note.value.dotted:
        SubElement(element, "dot")


def _ties(element: Element, head: WrittenHead | None, tag: str) -> None:
    if head is not None and head.tied_back:
        SubElement(element, tag, {"type": "stop"})
    if head is not None and head.tied_on:
        SubElement(element, tag, {"type": "start"})


def _notations(
    element: Element, note: WrittenNote, head: WrittenHead | None, place: tuple[int | None, int], bracket: Sequence[str]
) -> None:
    """Add what stands at a note; signs of the whole chord at its first note, the sign of a roll at each.

    `place` is its finger and its staff: the fermata of the lower staff is under it, upside down.
    """
    finger, staff = place
    notations = Element("notations")
    _ties(notations, head, "tied")
    for kind in bracket:
        SubElement(notations, "tuplet", {"type": kind})
    if finger is not None:
        SubElement(SubElement(notations, "technical"), "fingering").text = str(finger)
    first = head is not None and head is note.heads[0]
    articulations = [tag for sign, tag in (("stop", "staccato"), ("accent", "accent")) if first and sign in note.signs]
    if articulations:
        parent = SubElement(notations, "articulations")
        for tag in articulations:
            SubElement(parent, tag)
    if first and "hold" in note.signs:
        SubElement(notations, "fermata", {"type": "inverted" if staff == LOWER else "upright"})
    if head is not None and ROLL in note.signs:
        SubElement(notations, "arpeggiate")
    if len(notations):
        element.append(notations)


def _bracket(notes: Sequence[WrittenNote], index: int) -> tuple[str, ...]:
    """Return where a tuplet starts and stops: it runs on as long as notes of it follow that begin inside it."""
    tuplet = notes[index].value.tuplet
    if tuplet is None:
        return ()

    def inside(one: int, two: int) -> bool:
        """Return whether two neighbours are of one tuplet: the second begins at no place of a plain note."""
        there = one >= 0 and two < len(notes) and notes[one].value.tuplet == notes[two].value.tuplet == tuplet
        return there and notes[two].start.denominator & (notes[two].start.denominator - 1) != 0

    found = [] if inside(index - 1, index) else ["start"]
    return (*found, *([] if inside(index, index + 1) else ["stop"]))


def lyric_element(verse: int, lyric: Lyric) -> Element:
    """Return words as MusicXML; a syllable that is held and nothing else is an extension."""
    element = Element("lyric", {"number": str(verse)})
    if lyric.text:
        SubElement(element, "syllabic").text = lyric.syllabic
        SubElement(element, "text").text = lyric.text
    if lyric.held:
        SubElement(element, "extend")
    return element


def verses_of(placed: Mapping[int, Mapping[int, Lyric]], index: int) -> list[tuple[int, Lyric]]:
    """Return what each verse has at one note of a bar; `placed` are the words of each verse by their note."""
    return [(verse, lyrics[index]) for verse, lyrics in sorted(placed.items()) if index in lyrics]
