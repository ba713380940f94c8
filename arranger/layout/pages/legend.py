"""Set the legend at the foot of the first page: what the signs that occur in this part mean."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.layout import style
from arranger.layout.content.how_played import SUGGESTED
from arranger.layout.content.model import Picture, PlannedLine
from arranger.layout.content.pictures import HELD_RADIUS, LEFT, MOVED_RADIUS, OCTAVE_BELOW, RING, TIE_RISE, stroke
from arranger.layout.content.symbols import FOR_ALL, IN_OCTAVES, SINGLE
from arranger.layout.model import Disc, Face, Item, Line, Tie
from arranger.layout.setting.barlines import BEAT, HELD, RULE
from arranger.layout.setting.music import push_mark
from arranger.layout.setting.staves import HEAD
from arranger.layout.text import Metrics, Run, place, runs, width_of
from arranger.units import Point

ENTRY_GAP = 12.0
SIGN_GAP = 3.0
UNIT = 5.6  # signs are about as large as in the pictures
SIGN_WIDTHS = {"moved": 11.0, "held": 5.0, "resolves": 12.0, "push": 6.0, "middle": 2.0, "hook": 16.0}
SIGN_WIDTHS["beats"] = 12.0
HEAD_SIZE = 14.0  # of the notes on staves, as small as they are still told apart
_LETTERS: dict[str, tuple[str, Face]] = {
    IN_OCTAVES: (IN_OCTAVES, "bold"),
    SINGLE: (SINGLE, "bold"),
    LEFT: (LEFT, "regular"),
    FOR_ALL: (FOR_ALL, "regular"),
    OCTAVE_BELOW: (OCTAVE_BELOW, "regular"),
    "small head": (HEAD, "music"),
    "moved letter": ("D", "bold"),
    "held letter": ("D", "regular"),
    "letter resolves": ("D→C", "bold"),
    "light word": ("full", "regular"),
    "rhythm": ("♩", "music"),
}


LegendEntry = tuple[str, str]  # a sign by its name, and its meaning


def entries(lines: Sequence[PlannedLine]) -> tuple[LegendEntry, ...]:
    """Return the entries for the signs that occur."""
    columns = [placed for line in lines for bar in line.bars for placed in bar.columns]
    pictures = [placed.picture for placed in columns if placed.picture is not None]
    symbols = [placed.column.symbol for placed in columns if placed.column.symbol is not None]
    labels = {run.text for placed in columns if placed.column.fill is not None for run in placed.column.fill.label}
    octave = any(run.text.endswith(f" {OCTAVE_BELOW}") for picture in pictures for run in picture.left)
    hooked = any(placed.column.hook is not None for placed in columns)
    light = any(symbol.role == "chord" and any(run.face == "regular" for run in symbol.runs) for symbol in symbols)
    beside = [entry for line in lines for entry in line.margin]
    found = (
        *_hands(lines, pictures),
        (LEFT, "left hand", any(picture.left for picture in pictures)),
        (OCTAVE_BELOW, "with its octave", octave),
        (IN_OCTAVES, "right hand in octaves: the lower notes", IN_OCTAVES in labels),
        (SINGLE, "notes, right hand", SINGLE in labels),
        ("hook", "hook: the right hand plays it in place of the chords", hooked),
        ("sus", "light: suggested, for the keys", light),
        ("light word", "suggested too", any(entry.role == SUGGESTED for entry in beside)),
        ("rhythm", "how to strike, right hand over left", any(entry.rhythm for entry in beside)),
        (FOR_ALL, "the guitar too", any(symbol.runs[0].text == FOR_ALL for symbol in symbols if symbol.runs)),
        ("beats", "beats", any(bar.content.uneven for line in lines for bar in line.bars)),
        ("push", "comes early", any(symbol.push for symbol in symbols)),
    )
    return tuple((sign, words) for sign, words, occurs in found if occurs)


_SIGNS_OF = {  # how each way of showing hands shows what moves, stays and resolves
    "keyboard": ("moved", "held", "resolves"),
    "letters": ("moved letter", "held letter", "letter resolves"),
}


def _hands(lines: Sequence[PlannedLine], pictures: Sequence[Picture]) -> list[tuple[str, str, bool]]:
    """Return the entries for the signs with which hands are shown, each with whether it occurs."""
    columns = [placed.column for line in lines for bar in line.bars for placed in bar.columns]
    small = ("small head", "a fill that is suggested", any(column.fill_in_notes is not None for column in columns))
    if not pictures or lines[0].look.hands == "staff":  # notes are read by who can
        return [small]
    hands = lines[0].look.hands
    moved, held, resolves = _SIGNS_OF[hands]
    kinds = {mark.kind for picture in pictures for mark in picture.marks}
    middle = any(line.keys[0] <= style.MIDDLE_C <= line.keys[1] for line in lines if line.bars)
    return [
        (moved, "moves, from there" if hands == "keyboard" else "moves", "moved" in kinds),
        (held, "stays", "held" in kinds),
        (resolves, "then resolves", any(picture.resolves for picture in pictures)),
        ("middle", "middle C", middle and hands == "keyboard"),
    ]


def rows_of_legend(
    found: Sequence[LegendEntry], metrics: Metrics, width: float
) -> tuple[tuple[tuple[float, LegendEntry], ...], ...]:
    """Divide the entries over lines of a width: for each line its entries with their x."""
    rows: list[list[tuple[float, LegendEntry]]] = []
    x = 0.0
    for sign, words in found:
        needed = _sign_width(sign, metrics) + SIGN_GAP + width_of(runs(words, "regular", style.SMALL, metrics))
        if not rows or x + needed > width:
            rows.append([])
            x = 0.0
        rows[-1].append((x, (sign, words)))
        x += needed + ENTRY_GAP
    return tuple(map(tuple, rows))


def set_legend(
    rows: Sequence[Sequence[tuple[float, LegendEntry]]], metrics: Metrics, x: float, bottom: float
) -> list[Item]:
    """Place the legend, its last baseline at `bottom`."""
    items: list[Item] = []
    for number, row in enumerate(rows):
        baseline = bottom - (len(rows) - 1 - number) * leading(metrics)
        for at, (sign, words) in row:
            items += _sign(sign, x + at, baseline, metrics)
            right = x + at + _sign_width(sign, metrics) + SIGN_GAP
            items += place(runs(words, "regular", style.SMALL, metrics), right, baseline, "legend")
    return items


def leading(metrics: Metrics) -> float:
    """Return the distance of two lines of the legend: room for a tie over a disc."""
    return max(12.0, metrics.rise("dl", "regular", style.SMALL) + metrics.descent("regular", style.SMALL) + 1.0)


def _letters(sign: str, metrics: Metrics) -> tuple[Run, ...]:
    """Set a sign that is letters; a chord with a suggested suspension as the symbols do: its suffix is light."""
    if sign == "sus":
        return (*runs("G", "bold", style.SMALL, metrics), *runs("sus4", "regular", style.SMALL, metrics))
    text, face = _LETTERS.get(sign, ("", "regular"))
    return runs(text, face, HEAD_SIZE if face == "music" else style.SMALL, metrics)


def _sign_width(sign: str, metrics: Metrics) -> float:
    return SIGN_WIDTHS[sign] if sign in SIGN_WIDTHS else width_of(_letters(sign, metrics))


def _sign(sign: str, x: float, baseline: float, metrics: Metrics) -> list[Item]:
    """Draw a sign as it looks in the part, at the height of small letters."""
    middle = baseline - metrics.cap_height("regular", style.SMALL) / 2
    width = _sign_width(sign, metrics)
    if sign == "light word":
        return [*place(_letters(sign, metrics), x, baseline, "legend", grey=style.QUIET_GREY)]
    if sign not in SIGN_WIDTHS:
        return [*place(_letters(sign, metrics), x, baseline, "legend")]
    if sign == "moved":
        end = x + width - MOVED_RADIUS * UNIT
        tail = stroke(Point(x, middle), Point(end, middle), style.STROKE)
        return [tail, Disc(end, middle, MOVED_RADIUS * UNIT, "legend")]
    if sign == "held":
        low = middle + 1.0
        tie = Tie(x, x + width, low - HELD_RADIUS * UNIT - 1.0, TIE_RISE, style.TIE, "legend")
        return [Disc(x + width / 2, low, HELD_RADIUS * UNIT, "legend"), tie]
    if sign == "resolves":
        start, end = x + MOVED_RADIUS * UNIT, x + width - HELD_RADIUS * UNIT * 1.25
        return [
            Disc(start, middle, MOVED_RADIUS * UNIT, "legend"),
            Line(start, middle, end, middle, style.STROKE * 0.5, "legend"),
            Disc(end, middle, HELD_RADIUS * 1.25 * UNIT, "legend", RING * UNIT),
        ]
    if sign == "push":
        return [push_mark(x, middle)]
    if sign == "beats":
        ticks = (x + 0.5 + step * (width - 1.0) / 3 for step in range(4))
        return [Line(at, baseline - BEAT, at, baseline, RULE, "legend") for at in ticks]
    if sign == "hook":
        tick = Line(x, middle - 2.5, x, middle + 1.0, 1.2, "legend")
        return [tick, Line(x, middle + 1.0, x + width, middle + 1.0, HELD, "legend")]
    return [Line(x + width / 2, baseline - 4.0, x + width / 2, baseline, 1.2, "legend")]
