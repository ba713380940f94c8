"""Read the bars of a part. Takes their elements, in order; gives notes, chords and signs, in quarters, as they sound.

Positions follow MusicXML 4.0: notes move on, `backup` and `forward` move without sound, `chord` notes share a start.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from arranger.convert.score_directions import BarSigns, take_barline, take_direction, take_sound
from arranger.convert.score_file import Element, bare
from arranger.convert.score_harmony import NO_CHORD, moved_chord, symbols_of
from arranger.convert.score_model import ScoreChord, ScoreMeasure, ScoreNote, ScoreSyllable
from arranger.convert.score_values import (
    TYPES,
    Shift,
    child,
    decimal,
    dotted,
    integer,
    shift_of,
    text_of_child,
    written_pitch,
)
from arranger.song.read import without_controls
from arranger.theory.pitch import NoteName

LONGEST_BAR = 256  # quarters; longer ones are damage
LONGEST_SYLLABLE = 200  # characters
LOWEST, HIGHEST = 21, 108  # A0 to C8
_LINES = str.maketrans({"\n": " ", "\r": " ", "\t": " ", "\u00a0": " "})


class PartReader:
    """Reads the bars of one part in order. Mutable; lives while its part is read."""

    def __init__(self) -> None:
        self.measures: list[ScoreMeasure] = []
        self._divisions = Fraction(1)
        self._shift = Shift()
        self._key: tuple[int, str] = (0, "")  # as written
        self.whole = Fraction(4)  # the length of a bar by its meter

    def bar(self, attributes: dict[str, str], element: Element) -> None:
        """Read one bar."""
        label = plain_text(attributes.get("number", ""))[:12] or str(len(self.measures) + 1)
        bar = _BarReader(self, attributes.get("implicit") == "yes", label)
        for one in element:
            bar.take(one)
        self.measures.append(bar.measure())

    def attributes(self, element: Element, bar: _BarReader) -> None:
        """Take divisions, key, meter and transposition."""
        divisions = decimal(text_of_child(element, "divisions"))
        if divisions is not None and divisions > 0:
            self._divisions = divisions
        elif child(element, "divisions") is not None:
            bar.troubles.append("the length of a quarter is no number: lengths are those of the printed notes")
        for one in element:
            name = bare(one)
            if name == "transpose" and one.get("number", "1") == "1":
                self._shift = shift_of(one)
                bar.key = self._sounding_key() if self.measures or bar.key is not None else None
            elif name == "key" and one.get("number", "1") == "1":
                self._take_key(one, bar)
            elif name == "time" and one.get("number", "1") == "1":
                bar.meter = _meter(one)
        if child(element, "transpose") is not None and child(element, "key") is not None:
            bar.key = self._sounding_key()

    def _take_key(self, element: Element, bar: _BarReader) -> None:
        fifths = integer(text_of_child(element, "fifths"))
        if fifths is None or abs(fifths) > 14:
            bar.troubles.append("a key that is no plain signature")
            return
        self._key = fifths, text_of_child(element, "mode").lower()
        bar.key = self._sounding_key()

    def _sounding_key(self) -> tuple[int, str]:
        fifths = self._key[0] + self._shift.fifths
        while fifths > 7:
            fifths -= 12
        while fifths < -7:
            fifths += 12
        return fifths, self._key[1]

    @property
    def tonic(self) -> tuple[NoteName, bool]:
        """The written tonic, and whether the mode is minor."""
        minor = self._key[1] in ("minor", "aeolian")
        return NoteName.at_fifths(self._key[0] + (3 if minor else 0)), minor

    @property
    def shift(self) -> Shift:
        """From written to sounding pitch, here."""
        return self._shift

    def quarters(self, text: str) -> Fraction | None:
        """Return a number of divisions in quarters; None for what is no number or cannot be in a bar."""
        number = decimal(text)
        if number is None or abs(number / self._divisions) > LONGEST_BAR:
            return None
        return number / self._divisions


def plain_text(text: str) -> str:
    """Return a text in one line, without what no song may hold."""
    return " ".join(without_controls(text.translate(_LINES)).split())


def _meter(element: Element) -> tuple[int, int] | None:
    """Return beats and unit; several pairs are added up; (0, 0) for no meter."""
    if child(element, "senza-misura") is not None:
        return 0, 0
    total = Fraction(0)
    units: list[int] = []
    beats: list[int] = []
    for one in element:
        if bare(one) == "beats":
            beats = [n for part in (one.text or "").split("+") if (n := integer(part)) is not None]
        elif bare(one) == "beat-type":
            unit = integer(one.text)
            if unit is None or not 1 <= unit <= 64 or not beats or not 1 <= sum(beats) <= 256:
                return None
            total += Fraction(sum(beats), unit)
            units.append(unit)
    if not units:
        return None
    unit = max(units)
    return (int(total * unit), unit) if (total * unit).denominator == 1 else None


class _BarReader:
    """Reads one bar. Mutable; lives while its bar is read."""

    def __init__(self, part: PartReader, implicit: bool, label: str) -> None:
        self.part = part
        self.meter: tuple[int, int] | None = None
        self.key: tuple[int, str] | None = None
        self.signs = BarSigns()
        self.troubles: list[str] = []
        self._implicit, self._label = implicit, label
        self._at = self._last = self._end = Fraction(0)
        self._notes: list[ScoreNote] = []
        self._chords: list[ScoreChord] = []
        self._ratios: set[Fraction] = set()  # of the printed length of each note to its length in divisions

    def take(self, one: Element) -> None:
        """Take one element of the bar."""
        name = bare(one)
        if name == "note":
            self._note(one)
        elif name in ("backup", "forward"):
            length = self.part.quarters(text_of_child(one, "duration"))
            if length is None or length < 0:
                self.troubles.append(f"a `{name}` without a length")
                return
            self._at = max(Fraction(0), self._at - length) if name == "backup" else self._at + length
            self._end = max(self._end, self._at)
        elif name == "attributes":
            self.part.attributes(one, self)
        elif name == "harmony":
            self._harmony(one)
        elif name == "direction":
            offset = self.part.quarters(text_of_child(one, "offset")) or Fraction(0)
            take_direction(one, max(Fraction(0), self._at + offset), self.signs)
        elif name == "sound":
            take_sound(one, self.signs)
        elif name == "barline":
            take_barline(one, self.signs)

    def _harmony(self, element: Element) -> None:
        for symbol in symbols_of(element, self.part.shift, *self.part.tonic):
            offset = self.part.quarters(symbol.offset) or Fraction(0)
            start = max(Fraction(0), self._at + offset)
            self._chords.append(ScoreChord(start, symbol.text, symbol.trouble, symbol.other))

    def _note(self, element: Element) -> None:
        children = {bare(one): one for one in reversed(element)}
        if "grace" in children or "cue" in children:
            if "lyric" in children:
                self.troubles.append("words under a small note: " + " ".join(s.text for s in _syllables(element)))
            return
        length = self._length(element, children)
        start = self._last if "chord" in children else self._at
        rest = "rest" in children
        pitch = None
        if "pitch" in children:
            pitch = written_pitch(children["pitch"])
            pitch = self.part.shift.pitch(pitch) if pitch is not None else None
            if pitch is None or not LOWEST <= pitch.midi <= HIGHEST:
                self.troubles.append("a note that no piano has")
                pitch = None
        if "notehead" in children and (children["notehead"].text or "").strip() in ("slash", "slashed"):
            pitch = None
        ties = {tie.get("type") for tie in element if bare(tie) == "tie"}
        notations = children.get("notations")
        fermata = notations is not None and child(notations, "fermata") is not None
        voice = text_of_child(element, "voice") or "1"
        staff = integer(text_of_child(element, "staff")) or 1
        syllables = tuple(_syllables(element))
        self._notes.append(
            ScoreNote(start, length, pitch, rest, voice, staff, "stop" in ties and not syllables, fermata, syllables)
        )
        if "chord" not in children:
            self._last = start
            self._at = start + length
        self._end = max(self._end, start + length)

    def _length(self, element: Element, children: dict[str, Element]) -> Fraction:
        """Return a note's length: what is reckoned, else what is printed."""
        counted = self.part.quarters(text_of_child(element, "duration"))
        printed = _printed(element, children)
        if counted is None or counted < 0:
            self.troubles.append("a note without a length")
            return printed or Fraction(0)
        if printed and counted and "chord" not in children:
            self._ratios.add(printed / counted)
        return counted

    def measure(self) -> ScoreMeasure:
        """Return what was read."""
        ratio = next(iter(self._ratios)) if len(self._ratios) == 1 else Fraction(1)
        whole = self.part.whole
        if self.meter is not None:
            self.part.whole = whole = Fraction(4 * self.meter[0], self.meter[1] or 1)
        taken = {chord.start for chord in self._chords}
        self._chords += [ScoreChord(start, NO_CHORD) for start in self.signs.no_chord if start not in taken]
        found = ScoreMeasure(
            label=self._label,
            implicit=self._implicit,
            length=self._end,
            notes=tuple(self._notes),
            chords=tuple(self._chords),
            chord_like=tuple(
                (typed, ScoreChord(typed.start, moved_chord(typed.text, self.part.shift)))
                for typed in self.signs.chord_like
            ),
            meter=self.meter,
            key=self.key,
            headings=tuple(self.signs.headings),
            words=tuple(self.signs.words),
            tempo=self.signs.tempo,
            feel=self.signs.feel,
            dynamic=self.signs.dynamic,
            jumps=self.signs.jumps(),
            troubles=tuple(dict.fromkeys((*self.troubles, *self.signs.troubles))),
        )
        wrong = ratio != 1 and self._end != whole and self._end * ratio <= whole
        return stretched(found, ratio) if wrong else found


