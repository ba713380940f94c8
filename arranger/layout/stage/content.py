"""What stands in a stage copy, before anything has a place."""

from __future__ import annotations

from dataclasses import dataclass, field

from arranger.layout.content import BarContent, MarginEntry
from arranger.text.source import NOWHERE, Span


@dataclass(frozen=True, slots=True)
class Prompt:
    """The first words of a row, for one verse."""

    text: str
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class StageRow:
    """A chord row.

    Attributes:
        bars: with the left hand after the right one.
        stacked: the same bars with the left hand under the right one: narrower and higher.
        prompts: one for each verse, where only the first words are shown.
        verses: how many there are of words in the bars.
        cues: before the row, but those before the section's first.
    """

    bars: tuple[BarContent, ...]
    stacked: tuple[BarContent, ...]
    prompts: tuple[Prompt, ...]
    verses: int
    cues: tuple[MarginEntry, ...]


@dataclass(frozen=True, slots=True)
class StageSection:
    """A section, or several that differ in nothing but their names and words and so are drawn once.

    Attributes:
        indices: of the sections in the song.
        name: of all of them: `Verse 1, 2`.
        entries: cues, then what changes and how it is played.
        onward: how it is played and where the roadmap leads after it, each time that it comes; empty where that is
            simply what is drawn next.
        rows: one without bars where nothing is written.
        tacet_bars: of a section where the keys are silent.
        closing: cues for its end.
        numbered: its bars have numbers, for the roadmap names some of them.
    """

    indices: tuple[int, ...]
    name: str
    entries: tuple[MarginEntry, ...]
    onward: tuple[str, ...]
    rows: tuple[StageRow, ...]
    tacet_bars: int | None = None
    closing: tuple[MarginEntry, ...] = ()
    numbered: bool = False
    span: Span = field(default=NOWHERE, compare=False)
