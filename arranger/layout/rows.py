"""The rows of a line of music: which it has and how high each lies. Takes a planned line; gives places from its top."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from arranger.layout import style
from arranger.layout.content import PlannedLine, Rows, Words
from arranger.layout.metrics import Metrics
from arranger.layout.staff import SPACE, extent
from arranger.layout.text import Run

ORDINARY = "dl"  # letters as tall as words without capitals' accents have
TICK = 3.5  # the beats' ticks under an octave row
LEAD_ROW = 8.0  # under the octave row's rule: the arrow to the chord
TIE_ROW = 5.0
MIDDLE_C_ROW = 4.0
TACET_ROW = 30.0


def rows_of(line: PlannedLine, metrics: Metrics) -> Rows:
    """Stack the rows that a line needs."""
    columns = [placed for bar in line.bars for placed in bar.columns]
    pictures = [placed.picture for placed in columns if placed.picture is not None]
    look = line.look
    y = endings = hook = hook_rule = octave = rule = fingers = treble = bass = 0.0
    if any(bar.content.in_ending or bar.content.repeat_times > 2 for bar in line.bars):
        endings = y + metrics.rise(ORDINARY, "bold", style.ENDING) + 1.5
        y = endings + style.ROW_GAP
    hooked = [run for placed in columns if placed.column.hook for run in placed.column.hook.runs]
    filled = [run for placed in columns if placed.column.fill for run in placed.column.fill.runs]
    if hooked:
        hook = y + note_rise(hooked, metrics)
        hook_rule = hook + metrics.descent("bold", style.OCTAVE) + TICK - 0.5
        y = hook_rule + style.ROW_GAP + 1.5
    if filled:
        octave = y + note_rise(filled, metrics)
        rule = octave + metrics.descent("bold", style.OCTAVE) + TICK - 0.5
        y = rule + LEAD_ROW
    if any(picture.fingers for picture in pictures):
        fingers = y + metrics.cap_height("regular", style.SMALL)
        y = fingers + 1.5
    top = keyboard = note = y
    if look.hands == "staff" and line.bars:
        above, between, below = extent([note for picture in pictures for note in picture.notes])
        top = y + above
        treble = top + 4 * SPACE
        bass = treble + between + 4 * SPACE
        y = bass + below
    elif look.hands == "letters" and any(picture.letters for picture in pictures):
        keyboard = y + metrics.rise("dl♯", "bold", style.LETTERS)
        y = keyboard + metrics.descent("bold", style.LETTERS)
    elif any(picture.marks for picture in pictures):
        top = keyboard = y + TIE_ROW
        y = keyboard + look.keyboard + MIDDLE_C_ROW
    if any(picture.left or picture.shape for picture in pictures):
        note = y + metrics.rise("dl♯", "regular", style.SMALL)
        y = note + metrics.descent("regular", style.SMALL)
    if line.across is not None:
        return Rows(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, (), 0.0, 0.0)
    symbols = [placed.column.symbol for placed in columns if placed.column.symbol is not None]
    rises = [run.rise + metrics.rise(run.text, run.face, run.size) for s in symbols for run in (*s.runs, *s.manner)]
    chord = y + max((metrics.rise(ORDINARY, "bold", style.CHORD), *rises)) + style.ROW_GAP
    y = chord + metrics.descent("bold", style.CHORD)
    words: list[tuple[int, float]] = []
    for verse in range(*(line.verse_range or (0, line.verses))):
        texts = [run for placed in columns for run in verse_runs(placed.column.words, verse)]
        if not texts:
            continue
        rise = max(metrics.rise(run.text, run.face, run.size) for run in texts)
        below = metrics.descent("regular", look.words)
        first = metrics.rise(ORDINARY, "regular", look.words) + 1.0
        baseline = y + max(rise, style.WORDS_LEADING * look.words - below if words else first)
        words.append((verse, baseline))
        y = baseline + below
    if line.tacet_bars is not None:
        y = max(y, TACET_ROW)
    return Rows(
        endings, octave, rule, fingers, keyboard, note, chord, tuple(words), top, y, hook, hook_rule, treble, bass
    )


def note_rise(notes: Iterable[Run], metrics: Metrics, size: float = style.OCTAVE) -> float:
    """Return how high the names of notes rise: as letters with a flat, or higher (double flats of the music face)."""
    return max(metrics.rise("d♭", "bold", size), *(metrics.rise(n.text, n.face, n.size) for n in notes))


def verse_runs(words: tuple[Words | None, ...], verse: int) -> Iterator[Run]:
    """Return what is sung of a verse at one place."""
    if verse < len(words) and (sung := words[verse]) is not None:
        yield from sung.runs
