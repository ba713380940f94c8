"""Reckon how many pages a part needs in a look at least, by what is known of its draft in another."""

from __future__ import annotations

from collections.abc import Mapping

from arranger.layout import style
from arranger.layout.content.model import PlannedLine, Rows
from arranger.layout.pages.part_draft import PartDraft
from arranger.layout.pages.turning import Block, divide
from arranger.layout.setting.music import SetLine, rows_in
from arranger.layout.style import Look
from arranger.layout.text import Metrics

# Of their size, what letters take from the highest to the lowest at most: of names and signs; of words with accents.
LETTERS_HIGH, WORDS_HIGH = 1.15, 1.5
HEAD_LINE = 14.0  # points that a line over the music takes at least


class Bottoms:
    """Keeps how far down lines reach with other keyboards, staves, or hands beside their chords: several looks ask."""

    def __init__(self, metrics: Metrics) -> None:
        self._metrics = metrics
        self._found: dict[tuple[int, float, bool, float], float] = {}
        self._kept: list[SetLine] = []  # lines are known by identity

    def of(self, ready: SetLine, keyboard: float, beside: bool, staff: float) -> float:
        """Return how far down a line reaches with keyboards and staves so high, hands beside its chords or not."""
        line = ready.line
        if (keyboard, beside, staff) == (line.look.keyboard, line.look.beside, line.look.staff):
            return ready.rows.bottom
        key = id(ready), keyboard, beside, staff
        if key not in self._found:
            other = line._replace(look=line.look._replace(keyboard=keyboard, beside=beside, staff=staff))
            self._found[key] = rows_in(other, self._metrics).bottom
            self._kept.append(ready)
        return self._found[key]


def pages_at_least(draft: PartDraft, look: Look, joined: Mapping[tuple[int, int], int], bottoms: Bottoms) -> int:
    """Return how many pages a part needs in a look at least, by the heights of its rows in a draft in a larger one.

    `joined` has for rows that stand in one line with another in the look, by section and number, the first of those.
    No row is higher in one line than in several, none gets lower than by what is smaller in the look, and where letters
    are as large and the page is no wider, none has fewer lines.
    """
    as_broken = (look.sizes, look.staff) == (draft.look.sizes, draft.look.staff) and (draft.look.over or not look.over)
    rows: dict[tuple[int, int, int], Block] = {}
    for number, line in enumerate(draft.lines):
        planned = line.inside.line
        if not planned.bars or planned.verse_range is not None:
            continue
        beside = 0.0 if look.over else _beside(line.inside)
        shared = bool(line.inside.rows.octave)  # it may stand in the row of fills
        over = HEAD_LINE if look.over and planned.margin and not shared else 0.0
        if look.over and draft.look.over and not shared:
            over = line.inside.down  # of a page as wide
        pair = joined.get((planned.section, planned.row))
        height = bare = max(_bottom(line.inside, draft.look, look, bottoms, pair is None), beside) + over + look.pencil
        if line.folded:
            bare = max(_bottom(line.folded, draft.look, look, bottoms, pair is None), beside) + over + look.pencil
        row = planned.row if pair is None else pair
        key = planned.section, row, number if as_broken and pair is None else 0
        known = rows.get(key)
        if known is not None:
            height, bare = max(height, known.height), max(bare, known.folded)
        hands = line.block.hands if known is None else known.hands
        first = planned.first or (known is not None and known.first)
        rows[key] = Block(
            height, height, look.section_gap if first else 0.0, look.pencil, first, hands=hands, folded=bare
        )
    # The roadmap may need a line less, and who plays may have none of its own.
    wider = 2 * style.HEADER_LEADING if look.side < draft.look.side else 0.0
    plans = divide(tuple(rows.values()), draft.rooms[0] + wider, draft.rooms[1])
    return len(draft.head) - 1 + len(plans)


def _bottom(ready: SetLine, own: Look, look: Look, bottoms: Bottoms, alone: bool) -> float:
    """Return how far down a line reaches at least in another look, without its room for a pencil.

    `alone`: it stands in no line with another there.
    """
    line = ready.line
    if look.sizes != own.sizes:
        return ready.rows.bottom - _lower(line, ready.rows, own, look)
    # On a page as wide a row that is broken no less has its words on two lines or not, and hands that stand beside
    # their chords may only be higher elsewhere. All but words is as high as it is; they may be the least.
    same = alone and (own.beside, own.over) == (look.beside, look.over)
    ways = {True} if same and line.look.beside else {look.beside, False}
    bottom = min(bottoms.of(ready, look.keyboard, beside, look.staff) for beside in ways)
    least = look.words if look.least_words is None else look.least_words
    less = WORDS_HIGH * max(0.0, line.look.words - least) * (line.verses + len(ready.rows.under))
    if not same or own.words != look.words:
        less += _divided(ready.rows, own)
    return bottom - less


def _lower(line: PlannedLine, rows: Rows, own: Look, look: Look) -> float:
    """Return by how much a line may be lower in a look of smaller letters at most."""
    columns = [placed.column for bar in line.bars for placed in bar.columns]
    lettered = 1 + any(c.fill for c in columns) + any(c.hook for c in columns) + (own.hands == "letters")
    less = lettered * LETTERS_HIGH * (own.sizes.chord - look.sizes.chord)
    less += WORDS_HIGH * (own.words - look.words) * line.verses
    less += own.keyboard - look.keyboard if own.hands == "keyboard" else 0.0
    less += _divided(rows, own)
    less += (1.0 - look.staff / own.staff) * rows.chord if rows.treble else 0.0
    return less + (_lower_beside(line, rows) if look.beside and not line.look.beside else 0.0)


def _divided(rows: Rows, own: Look) -> float:
    """Return by how much a line may be lower where no words stand on two lines, at most."""
    apart = style.VERSES_APART * max(0, len(rows.words) - 1) if rows.under else 0.0
    return (WORDS_HIGH * len(rows.under) + apart) * own.words


def _lower_beside(line: PlannedLine, rows: Rows) -> float:
    """Return by how much a line may be lower with its hands beside its chords, beside what is smaller, at most."""
    pictures = any(placed.picture is not None for bar in line.bars for placed in bar.columns)
    if line.look.hands == "keyboard" and pictures:
        return max(0.0, rows.chord - rows.keyboard - line.look.keyboard)
    return rows.chord - rows.top


def _beside(ready: SetLine) -> float:
    """Return how high what stands beside a line is; nothing where words before the first bar may yet leave it."""
    pickup = any(text.entry.role == "pickup" for text in ready.margin)
    return 0.0 if pickup or not ready.margin else ready.margin[-1].y
