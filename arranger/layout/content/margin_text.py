"""Put facts in words: what pages say about a song, a section or a row, and where the roadmap leads."""

import re
from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.model import Arrangement, PadNote, SectionPart
from arranger.layout.content.how_played import (
    SOUND,
    SUGGESTED,
    apart_margin,
    players_words,
    playing,
    rhythm,
    visits_words,
)
from arranger.layout.content.model import MarginEntry
from arranger.layout.style import MIDDLE_C, Look
from arranger.layout.text import printed_name
from arranger.song.model import Row, Section, Song, Sound, Step, Tempo
from arranger.text.source import Span
from arranger.theory.key import Key
from arranger.units import ordinal

HOOK = "play the hook"

_TEMPO_SIGNS = {Fraction(1): "♩", Fraction(3, 2): "♩.", Fraction(2): "half notes", Fraction(1, 2): "eighths"}


def key_words(key: Key) -> str:
    """Return a key as it is printed: `B♭ major`."""
    return f"{printed_name(key.tonic)} {'minor' if key.minor else 'major'}"


def played_key(arrangement: Arrangement) -> str:
    """Return the key that is played and how the keyboard is set for it: `played in C major · transpose +2`."""
    key = key_words(arrangement.key)
    if not arrangement.transpose:
        return key
    sign = "+" if arrangement.transpose > 0 else "–"
    return f"played in {key} · transpose {sign}{abs(arrangement.transpose)}"


def tempo_words(tempo: Tempo) -> str:
    """Return a tempo as it is printed: `♩ = 72`, `♩. = 60`, or the writer's words.

    >>> tempo_words(Tempo("dotted 60", 60, Fraction(3, 2))), tempo_words(Tempo("half 60", 60, Fraction(2)))
    ('♩. = 60', 'half notes = 60')
    >>> tempo_words(Tempo("rit to dotted 40", 40, Fraction(3, 2), gradual=True))
    'rit. to ♩. = 40'
    """
    sign = _TEMPO_SIGNS.get(tempo.unit)
    if tempo.bpm is None or sign is None:
        return tempo.text
    way = f"{tempo.text.split()[0]}. to " if tempo.gradual else ""
    return f"{way}{sign} = {tempo.bpm}"


def song_facts(arrangement: Arrangement) -> list[str]:
    """Return what stands beside a title: key, tempo, meter, feel, and what the guitarist does."""
    song = arrangement.song
    facts = [played_key(arrangement)]
    if song.tempo is not None:
        facts.append(tempo_words(song.tempo))
    facts.append(str(arrangement.meter))
    if song.feel != "straight":
        facts.append(song.feel)
    if song.capo is not None:
        facts.append(f"guitar: capo {song.capo.fret}, shapes in {key_words(song.capo.shapes)}")
    return facts


def step_words(song: Song, step: Step) -> str:
    """Return a step of the roadmap as it is printed: `Chorus bars 5–8 ×2 (build)`."""
    return " ".join(filter(None, (song.sections[step.section].name, manner_words(step, "until"))))


def manner_words(step: Step, until: str) -> str:
    """Return what a step of the roadmap asks beside playing its section: bars, times, until when, the remark.

    >>> manner_words(Step(0, times=2, from_bar=5, to_bar=8, remark="build"), "until")
    'bars 5–8 ×2 (build)'
    """
    words = [_bars_words(step)] if step.from_bar is not None else []
    if step.times > 1:
        words.append(f"×{step.times}")
    if step.until is not None:
        words.append(f"{until} {step.until}")
    if step.remark is not None:
        words.append(f"({step.remark})")
    return " ".join(words)


class Changes(NamedTuple):
    """Which facts a section must state: they differ from the song's, or from a section that is heard before it."""

    key: bool
    meter: bool
    tempo: bool
    feel: bool


def changes_of(song: Song, index: int) -> Changes:
    """Return which facts change where a section begins; the way back to the song's own counts too, as in print."""
    facts = song.sections[index].facts
    others = [song.sections[number] for number in sorted(_before(song, index))]
    meters = [section.bars[-1].meter if section.bars else section.facts.meter for section in others]
    return Changes(
        key=any(facts.key != key for key in (song.key, *(section.facts.key for section in others))),
        meter=any(facts.meter != meter for meter in (song.meter, *meters)),
        tempo=any(facts.tempo != tempo for tempo in (song.tempo, *(section.facts.tempo for section in others))),
        feel=any(facts.feel != feel for feel in (song.feel, *(section.facts.feel for section in others))),
    )


