"""Notes over their beats: an arrangement's fills and the song's hook rows -> marks by bar and time."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

from arranger.harmony.model import Arrangement, OctaveLine
from arranger.layout.content import FillMark, HookMark
from arranger.layout.metrics import Metrics
from arranger.layout.style import PART_SIZES, Sizes
from arranger.layout.text import Run, printed_name, runs
from arranger.song.model import Section
from arranger.theory.pitch import Pitch

BarPlace = tuple[int, int]  # the row and the bar in it
IN_OCTAVES, SINGLE = "OCT", "single"  # what stands before a fill: doubled at the octave, or not (a small hand)
STEP = 2  # semitones: a fill ends at most so far from the note that it leads to


def fill_marks(
    arrangement: Arrangement, index: int, metrics: Metrics, sizes: Sizes = PART_SIZES
) -> dict[BarPlace, dict[Fraction, FillMark]]:
    """Return the notes of a section's fills, the lower of each octave; the first with the number of its octave."""
    by_bar: defaultdict[BarPlace, dict[Fraction, FillMark]] = defaultdict(dict)
    for line, fill in enumerate(arrangement.sections[index].octaves):
        label = runs(IN_OCTAVES if fill.doubled else SINGLE, "bold", sizes.small, metrics)
        span = arrangement.chord(fill.before).span
        target = _target(arrangement, fill)
        for number, note in enumerate(fill.notes):
            pitch = note.pitch if fill.written else note.pitch.plain()
            name = runs(printed_name(pitch.name), "bold", sizes.octave, metrics)
            if number == 0:
                name = (*name, *runs(str(pitch.octave), "regular", sizes.small, metrics))
            last = number == len(fill.notes) - 1
            mark = FillMark(name, label if number == 0 else (), line, fill.to, last, target, span)
            by_bar[note.row, note.bar_index][note.start] = mark
    return dict(by_bar)


def _target(arrangement: Arrangement, fill: OctaveLine) -> int | None:
    """Return the key that a fill leads to: the lowest or top one of the next hand, whichever its end lies next to."""
    hand = arrangement.chord(fill.to).right
    if not hand:
        return None
    last = fill.notes[-1].pitch.midi
    played = (last, last + 12) if fill.doubled else (last,)
    near = sorted((abs(key - end.midi), end.midi) for key in played for end in (hand[-1], hand[0]))
    return near[0][1] if near[0][0] <= STEP else None


def hook_marks(
    section: Section, metrics: Metrics, sizes: Sizes = PART_SIZES
) -> dict[BarPlace, dict[Fraction, HookMark]]:
    """Return the notes of a section's hook rows; with their octave where a bar begins and after a leap."""
    by_bar: defaultdict[BarPlace, dict[Fraction, HookMark]] = defaultdict(dict)
    for row_index, row in enumerate(section.rows):
        for bar_index, notes in enumerate(row.hook.bars if row.hook else ()):
            last: Pitch | None = None
            for note in notes:
                if note.pitch is None:
                    continue
                name = _hook_name(note.pitch, last, metrics, sizes)
                by_bar[row_index, bar_index][note.start] = HookMark(name, note.length, note.span)
                last = note.pitch
    return dict(by_bar)


def _hook_name(pitch: Pitch, last: Pitch | None, metrics: Metrics, sizes: Sizes) -> tuple[Run, ...]:
    name = runs(printed_name(pitch.name), "bold", sizes.octave, metrics)
    nearest = last is not None and abs(pitch.midi - last.midi) < 6
    return name if nearest else (*name, *runs(str(pitch.octave), "regular", sizes.small, metrics))
