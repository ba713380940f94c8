"""The exact search: the least sum over all choices of one candidate for each unknown.

A problem has a cost for each candidate of each node and a table of costs for each pair of nodes that are neighbours.
Nodes are eliminated one by one, in an order that adds few new neighbours (min-fill); each one leaves a table over
the node's neighbours with the best that the node can do. Then the choices are substituted back. This is exact whatever
the order; the order decides the size of the tables only. Described, for instance, as bucket elimination by Dechter,
"Bucket elimination: a unifying framework for reasoning", Artificial Intelligence 113 (1999).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from operator import add

Costs = Sequence[int]
MOST_ENTRIES = 20_000_000  # of all tables together; more would take minutes and gigabytes


@dataclass(frozen=True, slots=True)
class Problem:
    """Costs of candidates and of neighbours.

    `nodes[i][a]` is the cost of candidate a of node i. `pairs[i, j][a][b]`, for i < j, is the cost of a with b.
    """

    nodes: tuple[Costs, ...]
    pairs: dict[tuple[int, int], tuple[Costs, ...]]

    def cost(self, choice: Sequence[int]) -> int:
        """Give the whole cost of a choice of one candidate for each node."""
        alone = sum(costs[c] for costs, c in zip(self.nodes, choice, strict=True))
        return alone + sum(table[choice[i]][choice[j]] for (i, j), table in self.pairs.items())


@dataclass(frozen=True, slots=True)
class _Table:
    """A cost for each choice of the nodes in `scope`: flat, the last node's candidates run fastest."""

    scope: tuple[int, ...]
    values: Costs


@dataclass(frozen=True, slots=True)
class _Bucket:
    """What is known of a node when it is eliminated: its neighbours then, and the tables that hold it (it last)."""

    node: int
    neighbours: tuple[int, ...]
    tables: tuple[_Table, ...]


Neighbours = tuple[frozenset[int], ...]


@lru_cache(maxsize=64)  # the searches of one song share their graph
def min_fill_order(
    count: int, edges: tuple[tuple[int, int], ...]
) -> tuple[tuple[int, ...], tuple[frozenset[int], ...]]:
    """Order nodes for elimination by the fewest new edges, then the lowest number.

    Returns:
        The order, and for each node in it its neighbours at that time.
    """
    near: list[set[int]] = [set() for _ in range(count)]
    for i, j in edges:
        near[i].add(j)
        near[j].add(i)

    def fill(node: int) -> int:
        around = near[node]
        present = sum(len(near[other] & around) for other in around)
        return len(around) * (len(around) - 1) - present

    missing = {node: fill(node) for node in range(count)}
    order: list[int] = []
    neighbours: list[frozenset[int]] = []
    while missing:
        node = min(missing, key=lambda n: (missing[n], n))
        around = frozenset(near[node])
        order.append(node)
        neighbours.append(around)
        del missing[node]
        touched = set(around)
        for other in around:
            near[other] |= around
            near[other] -= {node, other}
        for other in around:
            touched |= near[other]
        for other in touched:
            missing[other] = fill(other)
    return tuple(order), tuple(neighbours)


@dataclass(frozen=True, slots=True)
class Plan:
    """In which order the nodes are eliminated, their neighbours then, and how many table entries that makes in all."""

    order: tuple[int, ...]
    neighbours: Neighbours
    entries: int


def plan(problem: Problem) -> Plan:
    """Plan the elimination of a problem's nodes."""
    order, neighbours = min_fill_order(len(problem.nodes), tuple(problem.pairs))
    total = 0
    for node, around in zip(order, neighbours, strict=True):
        size = len(problem.nodes[node])
        for other in around:
            size *= len(problem.nodes[other])
        total += size
    return Plan(order, neighbours, total)


def solve(problem: Problem, planned: Plan | None = None) -> tuple[int, ...]:
    """Find a choice with the least cost. Of equal ones, the first candidate wins, node by node.

    Every node must have a candidate.
    """
    return Solver(problem, planned).solve(problem.nodes)


class Solver:
    """Solves a problem again and again, each time with other costs of its nodes.

    Mutable: it keeps what each node left when it was eliminated, and takes it again where nothing has changed that it
    came from.
    """

    def __init__(self, problem: Problem, planned: Plan | None = None) -> None:
        self.plan = planned or plan(problem)
        self.sizes = [len(costs) for costs in problem.nodes]
        self.place = {node: i for i, node in enumerate(self.plan.order)}
        self.tables: list[list[_Table]] = [[] for _ in self.sizes]
        for (i, j), table in problem.pairs.items():
            first = min(i, j, key=self.place.__getitem__)
            flat = _Table((i, j), [value for row in table for value in row])
            self.tables[first].append(_last(flat, first, self.sizes))
        self.known: dict[int, tuple[Costs, list[_Table], _Bucket, _Table]] = {}

    def solve(self, nodes: Sequence[Costs]) -> tuple[int, ...]:
        """Find a choice with the least cost for these costs of the nodes, as `solve` does."""
        arrived: list[list[_Table]] = [[] for _ in self.sizes]
        buckets = []
        for node, around in zip(self.plan.order, self.plan.neighbours, strict=True):
            bucket, left = self._eliminated(node, around, nodes[node], arrived[node])
            buckets.append(bucket)
            if left.scope:
                arrived[min(left.scope, key=self.place.__getitem__)].append(left)
        return _substitute(buckets, self.sizes)

    def _eliminated(
        self, node: int, around: frozenset[int], costs: Costs, arrived: list[_Table]
    ) -> tuple[_Bucket, _Table]:
        known = self.known.get(node)
        if known is not None:
            old_costs, old_arrived, bucket, left = known
            same = len(arrived) == len(old_arrived) and all(a is b for a, b in zip(arrived, old_arrived, strict=True))
            if same and costs == old_costs:
                return bucket, left
        scope = tuple(sorted(around))
        turned = (_last(table, node, self.sizes) for table in arrived)
        bucket = _Bucket(node, scope, (_Table((node,), costs), *self.tables[node], *turned))
        left = _Table(scope, _best(bucket, self.sizes) if scope else ())
        self.known[node] = costs, arrived, bucket, left
        return bucket, left


