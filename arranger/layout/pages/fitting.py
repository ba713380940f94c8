"""Find the largest type with which a stage copy fits its sheet, and divide it over pages.

ISO 9241-3: a capital is 16 minutes of arc high at least; 20 to 22 are preferred. More than 24 make single letters no
easier to read and take room from whole bars (NUREG-0700 rev. 2, 1.3.1-4, which gives the same figures and the formula).

Everything is set at one size of type; a larger size is a smaller page. So a try only breaks the lines and divides them
over pages: nothing is measured again. Whether a size fits does not follow from its neighbours (a line that breaks may
make room for another turn), so the sizes are tried from the largest down, on a grid, and the first that fits is the
largest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from math import ceil, floor, tau
from typing import NamedTuple

from arranger.harmony.model import Arrangement, ChordId
from arranger.layout.content.condensed import condensed
from arranger.layout.model import Face
from arranger.layout.options import StageOptions
from arranger.layout.pages.around import ALONE, Around, PlacedRow, with_row
from arranger.layout.pages.head_and_foot import HeadPage, set_stage_head, stage_foot_height
from arranger.layout.pages.turning import SILENT, Block, PagePlan, Passage, divide, filled_height, passages, tops
from arranger.layout.setting.stage_lines import StageLine, Typesetter
from arranger.layout.style import HEAD_BOTTOM, LINE_GAP, STAGE_LOOK, STAGE_SPREAD, UNIT
from arranger.layout.text import Metrics
from arranger.units import MM, mm

MINIMUM, AIM, MOST = 16.0, 20.0, 24.0  # minutes of arc
STEP = 0.25  # points between two sizes that are tried: a quarter of a minute at arm's length
MINUTES = 360 * 60  # in a whole turn
FIGURES = "0123456789"
FACES: tuple[Face, ...] = ("regular", "bold")  # in which everything is set that is read while playing
SLACK = 1e-9  # of a step: sizes that are a step but for rounding


def height(minutes: float, metres: float) -> float:
    """Return the height in points that appears under so many minutes of arc at a distance.

    >>> round(height(20, 0.6) / MM, 2), round(height(16, 0.8) / MM, 2)
    (3.49, 3.72)
    """
    return tau * metres * 1000 * MM * minutes / MINUTES


def minutes(height: float, metres: float) -> float:
    """Return the minutes of arc under which a height in points appears at a distance.

    >>> round(minutes(height(20, 0.6), 0.6), 6)
    20.0
    """
    return height * MINUTES / (tau * metres * 1000 * MM)


def capital(metrics: Metrics) -> float:
    """Return how high the lowest of capitals and figures is, as a share of the size of type.

    What the font says of its capitals, and the letters and figures as they are drawn: the least counts.
    """
    drawn = (metrics.rise(sign, face, 1.0) for face in FACES for sign in f"H{FIGURES}")
    return min(*(metrics.cap_height(face, 1.0) for face in FACES), *drawn)


def sizes(metres: float, metrics: Metrics, least: float = MINIMUM) -> tuple[float, ...]:
    """Return the sizes of type on a grid of quarter points from `MOST` minutes of arc down to `least`, in points."""
    share = capital(metrics)
    low = ceil(height(least, metres) / share / STEP - SLACK)
    high = max(low, floor(height(MOST, metres) / share / STEP + SLACK))
    return tuple(step * STEP for step in range(high, low - 1, -1))


def legible_to(size: float, metrics: Metrics) -> float:
    """Return the greatest distance in metres at which type of a size is legible, to 5 cm below."""
    exact = size * capital(metrics) / height(MINIMUM, 1.0)
    return floor(exact * 20 + SLACK) / 20


BUSY_TURN = 1000.0  # what a turn costs where no hand is free: more than anything but a heading without its music
INSIDE = mm(6)  # margins between two pages side by side: nothing is lost there, they only have to be told apart
ROUNDING = 1e-6  # points by which a line may be higher than a page


class Frame(NamedTuple):
    """What a page has inside its margins, at some size of type; lengths in units of the copy.

    `factor` is how many points a unit has; `height` is what is left over the foot.
    """

    factor: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class StageDraft:
    """A copy before its items are placed.

    Attributes:
        size: of the type, in points.
        frame: of its pages.
        head: the pages that the head stands on.
        lines: all lines.
        blocks: the same as the division of pages sees them.
        plans: the lines of each page, those of the head too.
        places: the line in which each chord stands.
        turned: what is played over a turn, with the pages from which and to which it leads.
        leaves: how many pages lie side by side, so that none is turned between them.
        below: the row at the foot of the last page.
    """

    size: float
    frame: Frame
    head: tuple[HeadPage, ...]
    lines: tuple[StageLine, ...]
    blocks: tuple[Block, ...]
    plans: tuple[PagePlan, ...]
    places: Mapping[ChordId, int]
    turned: tuple[tuple[Passage, int, int], ...]
    leaves: int
    below: PlacedRow | None = None

    @property
    def pages(self) -> int:
        """How many pages there are."""
        return len(self.plans)

    @property
    def busy(self) -> int:
        """How many turns find no hand free."""
        return sum(not passage.turns for passage, _, _ in self.turned)

    @property
    def whole(self) -> bool:
        """Whether no line is higher than a page."""
        return all(block.at_top - block.hangs <= self.frame.height + ROUNDING for block in self.blocks)

    @property
    def wasteful(self) -> bool:
        """Whether a page before the last is less than half full: the turn after it is worth more than its type."""
        for page, plan in enumerate(self.plans[:-1]):
            above = self.head[page].bottom if page < len(self.head) else 0.0
            if plan.end > plan.first and above + filled_height(self.blocks, plan) < self.frame.height / 2:
                return True
        return False

    @property
    def first_room(self) -> float:
        """The height for the lines on the page where the head ends."""
        return self.frame.height - self.head[-1].bottom - HEAD_BOTTOM

    def tops(self, page: int) -> list[tuple[int, float]]:
        """Return the lines of a page, by index, each with its top."""
        top = self.head[page].bottom + HEAD_BOTTOM if page < len(self.head) else 0.0
        room = self.first_room if page == len(self.head) - 1 else self.frame.height
        return tops(self.blocks, self.plans[page], top, room, STAGE_SPREAD)


def leaves_of(options: StageOptions, pages: int) -> int:
    """Return how many pages lie side by side: those of one sheet, or both where there are two sheets of paper."""
    if options.sheet.pages > 1:
        return options.sheet.pages
    return 2 if pages == 2 and not options.sheet.screen else 1


def margins_of(options: StageOptions) -> tuple[float, float, float]:
    """Return the margins of a page: at the outer side, at the inner one, at the top and bottom (points)."""
    sheet = options.sheet
    side = sheet.side if options.margin is None else options.margin
    end = sheet.end if options.margin is None else options.margin
    return side, (min(side, INSIDE) if sheet.pages > 1 else side), end


class Fitting:
    """Tries sizes of type for one copy."""

    def __init__(
        self, arrangement: Arrangement, options: StageOptions, metrics: Metrics, around: Around = ALONE
    ) -> None:
        patches = {sound.casefold(): number for sound, number in options.patches}
        self.arrangement = arrangement
        self.options = options
        self.metrics = metrics
        self.around = around
        self.sections = condensed(arrangement, options.words, patches, metrics)
        self.typesetter = Typesetter(self.sections, metrics)
        self._passages = passages(arrangement)
        self._tried: dict[float, StageDraft] = {}

    def around_with(self, around: Around) -> Fitting:
        """Return the same with something else around its pages; what was measured is kept."""
        other = copy(self)
        other.around, other._tried = around, {}
        return other

    def least(self, metres: float | None = None) -> StageDraft:
        """Return the draft with the smallest type that can be read, from the distance asked for or another."""
        return self.at(sizes(metres or self.options.distance, self.metrics)[-1])

    def fits(self, metres: float | None = None) -> bool:
        """Return whether the smallest type that can be read fits."""
        return self._is_within(self.least(metres), self.options.pages)

    def largest(self) -> StageDraft | None:
        """Return the draft with the largest type that fits the pages asked for; None where none does.

        Where any number of pages will do, it is that which 20 minutes of arc need; of the sizes that need no more,
        the largest with the fewest turns that find no hand free. Where that leaves a page half empty before the last,
        it is one page less if smaller type can still be read, and no more of its turns find no hand free.
        """
        options, metrics = self.options, self.metrics
        if options.pages is not None:
            return self.within(options.pages)
        comfortable = sizes(options.distance, metrics, AIM)
        aimed = self.at(comfortable[-1])
        if not aimed.whole:
            return self.within(None)
        most = len(aimed.plans)
        best = aimed
        for draft in map(self.at, comfortable):
            if not self._is_within(draft, most):
                continue
            best = min(best, draft, key=lambda one: (one.busy, -one.size))
            if not draft.busy:
                break
        if best.wasteful:
            fewer = self.within(most - 1)
            if fewer is not None and fewer.busy <= best.busy:
                return fewer
        return best

    def within(self, pages: int | None) -> StageDraft | None:
        """Return the draft with the largest type that needs no more pages; None where none does."""
        tried = map(self.at, sizes(self.options.distance, self.metrics))
        return next((draft for draft in tried if self._is_within(draft, pages)), None)

    @staticmethod
    def _is_within(draft: StageDraft, pages: int | None) -> bool:
        return draft.whole and (pages is None or len(draft.plans) <= pages)

    def at(self, size: float) -> StageDraft:
        """Return the draft with a size of type."""
        known = self._tried.get(size)
        if known is None:
            known = self._tried[size] = self._draft(size)
        return known

    def _draft(self, size: float) -> StageDraft:
        frame = self.frame(size)
        over, under = (row and row(0.0, frame.width) for row in (self.around.above, self.around.below))
        head = set_stage_head(self.arrangement, self.metrics, frame.width, frame.height, over)
        lines = self.typesetter.lines(frame.width, frame.height)
        places = self._places(lines)
        blocks = with_row(_blocks(lines, self._busy(lines, places)), under)
        rooms = frame.height - head[-1].bottom - HEAD_BOTTOM, frame.height
        before = len(head) - 1
        plans = divide(blocks, *rooms, turn=BUSY_TURN)
        count = before + len(plans)
        leaves = leaves_of(self.options, count)
        if leaves > 1:
            plans = divide(blocks, *rooms, lambda left: (count - left) % leaves == 0, BUSY_TURN)
        plans = (*[PagePlan(0, 0)] * before, *plans)
        leaves = leaves_of(self.options, len(plans))
        turned = self._turned(plans, places, leaves)
        return StageDraft(size, frame, head, lines, blocks, plans, places, turned, leaves, under)

    def frame(self, size: float) -> Frame:
        """Return what a page has inside its margins at a size of type."""
        side, inside, end = margins_of(self.options)
        factor = size / UNIT
        sheet, metrics = self.options.sheet, self.metrics
        width = (sheet.page_width - side - inside) / factor
        return Frame(factor, width, (sheet.height - 2 * end) / factor - stage_foot_height(width, metrics))

    def _turned(
        self, plans: Sequence[PagePlan], places: Mapping[ChordId, int], leaves: int
    ) -> tuple[tuple[Passage, int, int], ...]:
        page_of = {index: page for page, plan in enumerate(plans) for index in range(plan.first, plan.end)}
        led = (
            (passage, page_of[places[passage.chord]], page_of[places[passage.after]])
            for passage in self._passages
            if passage.chord in places and passage.after in places
        )
        return tuple((passage, one, two) for passage, one, two in led if one // leaves != two // leaves)

    def _busy(self, lines: Sequence[StageLine], places: Mapping[ChordId, int]) -> list[int]:
        """Count for each line the passages from it or before it to what is after it, or back, that leave no time."""
        crossed = {
            tuple(sorted((places[passage.chord], places[passage.after])))
            for passage in self._passages
            if not passage.turns and passage.chord in places and passage.after in places
        }
        counts = [0] * len(lines)
        for low, high in crossed:
            for line in range(low, high):
                counts[line] += 1
        return counts

    def _places(self, lines: Sequence[StageLine]) -> dict[ChordId, int]:
        """Return the line in which each chord stands; a section that is drawn with another stands in its lines."""
        places: dict[ChordId, int] = {}
        for index, line in enumerate(lines):
            for chord in (SILENT, *(number for _, number in line.chords)):
                for section in self.sections[line.section].indices:
                    places.setdefault((section, chord), index)
        return places


def _blocks(lines: Sequence[StageLine], busy: Sequence[int]) -> tuple[Block, ...]:
    return tuple(
        Block(
            height=line.height,
            at_top=line.at_top,
            gap=STAGE_LOOK.section_gap if line.first else 0.0,
            hangs=LINE_GAP,
            first=line.first,
            leads_on=line.leads_on or _goes_on(lines, index),
            busy=busy[index],
        )
        for index, line in enumerate(lines)
    )


def _goes_on(lines: Sequence[StageLine], index: int) -> bool:
    """Return whether the next line says nothing without this one: it begins with a repeated bar, or inside a bar."""
    music = lines[index + 1].music if index + 1 < len(lines) else None
    if music is None:
        return False
    first = music.bars[0].content
    symbol = first.columns[0].symbol
    return not first.whole_start or (symbol is not None and symbol.role in ("repeat", "slash"))
