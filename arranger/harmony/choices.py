"""A choice of one candidate for each unknown, stated as a problem, and in which order its unknowns are eliminated.

A problem has a cost for each candidate of each node and a table of costs for each pair of nodes that are neighbours.
Nodes are eliminated in an order that adds few new neighbours (min-fill); how many table entries that takes is known
before it is begun.
"""

import heapq
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from operator import add
from typing import NamedTuple

Costs = Sequence[int]
MOST_ENTRIES = 4_000_000  # of all tables together: about a second, and 200 MB; songs have some ten thousand
RULED_OUT = 10**12  # the cost of what must not be: more than any song can cost, and a multiple of what all costs are
MOST_FILLED = 2_000_000  # pairs looked at while nodes are ordered: a second; songs have some thousand


class ChoiceProblem(NamedTuple):
    """Costs of candidates and of neighbours.

    `nodes[i][a]` is the cost of candidate a of node i. `pairs[i, j][a][b]`, for i < j, is the cost of a with b.
    """

    nodes: tuple[Costs, ...]
    pairs: dict[tuple[int, int], tuple[Costs, ...]]

    def cost(self, choice: Sequence[int]) -> int:
        """Return the whole cost of a choice of one candidate for each node."""
        alone = sum(costs[c] for costs, c in zip(self.nodes, choice, strict=True))
        return alone + sum(table[choice[i]][choice[j]] for (i, j), table in self.pairs.items())


def problem_over(
    nodes: Sequence[Costs],
    changes: Iterable[tuple[tuple[int, int, int], int]],
    table: Callable[[tuple[int, int, int], int], Sequence[Costs]],
) -> ChoiceProblem:
    """Return the problem whose neighbours are those that follow each other, each time at a cost.

    Args:
        nodes: the costs of each node's candidates by themselves.
        changes: (node, node that follows, shift), and how often; a node that follows itself pays by itself.
        table: returns for such a pair the cost of each candidate of the one with each of the other.
    """
    alone = list(nodes)
    pairs: dict[tuple[int, int], Sequence[Costs]] = {}
    for change, times in changes:
        one, two, _ = change
        rows = table(change, times)
        if one == two:
            alone[one] = [own + rows[i][i] for i, own in enumerate(alone[one])]
            continue
        if one > two:
            rows = list(zip(*rows, strict=True))
        key = (min(one, two), max(one, two))
        pairs[key] = [list(map(add, a, b)) for a, b in zip(pairs[key], rows, strict=True)] if key in pairs else rows
    return ChoiceProblem(tuple(alone), {key: tuple(rows) for key, rows in pairs.items()})


@lru_cache(maxsize=64)  # the searches of one song share their graph
def min_fill_order(
    count: int, edges: tuple[tuple[int, int], ...]
) -> tuple[tuple[int, ...], tuple[frozenset[int], ...]] | None:
    """Order nodes for elimination by the fewest new edges, then the lowest number.

    Returns:
        The order, and for each node in it its neighbours at that time. None where so many nodes are neighbours of each
        other that the order alone would take long.
    """
    near: list[set[int]] = [set() for _ in range(count)]
    for i, j in edges:
        near[i].add(j)
        near[j].add(i)
    # How many pairs of each node's neighbours are not neighbours of each other; kept up to date edge by edge.
    missing = [sum(len(around) - 1 - len(near[other] & around) for other in around) // 2 for around in near]
    waiting = [(new, node) for node, new in enumerate(missing)]
    heapq.heapify(waiting)
    done = [False] * count
    order: list[int] = []
    neighbours: list[frozenset[int]] = []
    looked_at = 0
    while waiting:
        new, node = heapq.heappop(waiting)
        if done[node] or new != missing[node]:
            continue
        around = frozenset(near[node])
        done[node] = True
        order.append(node)
        neighbours.append(around)
        touched = set(around)
        for one, two in _strangers(around, near) if new else ():
            common = near[one] & near[two]
            missing[one] += len(near[one]) - len(common)
            missing[two] += len(near[two]) - len(common)
            for between in common:
                missing[between] -= 1
            near[one].add(two)
            near[two].add(one)
            touched |= common
            looked_at += len(common)
            if looked_at > MOST_FILLED:
                return None
        for other in around:
            near[other].remove(node)
            missing[other] -= len(near[other]) - len(around) + 1
        for other in touched:
            heapq.heappush(waiting, (missing[other], other))
    return tuple(order), tuple(neighbours)


def _strangers(around: frozenset[int], near: Sequence[set[int]]) -> Iterator[tuple[int, int]]:
    """Yield the pairs of a node's neighbours that are not neighbours of each other, each once."""
    for one in around:
        for two in around - near[one]:
            if one < two:
                yield one, two


class Elimination(NamedTuple):
    """In which order the nodes are eliminated, their neighbours then, and how many table entries each of these makes.

    Where a node has more neighbours than candidates, its entries count once for each neighbour: so many rows are added.
    """

    order: tuple[int, ...]
    neighbours: tuple[frozenset[int], ...]
    each: tuple[int, ...]

    @property
    def entries(self) -> int:
        """The entries of all tables together."""
        return sum(self.each)


def plan(problem: ChoiceProblem, most_entries: int = MOST_ENTRIES) -> Elimination | None:
    """Plan the elimination of a problem's nodes; None where it would take more table entries than that."""
    ordered = min_fill_order(len(problem.nodes), tuple(problem.pairs))
    if ordered is None:
        return None
    each = []
    left = most_entries
    for node, around in zip(*ordered, strict=True):
        size = max(len(problem.nodes[node]), len(around))
        for other in around:
            size *= len(problem.nodes[other])
            if size > left:
                return None
        left -= size
        each.append(size)
    return Elimination(*ordered, tuple(each)) if left >= 0 else None
