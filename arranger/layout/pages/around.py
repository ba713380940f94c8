"""Define what stands around a song's pages in a book: a row over the head, one at the end, a number."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from arranger.layout.model import Item, moved
from arranger.layout.pages.turning import Block


class PlacedRow(NamedTuple):
    """A row across a page: its items, placed from y 0 on, and its height with the gap that parts it from the music."""

    items: tuple[Item, ...]
    height: float

    def at(self, y: float, x: float = 0.0) -> list[Item]:
        """Return the items of the row where its top is at `y`, and `x` farther to the right."""
        return [moved(item, x, y) for item in self.items]


RowBuilder = Callable[[float, float], PlacedRow]  # of the left edge and the width that a page has


class Around(NamedTuple):
    """What a book has around the pages of a song.

    Attributes:
        above: the row over its head; None where there is none.
        below: the row at the foot of its last page.
        number: which song it is: `4 of 9`.
        onward: how the song leads on, for the foot of its last page, where no row has room.
        briefly: the same in the fewest words, for after others.
    """

    above: RowBuilder | None = None
    below: RowBuilder | None = None
    number: str = ""
    onward: str = ""
    briefly: str = ""

    def after(self, following: str) -> str:
        """Return what the foot of the last page has of what follows: inside the song, where it has something, first."""
        return f"{following}; {self.briefly}" if following and self.briefly else following or self.onward

    def paging(self, number: int, count: int) -> str:
        """Return what the foot has at its right, of a page from 1: `4 of 9, page 1 of 2`."""
        page = f"page {number} of {count}"
        if not self.number:
            return page
        return f"{self.number}, {page}" if count > 1 else self.number


ALONE = Around()
# What may stand around a song, the best first; the last asks for the least room, and settles pages and sizes of type:
# another is taken only where it costs neither.
Ladder = tuple[Around, ...]


def with_row(blocks: Sequence[Block], row: PlacedRow | None) -> tuple[Block, ...]:
    """Return lines as the division of pages sees them, with room for a row under the last of them."""
    if row is None or not blocks:
        return tuple(blocks)
    last, more = blocks[-1], row.height
    heights = {name: getattr(last, name) + more for name in ("height", "at_top", "folded")}
    return (*blocks[:-1], last._replace(**heights, hangs=0.0))
