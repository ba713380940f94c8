"""Write what stands over and under the notes of a score: names of sections, tempi, loudness, words to the player."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from arranger.exchange.musicxml_notes import TYPES
from arranger.harmony.patterns import WORDS
from arranger.harmony.timeline import ASSUMED_QUARTERS
from arranger.song.model import Facts, Section, Song, Step, Tempo
from arranger.sounding.note_values import single_value

PRINTED_LEVELS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
RISE, FALL = "crescendo", "diminuendo"


def direction(content: Element, placement: str, sound: Element | None = None) -> Element:
    """Return a direction of one thing, over or under the staff."""
    element = Element("direction", {"placement": placement})
    SubElement(element, "direction-type").append(content)
    if placement == "below":
        SubElement(element, "staff").text = "1"
    if sound is not None:
        element.append(sound)
    return element


def said(text: str, placement: str = "above") -> Element:
    """Return words to the player."""
    words = Element("words")
    words.text = text
    return direction(words, placement)


def section_begins(section: Section, step: Step | None, song: Song | None) -> Iterator[Element]:
    """Yield what is said where a section begins: its name, the roadmap's remark, who begins the song, its pickup."""
    rehearsal = Element("rehearsal")
    rehearsal.text = section.name
    yield direction(rehearsal, "above")
    if song is not None and song.start is not None:
        yield said(f"start: {song.start.value}")
    if step is not None and step.remark:
        yield said(step.remark)
    if step is not None and step.until:
        yield said(f"until {step.until}")
    if section.pickup is not None:
        yield said(f"pickup: {section.pickup.value}", "below")


def tempo_directions(tempo: Tempo | None) -> Iterator[Element]:
    """Yield a tempo with how fast it sounds; one that is reached little by little sounds only at its end."""
    if tempo is None:
        return
    if tempo.bpm is None or tempo.gradual:
        words = Element("words")
        words.text = tempo.text
        yield direction(words, "above", None if tempo.gradual else _sound(ASSUMED_QUARTERS))
        return
    metronome = Element("metronome")
    plain, dotted = single_value(tempo.unit) or (Fraction(1), False)
    SubElement(metronome, "beat-unit").text = TYPES[plain]
    if dotted:
        SubElement(metronome, "beat-unit-dot")
    SubElement(metronome, "per-minute").text = str(tempo.bpm)
    yield direction(metronome, "above", _sound(tempo.bpm * tempo.unit))


def reached(tempo: Tempo) -> Element:
    """Return the sound of a tempo that is reached."""
    return _sound(tempo.quarters_a_minute or ASSUMED_QUARTERS)


def _sound(quarters: Fraction) -> Element:
    return Element("sound", {"tempo": f"{float(quarters):.6g}"})


def feel_direction(feel: str) -> Element:
    """Return how eighths are played from here on; MusicXML has a sound for swing."""
    words = Element("words")
    words.text = feel
    sound = None
    if feel != "half-time":
        sound = Element("sound")
        swing = SubElement(sound, "swing")
        if feel == "straight":
            SubElement(swing, "straight")
        else:
            SubElement(swing, "first").text = "2"
            SubElement(swing, "second").text = "1"
            SubElement(swing, "swing-type").text = "eighth"
    return direction(words, "above", sound)


def own_words(facts: Facts) -> str:
    """Return the player's own words for how to play, where they are no manner that the notes show."""
    play = facts.play.value if facts.play is not None else ""
    return "" if " ".join(play.casefold().split()) in WORDS else play


def levels(facts: Facts) -> tuple[str, str, str]:
    """Return the level that a section begins with, its hairpin and the level that it comes to; each may be empty."""
    dynamic = facts.dynamic
    if dynamic is None:
        return "", "", ""
    first, last = dynamic.level or "", dynamic.text.split()[-1]
    if last in ("cresc", "dim"):
        return first, RISE if last == "cresc" else FALL, ""
    if last == first or last not in PRINTED_LEVELS or first not in PRINTED_LEVELS:
        return first, "", ""
    return first, RISE if PRINTED_LEVELS.index(last) > PRINTED_LEVELS.index(first) else FALL, last


def loudness(level: str) -> Element:
    """Return a level of loudness under the upper staff."""
    dynamics = Element("dynamics")
    SubElement(dynamics, level)
    return direction(dynamics, "below")


def hairpin(kind: str) -> Element:
    """Return a hairpin's start (`crescendo`, `diminuendo`) or `stop`."""
    return direction(Element("wedge", {"type": kind}), "below")
