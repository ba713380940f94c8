"""Fourth room: lines -> pages. Which lines stand on which page.

A page breaks between lines only, and a line has the chords with their words: they never part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arranger.layout import division, style
from arranger.layout.content import MarginEntry, PlannedLine, Symbol
from arranger.layout.division import FREE, Block, PagePlan
from arranger.layout.metrics import Metrics
from arranger.layout.setting import SetLine, prepare
from arranger.layout.text import elided

NAME_LINES = 2  # of the column that the name of a section takes where it goes on


@dataclass(frozen=True, slots=True)
class Settled:
    """A line as it stands inside a page and at the top of one, where the section that goes on is named again.

    `turns`: a hand is free at its end, long enough to turn a page.
    """

    inside: SetLine
    at_top: SetLine
    turns: bool = True

    @classmethod
    def of(cls, line: PlannedLine, section: str, metrics: Metrics, quarters_a_minute: float) -> Settled:
        """Prepare a line of a section for both places."""
        inside = prepare(line, metrics)
        turns = free_quarters(line) * 60 / quarters_a_minute >= FREE
        if line.first or line.across is not None:
            return cls(inside, inside, turns)
        name = elided(f"({section})", "regular", style.MARGIN, NAME_LINES * style.COLUMN, metrics)
        named = replace(line, margin=(MarginEntry(name, "fact"), *line.margin))
        return cls(inside, prepare(named, metrics, inside.rows), turns)

    @property
    def block(self) -> Block:
        """The line as the division of pages sees it: more room where a section begins, the pencil's room may hang."""
        line = self.inside.line
        return Block(
            height=self.inside.height,
            at_top=self.at_top.height,
            gap=line.look.section_gap if line.first else 0.0,
            hangs=0.0 if line.across is not None else style.PENCIL,
            first=line.first,
            leads_on=line.leads_on,
            busy=0 if self.turns else 1,
        )


def free_quarters(line: PlannedLine) -> float:
    """Return how long the hands do nothing new at the end of a line, in quarters."""
    free = 0.0
    for bar in reversed(line.bars):
        busy = [
            placed.column.time
            for placed in bar.columns
            if placed.column.fill or placed.column.hook or _strikes(placed.column.symbol)
        ]
        if busy:
            return free + float(bar.content.length - max(busy))
        free += float(bar.content.length - bar.content.start)
    return float("inf")


def _strikes(symbol: Symbol | None) -> bool:
    return symbol is not None and symbol.role in ("chord", "resolution", "repeat")


def spread(lines: Sequence[Settled], plan: PagePlan, room: float) -> tuple[float, ...]:
    """Return the room above each line of a page; `room` is the height for them, as it was given to `paginate`."""
    return division.spread([line.block for line in lines], plan, room, style.SPREAD)


def paginate(lines: Sequence[Settled], first_room: float, room: float) -> tuple[PagePlan, ...]:
    """Divide the lines over pages: `first_room` is the height free on the first page, `room` that on the others."""
    return division.divide([line.block for line in lines], first_room, room)
