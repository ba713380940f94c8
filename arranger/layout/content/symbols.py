"""Set chord symbols, rests and the notes of fills and hooks in print.

The song's own chord is whole and bold. What is suggested and not in the chart (a suspension) is added to it in the
regular weight: the player sees at a glance what the others do not have on their sheets.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from arranger.harmony.model import Arrangement, ChordPart, LeadIn, OctaveLine
from arranger.layout.content.model import FillMark, HookMark, Symbol
from arranger.layout.style import CHORD, PART_SIZES, SMALL, Sizes
from arranger.layout.text import SIGNS, Metrics, Run, printed_name, runs, width_of
from arranger.song.model import Section
from arranger.theory.chord import Chord
from arranger.theory.pitch import Pitch

_REST_SIGNS = ((4, "𝄻"), (2, "𝄼"), (1, "𝄽"))  # quarters each stands for; an eighth for what is left
_EIGHTH_REST = "𝄾"
FOR_ALL = "all:\u00a0"  # before a suspension that the guitar must take too
FERMATA = "𝄐"
PUSH_WIDTH = 8.0  # the push mark before a symbol, with its gap
REST_SIZE = 16.0  # rests are drawn for a stave of their size; at this one they are as high as a symbol


def lead_in_runs(lead_in: LeadIn, metrics: Metrics, sizes: Sizes = PART_SIZES) -> tuple[Run, ...]:
    """Set the V of the next key as it is offered, light: `(Asus4 A)`; `all:` before it where others play too."""
    root = printed_name(lead_in.chord.root)
    four = f"{root}sus4 " if lead_in.resolves is not None else ""
    text = f"({'all: ' if lead_in.for_all else ''}{four}{root})"
    return runs(text, "regular", sizes.chord, metrics)


def chord_runs(chord: Chord, metrics: Metrics, sizes: Sizes = PART_SIZES) -> tuple[Run, ...]:
    """Set a chord symbol."""
    name = chord.quality.name
    plain, raised = name[: chord.quality.raised], name[chord.quality.raised :]
    changes = " ".join(map(str, chord.changes))
    if changes:
        raised += f"({changes})"
    root = printed_name(chord.root)
    parts = [*runs(root, "bold", sizes.chord, metrics)]
    if plain:
        parts += runs(plain, "bold", sizes.chord, metrics)
    if raised:
        # Only an accidental before a figure is one: the letters of `maj`, `sus`, `dim`, `add`, `alt` hold no b.
        parts += runs(raised.translate(SIGNS), "bold", sizes.raised, metrics, sizes.rise)
    if chord.bass is not None:
        parts += runs(f"/{printed_name(chord.bass)}", "bold", sizes.chord, metrics)
    return merged(parts)


def symbol(part: ChordPart, metrics: Metrics, sizes: Sizes = PART_SIZES, *, goes_on: bool = False) -> tuple[Run, ...]:
    """Set what is printed on a chord's beat: the chord, with the suspension suggested for it; optional in parentheses.

    Where it `goes_on`, printed once more as its suspension resolves, the second parenthesis stands there.
    """
    if part.kind == "none":
        return runs("N.C.", "bold", sizes.chord, metrics)
    assert part.chord is not None
    optional = part.written is not None and part.written.optional
    parts = list(chord_runs(part.chord, metrics, sizes))
    if part.suspension is not None:
        # As large as in a written Gsus4; raised where figures are, and in parentheses, as changes are.
        low = not part.chord.suffix and not part.suggested.startswith("(")
        size, rise = (sizes.chord, 0.0) if low else (sizes.raised, sizes.rise)
        parts += runs(part.suggested, "regular", size, metrics, rise)
        if part.suspension.for_all:
            parts = [*runs(FOR_ALL, "regular", sizes.manner, metrics), *parts]
    if optional:
        parts = [*runs("(", "bold", sizes.chord, metrics), *parts]
        parts += runs(")", "bold", sizes.chord, metrics) if not goes_on else ()
    return merged(parts)


def narrowed(symbol: Symbol, room: float, metrics: Metrics, least: float = SMALL) -> tuple[Symbol, ...]:
    """Return a symbol that fits a width: smaller, down to a least size; else in parts, each for a line of its own."""
    room -= PUSH_WIDTH if symbol.push else 0.0
    whole = (*symbol.runs, *symbol.manner)
    width = width_of(whole)
    if width <= room:
        return (symbol,)
    share = room / width
    small = [_sized(run, max(least, run.size * share), metrics) for run in whole]
    if width_of(small) <= room:
        cut = len(symbol.runs)
        return (replace(symbol, runs=tuple(small[:cut]), manner=tuple(small[cut:])),)
    parts: list[list[Run]] = [[]]
    for run in small:
        for character in run.text:
            piece = run._replace(text=character, width=metrics.width(character, run.face, run.size))
            if parts[-1] and width_of(parts[-1]) + piece.width > room:
                parts.append([])
            parts[-1].append(piece)
    lines = [merged(part) for part in parts]
    return (
        replace(symbol, runs=lines[0], manner=()),
        *(replace(symbol, runs=line, manner=(), push=False) for line in lines[1:]),
    )


def _sized(run: Run, size: float, metrics: Metrics) -> Run:
    rise = run.rise * size / run.size
    return run._replace(size=size, rise=rise, width=metrics.width(run.text, run.face, size))


def rest_runs(quarters: Fraction, metrics: Metrics, sizes: Sizes = PART_SIZES) -> tuple[Run, ...]:
    """Set a counted silence inside a bar as rests, longest first."""
    signs = []
    left = quarters
    for length, sign in _REST_SIGNS:
        while left >= length:
            signs.append(sign)
            left -= length
    if left > 0:
        signs.append(_EIGHTH_REST)
    return runs("".join(signs), "music", REST_SIZE * sizes.chord / CHORD, metrics)


def merged(parts: list[Run]) -> tuple[Run, ...]:
    """Join neighbours that are set alike, so that a symbol is as few texts as it can be."""
    joined: list[Run] = []
    for run in parts:
        last = joined[-1] if joined else None
        if last is not None and (last.face, last.size, last.rise) == (run.face, run.size, run.rise):
            joined[-1] = last._replace(text=last.text + run.text, width=last.width + run.width)
        else:
            joined.append(run)
    return tuple(joined)


BarPlace = tuple[int, int]  # the row and the bar in it
IN_OCTAVES, SINGLE = "OCT", "single"  # what stands before a fill: doubled at the octave, or not (a small hand)
LAST_TIME = "last time"  # what stands behind that where the fill is for the last time that its section is played
STEP = 2  # semitones: a fill ends at most so far from the note that it leads to


LabelledFill = tuple[OctaveLine, str]  # a fill with the numbers of the verses that have it; none where all do


def fill_marks(
    arrangement: Arrangement, fills: Iterable[LabelledFill], metrics: Metrics, sizes: Sizes = PART_SIZES
) -> dict[BarPlace, dict[Fraction, FillMark]]:
    """Return the notes of a section's fills, the lower of each octave; the first with the number of its octave."""
    by_bar: defaultdict[BarPlace, dict[Fraction, FillMark]] = defaultdict(dict)
    for line, (fill, whose) in enumerate(fills):
        how = (IN_OCTAVES if fill.doubled else SINGLE) + (f" {LAST_TIME}" if fill.last_time else "")
        label = runs(how, "bold", sizes.small, metrics)
        if whose:
            label = (*runs(f"{whose}: ", "bold", sizes.small, metrics), *label)
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
                name = runs(printed_name(note.pitch.name), "bold", sizes.octave, metrics)
                if last is None or abs(note.pitch.midi - last.midi) >= 6:
                    name += runs(str(note.pitch.octave), "regular", sizes.small, metrics)
                by_bar[row_index, bar_index][note.start] = HookMark(name, note.length, note.span)
                last = note.pitch
    return dict(by_bar)