def section_margin(
    arrangement: Arrangement, index: int, patches: Mapping[str, str], look: Look
) -> tuple[MarginEntry, ...]:
    """Return what pages say of a section: its name, cues, what changes, how it is played.

    A stage copy has the name apart, and says what goes on from before (`KNOWN`) only where it does not for another
    section that is drawn with it. `patches` are the numbers of sounds by their names in small letters. Where the look
    has letters, where the hand lies is said in words.
    """
    song, section, part = arrangement.song, arrangement.song.sections[index], arrangement.sections[index]
    if part.of is not None:
        return apart_margin(arrangement, index, stage=look.chords_first)
    facts, changed, stage = section.facts, changes_of(song, index), look.chords_first
    entries = [] if stage else [MarginEntry(section.name, "section", section.span)]
    entries += row_margin(section.rows[0]) if section.rows else ()

    def add(text: str, span: Span = section.span, role: str = "fact", kind: str = "") -> None:
        if text:
            entries.append(MarginEntry(text, role, span, kind=kind))

    add(players_words(arrangement, index), role="change")
    add(f"{'' if stage else 'now '}{key_words(facts.key)}" if changed.key else "", role="change")
    if changed.meter and (stage or section.tacet or not section.rows):
        add(str(facts.meter), role="change" if stage else "fact")
    add(tempo_words(facts.tempo) if changed.tempo and facts.tempo is not None else "", role="change", kind="tempo")
    add(facts.feel if changed.feel else "", role="change")
    if facts.sound is not None:
        new = _is_new(song, index, [section.facts.sound for section in song.sections])
        add(
            sound_words(facts.sound, patches),
            facts.sound.span,
            ("change" if new else KNOWN) if stage else "fact",
            SOUND,
        )
    add(call_up_words(arrangement, index) if patches else "")
    play = "" if section.tacet else part.play
    if stage:
        add(facts.dynamic.text if facts.dynamic else "", facts.dynamic.span if facts.dynamic else section.span)
        new = _is_new(song, index, [part.play for part in arrangement.sections])
        # What the dynamic says already takes no room on a stage copy.
        texture = "" if section.tacet or part.texture_from == "dynamic" else part.texture
        full = _is_new(song, index, [part.texture for part in arrangement.sections])
        fact = SUGGESTED if part.texture_from == "suggested" else "fact"
        add(texture, role=fact if full else KNOWN)
        fact = fact if facts.play is None else "fact"
        add(play, role=fact if new and (play != HELD or _before(song, index)) else KNOWN)
    else:
        entries += playing(arrangement, index)
        bars = rhythm(arrangement, index)
        entries += [MarginEntry("", "rhythm", section.span, rhythm=bars)] if bars else []
    add(visits_words(arrangement, index), role=SUGGESTED if part.texture_from == "suggested" else "fact")
    add(f"pad: {pad_words(part.pad)}" if part.pad else "")
    add(thumb_words(part) if look.hands == "letters" else "")
    return tuple(entries)


def call_up_words(arrangement: Arrangement, index: int) -> str:
    """Return where before a section there is time to call up its sound, where that is another one."""
    change = arrangement.sections[index].sound_change
    if change is None:
        return ""
    where = f"{arrangement.song.sections[change.over[0]].name}, bar {change.bar}"
    return f"call up in {where}" if change.enough else f"call up in {where}, quickly"


_SPLIT_AT = re.compile(r"\s+split\s+\S+$")  # where a sound is split is no part of its name


def sound_words(sound: Sound, patches: Mapping[str, str]) -> str:
    """Return a sound with the numbers of its parts on the player's instrument: `piano 001 + pad 045`.

    >>> sound_words(Sound("piano + pad", "layer", ("piano", "pad")), {"piano": "001"})
    'piano 001 + pad'
    """
    text = sound.text.casefold()
    whole = patches.get(text, patches.get(_SPLIT_AT.sub("", text)))
    if whole is not None:
        return f"{sound.text} {whole}"
    text = sound.text
    for part in dict.fromkeys(sound.parts):
        number = patches.get(part.casefold())
        if number is not None:
            found = re.search(rf"(?<!\w){re.escape(part)}(?!\w)", text)
            text = f"{text[: found.end()]} {number}{text[found.end() :]}" if found else text
    return text


def row_margin(row: Row) -> tuple[MarginEntry, ...]:
    """Return what stands beside a row's first line: its cues, and that the hook over it is to be played."""
    cues = tuple(MarginEntry(cue.value, "cue", cue.span) for cue in row.cues)
    return (*cues, MarginEntry(HOOK, "cue", row.hook.span)) if row.hook is not None else cues


def pickup_margin(section: Section) -> tuple[MarginEntry, ...]:
    """Return the words sung before a section's first row."""
    return (MarginEntry(section.pickup.value, "pickup", section.pickup.span),) if section.pickup else ()


def closing_margin(section: Section) -> tuple[MarginEntry, ...]:
    """Return the cues after a section's last row."""
    return tuple(MarginEntry(f"at the end: {cue.value}", "cue", cue.span) for cue in section.closing_cues)