def stretched(measure: ScoreMeasure, ratio: Fraction) -> ScoreMeasure:
    """Return a bar whose lengths were reckoned with a wrong length of a quarter."""
    return replace(
        measure,
        length=measure.length * ratio,
        notes=tuple(replace(note, start=note.start * ratio, length=note.length * ratio) for note in measure.notes),
        chords=tuple(replace(chord, start=chord.start * ratio) for chord in measure.chords),
        troubles=(
            *measure.troubles,
            "its notes are counted with a wrong length of a quarter; the printed lengths hold",
        ),
    )


def _printed(element: Element, children: dict[str, Element]) -> Fraction | None:
    """Return the length that a note's head, dots and tuplet show."""
    kind = TYPES.get(text_of_child(element, "type"))
    if kind is None or ("rest" in children and children["rest"].get("measure") == "yes"):
        return None
    length = dotted(kind, sum(bare(one) == "dot" for one in element))
    tuplet = children.get("time-modification")
    if tuplet is not None:
        actual, normal = (integer(text_of_child(tuplet, f"{what}-notes")) for what in ("actual", "normal"))
        if not actual or not normal or not 0 < actual <= 64 or not 0 < normal <= 64:
            return None
        length *= Fraction(normal, actual)
    return length


def _syllables(note: Element) -> Iterator[ScoreSyllable]:
    for lyric in note:
        if bare(lyric) != "lyric":
            continue
        verse = plain_text(lyric.get("number", "") or lyric.get("name", ""))[:40] or "1"
        text, first, last = _sung(lyric)
        if not text:
            continue
        text = text[:LONGEST_SYLLABLE]
        numbers = [n for one in lyric.get("time-only", "").split(",") if (n := integer(one)) is not None and n > 0]
        goes_on = last in ("begin", "middle") or (not last and text.endswith("-") and len(text) > 1)
        if goes_on:
            text = text.rstrip("-‐‑") or text
        yield ScoreSyllable(verse, text, goes_on, first in ("middle", "end"), tuple(numbers))


def _sung(lyric: Element) -> tuple[str, str, str]:
    """Return what is sung to a note, and the places of its first and last piece in their words.

    Elided syllables belong to two words, with a blank between, unless the places say that they are of one word.
    """
    text, place, first, elided = "", "", "", False
    before = ""
    for one in lyric:
        name = bare(one)
        if name == "syllabic":
            before, place = place, (one.text or "").strip()
            first = first or place
        elif name == "elision":
            elided = True
        elif name == "text":
            piece = plain_text(one.text or "").strip("_")
            if not piece:
                continue
            inside = before in ("begin", "middle") and place in ("middle", "end")
            text += f"{'' if not text or (elided and inside) or not elided else ' '}{piece}"
            elided = False
    return text, first, place
