"""What a stage copy tells in words: beside a section's name, and where the roadmap leads after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from arranger.harmony.model import Arrangement
from arranger.layout.content import MarginEntry
from arranger.layout.facts import (
    call_up_words,
    changes_of,
    key_words,
    manner_words,
    ordinal,
    pad_words,
    pickup_margin,
    row_margin,
    sound_words,
    tempo_words,
    thumb_words,
    times_words,
)
from arranger.song.model import Song
from arranger.text.source import Span

KNOWN = "known"  # the role of a fact that goes on from before: it is told only where it does not for another section
HELD = "held"  # what hands do unless something else is said
ARROW = "→"
END = "end"
MOST_VISITS = 4  # times that a section comes and is told where each leads; more are looked up in the roadmap


def entries_of(
    arrangement: Arrangement, index: int, patches: Mapping[str, str], pickup: bool
) -> tuple[MarginEntry, ...]:
    """Return cues and facts of a section: what changes, how it is played, where the hand lies.

    Args:
        arrangement: whose section it is.
        index: of the section.
        patches: the numbers of sounds by their names in small letters.
        pickup: the words sung before the section are told too.
    """
    song, section, part = arrangement.song, arrangement.song.sections[index], arrangement.sections[index]
    facts, changed = section.facts, changes_of(song, index)
    told: list[MarginEntry] = list(row_margin(section.rows[0])) if section.rows else []

    def tell(text: str, span: Span = section.span, role: str = "fact") -> None:
        if text:
            told.append(MarginEntry(text, role, span))

    tell(key_words(facts.key) if changed.key else "", role="change")
    tell(str(facts.meter) if changed.meter else "", role="change")
    tell(tempo_words(facts.tempo) if changed.tempo and facts.tempo is not None else "", role="change")
    tell(facts.feel if changed.feel else "", role="change")
    if facts.sound is not None:
        new = _is_new(song, index, [section.facts.sound for section in song.sections])
        tell(sound_words(facts.sound, patches), facts.sound.span, "change" if new else KNOWN)
    tell(call_up_words(arrangement, index) if patches else "")
    if facts.dynamic is not None:
        tell(facts.dynamic.text, facts.dynamic.span)
    if not section.tacet:
        new = _is_new(song, index, [part.play for part in arrangement.sections])
        tell(part.play, role="fact" if new and (part.play != HELD or _before(song, index)) else KNOWN)
    tell(f"pad: {pad_words(part.pad)}" if part.pad else "")
    tell(thumb_words(part))
    return (*told, *(pickup_margin(section) if pickup else ()))


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

    Args:
        song: whose roadmap it is.
        order: the sections that are drawn, each with the indices of those that it stands for.
        number: which of them.

    Returns:
        For each time what to do; one text where that is always the same, nothing where it only leads to what is
        drawn next.
    """
    if not song.roadmap_written:
        return ()
    here = order[number]
    following = order[number + 1] if number + 1 < len(order) else ()
    steps = (*song.roadmap, None)
    visits = [(step, after) for step, after in pairwise(steps) if step is not None and step.section in here]
    told = [
        (manner_words(step, "vamp until"), song.sections[after.section].name if after else END)
        for step, after in visits
    ]
    if not told or (len(told) > MOST_VISITS and len(set(told)) > 1):
        return tuple(filter(None, (times_words(song, here),)))
    if len(set(told)) == 1:
        manner, target = told[0]
        after = visits[0][1]
        next_drawn = after.section in following if after else not following
        words = (manner,) if next_drawn else (manner, ARROW, target)
        return tuple(filter(None, (" ".join(filter(None, words)),)))
    return tuple(
        " ".join(filter(None, (ordinal(time), manner, ARROW, target))) for time, (manner, target) in enumerate(told, 1)
    )
