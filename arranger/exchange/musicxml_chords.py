"""Write chord symbols as MusicXML: a root, a kind with the text that is printed, degrees, a bass.

The meaning of degrees is that of MusicXML 4.0 (`degree-alter`): of an added one against a dominant chord, of an altered
one against the chord of the kind.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from fractions import Fraction
from functools import lru_cache
from xml.etree import ElementTree

from arranger.harmony.model import Arrangement, ChordPart
from arranger.harmony.strokes import resolves_after
from arranger.sounding.strikes import lead_ins_heard
from arranger.theory.chord import Change, Chord
from arranger.theory.interval import Interval
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import BY_NAME, QUALITIES, Quality

Symbol = tuple[Fraction, Chord | None, str]  # where in its bar, the chord (None: no chord), what is printed
NO_CHORD = "N.C."
SUSPENDED = {("", "sus2"): "sus2", ("", "sus4"): "sus4", ("7", "sus2"): "7sus2", ("7", "sus4"): "7sus4"}
SEVENTH, ON_DOMINANT = 7, 1  # a dominant chord's seventh is a semitone lower than that of the major scale


def suspended(part: ChordPart) -> tuple[Chord, str]:
    """Return what sounds on a chord's beat, with what is printed behind its root: the suspension with it."""
    assert part.chord is not None
    chord, text = part.chord, f"{part.chord.suffix}{part.suggested}"
    if part.suspension is None:
        return chord, text
    kind = part.suspension.kind
    named = SUSPENDED.get((chord.suffix, kind))
    if named is not None and part.suggested == kind:
        return Chord(chord.root, BY_NAME[named], (), chord.bass), text
    changes = [*chord.changes]
    added = Interval.parse("9" if part.suggested == "(add9)" else kind[-1])
    third = chord.member_on(3)
    if part.suggested != "(add9)" and third is not None:
        changes.append(Change("no", third))
    if added not in chord.members:
        changes.append(Change("add", added))
    return Chord(chord.root, chord.quality, tuple(changes), chord.bass), text


def harmony(chord: Chord | None, text: str, offset: int = 0) -> ElementTree.Element:
    """Return a chord symbol; `chord` None is no chord. `offset` is from the note after it, in divisions."""
    element = ElementTree.Element("harmony")
    if chord is None:
        step = _named(ElementTree.SubElement(element, "root"), "root", NoteName("C"))
        step.set("text", "")
        ElementTree.SubElement(element, "kind", {"text": NO_CHORD}).text = "none"
    else:
        _named(ElementTree.SubElement(element, "root"), "root", chord.root)
        kind, degrees = kind_of(chord.members)
        ElementTree.SubElement(element, "kind", {"text": text}).text = kind
        if chord.bass is not None:
            _named(ElementTree.SubElement(element, "bass"), "bass", chord.bass)
        for value, alter, how in degrees:
            degree = ElementTree.SubElement(element, "degree", {"print-object": "no"})
            ElementTree.SubElement(degree, "degree-value").text = str(value)
            ElementTree.SubElement(degree, "degree-alter").text = str(alter)
            ElementTree.SubElement(degree, "degree-type").text = how
    if offset:
        ElementTree.SubElement(element, "offset").text = str(offset)
    ElementTree.SubElement(element, "staff").text = "1"
    return element


def _named(parent: ElementTree.Element, prefix: str, name: NoteName) -> ElementTree.Element:
    step = ElementTree.SubElement(parent, f"{prefix}-step")
    step.text = name.letter
    if name.alter:
        ElementTree.SubElement(parent, f"{prefix}-alter").text = str(name.alter)
    return step


Degree = tuple[int, int, str]  # which one, its alteration, and `add`, `alter` or `subtract`


@lru_cache(maxsize=1024)
def kind_of(members: tuple[Interval, ...]) -> tuple[str, tuple[Degree, ...]]:
    """Return the kind that needs the fewest degrees beside it to say these members of a chord, with those degrees.

    A seventh is never added: readers differ on whether a plain one is minor, as the standard has it, or major.

    >>> kind_of(Chord(NoteName("C"), BY_NAME["7sus4"]).members)
    ('dominant', ((3, 0, 'subtract'), (4, 0, 'add')))
    """
    ways = [(quality.musicxml, _degrees(members, quality)) for quality in QUALITIES if quality.musicxml]
    return min(ways, key=lambda way: (any(d[0] == SEVENTH and d[2] == "add" for d in way[1]), len(way[1])))


def _degrees(members: tuple[Interval, ...], quality: Quality) -> tuple[Degree, ...]:
    """Return what a chord has beside the notes of a kind, and what it lacks of them."""
    base = {interval.degree: interval for interval in quality.degrees}
    here: dict[int, list[Interval]] = {}
    for member in members:
        here.setdefault(member.degree, []).append(member)
    found: list[Degree] = []
    for degree in sorted({*base, *here} - {1}):
        own, wanted = base.get(degree), list(here.get(degree, ()))
        if own is not None and not wanted:
            found.append((degree, 0, "subtract"))
            continue
        if own in wanted:
            wanted.remove(own)
        elif own is not None:
            altered = wanted.pop(0)
            found.append((degree, altered.semitones - own.semitones, "alter"))
        shift = ON_DOMINANT if degree == SEVENTH else 0
        found += [(degree, interval.alteration + shift, "add") for interval in wanted]
    return tuple(found)


def symbols_heard(arrangement: Arrangement) -> dict[int, tuple[Symbol, ...]]:
    """Return the chord symbols of each bar as heard, as they are printed, in order of time."""
    starts = [bar.at for bar in arrangement.bars]
    found: defaultdict[int, list[Symbol]] = defaultdict(list)

    def add(at: Fraction, chord: Chord | None, text: str) -> None:
        index = bisect_right(starts, at) - 1
        found[index].append((at - starts[index], chord, text))

    for number, heard in enumerate(arrangement.heard):
        part = arrangement.chord(heard.chord)
        assert part.chord is not None
        at = heard.at + (part.written.push if part.written is not None and number else 0)
        add(at, *suspended(part))
        later = resolves_after(arrangement, heard, part)
        if later is not None:
            add(at + later, part.chord, part.chord.suffix)
    for bar in arrangement.bars:
        for part in () if bar.silent else arrangement.sections[bar.section].chords:
            if part.kind == "none" and (part.row, part.bar_index) == (bar.row, bar.bar_index):
                add(bar.at + part.start, None, "")
    for lead_in, bar in lead_ins_heard(arrangement):
        chord, at = lead_in.chord, bar.at + lead_in.start
        if lead_in.resolves is not None:
            add(at, Chord(chord.root, BY_NAME["sus4"]), "sus4")
            at = bar.at + lead_in.resolves
        add(at, chord, chord.suffix)
    return {index: tuple(sorted(some, key=lambda symbol: symbol[0])) for index, some in found.items()}
