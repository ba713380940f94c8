"""The rows of a line of music: which it has and how high each lies. Takes a planned line; gives places from its top."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from arranger.layout import style
from arranger.layout.content import Words
from arranger.layout.lines import PlannedLine
from arranger.layout.metrics import Metrics
from arranger.layout.text import Run

CHORD_SIGNS = "(dj♯♭/)"  # the tallest and deepest signs of chord symbols
ORDINARY = "dl"  # letters as tall as words without capitals' accents have
TICK = 3.5  # the beats' ticks under an octave row
LEAD_ROW = 8.0  # under the octave row's rule: the arrow to the chord
TIE_ROW = 5.0
MIDDLE_C_ROW = 4.0
TACET_ROW = 30.0


@dataclass(frozen=True, slots=True)
class Rows:
    """Where the rows lie, in points from the top of the line.

    Attributes:
        endings: the baseline of the labels of endings; the bracket lies `style.ENDING` above.
        octave: the baseline of the note names; `rule` the line with the ticks of the beats.
        fingers: the baseline of finger numbers.
        keyboard: the top of the pictures.
        note: the baseline of what stands under the pictures.
        chord: the baseline of the symbols.
        words: the baseline of each verse that has words here, with its number from 0.
        top, bottom: between which the barlines stand.
    """

    endings: float
    octave: float
    rule: float
    fingers: float
    keyboard: float
    note: float
    chord: float
    words: tuple[tuple[int, float], ...]
    top: float
    bottom: float


def rows_of(line: PlannedLine, metrics: Metrics) -> Rows:
    """Stack the rows that a line needs."""
    columns = [placed for bar in line.bars for placed in bar.columns]
    pictures = [placed.picture for placed in columns if placed.picture is not None]
    y = endings = octave = rule = fingers = 0.0
    if any(bar.content.in_ending or bar.content.repeat_times > 2 for bar in line.bars):
        endings = y + metrics.rise(ORDINARY, "bold", style.ENDING) + 1.5
        y = endings + style.ROW_GAP
    if any(placed.column.fill for placed in columns):
        octave = y + metrics.rise("d♭", "bold", style.OCTAVE)
        rule = octave + metrics.descent("bold", style.OCTAVE) + TICK - 0.5
        y = rule + LEAD_ROW
    if any(picture.fingers for picture in pictures):
        fingers = y + metrics.cap_height("regular", style.SMALL)
        y = fingers + 1.5
    top = keyboard = note = y
    if any(picture.marks for picture in pictures):
        top = keyboard = y + TIE_ROW
        y = keyboard + style.KEY_HEIGHT + MIDDLE_C_ROW
    if any(picture.left or picture.shape for picture in pictures):
        note = y + metrics.rise("dl♯", "regular", style.SMALL)
        y = note + metrics.descent("regular", style.SMALL)
    raised = style.CHORD_RISE + metrics.rise(CHORD_SIGNS, "bold", style.CHORD_RAISED)
    chord = y + max(metrics.rise(CHORD_SIGNS, "bold", style.CHORD), raised) + style.ROW_GAP
    y = chord + metrics.descent("bold", style.CHORD)
    words: list[tuple[int, float]] = []
    for verse in range(line.verses):
        texts = [run for placed in columns for run in _verse_runs(placed.column.words, verse)]
        if not texts:
            continue
        rise = max(metrics.rise(run.text, run.face, run.size) for run in texts)
        below = metrics.descent("regular", style.WORDS)
        baseline = y + max(rise, style.WORDS_LEADING - below if words else metrics.rise("dÉ", "regular", style.WORDS))
        words.append((verse, baseline))
        y = baseline + below
    if line.tacet_bars is not None:
        y = max(y, TACET_ROW)
    return Rows(endings, octave, rule, fingers, keyboard, note, chord, tuple(words), top, y)


def _verse_runs(words: tuple[Words | None, ...], verse: int) -> Iterator[Run]:
    if verse < len(words) and (sung := words[verse]) is not None:
        yield from sung.runs