def _last(table: _Table, node: int, sizes: list[int]) -> _Table:
    """Turn a table so that a node is the last of its scope."""
    if table.scope[-1] == node:
        return table
    if len(table.scope) == 2:
        wide = sizes[table.scope[1]]
        turned = [value for column in range(wide) for value in table.values[column::wide]]
        return _Table((table.scope[1], node), turned)
    scope = (*(n for n in table.scope if n != node), node)
    steps = dict(zip(table.scope, _strides(table.scope, sizes), strict=True))
    ranges = [range(0, steps[n] * sizes[n], steps[n]) for n in scope]
    return _Table(scope, [table.values[sum(offsets)] for offsets in product(*ranges)])


def _strides(scope: tuple[int, ...], sizes: list[int]) -> list[int]:
    strides = [1] * len(scope)
    for i in range(len(scope) - 2, -1, -1):
        strides[i] = strides[i + 1] * sizes[scope[i + 1]]
    return strides


def _starts(table: _Table, scope: tuple[int, ...], sizes: list[int]) -> list[int]:
    """Give, for each choice of `scope` in order, where the row of the table begins."""
    steps = dict(zip(table.scope, _strides(table.scope, sizes), strict=True))
    starts = [0]
    for node in scope:
        step = steps.get(node, 0)
        offsets = range(0, step * sizes[node], step) if step else (0,) * sizes[node]
        starts = [start + offset for start in starts for offset in offsets]
    return starts


def _best(bucket: _Bucket, sizes: list[int]) -> list[int]:
    """Give, for each choice of the neighbours, the least that the node can cost."""
    size = sizes[bucket.node]
    alone, rows = _split(bucket, size)
    if not rows:
        return [min(alone)]
    if len(rows) == len(bucket.neighbours) <= 2 and all(len(table.scope) == 2 for table in rows):
        return _between_two(rows, bucket.neighbours, alone)
    # Rows of the node's candidates by where they begin, cut once; the first table's with the node's own cost.
    starts = [_starts(table, bucket.neighbours, sizes) for table in rows]
    cuts = [{s: table.values[s : s + size] for s in set(begin)} for table, begin in zip(rows, starts, strict=True)]
    own = {s: list(map(add, alone, row)) for s, row in cuts[0].items()}
    if len(rows) == 1:
        least = {s: min(row) for s, row in own.items()}
        return [least[s] for s in starts[0]]
    if len(rows) == 2:
        other = cuts[1]
        return [min(map(add, own[a], other[b])) for a, b in zip(starts[0], starts[1], strict=True)]
    if len(rows) == 3:
        two, three = cuts[1], cuts[2]
        return [min(map(add, map(add, own[a], two[b]), three[c])) for a, b, c in zip(*starts, strict=True)]
    rest = cuts[1:]
    values = []
    for first, *others in zip(*starts, strict=True):
        total = own[first]
        for rows_by_start, place in zip(rest, others, strict=True):
            total = list(map(add, total, rows_by_start[place]))
        values.append(min(total))
    return values


def _between_two(rows: Sequence[_Table], neighbours: tuple[int, ...], alone: list[int]) -> list[int]:
    """Give the same for the usual case, a node with one neighbour or two, and one table for each."""
    first, *rest = sorted(rows, key=lambda table: neighbours.index(table.scope[0]))
    size = len(alone)
    own = [first.values[s : s + size] for s in range(0, len(first.values), size)]
    if not rest:
        return [min(map(add, alone, row)) for row in own]
    (second,) = rest
    other = [second.values[s : s + size] for s in range(0, len(second.values), size)]
    if len(own) * len(other) < MANY_ROWS:
        own = [list(map(add, alone, row)) for row in own]
        return [min(map(add, one, two)) for one in own for two in other]
    # Many rows: equal ones, as of suspensions that come to the same hand, are worked out once.
    found = {}
    twos = list(dict.fromkeys(map(tuple, other)))
    place = {row: i for i, row in enumerate(twos)}
    places = [place[tuple(row)] for row in other]
    for row in dict.fromkeys(map(tuple, own)):
        one = list(map(add, alone, row))
        least = [min(map(add, one, two)) for two in twos]
        found[row] = [least[i] for i in places]
    return [value for row in own for value in found[tuple(row)]]


MANY_ROWS = 200  # pairs of rows from which on looking for equal ones pays


def _split(bucket: _Bucket, size: int) -> tuple[list[int], list[_Table]]:
    """Sum the tables over the node alone; give the others apart."""
    alone = [0] * size
    rows = []
    for table in bucket.tables:
        if len(table.scope) == 1:
            alone = list(map(add, alone, table.values))
        else:
            rows.append(table)
    return alone, rows


def _substitute(buckets: list[_Bucket], sizes: list[int]) -> tuple[int, ...]:
    choice = [0] * len(sizes)
    for bucket in reversed(buckets):
        size = sizes[bucket.node]
        total, rows = _split(bucket, size)
        for table in rows:
            steps = _strides(table.scope, sizes)
            start = sum(step * choice[n] for n, step in zip(table.scope[:-1], steps, strict=False))
            total = list(map(add, total, table.values[start : start + size]))
        choice[bucket.node] = total.index(min(total))
    return tuple(choice)