def pad_words(pad: tuple[PadNote, ...]) -> str:
    """Return the held notes, and where they change: `hold G3, C4 · bar 5: A3`."""
    places: dict[tuple[int, Fraction], list[str]] = {}
    for note in pad:
        pitch = note.pitch.plain()
        name = f"{printed_name(pitch.name)}{pitch.octave}"
        places.setdefault((note.bar, note.start), []).append(name)
    words = []
    for number, ((bar, _), notes) in enumerate(places.items()):
        words.append(f"{f'bar {bar}:' if number else 'hold'} {', '.join(notes)}")
    return " · ".join(words)


def thumb_words(part: SectionPart) -> str:
    """Return where the first hand of a section lies, for letters have no octave: `thumb: D above middle C`."""
    hand = next((chord.right for chord in part.chords if chord.right), ())
    if not hand:
        return ""
    lowest = hand[0].plain()
    octaves = (lowest.midi - MIDDLE_C) // 12
    if lowest.midi == MIDDLE_C:
        return "thumb: middle C"
    where = "above middle C" if octaves == 0 else "below middle C" if octaves == -1 else f"in octave {lowest.octave}"
    return f"thumb: {printed_name(lowest.name)} {where}"


def times_words(song: Song, indices: Collection[int]) -> str:
    """Return how often sections that are drawn once are played, and what the roadmap asks beside playing them through.

    No word of a remark is lost.
    """
    if not song.roadmap_written:
        return ""
    steps = [step for step in song.roadmap if step.section in indices]
    if not steps:
        return "not in the roadmap"
    if len(steps) == 1:
        return _step_words(steps[0])
    unlike: dict[str, list[str]] = {}
    for number, step in enumerate(steps, 1):
        if words := _step_words(step):
            unlike.setdefault(words, []).append(ordinal(number))
    passes = [f"{', '.join(times)}: {words}" for words, times in unlike.items()]
    return " · ".join([f"comes {len(steps)} times", *passes])


def _step_words(step: Step) -> str:
    """Return what is unlike a plain pass in a step of the roadmap; nothing where it is one."""
    bars = "" if step.from_bar is None else f"{_bars_words(step)} "
    if step.until is not None:
        words = f"vamp {bars}until {step.until}"
    elif step.times > 1:
        words = f"{_bars_words(step)}, {step.times} times" if bars else f"played {step.times} times"
    else:
        words = f"{bars}only" if bars else ""
    return (f"{words} ({step.remark})" if words else step.remark) if step.remark else words


def _bars_words(step: Step) -> str:
    """Name the bars that a step of the roadmap plays of its section."""
    if step.to_bar in (None, step.from_bar):
        return f"bar {step.from_bar}"
    return f"bars {step.from_bar}–{step.to_bar}"


KNOWN = "known"  # the role of a fact that goes on from before: it is stated only where it does not for another section
HELD = "held"  # what hands do unless something else is said
ARROW = "→"
END = "end"
MOST_VISITS = 4  # times that a section comes and each is said to lead somewhere; more are looked up in the roadmap


def _before(song: Song, index: int) -> set[int]:
    """Return the sections that are played right before one."""
    return {one.section for one, two in pairwise(song.roadmap) if two.section == index} - {index}


def _is_new(song: Song, index: int, facts: Sequence[object]) -> bool:
    """Return whether a section's fact is another one than before it, or nothing is before it."""
    before = _before(song, index)
    return not before or any(facts[number] != facts[index] for number in before)


def is_cut(song: Song, index: int) -> bool:
    """Return whether the roadmap names bars of a section."""
    return any(step.section == index and step.from_bar is not None for step in song.roadmap)


def onward_of(song: Song, order: Sequence[tuple[int, ...]], number: int) -> tuple[str, ...]:
    """Return how a section is played each time it comes and where the roadmap leads then.

    One text where that is always the same, nothing where it only leads to what is drawn next. `order` has the sections
    that are drawn, each with the indices of those that it stands for; `number` is which of them.
    """
    if not song.roadmap_written:
        return ()
    here = order[number]
    following = order[number + 1] if number + 1 < len(order) else ()
    steps = (*song.roadmap, None)
    visits = [(step, after) for step, after in pairwise(steps) if step is not None and step.section in here]
    leads = [
        (manner_words(step, "vamp until"), song.sections[after.section].name if after else END)
        for step, after in visits
    ]
    if not leads or (len(leads) > MOST_VISITS and len(set(leads)) > 1):
        return tuple(filter(None, (times_words(song, here),)))
    if len(set(leads)) == 1:
        manner, target = leads[0]
        after = visits[0][1]
        next_drawn = after.section in following if after else not following
        words = (manner,) if next_drawn else (manner, ARROW, target)
        return tuple(filter(None, (" ".join(filter(None, words)),)))
    return tuple(
        " ".join(filter(None, (ordinal(time), manner, ARROW, target))) for time, (manner, target) in enumerate(leads, 1)
    )
