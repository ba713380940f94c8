"""Facts in words: what the margin column says about a section or a row, and how a step of the roadmap is printed."""

from __future__ import annotations

from fractions import Fraction

from arranger.harmony.model import Arrangement, PadNote
from arranger.layout.content import MarginEntry
from arranger.layout.text import printed_name
from arranger.song.model import Row, Section, Song, Step, Tempo
from arranger.theory.key import Key

_TEMPO_SIGNS = {Fraction(1): "♩", Fraction(3, 2): "♩.", Fraction(2): "half notes", Fraction(1, 2): "eighths"}


def key_words(key: Key) -> str:
    """Give a key as it is printed: `B♭ major`."""
    return f"{printed_name(key.tonic)} {'minor' if key.minor else 'major'}"


def tempo_words(tempo: Tempo) -> str:
    """Give a tempo as it is printed: `♩ = 72`, `♩. = 60`, or the writer's words.

    >>> tempo_words(Tempo("dotted 60", 60, Fraction(3, 2))), tempo_words(Tempo("half 60", 60, Fraction(2)))
    ('♩. = 60', 'half notes = 60')
    """
    if tempo.bpm is None or tempo.gradual:
        return tempo.text
    sign = _TEMPO_SIGNS.get(tempo.unit)
    return f"{sign} = {tempo.bpm}" if sign else tempo.text


def step_words(song: Song, step: Step) -> str:
    """Give a step of the roadmap as it is printed: `Chorus bars 5–8 ×2 (build)`."""
    words = [song.sections[step.section].name]
    if step.from_bar is not None:
        last = step.to_bar if step.to_bar is not None else step.from_bar
        words.append(f"bar {step.from_bar}" if last == step.from_bar else f"bars {step.from_bar}–{last}")
    if step.times > 1:
        words.append(f"×{step.times}")
    if step.until is not None:
        words.append(f"until {step.until}")
    if step.remark is not None:
        words.append(f"({step.remark})")
    return " ".join(words)


def section_margin(arrangement: Arrangement, index: int) -> tuple[MarginEntry, ...]:
    """Give what stands beside a section's first line: its name, cues, what differs from the song, how it is played."""
    song, section, part = arrangement.song, arrangement.song.sections[index], arrangement.sections[index]
    facts = section.facts
    entries = [MarginEntry(section.name, "section", section.span)]
    if section.rows:
        entries += [MarginEntry(cue.value, "cue", cue.span) for cue in section.rows[0].cues]
    changes = []
    if facts.key != song.key:
        changes.append(key_words(facts.key))
    if facts.meter != song.meter:
        changes.append(str(facts.meter))
    if facts.tempo is not None and facts.tempo != song.tempo:
        changes.append(tempo_words(facts.tempo))
    if facts.feel != song.feel:
        changes.append(facts.feel)
    if facts.sound is not None:
        changes.append(facts.sound.text)
    playing = [facts.dynamic.text] if facts.dynamic is not None else []
    if not section.tacet:
        playing.append(part.play)
    changes.append(" · ".join(playing))
    if part.pad:
        changes.append("pad: " + ", ".join(_pad_words(part.pad)))
    changes.append(_times_words(song, index))
    entries += [MarginEntry(text, "fact", section.span) for text in changes if text]
    return tuple(entries)


def row_margin(row: Row) -> tuple[MarginEntry, ...]:
    """Give what stands beside a row's first line: its cues."""
    return tuple(MarginEntry(cue.value, "cue", cue.span) for cue in row.cues)


def pickup_margin(section: Section) -> tuple[MarginEntry, ...]:
    """Give the words sung before a section's first row."""
    return (MarginEntry(section.pickup.value, "pickup", section.pickup.span),) if section.pickup else ()


def closing_margin(section: Section) -> tuple[MarginEntry, ...]:
    """Give the cues after a section's last row."""
    return tuple(MarginEntry(f"at the end: {cue.value}", "cue", cue.span) for cue in section.closing_cues)


def _pad_words(pad: tuple[PadNote, ...]) -> list[str]:
    words = []
    for number, note in enumerate(pad):
        where = "" if number == 0 else f" from bar {note.bar}"
        words.append(f"{printed_name(note.pitch.name)}{note.pitch.octave}{where}")
    return words


def _times_words(song: Song, index: int) -> str:
    """Tell how often a section is played, where that is not once."""
    if not song.roadmap_written:
        return ""
    steps = [step for step in song.roadmap if step.section == index]
    vamps = [step.until for step in steps if step.until is not None]
    if vamps:
        return f"vamp until {vamps[0]}"
    times = sum(step.times for step in steps)
    return "not in the roadmap" if times == 0 else f"played {times} times" if times > 1 else ""
