"""The rows of a line of a stage copy, from the top: endings, notes to play, chords, hands, left hands, words."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.layout import style
from arranger.layout.content import BarContent, Column, Picture, Rows
from arranger.layout.metrics import Metrics
from arranger.layout.rows import LEAD_ROW, ORDINARY, TICK, note_rise, verse_runs
from arranger.layout.style import STAGE_CHORD, UNIT

HAND = "dl♯"  # what a hand is as high as


def rows_of(
    bars: Sequence[BarContent], pictures: Sequence[Sequence[Picture | None]], verses: range, metrics: Metrics
) -> Rows:
    """Stack the rows that a line needs.

    Args:
        bars: of the line.
        pictures: the hands that it shows, for each bar and column.
        verses: which of the verses stand under it.
        metrics: of the fonts.
    """
    columns = [column for bar in bars for column in bar.columns]
    hands = [picture for shown in pictures for picture in shown if picture is not None]
    y = endings = hook = hook_rule = octave = rule = 0.0
    if any(bar.in_ending or bar.repeat_times > 2 for bar in bars):
        endings = y + metrics.rise(ORDINARY, "bold", UNIT) + 1.5
        y = endings + style.ROW_GAP
    hooked = [run for column in columns if column.hook for run in column.hook.runs]
    filled = [run for column in columns if column.fill for run in column.fill.runs]
    if hooked:
        hook = y + note_rise(hooked, metrics, UNIT)
        hook_rule = hook + metrics.descent("bold", UNIT) + TICK - 0.5
        y = hook_rule + style.ROW_GAP + 1.5
    if filled:
        octave = y + note_rise(filled, metrics, UNIT)
        rule = octave + metrics.descent("bold", UNIT) + TICK - 0.5
        y = rule + LEAD_ROW - 1.5  # where the arrow to the chord ends
    top = y
    symbols = [column.symbol for column in columns if column.symbol is not None]
    rises = [run.rise + metrics.rise(run.text, run.face, run.size) for s in symbols for run in (*s.runs, *s.manner)]
    chord = y + max((metrics.rise("H", "bold", STAGE_CHORD), *rises)) + 1.0
    y = chord + metrics.descent("bold", STAGE_CHORD)
    hand = note = y
    if any(picture.letters for picture in hands):
        hand = y + metrics.rise(HAND, "regular", UNIT)
        y = hand + metrics.descent("regular", UNIT)
    if any(picture.left for picture in hands):
        note = y + metrics.rise(HAND, "regular", UNIT)
        y = note + metrics.descent("regular", UNIT)
    bottom = y
    return Rows(
        endings=endings,
        octave=octave,
        rule=rule,
        fingers=0.0,
        keyboard=hand,
        note=note,
        chord=chord,
        words=_words(columns, verses, bottom, metrics),
        top=top,
        bottom=bottom,
        hook=hook,
        hook_rule=hook_rule,
    )


def _words(columns: Sequence[Column], verses: range, y: float, metrics: Metrics) -> tuple[tuple[int, float], ...]:
    """Return the baselines of the verses that have words here, under each other from y on."""
    words = []
    for verse in verses:
        texts = [run for column in columns for run in verse_runs(column.words, verse)]
        if texts:
            rises = (metrics.rise(run.text, run.face, run.size) for run in texts)
            baseline = y + max(metrics.rise(ORDINARY, "regular", UNIT), *rises) + 1.0
            words.append((verse, baseline))
            y = baseline + metrics.descent("regular", UNIT)
    return tuple(words)


def bottom_of(rows: Rows, metrics: Metrics) -> float:
    """Return where the lowest row ends: the words, where there are any."""
    return rows.words[-1][1] + metrics.descent("regular", UNIT) if rows.words else rows.bottom
