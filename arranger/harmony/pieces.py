"""A search problem under limits in pieces that one limit alone joins, each searched by itself: for long songs.

For each piece there is a table: the least that it costs with just so much taken of the limit that joins the pieces.
What all take together is then shared out piece by piece (the knapsack problem, by dynamic programming: Bellman,
"Dynamic Programming", Princeton 1957), which is exact. Most of the tables is never needed: where each use of the limit
has a price, a piece can cost no more above its least than the whole does above the sum of all leasts.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.choices import ChoiceProblem, Costs
from arranger.harmony.limits import Limit
from arranger.harmony.search import Choice

# Finds of a problem within limits the best choice that costs no more than that, of equals the first in order: with its
# cost; none where there is none. Raises `WorkSpentError` where it cannot tell. A choice that is known may be given.
Finder = Callable[[ChoiceProblem, Sequence[Limit], int, Choice], tuple[int, Choice] | None]
SHARE = 2  # a limit joins the pieces where without it the largest has at most one of so many nodes
STEPS = 4  # of such parts of a price the gap is at first
DIGIT = 16  # bits for the number of a candidate


class WorkSpentError(Exception):
    """The search has made as many table entries as it may."""


class Joint(NamedTuple):
    """The limit that joins some pieces, by its number, None where nothing does; and the nodes of each piece."""

    limit: int | None
    pieces: tuple[tuple[int, ...], ...]


def joint(problem: ChoiceProblem, limits: Sequence[Limit]) -> Joint | None:
    """Return the widest limit without which a problem falls into pieces, and these; None where it stays whole."""
    widest = sorted(range(len(limits)), key=lambda number: (-len(limits[number].uses), number))
    for number in (*widest[:1], None):
        pieces = _pieces(problem, [limit for i, limit in enumerate(limits) if i != number])
        if SHARE * max(map(len, pieces), default=0) <= len(problem.nodes) or (number is None and len(pieces) > 1):
            return Joint(number, pieces)
    return None


def _pieces(problem: ChoiceProblem, limits: Sequence[Limit]) -> tuple[tuple[int, ...], ...]:
    """Return the nodes in groups that are neither neighbours of each other nor take of the same limit."""
    near: list[list[int]] = [[] for _ in problem.nodes]
    for i, j in (*problem.pairs, *(two for limit in limits for two in pairwise(limit.uses))):
        near[i].append(j)
        near[j].append(i)
    found, left = [], set(range(len(near)))
    while left:
        piece: set[int] = set()
        waiting = {min(left)}
        while waiting:
            piece |= waiting
            waiting = {other for node in waiting for other in near[node]} - piece
        left -= piece
        found.append(tuple(sorted(piece)))
    return tuple(found)


def best_apart(
    problem: ChoiceProblem, limits: Sequence[Limit], price: int, joined: Joint, known: Choice, find: Finder
) -> Choice:
    """Find the best choice within limits, by pieces: of those that cost the least the first in order.

    Args:
        problem: what to solve.
        limits: all of them.
        price: of the limit that joins the pieces: any is right, a good one makes the work less.
        joined: the pieces.
        known: a choice within the limits.
        find: the search of a piece.

    Raises:
        WorkSpentError: where a piece could not be searched.
    """
    shared = Limit({}, 0) if joined.limit is None else limits[joined.limit]
    others = [limit for number, limit in enumerate(limits) if number != joined.limit]
    tables = [_Table(problem, others, shared, price, nodes, find) for nodes in joined.pieces]
    for table in tables:
        table.begin(known)
    least = sum(table.least for table in tables) - price * shared.most
    best, gap = problem.cost(known), price // STEPS
    while True:
        gap = min(gap, best - least)
        for table in tables:
            table.widen(gap)
        found = _shared_out(tables, price, shared.most, gap)
        if found is not None:
            best, known = min((best, known), (problem.cost(found), found))
        if gap >= best - least:
            return known
        gap = max(2 * gap, 1)


class _Table:
    """What one piece costs, each use of the limit that joins it to others priced, for each sum of uses.

    Mutable: it is filled as far as it is needed; lives in `best_apart`.

    Attributes:
        nodes: the nodes of the piece.
        least: the least of all.
        found: for a sum of uses what it costs at least, and the first choice in order that costs that.
    """

    def __init__(
        self,
        problem: ChoiceProblem,
        limits: Sequence[Limit],
        shared: Limit,
        price: int,
        nodes: tuple[int, ...],
        find: Finder,
    ) -> None:
        self.nodes, self.find = nodes, find
        place = {node: i for i, node in enumerate(nodes)}
        self.uses = {place[node]: uses for node, uses in shared.uses.items() if node in place}
        costs: list[Costs] = [problem.nodes[node] for node in nodes]
        for node, uses in self.uses.items():
            costs[node] = [cost + price * use for cost, use in zip(costs[node], uses, strict=True)]
        pairs = {(place[i], place[j]): rows for (i, j), rows in problem.pairs.items() if i in place}
        self.problem = ChoiceProblem(tuple(costs), pairs)
        self.limits = [
            Limit({place[node]: uses for node, uses in limit.uses.items()}, limit.most)
            for limit in limits
            if any(node in place for node in limit.uses)
        ]
        self.least = 0
        self.found: dict[int, tuple[int, Choice]] = {}
        self.ranges: list[tuple[int, int, int]] = []  # of uses, of which none costs so little

    def begin(self, known: Choice) -> None:
        """Find the least of all; `known` is a choice of the whole."""
        own = tuple(known[node] for node in self.nodes)
        found = self.find(self.problem, self.limits, self.problem.cost(own), own)
        assert found is not None
        self.least = found[0]
        lowest, highest = (sum(map(way, self.uses.values())) for way in (min, max))
        self._note(found, lowest, highest)

    def _note(self, found: tuple[int, Choice], low: int, high: int) -> None:
        used = Limit(self.uses, 0).used(found[1])
        self.found[used] = found
        self.ranges += [(one, two, found[0] - 1) for one, two in ((low, used - 1), (used + 1, high)) if one <= two]

    def widen(self, gap: int) -> None:
        """Find all that costs no more above the least than that."""
        waiting, self.ranges = self.ranges, []
        while waiting:
            low, high, over = waiting.pop()
            found = None
            if over < self.least + gap:
                found = self.find(self.problem, self._between(low, high), self.least + gap, ())
                over = self.least + gap
            if found is None:
                self.ranges.append((low, high, over))
                continue
            self._note(found, low, high)
            waiting, self.ranges = waiting + self.ranges, []

    def _between(self, low: int, high: int) -> list[Limit]:
        """Return the limits, with those that hold the sum of uses in a range."""
        mosts = {node: max(uses) for node, uses in self.uses.items()}
        spared = {node: tuple(mosts[node] - use for use in uses) for node, uses in self.uses.items()}
        range_limits = (Limit(self.uses, high), Limit(spared, sum(mosts.values()) - low))
        return [*self.limits, *(one for one in range_limits if sum(map(max, one.uses.values())) > one.most)]


def _shared_out(tables: Sequence[_Table], price: int, most: int, gap: int) -> Choice | None:
    """Return the best choice of the whole from what the tables hold, where one is within the limit."""
    count = sum(len(table.nodes) for table in tables)
    # For a sum of uses: the cost above the leasts, and the choice as one number, by which the first in order is less.
    sums: dict[int, tuple[int, int]] = {0: (0, 0)}
    for table in tables:
        shifts = [DIGIT * (count - 1 - node) for node in table.nodes]
        own = [
            (used, cost - table.least, sum(c << shift for c, shift in zip(choice, shifts, strict=True)))
            for used, (cost, choice) in table.found.items()
        ]
        wider: dict[int, tuple[int, int]] = {}
        for before, (above, order) in sums.items():
            for used, more, part in own:
                one = (above + more, order + part)
                if one[0] <= gap and one < wider.get(before + used, (gap + 1, 0)):
                    wider[before + used] = one
        sums = wider
    within = [(above - price * used, order) for used, (above, order) in sums.items() if used <= most]
    if not within:
        return None
    order = min(within)[1]
    return tuple(order >> DIGIT * (count - 1 - node) & (1 << DIGIT) - 1 for node in range(count))
